/* SPDX-License-Identifier: MIT */
/*
 * Tying two clocks by the pattern of intervals between events. Intervals that
 * both lists have in common suggest shifts; each is refined to a line; the one
 * that pairs most wins, unless chance or another shift does nearly as well.
 * The answer is a robust line through the pairs (stats.h) with the drift
 * joined to what is known of crystals beforehand.
 */
#include "clock/pair.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "brakelag/stats.h"
#include "clock/evidence.h"

#include <math.h>
#include <stdlib.h>

enum {
    STEPS = 3,       /* an interval may span two missing events */
    SEEDS = 1 << 20, /* a bound on memory */
    REFINED = 300,   /* of them, the best: a bound on time (own choice) */
    PRIOR_DOF = 4    /* how many pairs' worth u_event_s counts */
};

struct seed {
    double at, shift;
    size_t score;
};

struct search {
    struct events e;
    const struct bl_pair_options *options;
    struct seed *seed;
    size_t seeds, capacity;
    struct supposed *line;
    size_t lines;
    struct matched work, best;
};

/* Another shift is as good from seven tenths of the pairs on, or one less: own
   choice, the side of refusing. */
static const double AS_MANY = 0.7;
/* Events of the true shift lie somewhat beyond the largest residual seen, which
   is of few (own choice). */
static const double BEYOND_SEEN = 1.2;
/* No two recorders are known to pair better than this by chance. */
static const double LEAST_WIDTH_S = 0.005;
/* A point this many robust standard deviations off is left out (common
   practice). */
static const double OUTLIER = 3;
/* A drift that pairs know ten times better than crystals are known is left as
   it is. */
static const double PRIOR_MATTERS = 0.1;
/* So many of its standard deviations from 0 a drift is no crystal's (common
   practice). */
static const double CONTRADICTED = 4;
/* Of k = 2. */
static const double UPPER = 0.975;

/* Own choices but where said. tolerance_s: a frame of 20 ms beside an event;
   drift: 100 ppm a crystal (common practice), two of them at most, as a
   rectangle for the prior; u_event_s: air from stroke to stroke; intervals
   under 0.1 s are bounces; four pairs and odds of 1000 to 1
   (docs/methods/clocks.md); alike: a twentieth of the pauses. */
struct bl_pair_options bl_pair_defaults(void)
{
    return (struct bl_pair_options){.tolerance_s = 0.020,
                                    .drift_most_ppm = 200,
                                    .drift_prior_ppm = 100 / sqrt(3.0),
                                    .u_event_s = 0.005,
                                    .least_interval_s = 0.1,
                                    .least_pairs = 4,
                                    .chance = 1e-3,
                                    .alike = 0.05};
}

static enum bl_status check_list(const double *value, size_t n,
                                 struct bl_error *error)
{
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(value[i]) || (i > 0 && value[i] < value[i - 1])) {
            return bl_fail(error, BL_ARG, "",
                           "clock events: expected finite times in ascending "
                           "order, found %g as event %zu",
                           value[i], i + 1);
        }
    }
    return BL_OK;
}

/* --- seeds: shifts under which two intervals agree --- */

static bool add_seed(struct search *s, size_t i, size_t k)
{
    if (!bl_grow(&s->seed, &s->capacity, s->seeds + 1, sizeof(*s->seed),
                 SEEDS)) {
        return false;
    }
    s->seed[s->seeds++] = (struct seed){s->e.a[i], s->e.b[k] - s->e.a[i], 0};
    return true;
}

static bool seeds_of(struct search *s, size_t i, size_t k)
{
    const struct bl_pair_options *o = s->options;
    for (size_t p = i + 1; p < s->e.na && p <= i + STEPS; p++) {
        const double da = s->e.a[p] - s->e.a[i];
        if (da < o->least_interval_s) {
            continue;
        }
        const double width = o->tolerance_s + o->drift_most_ppm * 1e-6 * da;
        for (size_t q = k + 1; q < s->e.nb && q <= k + STEPS; q++) {
            if (fabs(s->e.b[q] - s->e.b[k] - da) <= width) {
                return add_seed(s, i, k);
            }
        }
    }
    return true;
}

/* Seeds beyond SEEDS are left out: by then the pattern is hopeless. */
static enum bl_status find_seeds(struct search *s)
{
    for (size_t i = 0; i < s->e.na; i++) {
        for (size_t k = 0; k < s->e.nb; k++) {
            if (!seeds_of(s, i, k)) {
                return s->seeds < SEEDS ? BL_NOMEM : BL_OK;
            }
        }
    }
    return BL_OK;
}

static int by_shift(const void *left, const void *right)
{
    const struct seed *a = left;
    const struct seed *b = right;
    if (a->shift != b->shift) {
        return a->shift < b->shift ? -1 : 1;
    }
    return (a->at > b->at) - (a->at < b->at);
}

static int by_score(const void *left, const void *right)
{
    const struct seed *a = left;
    const struct seed *b = right;
    if (a->score != b->score) {
        return a->score > b->score ? -1 : 1;
    }
    return by_shift(left, right);
}

/* A seed's score: how many seeds have nearly its shift. */
static void score_seeds(struct search *s)
{
    qsort(s->seed, s->seeds, sizeof(*s->seed), by_shift);
    size_t low = 0;
    size_t high = 0;
    for (size_t i = 0; i < s->seeds; i++) {
        const double shift = s->seed[i].shift;
        const double width = 2 * s->options->tolerance_s;
        while (s->seed[low].shift < shift - width) {
            low++;
        }
        while (high < s->seeds && s->seed[high].shift <= shift + width) {
            high++;
        }
        s->seed[i].score = high - low;
    }
    qsort(s->seed, s->seeds, sizeof(*s->seed), by_score);
}

static bool already_refined(const struct search *s, const struct seed *seed)
{
    for (size_t i = 0; i < s->lines; i++) {
        if (fabs(bl_supposed_at(&s->line[i], seed->at) - seed->shift) <=
            s->options->tolerance_s) {
            return true;
        }
    }
    return false;
}

static void refine_seeds(struct search *s)
{
    for (size_t i = 0; i < s->seeds && s->lines < REFINED; i++) {
        const struct seed *seed = &s->seed[i];
        if (already_refined(s, seed)) {
            continue;
        }
        struct supposed line = {.centre = seed->at, .offset = seed->shift};
        bl_match_refine(&s->e, s->options, &line, &s->work);
        s->line[s->lines++] = line;
    }
}

/* --- the answer --- */

static double squares(const struct events *e, const struct matched *m,
                      const struct supposed *line)
{
    double sum = 0;
    for (size_t p = 0; p < m->count; p++) {
        const double r =
            e->b[m->b[p]] - e->a[m->a[p]] - bl_supposed_at(line, e->a[m->a[p]]);
        sum += r * r;
    }
    return sum;
}

static const struct supposed *best_line(struct search *s)
{
    const struct supposed *best = NULL;
    double best_squares = 0;
    for (size_t i = 0; i < s->lines; i++) {
        const struct supposed *line = &s->line[i];
        bl_match(&s->e, line, s->options->tolerance_s, (double)INFINITY,
                 &s->work);
        const double sum = squares(&s->e, &s->work, line);
        if (best == NULL || s->work.count > best->count ||
            (s->work.count == best->count && sum < best_squares)) {
            s->line[i].count = s->work.count;
            best = line;
            best_squares = sum;
        }
    }
    return best;
}

/* Kept for drawing. Outliers may take a quarter of the room, the pairs of the
   line share the rest evenly. */
static void keep_residual(struct bl_pair_result *r, double at_s, double off_s,
                          bool used)
{
    const size_t room = used ? BL_CLOCK_RESIDUALS : BL_CLOCK_RESIDUALS / 4;
    if (r->residuals < room) {
        r->residual[r->residuals++] =
            (struct bl_clock_residual){at_s, off_s, used};
    }
}

/* Pairs that are bad are taken out of `best`; the medians decide which. */
static enum bl_status drop_outliers(struct search *s, struct bl_pair_result *r,
                                    struct bl_error *error)
{
    struct matched *m = &s->best;
    const struct bl_pair_options *o = s->options;
    double *x = bl_alloc(m->count, sizeof(*x));
    double *y = bl_alloc(m->count, sizeof(*y));
    bool *inlier = bl_alloc(m->count, sizeof(*inlier));
    struct bl_robust_line robust;
    enum bl_status status = BL_NOMEM;
    if (x == NULL || y == NULL || inlier == NULL) {
        (void)bl_fail_memory(error);
        goto out;
    }
    for (size_t p = 0; p < m->count; p++) {
        x[p] = s->e.a[m->a[p]];
        y[p] = s->e.b[m->b[p]] - x[p];
    }
    status = bl_line_robust(&robust,
                            &(const struct bl_line_points){
                                x, y, m->count, OUTLIER,
                                fmin(OUTLIER * o->u_event_s, o->tolerance_s)},
                            inlier, error);
    if (status != BL_OK) {
        goto out;
    }
    size_t kept = 0;
    for (size_t p = 0; p < m->count; p++) {
        if (inlier[p]) {
            m->a[kept] = m->a[p];
            m->b[kept++] = m->b[p];
        } else {
            keep_residual(r, x[p], y[p], false); /* the line comes later */
        }
    }
    r->outliers = m->count - kept;
    m->count = kept;
out:
    bl_free(x);
    bl_free(y);
    bl_free(inlier);
    return status;
}

/*
 * Offset and drift with their uncertainty. The scatter joins that of the pairs
 * with what is usual for such events (PRIOR_DOF pairs' worth), because three
 * residuals alone may be small by luck; Student's factor stands for what is
 * left of that. A drift that the pairs know ten times better than anybody
 * knows crystals is left as the pairs have it, and so is one that no crystal
 * has: some recorders take their stamps from a program. Where pairs and
 * crystals are of two minds, u says so.
 */
static void final_line(struct search *s, struct bl_pair_result *r)
{
    const struct bl_pair_options *o = s->options;
    const struct matched *m = &s->best;
    double prior = o->drift_prior_ppm * 1e-6;
    struct supposed line = {0};
    bl_match_fit(&s->e, m, 0, 1, &line);
    const double n = (double)m->count;
    const double dof = PRIOR_DOF + n - 2;
    double rss = squares(&s->e, m, &line);
    double sd = sqrt((PRIOR_DOF * o->u_event_s * o->u_event_s + rss) / dof);
    const double u_free = sd / sqrt(line.sxx);
    /* A few residuals may be small by luck; frames seldom sent scatter more. */
    const double scatter_s =
        hypot(o->u_event_s, fmax(o->tolerance_s - o->u_event_s, 0) / sqrt(12));
    const double u_doubt = hypot(prior, fmax(sd, scatter_s) / sqrt(line.sxx));
    const double free_drift = fabs(line.drift);
    if (u_free < PRIOR_MATTERS * prior || free_drift > CONTRADICTED * u_doubt) {
        prior = (double)INFINITY;
    } else {
        bl_match_fit(&s->e, m, sd, prior, &line);
        rss = squares(&s->e, m, &line);
        sd = sqrt((PRIOR_DOF * o->u_event_s * o->u_event_s + rss) / dof);
    }
    const double k =
        bl_student_quantile(UPPER, dof) / bl_normal_quantile(UPPER);
    r->pairs = m->count;
    r->centre_s = line.centre;
    r->offset_s = line.offset;
    r->drift = line.drift;
    r->u_offset_s = k * sd / sqrt(n);
    r->u_drift = 1 / sqrt(line.sxx / (k * k * sd * sd) + 1 / (prior * prior));
    if (isfinite(prior)) {
        r->u_drift = hypot(r->u_drift, fmax(free_drift - 2 * u_doubt, 0));
    }
    r->first_s = s->e.a[m->a[0]];
    r->last_s = s->e.a[m->a[m->count - 1]];
}

static enum bl_status scatter(const struct search *s, struct bl_pair_result *r,
                              double *largest, struct bl_error *error)
{
    const struct matched *m = &s->best;
    double *residual = bl_alloc(m->count, sizeof(*residual));
    if (residual == NULL) {
        return bl_fail_memory(error);
    }
    const struct supposed line = {
        .centre = r->centre_s, .offset = r->offset_s, .drift = r->drift};
    *largest = 0;
    for (size_t i = 0; i < r->residuals; i++) {
        r->residual[i].off_s -= bl_supposed_at(&line, r->residual[i].at_s);
    }
    const size_t step =
        (m->count - 1) / (BL_CLOCK_RESIDUALS - r->residuals) + 1;
    for (size_t p = 0; p < m->count; p++) {
        const double a = s->e.a[m->a[p]];
        residual[p] = s->e.b[m->b[p]] - a - bl_supposed_at(&line, a);
        *largest = fmax(*largest, fabs(residual[p]));
        if (p % step == 0) {
            keep_residual(r, a, residual[p], true);
        }
    }
    struct bl_description d;
    const enum bl_status status = bl_describe(&d, residual, m->count, error);
    if (status == BL_OK) {
        r->residual_s = d.mad_sd;
    }
    bl_free(residual);
    return status;
}

/* --- can it be believed? --- */

/* The best other shift, with the pairs that scatter no more than these do. */
static void find_other(struct search *s, struct bl_pair_result *r,
                       const struct supposed *best, double width)
{
    const struct bl_pair_options *o = s->options;
    for (size_t i = 0; i < s->lines; i++) {
        const struct supposed *line = &s->line[i];
        const double shift = bl_supposed_at(line, r->centre_s);
        if (line == best || fabs(shift - r->offset_s) <= 2 * o->tolerance_s) {
            continue;
        }
        bl_match(&s->e, line, width, (double)INFINITY, &s->work);
        if (s->work.count > r->other_pairs) {
            r->other_pairs = s->work.count;
            r->other_offset_s = shift;
        }
    }
}

static bool nearly_as_many(size_t other, size_t pairs)
{
    return other + 1 >= pairs || (double)other >= AS_MANY * (double)pairs;
}

static enum bl_status judge(struct search *s, struct bl_pair_result *r,
                            struct bl_error *error)
{
    const struct supposed *best = best_line(s);
    r->outcome = BL_PAIR_TOO_FEW;
    if (best == NULL || best->count < s->options->least_pairs) {
        r->pairs = best == NULL ? 0 : best->count;
        return BL_OK;
    }
    bl_match(&s->e, best, s->options->tolerance_s, (double)INFINITY, &s->best);
    enum bl_status status = drop_outliers(s, r, error);
    if (status != BL_OK) {
        return status;
    }
    if (s->best.count < s->options->least_pairs) {
        r->pairs = s->best.count;
        return BL_OK;
    }
    final_line(s, r);
    double largest = 0;
    status = scatter(s, r, &largest, error);
    if (status != BL_OK) {
        return status;
    }
    const double width = fmax(BEYOND_SEEN * largest, 2 * s->options->u_event_s);
    find_other(s, r, best, fmin(width, s->options->tolerance_s));
    r->chance = bl_evidence_chance(&s->e, r->offset_s, r->pairs,
                                   fmax(BEYOND_SEEN * largest, LEAST_WIDTH_S),
                                   s->options);
    r->period_s = bl_evidence_period(&s->e, &s->best, width);
    r->alike = bl_evidence_alike(&s->e, &s->best, width);
    if (r->period_s > 0 || nearly_as_many(r->other_pairs, r->pairs)) {
        r->outcome = BL_PAIR_AMBIGUOUS;
    } else if (r->chance > s->options->chance || r->alike > s->options->alike) {
        r->outcome = BL_PAIR_CHANCE;
    } else {
        r->outcome = BL_PAIR_TIED;
    }
    return BL_OK;
}

static bool make_room(struct search *s)
{
    const size_t most = s->e.na < s->e.nb ? s->e.na : s->e.nb;
    s->line = bl_alloc(REFINED, sizeof(*s->line));
    s->work.a = bl_alloc(most, sizeof(*s->work.a));
    s->work.b = bl_alloc(most, sizeof(*s->work.b));
    s->best.a = bl_alloc(most, sizeof(*s->best.a));
    s->best.b = bl_alloc(most, sizeof(*s->best.b));
    return s->line != NULL && s->work.a != NULL && s->work.b != NULL &&
           s->best.a != NULL && s->best.b != NULL;
}

static void drop_room(struct search *s)
{
    bl_free(s->seed);
    bl_free(s->line);
    bl_free(s->work.a);
    bl_free(s->work.b);
    bl_free(s->best.a);
    bl_free(s->best.b);
}

enum bl_status bl_clock_pair(const struct bl_moments *a,
                             const struct bl_moments *b,
                             const struct bl_pair_options *options,
                             struct bl_pair_result *result,
                             struct bl_error *error)
{
    *result = (struct bl_pair_result){.outcome = BL_PAIR_TOO_FEW};
    enum bl_status status = check_list(a->s, a->count, error);
    if (status == BL_OK) {
        status = check_list(b->s, b->count, error);
    }
    if (status != BL_OK) {
        return status;
    }
    if (a->count > BL_LIMIT_CLOCK_EVENTS || b->count > BL_LIMIT_CLOCK_EVENTS) {
        result->outcome = BL_PAIR_TOO_MANY;
        return BL_OK;
    }
    if (a->count < options->least_pairs || b->count < options->least_pairs) {
        return BL_OK;
    }
    struct search s = {.e = {a->s, b->s, a->count, b->count},
                       .options = options};
    status = make_room(&s) ? find_seeds(&s) : BL_NOMEM;
    if (status != BL_OK) {
        status = bl_fail_memory(error);
        goto out;
    }
    if (s.seeds > 0) {
        score_seeds(&s);
        refine_seeds(&s);
        status = judge(&s, result, error);
    }
out:
    drop_room(&s);
    return status;
}
