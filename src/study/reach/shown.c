/* SPDX-License-Identifier: MIT */
/* What "reached" rests on in a run: said with the verdict, wherever that is
   said. */
#include "study/reach/reach.h"

#include <stdio.h>
#include <string.h>

static bool is_yes(const struct bl_reach_unit *unit, enum bl_reach_claim claim)
{
    return unit->claim[claim].answer == BL_YES;
}

/* "units 1, 2 and 4" of those reached of which a claim is yes, or is not. */
static void name_units(const struct bl_trial *trial,
                       const struct bl_reach *reach, enum bl_reach_claim claim,
                       bool yes, char text[BL_REACH_TEXT])
{
    size_t total = 0;
    size_t n = 0;
    for (size_t i = 0; i < reach->units; i++) {
        total += reach->unit[i].verdict == BL_REACH_REACHED &&
                 is_yes(&reach->unit[i], claim) == yes;
    }
    int at = snprintf(text, BL_REACH_TEXT, "unit%s ", total == 1 ? "" : "s");
    for (size_t i = 0; i < reach->units && at < BL_REACH_TEXT - 40; i++) {
        char label[BL_REACH_LABEL];
        if (reach->unit[i].verdict != BL_REACH_REACHED ||
            is_yes(&reach->unit[i], claim) != yes) {
            continue;
        }
        at += snprintf(text + at, (size_t)(BL_REACH_TEXT - at), "%s%s",
                       n == 0           ? ""
                       : n + 1 == total ? " and "
                                        : ", ",
                       bl_trial_unit_label(&trial->unit[reach->unit[i].unit],
                                           label, sizeof(label)));
        n++;
    }
}

void bl_reach_shown(const struct bl_trial *trial, const struct bl_reach *reach,
                    char text[2 * BL_REACH_TEXT])
{
    const size_t room = (size_t)2 * BL_REACH_TEXT;
    size_t reached = 0;
    size_t acting = 0;
    size_t timely = 0;
    char with[BL_REACH_TEXT];
    char without[BL_REACH_TEXT];
    text[0] = '\0';
    for (size_t i = 0; i < reach->units; i++) {
        const bool reached_ = reach->unit[i].verdict == BL_REACH_REACHED;
        reached += reached_;
        acting += reached_ && is_yes(&reach->unit[i], BL_REACH_ACTED_ON);
        timely += reached_ && is_yes(&reach->unit[i], BL_REACH_IN_TIME);
    }
    if (reached == 0) {
        return;
    }
    name_units(trial, reach, BL_REACH_ACTED_ON, true, with);
    name_units(trial, reach, BL_REACH_ACTED_ON, false, without);
    const bool all = reached == reach->units;
    if (acting == reached) {
        (void)snprintf(text, room,
                       "Arrived, unchanged and at its rate, at %s, and %s "
                       "acted on it.",
                       all ? "every unit" : with,
                       reached == 1 ? "it"
                       : all        ? "all of them"
                                    : "they");
    } else if (acting == 0) {
        (void)snprintf(text, room,
                       "Arrived, unchanged and at its rate, at %s; that %s "
                       "acted on it was not shown.",
                       all ? "every unit" : without,
                       reached == 1 ? "it"
                       : all        ? "the units"
                                    : "they");
    } else {
        char where[32];
        (void)snprintf(where, sizeof(where), "%zu units", reached);
        (void)snprintf(text, room,
                       "Arrived, unchanged and at its rate, at %s; %.140s "
                       "acted on it, that %.140s did was not shown.",
                       all ? "every unit" : where, with, without);
    }
    if (timely < reached) {
        const size_t at = strlen(text);
        name_units(trial, reach, BL_REACH_IN_TIME, false, without);
        (void)snprintf(text + at, room - at,
                       " That it came in time%s%.100s was not shown.",
                       timely == 0 && reached > 1 ? "" : " at ",
                       timely == 0 && reached > 1 ? "" : without);
    }
}
