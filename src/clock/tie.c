/* SPDX-License-Identifier: MIT */
/*
 * What a tie does to a stamp, and how sure that is. Stamps may count from
 * 1970, so whole seconds are handled as integers.
 */
#include "brakelag/clock.h"
#include "clock/auto.h"

#include <math.h>
#include <string.h>

const char *bl_clock_claim_name(enum bl_clock_claim claim)
{
    switch (claim) {
    case BL_CLAIM_NONE:
        return "none";
    case BL_CLAIM_ABSOLUTE:
        return "absolute";
    case BL_CLAIM_BOUNDED:
        return "bounded";
    case BL_CLAIM_DIFFERENCES_ONLY:
        return "differences-only";
    case BL_CLAIM_AMBIGUOUS:
        return "ambiguous";
    }
    return "none";
}

struct bl_clock_tie bl_clock_own(void)
{
    return (struct bl_clock_tie){.method = "own", .claim = BL_CLAIM_ABSOLUTE};
}

static int64_t add_saturated(int64_t a, int64_t b)
{
    if (b > 0 && a > INT64_MAX - b) {
        return INT64_MAX;
    }
    if (b < 0 && a < INT64_MIN - b) {
        return INT64_MIN;
    }
    return a + b;
}

static int64_t to_ns(double s)
{
    if (!(fabs(s) < 9.2e9)) {
        return s > 0 ? INT64_MAX : INT64_MIN;
    }
    const double whole = floor(s);
    return add_saturated((int64_t)whole * INT64_C(1000000000),
                         (int64_t)floor((s - whole) * 1e9 + 0.5));
}

/* Seconds from b to a, without overflow. */
static double seconds_between(int64_t a, int64_t b)
{
    if ((b < 0 && a > INT64_MAX + b) || (b > 0 && a < INT64_MIN + b)) {
        return ((double)a - (double)b) * 1e-9;
    }
    return (double)(a - b) * 1e-9;
}

bool bl_clock_is_own(const struct bl_clock_tie *tie)
{
    return strcmp(tie->method, "own") == 0;
}

int64_t bl_clock_map(const struct bl_clock_tie *tie, int64_t time_ns)
{
    const double dt = seconds_between(time_ns, tie->t_first_ns);
    const int64_t moved = add_saturated(time_ns, to_ns(tie->offset_s));
    return add_saturated(moved, to_ns(tie->drift_ppm * 1e-6 * dt));
}

int64_t bl_clock_unmap(const struct bl_clock_tie *tie, int64_t time_ns)
{
    const int64_t back = to_ns(tie->offset_s);
    const int64_t moved =
        add_saturated(time_ns, back == INT64_MIN ? INT64_MAX : -back);
    const double dt = seconds_between(moved, tie->t_first_ns);
    const double drift = tie->drift_ppm * 1e-6;
    return add_saturated(moved, to_ns(-dt * drift / (1 + drift)));
}

double bl_clock_u(const struct bl_clock_tie *tie, int64_t time_ns)
{
    const double drift =
        tie->u_drift_ppm * 1e-6 * seconds_between(time_ns, tie->t_first_ns);
    const double square = tie->u_offset_s * tie->u_offset_s +
                          2 * tie->correlation * tie->u_offset_s * drift +
                          drift * drift;
    return sqrt(fmax(square, 0) + tie->u_bias_s * tie->u_bias_s);
}
