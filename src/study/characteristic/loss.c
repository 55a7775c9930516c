/* SPDX-License-Identifier: MIT */
/* Pressure lost from front to rear coupling of a unit, in bands of the front
   pressure that the published differential parts. */
#include "study/characteristic/study.h"
#include "study/limits/judge.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <math.h>

enum { BANDS = 6, LEAST_BLOCKS = 5 };

/* What was held in the range of one published row. */
struct sum {
    const struct bl_published_limit *limit; /* NULL: not in use yet */
    bool falling;
    double front, loss, square, blocks;
    size_t holds;
};

/* Which unit's loss is computed, and where it goes. */
struct place {
    struct bl_characteristics *all;
    size_t *capacity;
    size_t unit;
    bool next; /* the next unit's front stands in for its own rear */
};

static struct sum *sum_of(struct sum sum[BANDS],
                          const struct bl_published_limit *limit, bool falling)
{
    size_t i = 0;
    while (i + 1 < BANDS && sum[i].limit != NULL &&
           (sum[i].limit != limit || sum[i].falling != falling)) {
        i++;
    }
    sum[i].limit = limit;
    sum[i].falling = falling;
    return &sum[i];
}

static double zero_of(const struct bl_track *track)
{
    const double rest = bl_study_rest(track);
    return fabs(rest) <= 10 ? rest : 0;
}

static enum bl_status add_loss(const struct place *place, const struct sum *sum,
                               double u_gain, struct bl_error *error)
{
    struct bl_characteristics *all = place->all;
    if (!bl_grow(&all->loss, place->capacity, all->losses + 1,
                 sizeof(*all->loss), BL_LIMIT_APPLICATIONS)) {
        return bl_fail_memory(error);
    }
    const double n = (double)sum->holds;
    struct bl_line_loss *loss = &all->loss[all->losses++];
    *loss = (struct bl_line_loss){.unit = place->unit,
                                  .next_stands_in = place->next,
                                  .falling = sum->falling,
                                  .holds = sum->holds};
    loss->front = (struct bl_measured){sum->front / n, 0};
    loss->loss.value = sum->loss / n;
    const double var =
        fmax(sum->square / n - loss->loss.value * loss->loss.value, 0);
    /* Two rests were taken off: 0.3 kPa for what they cannot know. */
    loss->loss.u = hypot(hypot(sqrt(var), 0.3), u_gain * loss->front.value);
    loss->front.u = u_gain * loss->front.value;
    loss->limit = sum->limit;
    loss->published = bl_limit_loss_kpa(sum->limit, loss->front.value);
    const double apart = fabs(loss->loss.value);
    loss->inside = apart + 2 * loss->loss.u <= loss->published ? BL_FIT_YES
                   : apart - 2 * loss->loss.u > loss->published
                       ? BL_FIT_NO
                       : BL_FIT_UNKNOWN;
    return BL_OK;
}

static enum bl_status unit_loss(const struct place *place,
                                const struct bl_track *front,
                                const struct bl_track *rear,
                                struct bl_error *error)
{
    struct bl_curve_block *block = NULL;
    struct bl_curve_points points = {.item = NULL};
    size_t count = 0;
    const struct bl_study_pair pair = {front, rear, zero_of(front),
                                       zero_of(rear)};
    enum bl_status status = bl_study_blocks(&block, &count, &pair, error);
    if (status == BL_OK) {
        status = bl_curve_collect(&points, block, count, error);
    }
    struct sum sum[BANDS] = {{.holds = 0}};
    for (size_t i = 0; status == BL_OK && i < points.count; i++) {
        const struct bl_curve_point *p = &points.item[i];
        const struct bl_published_limit *limit = bl_limit_of_loss(p->in);
        /* Falling, the rear may stand above the front: below 0. The rule asks
           how far the two lie apart, either way. */
        if (p->hold && limit != NULL && p->blocks >= 2) {
            struct sum *s = sum_of(sum, limit, p->falling);
            const double lost = p->in - p->out;
            s->front += p->in;
            s->loss += lost;
            s->square += lost * lost;
            s->holds++;
        }
    }
    double u_gain = 0;
    if (front->channel != NULL && rear->channel != NULL) {
        u_gain = hypot(front->channel->u_gain_fraction,
                       rear->channel->u_gain_fraction);
        u_gain = isnan(u_gain) ? 0 : u_gain;
    }
    for (size_t i = 0; status == BL_OK && i < BANDS; i++) {
        if (sum[i].holds > 0) {
            status = add_loss(place, &sum[i], u_gain, error);
        }
    }
    bl_curve_points_finish(&points);
    bl_free(block);
    return status;
}

enum bl_status bl_study_loss(struct bl_characteristics *all,
                             const struct bl_study *study,
                             struct bl_error *error)
{
    size_t capacity = 0;
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < study->units; i++) {
        const struct bl_trial_unit *u = &study->trial->unit[i];
        const bool has_next =
            i + 1 < study->units &&
            study->trial->unit[i + 1].combination == u->combination;
        const bool own = study->control_out[i].present;
        const struct bl_track *rear = own        ? &study->control_out[i]
                                      : has_next ? &study->control[i + 1]
                                                 : NULL;
        if (u->number > 0 && rear != NULL && rear->present &&
            study->control[i].present && rear->samples != NULL &&
            study->control[i].samples != NULL &&
            study->control[i].quantity == BL_QUANTITY_PRESSURE &&
            rear->quantity == BL_QUANTITY_PRESSURE &&
            bl_study_tied(&study->control[i], rear)) {
            const struct place place = {all, &capacity, i, !own};
            status = unit_loss(&place, &study->control[i], rear, error);
        }
    }
    return status;
}
