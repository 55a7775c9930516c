/* SPDX-License-Identifier: MIT */
/*
 * Where the time of a unit's response goes: command, demand on the first link,
 * demand on the unit's own link, the unit's report that it brakes, its output.
 * Every event is a time point with its own uncertainty; a leg is the difference
 * of two, in which what both share (the command, one recorder's clock) cancels.
 */
#include "lag/unit.h"

#include "lag/budget.h"
#include "lag/doubt.h"
#include "lag/rules.h"

#include <math.h>

struct event {
    struct bl_time_point point;
    const struct bl_track *track;
};

const char *bl_path_event_name(enum bl_path_event event)
{
    static const char *const names[] = {
        "command", "demand_sent", "demand_arrival", "unit_report", "response"};
    return names[event];
}

/* A state holds between frames: it came on somewhere between the last frame
   without it and the first one with it. */
static struct bl_time_point report_point(const struct bl_track *report,
                                         const struct bl_window *window)
{
    struct bl_time_point point = {.reason = BL_REASON_NOT_SEEN};
    if (!report->present) {
        return point;
    }
    const struct bl_level_origin origin = {.fraction = NAN};
    const struct bl_passage p = bl_track_passage(
        report, BL_UPWARDS, window->event->apply.time_ns - BL_LEAD_NS,
        window->to_ns, &(const struct bl_level_passed){BL_STATE_LEVEL, 0, 0},
        BL_HELD_OUTPUT);
    point.reason = BL_REASON_NOT_REPORTED;
    if (p.found) {
        point.known = true;
        point.ns = p.time_ns;
        point.flags = p.flags;
        point.part = bl_budget_passage(report, &p, &origin);
    }
    return point;
}

static struct bl_figure between(const struct event *a, const struct event *b)
{
    struct bl_figure f = {.reason = b->point.reason, .s = NAN, .u_s = NAN};
    if (!b->point.known) {
        return f;
    }
    f.reason = bl_clock_allows(b->track, a->track, b->point.ns, a->point.ns);
    if (f.reason != BL_REASON_NONE) {
        return f;
    }
    f.known = true;
    f.s = (double)(b->point.ns - a->point.ns) * 1e-9;
    f.flags = b->point.flags;
    f.u_s = 0;
    f.part = (struct bl_uncertainty){0};
    if (a->track->steps != NULL && a->track->steps == b->track->steps &&
        a->point.ns == b->point.ns) {
        return f; /* one and the same frame */
    }
    f.part = b->point.part;
    /* `command` holds the other end, as in every figure. */
    f.part.command = bl_budget_total(&a->point.part);
    f.part.clock =
        bl_clock_between(a->track, b->track, a->point.ns, b->point.ns);
    if (a->track->recording != b->track->recording) {
        f.part.resolution = hypot(
            f.part.resolution, hypot(a->track->u_phase_s, b->track->u_phase_s));
    }
    f.u_s = bl_budget_total(&f.part);
    const struct bl_doubt doubt =
        bl_doubt_of(a->track, b->track, a->point.ns, b->point.ns);
    bl_doubt_put(&f, &doubt);
    return f;
}

void bl_path_measure(struct bl_unit_lag *out,
                     const struct bl_response_time *response,
                     const struct bl_unit_tracks *tracks,
                     const struct bl_unit_tracks *first,
                     const struct bl_track *command,
                     const struct bl_window *window)
{
    const struct bl_command_event *e = window->event;
    struct event event[BL_PATH_EVENTS] = {
        [BL_PATH_COMMAND] = {.point = {.known = e->no_apply == BL_REASON_NONE,
                                       .reason = e->no_apply,
                                       .ns = e->apply.time_ns,
                                       .part = bl_command_uncertainty(
                                           command, e, false)},
                             .track = command},
        [BL_PATH_DEMAND_SENT] = {first->demand_point, &first->demand},
        [BL_PATH_DEMAND_ARRIVAL] = {tracks->demand_point, &tracks->demand},
        [BL_PATH_UNIT_REPORT] = {report_point(&tracks->report, window),
                                 &tracks->report},
        [BL_PATH_RESPONSE] = {response->point, response->track}};
    enum bl_path_event last = BL_PATH_COMMAND;
    out->has_path = response->track != NULL &&
                    (first->demand.present || tracks->demand.present ||
                     tracks->report.present);
    for (size_t i = 0; i < BL_PATH_LEGS; i++) {
        struct bl_path_leg *leg = &out->path[i];
        leg->from = last;
        leg->to = (enum bl_path_event)(i + 1);
        leg->time =
            (struct bl_figure){.reason = event[BL_PATH_COMMAND].point.reason,
                               .s = NAN,
                               .u_s = NAN};
        if (event[BL_PATH_COMMAND].point.known) {
            leg->time = between(&event[last], &event[i + 1]);
        }
        if (event[i + 1].point.known) {
            last = (enum bl_path_event)(i + 1);
        }
    }
}
