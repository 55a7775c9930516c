/* SPDX-License-Identifier: MIT */
/* What is left at the rear: every held demand below 150 kPa, and which units
   braked at it. */
#include "study/characteristic/study.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <math.h>

static const double light_kpa = 150.0;
static const double least_kpa = 10.0;
enum { LEAST_BLOCKS = 5, SETTLE_BLOCKS = 3 };
/* A block that lies further from the hold's mean ends it, kPa. */
static const double band = 3.0;

/* Rows of one combination on their way into the result. */
struct rows {
    struct bl_characteristics *all;
    size_t *capacity;
    const struct bl_study *study;
    const double *rest; /* of each unit's output */
    char combination;
};

/* Above its lowest level, over the settled part; NaN where not recorded. */
static struct bl_measured output_at(const struct bl_track *track, double rest,
                                    int64_t from_ns, int64_t to_ns)
{
    if (!track->present || track->is_state || isnan(rest)) {
        return (struct bl_measured){NAN, NAN};
    }
    const struct bl_extent e = bl_track_extent(track, from_ns, to_ns);
    if (!e.known) {
        return (struct bl_measured){NAN, NAN};
    }
    const double zero = track->channel == NULL ? 0 : track->channel->u_zero;
    const double above = e.median - (fabs(rest) <= 10 ? rest : 0);
    const double u_zero = fabs(rest) <= 10 || isnan(zero) ? 0 : zero;
    return (struct bl_measured){above,
                                hypot((e.largest - e.smallest) / 4, u_zero)};
}

static enum bl_answer braked(const struct bl_measured *value, double at)
{
    if (isnan(value->value)) {
        return BL_UNKNOWN;
    }
    return value->value - 2 * value->u > at   ? BL_YES
           : value->value + 2 * value->u < at ? BL_NO
                                              : BL_UNKNOWN;
}

static enum bl_status add_row(const struct rows *rows,
                              const struct bl_light_row *row,
                              struct bl_error *error)
{
    struct bl_characteristics *all = rows->all;
    const struct bl_study *study = rows->study;
    if (!bl_grow(&all->light, rows->capacity, all->lights + 1,
                 sizeof(*all->light), BL_LIMIT_APPLICATIONS)) {
        return bl_fail_memory(error);
    }
    struct bl_light_row *to = &all->light[all->lights];
    *to = *row;
    to->unit = bl_alloc(study->units, sizeof(*to->unit));
    if (to->unit == NULL) {
        return bl_fail_memory(error);
    }
    all->lights++;
    const int64_t t0 = study->clocks->t0_ns;
    const int64_t from = t0 + (int64_t)((row->from_s + 0.6) * 1e9);
    const int64_t until = t0 + (int64_t)(row->to_s * 1e9);
    for (size_t i = 0; i < study->units; i++) {
        if (study->trial->unit[i].combination == rows->combination) {
            struct bl_light_unit *u = &to->unit[to->units++];
            u->unit = i;
            u->output =
                output_at(&study->output[i], rows->rest[i], from, until);
            u->braked = braked(&u->output, study->trial->brakes_at_kpa);
        }
    }
    return BL_OK;
}

/* Holds of the front demand: neighbouring blocks that stay together. */
static enum bl_status find_holds(const struct rows *rows,
                                 const struct bl_curve_block *block,
                                 size_t count, struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < count;) {
        size_t end = i + 1;
        double sum = block[i].in;
        while (end < count &&
               fabs(block[end].in - sum / (double)(end - i)) <= band) {
            sum += block[end++].in;
        }
        const double mean = sum / (double)(end - i);
        if (end - i >= LEAST_BLOCKS && mean >= least_kpa && mean < light_kpa) {
            const double t0 = (double)rows->study->clocks->t0_ns * 1e-9;
            const struct bl_light_row row = {.from_s = block[i].time_s - t0,
                                             .to_s = block[end - 1].time_s -
                                                     t0 + BL_CURVE_BLOCK,
                                             .demand = {mean, band / sqrt(12)}};
            status = add_row(rows, &row, error);
        }
        i = end;
    }
    return status;
}

static enum bl_status combination_rows(const struct rows *rows,
                                       struct bl_error *error)
{
    struct bl_track command;
    const struct bl_track *front =
        bl_study_front(rows->study, rows->combination, &command);
    if (front == NULL) {
        return BL_OK;
    }
    rows->all->light_known = true;
    const double zero = front->samples == NULL ? 0 : bl_study_rest(front);
    struct bl_curve_block *block = NULL;
    size_t count = 0;
    const struct bl_study_pair pair = {front, front,
                                       fabs(zero) <= 10 ? zero : 0, 0};
    enum bl_status status = bl_study_blocks(&block, &count, &pair, error);
    if (status == BL_OK) {
        status = find_holds(rows, block, count, error);
    }
    bl_free(block);
    return status;
}

enum bl_status bl_study_light(struct bl_characteristics *all,
                              const struct bl_study *study,
                              struct bl_error *error)
{
    double *rest = bl_alloc(study->units, sizeof(*rest));
    if (rest == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < study->units; i++) {
        rest[i] = study->output[i].present && !study->output[i].is_state
                      ? bl_study_rest(&study->output[i])
                      : NAN;
    }
    size_t capacity = 0;
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < study->units; i++) {
        const char letter = study->trial->unit[i].combination;
        if (i == 0 || letter != study->trial->unit[i - 1].combination) {
            const struct rows rows = {all, &capacity, study, rest, letter};
            status = combination_rows(&rows, error);
        }
    }
    bl_free(rest);
    return status;
}
