/* SPDX-License-Identifier: MIT */
/*
 * Does one figure change over a unit's visits, and how? A drift is the median
 * of slopes, weighted by time (Theil 1950, Sievers 1978), a step the jump at
 * the place that fits best. Either is Student's t over the moderated spread
 * (Smyth 2004); p is multiplied by what was tried (Bonferroni).
 */
#include "study/life/judge.h"

#include "base/number.h"
#include "stats/stats_common.h"
#include "study/life/rules.h"

#include <math.h>

/* Two ways of changing are looked for. */
static const double WAYS = 2;
/* Logarithm of odds beyond which a double ends. */
static const double MOST_ODDS = 700;

/* Each look at a unit's life spends a part of the false rate: that at n visits
   one divided by the number of their pairs. From three visits on these parts
   sum to one: 1/3 + 1/6 + 1/10 + .. Visits that are not compared with the last
   one were looked at in their time: a look counts once, whatever was compared
   at it. */
double bl_life_looks(const struct bl_life_row *row, size_t compared)
{
    const double n = (double)(compared + row->lefts + row->older);
    return 0.5 * n * (n - 1);
}

static struct bl_life_change unknown(void)
{
    const double none = (double)NAN;
    return (struct bl_life_change){.size = none,
                                   .u = none,
                                   .dof = none,
                                   .allowance = none,
                                   .low = none,
                                   .high = none,
                                   .p = none};
}

static double p_of(const struct bl_life_change *change, double allowance)
{
    const double left = fmax(0, fabs(change->size) - allowance);
    return bl_student_p(left / change->u, change->dof);
}

/* Interval and p of what has size, u, dof and allowance. */
static struct bl_life_change finished(struct bl_life_change change,
                                      const struct bl_life_frame *frame)
{
    const double half = frame->coverage * change.u + change.allowance;
    change.known = isfinite(half);
    if (!change.known) {
        return unknown();
    }
    change.low = change.size - half;
    change.high = change.size + half;
    change.p = p_of(&change, change.allowance);
    return change;
}

/* The change of a fit. */
static struct bl_life_change change_of(const struct bl_life_frame *frame,
                                       const struct bl_life_fit *fit,
                                       unsigned *needs)
{
    return (struct bl_life_change){
        .size = fit->size,
        .u = fit->u,
        .dof = fit->dof,
        .allowance = bl_life_allowance(frame, fit->weight, needs)};
}

/* How much worse slopes of equal weight are than those weighted by what is
   random in each visit: ratio of variances, 1 where all are alike. */
static double unweighted(const struct bl_life_frame *frame, double variance)
{
    double weights = 0;
    double weighted_mean = 0;
    double mean = 0;
    for (size_t i = 0; i < frame->n; i++) {
        const double w =
            1 / (variance + frame->u_random[i] * frame->u_random[i]);
        weights += w;
        weighted_mean += w * frame->year[i];
        mean += frame->year[i] / (double)frame->n;
    }
    weighted_mean /= weights;
    double best = 0;
    double plain = 0;
    double sxx = 0;
    for (size_t i = 0; i < frame->n; i++) {
        const double v = variance + frame->u_random[i] * frame->u_random[i];
        const double x = frame->year[i] - mean;
        best += pow(frame->year[i] - weighted_mean, 2) / v;
        plain += x * x * v;
        sxx += x * x;
    }
    return plain / (sxx * sxx) * best;
}

/* Median of slopes of what recorded facts leave. Its variance is pi / 3 times
   that of least squares, however the visits lie (Sievers 1978: as Wilcoxon's
   against the mean). */
static enum bl_status drift(struct bl_life_change *out,
                            const struct bl_life_frame *frame,
                            const struct bl_life_fit *line, unsigned *needs,
                            struct bl_error *error)
{
    double adjusted[BL_LIMIT_LIFE_VISITS];
    bl_life_adjust(adjusted, frame, line);
    *out = change_of(frame, line, needs);
    out->u *= sqrt(acos(-1.0) / 3 * unweighted(frame, line->variance));
    return bl_life_slope(&out->size, frame, adjusted, error);
}

/* Of all places the best: its jump into row->step, p times the places. */
static void places(struct bl_life_looked *out, struct bl_life_row *row,
                   const struct bl_life_frame *frame,
                   const struct bl_life_options *options)
{
    double likelihood[BL_LIMIT_LIFE_VISITS] = {0};
    double best = -INFINITY;
    const double tried = (double)(frame->n - 1);
    for (size_t at = 1; at < frame->n; at++) {
        struct bl_life_fit fit;
        unsigned needs = 0;
        bl_life_fit(&fit, frame, BL_LIFE_JUMP, at, options);
        struct bl_life_change step = change_of(frame, &fit, &needs);
        out->p_bare = fmin(out->p_bare, tried * p_of(&step, 0));
        out->p = fmin(out->p, tried * p_of(&step, step.allowance));
        likelihood[at] = fit.likelihood;
        if (fit.likelihood > best) {
            best = fit.likelihood;
            row->step_at = at;
            row->step = step;
            row->needs |= needs;
        }
    }
    row->step = finished(row->step, frame);
    row->step.p = fmin(1, tried * row->step.p);
    out->first = likelihood[1];
    out->last = likelihood[frame->n - 1];
    double sum = 0;
    for (size_t at = 2; at + 1 < frame->n; at++) {
        sum += exp(likelihood[at] - best) / (tried - 2);
    }
    out->jump = sum > 0 ? best + log(sum) : -INFINITY;
    sum = 0;
    for (size_t at = 1; at < frame->n; at++) {
        sum += exp(likelihood[at] - best) / tried;
    }
    out->any_jump = sum > 0 ? best + log(sum) : -INFINITY;
}

/* All visits lie within so many days; years leave rounding. */
static bool within(const struct bl_life_frame *frame, double days)
{
    return frame->year[frame->n - 1] * BL_LIFE_DAYS_A_YEAR <= days + 1e-6;
}

/* Last visit against the one before and the median of all before. */
static void differences(struct bl_life_row *row,
                        const struct bl_life_frame *frame,
                        const struct bl_life_fit *spread,
                        const struct bl_life_options *options)
{
    const size_t last = frame->n - 1;
    double weight[BL_LIMIT_LIFE_VISITS] = {0};
    weight[last] = 1;
    weight[last - 1] = -1;
    struct bl_life_change change = {
        .size = frame->y[last] - frame->y[last - 1],
        .u = sqrt(bl_life_variance(frame, weight, spread->variance)),
        .dof = spread->dof,
        .allowance = bl_life_allowance(frame, weight, &row->needs)};
    row->before = finished(change, frame);
    struct bl_life_fit apart;
    bl_life_fit(&apart, frame, BL_LIFE_JUMP, last, options);
    double adjusted[BL_LIMIT_LIFE_VISITS];
    bl_life_adjust(adjusted, frame, &apart);
    const double now = adjusted[last];
    double variance = bl_life_variance(frame, apart.weight, spread->variance);
    /* A median of many scatters by pi / 2 more than a mean (variance). */
    for (size_t i = 0; last > 2 && i < last; i++) {
        variance += (acos(-1.0) / 2 - 1) *
                    (spread->variance + pow(frame->u_random[i], 2)) /
                    ((double)last * (double)last);
    }
    change.size = now - bl_median(adjusted, last);
    change.u = sqrt(variance);
    change.allowance = bl_life_allowance(frame, apart.weight, &row->needs);
    row->middle = finished(change, frame);
}

enum bl_status bl_life_look(struct bl_life_looked *out, struct bl_life_row *row,
                            const struct bl_life_frame *frame,
                            const struct bl_life_options *options,
                            struct bl_error *error)
{
    const double none = (double)NAN;
    *out = (struct bl_life_looked){.p = none, .p_bare = none, .line = none};
    row->before = row->middle = row->last = row->drift = row->step = unknown();
    row->odds_drift = row->p = row->p_life = row->noticeable = none;
    const size_t n = frame->n;
    row->points = n;
    row->more_visits = n < BL_LIFE_VISITS_LEAST ? BL_LIFE_VISITS_LEAST - n : 0;
    row->reason = BL_LIFE_REASON_FEW_VISITS;
    if (n < 2) {
        return BL_OK;
    }
    struct bl_life_fit apart;
    bl_life_fit(&apart, frame, BL_LIFE_JUMP, n - 1, options);
    differences(row, frame, &apart, options);
    row->last = finished(change_of(frame, &apart, &row->needs), frame);
    if (!row->before.known) {
        row->reason = BL_LIFE_REASON_NOT_RECORDED;
        return BL_OK;
    }
    if (n < BL_LIFE_VISITS_LEAST) {
        return BL_OK;
    }
    if (within(frame, BL_LIFE_SPAN_ONE_DAY)) {
        row->reason = BL_LIFE_REASON_ONE_DAY;
        return BL_OK;
    }
    out->may_tell = true;
    row->reason = BL_LIFE_REASON_NONE;
    out->p = out->p_bare = 1;
    places(out, row, frame, options);
    if (!within(frame, BL_LIFE_SPAN_LEAST_DAYS)) {
        struct bl_life_fit line;
        bl_life_fit(&line, frame, BL_LIFE_LINE, 0, options);
        struct bl_life_change change;
        const enum bl_status status =
            drift(&change, frame, &line, &row->needs, error);
        if (status != BL_OK) {
            return status;
        }
        row->drift = finished(change, frame);
        out->p_bare = fmin(out->p_bare, p_of(&row->drift, 0));
        out->p = fmin(out->p, row->drift.p);
        out->line = line.likelihood;
        out->line_change = row->drift.size * frame->year[n - 1];
        row->odds_drift = exp(fmin(MOST_ODDS, out->line - out->any_jump));
    }
    row->p = fmin(1, WAYS * out->p);
    out->p = fmin(1, WAYS * bl_life_looks(row, n) * out->p);
    out->p_bare = fmin(1, WAYS * bl_life_looks(row, n) * out->p_bare);
    return BL_OK;
}

/* Which way of changing is `odds` times as likely as each other one. */
enum way { LINE, JUMP, FIRST, LAST, NO_WAY };

static enum way likeliest(const struct bl_life_looked *looked, double odds)
{
    const double way[] = {looked->line, looked->jump, looked->first,
                          looked->last};
    for (size_t i = 0; i < NO_WAY; i++) {
        bool wins = true;
        for (size_t k = 0; k < NO_WAY; k++) {
            wins = wins && (i == k || way[i] >= way[k] + log(odds));
        }
        if (wins) {
            return (enum way)i;
        }
    }
    return NO_WAY;
}

/* A change is there. Of which kind? */
static enum bl_life_verdict kind(const struct bl_life_row *row,
                                 const struct bl_life_looked *looked,
                                 const struct bl_life_options *options)
{
    const bool small_step = fabs(row->step.size) < options->least_s;
    /* A step is one only where a line was tried against it. */
    const bool tried = !isnan(looked->line);
    const bool small_line =
        tried && fabs(looked->line_change) < options->least_s;
    switch (tried ? likeliest(looked, options->odds) : NO_WAY) {
    case LINE:
        return small_line ? BL_LIFE_SMALL : BL_LIFE_DRIFT;
    case JUMP:
        return small_step ? BL_LIFE_SMALL : BL_LIFE_STEP;
    case FIRST:
        return small_step ? BL_LIFE_SMALL : BL_LIFE_FIRST_APART;
    case LAST:
        return small_step ? BL_LIFE_SMALL : BL_LIFE_LAST_APART;
    case NO_WAY:
        break;
    }
    return small_step && (small_line || !tried) ? BL_LIFE_SMALL
                                                : BL_LIFE_DRIFT_OR_STEP;
}

static void cannot_tell(struct bl_life_row *row, enum bl_life_reason why)
{
    row->verdict = BL_LIFE_CANNOT_TELL;
    row->reason = why;
}

void bl_life_judge(struct bl_life_row *row, const struct bl_life_looked *looked,
                   double p_bare, const struct bl_life_options *options)
{
    row->verdict = BL_LIFE_CANNOT_TELL;
    for (size_t i = 0; i < row->lefts; i++) {
        row->needs |= 1u << row->left[i].why;
    }
    if (!looked->may_tell) {
        return;
    }
    if (row->p_life <= options->false_rate) {
        row->verdict = kind(row, looked, options);
    } else if (p_bare <= options->false_rate) {
        cannot_tell(row, BL_LIFE_REASON_NOT_RECORDED);
    } else if (!row->drift.known) {
        /* A change could be shown, that there is none could not. */
        cannot_tell(row, BL_LIFE_REASON_ONE_MONTH);
    } else {
        row->verdict = BL_LIFE_NO_CHANGE_SHOWN;
    }
}

void bl_life_control(struct bl_life_row *row, struct bl_life_frame *frame,
                     const struct bl_life_options *options)
{
    if (frame->n < BL_LIFE_VISITS_LEAST) {
        return;
    }
    struct bl_life_fit fit;
    bl_life_fit(&fit, frame, BL_LIFE_STEADY, 0, options);
    /* The next one as the last: its transducers and facts, but its own spread
       and scatter. */
    const size_t last = frame->n - 1;
    double weight[BL_LIMIT_LIFE_VISITS + 1];
    double variance = fit.u * fit.u + fit.variance +
                      pow(frame->u_random[last], 2) + frame->shared[last][last];
    for (size_t i = 0; i < frame->n; i++) {
        variance -= 2 * fit.weight[i] * frame->shared[last][i];
        weight[i] = -fit.weight[i];
    }
    /* What was not recorded of the last one may be otherwise in the next. */
    weight[frame->n] = 1;
    frame->unstated[frame->n] = frame->unstated[last];
    for (size_t fact = 0; fact < BL_LIFE_FACTS; fact++) {
        frame->any[fact][frame->n] = frame->any[fact][last];
    }
    unsigned needs = 0;
    frame->n++;
    const double allowance = bl_life_allowance(frame, weight, &needs);
    frame->n--;
    const double half = frame->control * sqrt(variance) + allowance;
    row->middle_line = fit.size;
    row->control_low = fit.size - half;
    row->control_high = fit.size + half;
}

/* Least drift that would be called a change nine times in ten. */
static double noticeable(const struct bl_life_row *row,
                         const struct bl_life_frame *frame, size_t among,
                         const struct bl_life_options *options)
{
    const double p = options->false_rate /
                     (WAYS * bl_life_looks(row, frame->n) * (double)among);
    const double shown =
        bl_student_quantile(1 - 0.5 * p, row->drift.dof) * row->drift.u +
        row->drift.allowance;
    return fmax(shown, options->least_s / frame->year[frame->n - 1]) +
           bl_student_quantile(BL_LIFE_NOTICED, row->drift.dof) * row->drift.u;
}

/* Even a change that doubles the figure could be there. */
static bool nothing_noticeable(const struct bl_life_row *row,
                               const struct bl_life_frame *frame,
                               const struct bl_life_options *options)
{
    double mean = 0;
    for (size_t i = 0; i < frame->n; i++) {
        mean += frame->y[i] / (double)frame->n;
    }
    return row->noticeable * frame->year[frame->n - 1] >
           fmax(BL_LIFE_POWER_SHARE * fabs(mean),
                BL_LIFE_POWER_LEAST * options->least_s);
}

void bl_life_complete(struct bl_life_row *row,
                      const struct bl_life_frame *frame,
                      const struct bl_life_series *series, size_t among,
                      const struct bl_life_options *options)
{
    row->spread = row->spread_dof = (double)NAN;
    const bool drifts = row->verdict == BL_LIFE_DRIFT;
    const bool stepped = row->verdict == BL_LIFE_STEP ||
                         row->verdict == BL_LIFE_FIRST_APART ||
                         row->verdict == BL_LIFE_LAST_APART;
    struct bl_life_fit fit = {.variance =
                                  options->spread_s * options->spread_s};
    double adjusted[BL_LIMIT_LIFE_VISITS];
    for (size_t i = 0; i < frame->n; i++) {
        adjusted[i] = frame->y[i];
    }
    if (frame->n >= 2) {
        bl_life_fit(&fit, frame,
                    drifts    ? BL_LIFE_LINE
                    : stepped ? BL_LIFE_JUMP
                              : BL_LIFE_STEADY,
                    row->step_at, options);
        bl_life_adjust(adjusted, frame, &fit);
        row->spread = sqrt(fit.variance);
        row->spread_dof = fit.dof;
    }
    if (drifts || stepped) {
        differences(row, frame, &fit, options);
    }
    for (size_t i = 0; i < frame->n; i++) {
        const struct bl_life_value *value = &series->value[frame->value[i]];
        row->point[i] = (struct bl_life_point){
            .visit = value->visit,
            .value = value->value,
            .adjusted = adjusted[i],
            .u = sqrt(fit.variance + pow(frame->u_random[i], 2) +
                      frame->shared[i][i])};
    }
    if (row->drift.known) {
        row->noticeable = noticeable(row, frame, among, options);
    }
    if (row->verdict == BL_LIFE_NO_CHANGE_SHOWN &&
        nothing_noticeable(row, frame, options)) {
        cannot_tell(row, BL_LIFE_REASON_NO_POWER);
    }
}
