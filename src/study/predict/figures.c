/* SPDX-License-Identifier: MIT */
/* Modelled and measured figures side by side: see figures.h. */
#include "study/predict/figures.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"
#include "study/predict/chain.h"

#include <math.h>

#define SETTLED_SHARE 0.02
#define HOLD_S 0.5     /* before the release: where the hold is read */
#define RELEASE_S 0.25 /* before it: where a fall may begin */
/* A band ends where one sound train in twenty lies beyond: too many for a
   verdict. Its width from the middle, carried on to one in two hundred: the
   ratio of these quantiles of the normal distribution, 2.576 / 1.645. */
#define CARRIED_ON 1.566
/* With no others to give the train's own pace: what models of this kind and
   sound units of other makes differ by (common practice). */
#define OTHER_MAKES_SHARE 0.25
#define OTHER_MAKES_S 0.05

static size_t step_at(double s, size_t steps)
{
    const double at = s / BL_CHAIN_STEP_S;
    return !(at > 0) ? 0 : at < (double)steps ? (size_t)at : steps - 1;
}

/* Time of the first passage from step `from` on, seconds from the start. */
static double passage(const double *kpa, size_t steps, size_t from,
                      double level, bool up)
{
    for (size_t i = from == 0 ? 1 : from; i < steps; i++) {
        const double a = kpa[i - 1];
        const double b = kpa[i];
        if (up ? a < level && b >= level : a > level && b <= level) {
            return ((double)(i - 1) + (level - a) / (b - a)) * BL_CHAIN_STEP_S;
        }
    }
    return NAN;
}

static bool is_modelled(enum bl_figure_name name, enum bl_figure_side side)
{
    const struct bl_figure_entry *entry = bl_figure_entry(name);
    return entry->side == side &&
           (entry->at == BL_AT_HOLD || entry->at == BL_AT_RESPONSE_AT);
}

size_t bl_predicted_figures(enum bl_predict_figure out[BL_PREDICT_FIGURES])
{
    static const struct {
        enum bl_figure_side side;
        enum bl_predict_figure difference;
    } sides[] = {{BL_SIDE_APPLY, BL_PREDICT_FILL},
                 {BL_SIDE_RELEASE, BL_PREDICT_FALL}};
    size_t count = 0;
    for (size_t s = 0; s < sizeof(sides) / sizeof(sides[0]); s++) {
        for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
            if (is_modelled(i, sides[s].side)) {
                out[count++] = (enum bl_predict_figure)i;
            }
        }
        out[count++] = sides[s].difference;
    }
    return count;
}

void bl_modelled_figures(double out[BL_PREDICT_FIGURES], const double *kpa,
                         size_t steps, const struct bl_drive *drive,
                         double response_kpa)
{
    const size_t release = step_at(drive->release_s, steps);
    const size_t from =
        step_at(fmax(drive->apply_s, drive->release_s - HOLD_S), steps);
    double hold = 0;
    for (size_t i = from; i <= release; i++) {
        hold = fmax(hold, kpa[i]);
    }
    /* Still rising: what comes of it cannot be told, nor a share of it. */
    const bool rising = hold - kpa[from] > SETTLED_SHARE * hold;
    const double whole = rising ? NAN : hold;
    const size_t fall = step_at(drive->release_s - RELEASE_S, steps);
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        const bool share = entry->at == BL_AT_HOLD;
        out[i] = NAN;
        if (is_modelled(i, BL_SIDE_APPLY)) {
            const double level = share ? entry->share * whole : response_kpa;
            out[i] = passage(kpa, steps, 1, level, true) - drive->apply_s;
        } else if (is_modelled(i, BL_SIDE_RELEASE)) {
            const double level = share ? entry->share * hold : response_kpa;
            out[i] = passage(kpa, steps, fall, level, false) - drive->release_s;
        }
    }
    out[BL_PREDICT_FILL] = out[BL_FIGURE_FILLED] - out[BL_FIGURE_RESPONSE];
    out[BL_PREDICT_FALL] =
        out[BL_FIGURE_EMPTIED] - out[BL_FIGURE_RELEASE_START];
}

/* Two passages of one channel: its delay, the command and the clocks are the
   same in both. */
static double own_u(const struct bl_figure *f)
{
    const double part[] = {f->part.crossing, f->part.sampling,
                           f->part.resolution, f->part.rest, f->part.gain};
    double u = 0;
    for (size_t i = 0; i < sizeof(part) / sizeof(part[0]); i++) {
        u = hypot(u, isnan(part[i]) ? 0 : part[i]);
    }
    return u;
}

void bl_measured_figure(struct bl_predict_point *out,
                        const struct bl_unit_lag *unit,
                        enum bl_predict_figure figure)
{
    const bool difference =
        figure == BL_PREDICT_FILL || figure == BL_PREDICT_FALL;
    const struct bl_figure *f = difference ? NULL : &unit->figure[figure];
    out->s = NAN;
    out->u_s = NAN;
    out->differences_only = false;
    out->at_least = false;
    if (f != NULL && f->bounded) {
        out->s = f->later_than_s;
        out->u_s = f->u_later_s;
        out->at_least = true;
        return;
    }
    if (f != NULL) {
        out->s = f->known ? f->s : NAN;
        out->u_s = f->known ? f->u_s : NAN;
        out->differences_only =
            !f->known && f->reason == BL_REASON_DIFFERENCES_ONLY;
        return;
    }
    const bool fill = figure == BL_PREDICT_FILL;
    const struct bl_figure *a = fill ? &unit->figure[BL_FIGURE_RESPONSE]
                                     : &unit->figure[BL_FIGURE_RELEASE_START];
    const struct bl_figure *b = fill ? &unit->figure[BL_FIGURE_FILLED]
                                     : &unit->figure[BL_FIGURE_EMPTIED];
    if (a->known && (b->known || b->bounded)) {
        out->s = (b->known ? b->s : b->later_than_s) - a->s;
        out->u_s = hypot(own_u(a), own_u(b));
        out->at_least = b->bounded;
    }
    out->differences_only =
        !a->known && a->reason == BL_REASON_DIFFERENCES_ONLY;
}

enum bl_predict_verdict bl_predict_judge(double s, double u_s, double low_s,
                                         double high_s)
{
    if (isnan(s) || isnan(u_s) || isnan(low_s) || isnan(high_s)) {
        return BL_PREDICT_NOT_DECIDED;
    }
    if (s - 2 * u_s > high_s) {
        return BL_PREDICT_LATER;
    }
    if (s + 2 * u_s < low_s) {
        return BL_PREDICT_EARLIER;
    }
    return s - 2 * u_s >= low_s && s + 2 * u_s <= high_s
               ? BL_PREDICT_INSIDE
               : BL_PREDICT_NOT_DECIDED;
}

/* 1.3: no wave of brake pressure outruns sound by so much (methods of the
   plausibility check; a strong shock would). */
double bl_predict_least_s(double length_m, double warmest_kelvin)
{
    return length_m / (1.3 * bl_air_speed(BL_AIR_ADIABATIC, warmest_kelvin));
}

double bl_predict_ratio(const struct bl_predict_row *row)
{
    double ratio[BL_LIMIT_PREDICT_APPLICATIONS];
    size_t n = 0;
    for (size_t i = 0; i < row->points && n < BL_LIMIT_PREDICT_APPLICATIONS;
         i++) {
        const struct bl_predict_point *p = &row->point[i];
        if (isfinite(p->s) && !p->at_least && p->s > 0 && p->middle_s > 0) {
            ratio[n++] = p->s / p->middle_s;
        }
    }
    return bl_median(ratio, n);
}

/* On a scale of factors where all is positive. */
static double carried_on(double middle_s, double edge_s)
{
    if (isnan(middle_s)) {
        return edge_s;
    }
    return middle_s > 0 && edge_s > 0
               ? middle_s * pow(edge_s / middle_s, CARRIED_ON)
               : middle_s + CARRIED_ON * (edge_s - middle_s);
}

static void set_limits(struct bl_predict_point *p,
                       const struct bl_predict_context *in)
{
    p->latest_s = carried_on(p->middle_s, p->high_s);
    p->earliest_s = carried_on(p->middle_s, p->low_s);
    if (!in->usual) {
        return;
    }
    if (!isnan(in->pace)) {
        p->latest_s *= fmax(in->pace, 1);
        p->earliest_s *= fmin(in->pace, 1);
    } else {
        p->latest_s += OTHER_MAKES_SHARE * fabs(p->latest_s) + OTHER_MAKES_S;
        p->earliest_s -=
            OTHER_MAKES_SHARE * fabs(p->earliest_s) + OTHER_MAKES_S;
    }
}

/* Beyond the band, but by less than the limits ask for: not decided. */
static enum bl_predict_verdict held_against(const struct bl_predict_point *p)
{
    const enum bl_predict_verdict band =
        bl_predict_judge(p->s, p->u_s, p->low_s, p->high_s);
    const enum bl_predict_verdict limits =
        bl_predict_judge(p->s, p->u_s, fmin(p->earliest_s, p->low_s),
                         fmax(p->latest_s, p->high_s));
    return band == limits ? band : BL_PREDICT_NOT_DECIDED;
}

/* What is in the way of a verdict. */
struct doubts {
    size_t differences, unreached;
    size_t open;   /* bounds that are not late */
    size_t beyond; /* the band, but not by enough */
};

static void verdict(struct bl_predict_row *row, const struct doubts *doubts)
{
    const bool later = row->n > 0 && (row->later >= 3 || row->later == row->n);
    const bool earlier =
        row->n > 0 && (row->earlier >= 3 || row->earlier == row->n);
    row->verdict = BL_PREDICT_NOT_DECIDED;
    row->reason = BL_PREDICT_WHY_NONE;
    if (row->n == 0) {
        row->reason = doubts->open > 0 ? BL_PREDICT_WHY_HOLD_LONGER
                      : doubts->differences > 0
                          ? BL_PREDICT_WHY_DIFFERENCES_ONLY
                          : BL_PREDICT_WHY_NO_FIGURE;
    } else if (doubts->unreached > 0) {
        row->reason = BL_PREDICT_WHY_NOT_REACHED;
    } else if (later != earlier) {
        row->verdict = later ? BL_PREDICT_LATER : BL_PREDICT_EARLIER;
    } else if (doubts->open > 0) {
        row->reason = BL_PREDICT_WHY_HOLD_LONGER;
    } else if (row->inside == row->n) {
        row->verdict = BL_PREDICT_INSIDE;
    } else {
        row->reason = row->later + row->earlier > 0 ? BL_PREDICT_WHY_MIXED
                      : doubts->beyond > 0          ? BL_PREDICT_WHY_BEYOND_BAND
                                           : BL_PREDICT_WHY_WITHIN_UNCERTAINTY;
    }
}

/* Medians of the bands. */
static bool set_bands(struct bl_predict_row *row)
{
    double *value = bl_alloc(row->points + 1, 5 * sizeof(*value));
    if (value == NULL) {
        return false;
    }
    double *into[] = {&row->low_s, &row->middle_s, &row->high_s,
                      &row->earliest_s, &row->latest_s};
    for (size_t k = 0; k < sizeof(into) / sizeof(into[0]); k++) {
        size_t bands = 0;
        for (size_t i = 0; i < row->points; i++) {
            const struct bl_predict_point *p = &row->point[i];
            const double of_point[] = {p->low_s, p->middle_s, p->high_s,
                                       p->earliest_s, p->latest_s};
            if (!isnan(p->low_s) && !isnan(p->high_s)) {
                value[bands++] = of_point[k];
            }
        }
        *into[k] = bl_median(value, bands);
    }
    bl_free(value);
    return true;
}

/* One point's part of the counts; true: it has a figure to take a median of. */
static bool count_point(struct bl_predict_row *row,
                        const struct bl_predict_point *p, struct doubts *doubts)
{
    const enum bl_predict_verdict held = held_against(p);
    if (isnan(p->s)) {
        doubts->differences += p->differences_only;
        return false;
    }
    if (p->at_least && held != BL_PREDICT_LATER) {
        doubts->open++;
        return false;
    }
    row->bounds += p->at_least;
    doubts->unreached += isnan(p->low_s) || isnan(p->high_s);
    row->u_s = fmax(row->u_s, p->u_s);
    row->inside += held == BL_PREDICT_INSIDE;
    row->later += held == BL_PREDICT_LATER;
    row->earlier += held == BL_PREDICT_EARLIER;
    doubts->beyond +=
        held == BL_PREDICT_NOT_DECIDED &&
        (p->s - 2 * p->u_s > p->high_s || p->s + 2 * p->u_s < p->low_s);
    return true;
}

bool bl_predict_conclude(struct bl_predict_row *row,
                         const struct bl_predict_context *in)
{
    double *value = bl_alloc(row->points + 1, sizeof(*value));
    struct doubts doubts = {0};
    const bool from_command =
        row->figure < (enum bl_predict_figure)BL_FIGURES &&
        is_modelled((enum bl_figure_name)row->figure, BL_SIDE_APPLY);
    if (value == NULL) {
        return false;
    }
    row->u_s = NAN;
    row->pace = in->pace;
    for (size_t i = 0; i < row->points; i++) {
        struct bl_predict_point *p = &row->point[i];
        set_limits(p, in);
        if (count_point(row, p, &doubts)) {
            value[row->n++] = p->s;
            row->implausible += from_command && p->s + 2 * p->u_s < in->least_s;
        }
    }
    row->measured_s = bl_median(value, row->n);
    bl_free(value);
    verdict(row, &doubts);
    return set_bands(row);
}
