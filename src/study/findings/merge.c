/* SPDX-License-Identifier: MIT */
/* What several runs show alike is one finding that names them. */
#include "study/findings/fill.h"

#include <math.h>
#include <string.h>

static bool alike(const struct bl_finding *a, const struct bl_finding *b)
{
    return a->code == b->code && a->unit == b->unit &&
           a->channel == b->channel && a->severity == b->severity &&
           a->shown == b->shown && a->run >= 0 && b->run >= 0;
}

static bool names_run(const struct bl_finding *f, long run)
{
    bool named = f->run == run;
    for (size_t i = 0; i < f->alsos; i++) {
        named = named || f->also[i] == run;
    }
    return named;
}

static double weight(const struct bl_finding *f)
{
    return isnan(f->ratio) ? 0 : f->ratio;
}

/* Add run `run` behind, kept in order. */
static void name_run(struct bl_finding *f, long run)
{
    if (run < f->run) {
        const long first = f->run;
        f->run = run;
        run = first;
    }
    size_t at = f->alsos++;
    for (; at > 0 && f->also[at - 1] > run; at--) {
        f->also[at] = f->also[at - 1];
    }
    f->also[at] = run;
}

static bool fits(const struct bl_finding *into, const struct bl_finding *from)
{
    bool fits = into->alsos + from->alsos + 1 <= BL_FINDING_RUNS_MAX &&
                into->evidences + from->evidences <= BL_EVIDENCE_MAX &&
                !names_run(into, from->run);
    for (size_t i = 0; i < from->alsos; i++) {
        fits = fits && !names_run(into, from->also[i]);
    }
    return fits;
}

static void join(struct bl_finding *into, const struct bl_finding *from)
{
    if (weight(from) > weight(into)) {
        memcpy(into->text, from->text, sizeof(into->text));
        memcpy(into->next_check, from->next_check, sizeof(into->next_check));
        into->caution = from->caution;
        into->ratio = from->ratio;
    }
    memcpy(&into->evidence[into->evidences], from->evidence,
           from->evidences * sizeof(from->evidence[0]));
    into->evidences += from->evidences;
    into->evidences_dropped += from->evidences_dropped;
    into->fired += from->fired;
    into->judged += from->judged;
    name_run(into, from->run);
    for (size_t i = 0; i < from->alsos; i++) {
        name_run(into, from->also[i]);
    }
}

void bl_findings_merge(struct bl_findings *list)
{
    size_t kept = 0;
    for (size_t i = 0; i < list->count; i++) {
        const struct bl_finding *finding = &list->item[i];
        size_t k = 0;
        while (k < kept && !(alike(&list->item[k], finding) &&
                             fits(&list->item[k], finding))) {
            k++;
        }
        if (k < kept) {
            join(&list->item[k], finding);
        } else if (kept != i) {
            list->item[kept++] = *finding;
        } else {
            kept++;
        }
    }
    list->count = kept;
}
