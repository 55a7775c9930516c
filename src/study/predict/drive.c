/* SPDX-License-Identifier: MIT */
/*
 * The recorded command as a model is fed with it: from shortly before it is
 * given until the brakes have had their time to empty, or the next one begins.
 */
#include "study/predict/drive.h"

#include "base/alloc.h"
#include "study/predict/chain.h"

#include <math.h>

#define BEFORE_S 1.0
#define AFTER_S 6.0
#define LONGEST_S 30.0  /* beyond it an application is no test of time */
#define NOTHING_KPA 2.0 /* noise of a command at rest */
#define OTHER_KPA 10.0  /* more than noise: another application */
#define GAP_S 0.2       /* a longer gap in the command is not bridged */

/* Seconds from the release to the next application of the combination. */
static double until_next(const struct bl_run_lag *lag, size_t application)
{
    const struct bl_application *braking = &lag->application[application];
    double next = INFINITY;
    for (size_t i = 0; i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        if (a->combination == braking->combination &&
            a->number > braking->number && a->command_apply.known) {
            next =
                fmin(next, (double)(a->apply_ns - braking->release_ns) * 1e-9);
        }
    }
    return next;
}

/* A command that is lost after the release is taken as gone. */
static bool fill(struct bl_drive *out, const struct bl_track *command,
                 int64_t from_ns, double rest_kpa)
{
    double last = 0;
    double missing_s = 0;
    for (size_t i = 0; i < out->steps; i++) {
        const double s = (double)i * BL_CHAIN_STEP_S;
        const double kpa_here =
            bl_track_value(command, from_ns + (int64_t)llround(s * 1e9)) -
            rest_kpa;
        const bool known = !isnan(kpa_here);
        missing_s = known ? 0 : missing_s + BL_CHAIN_STEP_S;
        if (missing_s > GAP_S) {
            last = 0;
            if (s > out->apply_s && s < out->release_s) {
                return false;
            }
        }
        last = known ? kpa_here : last;
        out->kpa[i] = last < NOTHING_KPA ? 0 : last;
    }
    return true;
}

/* Does another application reach into the time before this one? A model that
   begins at rest would answer that one first. */
static bool follows_closely(const struct bl_drive *drive)
{
    size_t i = (size_t)(drive->apply_s / BL_CHAIN_STEP_S);
    i = i < drive->steps ? i : drive->steps - 1;
    while (i > 0 && drive->kpa[i] > 0) {
        i--; /* the rise of this one */
    }
    while (i > 0 && drive->kpa[i] < OTHER_KPA) {
        i--;
    }
    return i > 0;
}

bool bl_drive_make(struct bl_drive *out, const struct bl_track *command,
                   const struct bl_run_lag *lag, size_t application,
                   enum bl_status *status)
{
    const struct bl_application *braking = &lag->application[application];
    *out = (struct bl_drive){0};
    const double between =
        (double)(braking->release_ns - braking->apply_ns) * 1e-9;
    const double next = until_next(lag, application);
    if (!(between > 0) || !(next > 0) || between > LONGEST_S ||
        !braking->command_hold.known || !braking->command_rest.known) {
        return false;
    }
    out->apply_s = BEFORE_S;
    out->release_s = BEFORE_S + between;
    out->hold_kpa = braking->command_hold.value - braking->command_rest.value;
    const double all = out->release_s + fmin(next, AFTER_S);
    out->steps = (size_t)(all / BL_CHAIN_STEP_S) + 1;
    out->kpa = bl_alloc(out->steps, sizeof(*out->kpa));
    if (out->kpa == NULL) {
        *status = BL_NOMEM;
        return false;
    }
    const bool good =
        fill(out, command, braking->apply_ns - (int64_t)(BEFORE_S * 1e9),
             braking->command_rest.value) &&
        !follows_closely(out);
    if (!good) {
        bl_drive_finish(out);
    }
    return good;
}

void bl_drive_finish(struct bl_drive *drive)
{
    bl_free(drive->kpa);
    *drive = (struct bl_drive){0};
}
