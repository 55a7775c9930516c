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

static void count_one(const struct bl_reaching *r, size_t k, size_t index,
                      struct bl_reach_count *into)
{
    double begin;
    double end;
    if (!bl_reach_span(r, k, index, &begin, &end)) {
        return;
    }
    const struct bl_bus_series *s = r->series[k];
    const double nominal_s = r->into->unit[k].nominal_s;
    int64_t first_ns = 0;
    int64_t last_ns = 0;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        const double at = bl_reach_local(r, s->recording, g->first_ns);
        if (at >= begin && at < end) {
            into->without_value += g->state == BL_VALUE_VALID ? 0 : g->count;
            first_ns = into->frames == 0 ? g->first_ns : first_ns;
            last_ns = g->last_ns;
            into->frames += g->count;
        }
    }
    const double span_s = (double)(last_ns - first_ns) * 1e-9;
    const double expected = floor(span_s / nominal_s + 0.5) + 1;
    if (into->frames > 0 && nominal_s > 0 && expected > (double)into->frames) {
        into->lost = (uint64_t)(expected - (double)into->frames);
    }
}

enum bl_status bl_reach_count(struct bl_reaching *r, size_t k,
                              struct bl_error *error)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (r->lag == NULL || !unit->found) {
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
            count_one(r, k, i, into);
            bl_reach_move(r, k, i, into);
            unit->asked += into->asked;
            unit->moved += into->moved == BL_YES;
            if (!bl_reach_tied(r, r->series[k]->recording) &&
                into->without_value > 0) { /* hop.c could not place them */
                unit->invalid_braking += into->without_value;
                unit->invalid_application = unit->invalid_application == 0
                                                ? a->number
                                                : unit->invalid_application;
            }
        }
    }
    return BL_OK;
}
