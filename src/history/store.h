/* SPDX-License-Identifier: MIT */
/* The file of a history and its statements: the only place, with schema.c, that
   knows how SQLite is used. */
#ifndef BRAKELAG_SRC_HISTORY_STORE_H
#define BRAKELAG_SRC_HISTORY_STORE_H

#include "brakelag/history.h"

#include <sqlite3.h>
#include <stdarg.h>

/* Own choice: a writer is done in well under a second, on a busy disk in some.
 */
enum { BL_HISTORY_BUSY_MS = 60000 };

struct bl_history {
    sqlite3 *db;
    char *path;
};

/* schema.c: the steps from nothing to the form of this version; the form's
   number is how many there are. A step that was released is never changed. */
struct bl_schema {
    const char *const *step;
    size_t steps;
};
extern const struct bl_schema bl_history_schema;
/* Marks the file as a history: "BrLg". */
enum { BL_HISTORY_APPLICATION = 0x42724C67 };
/* Which form the file has, 0: begun, no further. Reads only. Errors: FORMAT
   (not a history), UNSUPPORTED (of more than `known` steps). */
enum bl_status bl_schema_look(struct bl_history *history, int64_t *version,
                              size_t known, struct bl_error *error);
/* Bring the file to the form of `schema` in one transaction and hold it against
   that. Errors: as bl_history_open. */
enum bl_status bl_schema_bring(struct bl_history *history,
                               const struct bl_schema *schema,
                               struct bl_error *error);

/* bl_history_open with another list of steps, for tests. */
enum bl_status bl_store_open(struct bl_history **out, const char *path,
                             enum bl_history_mode mode,
                             const struct bl_schema *schema,
                             struct bl_error *error);

/* One that lies in memory, under the name that messages give it. */
enum bl_status bl_store_open_memory(struct bl_history **out, const char *name,
                                    struct bl_error *error);

/* The failure of the last call as one line. Returns its status. */
enum bl_status bl_store_fail(const struct bl_history *history,
                             struct bl_error *error);
/* Statements without values, one or several. */
enum bl_status bl_store_run(struct bl_history *history, const char *sql,
                            struct bl_error *error);
/* The one number that a query gives. */
enum bl_status bl_store_number(struct bl_history *history, const char *sql,
                               int64_t *out, struct bl_error *error);
/* Away with what a transaction did, after a failure. */
void bl_store_undo(struct bl_history *history);

/* A prepared statement, NULL on failure. sqlite3_finalize it. */
enum bl_status bl_store_prepare(sqlite3_stmt **out, struct bl_history *history,
                                const char *sql, struct bl_error *error);
/* Bind by the letters of `kinds`: i (int64_t), t (const char *, NULL is null),
   r (double, NaN is null). Text must stay until the statement was stepped. */
enum bl_status bl_store_bind(struct bl_history *history,
                             sqlite3_stmt *statement, struct bl_error *error,
                             const char *kinds, ...);
enum bl_status bl_store_bind_list(struct bl_history *history,
                                  sqlite3_stmt *statement,
                                  struct bl_error *error, const char *kinds,
                                  va_list *values);
/* Step a statement that gives no rows, and make it ready again. */
enum bl_status bl_store_do(struct bl_history *history, sqlite3_stmt *statement,
                           struct bl_error *error);
/* 1: a row, 0: no more, negative: a status. */
int bl_store_step(struct bl_history *history, sqlite3_stmt *statement,
                  struct bl_error *error);
/* Every row of a query whose ?1 is a unit's id, or all units' with NULL, to
   `take`, until that fails. */
typedef enum bl_status bl_store_take(void *user, sqlite3_stmt *row);
enum bl_status bl_store_each(struct bl_history *history, const char *sql,
                             const char *unit_id, bl_store_take *take,
                             void *user, struct bl_error *error);
/* Column as number, null: NaN; as a copy of text, null: NULL. */
double bl_store_real(sqlite3_stmt *statement, int column);
bool bl_store_text(sqlite3_stmt *statement, int column, char **out);

/* unknown.c: NODATA, with the unit that may have been meant: by its name, or
   the nearest id or name. */
enum bl_status bl_store_no_unit(struct bl_history *history, const char *unit_id,
                                struct bl_error *error);

#endif
