/* SPDX-License-Identifier: MIT */
/*
 * A trial against the result of an earlier one, as before and after a repair.
 * Both become visits of a history that lies in memory, so that what is read of
 * a foreign result, what makes visits comparable, and how far apart sound
 * visits lie are what they are for a history that is kept.
 */
#include "base/alloc.h"
#include "history/pair.h"
#include "history/take.h"
#include "report/result.h"

#include <math.h>
#include <string.h>

struct against {
    struct bl_history *history;
    const char *source; /* what the earlier result is called */
    const json_t *measured;
    struct bl_error *error;
    struct bl_pairing pairing;
    struct bl_history_list *list; /* of both visits */
    json_t *only_now, *only_then;
};

/* A recording that both have is no other visit. */
static enum bl_status no_shared_recording(struct against *a)
{
    sqlite3_stmt *statement = NULL;
    size_t index;
    json_t *recording;
    enum bl_status status =
        bl_store_prepare(&statement, a->history,
                         "SELECT 1 FROM recording WHERE sha256 = ?1", a->error);
    json_array_foreach(json_object_get(a->measured, "recordings"), index,
                       recording)
    {
        const char *hash =
            json_string_value(json_object_get(recording, "sha256"));
        if (status != BL_OK || hash == NULL) {
            continue;
        }
        (void)sqlite3_reset(statement);
        status = bl_store_bind(a->history, statement, a->error, "t", hash);
        const int step = status == BL_OK
                             ? bl_store_step(a->history, statement, a->error)
                             : 0;
        if (step < 0) {
            status = (enum bl_status)step;
        } else if (step == 1) {
            status = bl_fail(a->error, BL_ARG, a->source,
                             "it is a result of a recording that this trial "
                             "has, too (of run '%.40s'); give the result of an "
                             "earlier visit",
                             bl_tree_get_text(recording, "run"));
        }
    }
    (void)sqlite3_finalize(statement);
    return status;
}

/* Both visits in the history, the earlier one first. */
static enum bl_status add_both(struct against *a, struct bl_bytes *earlier,
                               const struct bl_result *measured)
{
    struct bl_history_added added = {.visit = 0};
    enum bl_status status =
        bl_history_add_json(a->history, earlier, &added, a->error);
    bl_history_added_finish(&added);
    if (status == BL_OK) {
        status = no_shared_recording(a);
    }
    if (status == BL_OK) {
        status = bl_history_add(a->history, measured, &added, a->error);
    }
    bl_history_added_finish(&added);
    if (status == BL_OK) {
        status = bl_history_list_create(&a->list, a->history, NULL, a->error);
    }
    /* By day, then in the order in which they were added. */
    if (status == BL_OK && a->list->visit[0].number != 1) {
        status = bl_fail(a->error, BL_ARG, a->source,
                         "it is of %s, after this trial of %s; measure the "
                         "later trial and give --with the earlier result",
                         a->list->visit[1].date, a->list->visit[0].date);
    }
    return status;
}

static const struct bl_history_unit *listed(const struct bl_history_list *list,
                                            const char *id)
{
    for (size_t i = 0; i < list->units; i++) {
        if (strcmp(list->unit[i].id, id) == 0) {
            return &list->unit[i];
        }
    }
    return NULL;
}

static enum bl_status pair_unit(struct against *a, const char *unit,
                                const char *id)
{
    struct bl_paired *paired = &a->pairing.item[a->pairing.count];
    *paired = (struct bl_paired){.unit = unit};
    enum bl_status status = bl_history_life_with(&paired->life, a->history, id,
                                                 a->pairing.options, a->error);
    if (status != BL_OK) {
        return status;
    }
    a->pairing.count++;
    const struct bl_lives *lives = paired->life->lives;
    paired->row = bl_alloc(lives->rows, sizeof(*paired->row));
    if (lives->rows > 0 && paired->row == NULL) {
        return bl_fail_memory(a->error);
    }
    return bl_life_pairs(paired->row, lives, &paired->life->life,
                         a->pairing.options, a->error);
}

static void put_only(struct bl_tree *tree, json_t *into, const char *id,
                     const char *name)
{
    json_t *one = bl_tree_object(tree);
    bl_tree_text(tree, one, "unit_id", id);
    bl_tree_text(tree, one, "name", name);
    bl_tree_append(tree, into, one);
}

/* Every unit of this trial that the other has, front to rear. */
static enum bl_status pair_units(struct against *a, struct bl_tree *tree)
{
    const json_t *units =
        json_object_get(json_object_get(a->measured, "trial"), "units");
    const size_t most = json_array_size(units);
    enum bl_status status = BL_OK;
    a->pairing.item = bl_alloc(most, sizeof(*a->pairing.item));
    if (most > 0 && a->pairing.item == NULL) {
        return bl_fail_memory(a->error);
    }
    for (size_t i = 0; status == BL_OK && i < most; i++) {
        const json_t *unit = json_array_get(units, i);
        const char *id = json_string_value(json_object_get(unit, "id"));
        const struct bl_history_unit *known =
            id == NULL ? NULL : listed(a->list, id);
        if (known != NULL && known->visits == 2) {
            status = pair_unit(
                a, json_string_value(json_object_get(unit, "unit")), id);
        } else {
            put_only(tree, a->only_now, id,
                     json_string_value(json_object_get(unit, "name")));
        }
    }
    /* The rest of the list was there then. */
    for (size_t i = 0; i < a->list->units; i++) {
        const struct bl_history_unit *unit = &a->list->unit[i];
        bool now = unit->visits == 2;
        for (size_t k = 0; k < most; k++) {
            const char *id = json_string_value(
                json_object_get(json_array_get(units, k), "id"));
            now = now || (id != NULL && strcmp(id, unit->id) == 0);
        }
        if (!now) {
            put_only(tree, a->only_then, unit->id, unit->name);
        }
    }
    if (status == BL_OK && a->pairing.count == 0) {
        status = bl_fail(
            a->error, BL_NODATA, a->source,
            "none of its units has the id of a unit of this "
            "trial; it has '%.60s'%s",
            bl_tree_get_text(json_array_get(a->only_then, 0), "unit_id"),
            json_array_size(a->only_then) > 1 ? " and others" : "");
    }
    return status;
}

/* The value of a visit, with the u that it has by itself. */
static void put_value(struct bl_tree *tree, json_t *to, const char *key,
                      const struct bl_life_series *series, size_t visit)
{
    json_t *object = bl_tree_object(tree);
    double value = (double)NAN;
    double u = (double)NAN;
    for (size_t i = 0; i < series->values; i++) {
        if (series->value[i].visit == visit) {
            value = series->value[i].value;
            u = isnan(series->value[i].u_systematic)
                    ? series->value[i].u_random
                    : hypot(series->value[i].u_random,
                            series->value[i].u_systematic);
        }
    }
    bl_tree_number(tree, object, "s", value);
    bl_tree_number(tree, object, "u_s", isnan(value) ? value : u);
    bl_tree_put(tree, to, key, object);
}

static json_t *model_row(struct bl_tree *tree, const struct bl_paired *paired,
                         size_t at)
{
    const struct bl_life_row *row = &paired->life->lives->row[at];
    const struct bl_life_series *series = &paired->life->life.series[at];
    const struct bl_life_pair *pair = &paired->row[at];
    json_t *object = bl_tree_object(tree);
    json_t *needs = bl_tree_array(tree);
    bl_history_model_key(tree, object, &row->key);
    put_value(tree, object, "then", series, 0);
    put_value(tree, object, "now", series, 1);
    bl_history_model_change(tree, object, "difference", &row->before);
    bl_tree_number(tree, object, "p", row->before.p);
    bl_tree_number(tree, object, "p_all", pair->p_all);
    bl_tree_text(tree, object, "verdict", bl_life_pair_name(pair->verdict));
    bl_tree_text(tree, object, "reason",
                 pair->reason == BL_LIFE_PAIR_REASON_NONE
                     ? NULL
                     : bl_life_pair_reason_name(pair->reason));
    for (enum bl_life_fact f = 0; f < BL_LIFE_FACTS; f++) {
        if (pair->verdict == BL_LIFE_PAIR_CANNOT_TELL &&
            (pair->needs & (1u << f)) != 0) {
            bl_tree_append_text(tree, needs, bl_life_fact_name(f));
        }
    }
    bl_tree_put(tree, object, "needs", needs);
    return object;
}

/* What is known to have been otherwise: counted in the u of each difference. */
static json_t *differs(struct bl_tree *tree, const struct bl_life *life)
{
    json_t *array = bl_tree_array(tree);
    const struct bl_life_visit *then = &life->visit[0];
    const struct bl_life_visit *now = &life->visit[1];
    const struct {
        enum bl_life_fact fact;
        double then, now;
    } numbers[] = {
        {BL_LIFE_FACT_SUPPLY, then->supply_kpa, now->supply_kpa},
        {BL_LIFE_FACT_TEMPERATURE, then->temperature_c, now->temperature_c},
        {BL_LIFE_FACT_IN_FRONT, then->units_in_front, now->units_in_front}};
    for (size_t i = 0; i < sizeof(numbers) / sizeof(numbers[0]); i++) {
        if (fabs(numbers[i].now - numbers[i].then) > 0) {
            json_t *one = bl_tree_object(tree);
            bl_tree_text(tree, one, "fact", bl_life_fact_name(numbers[i].fact));
            bl_tree_number(tree, one, "then", numbers[i].then);
            bl_tree_number(tree, one, "now", numbers[i].now);
            bl_tree_append(tree, array, one);
        }
    }
    return array;
}

static json_t *model_unit(struct bl_tree *tree, const struct bl_paired *paired)
{
    json_t *object = bl_tree_object(tree);
    json_t *rows = bl_tree_array(tree);
    const struct bl_history_unit *unit = &paired->life->list->unit[0];
    bl_tree_text(tree, object, "unit", paired->unit);
    bl_tree_text(tree, object, "unit_id", unit->id);
    bl_tree_text(tree, object, "name", unit->name);
    bl_tree_put(tree, object, "differs", differs(tree, &paired->life->life));
    for (size_t i = 0; i < paired->life->lives->rows; i++) {
        bl_tree_append(tree, rows, model_row(tree, paired, i));
    }
    bl_tree_put(tree, object, "rows", rows);
    return object;
}

static void model(struct against *a, struct bl_tree *tree, json_t *into)
{
    json_t *object = bl_tree_object(tree);
    json_t *units = bl_tree_array(tree);
    const struct bl_life_options *o = a->pairing.options;
    bl_tree_text(tree, object, "file", a->source);
    bl_tree_put(tree, object, "visits", bl_history_model_visits(tree, a->list));
    bl_tree_number(tree, object, "confidence", o->confidence);
    bl_tree_number(tree, object, "same_within_s", o->least_s);
    bl_tree_number(tree, object, "spread_s", o->spread_s);
    for (size_t i = 0; i < a->pairing.count; i++) {
        bl_tree_append(tree, units, model_unit(tree, &a->pairing.item[i]));
    }
    bl_tree_put(tree, object, "units", units);
    bl_tree_put(tree, object, "only_then", json_incref(a->only_then));
    bl_tree_put(tree, object, "only_now", json_incref(a->only_now));
    bl_tree_put(tree, into, "before_after", object);
    a->pairing.date = a->list->visit[0].date;
    bl_pairing_tell(tree, into, &a->pairing);
}

static size_t told(const struct bl_pairing *pairing)
{
    size_t count = 0;
    for (size_t i = 0; i < pairing->count; i++) {
        const struct bl_paired *paired = &pairing->item[i];
        count += paired->life->lives->rows -
                 bl_paired_count(paired, BL_LIFE_PAIR_CANNOT_TELL);
    }
    return count;
}

static void finish(struct against *a)
{
    for (size_t i = 0; i < a->pairing.count; i++) {
        bl_history_life_destroy(a->pairing.item[i].life);
        bl_free(a->pairing.item[i].row);
    }
    bl_free(a->pairing.item);
    bl_history_list_destroy(a->list);
    bl_history_close(a->history);
    json_decref(a->only_now);
    json_decref(a->only_then);
}

enum bl_status bl_history_compare(struct bl_bytes *earlier,
                                  const struct bl_result *measured,
                                  struct bl_result *into,
                                  const struct bl_life_options *options,
                                  size_t *answered, struct bl_error *error)
{
    const struct bl_life_options usual = bl_life_options_default();
    struct bl_tree *tree = &into->tree;
    struct against a = {.source = bl_bytes_name(earlier),
                        .measured = measured->root,
                        .error = error,
                        .pairing.options = options == NULL ? &usual : options,
                        .only_now = bl_tree_array(tree),
                        .only_then = bl_tree_array(tree)};
    enum bl_status status = bl_store_open_memory(&a.history, a.source, error);
    if (status == BL_OK) {
        status = add_both(&a, earlier, measured);
    }
    if (status == BL_OK) {
        status = pair_units(&a, tree);
    }
    if (status == BL_OK) {
        model(&a, tree, into->root);
        *answered = told(&a.pairing);
        into->in_front = true;
        status = tree->failed ? bl_fail_memory(error) : BL_OK;
    }
    finish(&a);
    return status;
}
