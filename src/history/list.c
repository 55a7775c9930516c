/* SPDX-License-Identifier: MIT */
/* Which units and visits a history has, and taking one out. */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "history/store.h"

#include <string.h>

void bl_history_list_destroy(struct bl_history_list *list)
{
    if (list == NULL) {
        return;
    }
    for (size_t i = 0; i < list->units; i++) {
        struct bl_history_unit *unit = &list->unit[i];
        char *const text[] = {unit->id, unit->name, unit->first, unit->last};
        for (size_t k = 0; k < sizeof(text) / sizeof(text[0]); k++) {
            bl_free(text[k]);
        }
    }
    for (size_t i = 0; i < list->visits; i++) {
        bl_free(list->visit[i].date);
        bl_free(list->visit[i].place);
        bl_free(list->visit[i].trial);
    }
    bl_free(list->unit);
    bl_free(list->visit);
    bl_free(list);
}

struct reading {
    struct bl_history_list *list;
    size_t unit_capacity, visit_capacity;
    struct bl_error *error;
};

static enum bl_status more(struct bl_error *error)
{
    return bl_fail(error, BL_LIMIT, "", "a history of more than %u rows",
                   BL_LIMIT_HISTORY_ROWS);
}

static enum bl_status read_visit(void *user, sqlite3_stmt *row)
{
    struct reading *r = user;
    struct bl_history_list *list = r->list;
    if (!bl_grow(&list->visit, &r->visit_capacity, list->visits + 1,
                 sizeof(*list->visit), BL_LIMIT_HISTORY_ROWS)) {
        return more(r->error);
    }
    struct bl_history_visit *visit = &list->visit[list->visits++];
    *visit = (struct bl_history_visit){
        .number = sqlite3_column_int64(row, 0),
        .day = sqlite3_column_double(row, 1),
        .units = (size_t)sqlite3_column_int64(row, 5),
        .figures = (size_t)sqlite3_column_int64(row, 6)};
    const bool date = bl_store_text(row, 2, &visit->date);
    const bool place = bl_store_text(row, 3, &visit->place);
    const bool trial = bl_store_text(row, 4, &visit->trial);
    return date && place && trial ? BL_OK : bl_fail_memory(r->error);
}

/* Rows come by unit, then day: the last row of a unit has its last name. */
static enum bl_status read_unit(void *user, sqlite3_stmt *row)
{
    struct reading *r = user;
    struct bl_history_list *list = r->list;
    const char *id = (const char *)sqlite3_column_text(row, 0);
    struct bl_history_unit *unit =
        list->units == 0 ? NULL : &list->unit[list->units - 1];
    if (id == NULL) {
        return bl_fail_memory(r->error);
    }
    if (unit == NULL || strcmp(unit->id, id) != 0) {
        char *copy = bl_strdup(id);
        if (copy == NULL ||
            !bl_grow(&list->unit, &r->unit_capacity, list->units + 1,
                     sizeof(*list->unit), BL_LIMIT_HISTORY_ROWS)) {
            bl_free(copy);
            return more(r->error);
        }
        unit = &list->unit[list->units++];
        *unit = (struct bl_history_unit){.id = copy};
        if (!bl_store_text(row, 2, &unit->first)) {
            return bl_fail_memory(r->error);
        }
    }
    unit->visits++;
    bl_free(unit->name);
    bl_free(unit->last);
    const bool name = bl_store_text(row, 1, &unit->name);
    const bool last = bl_store_text(row, 2, &unit->last);
    return name && last ? BL_OK : bl_fail_memory(r->error);
}

enum bl_status bl_history_list_create(struct bl_history_list **out,
                                      struct bl_history *history,
                                      const char *unit_id,
                                      struct bl_error *error)
{
    struct reading r = {.list = bl_alloc(1, sizeof(*r.list)), .error = error};
    *out = NULL;
    if (r.list == NULL) {
        return bl_fail_memory(error);
    }
    /* One state of the file for both questions. */
    const bool own = sqlite3_get_autocommit(history->db) != 0;
    enum bl_status status = own ? bl_store_run(history, "BEGIN", error) : BL_OK;
    if (status == BL_OK) {
        status = bl_store_each(history,
                               "SELECT unit_id, member.name, date FROM member "
                               "JOIN visit ON visit.id = member.visit "
                               "WHERE ?1 IS NULL OR unit_id = ?1 "
                               "ORDER BY unit_id, day, visit.id",
                               unit_id, read_unit, &r, error);
    }
    if (status == BL_OK) {
        status = bl_store_each(
            history,
            "SELECT id, day, date, place, trial, "
            "(SELECT count(*) FROM member WHERE member.visit = visit.id), "
            "(SELECT count(*) FROM member JOIN figure ON figure.member = "
            "member.id WHERE member.visit = visit.id) FROM visit WHERE ?1 IS "
            "NULL OR id IN (SELECT visit FROM member WHERE unit_id = ?1) "
            "ORDER BY day, id",
            unit_id, read_visit, &r, error);
    }
    if (own) {
        bl_store_undo(history);
    }
    if (status == BL_OK && unit_id != NULL && r.list->units == 0) {
        status = bl_store_no_unit(history, unit_id, error);
    }
    if (status != BL_OK) {
        bl_history_list_destroy(r.list);
        return status;
    }
    *out = r.list;
    return BL_OK;
}

enum bl_status bl_history_remove(struct bl_history *history, int64_t visit,
                                 struct bl_error *error)
{
    sqlite3_stmt *statement = NULL;
    enum bl_status status = bl_store_prepare(
        &statement, history, "DELETE FROM visit WHERE id = ?1", error);
    if (status == BL_OK) {
        status = bl_store_bind(history, statement, error, "i", visit);
    }
    if (status == BL_OK) {
        status = bl_store_do(history, statement, error);
    }
    (void)sqlite3_finalize(statement);
    if (status == BL_OK && sqlite3_changes(history->db) == 0) {
        status = bl_fail(error, BL_NODATA, history->path,
                         "there is no visit %lld; `brakelag history visits` "
                         "lists them",
                         (long long)visit);
    }
    return status;
}
