/* SPDX-License-Identifier: MIT */
/* Members of a result's tree by key and kind. What is of another kind is named
   with its place, not passed over: a figure that is written as text would else
   be a figure that is missing. */
#include "history/take.h"

#include "base/limits.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void bl_take_fail(struct bl_take *take, enum bl_status status,
                  const char *format, ...)
{
    char said[300];
    va_list list;
    if (take->status != BL_OK) {
        return;
    }
    va_start(list, format);
    (void)vsnprintf(said, sizeof(said), format, list);
    va_end(list);
    take->status =
        bl_fail(take->error, status, take->source, "%s%s%s", take->place,
                take->place[0] == '\0' ? "" : ": ", said);
}

static const char *kind_of(const json_t *value)
{
    static const char *const kinds[] = {
        [JSON_OBJECT] = "an object", [JSON_ARRAY] = "a list",
        [JSON_STRING] = "a text",    [JSON_INTEGER] = "a number",
        [JSON_REAL] = "a number",    [JSON_TRUE] = "true",
        [JSON_FALSE] = "false",      [JSON_NULL] = "null"};
    return value == NULL ? "nothing" : kinds[json_typeof(value)];
}

static void other_kind(struct bl_take *take, const char *key,
                       const char *wanted, const json_t *found)
{
    bl_take_fail(take, BL_FORMAT, "expected %s in '%s', found %s", wanted, key,
                 kind_of(found));
}

const json_t *bl_take_object(struct bl_take *take, const json_t *from,
                             const char *key)
{
    const json_t *value = json_object_get(from, key);
    if (!json_is_object(value)) {
        other_kind(take, key, "an object", value);
    }
    return take->status == BL_OK ? value : NULL;
}

const json_t *bl_take_array(struct bl_take *take, const json_t *from,
                            const char *key)
{
    const json_t *value = json_object_get(from, key);
    if (value != NULL && !json_is_array(value)) {
        other_kind(take, key, "a list", value);
    }
    return take->status == BL_OK ? value : NULL;
}

const char *bl_take_text(struct bl_take *take, const json_t *from,
                         const char *key)
{
    const json_t *value = json_object_get(from, key);
    if (value == NULL || json_is_null(value)) {
        return NULL;
    }
    if (!json_is_string(value)) {
        other_kind(take, key, "a text", value);
    } else if (json_string_length(value) > BL_LIMIT_CELL_BYTES) {
        bl_take_fail(take, BL_LIMIT, "'%s' has %zu bytes, at most %u are kept",
                     key, json_string_length(value), BL_LIMIT_CELL_BYTES);
    }
    return take->status == BL_OK ? json_string_value(value) : NULL;
}

double bl_take_number(struct bl_take *take, const json_t *from, const char *key)
{
    const json_t *value = json_object_get(from, key);
    if (value == NULL || json_is_null(value)) {
        return NAN;
    }
    if (!json_is_number(value)) {
        other_kind(take, key, "a number", value);
        return NAN;
    }
    return json_number_value(value);
}

bool bl_take_is_reference(const json_t *run)
{
    const char *condition =
        json_string_value(json_object_get(run, "condition"));
    return condition != NULL && strcmp(condition, "reference") == 0;
}

void bl_take_run(struct bl_take *take, const char *sql)
{
    if (take->status == BL_OK) {
        take->status = bl_store_run(take->history, sql, take->error);
    }
}

void bl_take_prepare(struct bl_take *take, sqlite3_stmt **out, const char *sql)
{
    *out = NULL;
    if (take->status == BL_OK) {
        take->status = bl_store_prepare(out, take->history, sql, take->error);
    }
}

void bl_take_put(struct bl_take *take, sqlite3_stmt *statement,
                 const char *kinds, ...)
{
    va_list values;
    if (take->status != BL_OK) {
        return;
    }
    va_start(values, kinds);
    take->status = bl_store_bind_list(take->history, statement, take->error,
                                      kinds, &values);
    va_end(values);
    if (take->status == BL_OK) {
        take->status = bl_store_do(take->history, statement, take->error);
    }
}
