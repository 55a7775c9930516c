/* SPDX-License-Identifier: MIT */
/* What is asked of a measured application in many places. */
#include "lag/application.h"

bool bl_application_whole(const struct bl_application *application)
{
    return !application->begun_before && !application->unfinished;
}

bool bl_application_usable(const struct bl_application *application)
{
    return bl_application_whole(application) && !application->excluded &&
           application->command_apply.known &&
           application->command_release.known;
}

const struct bl_unit_lag *
bl_application_unit(const struct bl_application *application, size_t unit)
{
    for (size_t i = 0; i < application->units; i++) {
        if (application->unit[i].unit == unit) {
            return &application->unit[i];
        }
    }
    return NULL;
}
