/* SPDX-License-Identifier: MIT */
#include "lag/again.h"

#include "lag/rules.h"
#include "signal/walk.h"

int64_t bl_rose_again(const struct bl_track *track,
                      const struct bl_level_passed *at, int64_t release_ns,
                      int64_t to_ns)
{
    struct bl_walk walk = {release_ns - BL_LEAD_NS, to_ns};
    while (walk.at_ns < walk.end_ns) {
        const struct bl_passage down = bl_track_passage(
            track, BL_DOWNWARDS, walk.at_ns, to_ns, at, BL_HELD_OUTPUT);
        if (!down.found || !bl_walk_on(&walk, down.seen_ns)) {
            break;
        }
        const struct bl_passage up = bl_track_passage(
            track, BL_UPWARDS, walk.at_ns, to_ns, at, BL_HELD_OUTPUT);
        if (!up.found) {
            break;
        }
        const int64_t rested_since =
            down.time_ns > release_ns ? down.time_ns : release_ns;
        if (up.time_ns - rested_since >= BL_REST_LEAST_NS) {
            return up.time_ns - BL_REST_BEFORE_RISE_NS;
        }
        bl_walk_on(&walk, up.seen_ns);
    }
    return to_ns;
}
