/* SPDX-License-Identifier: MIT */
/* Rounding, the low-pressure rule and the verdict: docs/methods/limits.md. */
#include "study/limits/judge.h"
#include "brakelag/limits.h"

#include "base/psi.h"

#include <math.h>

#define PSI BL_PSI_KPA

const char *bl_limit_class_name(enum bl_limit_class vehicle_class)
{
    static const char *const names[] = {
#define X(id, name, meaning) name,
        BL_LIMIT_CLASS_LIST(X)
#undef X
    };
    return names[vehicle_class];
}

const char *bl_limit_reason_name(enum bl_limit_reason reason)
{
    static const char *const names[] = {
#define X(id, name, meaning) name,
        BL_LIMIT_REASON_LIST(X)
#undef X
    };
    return names[reason];
}

const char *bl_limit_reason_meaning(enum bl_limit_reason reason)
{
    static const char *const meanings[] = {
#define X(id, name, meaning) meaning,
        BL_LIMIT_REASON_LIST(X)
#undef X
    };
    return meanings[reason];
}

const char *bl_limit_verdict_name(enum bl_limit_verdict verdict)
{
    static const char *const names[] = {"not-decided", "inside", "outside"};
    return names[verdict];
}

double bl_limit_round_tenth(double s)
{
    /* A double of 0.45 may lie just below it: a nanosecond is far finer than
       any figure. */
    const double hundredths = floor(s * 100 + 1e-7);
    return floor((hundredths + 5) / 10) / 10;
}

double bl_limit_apply_kpa(double most_kpa)
{
    return fmin(60 * PSI, 0.7 * most_kpa);
}

enum bl_limit_verdict bl_limit_judge(double low, double u_low, double high,
                                     double u_high, double limit, bool to_tenth)
{
    double least = low - 2 * u_low;
    double most = high + 2 * u_high;
    if (to_tenth) {
        least = bl_limit_round_tenth(least);
        most = bl_limit_round_tenth(most);
    }
    if (most <= limit + 1e-9) { /* NaN is not */
        return BL_LIMIT_INSIDE;
    }
    return least > limit + 1e-9 ? BL_LIMIT_OUTSIDE : BL_LIMIT_NOT_DECIDED;
}
