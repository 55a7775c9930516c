/* SPDX-License-Identifier: MIT */
/*
 * A trial beside the earlier visits of its units. It is put into the history as
 * it would be added, its units are looked at, and what was put is undone: one
 * way for a visit that is kept and for one that is not.
 */
#include "base/alloc.h"
#include "history/take.h"
#include "history/tell.h"
#include "report/result.h"

#include <stdio.h>
#include <string.h>

/* As the other sentences of the answer (docs/result.md). */
static void say(struct bl_result *into, const struct bl_taken_unit *unit,
                const json_t *life, const char *said)
{
    struct bl_tree *tree = &into->tree;
    json_t *all = json_object_get(into->root, "answer");
    char text[1024];
    if (all == NULL) {
        return;
    }
    json_t *one = bl_tree_object(tree);
    (void)snprintf(text, sizeof(text), "Unit %.120s over its visits: %.800s",
                   unit->id, said);
    bl_tree_bool(tree, one, "first", false);
    bl_tree_text(tree, one, "topic", "life");
    bl_tree_text(tree, one, "text", text);
    bl_tree_text(tree, one, "unit", unit->unit);
    bl_tree_text(tree, one, "name", bl_tree_get_text(life, "name"));
    bl_tree_text(tree, one, "run", NULL);
    bl_tree_put(tree, one, "evidence", bl_tree_array(tree));
    bl_tree_count(tree, one, "evidence_dropped", 0);
    /* Before what is only of this trial, behind what stands above everything.
     */
    size_t at = 0;
    while (bl_tree_get_bool(json_array_get(all, at), "first") ||
           strcmp(bl_tree_get_text(json_array_get(all, at), "topic"), "life") ==
               0) {
        at++;
    }
    if (json_array_insert_new(all, at, one) != 0) {
        tree->failed = true;
    }
}

static const char *said_of(const json_t *life, const char *topic)
{
    size_t index;
    json_t *sentence;
    json_array_foreach(json_object_get(life, "answer"), index, sentence)
    {
        if (strcmp(bl_tree_get_text(sentence, "topic"), topic) == 0) {
            return bl_tree_get_text(sentence, "text");
        }
    }
    return NULL;
}

/* Of two visits there is no trend, but a repair between them is plain. */
static bool differs_plainly(struct bl_take *take,
                            const struct bl_history_life *life)
{
    const size_t rows = life->lives->rows;
    struct bl_life_pair *pair = bl_alloc(rows, sizeof(*pair));
    bool differs = false;
    if (rows > 0 && pair == NULL) {
        take->status = bl_fail_memory(take->error);
    } else {
        take->status =
            bl_life_pairs(pair, life->lives, &life->life, NULL, take->error);
    }
    for (size_t i = 0; take->status == BL_OK && i < rows; i++) {
        differs = differs || pair[i].verdict == BL_LIFE_PAIR_FASTER ||
                  pair[i].verdict == BL_LIFE_PAIR_SLOWER;
    }
    bl_free(pair);
    return differs;
}

/* This visit gave no value of any figure that earlier ones have. */
static bool gave_nothing(const struct bl_history_life *life)
{
    const size_t last = life->life.visits - 1;
    bool nothing = life->life.series_count > 0;
    for (size_t i = 0; i < life->life.series_count; i++) {
        const struct bl_life_series *series = &life->life.series[i];
        nothing = nothing && (series->values == 0 ||
                              series->value[series->values - 1].visit != last);
    }
    return nothing;
}

/* What of a life a reader of this trial must not miss. */
static void answer(struct bl_take *take, struct bl_result *into,
                   const struct bl_taken_unit *unit,
                   const struct bl_history_life *life, const json_t *told)
{
    const char *changed = said_of(told, "changed");
    const char *before = said_of(told, "before");
    const char *silent = said_of(told, "silent");
    const char *no_value = said_of(told, "no-value");
    if (changed != NULL) {
        say(into, unit, told, changed);
    } else if (before != NULL && life->life.visits == 2 &&
               differs_plainly(take, life)) {
        say(into, unit, told, before);
    }
    if (silent != NULL) {
        say(into, unit, told, silent);
    }
    if (no_value != NULL && (changed != NULL || gave_nothing(life))) {
        say(into, unit, told, no_value);
    }
}

static void tell_units(struct bl_take *take, void *user)
{
    struct bl_result *into = user;
    struct bl_tree *tree = &into->tree;
    const json_t *units = json_object_get(take->trial, "units");
    json_t *lives = bl_tree_array(tree);
    for (size_t i = 0; take->status == BL_OK && i < json_array_size(units);
         i++) {
        const json_t *unit = json_array_get(units, i);
        const struct bl_taken_unit taken = {
            json_string_value(json_object_get(unit, "unit")),
            json_string_value(json_object_get(unit, "id")), 0};
        struct bl_history_life *life = NULL;
        if (taken.id == NULL) {
            continue;
        }
        take->status =
            bl_history_life_create(&life, take->history, taken.id, take->error);
        if (take->status == BL_OK) {
            json_t *told = bl_history_model_life(tree, life);
            bl_tree_text(tree, told, "unit", taken.unit);
            answer(take, into, &taken, life, told);
            bl_tree_append(tree, lives, told);
        }
        bl_history_life_destroy(life);
    }
    bl_tree_put(tree, into->root, "lives", lives);
    if (take->status == BL_OK && tree->failed) {
        take->status = bl_fail_memory(take->error);
    }
}

enum bl_status bl_take_beside(struct bl_history *history,
                              const struct bl_result *measured,
                              bl_take_then *then, void *user,
                              struct bl_error *error)
{
    struct bl_error own = {.status = BL_OK};
    struct bl_history_added added = {.visit = 0};
    struct bl_take take = {.history = history,
                           .error = error == NULL ? &own : error,
                           .root = measured->root,
                           .added = &added};
    take.source = json_string_value(
        json_object_get(json_object_get(measured->root, "trial"), "file"));
    int64_t reads_only = 0;
    take.status =
        bl_store_number(history, "PRAGMA query_only", &reads_only, take.error);
    bl_take_run(&take, "PRAGMA query_only = OFF");
    if (take.status == BL_OK && bl_take_result(&take) == BL_OK) {
        then(&take, user);
    }
    bl_store_undo(history);
    /* As it was, also after a failure, whose line stays. */
    struct bl_error *said = take.status == BL_OK ? take.error : NULL;
    const enum bl_status back =
        reads_only ? bl_store_run(history, "PRAGMA query_only = ON", said)
                   : BL_OK;
    take.status = take.status == BL_OK ? back : take.status;
    bl_history_added_finish(&added);
    return take.status;
}

enum bl_status bl_history_tell_result(struct bl_history *history,
                                      const struct bl_result *measured,
                                      struct bl_result *into,
                                      struct bl_error *error)
{
    return bl_take_beside(history, measured, tell_units, into, error);
}
