/* SPDX-License-Identifier: MIT */
/* The quiet stretch before an application: median and noise. */
#include "signal/internal.h"

#include <math.h>

#include "base/alloc.h"
#include "base/number.h"

enum { REST_LEAST_SAMPLES = 8, REST_QUARTERS_FROM = 32 };

/* 1.4826 times the median distance from the line that has the value `middle`
   in the middle of first..end-1 and climbs by `step` a sample. */
static double mad_about_line(const struct bl_samples *samples, size_t first,
                             size_t end, double middle, double step)
{
    const double centre = ((double)first + (double)(end - 1)) / 2;
    size_t count = 0;
    float *copy = bl_alloc(end - first, sizeof(*copy));
    if (copy == NULL) {
        return NAN;
    }
    for (size_t i = first; i < end; i++) {
        const double line = middle + step * ((double)i - centre);
        if (!isnan(samples->value[i])) {
            copy[count++] = (float)fabs((double)samples->value[i] - line);
        }
    }
    const double mad =
        count > 0 ? 1.4826 * (double)bl_median_float(copy, count) : NAN;
    bl_free(copy);
    return mad;
}

/* Noise of first..end-1 about `centre`, its median. What climbs or falls is no
   noise: where the medians of its halves differ by more than the whole spreads,
   it is what is left about the line through them. A bare slope of height h has
   halves h / 2 apart and spreads by 0.37 h; those of normal noise differ by
   2.5 / sqrt(n) of it (standard error of a median, textbook). Never more than
   the spread: a stretch that begins in a fall is not excused by it. */
static double noise_within(const struct bl_samples *samples, size_t first,
                           size_t end, double centre)
{
    const double whole = bl_signal_mad(samples, first, end, centre);
    const size_t middle = first + (end - first) / 2;
    size_t used = 0;
    const double early = bl_signal_median(samples, first, middle, &used);
    const double late = bl_signal_median(samples, middle, end, &used);
    if (!(fabs(late - early) > whole)) {
        return whole;
    }
    const double step = 2 * (late - early) / (double)(end - first);
    return fmin(whole,
                mad_about_line(samples, first, end, (early + late) / 2, step));
}

/* A stretch by its quarters, or its halves where there are few samples. */
struct parted {
    size_t parts, length; /* the last part is longer by what is left */
    size_t first, end;
    double median[4];
};

static size_t end_of(const struct parted *by, size_t part)
{
    return part + 1 == by->parts ? by->end
                                 : by->first + (part + 1) * by->length;
}

/* Judged inside the parts: over the whole stretch a slope or a dip would count
   as noise and excuse itself. */
static double noise_of(const struct bl_samples *samples,
                       const struct parted *by)
{
    double noise = 0;
    for (size_t i = 0; i < by->parts; i++) {
        noise += noise_within(samples, by->first + i * by->length,
                              end_of(by, i), by->median[i]) /
                 (double)by->parts;
    }
    return fmax(noise, samples->resolution / sqrt(12));
}

/* Is first..end-1 level? Medians of its parts are compared. What differs by no
   more than the tolerance is level whatever the noise, which costs more than
   all the rest. */
static bool quiet(const struct bl_samples *samples, size_t first, size_t end,
                  double tolerance, double *half_difference)
{
    if (end < first + REST_LEAST_SAMPLES) {
        return false;
    }
    const size_t parts = end - first < REST_QUARTERS_FROM ? 2 : 4;
    struct parted by = {parts, (end - first) / parts, first, end, {0}};
    size_t present = 0;
    bool all = true;
    for (size_t i = 0; i < parts; i++) {
        size_t used = 0;
        by.median[i] = bl_signal_median(samples, first + i * by.length,
                                        end_of(&by, i), &used);
        all = all && !isnan(by.median[i]);
        present += used;
    }
    /* A rise that has just begun moves only the last few samples. */
    const size_t tail = by.length / 4 < 3 ? 3 : by.length / 4;
    size_t used = 0;
    const double last = bl_signal_median(samples, end - tail, end, &used);
    double low = last;
    double high = last;
    for (size_t i = 0; i < parts; i++) {
        low = fmin(low, by.median[i]);
        high = fmax(high, by.median[i]);
    }
    if (!all || isnan(last) || present < REST_LEAST_SAMPLES) {
        return false;
    }
    const double before = (by.median[0] + by.median[parts / 2 - 1]) / 2;
    const double after = (by.median[parts / 2] + by.median[parts - 1]) / 2;
    *half_difference = fabs(after - before);
    return high - low <= tolerance || high - low <= 2 * noise_of(samples, &by);
}

static struct bl_rest measure(const struct bl_samples *samples, size_t first,
                              size_t end, double half_difference)
{
    struct bl_rest rest = {.value = NAN, .noise = NAN, .u = NAN};
    const double floor = samples->resolution / sqrt(12);
    rest.value = bl_signal_level(samples, first, end, &rest.count);
    const double noise = bl_signal_noise(samples, first, end, rest.value);
    if (isnan(rest.value) || isnan(noise)) {
        return rest;
    }
    rest.known = true;
    rest.noise = fmax(noise, floor);
    /* 1.2533: the median's standard error against the mean's. Slow noise does
       not average like that; the halves show it. Values that hardly leave one
       step of the resolution do not average either. */
    const double white = 1.2533 * rest.noise / sqrt((double)rest.count);
    rest.u = fmax(white, half_difference / 2);
    if (noise < samples->resolution / 2) {
        rest.u = hypot(rest.u, floor);
    }
    rest.from_ns = samples->time_ns[first];
    rest.to_ns = samples->time_ns[end - 1] + 1;
    return rest;
}

/* The row behind the last wide gap of first..end; `first` where there is none.
   What lies on either side of one may be two things: a tail that vents, and
   rest long before. */
static size_t behind_gap(const struct bl_samples *samples, size_t first,
                         size_t end, int64_t wide_ns)
{
    size_t i = end - 1;
    while (i > first &&
           samples->time_ns[i] - samples->time_ns[i - 1] < wide_ns) {
        i--;
    }
    return i;
}

/* A quiet stretch of samples, and how far its halves differ. */
struct stretch {
    size_t first, end;
    double half_difference;
};

/* It begins earlier, longer by half each time, while it stays quiet. */
static void lengthen(const struct bl_samples *samples, struct stretch *at,
                     size_t least_first, int64_t most_ns, double tolerance)
{
    const int64_t end_ns = samples->time_ns[at->end - 1] + 1;
    for (;;) {
        const int64_t length = end_ns - samples->time_ns[at->first];
        int64_t wanted = length + length / 2;
        wanted = wanted < most_ns ? wanted : most_ns;
        size_t longer = bl_samples_at(samples, end_ns - wanted);
        longer = longer < least_first ? least_first : longer;
        double difference = 0;
        if (longer >= at->first ||
            !quiet(samples, longer, at->end, tolerance, &difference)) {
            return;
        }
        at->first = longer;
        at->half_difference = difference;
    }
}

struct bl_rest bl_rest_before(const struct bl_samples *samples, int64_t from_ns,
                              int64_t to_ns, int64_t least_ns, int64_t most_ns,
                              double tolerance)
{
    const struct bl_rest none = {.value = NAN, .noise = NAN, .u = NAN};
    const size_t window = bl_samples_at(samples, from_ns);
    size_t end = bl_samples_at(samples, to_ns);
    while (end > window) {
        const int64_t end_ns = samples->time_ns[end - 1] + 1;
        const size_t part = bl_signal_part(samples, end - 1);
        size_t least_first = window;
        if (samples->parts > 0 && samples->part_start[part] > least_first) {
            least_first = samples->part_start[part];
        }
        /* The last sample stands for an interval of its own. */
        const int64_t start_ns = end_ns + samples->interval_ns - least_ns;
        size_t first = bl_samples_at(samples, start_ns);
        while (first > least_first &&
               end - first < (size_t)REST_LEAST_SAMPLES) {
            first--;
        }
        double difference = 0;
        const int64_t wide_ns = least_ns / 2 + 2 * samples->interval_ns;
        if (first >= least_first) {
            least_first = behind_gap(samples, least_first, end, wide_ns);
        }
        const bool long_enough =
            first > least_first || samples->time_ns[least_first] <= start_ns;
        if (first >= least_first && long_enough &&
            quiet(samples, first, end, tolerance, &difference)) {
            struct stretch at = {first, end, difference};
            lengthen(samples, &at, least_first, most_ns, tolerance);
            return measure(samples, at.first, at.end, at.half_difference);
        }
        size_t earlier = bl_samples_at(samples, end_ns - 1 - least_ns / 8);
        end = earlier < end ? earlier : end - 1;
        if (!long_enough || first < least_first) {
            end = least_first < end ? least_first : end;
        }
    }
    return none;
}
