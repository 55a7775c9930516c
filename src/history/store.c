/* SPDX-License-Identifier: MIT */
/* What every statement goes through, and how its failures are said. */
#include "history/store.h"

#include "base/alloc.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum bl_status bl_store_fail(const struct bl_history *history,
                             struct bl_error *error)
{
    const int code =
        history->db == NULL ? SQLITE_NOMEM : sqlite3_errcode(history->db);
    const char *said = history->db == NULL ? "" : sqlite3_errmsg(history->db);
    switch (code) {
    case SQLITE_NOMEM:
        return bl_fail_memory(error);
    case SQLITE_FULL:
        return bl_fail(error, BL_SYSTEM, history->path,
                       "the disk is full; the history is as it was before");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return bl_fail(error, BL_SYSTEM, history->path,
                       "another program kept the history busy for %d seconds; "
                       "try again",
                       BL_HISTORY_BUSY_MS / 1000);
    case SQLITE_NOTADB:
        return bl_fail(error, BL_FORMAT, history->path,
                       "expected a history of brakelag, found a file that is "
                       "no database");
    case SQLITE_CORRUPT:
        return bl_fail(error, BL_FORMAT, history->path,
                       "the history is damaged (%s); take the last copy of it",
                       said);
    case SQLITE_CANTOPEN:
        return bl_fail(error, BL_IO, history->path, "cannot be opened: %s",
                       errno == 0 ? said : strerror(errno));
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return bl_fail(error, BL_SYSTEM, history->path,
                       "the history cannot be changed: the file or its folder "
                       "is write-protected");
    case SQLITE_CONSTRAINT:
        return bl_fail(error, BL_FORMAT, history->path,
                       "the same unit, label or figure occurs twice "
                       "(%s)",
                       said);
    default:
        return bl_fail(error, BL_SYSTEM, history->path,
                       "the history could not be read or written: %s", said);
    }
}

enum bl_status bl_store_run(struct bl_history *history, const char *sql,
                            struct bl_error *error)
{
    return sqlite3_exec(history->db, sql, NULL, NULL, NULL) == SQLITE_OK
               ? BL_OK
               : bl_store_fail(history, error);
}

void bl_store_undo(struct bl_history *history)
{
    if (sqlite3_get_autocommit(history->db) == 0) {
        (void)sqlite3_exec(history->db, "ROLLBACK", NULL, NULL, NULL);
    }
}

enum bl_status bl_store_prepare(sqlite3_stmt **out, struct bl_history *history,
                                const char *sql, struct bl_error *error)
{
    *out = NULL;
    return sqlite3_prepare_v2(history->db, sql, -1, out, NULL) == SQLITE_OK
               ? BL_OK
               : bl_store_fail(history, error);
}

static int bind_one(sqlite3_stmt *statement, int place, char kind,
                    va_list *values)
{
    if (kind == 'i') {
        return sqlite3_bind_int64(statement, place, va_arg(*values, int64_t));
    }
    if (kind == 't') {
        return sqlite3_bind_text(
            statement, place, va_arg(*values, const char *), -1, SQLITE_STATIC);
    }
    const double value = va_arg(*values, double);
    return isfinite(value) ? sqlite3_bind_double(statement, place, value)
                           : sqlite3_bind_null(statement, place);
}

enum bl_status bl_store_bind_list(struct bl_history *history,
                                  sqlite3_stmt *statement,
                                  struct bl_error *error, const char *kinds,
                                  va_list *values)
{
    int code = SQLITE_OK;
    for (int i = 0; code == SQLITE_OK && kinds[i] != '\0'; i++) {
        code = bind_one(statement, i + 1, kinds[i], values);
    }
    return code == SQLITE_OK ? BL_OK : bl_store_fail(history, error);
}

enum bl_status bl_store_bind(struct bl_history *history,
                             sqlite3_stmt *statement, struct bl_error *error,
                             const char *kinds, ...)
{
    va_list values;
    va_start(values, kinds);
    const enum bl_status status =
        bl_store_bind_list(history, statement, error, kinds, &values);
    va_end(values);
    return status;
}

enum bl_status bl_store_do(struct bl_history *history, sqlite3_stmt *statement,
                           struct bl_error *error)
{
    const int code = sqlite3_step(statement);
    const enum bl_status status = code == SQLITE_DONE || code == SQLITE_ROW
                                      ? BL_OK
                                      : bl_store_fail(history, error);
    (void)sqlite3_reset(statement);
    return status;
}

int bl_store_step(struct bl_history *history, sqlite3_stmt *statement,
                  struct bl_error *error)
{
    const int code = sqlite3_step(statement);
    return code == SQLITE_ROW    ? 1
           : code == SQLITE_DONE ? 0
                                 : (int)bl_store_fail(history, error);
}

enum bl_status bl_store_each(struct bl_history *history, const char *sql,
                             const char *unit_id, bl_store_take *take,
                             void *user, struct bl_error *error)
{
    sqlite3_stmt *statement = NULL;
    enum bl_status status = bl_store_prepare(&statement, history, sql, error);
    if (status == BL_OK) {
        status = bl_store_bind(history, statement, error, "t", unit_id);
    }
    for (int step = 1; status == BL_OK && step != 0;) {
        step = bl_store_step(history, statement, error);
        status = step < 0    ? (enum bl_status)step
                 : step == 1 ? take(user, statement)
                             : BL_OK;
    }
    (void)sqlite3_finalize(statement);
    return status;
}

double bl_store_real(sqlite3_stmt *statement, int column)
{
    return sqlite3_column_type(statement, column) == SQLITE_NULL
               ? NAN
               : sqlite3_column_double(statement, column);
}

bool bl_store_text(sqlite3_stmt *statement, int column, char **out)
{
    const bool null = sqlite3_column_type(statement, column) == SQLITE_NULL;
    *out = bl_strdup((const char *)sqlite3_column_text(statement, column));
    return null || *out != NULL;
}

enum bl_status bl_store_number(struct bl_history *history, const char *sql,
                               int64_t *out, struct bl_error *error)
{
    sqlite3_stmt *statement = NULL;
    const enum bl_status status =
        bl_store_prepare(&statement, history, sql, error);
    if (status != BL_OK) {
        return status;
    }
    const int step = bl_store_step(history, statement, error);
    *out = step == 1 ? sqlite3_column_int64(statement, 0) : 0;
    (void)sqlite3_finalize(statement);
    return step < 0 ? (enum bl_status)step : BL_OK;
}
