/* SPDX-License-Identifier: MIT */
/*
 * Trees of JSON, built, read and written with checks: the one builder for every
 * file of JSON that the library writes. Building is sticky: after the
 * first failure nothing more is added, and the builder asks once at the end.
 * All text becomes UTF-8 here, because jansson refuses what is not.
 */
#ifndef BRAKELAG_SRC_REPORT_TREE_H
#define BRAKELAG_SRC_REPORT_TREE_H

#include "brakelag/io.h"
#include "brakelag/pace.h"
#include "brakelag/status.h"

#include <jansson.h>

/* Digits of every number in the result. */
enum { BL_TREE_DIGITS = 12 };

/* Words of a closed list in a tree, each with its place in the list: the word
   is in the file, and whoever draws asks for the place (bl_tree_is), so
   that no enum is made of a text again. */
struct bl_codes {
    struct bl_code {
        json_t *value; /* the word, or an array of several; NULL: free */
        int code;
    } * slot;
    size_t count, capacity; /* the latter a power of two */
};
void bl_codes_finish(struct bl_codes *codes);

struct bl_tree {
    bool failed;
    struct bl_codes *codes; /* borrowed; NULL: nobody asks for them */
};

/* New containers; NULL after a failure, which every function here takes. */
json_t *bl_tree_object(struct bl_tree *tree);
json_t *bl_tree_array(struct bl_tree *tree);
/* Put `value` (whose reference is taken) into an object or array. */
void bl_tree_put(struct bl_tree *tree, json_t *object, const char *key,
                 json_t *value);
void bl_tree_append(struct bl_tree *tree, json_t *array, json_t *value);

/* NULL text is null; so is a number that is not finite. */
void bl_tree_text(struct bl_tree *tree, json_t *object, const char *key,
                  const char *text);
/* A text that stands for `code`; of an array, bits of several. */
void bl_tree_word(struct bl_tree *tree, json_t *object, const char *key,
                  const char *word, int code);
void bl_tree_mark(struct bl_tree *tree, json_t *value, int code);
void bl_tree_number(struct bl_tree *tree, json_t *object, const char *key,
                    double value);
void bl_tree_count(struct bl_tree *tree, json_t *object, const char *key,
                   uint64_t value);
void bl_tree_integer(struct bl_tree *tree, json_t *object, const char *key,
                     int64_t value);
void bl_tree_bool(struct bl_tree *tree, json_t *object, const char *key,
                  bool value);
/* Nanoseconds as a decimal string: they do not fit a JSON number. */
void bl_tree_time(struct bl_tree *tree, json_t *object, const char *key,
                  int64_t time_ns);
void bl_tree_append_text(struct bl_tree *tree, json_t *array, const char *text);
void bl_tree_append_count(struct bl_tree *tree, json_t *array, uint64_t value);
void bl_tree_append_number(struct bl_tree *tree, json_t *array, double value);

/* Write `root`, which stays the caller's, as every file of JSON is written.
   Errors: NOMEM, also where building failed. */
enum bl_status bl_tree_write(const struct bl_tree *tree, const json_t *root,
                             struct bl_output *output, struct bl_error *error);

/* Notes as an array of {"code","text","count"} with "line" where known. */
void bl_tree_notes(struct bl_tree *tree, json_t *object, const char *key,
                   const struct bl_notes *notes);

/* "time_places": as many as are listed, and "time_places_more" */
void bl_tree_times(struct bl_tree *tree, json_t *object,
                   const struct bl_time_places *times, int64_t first_ns);

/* Reading: "" or NaN or 0 where the member is missing or null. */
const char *bl_tree_get_text(const json_t *object, const char *key);
/* The row of an array whose `key` has this text, as a name or number that a
   table shows once; NULL. */
const json_t *bl_tree_row(const json_t *array, const char *key,
                          const char *text);
/* Do two rows have the same text there, as those under one heading? */
bool bl_tree_same_text(const json_t *a, const json_t *b, const char *key);
/* Does the word there stand for `code`? False where it is missing or null. */
bool bl_tree_is(const struct bl_codes *codes, const json_t *object,
                const char *key, int code);
/* The code itself; `none` where it is missing or null. */
int bl_tree_get_code(const struct bl_codes *codes, const json_t *object,
                     const char *key, int none);
double bl_tree_get_number(const json_t *object, const char *key);
uint64_t bl_tree_get_count(const json_t *object, const char *key);
bool bl_tree_get_bool(const json_t *object, const char *key);

#endif
