/* SPDX-License-Identifier: MIT */
/*
 * A run that is declared with power and in which the towed units are later than
 * in earlier runs, the more the further back: that is how air travels. It is
 * one thing of the run, not a fault of each unit: docs/methods/causes.md.
 */
#include "study/causes/causes.h"

#include "study/findings/fill.h"

#include <math.h>
#include <string.h>

/* Own choice: by air the last of them is later by so many times what the first
   is, and by no less than this. */
static const double GROWS = 1.5;
static const double LEAST_S = 0.1;

struct late {
    size_t towed, units; /* with an output; of these, later */
    double first_s, last_s;
    bool grows;
    long rearmost;
};

static bool demand_recorded(const struct bl_causing *c, size_t run)
{
    const struct bl_run_data *data = c->run[run].data;
    for (size_t i = 0; data != NULL && i < data->series_count; i++) {
        if (data->series[i].signal->role == BL_ROLE_SERVICE_DEMAND &&
            data->series[i].steps.count > 0) {
            return true;
        }
    }
    return false;
}

/* By how much a finding says that the run is later than earlier ones, s; NaN
   where it rests on something else. */
static double later_s(const struct bl_finding *f)
{
    return f->evidences >= 2 && strcmp(f->evidence[0].label, BL_CAUSES_NOW) == 0
               ? f->evidence[0].value - f->evidence[1].value
               : NAN;
}

static double of_unit(const struct bl_causing *c, enum bl_finding_code code,
                      size_t unit, size_t run)
{
    for (size_t i = 0; i < c->into->count; i++) {
        const struct bl_finding *f = &c->into->item[i];
        if (f->code == code && f->shown == BL_SHOWN_FOUND &&
            f->unit == (long)unit && f->run == (long)run) {
            return later_s(f);
        }
    }
    return NAN;
}

/* Front to rear. */
static struct late look(const struct bl_causing *c, enum bl_finding_code code,
                        size_t run)
{
    struct late seen = {.grows = true, .rearmost = -1};
    long last_late = -1;
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trial_unit *unit = &c->trial->unit[u];
        if (unit->number == 0 || unit->outputs == 0) {
            continue;
        }
        seen.towed++;
        seen.rearmost = (long)u;
        const double s = of_unit(c, code, u, run);
        if (isnan(s)) {
            continue;
        }
        seen.grows = seen.grows && (seen.units == 0 || s > seen.last_s);
        seen.first_s = seen.units == 0 ? s : seen.first_s;
        seen.last_s = s;
        seen.units++;
        last_late = (long)u;
    }
    seen.grows = seen.grows && last_late == seen.rearmost;
    return seen;
}

/* All of them, but one near the front, where air and demand come together:
   where others are as quick as ever, they have power. */
static bool as_by_air(const struct late *seen)
{
    return seen->units >= 2 && seen->units + 1 >= seen->towed && seen->grows &&
           seen->last_s >= LEAST_S && seen->last_s >= GROWS * seen->first_s;
}

static bool rests_on(const struct bl_finding *f, size_t run)
{
    bool found = f->run == (long)run;
    for (size_t i = 0; i < f->alsos; i++) {
        found = found || f->also[i] == (long)run;
    }
    return found;
}

/* What a unit does in that run, alone or with others, says nothing about the
   unit. */
static void undecide(struct bl_causing *c, size_t run)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        const enum bl_finding_group group = bl_finding_kind(f->code)->group;
        if (rests_on(f, run) && f->unit >= 0 &&
            (group == BL_GROUP_UNIT || group == BL_GROUP_DEMAND ||
             group == BL_GROUP_AIR)) {
            f->shown = BL_SHOWN_CANNOT_TELL;
            f->severity = BL_SEVERITY_NOTE;
        }
    }
}

void bl_causes_together(struct bl_causing *c)
{
    static const struct {
        enum bl_finding_code code;
        const char *what;
    } looks[] = {{BL_FINDING_LATE_RELEASE, "release"},
                 {BL_FINDING_LATE_APPLY, "get their first air"}};
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_trial_run *run = &c->trial->run[r];
        if (c->run[r].lag == NULL || run->power != BL_STATED_ON ||
            demand_recorded(c, r)) {
            continue;
        }
        for (size_t k = 0; k < sizeof(looks) / sizeof(looks[0]); k++) {
            const struct late seen = look(c, looks[k].code, r);
            if (!as_by_air(&seen)) {
                continue;
            }
            undecide(c, r);
            struct bl_finding *f =
                bl_findings_add(c->into, BL_FINDING_CONDITION_NOT_MET,
                                BL_SHOWN_FOUND, -1, (long)r);
            bl_finding_say(
                f,
                "Run %s is declared with power, but %zu of %zu towed "
                "units %s later than in earlier runs, the more the "
                "further back, as by air alone",
                run->name, seen.units, seen.towed, looks[k].what);
            bl_finding_evidence(f, "later, the first of them", seen.first_s,
                                NAN, "s");
            bl_finding_evidence(f, "later, the last unit", seen.last_s, NAN,
                                "s");
            break;
        }
    }
}
