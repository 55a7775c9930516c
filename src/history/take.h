/* SPDX-License-Identifier: MIT */
/* A result's tree, read with a place for every mistake, and put into a visit.
 */
#ifndef BRAKELAG_SRC_HISTORY_TAKE_H
#define BRAKELAG_SRC_HISTORY_TAKE_H

#include "history/store.h"

#include <jansson.h>

/* One unit of the trial. */
struct bl_taken_unit {
    const char *unit, *id; /* "2"; NULL: none, and not kept */
    int64_t member;        /* its row */
};

/* The first failure sticks: later steps do nothing. */
struct bl_take {
    struct bl_history *history;
    const char *source; /* of the JSON, for messages; NULL: a trial */
    struct bl_error *error;
    enum bl_status status;
    char place[128]; /* "runs[2].applications[0]" */
    const json_t *root, *trial;
    double day;
    int64_t visit;
    struct bl_taken_unit *unit;
    size_t units;
    sqlite3_stmt *application, *figure;
    int64_t row; /* of the application that figures belong to */
    struct bl_history_added *added;
};

/* add.c: the visit of `root` is put into the history, in a transaction that the
   caller commits or undoes. */
enum bl_status bl_take_result(struct bl_take *take);
/* beside.c: with the visit of `measured` in the history, which is as it was
   afterwards. `then` may fail the take. */
typedef void bl_take_then(struct bl_take *take, void *user);
enum bl_status bl_take_beside(struct bl_history *history,
                              const struct bl_result *measured,
                              bl_take_then *then, void *user,
                              struct bl_error *error);
/* take.c: say what is wrong at `place`. */
void bl_take_fail(struct bl_take *take, enum bl_status status,
                  const char *format, ...) BL_PRINTF(3, 4);
/* A member of the kind that is wanted. Text and number: NULL and NaN where it
   is null or missing. Array: an empty one where it is missing. */
const json_t *bl_take_object(struct bl_take *take, const json_t *from,
                             const char *key);
const json_t *bl_take_array(struct bl_take *take, const json_t *from,
                            const char *key);
const char *bl_take_text(struct bl_take *take, const json_t *from,
                         const char *key);
double bl_take_number(struct bl_take *take, const json_t *from,
                      const char *key);
/* Statements, which do nothing after a failure: none, one that is prepared once
   (NULL then), and that with its values (bl_store_bind). */
void bl_take_run(struct bl_take *take, const char *sql);
void bl_take_prepare(struct bl_take *take, sqlite3_stmt **out, const char *sql);
void bl_take_put(struct bl_take *take, sqlite3_stmt *statement,
                 const char *kinds, ...);
/* Runs that measure transducers, not units. */
bool bl_take_is_reference(const json_t *run);

/* rows.c: into the visit `take->visit`, which is there: its units with their
   labels, its applications, their figures. */
void bl_take_rows(struct bl_take *take);

#endif
