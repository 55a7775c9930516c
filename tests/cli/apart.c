/* SPDX-License-Identifier: MIT */
/* Is a code both looked for and not looked for in a unit and run of a trial?
   One line for each, and how many places were compared. */
#include "brakelag/brakelag.h"

#include <stdio.h>

static size_t compare(const struct bl_findings *list, const char *path)
{
    size_t both = 0;
    for (size_t i = 0; i < list->missing_count; i++) {
        const struct bl_not_looked_for *missing = &list->missing[i];
        for (size_t k = 0; k < list->places; k++) {
            const struct bl_looked_for *place = &list->place[k];
            if (missing->code == place->code && missing->unit == place->unit &&
                (missing->run == place->run || missing->run < 0)) {
                printf("both %s: %s of unit %ld, run %ld\n", path,
                       bl_finding_kind(place->code)->code, place->unit,
                       place->run);
                both++;
            }
        }
    }
    printf("places %zu of %s\n", list->places, path);
    return both;
}

int main(int count, char **said)
{
    struct bl_error error;
    struct bl_trial *trial = NULL;
    struct bl_assessment *found = NULL;
    const struct bl_assess_options options = {.parts = BL_ASSESS_CAUSES};
    bl_error_clear(&error);
    /* What cannot be read is the business of its own case. */
    if (count != 2 ||
        bl_trial_read_file(&trial, said[1], NULL, &error) != BL_OK) {
        return 0;
    }
    size_t both = 0;
    if (bl_assess(&found, trial, &options, NULL, &error) == BL_OK) {
        both = compare(found->findings, said[1]);
    }
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
    return both > 0;
}
