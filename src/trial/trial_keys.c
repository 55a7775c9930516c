/* SPDX-License-Identifier: MIT */
/* Keys of [trial] that are lists: quantities and mapping tables. */
#include "base/alloc.h"
#include "base/number.h"
#include "trial/reading.h"

#include <stdio.h>
#include <string.h>

/* A list may name its unit once, at the end: "60, 80, 100 km/h". The unit is
   the one to the right, so the list is read from its end. */
static bool take_list(struct reading *r, const struct trial_key *key,
                      const struct trial_entry *entry, char *const *part,
                      size_t count, double *out)
{
    const struct bl_measurement_unit *unit = NULL;
    for (size_t i = count; i-- > 0;) {
        double number;
        if (unit != NULL &&
            bl_number_parse(part[i], strlen(part[i]), &number)) {
            out[i] = number * unit->factor + unit->shift;
        } else {
            struct measure measure;
            if (!bl_trial_quantity(r, entry->line, part[i], key->quantity,
                                   key->example, &out[i]) ||
                !bl_trial_measure_parse(part[i], &measure)) {
                return false;
            }
            unit = measure.unit;
        }
        if (!(out[i] > 0 && out[i] < 1e6)) {
            bl_trial_wrong(r, entry->line, "a value above 0", part[i], NULL);
            return false;
        }
    }
    return true;
}

SETTER(quantities)
{
    struct bl_trial *trial = object;
    const bool speeds = key->quantity == BL_QUANTITY_SPEED;
    char *copy;
    char **part;
    const size_t count = bl_trial_split(r, entry, ',', &copy, &part);
    double *list = NULL;
    if (count == 0) {
        goto out;
    }
    list = bl_alloc(count, sizeof(*list));
    if (list == NULL) {
        bl_trial_no_memory(r);
        goto out;
    }
    if (!take_list(r, key, entry, part, count, list)) {
        goto out;
    }
    if (speeds) {
        trial->speed_kmh = list;
        trial->speeds = count;
    } else {
        trial->level_kpa = list;
        trial->levels = count;
    }
    list = NULL;
out:
    bl_free(list);
    bl_free(part);
    bl_free(copy);
}

/* A table's own mistakes are in another file: each names it and its line. */
static void table_mistakes(struct reading *r, int line, const char *name,
                           const struct bl_notes *notes,
                           const struct bl_error *error)
{
    r->tables_failed = true;
    for (size_t i = 0; i < notes->count; i++) {
        bl_trial_mistake(r, "wrong-table", line, "in table '%s', line %lld: %s",
                         name, (long long)notes->item[i].first_line,
                         notes->item[i].text);
    }
    if (notes->count == 0) {
        struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, name)};
        char hint[HINT_MAX];
        char quote[QUOTE_MAX];
        const char *const *shipped = bl_tables_shipped();
        for (size_t i = 0; shipped[i] != NULL; i++) {
            bl_nearest_offer(&nearest, shipped[i]);
        }
        bl_trial_mistake(r, "wrong-table", line,
                         "expected a mapping table, found '%s'%s: %s",
                         bl_trial_quote(name, quote),
                         bl_trial_nearest_hint(&nearest, hint), error->message);
    }
}

bool bl_trial_load_table(struct reading *r, int line, const char *name)
{
    struct bl_notes notes = {0};
    struct bl_error error;
    bl_error_clear(&error);
    const enum bl_status status = bl_tables_add_named(
        r->trial->tables, name, r->trial->folder, &notes, &error);
    if (status == BL_NOMEM) {
        bl_trial_no_memory(r);
    } else if (status != BL_OK) {
        table_mistakes(r, line, name, &notes, &error);
    }
    bl_notes_finish(&notes);
    return status == BL_OK;
}

SETTER(tables)
{
    struct bl_trial *trial = object;
    (void)key;
    char *copy = NULL;
    char **part = NULL;
    if (strcmp(entry->value, "none") == 0) {
        return;
    }
    const size_t count = bl_trial_split(r, entry, ',', &copy, &part);
    if (count > 0) {
        trial->table = bl_alloc(count, sizeof(*trial->table));
        if (trial->table == NULL) {
            bl_trial_no_memory(r);
        }
    }
    for (size_t i = 0; i < count && r->status == BL_OK; i++) {
        bl_trial_keep(r, &trial->table[i], part[i]);
        trial->table_count = i + 1;
        (void)bl_trial_load_table(r, entry->line, part[i]);
    }
    bl_free(part);
    bl_free(copy);
}

/* Without the key all shipped tables are loaded. */
void bl_trial_load_shipped(struct reading *r, int line)
{
    struct bl_trial *trial = r->trial;
    const char *const *shipped = bl_tables_shipped();
    size_t count = 0;
    while (shipped[count] != NULL) {
        count++;
    }
    trial->table = bl_alloc(count, sizeof(*trial->table));
    if (trial->table == NULL) {
        bl_trial_no_memory(r);
        return;
    }
    for (size_t i = 0; i < count && r->status == BL_OK; i++) {
        bl_trial_keep(r, &trial->table[i], shipped[i]);
        trial->table_count = i + 1;
        (void)bl_trial_load_table(r, line, shipped[i]);
    }
}
