/* SPDX-License-Identifier: MIT */
/* Modelled and measured figures side by side: see figures.h. */
#include "study/predict/figures.h"

#include "base/alloc.h"
#include "base/number.h"
#include "study/predict/chain.h"

#include <math.h>

#define SETTLED_SHARE 0.02
#define HOLD_S 0.5     /* before the release: where the hold is read */
#define RELEASE_S 0.25 /* before it: where a fall may begin */

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

/* What is in the way of a verdict. */
struct doubts {
    size_t differences, unreached;
    size_t open; /* bounds that are not late */
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
        row->reason = row->later + row->earlier > 0
                          ? BL_PREDICT_WHY_MIXED
                          : BL_PREDICT_WHY_WITHIN_UNCERTAINTY;
    }
}

bool bl_predict_conclude(struct bl_predict_row *row, double least_s)
{
    double *value = bl_alloc(row->points + 1, 4 * sizeof(*value));
    struct doubts doubts = {0};
    const bool from_command =
        row->figure < (enum bl_predict_figure)BL_FIGURES &&
        is_modelled((enum bl_figure_name)row->figure, BL_SIDE_APPLY);
    if (value == NULL) {
        return false;
    }
    double *low = value + row->points;
    double *high = low + row->points;
    double *middle = high + row->points;
    size_t bands = 0;
    row->u_s = NAN;
    for (size_t i = 0; i < row->points; i++) {
        const struct bl_predict_point *p = &row->point[i];
        const bool reached = !isnan(p->low_s) && !isnan(p->high_s);
        if (reached) {
            low[bands] = p->low_s;
            middle[bands] = p->middle_s;
            high[bands++] = p->high_s;
        }
        if (isnan(p->s)) {
            doubts.differences += p->differences_only;
            continue;
        }
        if (p->at_least && bl_predict_judge(p->s, p->u_s, p->low_s,
                                            p->high_s) != BL_PREDICT_LATER) {
            doubts.open++;
            continue;
        }
        row->bounds += p->at_least;
        doubts.unreached += !reached;
        value[row->n++] = p->s;
        row->u_s = fmax(row->u_s, p->u_s);
        const enum bl_predict_verdict held_against =
            bl_predict_judge(p->s, p->u_s, p->low_s, p->high_s);
        row->inside += held_against == BL_PREDICT_INSIDE;
        row->later += held_against == BL_PREDICT_LATER;
        row->earlier += held_against == BL_PREDICT_EARLIER;
        row->implausible += from_command && p->s + 2 * p->u_s < least_s;
    }
    row->measured_s = bl_median(value, row->n);
    row->low_s = bl_median(low, bands);
    row->middle_s = bl_median(middle, bands);
    row->high_s = bl_median(high, bands);
    bl_free(value);
    verdict(row, &doubts);
    return true;
}
