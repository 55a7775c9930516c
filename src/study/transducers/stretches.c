/* SPDX-License-Identifier: MIT */
/* How far two transducers part over time: equal stretches of the run, each with
   its extremes, so that nothing that happened is smoothed away. */
#include "study/transducers/pair.h"

#include "base/number.h"

#include <math.h>

void bl_pair_stretches(struct bl_pair *out, const struct bl_pair_data *pair,
                       const struct bl_pair_rules *rules)
{
    const double first = pair->time_s[0];
    const double width =
        (pair->time_s[pair->n - 1] - first) / BL_PAIR_STRETCHES;
    out->stretches = 0;
    if (!(width > 0)) {
        return;
    }
    size_t i = 0;
    for (size_t k = 0; k < BL_PAIR_STRETCHES; k++) {
        const double to = first + width * (double)(k + 1);
        struct bl_pair_stretch s = {first + width * (double)k,
                                    to,
                                    INFINITY,
                                    NAN,
                                    -INFINITY,
                                    -INFINITY,
                                    NAN};
        size_t n = 0;
        for (; i < pair->n &&
               (pair->time_s[i] < to || k + 1 == BL_PAIR_STRETCHES);
             i++) {
            const double apart = pair->b[i] - pair->a[i];
            s.least = fmin(s.least, apart);
            s.most = fmax(s.most, apart);
            s.pressure = fmax(s.pressure, (pair->a[i] + pair->b[i]) / 2);
            pair->scratch[n++] = apart;
        }
        if (n > 0) {
            s.middle = bl_median(pair->scratch, n);
            s.may_differ = fmax(rules->tolerance_kpa,
                                rules->tolerance_fraction * s.pressure);
            out->stretch[out->stretches++] = s;
        }
    }
}
