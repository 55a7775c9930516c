/* SPDX-License-Identifier: MIT */
/* What is compared with the command in time takes a clock that ties the two
   recordings: without one an output is at rest, or held, at nobody knows when.
 */
#include "lag/unit.h"
#include "study/causes/causes.h"

bool bl_causes_command(const struct bl_causing *c, size_t run, size_t unit,
                       struct bl_track *track)
{
    const struct bl_trial *trial = c->trial;
    const long front =
        bl_trial_unit_index(trial, trial->unit[unit].combination, 0);
    *track = (struct bl_track){.present = false};
    if (front < 0 || c->run[run].data == NULL || c->run[run].clocks == NULL) {
        return false;
    }
    bl_track_find(track, trial, c->run[run].data, c->run[run].clocks,
                  &trial->unit[front].command);
    return track->present;
}

bool bl_causes_tied(const struct bl_track *a, const struct bl_track *b,
                    int64_t at_ns)
{
    const enum bl_reason refused = bl_clock_allows(a, b, at_ns, at_ns);
    return refused == BL_REASON_NONE || refused == BL_REASON_DIFFERENCES_ONLY;
}

/* Clocks that were never tied; a part behind a jump is another matter. */
static bool untied(const struct bl_track *output,
                   const struct bl_track *command)
{
    return bl_clock_refuses(output, command) != BL_REASON_NONE;
}

bool bl_causes_output_track(const struct bl_causing *c, size_t run, size_t unit,
                            size_t output, struct bl_track *track)
{
    struct bl_track command;
    return bl_causes_pressure(c, run, &c->trial->unit[unit].output[output],
                              track) &&
           bl_causes_command(c, run, unit, &command) &&
           !untied(track, &command);
}

const char *bl_causes_untied(const struct bl_causing *c, size_t run,
                             size_t unit)
{
    struct bl_track command;
    if (!bl_causes_command(c, run, unit, &command)) {
        return NULL;
    }
    size_t seen = 0;
    for (size_t o = 0; o < c->trial->unit[unit].outputs; o++) {
        struct bl_track track;
        bl_track_find(&track, c->trial, c->run[run].data, c->run[run].clocks,
                      &c->trial->unit[unit].output[o]);
        if (track.present && !untied(&track, &command)) {
            return NULL;
        }
        seen += track.present;
    }
    return seen == 0 ? NULL
                     : "clocks tied: the output's recording to the command's";
}
