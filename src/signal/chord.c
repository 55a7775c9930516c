/* SPDX-License-Identifier: MIT */
/*
 * How far the true curve may lie from the chord between the two samples around
 * a passage: docs/methods/uncertainty.md.
 */
#include "signal/view.h"

/* By how much the signal climbs from the sample outside the pair to the pair,
   on the earlier or the later side; NaN where that is not known. The sample may
   lie outside the window: where a search begins says nothing of the curve. */
static double step_beside(const struct bl_view *view,
                          const struct bl_view_pair *pair, bool early)
{
    const size_t inner =
        bl_view_index(view, early ? pair->before : pair->after);
    const bool down = early != view->backward;
    if (down ? inner == 0 : inner + 1 >= view->samples->count) {
        return NAN;
    }
    const size_t outer = down ? inner - 1 : inner + 1;
    const size_t first = down ? outer : inner;
    if (bl_signal_part(view->samples, outer) !=
            bl_signal_part(view->samples, inner) ||
        bl_signal_gap(view->samples, first, first + 1)) {
        return NAN;
    }
    const double rise = view->sign * ((double)view->samples->value[outer] -
                                      (double)view->samples->value[inner]);
    return early ? -rise : rise;
}

/* The signal is nearly at rest on one side of the pair, so that its climb began
   (or ended) at some place between the two samples. This is how much of their
   distance it may have taken. Where the climb goes on at the other side, by
   `on`, its slope between the two is taken to be twice that at most (own
   choice: brakes fill fastest at first), which leaves less room. */
static double turn_room(double step, double on)
{
    return on >= step / 2 ? 1 - step / (2 * fmax(step, on)) : 1;
}

/* The curve may lie off the chord by its bend, or, where it turns sharply at
   one of the two samples, by a corner in between. */
struct bl_chord bl_chord_beside(const struct bl_view *view,
                                const struct bl_view_pair *pair, double step,
                                double share)
{
    const double beside[2] = {step_beside(view, pair, true),
                              step_beside(view, pair, false)};
    struct bl_chord off = {0, 0};
    double error = 0;
    /* Of a bend, which is taken from three samples (1, -2, 1). */
    const double noise =
        sqrt(6) * hypot(view->noise, view->samples->resolution / sqrt(12));
    for (unsigned side = 0; side < 2; side++) {
        const double next = beside[side];
        if (isnan(next)) {
            continue;
        }
        const bool early = side == 0;
        const double left = early ? 1 - share : share;
        const double bend2 =
            (next - step) * (next - step) - 6 * view->noise * view->noise;
        const double bend = bend2 > 0 ? sqrt(bend2) : 0;
        error = fmax(error, bend * share * (1 - share) / (2 * step));
        if (bend > step / 2) {
            error = fmax(error, fmin(left, 1 - left) / 2);
        }
        if (step - next > step / 2 + 3 * noise) {
            /* Evenly in the room (GUM 4.3.7). A climb that begins here may also
               pause here, while the brakes' slack is taken up. */
            const double room = turn_room(step, beside[1 - side]);
            off.later += (early ? 1 : -1) * left * room / 2;
            off.u = hypot(off.u, (early ? fmax(left, 1 - left) : left) * room /
                                     sqrt(12));
        }
    }
    off.u = fmax(error, off.u);
    return off;
}
