/* SPDX-License-Identifier: MIT */
/*
 * Shelves: a signal that stays at a level for a while, as a brake does while
 * its slack is taken up. Means of neighbours say how long it cannot be told
 * from the level, its climb on both sides whether that is longer than a rise
 * takes.
 */
#include "signal/view.h"

enum { SHELF_MEAN_OF = 8 };

/* Mean of the heights from half of `many` before a position on. */
static double mean_height(const struct bl_view *view, size_t position,
                          size_t many)
{
    const size_t first = position > many / 2 ? position - many / 2 : 0;
    double sum = 0;
    double n = 0;
    for (size_t i = first; i < first + many && i < bl_view_count(view); i++) {
        if (!isnan(bl_view_height(view, i))) {
            sum += bl_view_height(view, i);
            n += 1;
        }
    }
    return n > 0 ? sum / n : 0;
}

/* How many samples from `from` on, forward or back, until a mean of `many` is
   beyond `off`; `most` where none is before that. */
static size_t until_beyond(const struct bl_view *view, size_t from,
                           bool forward, size_t many, double off, size_t most)
{
    for (size_t i = 1; i < most; i++) {
        if (forward ? from + i >= bl_view_count(view) : i > from) {
            break;
        }
        const size_t at = forward ? from + i : from - i;
        if (!bl_view_one_part(view, at, from)) {
            break;
        }
        const double mean = mean_height(view, at, many);
        if (forward ? mean > off : mean < -off) {
            return i;
        }
    }
    return most;
}

/* A level on which the signal stays for a while, as on the shelf where the
   brakes' slack is taken up, is passed somewhere on it: which of its samples
   comes first is chance. It is a shelf where the signal takes less than two
   thirds of the time for as many kPa on either side; a straight rise takes the
   same, a bent one longer on one side (own choice, by simulation of shelves,
   tests/unit/signal/onset_test.c). */
struct bl_stretch bl_stretch_at(const struct bl_view *view,
                                const struct bl_view_pair *clear,
                                int64_t origin)
{
    if (!clear->found || clear->after < clear->before + 2) {
        return (struct bl_stretch){.found = false};
    }
    size_t many = (clear->after - clear->before) / 4;
    many = many < 1 ? 1 : many > SHELF_MEAN_OF ? SHELF_MEAN_OF : many;
    const double off = bl_view_clearance(view) / sqrt((double)many);
    size_t before = clear->before;
    for (size_t i = clear->before; i <= clear->after; i++) {
        before = mean_height(view, i, many) < -off ? i : before;
    }
    size_t after = before + 1;
    while (after < clear->after && !(mean_height(view, after, many) > off)) {
        after++;
    }
    const size_t most = 2 * (after - before) / 3;
    const double from_s = bl_view_moment(view, before, origin);
    const double to_s = bl_view_moment(view, after, origin);
    const bool shelf =
        after - before > 2 * many &&
        until_beyond(view, before, false, many, 3 * off, most) < most &&
        until_beyond(view, after, true, many, 3 * off, most) < most;
    return (struct bl_stretch){true, shelf, from_s, to_s};
}
