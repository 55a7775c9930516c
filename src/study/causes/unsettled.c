/* SPDX-License-Identifier: MIT */
/*
 * Fills that had not ended when the command let go: later than a bound. One
 * that is beyond its tolerance shows it; any other leaves the question open,
 * which must not pass for "looked for, not there".
 */
#include "study/causes/causes.h"

#include "base/array.h"
#include "base/limits.h"
#include "base/sure.h"
#include "study/findings/fill.h"

#include <math.h>

bool bl_excess_put_bound(struct bl_causing *c, double value, double u)
{
    if (value > BL_SURE_U * u) { /* what bl_finding_judge asks */
        bl_excess_put(c, value, u);
        return true;
    }
    c->excess.open += isfinite(value) && isfinite(u);
    return false;
}

void bl_causes_leave_open(struct bl_causing *c, enum bl_finding_code code,
                          long unit, long run)
{
    if (c->failed || !bl_grow(&c->open, &c->open_capacity, c->opens + 1,
                              sizeof(*c->open), BL_LIMIT_FINDINGS)) {
        c->failed = true;
        return;
    }
    c->open[c->opens++] = (struct bl_open){code, unit, run, c->excess.open,
                                           c->excess.open + c->excess.count};
}

static bool answered(const struct bl_causing *c, const struct bl_open *open)
{
    for (size_t i = 0; i < c->into->count; i++) {
        const struct bl_finding *f = &c->into->item[i];
        if (f->code == open->code && f->unit == open->unit &&
            f->run == open->run) {
            return true;
        }
    }
    return false;
}

/* After all looks at times: another one may have found it. */
void bl_causes_unsettled(struct bl_causing *c)
{
    for (size_t i = 0; i < c->opens; i++) {
        const struct bl_open *open = &c->open[i];
        char text[128];
        if (answered(c, open)) {
            continue;
        }
        struct bl_finding *f = bl_findings_add(
            c->into, open->code, BL_SHOWN_CANNOT_TELL, open->unit, open->run);
        bl_finding_note(f,
                        "Hold longer: until every output has settled and for "
                        "half a second more. Then measure again.");
        bl_finding_say(
            f,
            "%s: in %zu of %zu applications an output had not "
            "settled when the command was let go, so that its fill "
            "is only known to take longer than was seen",
            bl_causes_unit(c, (size_t)open->unit, text, sizeof(text)), open->n,
            open->out_of);
    }
}
