/* SPDX-License-Identifier: MIT */
/* The quiet stretch before an application: median and noise. */
#include "signal/internal.h"

#include <math.h>

enum { REST_LEAST_SAMPLES = 8, REST_QUARTERS_FROM = 32 };

/* A stretch that spreads so many times wider than one value lies from the next
   climbs or falls. Noise alone gives 0.9, a slope of n values n / 2.7. Own
   choice between the two. */
static const double slope_spread = 3;

static double mean_step(const struct bl_samples *samples, size_t first,
                        size_t end)
{
    double sum = 0;
    size_t count = 0;
    for (size_t i = first; i + 1 < end; i++) {
        const double step =
            fabs((double)samples->value[i + 1] - (double)samples->value[i]);
        if (!isnan(step)) {
            sum += step;
            count++;
        }
    }
    return count == 0 ? NAN : sum / (double)count;
}

/* Noise of first..end-1 about `centre`, its median. What climbs or falls there
   is no noise: each half is then seen from a median of its own. */
static double noise_within(const struct bl_samples *samples, size_t first,
                           size_t end, double centre)
{
    const double whole = bl_signal_mad(samples, first, end, centre);
    const double step =
        fmax(mean_step(samples, first, end), samples->resolution);
    const size_t middle = first + (end - first) / 2;
    size_t used = 0;
    const double early = bl_signal_median(samples, first, middle, &used);
    const double late = bl_signal_median(samples, middle, end, &used);
    if (isnan(early) || isnan(late) || !(whole > slope_spread * step) ||
        !(fabs(late - early) > whole)) {
        return whole;
    }
    return (bl_signal_mad(samples, first, middle, early) +
            bl_signal_mad(samples, middle, end, late)) /
           2;
}

/* Is first..end-1 level? Medians of its quarters (of its halves, where there
   are few samples) are compared. Noise is judged inside them: over the whole
   stretch a slope or a dip would count as noise and excuse itself. */
static bool quiet(const struct bl_samples *samples, size_t first, size_t end,
                  double tolerance, double *half_difference)
{
    if (end < first + REST_LEAST_SAMPLES) {
        return false;
    }
    const size_t parts = end - first < REST_QUARTERS_FROM ? 2 : 4;
    const size_t length = (end - first) / parts;
    double median[4];
    double noise = 0;
    size_t present = 0;
    for (size_t i = 0; i < parts; i++) {
        const size_t from = first + i * length;
        const size_t to = i + 1 == parts ? end : from + length;
        size_t used = 0;
        median[i] = bl_signal_median(samples, from, to, &used);
        noise += noise_within(samples, from, to, median[i]) / (double)parts;
        present += used;
    }
    /* A rise that has just begun moves only the last few samples. */
    const size_t tail = length / 4 < 3 ? 3 : length / 4;
    size_t used = 0;
    const double last = bl_signal_median(samples, end - tail, end, &used);
    double low = last;
    double high = last;
    for (size_t i = 0; i < parts; i++) {
        low = fmin(low, median[i]);
        high = fmax(high, median[i]);
    }
    if (isnan(noise) || isnan(last) || present < REST_LEAST_SAMPLES) {
        return false;
    }
    noise = fmax(noise, samples->resolution / sqrt(12));
    const double before = (median[0] + median[parts / 2 - 1]) / 2;
    const double after = (median[parts / 2] + median[parts - 1]) / 2;
    *half_difference = fabs(after - before);
    return high - low <= fmax(2 * noise, tolerance);
}

static struct bl_rest measure(const struct bl_samples *samples, size_t first,
                              size_t end, double half_difference)
{
    struct bl_rest rest = {.value = NAN, .noise = NAN, .u = NAN};
    const double floor = samples->resolution / sqrt(12);
    rest.value = bl_signal_level(samples, first, end, &rest.count);
    const double noise = bl_signal_mad(samples, first, end, rest.value);
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

/* Earliest start of a quiet stretch that ends at `end`: longer by half each
   time while it stays quiet. */
static size_t lengthen(const struct bl_samples *samples, size_t least_first,
                       size_t first, size_t end, int64_t most_ns,
                       double tolerance, double *half_difference)
{
    const int64_t end_ns = samples->time_ns[end - 1] + 1;
    for (;;) {
        const int64_t length = end_ns - samples->time_ns[first];
        int64_t wanted = length + length / 2;
        wanted = wanted < most_ns ? wanted : most_ns;
        size_t longer = bl_samples_at(samples, end_ns - wanted);
        longer = longer < least_first ? least_first : longer;
        double difference = 0;
        if (longer >= first ||
            !quiet(samples, longer, end, tolerance, &difference)) {
            return first;
        }
        first = longer;
        *half_difference = difference;
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
        const bool long_enough =
            first > least_first || samples->time_ns[least_first] <= start_ns;
        if (first >= least_first && long_enough &&
            quiet(samples, first, end, tolerance, &difference)) {
            first = lengthen(samples, least_first, first, end, most_ns,
                             tolerance, &difference);
            return measure(samples, first, end, difference);
        }
        size_t earlier = bl_samples_at(samples, end_ns - 1 - least_ns / 8);
        end = earlier < end ? earlier : end - 1;
        if (!long_enough || first < least_first) {
            end = least_first < end ? least_first : end;
        }
    }
    return none;
}
