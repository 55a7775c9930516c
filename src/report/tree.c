/* SPDX-License-Identifier: MIT */
#include "report/tree.h"

#include "base/alloc.h"
#include "base/utf8.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

json_t *bl_tree_object(struct bl_tree *tree)
{
    json_t *made = tree->failed ? NULL : json_object();
    tree->failed = tree->failed || made == NULL;
    return made;
}

json_t *bl_tree_array(struct bl_tree *tree)
{
    json_t *made = tree->failed ? NULL : json_array();
    tree->failed = tree->failed || made == NULL;
    return made;
}

void bl_tree_put(struct bl_tree *tree, json_t *object, const char *key,
                 json_t *value)
{
    /* json_object_set_new releases the value when it fails. */
    if (json_object_set_new(object, key, value) != 0) {
        tree->failed = true;
    }
}

void bl_tree_append(struct bl_tree *tree, json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0) {
        tree->failed = true;
    }
}

static json_t *make_text(const char *text)
{
    if (text == NULL) {
        return json_null();
    }
    struct bl_strbuf utf8 = {0};
    /* Of NULL, which is memory that ended, it makes NULL. */
    json_t *made = json_string_nocheck(bl_utf8_text(text, &utf8));
    bl_strbuf_finish(&utf8);
    return made;
}

static json_t *make_number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *make_count(uint64_t value)
{
    return json_integer(value > INT64_MAX ? INT64_MAX : (json_int_t)value);
}

void bl_tree_text(struct bl_tree *tree, json_t *object, const char *key,
                  const char *text)
{
    bl_tree_put(tree, object, key, make_text(text));
}

/* ---- words and their codes: a table of addresses, at most half full */

static struct bl_code *slot_of(const struct bl_codes *codes,
                               const json_t *value)
{
    /* Fibonacci hashing; the lowest bits of an address are alike. */
    size_t at = (size_t)(((uint64_t)(uintptr_t)value >> 4) *
                             UINT64_C(0x9E3779B97F4A7C15) >>
                         32);
    for (;; at++) {
        struct bl_code *slot = &codes->slot[at & (codes->capacity - 1)];
        if (slot->value == NULL || slot->value == value) {
            return slot;
        }
    }
}

static bool grow(struct bl_codes *codes)
{
    enum { FIRST = 256 };
    struct bl_codes grown = {
        .count = codes->count,
        .capacity = codes->capacity == 0 ? FIRST : 2 * codes->capacity};
    grown.slot = bl_alloc(grown.capacity, sizeof(*grown.slot));
    if (grown.slot == NULL) {
        return false;
    }
    for (size_t i = 0; i < codes->capacity; i++) {
        if (codes->slot[i].value != NULL) {
            *slot_of(&grown, codes->slot[i].value) = codes->slot[i];
        }
    }
    bl_free(codes->slot);
    *codes = grown;
    return true;
}

void bl_codes_finish(struct bl_codes *codes)
{
    for (size_t i = 0; i < codes->capacity; i++) {
        json_decref(codes->slot[i].value);
    }
    bl_free(codes->slot);
    *codes = (struct bl_codes){0};
}

void bl_tree_mark(struct bl_tree *tree, json_t *value, int code)
{
    struct bl_codes *codes = tree->codes;
    if (codes == NULL || value == NULL || json_is_null(value)) {
        return;
    }
    if (2 * (codes->count + 1) > codes->capacity && !grow(codes)) {
        tree->failed = true;
        return;
    }
    struct bl_code *slot = slot_of(codes, value);
    if (slot->value == NULL) {
        slot->value = json_incref(value); /* no other takes its address */
        codes->count++;
    }
    slot->code = code;
}

void bl_tree_word(struct bl_tree *tree, json_t *object, const char *key,
                  const char *word, int code)
{
    bl_tree_text(tree, object, key, word);
    bl_tree_mark(tree, json_object_get(object, key), code);
}

int bl_tree_get_code(const struct bl_codes *codes, const json_t *object,
                     const char *key, int none)
{
    const json_t *value = json_object_get(object, key);
    if (value == NULL || codes->count == 0) {
        return none;
    }
    const struct bl_code *slot = slot_of(codes, value);
    return slot->value == NULL ? none : slot->code;
}

bool bl_tree_is(const struct bl_codes *codes, const json_t *object,
                const char *key, int code)
{
    return bl_tree_get_code(codes, object, key, code - 1) == code;
}

void bl_tree_number(struct bl_tree *tree, json_t *object, const char *key,
                    double value)
{
    bl_tree_put(tree, object, key, make_number(value));
}

void bl_tree_count(struct bl_tree *tree, json_t *object, const char *key,
                   uint64_t value)
{
    bl_tree_put(tree, object, key, make_count(value));
}

void bl_tree_integer(struct bl_tree *tree, json_t *object, const char *key,
                     int64_t value)
{
    bl_tree_put(tree, object, key, json_integer(value));
}

void bl_tree_bool(struct bl_tree *tree, json_t *object, const char *key,
                  bool value)
{
    bl_tree_put(tree, object, key, json_boolean(value));
}

void bl_tree_time(struct bl_tree *tree, json_t *object, const char *key,
                  int64_t time_ns)
{
    char text[32];
    snprintf(text, sizeof(text), "%" PRId64, time_ns);
    bl_tree_text(tree, object, key, text);
}

void bl_tree_append_text(struct bl_tree *tree, json_t *array, const char *text)
{
    bl_tree_append(tree, array, make_text(text));
}

void bl_tree_append_count(struct bl_tree *tree, json_t *array, uint64_t value)
{
    bl_tree_append(tree, array, make_count(value));
}

void bl_tree_append_number(struct bl_tree *tree, json_t *array, double value)
{
    bl_tree_append(tree, array, make_number(value));
}

void bl_tree_notes(struct bl_tree *tree, json_t *object, const char *key,
                   const struct bl_notes *notes)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; notes != NULL && i < notes->count; i++) {
        const struct bl_note *note = &notes->item[i];
        json_t *item = bl_tree_object(tree);
        bl_tree_text(tree, item, "code", note->code);
        bl_tree_text(tree, item, "text", note->text);
        bl_tree_count(tree, item, "count", note->count);
        if (note->first_line > 0) {
            bl_tree_count(tree, item, "line", (uint64_t)note->first_line);
        }
        bl_tree_append(tree, array, item);
    }
    bl_tree_put(tree, object, key, array);
}

void bl_tree_times(struct bl_tree *tree, json_t *object,
                   const struct bl_time_places *times, int64_t first_ns)
{
    enum { LISTED = 200 };
    json_t *array = bl_tree_array(tree);
    size_t i = 0;
    for (; i < times->places && i < LISTED; i++) {
        const struct bl_time_place *p = &times->place[i];
        json_t *item = bl_tree_object(tree);
        bl_tree_text(tree, item, "kind", bl_time_kind_name(p->kind));
        bl_tree_number(tree, item, "at_s",
                       (double)(p->from_ns - first_ns) * 1e-9);
        bl_tree_number(tree, item, "width_s",
                       (double)(p->until_ns - p->from_ns) * 1e-9);
        bl_tree_number(tree, item, "off_s", (double)p->off_ns * 1e-9);
        bl_tree_count(tree, item, "rows", p->rows);
        bl_tree_append(tree, array, item);
    }
    bl_tree_put(tree, object, "time_places", array);
    bl_tree_count(tree, object, "time_places_more",
                  times->places - i + times->more);
}

static int put_piece(const char *text, size_t size, void *user)
{
    bl_output_write(user, text, size);
    return 0;
}

enum bl_status bl_tree_write(const struct bl_tree *tree, const json_t *root,
                             struct bl_output *output, struct bl_error *error)
{
    if (tree->failed ||
        json_dump_callback(root, put_piece, output,
                           JSON_INDENT(1) |
                               JSON_REAL_PRECISION(BL_TREE_DIGITS)) != 0) {
        return bl_fail_memory(error);
    }
    bl_output_text(output, "\n");
    return BL_OK;
}

const char *bl_tree_get_text(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text == NULL ? "" : text;
}

const json_t *bl_tree_row(const json_t *array, const char *key,
                          const char *text)
{
    for (size_t i = 0; i < json_array_size(array); i++) {
        const json_t *row = json_array_get(array, i);
        if (strcmp(bl_tree_get_text(row, key), text) == 0) {
            return row;
        }
    }
    return NULL;
}

bool bl_tree_same_text(const json_t *a, const json_t *b, const char *key)
{
    return strcmp(bl_tree_get_text(a, key), bl_tree_get_text(b, key)) == 0;
}

double bl_tree_get_number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

uint64_t bl_tree_get_count(const json_t *object, const char *key)
{
    const json_int_t value = json_integer_value(json_object_get(object, key));
    return value < 0 ? 0 : (uint64_t)value;
}

bool bl_tree_get_bool(const json_t *object, const char *key)
{
    return json_is_true(json_object_get(object, key));
}
