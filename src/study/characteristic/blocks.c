/* SPDX-License-Identifier: MIT */
/* From two tracks to blocks of means on the run's time. */
#include "study/characteristic/study.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>

bool bl_study_tied(const struct bl_track *a, const struct bl_track *b)
{
    return a->recording == b->recording ||
           (a->tie->claim != BL_CLAIM_NONE && b->tie->claim != BL_CLAIM_NONE &&
            a->tie->claim != BL_CLAIM_AMBIGUOUS &&
            b->tie->claim != BL_CLAIM_AMBIGUOUS);
}

/* A track that is read block by block: where the next one begins. */
struct reading {
    const struct bl_track *track;
    size_t next;
};

static struct reading read_from(const struct bl_track *track, int64_t from)
{
    const struct bl_samples *s = track->samples;
    return (struct reading){
        track, s == NULL ? 0 : bl_samples_at(s, bl_track_raw(track, from))};
}

/* Mean over [from, to) of samples; of held values, the mean of ten looks. */
static double block_mean(struct reading *at, int64_t from, int64_t to)
{
    enum { LOOKS = 10 };
    const struct bl_track *track = at->track;
    double sum = 0;
    size_t n = 0;
    if (track->samples != NULL) {
        const struct bl_samples *s = track->samples;
        const int64_t end = bl_track_raw(track, to);
        for (; at->next < s->count && s->time_ns[at->next] < end; at->next++) {
            if (!isnan(s->value[at->next])) {
                sum += s->value[at->next];
                n++;
            }
        }
        if (n == 0 && s->interval_ns > (to - from) / 2) {
            return bl_track_value(track, from + (to - from) / 2);
        }
        return n == 0 ? NAN : sum / (double)n;
    }
    for (size_t i = 0; i < LOOKS; i++) {
        const double v =
            bl_track_value(track, from + (to - from) * (int64_t)i / LOOKS);
        if (isnan(v)) {
            return NAN;
        }
        sum += v;
    }
    return sum / LOOKS;
}

enum bl_status bl_study_blocks(struct bl_curve_block **out_block, size_t *count,
                               const struct bl_study_pair *pair,
                               struct bl_error *error)
{
    const struct bl_track *in = pair->in;
    const struct bl_track *out = pair->out;
    const int64_t block_ns = (int64_t)(BL_CURVE_BLOCK * 1e9);
    const int64_t from =
        in->first_ns > out->first_ns ? in->first_ns : out->first_ns;
    const int64_t to = in->last_ns < out->last_ns ? in->last_ns : out->last_ns;
    *out_block = NULL;
    *count = to > from ? (size_t)((to - from) / block_ns) : 0;
    if (*count > BL_LIMIT_STATS_VALUES) {
        return bl_fail(error, BL_LIMIT, NULL,
                       "%zu stretches of 0.2 s, at most %u", *count,
                       BL_LIMIT_STATS_VALUES);
    }
    struct bl_curve_block *block = bl_alloc(*count, sizeof(*block));
    if (block == NULL) {
        return bl_fail_memory(error);
    }
    struct reading of_in = read_from(in, from);
    struct reading of_out = read_from(out, from);
    for (size_t i = 0; i < *count; i++) {
        const int64_t at = from + (int64_t)i * block_ns;
        block[i].time_s = (double)at * 1e-9;
        block[i].in = block_mean(&of_in, at, at + block_ns) - pair->in_rest;
        block[i].out = block_mean(&of_out, at, at + block_ns) - pair->out_rest;
    }
    *out_block = block;
    return BL_OK;
}

/* Of a long log only the surroundings of activity are kept: from a time without
   samples to the next one with. */
static int64_t where_kept(const struct bl_track *track, int64_t at)
{
    const struct bl_samples *s = track->samples;
    if (s == NULL) {
        return at;
    }
    const size_t next = bl_samples_at(s, bl_track_raw(track, at));
    const int64_t there =
        next < s->count ? bl_track_run(track, s->time_ns[next]) : at;
    return there - at > 3 * s->interval_ns ? there : at;
}

double bl_study_rest(const struct bl_track *track)
{
    enum { WINDOWS = 400 };
    const int64_t step_ns = 500000000;
    double lowest = NAN;
    int64_t step = (track->last_ns - track->first_ns) / WINDOWS;
    step = step > step_ns ? step : step_ns;
    for (int64_t at = track->first_ns; at + step_ns <= track->last_ns + 1;
         at += step) {
        const int64_t look = where_kept(track, at);
        const struct bl_extent e = bl_track_extent(track, look, look + step_ns);
        if (e.known && e.largest - e.smallest < 10 && !(e.median >= lowest)) {
            lowest = e.median;
        }
    }
    return lowest;
}

const struct bl_track *bl_study_front(const struct bl_study *study,
                                      char combination,
                                      struct bl_track *command)
{
    for (size_t i = 0; i < study->units; i++) {
        const struct bl_trial_unit *unit = &study->trial->unit[i];
        if (unit->combination != combination) {
            continue;
        }
        if (unit->number == 0) {
            bl_track_find(command, study->trial, study->data, study->clocks,
                          &unit->command);
            if (command->present && !command->is_state &&
                command->quantity == BL_QUANTITY_PRESSURE) {
                return command;
            }
        }
        const struct bl_track *const from[] = {&study->demand[i],
                                               &study->control[i]};
        for (size_t k = 0; k < 2; k++) {
            if (unit->number > 0 && from[k]->present && !from[k]->is_state) {
                return from[k];
            }
        }
    }
    return NULL;
}
