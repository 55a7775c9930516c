/* SPDX-License-Identifier: MIT */
/*
 * A unit with several outputs is judged by each of them alone: one that leaks
 * is not hidden by another that holds. The finding is that of the output which
 * stands out most, and its sentence names which ones do.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const struct bl_unit_lag *bl_causes_output(const struct bl_unit_lag *measured,
                                           size_t output)
{
    return measured == NULL || output >= measured->outputs
               ? measured
               : &measured->each[output];
}

bool bl_worst_put(struct bl_causing *c, struct bl_worst *worst, size_t output)
{
    const struct bl_excess *e = &c->excess;
    double ratio = NAN;
    size_t fired;
    const enum bl_shown shown =
        bl_finding_judge(e->value, e->u, e->count, &ratio, &fired);
    worst->seen += e->count > 0;
    if (e->count == 0) {
        return false;
    }
    if (shown == BL_SHOWN_FOUND && output < BL_WORST_OUTPUTS) {
        worst->found |= (uint64_t)1 << output;
    }
    const bool more = shown == BL_SHOWN_FOUND && worst->shown != shown;
    const bool less = worst->shown == BL_SHOWN_FOUND && shown != worst->shown;
    if (worst->seen > 1 && !more && (less || !(ratio > worst->ratio))) {
        return false;
    }
    worst->output = output;
    worst->shown = shown;
    worst->ratio = ratio;
    worst->fired = fired;
    worst->judged = e->count;
    return true;
}

struct bl_finding *bl_worst_judge(struct bl_causing *c,
                                  const struct bl_worst *worst,
                                  enum bl_finding_code code, long unit,
                                  long run)
{
    if (worst->seen == 0) {
        bl_findings_missing(c->into, code, unit, run, NULL);
        return NULL;
    }
    if (worst->shown == BL_SHOWN_NOT) {
        bl_findings_looked(c->into, code, unit, run);
        return NULL;
    }
    struct bl_finding *f =
        bl_findings_add(c->into, code, worst->shown, unit, run);
    if (f != NULL) {
        f->ratio = worst->ratio;
        f->fired = worst->fired;
        f->judged = worst->judged;
    }
    return f;
}

static const char *label_of(const struct bl_causing *c, size_t unit, size_t o)
{
    const struct bl_trial_input *output = &c->trial->unit[unit].output[o];
    return output->label != NULL  ? output->label
           : output->text != NULL ? output->text
                                  : "";
}

const char *bl_causes_at_outputs(const struct bl_causing *c, size_t unit,
                                 uint64_t which, char *text, size_t size)
{
    const size_t outputs = c->trial->unit[unit].outputs;
    size_t named = 0;
    text[0] = '\0';
    for (size_t o = 0; o < outputs && o < BL_WORST_OUTPUTS; o++) {
        named += which >> o & 1;
    }
    size_t left = named;
    for (size_t o = 0; named < outputs && o < outputs && left > 0; o++) {
        if ((which >> o & 1) == 0) {
            continue;
        }
        const size_t length = strlen(text);
        snprintf(text + length, size - length, "%s%.40s",
                 left == named
                     ? (named == 1 ? " at its output " : " at its outputs ")
                 : left == 1 ? " and "
                             : ", ",
                 label_of(c, unit, o));
        left--;
    }
    return text;
}

const char *bl_worst_outputs(const struct bl_causing *c, size_t unit,
                             const struct bl_worst *worst, char *text,
                             size_t size)
{
    const uint64_t own =
        worst->output < BL_WORST_OUTPUTS ? (uint64_t)1 << worst->output : 0;
    return bl_causes_at_outputs(
        c, unit, worst->shown == BL_SHOWN_FOUND ? worst->found : own, text,
        size);
}

const char *bl_causes_output_of(const struct bl_causing *c, size_t unit,
                                size_t output, char *text, size_t size)
{
    char name[BL_UNIT_CALLED];
    bl_causes_unit(c, unit, name, sizeof(name));
    if (c->trial->unit[unit].outputs < 2) {
        snprintf(text, size, "the output of %s", name);
    } else {
        snprintf(text, size, "output %.40s of %s", label_of(c, unit, output),
                 name);
    }
    return text;
}
