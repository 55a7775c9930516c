/* SPDX-License-Identifier: MIT */
/*
 * Least squares of a branch: the onset (and the saturation) by search, jump
 * and gain by the linear rule at each of its places. The onset's uncertainty
 * is where the sum of squares stays within 2 sigma of the least one; where the
 * data do not decide between a jump and none, the difference is joined to it.
 */
#include "study/characteristic/curve.h"

#include "base/alloc.h"

#include <math.h>
#include <stdlib.h>

enum { LEAST_POINTS = 6, LEAST_ABOVE = 3, GRID = 200, ROUNDS = 2 };
/* A smaller jump is what averaging over a block makes of a bend, kPa. */
static const double least_jump = 3.0;
/* An onset known no better than this is not given, kPa. */
static const double vague = 20.0;
/* Outputs at inputs nearer together do not make a slope, kPa. */
static const double least_span = 20.0;
static const double root_12 = 3.4641016151377544;

struct xy {
    double x, y, rate;
    bool hold;
};
struct set {
    struct xy *item;
    size_t count;
};
/* One trial of the search. */
struct attempt {
    double on, sat, jump, gain, rss, sxx;
    size_t above;
};
/* The best onset, and the stretch of onsets that are as good within 2 sigma. */
struct search {
    struct attempt best;
    double low, high, u;
};

static int by_x(const void *a, const void *b)
{
    const struct xy *p = a;
    const struct xy *q = b;
    return (p->x > q->x) - (p->x < q->x);
}

/* Jump and gain at one place of onset and saturation. */
static struct attempt try_at(const struct set *set, double on, double sat,
                             bool jump)
{
    struct attempt a = {.on = on, .sat = sat};
    double sx = 0, sy = 0, sxx = 0, sxy = 0;
    for (size_t i = 0; i < set->count; i++) {
        if (set->item[i].x <= on) {
            a.rss += set->item[i].y * set->item[i].y;
            continue;
        }
        const double x = fmin(set->item[i].x, sat) - on;
        const double y = set->item[i].y;
        sx += x, sy += y, sxx += x * x, sxy += x * y;
        a.above++;
    }
    const double n = (double)a.above;
    const double spread = n > 0 ? sxx - sx * sx / n : 0;
    a.sxx = jump ? spread : sxx;
    if (a.above < LEAST_ABOVE || !(spread > 0)) {
        a.rss = INFINITY;
        return a;
    }
    if (jump) {
        a.gain = (sxy - sx * sy / n) / spread;
        a.jump = (sy - a.gain * sx) / n;
    }
    if (!jump || a.jump < 0) {
        a.jump = 0;
        a.gain = sxy / sxx;
        a.sxx = sxx;
    }
    for (size_t i = 0; i < set->count; i++) {
        if (set->item[i].x > on) {
            const double e = set->item[i].y - a.jump -
                             a.gain * (fmin(set->item[i].x, sat) - on);
            a.rss += e * e;
        }
    }
    return a;
}

static size_t parameters(bool jump, double sat)
{
    return 2 + (jump ? 1u : 0u) + (isinf(sat) ? 0u : 1u);
}

static struct search search_once(const struct set *set, double from, double to,
                                 double sat, bool jump)
{
    struct search s = {.best = {.rss = INFINITY}};
    for (size_t i = 0; i <= GRID; i++) {
        const double on = from + (to - from) * (double)i / GRID;
        const struct attempt a = try_at(set, on, sat, jump);
        if (a.rss < s.best.rss) {
            s.best = a;
        }
    }
    const size_t p = parameters(jump, sat);
    const double nu = set->count > p ? (double)(set->count - p) : 1;
    /* Not below what rounding of values leaves. */
    const double s2 = fmax(s.best.rss / nu, 1e-4);
    s.low = s.high = s.best.on;
    for (size_t i = 0; i <= GRID; i++) {
        const double on = from + (to - from) * (double)i / GRID;
        if (try_at(set, on, sat, jump).rss <= s.best.rss + 4 * s2) {
            s.low = fmin(s.low, on);
            s.high = fmax(s.high, on);
        }
    }
    /* A jump lies anywhere between two inputs, each known to its scatter; a
       bend is not known better than half the scatter, however many points. */
    const double scatter = sqrt(s2) / fmax(s.best.gain, 0.05);
    s.u = jump ? (s.high - s.low + 2 * fmax(1.0, 2 * scatter)) / root_12
               : hypot((s.high - s.low) / 4, fmax(0.3, scatter / 2));
    if (jump) {
        /* Between two points every onset is as good: the middle. */
        s.best = try_at(set, (s.low + s.high) / 2, sat, true);
    }
    return s;
}

/* Over all, then finely over what is as good within 2 sigma. */
static struct search search_on(const struct set *set, double from, double to,
                               double sat, bool jump)
{
    const struct search rough = search_once(set, from, to, sat, jump);
    const double step = (to - from) / GRID;
    return search_once(set, fmax(rough.low - step, from),
                       fmin(rough.high + step, to), sat, jump);
}

static double top_of(const struct set *set)
{
    double top = -INFINITY;
    for (size_t i = 0; i < set->count; i++) {
        top = fmax(top, set->item[i].y);
    }
    return top;
}

/* Input at which the line stops rising, or INFINITY: only where it makes the
   sum of squares clearly less. */
static double search_saturation(const struct set *set, double on, bool jump)
{
    const double high = set->item[set->count - 1].x;
    const struct attempt without = try_at(set, on, INFINITY, jump);
    struct attempt best = without;
    for (size_t i = 1; i < GRID; i++) {
        const double sat = on + (high - on) * (double)i / GRID;
        const struct attempt a = try_at(set, on, sat, jump);
        best = a.rss < best.rss ? a : best;
    }
    size_t beyond = 0;
    for (size_t i = 0; i < set->count; i++) {
        beyond += set->item[i].x > best.sat;
    }
    const double n = (double)set->count;
    const bool clear = beyond >= 3 && high - best.sat > 10 &&
                       n * log(without.rss / fmax(best.rss, 1e-9)) > 12;
    return clear ? best.sat : INFINITY;
}

static void fill(struct bl_branch *out, const struct set *set,
                 const struct search *s, bool jump)
{
    const struct attempt *a = &s->best;
    const size_t p = parameters(jump, a->sat);
    const double nu = set->count > p ? (double)(set->count - p) : 1;
    out->s = sqrt(a->rss / nu);
    out->on = (struct bl_measured){a->on, s->u};
    out->gain = (struct bl_measured){a->gain, out->s / sqrt(a->sxx)};
    if (!jump) {
        /* Onset and gain lean on each other. */
        out->gain.u =
            hypot(out->gain.u, s->u * a->gain * (double)a->above /
                                   fmax(a->sxx, 1e-9) *
                                   sqrt(a->sxx / (double)a->above) / 2);
    }
    out->has_jump = jump;
    out->jump = (struct bl_measured){
        a->jump, hypot(out->s / sqrt((double)a->above), a->gain * s->u)};
    out->saturates = !isinf(a->sat);
    if (out->saturates) {
        const double step = (out->high - a->on) / GRID;
        out->sat_in = (struct bl_measured){
            a->sat, hypot(step, out->s / fmax(a->gain, 1e-6))};
        out->sat_out = (struct bl_measured){
            a->jump + a->gain * (a->sat - a->on), out->s / sqrt(3)};
    }
}

/* Search with and without a jump; the jump has to earn its parameter. */
static void fit_set(struct bl_branch *out, const struct set *set)
{
    const double half = top_of(set) / 2;
    size_t i = 0;
    while (i < set->count && set->item[i].y < half) {
        i++;
    }
    const double from = set->item[0].x;
    const double to = set->item[i < set->count ? i : set->count - 1].x;
    struct search plain = search_on(set, from, to, INFINITY, false);
    struct search jump = search_on(set, from, to, INFINITY, true);
    for (size_t round = 0; round < ROUNDS; round++) {
        const double on =
            jump.best.rss < plain.best.rss ? jump.best.on : plain.best.on;
        const double sat = search_saturation(set, on, true);
        plain = search_on(set, from, to, sat, false);
        jump = search_on(set, from, to, sat, true);
    }
    const double n = (double)set->count;
    const double gained =
        n * log(fmax(plain.best.rss, 1e-4) / fmax(jump.best.rss, 1e-4));
    const bool shown = gained > 10 + log(n) && jump.best.jump > least_jump;
    if (!shown && gained > 2 && isfinite(jump.best.rss)) {
        plain.u = hypot(plain.u, (plain.best.on - jump.best.on) / sqrt(3));
    }
    fill(out, set, shown ? &jump : &plain, shown);
}

static enum bl_curve_reason judge(const struct bl_branch *out,
                                  const struct set *set,
                                  const struct bl_quasi_static *time)
{
    if (set->count < LEAST_POINTS) {
        return time->fast_s > time->hold_s + time->ramp_s ||
                       time->fastest > 2 * BL_CURVE_RATE
                   ? BL_CURVE_TOO_FAST
                   : BL_CURVE_TOO_FEW;
    }
    size_t above = 0;
    double lowest = INFINITY, highest = -INFINITY;
    const double floor = fmax(5.0, 0.03 * out->top);
    for (size_t i = 0; i < set->count; i++) {
        if (set->item[i].y > floor) {
            above++;
            lowest = fmin(lowest, set->item[i].x);
            highest = fmax(highest, set->item[i].x);
        }
    }
    if (out->top <= 10) {
        return out->high - out->low > 100    ? BL_CURVE_NO_RISE
               : time->fast_s > time->ramp_s ? BL_CURVE_TOO_FAST
                                             : BL_CURVE_TOO_FEW;
    }
    if (above < LEAST_ABOVE || highest - lowest < least_span) {
        return time->fastest > 2 * BL_CURVE_RATE ? BL_CURVE_TOO_FAST
                                                 : BL_CURVE_TOO_FEW;
    }
    return set->item[0].y > floor ? BL_CURVE_NOT_VENTED : BL_CURVE_FITTED;
}

static void near_on(struct bl_branch *out, const struct set *set,
                    const struct bl_curve_lag *lag)
{
    double sum = 0;
    size_t n = 0;
    double below = -INFINITY, above = INFINITY;
    for (size_t i = 0; i < set->count; i++) {
        const struct xy *p = &set->item[i];
        if (fabs(p->x - out->on.value) <= 20) {
            sum += fabs(p->rate);
            n++;
        }
        below = p->x <= out->on.value ? fmax(below, p->x) : below;
        above = p->x > out->on.value ? fmin(above, p->x) : above;
    }
    out->rate = n > 0 ? sum / (double)n : 0;
    out->bias = out->rate * lag->s;
    out->on.u = hypot(out->on.u, out->rate * lag->u_s);
    /* A wide hole in the points around the onset: a bend could hide in it. */
    if (isfinite(below) && isfinite(above) && above - below > 15) {
        out->on.u = hypot(out->on.u, (above - below) / root_12);
    }
}

/* An onset that may lie anywhere tells nothing, nor does what hangs on it. */
static void refuse_vague(struct bl_branch *out,
                         const struct bl_quasi_static *time)
{
    if (out->on.u <= vague) {
        /* What a wide hole hides is no jump that was shown. */
        out->has_jump = out->has_jump && out->jump.value > 2 * out->jump.u;
        return;
    }
    const struct bl_measured none = {NAN, NAN};
    out->on = out->jump = out->gain = out->sat_in = out->sat_out = none;
    out->has_jump = out->saturates = false;
    out->rate = out->bias = out->s = NAN;
    out->reason = time->fastest > 2 * BL_CURVE_RATE ? BL_CURVE_TOO_FAST
                                                    : BL_CURVE_TOO_FEW;
}

struct bl_branch bl_branch_without(enum bl_curve_reason reason)
{
    const struct bl_measured none = {NAN, NAN};
    return (struct bl_branch){.reason = reason,
                              .on = none,
                              .jump = none,
                              .gain = none,
                              .sat_in = none,
                              .sat_out = none,
                              .rate = NAN,
                              .bias = NAN,
                              .s = NAN,
                              .low = NAN,
                              .high = NAN,
                              .top = NAN};
}

enum bl_status bl_curve_fit(struct bl_branch *out,
                            const struct bl_curve_points *points, bool falling,
                            const struct bl_curve_lag *lag,
                            struct bl_error *error)
{
    *out = bl_branch_without(BL_CURVE_FITTED);
    struct set set = {bl_alloc(points->count, sizeof(*set.item)), 0};
    if (set.item == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < points->count; i++) {
        const struct bl_curve_point *p = &points->item[i];
        /* A vented brake belongs to both branches. */
        if (p->falling == falling || (p->hold && p->in < 10 && p->out < 5)) {
            set.item[set.count++] =
                (struct xy){p->in - p->rate * lag->s, p->out, p->rate, p->hold};
            out->holds += p->hold;
        }
    }
    qsort(set.item, set.count, sizeof(*set.item), by_x);
    out->points = set.count;
    if (set.count > 0) {
        out->low = set.item[0].x;
        out->high = set.item[set.count - 1].x;
        out->top = top_of(&set);
    }
    out->reason = judge(out, &set, &points->time);
    if (out->reason == BL_CURVE_FITTED) {
        fit_set(out, &set);
        if (!(out->gain.value > 0) || isnan(out->s)) {
            out->reason = BL_CURVE_NO_RISE;
        } else {
            near_on(out, &set, lag);
            refuse_vague(out, &points->time);
        }
    }
    bl_free(set.item);
    return BL_OK;
}
