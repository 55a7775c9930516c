/* SPDX-License-Identifier: MIT */
/* Earlier visits of a trial's units as a reference for causes: the differences
   of all their figures, as plain numbers. */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "history/take.h"
#include "history/tell.h"
#include "report/result.h"

#include <math.h>

struct bl_history_visits {
    struct bl_visits all;
    struct bl_visits_row *row;
    size_t capacity;
    struct bl_history_life **life; /* whose text rows borrow */
    size_t lives, life_capacity;
};

static bool keep_life(struct bl_history_visits *to,
                      struct bl_history_life *life)
{
    if (!bl_grow(&to->life, &to->life_capacity, to->lives + 1,
                 sizeof(*to->life), BL_LIMIT_TRIAL_ITEMS)) {
        bl_history_life_destroy(life);
        return false;
    }
    to->life[to->lives++] = life;
    return true;
}

/* A drift of years, or a step that was not the last visit's, does not show in
   the last visit against those before it: what the whole life says of it. */
static void whole_life(struct bl_visits_row *to, const struct bl_life_row *row,
                       const struct bl_history_life *life,
                       const struct bl_life_options *options)
{
    const bool drifts = row->verdict == BL_LIFE_DRIFT;
    const bool either = row->verdict == BL_LIFE_DRIFT_OR_STEP;
    if ((!drifts && !either && row->verdict != BL_LIFE_STEP) ||
        to->verdict == BL_LIFE_PAIR_SLOWER ||
        to->verdict == BL_LIFE_PAIR_FASTER) {
        return;
    }
    const struct bl_history_visit *visit = life->list->visit;
    const struct bl_history_visit *first = &visit[row->point[0].visit];
    const struct bl_history_visit *last =
        &visit[row->point[row->points - 1].visit];
    const struct bl_life_change *change = drifts ? &row->drift : &row->step;
    const double times = drifts ? (last->day - first->day) / 365.25 : 1;
    if (!change->known || fabs(change->size * times) < options->least_s) {
        return;
    }
    to->life = row->verdict;
    to->since = drifts || either ? first->date
                                 : visit[row->point[row->step_at].visit].date;
    to->off_s = change->size * times;
    to->u_s = change->u * times;
    to->low_s = change->low * times;
    to->high_s = change->high * times;
    to->verdict = change->size > 0 ? BL_LIFE_PAIR_SLOWER : BL_LIFE_PAIR_FASTER;
}

static bool put_rows(struct bl_history_visits *to, size_t unit,
                     const struct bl_history_life *life,
                     const struct bl_life_pair *pair,
                     const struct bl_life_options *options)
{
    const struct bl_lives *lives = life->lives;
    for (size_t i = 0; i < lives->rows; i++) {
        const struct bl_life_row *row = &lives->row[i];
        const struct bl_life_change *change = &row->last;
        if (!change->known || bl_history_ended(life, row)) {
            continue;
        }
        if (!bl_grow(&to->row, &to->capacity, to->all.rows + 1,
                     sizeof(*to->row), BL_LIMIT_HISTORY_ROWS)) {
            return false;
        }
        const struct bl_life_point *last = &row->point[row->points - 1];
        const struct bl_life_point *before = &row->point[row->points - 2];
        to->row[to->all.rows++] = (struct bl_visits_row){
            .unit = unit,
            .key = row->key,
            .now_s = last->value,
            .off_s = change->size,
            .u_s = change->u,
            .low_s = change->low,
            .high_s = change->high,
            .visits = row->points - 1,
            .date = life->list->visit[before->visit].date,
            .verdict = pair[i].verdict,
            .life = BL_LIFE_CANNOT_TELL};
        whole_life(&to->row[to->all.rows - 1], row, life, options);
    }
    return true;
}

/* One unit of the trial; `take` fails. */
static void take_unit(struct bl_take *take, struct bl_history_visits *to,
                      size_t unit, const char *id)
{
    /* A change is one where the rate of false ones of a whole life is kept. */
    struct bl_life_options options = bl_life_options_default();
    struct bl_history_life *life = NULL;
    options.confidence = 1 - options.false_rate;
    take->status =
        bl_history_life_with(&life, take->history, id, &options, take->error);
    if (take->status != BL_OK || life->life.visits < 2) {
        bl_history_life_destroy(life);
        return;
    }
    struct bl_life_pair *pair = bl_alloc(life->lives->rows, sizeof(*pair));
    if (life->lives->rows > 0 && pair == NULL) {
        take->status = bl_fail_memory(take->error);
    } else {
        take->status = bl_life_pairs(pair, life->lives, &life->life, &options,
                                     take->error);
    }
    const bool put =
        take->status != BL_OK || put_rows(to, unit, life, pair, &options);
    if (!keep_life(to, life) || !put) {
        take->status = bl_fail_memory(take->error);
    }
    bl_free(pair);
}

static void take_units(struct bl_take *take, void *user)
{
    const json_t *units = json_object_get(take->trial, "units");
    for (size_t i = 0; take->status == BL_OK && i < json_array_size(units);
         i++) {
        const char *id =
            json_string_value(json_object_get(json_array_get(units, i), "id"));
        if (id != NULL) {
            take_unit(take, user, i, id);
        }
    }
}

enum bl_status bl_history_visits_create(struct bl_history_visits **out,
                                        struct bl_history *history,
                                        const struct bl_result *measured,
                                        struct bl_error *error)
{
    struct bl_history_visits *made = bl_alloc(1, sizeof(*made));
    *out = NULL;
    if (made == NULL) {
        return bl_fail_memory(error);
    }
    const enum bl_status status =
        bl_take_beside(history, measured, take_units, made, error);
    if (status != BL_OK) {
        bl_history_visits_destroy(made);
        return status;
    }
    made->all.row = made->row;
    *out = made;
    return BL_OK;
}

const struct bl_visits *
bl_history_visits_all(const struct bl_history_visits *visits)
{
    return visits == NULL ? NULL : &visits->all;
}

void bl_history_visits_destroy(struct bl_history_visits *visits)
{
    for (size_t i = 0; visits != NULL && i < visits->lives; i++) {
        bl_history_life_destroy(visits->life[i]);
    }
    if (visits != NULL) {
        bl_free(visits->life);
        bl_free(visits->row);
        bl_free(visits);
    }
}
