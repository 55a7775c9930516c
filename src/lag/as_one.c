/* SPDX-License-Identifier: MIT */
/* Transducers at one tee answer together, whatever the distance. */
#include "lag/as_one.h"

#include "lag/application.h"

#include <math.h>
#include <string.h>

/* Transducers at one tee differ by hose and sampling only, units by 10 ms and
   more from the first to the last: own choice. With two units there may be no
   line to speak of between them; three are needed. */
static const double as_one_s = 0.01;
enum { LEAST_UNITS = 3 };

static bool counts(const struct bl_application *a, char combination)
{
    return a->combination == combination && bl_application_usable(a);
}

bool bl_lag_as_one(const struct bl_run_lag *lag, char combination)
{
    size_t seen = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        double least = INFINITY;
        double most = -INFINITY;
        size_t n = 0;
        for (size_t u = 0;
             counts(application, combination) && u < application->units; u++) {
            if (application->unit[u].figure[BL_FIGURE_RESPONSE].known) {
                least = fmin(least,
                             application->unit[u].figure[BL_FIGURE_RESPONSE].s);
                most = fmax(most,
                            application->unit[u].figure[BL_FIGURE_RESPONSE].s);
                n++;
            }
        }
        if (n >= LEAST_UNITS && most - least > as_one_s) {
            return false;
        }
        seen += n >= LEAST_UNITS;
    }
    return seen > 0;
}

bool bl_lag_one_tee(const struct bl_trial *trial, size_t run,
                    const struct bl_run_lag *lag, char combination)
{
    const struct bl_trial_run *made = &trial->run[run];
    const char *condition =
        made->condition == NULL ? made->name : made->condition;
    return (condition != NULL && strcmp(condition, "reference") == 0) ||
           (lag != NULL && trial->units > 2 && made->power == BL_STATED_OFF &&
            bl_lag_as_one(lag, combination));
}
