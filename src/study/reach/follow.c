/* SPDX-License-Identifier: MIT */
/* What a unit followed over the applications of a run: measured per application
   in lag/follow.c, concluded here. */
#include "study/reach/reach.h"

#include "base/alloc.h"

static void conclude(struct bl_reach_unit *unit)
{
    size_t data = 0;
    size_t air = 0;
    for (size_t i = 0; i < unit->follows_count; i++) {
        const struct bl_follow *f = &unit->follow[i].follow;
        data += f->by_lead == BL_FOLLOWS_DATA || f->by_level == BL_FOLLOWS_DATA;
        air += f->by_lead == BL_FOLLOWS_AIR;
    }
    const size_t enough = unit->follows_count < 3 ? unit->follows_count : 3;
    if (data >= enough && data > 0 && air == 0) {
        unit->follows = BL_FOLLOWS_DATA;
    } else if (air >= enough && air > 0 && data == 0) {
        unit->follows = BL_FOLLOWS_AIR;
    }
}

/* Applications that the trial leaves out say nothing; those that its declared
   condition leaves out do. */
static bool counts(const struct bl_reaching *r, const struct bl_application *a)
{
    const struct bl_trial_run *run = &r->trial->run[r->data->run];
    for (size_t i = 0; i < run->exclusions; i++) {
        if (run->exclude[i].application == a->number) {
            return false;
        }
    }
    return a->command_apply.known;
}

enum bl_status bl_reach_follow(struct bl_reaching *r, size_t k,
                               struct bl_error *error)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (r->lag == NULL) {
        return BL_OK;
    }
    unit->follow = bl_alloc(r->lag->applications, sizeof(*unit->follow));
    if (unit->follow == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < r->lag->applications; i++) {
        const struct bl_application *a = &r->lag->application[i];
        for (size_t u = 0; u < a->units; u++) {
            if (a->unit[u].unit == unit->unit && counts(r, a) &&
                a->unit[u].responded == BL_YES) {
                unit->follow[unit->follows_count++] = (struct bl_reach_follow){
                    .application = a->number, .follow = a->unit[u].follow};
            }
        }
    }
    conclude(unit);
    return BL_OK;
}
