/* SPDX-License-Identifier: MIT */
/*
 * Between candidate curves. One fits when its threshold and gain lie within
 * 2 u of what was found. It is chosen when it is the only one, and when the
 * thresholds are far enough apart for that to mean something: 4 u, so that
 * both have their 2 u. Everything else is "cannot tell".
 */
#include "base/sure.h"
#include "study/characteristic/curve.h"

#include <math.h>
#include <string.h>

static double line_at(const struct bl_branch *branch, double out)
{
    return branch->on.value + (out - branch->jump.value) / branch->gain.value;
}

struct bl_measured bl_curve_hysteresis(const struct bl_branch *rising,
                                       const struct bl_branch *falling,
                                       const struct bl_curve_lag *lag)
{
    if (rising->reason != BL_CURVE_FITTED ||
        falling->reason != BL_CURVE_FITTED) {
        return (struct bl_measured){NAN, NAN};
    }
    double top = fmin(rising->top, falling->top);
    top = rising->saturates ? fmin(top, rising->sat_out.value) : top;
    top = falling->saturates ? fmin(top, falling->sat_out.value) : top;
    const double low = fmax(rising->jump.value, falling->jump.value);
    const double middle = (low + top) / 2;
    const double u_rising =
        hypot(rising->s / rising->gain.value / sqrt((double)rising->points),
              rising->rate * lag->u_s);
    const double u_falling =
        hypot(falling->s / falling->gain.value / sqrt((double)falling->points),
              falling->rate * lag->u_s);
    /* The lag is common to both and moves them apart: its parts add up. */
    const double common = (rising->rate + falling->rate) * lag->u_s;
    return (struct bl_measured){line_at(rising, middle) -
                                    line_at(falling, middle),
                                hypot(hypot(u_rising, u_falling), common)};
}

double bl_curve_residual(const struct bl_curve_points *points, bool falling,
                         const struct bl_curve_lag *lag, double threshold,
                         double gain, double saturation)
{
    double sxx = 0, sxy = 0, rss = 0;
    size_t n = 0;
    for (size_t pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < points->count; i++) {
            const struct bl_curve_point *p = &points->item[i];
            if (p->falling != falling) {
                continue;
            }
            const double in = fmin(p->in - p->rate * lag->s, saturation);
            const double x = fmax(in - threshold, 0);
            if (pass == 0) {
                sxx += x * x;
                sxy += x * p->out;
            } else {
                rss += (p->out - gain * x) * (p->out - gain * x);
                n++;
            }
        }
        gain = isnan(gain) ? (sxx > 0 ? sxy / sxx : 0) : gain;
    }
    return n == 0 ? NAN : sqrt(rss / (double)n);
}

/* Is a gain that the load sets in keeping with the one that was found? */
static bool load_fits(double gain, double u, bool surely_empty)
{
    return gain < 1 - 2 * u || (!surely_empty && gain < 1 + 2 * u);
}

static bool too_near(const struct bl_candidate *candidate, size_t count,
                     size_t self, double u)
{
    for (size_t i = 0; i < count; i++) {
        const double apart =
            fabs(candidate[i].threshold - candidate[self].threshold);
        if (apart > 0 && apart < BL_SURE_U * u) {
            return true;
        }
    }
    return false;
}

struct bl_curve_choice bl_curve_choose(struct bl_candidate *candidate,
                                       size_t count,
                                       const struct bl_branch *rising,
                                       const struct bl_curve_doubt *doubt)
{
    struct bl_curve_choice choice = {-1, NAN};
    if (rising->reason != BL_CURVE_FITTED) {
        return choice;
    }
    const double u = hypot(rising->on.u, doubt->kpa);
    const double gain = rising->gain.value;
    const double u_gain = hypot(rising->gain.u, gain * doubt->gain);
    size_t fitting = 0;
    bool agreed = true;
    for (size_t i = 0; i < count; i++) {
        struct bl_candidate *c = &candidate[i];
        c->off_threshold = (c->threshold - rising->on.value) / u;
        c->off_gain = isnan(c->gain) ? NAN : (c->gain - gain) / u_gain;
        const bool here = fabs(c->off_threshold) <= 2;
        const bool near = too_near(candidate, count, i, u);
        const bool like = isnan(c->gain)
                              ? load_fits(gain, u_gain, doubt->surely_empty)
                              : fabs(c->off_gain) <= 2;
        c->fits = !here || !like ? BL_FIT_NO
                  : near         ? BL_FIT_UNKNOWN
                                 : BL_FIT_YES;
        if (here) {
            agreed =
                agreed && !near &&
                (isnan(choice.threshold) || choice.threshold == c->threshold);
            choice.threshold = c->threshold;
        }
        if (c->fits != BL_FIT_NO) {
            choice.index = c->fits == BL_FIT_YES ? (long)i : -1;
            fitting++;
        }
    }
    choice.index = fitting == 1 ? choice.index : -1;
    choice.threshold = agreed ? choice.threshold : NAN;
    return choice;
}

enum bl_answer
bl_characteristic_follows(const struct bl_characteristic *characteristic,
                          const char *name, const struct bl_candidate **called)
{
    const struct bl_candidate *wanted = NULL;
    for (size_t i = 0; i < characteristic->candidates && wanted == NULL; i++) {
        const struct bl_candidate *c = &characteristic->candidate[i];
        wanted = c->stated && strcmp(c->name, name) == 0 ? c : NULL;
    }
    if (called != NULL) {
        *called = wanted;
    }
    if (wanted == NULL) {
        return BL_UNKNOWN;
    }
    if (wanted->fits == BL_FIT_NO) {
        return BL_NO;
    }
    return characteristic->choice >= 0 &&
                   &characteristic->candidate[characteristic->choice] == wanted
               ? BL_YES
               : BL_UNKNOWN;
}
