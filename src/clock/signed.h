/* SPDX-License-Identifier: MIT */
/*
 * Few events, both edges: three applications give three presses and three
 * releases on each side. docs/methods/clocks.md, "few applications".
 */
#ifndef BRAKELAG_SRC_CLOCK_SIGNED_H
#define BRAKELAG_SRC_CLOCK_SIGNED_H

#include "clock/pair.h"

/* Of one recorder: times of presses and releases, ascending, and from when to
   when it recorded. */
struct bl_signed_events {
    const double *on, *off;
    size_t ons, offs;
    double from_s, to_s;
};

/* As bl_clock_pair, for at most BL_SIGNED_MOST presses a side; more, and lists
   without releases, are TOO_FEW. Sets `releases` and `odds` of the result. */
enum { BL_SIGNED_MOST = 12 };
BL_MUST_CHECK enum bl_status
bl_clock_pair_signed(const struct bl_signed_events *a,
                     const struct bl_signed_events *b,
                     const struct bl_pair_options *options,
                     struct bl_pair_result *result, struct bl_error *error);

#endif
