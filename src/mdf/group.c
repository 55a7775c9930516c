/* SPDX-License-Identifier: MIT */
/* What a group of records holds: its time, frames or values, or why it is left
   out. */
#include "mdf/block.h"

#include "base/limits.h"
#include "brakelag/units.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { FLAG_BUS_EVENT = 2, FLAG_REMOTE_MASTER = 8 };

static enum bl_status refuse_group(struct bl_mdf *mdf,
                                   struct bl_mdf_group *group, const char *why,
                                   struct bl_error *error)
{
    char name[80];
    mdf->frames_left_out = mdf->frames_left_out ||
                           group->holds == BL_MDF_HOLDS_DATA_FRAMES ||
                           group->holds == BL_MDF_HOLDS_REMOTE_FRAMES ||
                           group->holds == BL_MDF_HOLDS_ERROR_FRAMES;
    group->holds = BL_MDF_HOLDS_NOTHING;
    return bl_note(mdf->notes, "group-not-read", -1, (int64_t)group->at,
                   "group %zu '%s': %s; its %" PRIu64 " records are left out",
                   (size_t)(group - mdf->group) + 1,
                   bl_plain_line(group->name, name, sizeof(name)), why,
                   group->cycles) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

/* "CAN_DataFrame.ID" and "CAN_DataFrame" begin with the name of the event. */
static bool begins(const char *name, const char *event)
{
    const size_t length = strlen(event);
    return strncmp(name, event, length) == 0 &&
           (name[length] == '\0' || name[length] == '.');
}

static enum bl_mdf_holds frames_of(const struct bl_mdf *mdf,
                                   const struct bl_mdf_group *group)
{
    static const struct {
        const char *event;
        enum bl_mdf_holds holds;
    } events[] = {
        {"CAN_DataFrame", BL_MDF_HOLDS_DATA_FRAMES},
        {"CAN_RemoteFrame", BL_MDF_HOLDS_REMOTE_FRAMES},
        {"CAN_ErrorFrame", BL_MDF_HOLDS_ERROR_FRAMES},
        {"CAN_OverloadFrame", BL_MDF_HOLDS_OTHER_FRAMES},
    };
    for (size_t i = 0; i < group->channels; i++) {
        const char *name = mdf->channel[group->first + i].name;
        for (size_t e = 0; e < sizeof(events) / sizeof(events[0]); e++) {
            if (begins(name, events[e].event)) {
                return events[e].holds;
            }
        }
    }
    return BL_MDF_HOLDS_VALUES;
}

static void find_time(const struct bl_mdf *mdf, struct bl_mdf_group *group)
{
    group->time = SIZE_MAX;
    for (size_t i = 0; i < group->channels; i++) {
        const struct bl_mdf_channel *channel = &mdf->channel[group->first + i];
        const bool master = channel->kind == BL_MDF_MASTER ||
                            channel->kind == BL_MDF_VIRTUAL_MASTER;
        if (channel->used && master && group->time == SIZE_MAX &&
            channel->field.type != BL_MDF_BYTES &&
            channel->field.type != BL_MDF_TEXT) {
            group->time = group->first + i;
        }
    }
}

/* A bus of another kind: its events are named after it. */
static const char *other_event(const struct bl_mdf *mdf,
                               const struct bl_mdf_group *group, char *text,
                               size_t size)
{
    for (size_t i = 0; i < group->channels; i++) {
        const struct bl_mdf_channel *channel = &mdf->channel[group->first + i];
        if (channel->kind != BL_MDF_MASTER &&
            channel->kind != BL_MDF_VIRTUAL_MASTER) {
            return bl_plain_line(channel->name, text, size);
        }
    }
    return "no channel";
}

/* Texts and bytes are nothing that a log of measurements holds. */
static enum bl_status name_no_values(struct bl_mdf *mdf,
                                     const struct bl_mdf_group *group,
                                     struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < group->channels && status == BL_OK; i++) {
        const struct bl_mdf_channel *channel = &mdf->channel[group->first + i];
        char name[80];
        if (channel->used && !channel->value && !channel->composed &&
            channel->kind != BL_MDF_MASTER &&
            channel->kind != BL_MDF_VIRTUAL_MASTER) {
            status = bl_note(mdf->notes, "no-number", -1, (int64_t)channel->at,
                             "channel '%s' holds text or bytes, no number; it "
                             "is left out",
                             bl_plain_line(channel->name, name, sizeof(name)));
        }
    }
    return status == BL_OK ? BL_OK : bl_fail_memory(error);
}

/* The standard has seconds. A unit that is written and says otherwise is
   believed, since it was written for this channel, and said. */
static enum bl_status take_time_unit(struct bl_mdf *mdf,
                                     struct bl_mdf_channel *time,
                                     struct bl_error *error)
{
    const struct bl_measurement_unit *unit =
        bl_measurement_unit_find(time->unit);
    const bool is_time = unit != NULL && unit->quantity == BL_QUANTITY_TIME;
    struct bl_mdf_conversion *c = &time->conversion;
    if (time->unit[0] == '\0' || (is_time && unit->factor == 1)) {
        return BL_OK;
    }
    char text[32];
    if (is_time && c->rule != BL_MDF_RATIONAL) {
        const double factor = c->rule == BL_MDF_LINEAR ? c->p[1] : 1;
        c->p[0] = c->rule == BL_MDF_LINEAR ? c->p[0] * unit->factor : 0;
        c->p[1] = factor * unit->factor;
        c->rule = BL_MDF_LINEAR;
        time->whole_ns = bl_mdf_whole_ns(time);
        return bl_note(mdf->notes, "time-not-in-seconds", -1, (int64_t)time->at,
                       "times are written in %s, not in s as the standard has "
                       "it; they are read as %s",
                       unit->name, unit->name) == BL_OK
                   ? BL_OK
                   : bl_fail_memory(error);
    }
    return bl_note(mdf->notes, "time-not-in-seconds", -1, (int64_t)time->at,
                   "the unit of times is '%s', not s as the standard has it; "
                   "they are read as s",
                   bl_plain_line(time->unit, text, sizeof(text))) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

enum bl_status bl_mdf_group_judge(struct bl_mdf *mdf,
                                  struct bl_mdf_group *group,
                                  struct bl_error *error)
{
    find_time(mdf, group);
    group->holds = frames_of(mdf, group);
    if ((group->flags & FLAG_REMOTE_MASTER) != 0) {
        return refuse_group(mdf, group,
                            "its time is in another group, which is not read",
                            error);
    }
    const bool other = group->holds == BL_MDF_HOLDS_VALUES &&
                       (group->flags & FLAG_BUS_EVENT) != 0;
    if (other || group->holds == BL_MDF_HOLDS_OTHER_FRAMES) {
        char event[64];
        char why[128];
        (void)snprintf(why, sizeof(why), "bus events '%s' are not read",
                       other_event(mdf, group, event, sizeof(event)));
        const enum bl_status status = refuse_group(mdf, group, why, error);
        group->holds = BL_MDF_HOLDS_OTHER_FRAMES;
        return status;
    }
    if (group->time == SIZE_MAX) {
        return refuse_group(mdf, group, "it has no channel of time", error);
    }
    const enum bl_status status =
        take_time_unit(mdf, &mdf->channel[group->time], error);
    return status == BL_OK && group->holds == BL_MDF_HOLDS_VALUES
               ? name_no_values(mdf, group, error)
               : status;
}
