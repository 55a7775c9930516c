/* SPDX-License-Identifier: MIT */
/*
 * The form of the file, and how an older one comes to it. A form is the steps
 * that lead to it, so that a file of any age and a new one go the same way.
 * What is in the file afterwards is compared with the same steps run in memory:
 * a table more, a trigger or a missing index is no history of ours, and nothing
 * in it is run.
 */
#include "history/store.h"

#include "base/alloc.h"

#include <stdio.h>
#include <string.h>

/* A visit is one trial, a member one unit of it, a figure one value of one
   application. `place` of a figure is where it stands among those of its unit
   and application, so that rows come out in the order of docs/analysis.md. */
static const char form_1[] =
    "CREATE TABLE visit (id INTEGER PRIMARY KEY, trial TEXT, "
    "date TEXT NOT NULL, day REAL NOT NULL, place TEXT, supply_kpa REAL, "
    "temperature_c REAL, response_at_kpa REAL, "
    "recordings TEXT NOT NULL UNIQUE, content TEXT NOT NULL, "
    "tool TEXT);"
    "CREATE TABLE recording (sha256 TEXT PRIMARY KEY, visit INTEGER NOT NULL "
    "REFERENCES visit ON DELETE CASCADE) WITHOUT ROWID;"
    "CREATE INDEX recording_visit ON recording (visit);"
    "CREATE TABLE member (id INTEGER PRIMARY KEY, visit INTEGER NOT NULL "
    "REFERENCES visit ON DELETE CASCADE, unit_id TEXT NOT NULL, "
    "unit TEXT NOT NULL, name TEXT, units_in_front INTEGER, "
    "kinds_in_front TEXT, command TEXT, command_transducer TEXT, "
    "position TEXT, transducer TEXT, UNIQUE (visit, unit_id));"
    "CREATE INDEX member_unit ON member (unit_id);"
    "CREATE TABLE label (member INTEGER NOT NULL REFERENCES member "
    "ON DELETE CASCADE, name TEXT NOT NULL, value TEXT, "
    "PRIMARY KEY (member, name)) WITHOUT ROWID;"
    "CREATE TABLE application (id INTEGER PRIMARY KEY, visit INTEGER NOT NULL "
    "REFERENCES visit ON DELETE CASCADE, run TEXT NOT NULL, block TEXT, "
    "condition TEXT NOT NULL, by_data INTEGER NOT NULL, "
    "number INTEGER NOT NULL, combination TEXT, kind TEXT NOT NULL, "
    "shape TEXT NOT NULL, excluded INTEGER NOT NULL, rise_s REAL);"
    "CREATE INDEX application_visit ON application (visit);"
    "CREATE TABLE figure (member INTEGER NOT NULL REFERENCES member "
    "ON DELETE CASCADE, application INTEGER NOT NULL REFERENCES application "
    "ON DELETE CASCADE, place INTEGER NOT NULL, name TEXT NOT NULL, "
    "level_kpa REAL, value REAL, u_random REAL, u_common REAL, "
    "u_transducer REAL, u_clock REAL, flags TEXT, reason TEXT, "
    "PRIMARY KEY (member, application, place)) WITHOUT ROWID;"
    "CREATE INDEX figure_application ON figure (application);";

static const char *const steps[] = {form_1};
const struct bl_schema bl_history_schema = {steps,
                                            sizeof(steps) / sizeof(steps[0])};

static const char described[] =
    "SELECT coalesce(group_concat(sql, ';'), '') FROM (SELECT sql FROM "
    "sqlite_schema WHERE name NOT LIKE 'sqlite~_%' ESCAPE '~' ORDER BY name)";

/* All that the file says of its tables. */
static enum bl_status describe(struct bl_history *history, char **out,
                               struct bl_error *error)
{
    sqlite3_stmt *statement = NULL;
    *out = NULL;
    enum bl_status status =
        bl_store_prepare(&statement, history, described, error);
    if (status == BL_OK) {
        const int step = bl_store_step(history, statement, error);
        status = step < 0 ? (enum bl_status)step : BL_OK;
    }
    if (status == BL_OK && !bl_store_text(statement, 0, out)) {
        status = bl_fail_memory(error);
    }
    (void)sqlite3_finalize(statement);
    return status;
}

static enum bl_status hold_against(struct bl_history *history,
                                   const struct bl_schema *schema,
                                   struct bl_error *error)
{
    struct bl_history wanted = {.path = history->path};
    char *have = NULL;
    char *want = NULL;
    enum bl_status status = describe(history, &have, error);
    if (status == BL_OK && sqlite3_open(":memory:", &wanted.db) != SQLITE_OK) {
        status = bl_store_fail(&wanted, error);
    }
    for (size_t i = 0; status == BL_OK && i < schema->steps; i++) {
        status = bl_store_run(&wanted, schema->step[i], error);
    }
    if (status == BL_OK) {
        status = describe(&wanted, &want, error);
    }
    if (status == BL_OK && strcmp(have, want) != 0) {
        status = bl_fail(error, BL_FORMAT, history->path,
                         "expected the tables of a history of form %zu, found "
                         "others: the file is damaged or was changed by "
                         "another program",
                         schema->steps);
    }
    bl_free(have);
    bl_free(want);
    (void)sqlite3_close(wanted.db);
    return status;
}

enum bl_status bl_schema_look(struct bl_history *history, int64_t *version,
                              size_t known, struct bl_error *error)
{
    int64_t application = 0;
    int64_t things = 0;
    /* One state of the file: another program may be beginning it. */
    const bool own = sqlite3_get_autocommit(history->db) != 0;
    enum bl_status status = own ? bl_store_run(history, "BEGIN", error) : BL_OK;
    if (status == BL_OK) {
        status = bl_store_number(history, "PRAGMA application_id", &application,
                                 error);
    }
    if (status == BL_OK) {
        status =
            bl_store_number(history, "PRAGMA user_version", version, error);
    }
    if (status == BL_OK) {
        status = bl_store_number(history, "SELECT count(*) FROM sqlite_schema",
                                 &things, error);
    }
    if (own) {
        bl_store_undo(history);
    }
    if (status != BL_OK) {
        return status;
    }
    /* A file without anything in it is one that was begun, no further. */
    const bool begun = application == 0 && *version == 0 && things == 0;
    if (!begun && (application != BL_HISTORY_APPLICATION || *version < 1)) {
        return bl_fail(error, BL_FORMAT, history->path,
                       "expected a history of brakelag, found a database of "
                       "another program");
    }
    if (*version > (int64_t)known) {
        return bl_fail(error, BL_UNSUPPORTED, history->path,
                       "a later version of brakelag wrote this history (form "
                       "%lld, this one reads up to %zu); use that version",
                       (long long)*version, known);
    }
    return BL_OK;
}

static enum bl_status climb(struct bl_history *history,
                            const struct bl_schema *schema,
                            struct bl_error *error)
{
    char mark[96];
    int64_t version = 0;
    enum bl_status status = bl_store_run(history, "BEGIN IMMEDIATE", error);
    /* Another program may have been here since. */
    if (status == BL_OK) {
        status = bl_schema_look(history, &version, schema->steps, error);
    }
    for (size_t i = (size_t)version; status == BL_OK && i < schema->steps;
         i++) {
        status = bl_store_run(history, schema->step[i], error);
    }
    if (status == BL_OK) {
        (void)snprintf(mark, sizeof(mark),
                       "PRAGMA application_id = %d; PRAGMA user_version = %zu; "
                       "COMMIT",
                       BL_HISTORY_APPLICATION, schema->steps);
        status = bl_store_run(history, mark, error);
    }
    if (status != BL_OK) {
        bl_store_undo(history);
    }
    return status;
}

enum bl_status bl_schema_bring(struct bl_history *history,
                               const struct bl_schema *schema,
                               struct bl_error *error)
{
    int64_t version = 0;
    enum bl_status status =
        bl_schema_look(history, &version, schema->steps, error);
    if (status == BL_OK && version < (int64_t)schema->steps) {
        status = climb(history, schema, error);
    }
    return status == BL_OK ? hold_against(history, schema, error) : status;
}
