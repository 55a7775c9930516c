/* SPDX-License-Identifier: MIT */
/* Where each code was looked for, so that nothing is called both looked for and
   not looked for in one unit and run. */
#include "study/findings/fill.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <stdlib.h>

/* Every code of every unit in every run, a few times over. */
static const size_t most_places = 64 * (size_t)BL_LIMIT_FINDINGS;

void bl_findings_looked(struct bl_findings *list, enum bl_finding_code code,
                        long unit, long run)
{
    list->looked[code]++;
    if (list->failed ||
        !bl_grow(&list->place, &list->place_capacity, list->places + 1,
                 sizeof(*list->place), most_places)) {
        list->failed = true;
        return;
    }
    list->place[list->places++] = (struct bl_looked_for){code, unit, run};
}

void bl_findings_forget(struct bl_findings *list, enum bl_finding_code code,
                        long run)
{
    size_t kept = 0;
    for (size_t i = 0; i < list->places; i++) {
        if (list->place[i].code == code && list->place[i].run == run) {
            list->looked[code]--;
        } else {
            list->place[kept++] = list->place[i];
        }
    }
    list->places = kept;
}

static int by_place(const void *a, const void *b)
{
    const struct bl_looked_for *x = a;
    const struct bl_looked_for *y = b;
    if (x->code != y->code) {
        return x->code < y->code ? -1 : 1;
    }
    if (x->unit != y->unit) {
        return x->unit < y->unit ? -1 : 1;
    }
    return (x->run > y->run) - (x->run < y->run);
}

static bool looked_at(const struct bl_findings *list,
                      const struct bl_not_looked_for *one)
{
    const struct bl_looked_for key = {one->code, one->unit, one->run};
    if (list->places == 0) {
        return false;
    }
    if (bsearch(&key, list->place, list->places, sizeof(key), by_place) !=
        NULL) {
        return true;
    }
    bool any = false;
    for (size_t i = 0; one->run < 0 && i < list->places; i++) {
        any = any || (list->place[i].code == one->code &&
                      list->place[i].unit == one->unit);
    }
    return any;
}

void bl_findings_part(struct bl_findings *list)
{
    size_t kept = 0;
    if (list->places > 1) {
        qsort(list->place, list->places, sizeof(*list->place), by_place);
    }
    for (size_t i = 0; i < list->missing_count; i++) {
        if (!looked_at(list, &list->missing[i])) {
            list->missing[kept++] = list->missing[i];
        }
    }
    list->missing_count = kept;
}
