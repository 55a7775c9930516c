/* SPDX-License-Identifier: MIT */
/*
 * Passages of a sampled signal through a level.
 *
 * Where the signal climbs by much more than its noise from one sample to the
 * next, the two samples around the passage are interpolated. Where it does
 * not, the first sample beyond the level is there too early, by chance; then a
 * parabola is fitted to the samples within +-4 noise of the level, which
 * neither the choice of the first sample nor a bend of the curve shifts much.
 * All four kinds of passage are the rising one seen in a mirror.
 */
#include "signal/view.h"

static const int64_t LASTING_NS = 20000000;
enum { LASTING_SAMPLES = 3, FIT_MANY = 64 };
/* A step of so many noise between two samples gives its slope to a seventh
   (sqrt 2 / 10); below that its neighbours say more (own choice). */
static const double STEP_CLEAR = 10;
/* So many noise the signal falls within three samples by no chance (own choice:
   that is 3.5 standard deviations of a difference). */
static const double FELL_BACK = 5;
/* Noise of more than the first share of a step spreads the steps' error like
   noise, in which it is then contained. From the second on, values flicker over
   more than their neighbours, so that a step has no ends, and rounding shifts a
   mean by at most 2/pi exp(-2 pi^2 0.35^2) = 0.06 of a step (Widrow and Kollar,
   Quantization Noise, 2008, from memory). Noise is never taken below 0.29 of a
   step, so that a log without any is not concerned. */
static const double NOISE_HIDES_STEPS = 0.6;
static const double NOISE_SMOOTHS_STEPS = 0.35;
/* Noise has chosen where a lingering passage is looked at, and makes a slope of
   8 of its u there now and then: own choice, by crossing_test.c. */
enum { SLOPE_CLEAR = 12 };

/* Does the signal stay up after `position`? */
static bool lasts(const struct bl_view *view, size_t position)
{
    const size_t count = bl_view_count(view);
    const int64_t origin =
        view->samples->time_ns[bl_view_index(view, position)];
    for (size_t i = position + 1; i < count; i++) {
        if (i > position + LASTING_SAMPLES &&
            bl_view_moment(view, i, origin) > 1e-9 * (double)LASTING_NS) {
            break;
        }
        if (bl_view_gap(view, i - 1, i) || !bl_view_one_part(view, i - 1, i)) {
            break;
        }
        if (bl_view_height(view, i) < -view->band) {
            return false;
        }
    }
    return true;
}

static struct bl_view_pair first_passage(const struct bl_view *view)
{
    struct bl_view_pair pair = {0};
    const size_t count = bl_view_count(view);
    bool below = false;
    for (size_t i = 0; i < count; i++) {
        const double h = bl_view_height(view, i);
        if (isnan(h)) {
            continue;
        }
        if (below && !bl_view_one_part(view, pair.before, i)) {
            below = false;
        }
        if (below && h >= 0 && lasts(view, i)) {
            pair.after = i;
            pair.found = true;
            return pair;
        }
        below = h < 0;
        pair.before = i;
    }
    return pair;
}

/* Samples on both sides of the passage that are clear of the level by
   `clearance`. False: the signal lingers at the level on either side. */
static bool clear_of_level(const struct bl_view *view,
                           const struct bl_view_pair *pair, double clearance,
                           struct bl_view_pair *out)
{
    const size_t count = bl_view_count(view);
    size_t high = pair->after;
    while (high < count && !(bl_view_height(view, high) >= clearance)) {
        if (bl_view_height(view, high) < -clearance - view->band) {
            return false;
        }
        high++;
    }
    if (high == count || !bl_view_one_part(view, pair->before, high)) {
        return false;
    }
    size_t low = high;
    while (low > 0 && !(bl_view_height(view, low) <= -clearance)) {
        low--;
    }
    if (!(bl_view_height(view, low) <= -clearance) ||
        !bl_view_one_part(view, low, high)) {
        return false;
    }
    out->before = low;
    out->after = high;
    out->found = true;
    return true;
}

/* The fit for slow passages; false where there are too few samples near the
   level, so that interpolation is the better way. */
static bool slow_passage(const struct bl_view *view,
                         const struct bl_view_pair *pair,
                         const struct bl_view_pair *clear, int64_t origin,
                         struct bl_local_fit *out)
{
    const double step =
        bl_view_height(view, pair->after) - bl_view_height(view, pair->before);
    const size_t between = clear->found ? clear->after - clear->before : 0;
    const bool few = between < BL_LOCAL_FIT_LEAST - 1;
    if (between < 2 || (few && step >= STEP_CLEAR * view->noise)) {
        return false;
    }
    double low_s = bl_view_moment(view, clear->before, origin);
    double high_s = bl_view_moment(view, clear->after, origin);
    if (clear->after - clear->before > FIT_MANY) {
        /* Among many samples the extreme ones are clear too soon. */
        const double wider_s = (high_s - low_s) / 2;
        low_s -= wider_s;
        high_s += wider_s;
    }
    if (!bl_local_fit_settle(view, pair->after, origin, low_s, high_s, out) ||
        (few && !out->straight)) {
        return false;
    }
    bl_local_fit_heed_others(view, pair->after, origin, out);
    return true;
}

/* Where few samples lie between those that are clear of the level, the passage
   is between these, whatever a single noisy sample in front of them did. */
static struct bl_view_pair sharp_passage(const struct bl_view *view,
                                         const struct bl_view_pair *pair,
                                         const struct bl_view_pair *clear)
{
    struct bl_view_pair sharp = *pair;
    if (!clear->found || clear->before < pair->after) {
        return sharp;
    }
    sharp.before = clear->before;
    for (size_t i = clear->before + 1; i <= clear->after; i++) {
        if (bl_view_height(view, i) >= 0) {
            sharp.after = i;
            break;
        }
        sharp.before = isnan(bl_view_height(view, i)) ? sharp.before : i;
    }
    return sharp;
}

/* What the fit says gives way to the stretch on a shelf, and where a noisy
   sample in front of the stretch had drawn it there. */
static void on_a_shelf(const struct bl_view *view,
                       const struct bl_view_pair *clear, int64_t origin,
                       const struct bl_local_fit *fit, struct bl_crossing *out)
{
    const struct bl_stretch at = bl_stretch_at(view, clear, origin);
    if (!at.found) {
        return;
    }
    const double width_s = at.to_s - at.from_s;
    if (at.shelf || fit->at_s < at.from_s - width_s ||
        fit->at_s > at.to_s + width_s) {
        out->time_ns = origin + (int64_t)llround((view->backward ? -1e9 : 1e9) *
                                                 (at.from_s + at.to_s) / 2);
        out->u_noise_s = width_s / sqrt(12);
    }
}

/* Mean of up to four samples beyond `position`, later or earlier ones, of one
   part without a gap; NaN for none. */
static double mean_beyond(const struct bl_view *view, size_t position,
                          bool later)
{
    double sum = 0;
    size_t n = 0;
    size_t i = position;
    while (n < 4 && (later ? i + 1 < bl_view_count(view) : i > 0)) {
        const size_t next = later ? i + 1 : i - 1;
        if (bl_view_gap(view, i, next) || !bl_view_one_part(view, i, next) ||
            isnan(bl_view_height(view, next))) {
            break;
        }
        sum += bl_view_height(view, next);
        i = next;
        n++;
    }
    return n == 0 ? NAN : sum / (double)n;
}

/* Is the step between the two samples one of the signal? Beside samples that
   are clear of the level, from 3 noise on. Where there are none, noise makes
   such a step now and then among many pairs: then the samples around the two
   must have climbed by as much. */
static bool steps_up(const struct bl_view *view,
                     const struct bl_view_pair *pair,
                     const struct bl_view_pair *clear)
{
    const double step =
        bl_view_height(view, pair->after) - bl_view_height(view, pair->before);
    if (step < 3 * view->noise) {
        return false;
    }
    if (clear->found || step >= 2 * bl_view_clearance(view)) {
        return true;
    }
    return mean_beyond(view, pair->after, true) -
               mean_beyond(view, pair->before, false) >=
           step;
}

/* Where the signal lingers at the level or the fit failed, two samples say
   little: the window is doubled until a slope stands out of the noise. */
static bool lingering_passage(const struct bl_view *view,
                              const struct bl_view_pair *pair,
                              const struct bl_view_pair *clear, int64_t origin,
                              struct bl_local_fit *out)
{
    const double step =
        bl_view_height(view, pair->after) - bl_view_height(view, pair->before);
    double half_s = 4e-9 * (double)view->samples->interval_ns;
    if (!(view->noise > 0) || !(half_s > 0) || steps_up(view, pair, clear)) {
        return false;
    }
    double low_s = -INFINITY;
    double high_s = INFINITY;
    double centre_s = (bl_view_moment(view, pair->before, origin) +
                       bl_view_moment(view, pair->after, origin)) /
                      2;
    double width_s = 2 * half_s;
    if (clear->found) {
        low_s = bl_view_moment(view, clear->before, origin);
        high_s = bl_view_moment(view, clear->after, origin);
    }
    for (unsigned round = 0; round < 10; round++, half_s *= 2) {
        if (bl_local_fit_near(view, pair->after, origin, centre_s, half_s,
                              out) &&
            out->slope * half_s > SLOPE_CLEAR * out->sigma * out->unit_error &&
            out->at_s >= low_s && out->at_s <= high_s) {
            return true;
        }
    }
    /* No slope: the passage is only known to the window first looked at, or to
       the samples that are clear of the level. */
    if (clear->found) {
        centre_s = (low_s + high_s) / 2;
        width_s = high_s - low_s;
    }
    out->at_s = centre_s;
    out->slope = fmax(step, view->noise) / width_s;
    out->sigma = view->noise;
    out->unit_error =
        out->slope * width_s / (sqrt(clear->found ? 12 : 3) * view->noise);
    return true;
}

/* By how much the signal climbs from the sample before the pair to the one
   after it, per interval, where that is less than the step between the two: a
   noisy sample of the pair makes the passage look steeper than it is. */
static double steady_step(const struct bl_view *view,
                          const struct bl_view_pair *pair, double step)
{
    const size_t a = pair->before > 0 ? pair->before - 1 : pair->before;
    const size_t b =
        pair->after + 1 < bl_view_count(view) ? pair->after + 1 : pair->after;
    const double climb = bl_view_height(view, b) - bl_view_height(view, a);
    if (!bl_view_one_part(view, a, b) || isnan(climb)) {
        return step;
    }
    const double share = (double)(pair->after - pair->before) / (double)(b - a);
    return fmin(step, fmax(climb, step) * share);
}

static void interpolate(const struct bl_view *view,
                        const struct bl_view_pair *pair, int64_t origin,
                        struct bl_crossing *out)
{
    const double low = bl_view_height(view, pair->before);
    const double step = bl_view_height(view, pair->after) - low;
    const double from_s = bl_view_moment(view, pair->before, origin);
    const double width_s =
        fmax(bl_view_moment(view, pair->after, origin) - from_s, 1e-9);
    const double share = -low / step;
    const struct bl_chord off = bl_chord_beside(view, pair, step, share);
    const double at_s = from_s + (share + off.later) * width_s;
    /* The second factor: the slope comes from the same two noisy samples. */
    const double both =
        sqrt(((1 - share) * (1 - share) + share * share) *
             (1 + 6 * view->noise * view->noise / (step * step)));
    out->slope = step / width_s;
    out->u_noise_s =
        view->noise / steady_step(view, pair, step) * width_s * both;
    out->u_sampling_s = width_s * off.u;
    out->time_ns =
        origin + (int64_t)llround((view->backward ? -1e9 : 1e9) * at_s);
}

/* Midpoint between two samples, for gaps and for stair-steps. */
static void midpoint(const struct bl_view *view,
                     const struct bl_view_pair *pair, unsigned flag,
                     struct bl_crossing *out)
{
    const size_t a = bl_view_index(view, pair->before);
    const size_t b = bl_view_index(view, pair->after);
    const int64_t late = view->samples->time_ns[a < b ? b : a];
    int64_t width = late - view->samples->time_ns[a < b ? a : b];
    if ((flag & BL_FLAG_STAIR_STEPS) != 0 && width < view->samples->stair_ns) {
        width = view->samples->stair_ns;
    }
    const double width_s = fmax((double)width * 1e-9, 1e-9);
    out->time_ns = late - width / 2;
    out->u_sampling_s = width_s / sqrt(12);
    out->slope = (bl_view_height(view, pair->after) -
                  bl_view_height(view, pair->before)) /
                 width_s;
    /* In a gap the width says it all: the level may have been passed anywhere
       in it, whatever the noise is. */
    out->u_noise_s =
        (flag & BL_FLAG_IN_GAP) != 0 ? 0 : view->noise / out->slope;
    out->flags |= flag;
}

/* The sample from which the signal fell back, plainly, just before the pair
   that passes the level: a foot that hesitates, or values that lost a digit.
   Then the passage is somewhere from there on. SIZE_MAX: there is none. */
static size_t fell_back_from(const struct bl_view *view,
                             const struct bl_view_pair *pair)
{
    size_t from = SIZE_MAX;
    double highest =
        bl_view_height(view, pair->before) + FELL_BACK * view->noise;
    size_t i = pair->before;
    while (view->noise > 0 && i > 0 && pair->before - i < LASTING_SAMPLES &&
           bl_view_one_part(view, i - 1, i) && !bl_view_gap(view, i - 1, i)) {
        i--;
        if (bl_view_height(view, i) > highest) {
            highest = bl_view_height(view, i);
            from = i;
        }
    }
    return from;
}

/* The samples next to a time, missing ones passed over. */
static struct bl_view_pair around(const struct bl_view *view, size_t near,
                                  int64_t origin, double at_s)
{
    const size_t count = bl_view_count(view);
    struct bl_view_pair pair = {0};
    size_t low = near;
    while (low > 0 && (bl_view_moment(view, low, origin) > at_s ||
                       isnan(bl_view_height(view, low)))) {
        low--;
    }
    while (low + 1 < count && bl_view_moment(view, low + 1, origin) <= at_s) {
        low++;
    }
    while (low > 0 && isnan(bl_view_height(view, low))) {
        low--;
    }
    size_t high = low + 1;
    while (high < count && isnan(bl_view_height(view, high))) {
        high++;
    }
    pair.before = low;
    pair.after = high;
    pair.found = high < count;
    return pair;
}

/* What the steps of the log leave open. Where they are seen, the passage is
   within the room that they leave: at the share of it that a steady climb asks
   for, as evenly as a shelf may lie in it. */
static void within_a_step(const struct bl_view *view,
                          const struct bl_view_pair *pair, int64_t origin,
                          struct bl_crossing *out)
{
    const double step = view->samples->resolution;
    struct bl_coarse room = {.slope = INFINITY};
    if ((out->flags & (BL_FLAG_IN_GAP | BL_FLAG_STAIR_STEPS)) == 0 &&
        !(view->noise > NOISE_SMOOTHS_STEPS * step)) {
        room = bl_coarse_room(view, pair, origin);
    }
    out->slope = fmin(out->slope, room.slope);
    out->u_resolution_s = step / sqrt(12) / out->slope;
    if (!room.found) {
        return;
    }
    const double width_s = room.to_s - room.from_s;
    const double at_s = room.from_s + room.share * width_s;
    const double interval_s = 1e-9 * (double)view->samples->interval_ns;
    out->time_ns =
        origin + (int64_t)llround((view->backward ? -1e9 : 1e9) * at_s);
    out->u_resolution_s = width_s / sqrt(12);
    /* Noise that the rounding hides moves an end by less, the more samples
       flicker there. */
    out->u_noise_s =
        view->noise / out->slope / sqrt(fmax((double)room.samples, 1));
    out->u_sampling_s = interval_s / sqrt(12);
}

static struct bl_crossing cross(const struct bl_view *view)
{
    struct bl_crossing out = {.slope = NAN};
    struct bl_view_pair pair = first_passage(view);
    if (!pair.found) {
        return out;
    }
    const struct bl_samples *samples = view->samples;
    const int64_t origin = samples->time_ns[bl_view_index(view, pair.before)];
    struct bl_view_pair clear = {0};
    if (view->noise > 0) {
        clear_of_level(view, &pair, bl_view_clearance(view), &clear);
    }
    if (clear.found && clear.after - clear.before < BL_LOCAL_FIT_LEAST - 1) {
        pair = sharp_passage(view, &pair, &clear);
    }
    struct bl_local_fit fit = {.points = 0};
    out.found = true;
    out.seen_ns = samples->time_ns[bl_view_index(
        view, view->backward ? pair.before : pair.after)];
    if (bl_view_gap(view, pair.before, pair.after)) {
        midpoint(view, &pair, BL_FLAG_IN_GAP, &out);
    } else if (samples->stair_steps && samples->stair_ns > 0) {
        midpoint(view, &pair, BL_FLAG_STAIR_STEPS, &out);
    } else if (slow_passage(view, &pair, &clear, origin, &fit) ||
               lingering_passage(view, &pair, &clear, origin, &fit)) {
        out.time_ns =
            origin + (int64_t)llround((view->backward ? -1e9 : 1e9) * fit.at_s);
        out.slope = fit.slope;
        out.u_noise_s = fit.sigma / fit.slope * fit.unit_error;
        const struct bl_view_pair next =
            around(view, pair.after, origin, fit.at_s);
        if (next.found && bl_view_gap(view, next.before, next.after)) {
            midpoint(view, &next, BL_FLAG_IN_GAP, &out);
            out.slope = fit.slope;
        }
        on_a_shelf(view, &clear, origin, &fit, &out);
    } else {
        interpolate(view, &pair, origin, &out);
        if (fit.points > 0) {
            /* Its samples say another time and scatter: either may be right. */
            const int64_t fitted_ns =
                llround((view->backward ? -1e9 : 1e9) * fit.at_s);
            out.u_noise_s =
                fmax(out.u_noise_s,
                     1e-9 * fabs((double)(out.time_ns - origin - fitted_ns)));
        }
        const size_t from = fell_back_from(view, &pair);
        if (from != SIZE_MAX) {
            const int64_t at_ns = samples->time_ns[bl_view_index(view, from)];
            const int64_t to_ns =
                samples->time_ns[bl_view_index(view, pair.after)];
            out.time_ns = at_ns + (to_ns - at_ns) / 2;
            out.u_sampling_s = 1e-9 * fabs((double)(to_ns - at_ns)) / sqrt(12);
        }
    }
    if (view->noise < NOISE_HIDES_STEPS * samples->resolution &&
        out.slope > 0) {
        within_a_step(view, &pair, origin, &out);
    }
    out.slope *= view->sign * (view->backward ? -1 : 1);
    return out;
}

static struct bl_view window(const struct bl_samples *samples, int64_t from_ns,
                             int64_t to_ns)
{
    const struct bl_view view = {
        .samples = samples,
        .first = bl_samples_at(samples, from_ns),
        .end = bl_samples_at(samples, to_ns),
        .sign = 1,
    };
    return view;
}

struct bl_crossing bl_rising(const struct bl_samples *samples, int64_t from_ns,
                             int64_t to_ns, double level, double noise,
                             double band)
{
    struct bl_view view = window(samples, from_ns, to_ns);
    view.level = level;
    view.noise = noise;
    view.band = band;
    return cross(&view);
}

struct bl_crossing bl_falling(const struct bl_samples *samples, int64_t from_ns,
                              int64_t to_ns, double level, double noise,
                              double band)
{
    struct bl_view view = window(samples, from_ns, to_ns);
    view.sign = -1;
    view.level = -level;
    view.noise = noise;
    view.band = band;
    return cross(&view);
}

struct bl_crossing bl_last_falling(const struct bl_samples *samples,
                                   int64_t from_ns, int64_t to_ns, double level,
                                   double noise, double band)
{
    struct bl_view view = window(samples, from_ns, to_ns);
    view.backward = true;
    view.level = level;
    view.noise = noise;
    view.band = band;
    return cross(&view);
}

struct bl_crossing bl_last_rising(const struct bl_samples *samples,
                                  int64_t from_ns, int64_t to_ns, double level,
                                  double noise, double band)
{
    struct bl_view view = window(samples, from_ns, to_ns);
    view.backward = true;
    view.sign = -1;
    view.level = -level;
    view.noise = noise;
    view.band = band;
    return cross(&view);
}
