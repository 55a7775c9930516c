/* SPDX-License-Identifier: MIT */
/* Stretches in which two transducers part, the demands that follow only one of
   them, and which of the two is wrong. */
#include "study/transducers/pair.h"

#include <math.h>

/* Shows a demand; shows none: above its own rest, kPa. */
static const double shows = 10.0;
static const double shows_none = 5.0;

/* A condition that has to last. */
struct run {
    bool open;
    struct bl_pair_episode is;
    double largest;
};

static void extend(struct run *run, const struct bl_pair_data *is, size_t i,
                   enum bl_pair_side follows)
{
    const double off = fabs(is->b[i] - is->a[i]);
    if (!run->open) {
        *run = (struct run){.open = true, .largest = -1};
        run->is.from_s = is->time_s[i];
        run->is.follows = follows;
    }
    run->is.to_s = is->time_s[i];
    if (off > run->largest) {
        run->largest = off;
        run->is.a = is->a[i];
        run->is.b = is->b[i];
        run->is.demand = is->demand == NULL ? NAN : is->demand[i];
    }
}

/* True: it lasted and is kept. */
static bool finish(struct run *run, double lasting, struct bl_pair_episode *to,
                   size_t *count)
{
    const bool kept = run->open && run->is.to_s - run->is.from_s >= lasting;
    if (kept) {
        if (*count < BL_PAIR_EPISODES) {
            to[*count] = run->is;
        }
        (*count)++;
    }
    run->open = false;
    return kept;
}

static double tolerance(const struct bl_pair_rules *rules, double a, double b)
{
    return fmax(rules->tolerance_kpa,
                rules->tolerance_fraction * fmax(fabs(a), fabs(b)));
}

static enum bl_pair_side follows(const struct bl_pair_data *is, size_t i,
                                 double rest_a, double rest_b)
{
    if (is->demand == NULL || !(is->demand[i] >= shows)) {
        return BL_SIDE_UNKNOWN;
    }
    const double a = is->a[i] - rest_a;
    const double b = is->b[i] - rest_b;
    const double w = is->demand[i];
    if (a >= shows && b < shows_none && fabs(w - a) < fabs(w - b)) {
        return BL_SIDE_A;
    }
    return b >= shows && a < shows_none && fabs(w - b) < fabs(w - a)
               ? BL_SIDE_B
               : BL_SIDE_UNKNOWN;
}

static bool gap(const struct bl_pair_data *is, size_t i, double interval)
{
    return i > 0 && is->time_s[i] - is->time_s[i - 1] > 3.5 * interval;
}

void bl_pair_episodes(struct bl_pair *out, const struct bl_pair_data *is,
                      const struct bl_pair_rules *rules, double rest_a,
                      double rest_b)
{
    struct run part = {.open = false};
    struct run false_run = {.open = false};
    for (size_t i = 0; i <= is->n; i++) {
        const bool end = i == is->n || gap(is, i, out->interval_s);
        const bool off = i < is->n && fabs(is->b[i] - is->a[i]) >
                                          tolerance(rules, is->a[i], is->b[i]);
        const enum bl_pair_side side =
            i < is->n ? follows(is, i, rest_a, rest_b) : BL_SIDE_UNKNOWN;
        if (part.open && (end || !off)) {
            const struct run was = part;
            if (finish(&part, rules->lasting_s, out->disagreement,
                       &out->disagreements)) {
                out->disagree_s += was.is.to_s - was.is.from_s;
                out->largest = fmax(out->largest, was.largest);
            }
        }
        if (false_run.open && (end || side != false_run.is.follows)) {
            (void)finish(&false_run, rules->lasting_s, out->false_demand,
                         &out->false_demands);
        }
        if (off) {
            extend(&part, is, i, BL_SIDE_UNKNOWN);
        }
        if (side != BL_SIDE_UNKNOWN) {
            extend(&false_run, is, i, side);
        }
    }
}

/* Mean absolute distance of both from the demand; of all samples, or only of
   those in which they part. */
static bool distances(const struct bl_pair_data *is,
                      const struct bl_pair_rules *rules, bool parted, double *a,
                      double *b)
{
    size_t n = 0;
    *a = *b = 0;
    for (size_t i = 0; is->demand != NULL && i < is->n; i++) {
        const double off = fabs(is->b[i] - is->a[i]);
        if (!isnan(is->demand[i]) &&
            (!parted || off > tolerance(rules, is->a[i], is->b[i]))) {
            *a += fabs(is->a[i] - is->demand[i]);
            *b += fabs(is->b[i] - is->demand[i]);
            n++;
        }
    }
    return n > 0;
}

void bl_pair_judge(struct bl_pair *out, const struct bl_pair_data *is,
                   const struct bl_pair_rules *rules, double rest_a,
                   double rest_b)
{
    if (out->stuck != BL_SIDE_UNKNOWN) {
        out->wrong = out->stuck;
        out->wrong_by = "it stands still while the other moves";
        return;
    }
    const bool parted = out->disagreements > 0;
    if (!out->witness || (!parted && !out->offset_off && !out->gain_off)) {
        return;
    }
    const double allowed = 3 * hypot(rules->u_zero_a, rules->u_zero_b);
    if (out->offset_off &&
        (fabs(rest_a) > allowed) != (fabs(rest_b) > allowed)) {
        out->wrong = fabs(rest_a) > allowed ? BL_SIDE_A : BL_SIDE_B;
        out->wrong_by = "it is off zero while nothing is asked for";
        return;
    }
    double a, b;
    if (distances(is, rules, parted, &a, &b) && fmax(a, b) > 2 * fmin(a, b)) {
        out->wrong = a > b ? BL_SIDE_A : BL_SIDE_B;
        out->wrong_by = "the demand agrees with the other";
    }
}
