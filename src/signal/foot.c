/* SPDX-License-Identifier: MIT */
/*
 * The onset of a rise: the last moment before the noise-free signal is 1 kPa
 * above rest. One sample says nothing about it where noise is of that size, and
 * nobody knows by which curve a brake begins to fill. So several are tried:
 * rest, then a power of the time since, with exponents from a straight line to
 * a cubic, or an exponential; each from every place, and each only as far as
 * the samples follow it (a shelf or a bend ends it). Every trial has its own
 * moment of 1 kPa; the mean of these moments, weighted by how well the trial
 * fits, is the onset, and their spread its uncertainty: the curve that is not
 * known is in it (Bayesian model averaging; JCGM 101 6.4.9 for the weights).
 */
#include "signal/internal.h"

#include <math.h>

#include "base/alloc.h"

enum {
    POINTS = 320, /* more only cost time: neighbours are averaged */
    MEAN_OF = 8,  /* samples whose mean tells departure from rest */
    STARTS = 2,   /* places tried per point */
    POWERS = 4,   /* of the time since the start */
    FILLS = 2,    /* curves that fill */
    CURVES = POWERS + FILLS + 1, /* those, and the exponential */
    ROUNDS = 6,                  /* of finer steps */
    CURVE_SHOWN = 4,             /* samples that show a curve */
    NOTHING = 40, /* e to the minus 40 is less than the last digit of 1 */
    LARGEST = 700 /* e to the 700 is still a number */
};
/* A point that a curve leaves out costs this, in squares of the noise; one
   that it fits costs 1 on average, so that it goes on while it fits. */
static const double LEFT_OUT = 1.5;
static const double ONSET_KPA = 1;
/* None of the curves is the true one, so that many points make the wrong one
   sure: they count as so many at most ("coarsened" posterior, Miller and
   Dunson, J. Am. Stat. Assoc. 114, 2019; the number by simulation of slow
   rises, tests/unit/signal/onset_test.c). */
static const double TRUSTED = 30;
static const double powers[POWERS] = {1, 1.5, 2, 3};
/* Time constants of filling, in lengths of the stretch. */
static const double fills[FILLS] = {0.7, 2.5};

/* The stretch that holds the beginning of the rise. */
struct rise {
    double *x, *y;  /* seconds from its end; above rest, in noise of a point */
    double *before; /* sum of the squares of y in front of a point */
    double *fill[FILLS]; /* how far each of them still is from full */
    size_t count;
    size_t departed; /* the first point that is certainly off rest */
    size_t shown;    /* samples from there to the height that tells nothing */
    double length_s; /* from there to the end */
    double onset;    /* 1 kPa in the noise of a point */
    double u_rest;   /* the same of the rest's uncertainty */
    double latest_s; /* later than this the onset cannot be */
    double trust;    /* exponent of the likelihood */
};

struct trial {
    double score, at_s, variance;
};

/* Sums of a curve over the points that it has come to. */
struct sums {
    double gg, gy, yy;
};

static void keep_best(const struct rise *rise, const struct sums *sums,
                      size_t at, double before, struct trial *best,
                      struct sums *best_sums)
{
    if (at < rise->departed || !(sums->gy > 0)) {
        return;
    }
    const double rss = sums->yy - sums->gy * sums->gy / sums->gg;
    const double score =
        before + rss + LEFT_OUT * (double)(rise->count - 1 - at);
    if (score < best->score) {
        best->score = score;
        *best_sums = *sums;
    }
}

/* A power that begins at 0, and when a curve has come to y. */
static double power_at(size_t curve, double z)
{
    const double exponent = powers[curve];
    if (exponent > 2) {
        return z * z * z;
    }
    if (exponent > 1.75) {
        return z * z;
    }
    return exponent > 1 ? z * sqrt(z) : z;
}

static double curve_reaches(size_t curve, double y)
{
    return curve < POWERS ? pow(y, 1 / powers[curve])
           : y < 1        ? -fills[curve - POWERS] * log(1 - y)
                          : INFINITY;
}

/* Rest until start_s, then the curve. */
static struct trial try_curve(const struct rise *rise, double start_s,
                              size_t first, double before, size_t curve)
{
    struct trial best = {.score = INFINITY};
    struct sums sums = {0};
    struct sums best_sums = {0};
    /* exp(-(x - start)) as a product: one exponential for all points. */
    const double *fill = curve < POWERS ? NULL : rise->fill[curve - POWERS];
    const double started =
        curve < POWERS
            ? 0
            : exp(fmax(start_s / rise->length_s / fills[curve - POWERS],
                       -LARGEST));
    for (size_t i = first; i < rise->count; i++) {
        const double g =
            fill != NULL
                ? 1 - fill[i] * started
                : power_at(curve, (rise->x[i] - start_s) / rise->length_s);
        sums.gg += g * g;
        sums.gy += g * rise->y[i];
        sums.yy += rise->y[i] * rise->y[i];
        keep_best(rise, &sums, i, before, &best, &best_sums);
    }
    if (isinf(best.score)) {
        return best;
    }
    const double a = best_sums.gy / best_sums.gg;
    const double y = rise->onset / a;
    const double since_s = rise->length_s * curve_reaches(curve, y);
    if (!isfinite(since_s)) {
        best.score = INFINITY;
        return best;
    }
    /* By how much the moment moves with the height of 1 kPa. */
    const double by_height =
        rise->length_s * curve_reaches(curve, 1.05 * y) - since_s;
    const double per = isfinite(by_height) ? by_height / 0.05 : since_s;
    best.at_s = start_s + since_s;
    best.variance = per * per *
                    (1 / (best_sums.gg * a * a) +
                     rise->u_rest * rise->u_rest / (rise->onset * rise->onset));
    return best;
}

static struct trial try_exponential(const struct rise *rise, double scale_s)
{
    struct trial best = {.score = INFINITY};
    /* Far in front of the rise it is nothing beside what it is there. */
    size_t first = 0;
    while (rise->x[first] - rise->x[rise->departed] < -NOTHING * scale_s) {
        first++;
    }
    struct sums sums = {.yy = rise->before[first]};
    struct sums best_sums = {0};
    for (size_t i = first; i < rise->count; i++) {
        const double g = exp((rise->x[i] - rise->x[rise->departed]) / scale_s);
        sums.gg += g * g;
        sums.gy += g * rise->y[i];
        sums.yy += rise->y[i] * rise->y[i];
        keep_best(rise, &sums, i, 0, &best, &best_sums);
    }
    if (isinf(best.score)) {
        return best;
    }
    const double a = best_sums.gy / best_sums.gg;
    best.at_s = rise->x[rise->departed] + scale_s * log(rise->onset / a);
    best.variance = scale_s * scale_s *
                    (1 / (best_sums.gg * a * a) +
                     rise->u_rest * rise->u_rest / (rise->onset * rise->onset));
    return best;
}

/* A curve from one place; of the exponential, which has none, one scale. */
static struct trial try_at(const struct rise *rise, size_t curve, double q)
{
    if (curve == CURVES - 1) {
        return try_exponential(rise, exp(q));
    }
    size_t first = 0;
    size_t end = rise->count;
    while (first < end) {
        const size_t middle = first + (end - first) / 2;
        if (rise->x[middle] <= q) {
            first = middle + 1;
        } else {
            end = middle;
        }
    }
    return try_curve(rise, q, first, rise->before[first], curve);
}

/* Trials of one curve at even steps from low to high. Where one step is too
   coarse for the noise, again around the best one. The last steps' share of
   the first ones is returned: what a trial counts. */
static double try_curves(const struct rise *rise, size_t curve, double low,
                         double high, size_t count, struct trial *trial)
{
    const double whole = (high - low) / (double)count;
    double step = whole;
    for (unsigned round = 0; round < ROUNDS; round++) {
        size_t best = 0;
        for (size_t k = 0; k < count; k++) {
            trial[k] = try_at(rise, curve, low + step * (double)k);
            best = trial[k].score < trial[best].score ? k : best;
        }
        const double left = best > 0 ? trial[best - 1].score : INFINITY;
        const double right =
            best + 1 < count ? trial[best + 1].score : INFINITY;
        if (!isfinite(trial[best].score) ||
            fmin(left, right) - trial[best].score < 1) {
            break;
        }
        low += step * ((double)best - 1);
        step *= 2 / (double)count;
    }
    return step / whole;
}

/* The places, or the scales on a logarithmic scale, that are tried. */
static void bounds(const struct rise *rise, size_t curve, double *low,
                   double *high)
{
    const size_t last = rise->departed + MEAN_OF < rise->count
                            ? rise->departed + MEAN_OF
                            : rise->count - 1;
    *low = rise->x[0];
    *high = rise->x[last];
    if (curve == CURVES - 1) {
        const double mean_s =
            (rise->x[rise->count - 1] - rise->x[0]) / (double)rise->count;
        *low = log(mean_s / 2);
        *high = log(2 * rise->length_s);
    }
}

/* Adds up the moments of a curve's trials by their weights, against `least`. */
struct mean {
    double weights, first, second;
};

static void add_trials(struct mean *mean, const struct rise *rise,
                       const struct trial *trial, size_t count, double least,
                       double share)
{
    for (size_t k = 0; k < count; k++) {
        if (!(trial[k].at_s <= rise->latest_s) || isinf(trial[k].score)) {
            continue;
        }
        const double w = exp(rise->trust * (least - trial[k].score) / 2) *
                         share / (double)count;
        mean->weights += w;
        mean->first += w * trial[k].at_s;
        mean->second += w * (trial[k].at_s * trial[k].at_s +
                             trial[k].variance / rise->trust);
    }
}

/* Mean and spread of all trials' moments. False: none fits. `trial` has room
   for all of them. */
static bool average(const struct rise *rise, size_t starts, struct trial *trial,
                    double *at_s, double *u_s)
{
    double least = INFINITY;
    double share[CURVES];
    for (size_t c = 0; c < CURVES; c++) {
        double low = 0;
        double high = 0;
        struct trial *own = trial + c * starts;
        bounds(rise, c, &low, &high);
        share[c] = try_curves(rise, c, low, high, starts, own);
        for (size_t k = 0; k < starts; k++) {
            if (own[k].at_s <= rise->latest_s) {
                least = fmin(least, own[k].score);
            }
        }
    }
    struct mean mean = {0};
    for (size_t c = 0; c < CURVES && isfinite(least); c++) {
        add_trials(&mean, rise, trial + c * starts, starts, least, share[c]);
    }
    if (!(mean.weights > 0)) {
        return false;
    }
    *at_s = mean.first / mean.weights;
    *u_s = sqrt(fmax(mean.second / mean.weights - *at_s * *at_s, 0));
    return true;
}

/* Mean of a sample and the few in front of it; NaN where all are missing. */
static double mean_to(const struct bl_samples *samples, size_t last)
{
    double sum = 0;
    double n = 0;
    for (size_t j = last + 1 - MEAN_OF; j <= last; j++) {
        if (!isnan(samples->value[j])) {
            sum += (double)samples->value[j];
            n += 1;
        }
    }
    return n > 0 ? sum / n : NAN;
}

/* Index of the first sample from which the mean of the last few stays off rest
   up to `end`; `end` if there is none. */
static size_t departure(const struct bl_samples *samples, size_t first,
                        size_t end, double level)
{
    size_t off = end;
    for (size_t i = end; i-- > first + MEAN_OF;) {
        if (mean_to(samples, i) <= level) {
            break;
        }
        off = i;
    }
    return off;
}

/* Going back from `from`, the first mean that is at `level`; the lowest one
   where none is. */
static size_t back_to(const struct bl_samples *samples, size_t first,
                      size_t from, double level)
{
    double least = INFINITY;
    size_t at = from;
    for (size_t i = from; i >= first + MEAN_OF && least > level; i--) {
        const double mean = mean_to(samples, i);
        if (mean < least) {
            least = mean;
            at = i;
        }
    }
    return at;
}

/* The first sample of the rest in front of the rise: what is left of a press
   before it would be taken for its beginning. */
static size_t rest_begins(const struct bl_samples *samples, size_t first,
                          size_t departed, double rest, double off)
{
    const size_t quiet = back_to(samples, first, departed, rest);
    size_t i = quiet;
    while (i >= first + MEAN_OF && !(mean_to(samples, i) > rest + off)) {
        i--;
    }
    if (i < first + MEAN_OF) {
        return first;
    }
    while (i < quiet && !(mean_to(samples, i) <= rest)) {
        i++;
    }
    return i + 1 - MEAN_OF;
}

/* Means of so many neighbours that there are POINTS at most, in units of the
   noise of such a mean. The noise of `rest` is that of a rounded sample. */
static void gather(const struct bl_samples *samples, size_t first, size_t end,
                   size_t departed, const struct bl_rest *rest,
                   struct rise *out)
{
    const size_t each = (end - first) / POINTS + 1;
    const double unit = rest->noise / sqrt((double)each);
    const int64_t origin = samples->time_ns[end - 1];
    for (size_t i = first; i < end; i += each) {
        double x = 0;
        double y = 0;
        double n = 0;
        for (size_t j = i; j < i + each && j < end; j++) {
            if (!isnan(samples->value[j])) {
                x += (double)(samples->time_ns[j] - origin) * 1e-9;
                y += (double)samples->value[j] - rest->value;
                n += 1;
            }
        }
        if (i <= departed) {
            out->departed = out->count;
        }
        if (n > 0) {
            out->x[out->count] = x / n;
            out->y[out->count++] = y / n / unit * sqrt(n / (double)each);
        }
    }
    out->onset = ONSET_KPA / unit;
    out->u_rest = rest->u / unit;
}

/* What all trials share. */
static void prepare(struct rise *rise)
{
    for (size_t i = 0; i < rise->count; i++) {
        rise->before[i + 1] = rise->before[i] + rise->y[i] * rise->y[i];
        for (size_t k = 0; k < FILLS; k++) {
            rise->fill[k][i] =
                exp(fmin(-rise->x[i] / rise->length_s / fills[k], LARGEST));
        }
    }
}

static void estimate(const struct bl_samples *samples, struct rise *rise,
                     int64_t origin, struct bl_foot *foot)
{
    if (rise->departed >= rise->count || rise->count < MEAN_OF) {
        return;
    }
    const size_t starts = STARTS * rise->count;
    rise->length_s =
        fmax(-rise->x[rise->departed], (double)samples->interval_ns * 1e-9);
    rise->trust = fmin(1, TRUSTED / (double)(rise->count - rise->departed));
    struct trial *trial = bl_alloc(CURVES * starts, sizeof(*trial));
    if (trial == NULL) {
        return;
    }
    prepare(rise);
    double at_s = 0;
    foot->found = average(rise, starts, trial, &at_s, &foot->u_fit_s);
    foot->time_ns = origin + (int64_t)llround(at_s * 1e9);
    /* None of the curves is the true one: between two samples it may bend as no
       sample shows. A fifth of their distance either way (by simulation,
       tests/unit/signal/onset_test.c); all of it where the channel repeats its
       values, or where so few samples lie on the beginning of the rise that
       they show no curve. */
    foot->u_model_s = samples->stair_steps
                          ? 1e-9 * (double)samples->stair_ns / sqrt(12)
                      : rise->shown < CURVE_SHOWN
                          ? 1e-9 * (double)samples->interval_ns / sqrt(12)
                          : 0.2e-9 * (double)samples->interval_ns;
    foot->u_s = hypot(foot->u_fit_s, foot->u_model_s);
    bl_free(trial);
}

/* An onset between two samples that nothing may be interpolated between: only
   that it lies there is known. */
static void foot_in_gap(const struct bl_samples *samples, struct bl_foot *foot)
{
    size_t after = bl_samples_at(samples, foot->time_ns);
    size_t before = after;
    while (before > 0 && (before == after || isnan(samples->value[before]))) {
        before--;
    }
    while (after < samples->count && isnan(samples->value[after])) {
        after++;
    }
    if (before >= after || after == samples->count ||
        !bl_signal_gap(samples, before, after)) {
        return;
    }
    const int64_t width = samples->time_ns[after] - samples->time_ns[before];
    foot->flags |= BL_FLAG_IN_GAP;
    foot->time_ns = samples->time_ns[before] + width / 2;
    foot->u_model_s = (double)width * 1e-9 / sqrt(12);
    foot->u_s = hypot(foot->u_fit_s, foot->u_model_s);
}

/* Noise of one sample with its rounding. Without noise at all (made by hand)
   the curves are taken to fit within a hundredth of a kPa. */
static double sample_noise(const struct bl_samples *samples,
                           const struct bl_rest *rest)
{
    return fmax(hypot(rest->noise, samples->resolution / sqrt(12)),
                ONSET_KPA / 100);
}

struct bl_foot bl_rise_foot(const struct bl_samples *samples, int64_t from_ns,
                            int64_t to_ns, const struct bl_rest *rest,
                            double hold, int64_t latest_ns)
{
    struct bl_foot foot = {.u_s = NAN};
    if (!rest->known || !(hold > rest->value)) {
        return foot;
    }
    const double noise = sample_noise(samples, rest);
    /* The beginning of the rise: what is far above the noise tells nothing. */
    const double high = rest->value + fmax(20 * noise, 15 * ONSET_KPA);
    const double half = rest->value + 0.5 * (hold - rest->value);
    /* Half of a hold that was cut short may lie in what noise does, or a press
       before left: then the rise is where it goes beyond that. */
    struct bl_crossing up = bl_rising(samples, from_ns, to_ns, fmax(half, high),
                                      rest->noise, 5 * rest->noise);
    if (!up.found && half < high) {
        up = bl_rising(samples, from_ns, to_ns, half, rest->noise,
                       5 * rest->noise);
    }
    if (!up.found || bl_samples_split(samples, from_ns, up.time_ns)) {
        return foot;
    }
    const size_t first = bl_samples_at(samples, from_ns);
    size_t end = bl_samples_at(samples, up.seen_ns) + 1;
    const double off = fmax(5 * noise / sqrt(MEAN_OF), ONSET_KPA / 2);
    const size_t departed = departure(samples, first, end, rest->value + off);
    if (departed >= end) {
        return foot;
    }
    size_t high_at = departed;
    while (high_at + 1 < end && !((double)samples->value[high_at] >= high)) {
        high_at++;
    }
    end = high_at + 3 < end ? high_at + 3 : end;
    const size_t before = 2 * (end - departed) + 60;
    const size_t begin = rest_begins(
        samples, departed - first > before ? departed - before : first,
        departed, rest->value, off);
    /* One block: x, y, the sums before each and behind the last, the fills. */
    const size_t points = POINTS + 2;
    double *room = bl_alloc((3 + FILLS) * points, sizeof(double));
    if (room != NULL) {
        struct rise rise = {
            .x = room,
            .y = room + points,
            .before = room + 2 * points,
            .shown = high_at - departed,
            .latest_s = (double)(latest_ns - samples->time_ns[end - 1]) * 1e-9};
        for (size_t k = 0; k < FILLS; k++) {
            rise.fill[k] = room + (3 + k) * points;
        }
        struct bl_rest rounded = *rest;
        rounded.noise = noise;
        gather(samples, begin, end, departed, &rounded, &rise);
        estimate(samples, &rise, samples->time_ns[end - 1], &foot);
        if (foot.found) {
            foot_in_gap(samples, &foot);
        }
    }
    bl_free(room);
    return foot;
}
