/* SPDX-License-Identifier: MIT */
/*
 * The command's own way up and down: when it passes the shares of its hold by
 * which figures of outputs are defined (docs/methods/comparison.md, "the
 * command is part of the comparison"). Passages as those of command_apply.
 */
#include "lag/own.h"

#include "lag/rules.h"

#include <math.h>

static const double HALF = 0.5;
/* The command passes a share of its hold so near to where it was found to begin
   or end: its end may lie above a tenth of a light hold (own choice). */
static const int64_t WITHIN_NS = INT64_C(1000000000);

static struct bl_figure none(enum bl_reason reason)
{
    return (struct bl_figure){.reason = reason, .s = NAN, .u_s = NAN};
}

static struct bl_figure passed(const struct bl_track *command,
                               const struct bl_command_event *e, bool up,
                               double share)
{
    const struct bl_passage *from = up ? &e->apply : &e->release;
    const double level = e->rest.value + share * (e->hold - e->rest.value);
    /* The release is the passage of 90 % itself. */
    if (!up && share >= BL_SHARE_HIGH) {
        return (struct bl_figure){.known = true, .u_s = from->u_sampling_s};
    }
    const int64_t back_ns = from->time_ns - WITHIN_NS;
    const int64_t on_ns = e->end_ns + WITHIN_NS;
    const struct bl_passage p =
        up ? bl_track_passage(
                 command, BL_UPWARDS,
                 back_ns > e->from_ns ? back_ns : e->from_ns,
                 e->release.found ? e->release.time_ns : e->end_ns + 1,
                 &(const struct bl_level_passed){level, e->rest.noise, 0},
                 BL_HELD_COMMAND)
           : bl_track_passage(
                 command, BL_DOWNWARDS, from->time_ns - 1,
                 on_ns < e->to_ns ? on_ns : e->to_ns,
                 &(const struct bl_level_passed){level, e->rest.noise, 0},
                 BL_HELD_COMMAND);
    if (!p.found) {
        return none(BL_REASON_NOT_REACHED);
    }
    struct bl_figure f = {.known = true,
                          .flags = p.flags,
                          .s = (double)(p.time_ns - from->time_ns) * 1e-9};
    const double slope = fabs(p.slope);
    f.part.crossing = hypot(p.u_noise_s, from->u_noise_s);
    f.part.sampling = hypot(p.u_sampling_s, from->u_sampling_s);
    f.part.rest = slope > 0 ? share * e->u_hold / slope : 0;
    f.u_s = hypot(hypot(f.part.crossing, f.part.sampling), f.part.rest);
    return f;
}

void bl_command_own(struct bl_application *application,
                    const struct bl_track *command,
                    const struct bl_command_event *event)
{
    const enum bl_reason state = command->is_state    ? BL_REASON_SWITCH_ONLY
                                 : !event->hold_known ? BL_REASON_NO_HOLD
                                                      : BL_REASON_NONE;
    const enum bl_reason rise = state != BL_REASON_NONE ? state
                                : event->begun_before   ? BL_REASON_BEGUN_BEFORE
                                                        : event->no_apply;
    const enum bl_reason fall = state != BL_REASON_NONE ? state
                                : !event->release.found ? BL_REASON_UNFINISHED
                                                        : event->no_release;
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        const bool up = entry->side == BL_SIDE_APPLY;
        const enum bl_reason why = up ? rise : fall;
        application->own[i] =
            entry->at != BL_AT_HOLD ? none(BL_REASON_NO_COMMAND)
            : why != BL_REASON_NONE ? none(why)
                                    : passed(command, event, up, entry->share);
    }
    application->own_half_rise = rise != BL_REASON_NONE
                                     ? none(rise)
                                     : passed(command, event, true, HALF);
    application->own_half_fall = fall != BL_REASON_NONE
                                     ? none(fall)
                                     : passed(command, event, false, HALF);
}
