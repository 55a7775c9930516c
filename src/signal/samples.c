/* SPDX-License-Identifier: MIT */
/* Access to sampled series: where a time lies, values between samples, parts,
   extremes. */
#include "signal/internal.h"

#include <math.h>

#include "base/alloc.h"
#include "base/number.h"

size_t bl_samples_at(const struct bl_samples *samples, int64_t time_ns)
{
    size_t low = 0;
    size_t high = samples->count;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (samples->time_ns[middle] < time_ns) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

size_t bl_signal_part(const struct bl_samples *samples, size_t index)
{
    size_t low = 0;
    size_t high = samples->parts;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (samples->part_start[middle] <= index) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return low;
}

bool bl_damage_between(const struct bl_damage *damage, size_t damages,
                       int64_t from_ns, int64_t to_ns)
{
    size_t low = 0;
    size_t high = damages;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (damage[middle].until_ns <= from_ns) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low < damages && damage[low].from_ns < to_ns;
}

bool bl_signal_gap(const struct bl_samples *samples, size_t a, size_t b)
{
    const int64_t from = samples->time_ns[a];
    const int64_t width = samples->time_ns[b] - from;
    if (samples->interval_ns > 0 &&
        (width > 3 * samples->interval_ns ||
         /* Cells are missing in between. */
         (b > a + 1 && 2 * width > 3 * samples->interval_ns))) {
        return true;
    }
    return samples->damages > 0 &&
           bl_damage_between(samples->damage, samples->damages, from,
                             from + width);
}

bool bl_samples_break(const struct bl_samples *samples, size_t index)
{
    return index > 0 && index < samples->count &&
           (bl_signal_gap(samples, index - 1, index) ||
            samples->time_ns[index] < samples->time_ns[index - 1] ||
            bl_signal_part(samples, index - 1) !=
                bl_signal_part(samples, index));
}

double bl_samples_value(const struct bl_samples *samples, int64_t time_ns)
{
    const size_t after = bl_samples_at(samples, time_ns);
    if (after == samples->count) {
        return NAN;
    }
    if (samples->time_ns[after] == time_ns) {
        return samples->value[after];
    }
    if (after == 0 || bl_signal_gap(samples, after - 1, after) ||
        bl_signal_part(samples, after - 1) != bl_signal_part(samples, after)) {
        return NAN;
    }
    const double width =
        (double)(samples->time_ns[after] - samples->time_ns[after - 1]);
    const double share =
        (double)(time_ns - samples->time_ns[after - 1]) / width;
    const double low = samples->value[after - 1];
    return low + share * (samples->value[after] - low);
}

bool bl_samples_split(const struct bl_samples *samples, int64_t from_ns,
                      int64_t to_ns)
{
    const size_t first = bl_samples_at(samples, from_ns);
    const size_t end = bl_samples_at(samples, to_ns);
    return end > first + 1 &&
           bl_signal_part(samples, first) != bl_signal_part(samples, end - 1);
}

double bl_signal_median(const struct bl_samples *samples, size_t first,
                        size_t end, size_t *used)
{
    size_t count = 0;
    *used = 0;
    if (end <= first) {
        return NAN;
    }
    float *copy = bl_alloc(end - first, sizeof(*copy));
    if (copy == NULL) {
        return NAN;
    }
    for (size_t i = first; i < end; i++) {
        if (!isnan(samples->value[i])) {
            copy[count++] = samples->value[i];
        }
    }
    const double median =
        count > 0 ? (double)bl_median_float(copy, count) : NAN;
    bl_free(copy);
    *used = count;
    return median;
}

double bl_signal_level(const struct bl_samples *samples, size_t first,
                       size_t end, size_t *used)
{
    const double median = bl_signal_median(samples, first, end, used);
    const double step = samples->resolution;
    if (isnan(median) || !(step > 0)) {
        return median;
    }
    /* Values are float32; a median midway between two steps is the answer. */
    const double low = median - step * 0.499;
    const double high = median + step * 0.499;
    size_t below = 0;
    size_t inside = 0;
    for (size_t i = first; i < end; i++) {
        below += samples->value[i] < low;
        inside += samples->value[i] >= low && samples->value[i] < high;
    }
    if (inside == 0) {
        return median;
    }
    const double share = ((double)*used / 2 - (double)below) / (double)inside;
    return median + step * (fmin(fmax(share, 0), 1) - 0.5);
}

/* Values so many standard deviations off are left out; the variance of a normal
   distribution cut there (textbook: 1 - 6 phi(3) / (2 Phi(3) - 1)). */
static const double TRIMMED = 3, TRIMMED_VARIANCE = 0.97334;

/* 1.4826 times the median distance from `centre`. `spread`: every value moved
   within a step of the resolution, evenly over all of them (multiples of the
   golden section, Weyl), as it may have been anywhere in it. */
static double median_distance(const struct bl_samples *samples, size_t first,
                              size_t end, double centre, double spread)
{
    size_t count = 0;
    double share = 0;
    float *copy = end > first ? bl_alloc(end - first, sizeof(*copy)) : NULL;
    if (copy == NULL) {
        return NAN;
    }
    for (size_t i = first; i < end; i++) {
        share += 0.6180339887498949;
        share -= share >= 1 ? 1 : 0;
        if (!isnan(samples->value[i])) {
            const double moved =
                (double)samples->value[i] + spread * (share - 0.5);
            copy[count++] = (float)fabs(moved - centre);
        }
    }
    const double mad =
        count > 0 ? 1.4826 * (double)bl_median_float(copy, count) : NAN;
    bl_free(copy);
    return mad;
}

/* In coarse steps most distances are one of few, and the middle one may be much
   too small or large: noise of 1.5 kPa in steps of 1 kPa about 0.6 kPa gave
   0.9. Then they are spread, which adds the variance of a step, and that is
   taken off. */
double bl_signal_mad(const struct bl_samples *samples, size_t first, size_t end,
                     double centre)
{
    const double step = samples->resolution;
    const double mad = median_distance(samples, first, end, centre, 0);
    if (!(mad < 4 * step)) {
        return mad;
    }
    const double spread = median_distance(samples, first, end, centre, step);
    const double rest = spread * spread - step * step / 12;
    return isnan(spread) ? NAN : rest > 0 ? sqrt(rest) : 0;
}

double bl_signal_noise(const struct bl_samples *samples, size_t first,
                       size_t end, double centre)
{
    const double step = samples->resolution;
    const double mad = bl_signal_mad(samples, first, end, centre);
    const double most = TRIMMED * fmax(mad, step / sqrt(12));
    double sum = 0;
    size_t count = 0;
    for (size_t i = first; i < end; i++) {
        const double off = fabs((double)samples->value[i] - centre);
        if (off <= most) { /* no missing value is */
            sum += off * off;
            count++;
        }
    }
    if (!(mad > 0) || count == 0) {
        return mad;
    }
    const double square =
        sum / (double)count / TRIMMED_VARIANCE - step * step / 12;
    return square > 0 ? sqrt(square) : 0;
}

struct bl_extent bl_samples_extent(const struct bl_samples *samples,
                                   int64_t from_ns, int64_t to_ns)
{
    struct bl_extent extent = {.median = NAN};
    const size_t first = bl_samples_at(samples, from_ns);
    const size_t end = bl_samples_at(samples, to_ns);
    for (size_t i = first; i < end; i++) {
        const double value = samples->value[i];
        if (isnan(value)) {
            continue;
        }
        if (!extent.known || value < extent.smallest) {
            extent.smallest = value;
            extent.smallest_ns = samples->time_ns[i];
        }
        if (!extent.known || value > extent.largest) {
            extent.largest = value;
            extent.largest_ns = samples->time_ns[i];
        }
        extent.known = true;
    }
    extent.median = bl_signal_median(samples, first, end, &extent.count);
    extent.known = extent.known && !isnan(extent.median);
    return extent;
}
