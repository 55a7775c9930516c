/* SPDX-License-Identifier: MIT */
/* When a column moved, without keeping all of its values. */
#ifndef BRAKELAG_SRC_SURVEY_MOVEMENT_H
#define BRAKELAG_SRC_SURVEY_MOVEMENT_H

#include "brakelag/survey.h"

/* Zero-initialised before the first value. */
struct bl_movement {
    struct movement_point *point;
    size_t points, room;
    double smallest, largest;
    double share; /* of the range so far that a kept change has at least */
    struct bl_movement_last {
        int64_t time_ns;
        double value;
        bool kept, seen;
    } last;
};

/* Values in the order of time; NaN is passed over. False: memory ended. */
bool bl_movement_feed(struct bl_movement *movement, int64_t time_ns,
                      double value);
/* The rises of a column whose low, high and noise are known. */
enum bl_status bl_movement_rises(const struct bl_movement *movement,
                                 struct bl_survey_column *column);
void bl_movement_finish(struct bl_movement *movement);

/* How much later than `from` the rises of `column` come, s: the median over
   the rises of `from` that one of the column follows within 3 s or precedes
   by up to half a second. NaN: fewer than half of them have one. */
double bl_movement_behind_s(const struct bl_survey_column *column,
                            const struct bl_survey_column *from);

#endif
