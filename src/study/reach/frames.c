/* SPDX-License-Identifier: MIT */
/*
 * Demand frames of each application: how many came and how many the span
 * between the first and the last of them should hold besides, at the usual
 * interval. Counted by segments of one value, those that begin between the
 * command's apply and release; the rest before the apply is not theirs.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"

#include <math.h>

static void count_one(const struct bl_reaching *r, size_t k,
                      const struct bl_application *a,
                      struct bl_reach_count *into)
{
    const struct bl_bus_series *s = r->series[k];
    const double nominal_s = r->into->unit[k].nominal_s;
    const double shift = (double)(r->lag->t0_ns - r->clocks->t0_ns) * 1e-9;
    const double begin = a->command_apply.s + shift;
    const double end =
        a->command_release.known ? a->command_release.s + shift : INFINITY;
    int64_t first_ns = 0;
    int64_t last_ns = 0;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        const double at = bl_reach_time(r, s->recording, g->first_ns);
        if (at >= begin && at < end) {
            first_ns = into->frames == 0 ? g->first_ns : first_ns;
            last_ns = g->last_ns;
            into->frames += g->count;
        }
    }
    const double span_s = (double)(last_ns - first_ns) * 1e-9;
    const double expected = floor(span_s / nominal_s + 0.5) + 1;
    if (into->frames > 0 && expected > (double)into->frames) {
        into->lost = (uint64_t)(expected - (double)into->frames);
    }
}

enum bl_status bl_reach_count(struct bl_reaching *r, size_t k,
                              struct bl_error *error)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (r->lag == NULL || !unit->found || !(unit->nominal_s > 0)) {
        return BL_OK;
    }
    unit->count = bl_alloc(r->lag->applications, sizeof(*unit->count));
    if (unit->count == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < r->lag->applications; i++) {
        const struct bl_application *a = &r->lag->application[i];
        if (a->combination == r->trial->unit[unit->unit].combination &&
            a->command_apply.known) {
            struct bl_reach_count *into = &unit->count[unit->counts++];
            into->application = a->number;
            count_one(r, k, a, into);
        }
    }
    return BL_OK;
}
