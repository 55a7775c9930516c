/* SPDX-License-Identifier: MIT */
/*
 * Values are kept where they differ from the last one kept by a hundredth of
 * the range so far, each with the value just before it; so a rest costs
 * nothing and a rise keeps its place in time. Where that is too much, the
 * share doubles and what lies closer together goes.
 */
#include "survey/movement.h"

#include <math.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/number.h"

struct movement_point {
    int64_t time_ns;
    double value;
};

enum { POINTS_MOST = 8192 };
static const double SHARE_LEAST = 0.01;
/* Own choice: a tenth of the span is clear of noise and zero errors, and the
   way back to a twentieth tells one application from the next. */
static const double RISE_SHARE = 0.1, REST_SHARE = 0.05;
/* Own choice: a column that moves by less has no rises to speak of. */
static const double NOISES_LEAST = 12;
/* A valve train of six units by air alone takes 1.5 s (common practice). */
static const double BEHIND_MOST_S = 3, AHEAD_MOST_S = 0.5;

static void thin(struct bl_movement *movement)
{
    const double range = movement->largest - movement->smallest;
    size_t used = 0;
    movement->share *= 2;
    for (size_t i = 0; i < movement->points; i++) {
        const struct movement_point *point = &movement->point[i];
        if (used == 0 || fabs(point->value - movement->point[used - 1].value) >=
                             movement->share * range) {
            movement->point[used++] = *point;
        }
    }
    movement->points = used;
}

static bool keep(struct bl_movement *movement, int64_t time_ns, double value)
{
    if (movement->points == POINTS_MOST) {
        thin(movement);
    }
    if (movement->points == POINTS_MOST) {
        return true; /* it swings by half its range from row to row */
    }
    if (!bl_grow(&movement->point, &movement->room, movement->points + 1,
                 sizeof(*movement->point), POINTS_MOST)) {
        return false;
    }
    movement->point[movement->points++] =
        (struct movement_point){time_ns, value};
    return true;
}

bool bl_movement_feed(struct bl_movement *movement, int64_t time_ns,
                      double value)
{
    struct bl_movement_last *last = &movement->last;
    if (isnan(value)) {
        return true;
    }
    if (!last->seen) {
        movement->smallest = value;
        movement->largest = value;
        movement->share = SHARE_LEAST;
    }
    movement->smallest = fmin(movement->smallest, value);
    movement->largest = fmax(movement->largest, value);
    const double range = movement->largest - movement->smallest;
    const bool moved =
        movement->points == 0 ||
        (range > 0 &&
         fabs(value - movement->point[movement->points - 1].value) >=
             movement->share * range);
    bool enough = true;
    if (moved && last->seen && !last->kept) {
        enough = keep(movement, last->time_ns, last->value);
    }
    if (moved && enough) {
        enough = keep(movement, time_ns, value);
    }
    *last = (struct bl_movement_last){time_ns, value, moved, true};
    return enough;
}

enum bl_status bl_movement_rises(const struct bl_movement *movement,
                                 struct bl_survey_column *column)
{
    const double span = column->high - column->low;
    const bool two = column->distinct == 2;
    if (!(span > 0) || (!two && !(span > NOISES_LEAST * column->noise))) {
        return BL_OK;
    }
    column->rise = bl_alloc(BL_SURVEY_RISES, sizeof(*column->rise));
    if (column->rise == NULL) {
        return BL_NOMEM;
    }
    bool armed = false;
    for (size_t i = 0; i < movement->points; i++) {
        const struct movement_point *point = &movement->point[i];
        if (point->value <= column->low + REST_SHARE * span) {
            armed = true;
        } else if (armed && point->value >= column->low + RISE_SHARE * span &&
                   column->rises < BL_SURVEY_RISES) {
            column->rise[column->rises++].time_ns = point->time_ns;
            armed = false;
        }
    }
    return BL_OK;
}

void bl_movement_finish(struct bl_movement *movement)
{
    bl_free(movement->point);
    movement->point = NULL;
}

/* From a rise to the nearest one of the column, s; NaN: none in reach. */
static double nearest_s(const struct bl_survey_column *column, int64_t time_ns)
{
    double nearest = NAN;
    for (size_t i = 0; i < column->rises; i++) {
        const double behind =
            1e-9 * (double)(column->rise[i].time_ns - time_ns);
        if (behind >= -AHEAD_MOST_S && behind <= BEHIND_MOST_S &&
            !(fabs(behind) >= fabs(nearest))) {
            nearest = behind;
        }
    }
    return nearest;
}

double bl_movement_behind_s(const struct bl_survey_column *column,
                            const struct bl_survey_column *from)
{
    double behind[BL_SURVEY_RISES];
    size_t count = 0;
    for (size_t i = 0; i < from->rises; i++) {
        const double one = nearest_s(column, from->rise[i].time_ns);
        if (!isnan(one)) {
            behind[count++] = one;
        }
    }
    return count == 0 || 2 * count < from->rises ? NAN
                                                 : bl_median(behind, count);
}
