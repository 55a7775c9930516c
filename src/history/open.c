/* SPDX-License-Identifier: MIT */
/* Opens the file of a history and looks whether it is whole, and closes it. */
#include "base/alloc.h"
#include "history/store.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* quick_check reads every page; this many are read in a blink. */
enum { CHECKED_BYTES = 32 << 20 };

void bl_history_close(struct bl_history *history)
{
    if (history != NULL) {
        (void)sqlite3_close(history->db);
        bl_free(history->path);
        bl_free(history);
    }
}

/* A small file is looked through as a whole. In a large one damage is found
   where it is read, and costs that command. */
static enum bl_status check_pages(struct bl_history *history,
                                  struct bl_error *error)
{
    int64_t pages = 0;
    int64_t bytes = 0;
    enum bl_status status =
        bl_store_number(history, "PRAGMA page_count", &pages, error);
    if (status == BL_OK) {
        status = bl_store_number(history, "PRAGMA page_size", &bytes, error);
    }
    if (status != BL_OK || pages * bytes > CHECKED_BYTES) {
        return status;
    }
    sqlite3_stmt *statement = NULL;
    status =
        bl_store_prepare(&statement, history, "PRAGMA quick_check(1)", error);
    if (status != BL_OK) {
        return status;
    }
    const int step = bl_store_step(history, statement, error);
    const char *said =
        step == 1 ? (const char *)sqlite3_column_text(statement, 0) : NULL;
    /* What is wrong is in the last line. */
    const char *last = said == NULL ? NULL : strrchr(said, '\n');
    said = last == NULL ? said : last + 1;
    if (step < 0) {
        status = (enum bl_status)step;
    } else if (said == NULL || strcmp(said, "ok") != 0) {
        status = bl_fail(error, BL_FORMAT, history->path,
                         "the history is damaged (%s); take the last copy of "
                         "it",
                         said == NULL ? "unreadable" : said);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

/* The change of a file's journal does not wait for another program as other
   statements do: two that begin one file could wait for each other, so SQLite
   says "busy" at once. It is tried again for as long as a writer waits. */
static enum bl_status keep_ahead(struct bl_history *history,
                                 struct bl_error *error)
{
    enum { PAUSE_MS = 20 };
    static const char change[] = "PRAGMA journal_mode = WAL";
    int result = SQLITE_BUSY;
    (void)sqlite3_busy_timeout(history->db, 0);
    for (int ms = 0; result == SQLITE_BUSY && ms < BL_HISTORY_BUSY_MS;
         ms += PAUSE_MS) {
        if (ms > 0) {
            (void)sqlite3_sleep(PAUSE_MS);
        }
        result = sqlite3_exec(history->db, change, NULL, NULL, NULL);
    }
    (void)sqlite3_busy_timeout(history->db, BL_HISTORY_BUSY_MS);
    return result == SQLITE_OK ? BL_OK : bl_store_fail(history, error);
}

/* What a connection keeps to. Foreign files may hold anything: nothing that
   their tables ask for is run. */
static enum bl_status set_up(struct bl_history *history,
                             const struct bl_schema *schema,
                             struct bl_error *error)
{
    int64_t form = 0;
    (void)sqlite3_extended_result_codes(history->db, 0);
    (void)sqlite3_busy_timeout(history->db, BL_HISTORY_BUSY_MS);
    (void)sqlite3_db_config(history->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    (void)sqlite3_db_config(history->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0,
                            NULL);
    (void)sqlite3_db_config(history->db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0,
                            NULL);
    enum bl_status status =
        bl_store_run(history,
                     "PRAGMA foreign_keys = ON; PRAGMA temp_store = MEMORY; "
                     "PRAGMA cell_size_check = ON; "
                     "PRAGMA synchronous = FULL",
                     error);
    if (status == BL_OK) {
        status = bl_schema_look(history, &form, schema->steps, error);
    }
    /* Only now is it known to be ours, or empty. */
    if (status == BL_OK) {
        status = keep_ahead(history, error);
    }
    return status;
}

static char *plain_path(const char *path)
{
    /* Names such as ":memory:" mean something to SQLite; "./:memory:" is a
       file. */
    const bool from_root = path[0] == '/';
    const size_t size = strlen(path) + 3;
    char *plain = bl_alloc(size, 1);
    if (plain != NULL) {
        (void)snprintf(plain, size, "%s%s", from_root ? "" : "./", path);
    }
    return plain;
}

/* What SQLite calls `name`, called `path` in messages. */
static enum bl_status open_named(struct bl_history **out, const char *name,
                                 const char *path, int flags,
                                 const struct bl_schema *schema,
                                 struct bl_error *error)
{
    struct bl_history *history = bl_alloc(1, sizeof(*history));
    enum bl_status status = BL_OK;
    *out = history;
    if (name == NULL || history == NULL ||
        (history->path = bl_strdup(path)) == NULL) {
        status = bl_fail_memory(error);
    }
    errno = 0;
    if (status == BL_OK &&
        sqlite3_open_v2(name, &history->db, flags, NULL) != SQLITE_OK) {
        status = bl_store_fail(history, error);
    }
    if (status == BL_OK) {
        status = set_up(history, schema, error);
    }
    return status == BL_OK ? bl_schema_bring(history, schema, error) : status;
}

enum bl_status bl_store_open_memory(struct bl_history **out, const char *name,
                                    struct bl_error *error)
{
    const enum bl_status status = open_named(
        out, ":memory:", name,
        SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX,
        &bl_history_schema, error);
    if (status != BL_OK) {
        bl_history_close(*out);
        *out = NULL;
    }
    return status;
}

enum bl_status bl_store_open(struct bl_history **out, const char *path,
                             enum bl_history_mode mode,
                             const struct bl_schema *schema,
                             struct bl_error *error)
{
    struct bl_history *history;
    *out = NULL;
    if (path[0] == '\0') {
        return bl_fail(error, BL_ARG, NULL, "expected the name of a history");
    }
    if (mode == BL_HISTORY_READ && access(path, F_OK) != 0) {
        return bl_fail(error, BL_IO, path,
                       "no such history; `brakelag history add` begins one");
    }
    char *plain = plain_path(path);
    const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX |
                      (mode == BL_HISTORY_WRITE ? SQLITE_OPEN_CREATE : 0);
    enum bl_status status =
        open_named(&history, plain, path, flags, schema, error);
    bl_free(plain);
    if (status == BL_OK) {
        status = check_pages(history, error);
    }
    if (status == BL_OK && mode == BL_HISTORY_READ) {
        status = bl_store_run(history, "PRAGMA query_only = ON", error);
    }
    if (status != BL_OK) {
        bl_history_close(history);
        return status;
    }
    *out = history;
    return BL_OK;
}

enum bl_status bl_history_open(struct bl_history **out, const char *path,
                               enum bl_history_mode mode,
                               struct bl_error *error)
{
    return bl_store_open(out, path, mode, &bl_history_schema, error);
}
