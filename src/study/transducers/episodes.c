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
    struct bl_pair_episode episode;
    double largest;
};

static void extend(struct run *run, const struct bl_pair_data *pair, size_t i,
                   enum bl_pair_side follows)
{
    const double off = fabs(pair->b[i] - pair->a[i]);
    if (!run->open) {
        *run = (struct run){.open = true, .largest = -1};
        run->episode.from_s = pair->time_s[i];
        run->episode.follows = follows;
    }
    run->episode.to_s = pair->time_s[i];
    if (off > run->largest) {
        run->largest = off;
        run->episode.a = pair->a[i];
        run->episode.b = pair->b[i];
        run->episode.demand = pair->demand == NULL ? NAN : pair->demand[i];
    }
}

/* True: it lasted and is kept. */
static bool finish(struct run *run, double lasting, struct bl_pair_episode *to,
                   size_t *count)
{
    const bool kept =
        run->open && run->episode.to_s - run->episode.from_s >= lasting;
    if (kept) {
        if (*count < BL_PAIR_EPISODES) {
            to[*count] = run->episode;
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

static enum bl_pair_side follows(const struct bl_pair_data *pair, size_t i,
                                 double rest_a, double rest_b)
{
    if (pair->demand == NULL || !(pair->demand[i] >= shows)) {
        return BL_SIDE_UNKNOWN;
    }
    const double a = pair->a[i] - rest_a;
    const double b = pair->b[i] - rest_b;
    const double w = pair->demand[i];
    if (a >= shows && b < shows_none && fabs(w - a) < fabs(w - b)) {
        return BL_SIDE_A;
    }
    return b >= shows && a < shows_none && fabs(w - b) < fabs(w - a)
               ? BL_SIDE_B
               : BL_SIDE_UNKNOWN;
}

static bool gap(const struct bl_pair_data *pair, size_t i, double interval)
{
    return i > 0 && pair->time_s[i] - pair->time_s[i - 1] > 3.5 * interval;
}

void bl_pair_episodes(struct bl_pair *out, const struct bl_pair_data *pair,
                      const struct bl_pair_rules *rules, double rest_a,
                      double rest_b)
{
    struct run part = {.open = false};
    struct run false_run = {.open = false};
    for (size_t i = 0; i <= pair->n; i++) {
        const bool end = i == pair->n || gap(pair, i, out->interval_s);
        const bool off =
            i < pair->n && fabs(pair->b[i] - pair->a[i]) >
                               tolerance(rules, pair->a[i], pair->b[i]);
        const enum bl_pair_side side =
            i < pair->n ? follows(pair, i, rest_a, rest_b) : BL_SIDE_UNKNOWN;
        if (part.open && (end || !off)) {
            const struct run was = part;
            if (finish(&part, rules->lasting_s, out->disagreement,
                       &out->disagreements)) {
                out->disagree_s += was.episode.to_s - was.episode.from_s;
                out->largest = fmax(out->largest, was.largest);
            }
        }
        if (false_run.open && (end || side != false_run.episode.follows)) {
            (void)finish(&false_run, rules->lasting_s, out->false_demand,
                         &out->false_demands);
        }
        if (off) {
            extend(&part, pair, i, BL_SIDE_UNKNOWN);
        }
        if (side != BL_SIDE_UNKNOWN) {
            extend(&false_run, pair, i, side);
        }
    }
}

/* Mean absolute distance of both from the demand; of all samples, or only of
   those in which they part. */
static bool distances(const struct bl_pair_data *pair,
                      const struct bl_pair_rules *rules, bool parted, double *a,
                      double *b)
{
    size_t n = 0;
    *a = *b = 0;
    for (size_t i = 0; pair->demand != NULL && i < pair->n; i++) {
        const double off = fabs(pair->b[i] - pair->a[i]);
        if (!isnan(pair->demand[i]) &&
            (!parted || off > tolerance(rules, pair->a[i], pair->b[i]))) {
            *a += fabs(pair->a[i] - pair->demand[i]);
            *b += fabs(pair->b[i] - pair->demand[i]);
            n++;
        }
    }
    return n > 0;
}

void bl_pair_judge(struct bl_pair *out, const struct bl_pair_data *pair,
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
    if (distances(pair, rules, parted, &a, &b) && fmax(a, b) > 2 * fmin(a, b)) {
        out->wrong = a > b ? BL_SIDE_A : BL_SIDE_B;
        out->wrong_by = "the demand agrees with the other";
    }
}
