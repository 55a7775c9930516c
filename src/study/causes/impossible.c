/* SPDX-License-Identifier: MIT */
/*
 * Effects before their causes: channels exchanged or a clock wrong. No lag of
 * such a run means anything, so none is judged.
 */
#include "study/causes/causes.h"

#include "lag/as_one.h"
#include "lag/impossible.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

static const char next_of_clock[] =
    "Check the stated offset and its sign, whether capture and log are of the "
    "same run, and the order of the channels; give one unmistakable event on "
    "both recorders.";

static void output(struct bl_causing *c, size_t run, size_t unit, bool as_one)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double most = -INFINITY;
    double u = NAN;
    bool by_demand = false;
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        const struct bl_unit_lag *measured =
            bl_application_unit(application, unit);
        if (measured == NULL || !bl_application_usable(application)) {
            continue;
        }
        const struct bl_impossible one =
            bl_impossible_output(c->trial, run, application, measured, as_one);
        bl_excess_put(c, one.excess_s, one.u_s);
        if (one.excess_s > most) {
            most = one.excess_s;
            u = one.u_s;
        }
        by_demand = by_demand || one.by_demand;
    }
    if (c->excess.count == 0 ||
        bl_finding_judge(c->excess.value, c->excess.u, c->excess.count, NULL,
                         NULL) != BL_SHOWN_FOUND ||
        bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
                        (long)run) != NULL) {
        return; /* levels and lengths are judged elsewhere */
    }
    char text[128];
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_IMPLAUSIBLE_LAG, (long)unit, (long)run);
    bl_finding_say(
        f, "%s gets air before %s, by up to %.3f s: %s",
        bl_causes_unit(c, unit, text, sizeof(text)),
        by_demand ? "both its demand and the air at its coupling"
                  : "the air can be at its coupling, without power or data",
        most,
        by_demand ? "channels or a clock are wrong"
                  : "channels or a clock are wrong, or the run had power");
    bl_finding_evidence(f, "ahead of its cause, most", most, u, "s");
    if (f != NULL) {
        snprintf(f->next_check, sizeof(f->next_check), "%s", next_of_clock);
    }
    c->impossible[run] = true;
}

/* All demands before the driver, or all long behind him. */
static void demands(struct bl_causing *c, size_t run)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    const char *name = c->trial->run[run].name;
    for (int late = 0; late < 2 && !c->impossible[run]; late++) {
        double most = -INFINITY;
        double u = NAN;
        bl_excess_clear(c);
        for (size_t a = 0; a < lag->applications; a++) {
            const struct bl_application *application = &lag->application[a];
            if (!bl_application_usable(application)) {
                continue;
            }
            const struct bl_impossible one =
                late ? bl_doubtful_demand(c->trial, application)
                     : bl_impossible_demand(c->trial, application);
            bl_excess_put(c, one.excess_s, one.u_s);
            most = fmax(most, one.excess_s);
            u = one.u_s;
        }
        if (c->excess.count == 0 ||
            bl_finding_judge(c->excess.value, c->excess.u, c->excess.count,
                             NULL, NULL) != BL_SHOWN_FOUND) {
            continue;
        }
        struct bl_finding *f = bl_findings_add(
            c->into,
            late ? BL_FINDING_CLOCK_AMBIGUOUS : BL_FINDING_IMPLAUSIBLE_LAG,
            late ? BL_SHOWN_CANNOT_TELL : BL_SHOWN_FOUND, -1, (long)run);
        bl_finding_say(
            f,
            late ? "in run %s every demand comes more than %.2f s after the "
                   "command, and outputs before it: a demand that is late "
                   "everywhere and a wrong clock look alike"
                 : "in run %s every demand comes more than %.2f s before the "
                   "driver's own movement: a clock is wrong",
            name, late ? 0.5 : 0.3);
        bl_finding_evidence(f, "beyond that, most", most, u, "s");
        if (f != NULL) {
            snprintf(f->next_check, sizeof(f->next_check), "%s", next_of_clock);
        }
        c->impossible[run] = true;
    }
}

void bl_causes_impossible(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_run_lag *lag = c->run[r].lag;
        for (size_t u = 0; lag != NULL && u < c->trial->units; u++) {
            const bool as_one =
                bl_lag_as_one(lag, c->trial->unit[u].combination);
            if (c->trial->unit[u].outputs > 0) {
                output(c, r, u, as_one);
            }
        }
        if (lag != NULL) {
            demands(c, r);
        }
    }
}

/* What such a run says nothing of. */
static const enum bl_finding_code lags[] = {
    BL_FINDING_LATE_APPLY,         BL_FINDING_SLOW_FILL,
    BL_FINDING_LATE_RELEASE,       BL_FINDING_SLOW_RELEASE,
    BL_FINDING_CONTROL_LATE_APPLY, BL_FINDING_CONTROL_LATE_RELEASE,
    BL_FINDING_DEMAND_MISSING,     BL_FINDING_DEMAND_LATE,
    BL_FINDING_DEMAND_IGNORED,
};

static bool is_lag(enum bl_finding_code code)
{
    for (size_t i = 0; i < sizeof(lags) / sizeof(lags[0]); i++) {
        if (lags[i] == code) {
            return true;
        }
    }
    return false;
}

/* What was found or left open of such a run becomes "not looked for". */
void bl_causes_silence(struct bl_causing *c)
{
    size_t kept = 0;
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t i = 0;
             c->impossible[r] && i < sizeof(lags) / sizeof(lags[0]); i++) {
            bl_findings_forget(c->into, lags[i], (long)r);
        }
    }
    for (size_t i = 0; i < c->into->count; i++) {
        const struct bl_finding *f = &c->into->item[i];
        if (f->run >= 0 && c->impossible[f->run] && is_lag(f->code)) {
            bl_findings_missing(c->into, f->code, f->unit, f->run,
                                "a run without effects before their causes: "
                                "here channels or a clock are wrong, and lags "
                                "say nothing");
            continue;
        }
        if (kept < i) {
            c->into->item[kept] = c->into->item[i];
        }
        kept++;
    }
    c->into->count = kept;
}
