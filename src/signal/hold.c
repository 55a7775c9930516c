/* SPDX-License-Identifier: MIT */
/*
 * The settled stretch of a hold. The window is cut into cells of 0.1 s or
 * more; straight lines over any run of cells follow from the cells' sums.
 */
#include "signal/internal.h"

#include <math.h>

#include "signal/fit.h"

enum { CELLS = 512 };
static const double LEAST_S = 0.5, CELL_S = 0.1, SHARE_PER_S = 0.01;
/* Share by which a cell may lie off the mean of half a second of them (own
   choice: twice what the slope may make of that time). The top of an overshoot
   has no slope either. */
static const double SHARE_OFF = 0.01;

struct grid {
    struct bl_signal_sums cell[CELLS];
    size_t count, least; /* cells; cells of 0.5 s */
    int64_t from_ns;
    double cell_s, rest, noise;
};

static void fill(struct grid *grid, const struct bl_samples *samples,
                 int64_t from_ns, int64_t to_ns)
{
    const double length_s = (double)(to_ns - from_ns) * 1e-9;
    grid->from_ns = from_ns;
    grid->cell_s = fmax(CELL_S, length_s / (CELLS - 1));
    grid->least = (size_t)ceil(LEAST_S / grid->cell_s - 1e-9);
    grid->least = grid->least < 1 ? 1 : grid->least;
    grid->count = (size_t)(length_s / grid->cell_s + 1e-6);
    const size_t end = bl_samples_at(samples, to_ns);
    for (size_t i = bl_samples_at(samples, from_ns); i < end; i++) {
        const double x = (double)(samples->time_ns[i] - from_ns) * 1e-9;
        const size_t at = (size_t)(x / grid->cell_s);
        if (at < grid->count && !isnan(samples->value[i])) {
            bl_signal_sums_add(&grid->cell[at], x - length_s / 2,
                               samples->value[i] - grid->rest);
        }
    }
}

/* Is the run of `length` cells from `first` level enough? Noise alone gives a
   slope too: twice its standard error is forgiven. */
static bool level_enough(const struct grid *grid, size_t first, size_t length,
                         double *slope)
{
    double n = 0;
    double x = 0;
    double y = 0;
    double xx = 0;
    double xy = 0;
    for (size_t i = first; i < first + length; i++) {
        const struct bl_signal_sums *cell = &grid->cell[i];
        n += cell->n;
        x += cell->x;
        y += cell->y;
        xx += cell->x2;
        xy += cell->xy;
    }
    const double spread = xx - x * x / n;
    if (n < 3 || !(spread > 0)) {
        return false;
    }
    *slope = (xy - x * y / n) / spread;
    return fabs(*slope) <=
           SHARE_PER_S * fabs(y / n) + 2 * grid->noise / sqrt(spread);
}

/* Do the cells of half a second lie on their mean, or is it the top of a hump
   that has no slope? */
static bool flat(const struct grid *grid, size_t first)
{
    double n = 0;
    double y = 0;
    for (size_t i = first; i < first + grid->least; i++) {
        n += grid->cell[i].n;
        y += grid->cell[i].y;
    }
    for (size_t i = first; i < first + grid->least; i++) {
        const struct bl_signal_sums *cell = &grid->cell[i];
        const double room =
            SHARE_OFF * fabs(y / n) + 4 * grid->noise / sqrt(fmax(cell->n, 1));
        if (cell->n > 0 && !(fabs(cell->y / cell->n - y / n) <= room)) {
            return false;
        }
    }
    return true;
}

/* Longest run that is level as a whole and in each 0.5 s of it. */
static size_t longest(const struct grid *grid, size_t *first, double *slope)
{
    bool good[CELLS];
    size_t best = 0;
    double s = 0;
    for (size_t i = 0; i + grid->least <= grid->count; i++) {
        good[i] = level_enough(grid, i, grid->least, &s) && flat(grid, i);
    }
    for (size_t i = 0; i + grid->least <= grid->count; i++) {
        for (size_t j = i; j + grid->least <= grid->count && good[j]; j++) {
            const size_t length = j - i + grid->least;
            if (length > best && level_enough(grid, i, length, &s)) {
                best = length;
                *first = i;
                *slope = s;
            }
        }
    }
    return best;
}

struct bl_hold bl_hold_settled(const struct bl_samples *samples,
                               int64_t from_ns, int64_t to_ns, double rest,
                               double noise)
{
    struct bl_hold hold = {.value = NAN, .u = NAN};
    struct grid grid = {.rest = rest, .noise = noise};
    size_t first = 0;
    double slope = 0;
    if (to_ns <= from_ns || bl_samples_split(samples, from_ns, to_ns)) {
        return hold;
    }
    fill(&grid, samples, from_ns, to_ns);
    const size_t length = longest(&grid, &first, &slope);
    if (length == 0) {
        return hold;
    }
    const double start_s = (double)first * grid.cell_s;
    const double length_s = (double)length * grid.cell_s;
    hold.from_ns = from_ns + (int64_t)llround(start_s * 1e9);
    hold.to_ns = hold.from_ns + (int64_t)llround(length_s * 1e9);
    size_t used = 0;
    hold.value = bl_signal_level(samples, bl_samples_at(samples, hold.from_ns),
                                 bl_samples_at(samples, hold.to_ns), &used);
    if (isnan(hold.value)) {
        return hold;
    }
    hold.settled = true;
    const double white = 1.2533 * noise / sqrt((double)used);
    const double drift = fabs(slope) * length_s / sqrt(12);
    hold.u = hypot(hypot(white, drift), noise < 0.6 * samples->resolution
                                            ? samples->resolution / sqrt(12)
                                            : 0);
    return hold;
}
