/* SPDX-License-Identifier: MIT */
/*
 * A set of mapping tables and what can be asked of it. A message of a later
 * table replaces one of the same name whole, and this is noted: half of one
 * layout and half of another is nobody's message.
 */
#include "decoder/tables.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <string.h>

enum { TABLES_MOST = 256 };

enum bl_status bl_tables_create(struct bl_tables **out, struct bl_error *error)
{
    *out = bl_alloc(1, sizeof(**out));
    return *out == NULL ? bl_fail_memory(error) : BL_OK;
}

void bl_tables_destroy(struct bl_tables *tables)
{
    if (tables == NULL) {
        return;
    }
    for (size_t i = 0; i < tables->count; i++) {
        bl_table_destroy(tables->table[i]);
    }
    bl_free(tables->table);
    bl_free(tables->message);
    bl_free(tables->index);
    bl_notes_finish(&tables->notes);
    bl_free(tables);
}

static size_t find_message(const struct bl_tables *tables, const char *name)
{
    size_t i = 0;
    while (i < tables->messages &&
           strcmp(tables->message[i]->name, name) != 0) {
        i++;
    }
    return i;
}

/* Room for everything first, so that nothing is half done when memory ends. */
static bool make_room(struct bl_tables *tables, const struct bl_table *table)
{
    return bl_grow(&tables->table, &tables->capacity, tables->count + 1,
                   sizeof(struct bl_table *), TABLES_MOST) &&
           bl_grow(&tables->message, &tables->message_capacity,
                   tables->messages + table->messages,
                   sizeof(struct bl_message *),
                   (size_t)TABLES_MOST * BL_LIMIT_TABLE_ROWS);
}

static enum bl_status join(struct bl_tables *tables, struct bl_table *table)
{
    enum bl_status status = BL_OK;
    tables->table[tables->count++] = table;
    const size_t before = tables->messages;
    size_t kept = before;
    for (size_t i = 0; i < table->messages; i++) {
        const struct bl_message *message = &table->message[i];
        const size_t old = find_message(tables, message->name);
        if (old < before && status == BL_OK) {
            status = bl_note_each(
                &tables->notes, "message-replaced", -1,
                "message %s of table %s is replaced by that of table %s",
                message->name, tables->message[old]->table, message->table);
        }
        if (old < before) {
            tables->message[old] = message;
        } else {
            tables->message[kept++] = message;
            tables->messages = kept;
        }
    }
    const enum bl_status indexed = bl_tables_index(tables);
    return status == BL_OK ? indexed : status;
}

enum bl_status bl_tables_add(struct bl_tables *tables, struct bl_bytes *source,
                             const char *name, struct bl_notes *mistakes,
                             struct bl_error *error)
{
    if (tables->count >= TABLES_MOST) {
        return bl_fail(error, BL_LIMIT, name, "at most %d tables are used",
                       TABLES_MOST);
    }
    struct bl_table *table;
    const enum bl_status status =
        bl_table_load(&table, source, name, mistakes, error);
    if (status != BL_OK) {
        return status;
    }
    if (!make_room(tables, table)) {
        bl_table_destroy(table);
        return bl_fail_memory(error);
    }
    return join(tables, table) == BL_OK ? BL_OK : bl_fail_memory(error);
}

size_t bl_tables_count(const struct bl_tables *tables)
{
    return tables->count;
}

const struct bl_table_info *bl_tables_info(const struct bl_tables *t,
                                           size_t index)
{
    return index < t->count ? &t->table[index]->info : NULL;
}

const struct bl_notes *bl_tables_notes(const struct bl_tables *tables)
{
    return &tables->notes;
}

size_t bl_tables_messages(const struct bl_tables *tables)
{
    return tables->messages;
}

const struct bl_message *bl_tables_message(const struct bl_tables *t,
                                           size_t index)
{
    return index < t->messages ? t->message[index] : NULL;
}

const struct bl_message *bl_tables_message_named(const struct bl_tables *tables,
                                                 const char *name)
{
    return bl_tables_message(tables, find_message(tables, name));
}

size_t bl_tables_by_role(const struct bl_tables *tables, enum bl_role role,
                         const struct bl_signal **found, size_t room)
{
    size_t count = 0;
    for (size_t i = 0; i < tables->messages; i++) {
        const struct bl_message *message = tables->message[i];
        for (size_t k = 0; k < message->signals; k++) {
            if (message->signal[k].role != role) {
                continue;
            }
            if (count < room) {
                found[count] = &message->signal[k];
            }
            count++;
        }
    }
    return count;
}
