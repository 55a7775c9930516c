/* SPDX-License-Identifier: MIT */
/* What is asked of a measured application in many places. */
#include "lag/application.h"

/* Own choice: with so much in it released, a brake or its transducer is odd in
   a way that has its own name. */
static const double dragging_kpa = 20;

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

bool bl_unit_begins_elsewhere(const struct bl_unit_lag *unit)
{
    return (unit->flags & BL_FLAG_NOT_VENTED) != 0 ||
           (unit->rest.known && unit->rest.quantity == BL_QUANTITY_PRESSURE &&
            unit->rest.value > dragging_kpa);
}

const char *bl_application_kind_said(enum bl_application_kind kind)
{
    static const char *const said[] = {[BL_KIND_UNKNOWN] = "unsorted",
                                       [BL_KIND_LIGHT] = "light",
                                       [BL_KIND_SERVICE] = "medium",
                                       [BL_KIND_FULL] = "full"};
    return said[kind];
}
