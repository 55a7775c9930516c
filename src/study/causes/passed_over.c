/* SPDX-License-Identifier: MIT */
/*
 * A unit that does not brake in light applications by air while one behind it
 * does. The air has passed it, and what stands at the valve behind is less than
 * what stood at its own: opening pressures that add up along a chain explain
 * the last units, and not this one. By how much more it opens is not measured.
 */
#include "study/causes/causes.h"

#include "study/findings/fill.h"

struct passed {
    size_t silent, all; /* light applications: without output; of these */
    size_t behind;      /* in which this unit behind it braked */
    long unit;          /* -1: none */
};

static bool is_light(const struct bl_application *a)
{
    return bl_application_usable(a) && a->kind == BL_KIND_LIGHT;
}

/* The first one behind that braked, where air alone can have made it. */
static long braked_behind(const struct bl_causing *c,
                          const struct bl_application *a, size_t front)
{
    const struct bl_trial_unit *unit = c->trial->unit;
    for (size_t i = 0; i < a->units; i++) {
        const struct bl_unit_lag *other = &a->unit[i];
        if (unit[other->unit].combination == unit[front].combination &&
            unit[other->unit].number > unit[front].number &&
            other->responded == BL_YES && !bl_unit_begins_elsewhere(other)) {
            return (long)other->unit;
        }
    }
    return -1;
}

static struct passed count(const struct bl_causing *c, size_t run, size_t unit)
{
    struct passed out = {.unit = -1};
    const struct bl_run_lag *lag = c->run[run].lag;
    for (size_t i = 0; lag != NULL && i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        const struct bl_unit_lag *here =
            is_light(a) ? bl_application_unit(a, unit) : NULL;
        if (here == NULL || here->responded == BL_UNKNOWN) {
            continue;
        }
        out.all++;
        if (here->responded == BL_NO) {
            const long behind = braked_behind(c, a, unit);
            out.silent++;
            out.behind += behind >= 0;
            out.unit = behind >= 0 && out.unit < 0 ? behind : out.unit;
        }
    }
    return out;
}

/* Has another look a reason for it? */
static bool is_explained(const struct bl_causing *c, size_t unit)
{
    static const enum bl_finding_code codes[] = {
        BL_FINDING_NO_OUTPUT,        BL_FINDING_HIGH_THRESHOLD,
        BL_FINDING_AIR_PATH_SHUT,    BL_FINDING_LOW_HOLD,
        BL_FINDING_CHANNELS_SWAPPED, BL_FINDING_CHANNEL_DEAD,
        BL_FINDING_BELOW_THRESHOLD};
    for (size_t i = 0; i < c->into->count; i++) {
        const struct bl_finding *f = &c->into->item[i];
        for (size_t k = 0; k < sizeof(codes) / sizeof(codes[0]); k++) {
            if (f->code == codes[k] && (f->unit == (long)unit || f->unit < 0)) {
                return true;
            }
        }
    }
    return false;
}

void bl_causes_passed_over(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        const enum bl_trait_class by = bl_causes_class(c, r);
        for (size_t u = 0; by == BL_BY_AIR && u < c->trial->units; u++) {
            const struct passed seen = count(c, r, u);
            char here[128];
            char behind[128];
            if (seen.behind == 0 || 2 * seen.behind <= seen.all ||
                is_explained(c, u)) {
                continue;
            }
            struct bl_finding *f =
                bl_findings_add(c->into, BL_FINDING_HIGH_THRESHOLD,
                                BL_SHOWN_CANNOT_TELL, (long)u, (long)r);
            bl_finding_say(
                f,
                "%s does not brake in %zu of %zu light applications by air, "
                "although %s behind it does",
                bl_causes_unit(c, u, here, sizeof(here)), seen.behind, seen.all,
                bl_causes_unit(c, (size_t)seen.unit, behind, sizeof(behind)));
            bl_finding_note(f, "Raise the pressure by air in steps of 10 kPa "
                               "and read where each unit begins: its valve may "
                               "open at more than theirs.");
            if (f != NULL) {
                f->severity = BL_SEVERITY_WARNING; /* it may be a fault */
            }
        }
    }
}
