/* SPDX-License-Identifier: MIT */
/*
 * What a late unit most probably has, from the pattern over onset, fill and
 * condition: the table of docs/methods/causes.md.
 */
#include "study/causes/causes.h"

#include <stdio.h>

static const char *suspect(const struct bl_causing *c,
                           const struct bl_finding *late)
{
    bool powered = false;
    bool unpowered = false;
    bool late_powered = false;
    bool late_unpowered = false;
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag == NULL) {
            continue;
        }
        const bool is = bl_causes_powered(c, r);
        const bool also =
            bl_causes_found(c, late->code, late->unit, (long)r) != NULL;
        powered = powered || is;
        unpowered = unpowered || !is;
        late_powered = late_powered || (is && also);
        late_unpowered = late_unpowered || (!is && also);
    }
    if (late_powered && late_unpowered) {
        return "Late powered and unpowered: suspect a control line that is "
               "long, restricted or kinked, a coupling half seated, a blocked "
               "filter.";
    }
    if (late_powered && unpowered) {
        return "Late only when powered: the electronic demand may not be used "
               "(no power, no data, a fault), and the unit runs on its air.";
    }
    if (late_unpowered && powered) {
        return "Late only without power: suspect a control line that "
               "electronics hide, or the normal travel of air.";
    }
    return NULL;
}

/* A rise without command after the release looks like a slow release. */
static void undecide_release(struct bl_causing *c)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        if (f->code == BL_FINDING_SLOW_RELEASE &&
            bl_causes_found(c, BL_FINDING_OUTPUT_WITHOUT_COMMAND, f->unit,
                            f->run) != NULL) {
            f->shown = BL_SHOWN_CANNOT_TELL;
        }
    }
}

void bl_causes_explain(struct bl_causing *c)
{
    undecide_release(c);
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        if (f->code != BL_FINDING_LATE_APPLY || f->shown != BL_SHOWN_FOUND ||
            f->severity == BL_SEVERITY_NOTE) {
            continue;
        }
        const bool slow =
            bl_causes_found(c, BL_FINDING_SLOW_FILL, f->unit, f->run) != NULL;
        const char *text = slow ? NULL : suspect(c, f);
        if (text != NULL) {
            char whole[2 * BL_FINDING_TEXT_MAX];
            snprintf(whole, sizeof(whole), "%s %s", text, f->next_check);
            snprintf(f->next_check, sizeof(f->next_check), "%.*s",
                     BL_FINDING_TEXT_MAX - 1, whole);
        }
    }
}
