/* SPDX-License-Identifier: MIT */
/*
 * What a reader is shown beside the answer: of the hardest applications of each
 * condition when every unit applied and released, the others' band, the course
 * of each output as the median of these applications, and the one application
 * to replay. Page and JSON draw the same ones.
 */
#ifndef BRAKELAG_PICTURE_H
#define BRAKELAG_PICTURE_H

#include "brakelag/answer.h"

/* A figure of one unit over the applications of a group; n 0: none gave it, and
   the times are NaN. */
struct bl_picture_time {
    size_t n;
    double median_s, low_s, high_s; /* after the command; smallest, largest */
};

struct bl_picture_unit {
    size_t unit; /* index in the trial */
    bool odd;    /* the answer's first sentence is about it */
    bool found;  /* it, or another warning or fault, was found of the unit */
    struct bl_picture_time first, second;
    /* Course of its output, bl_picture_side.points values; NaN: not known in
       half of the applications. NULL: no output that gives pressures. */
    double *kpa;
};

enum bl_picture_side_name {
    BL_PICTURE_APPLY,
    BL_PICTURE_RELEASE,
    BL_PICTURE_SIDES
};

/* Apply or release. Where no output is wired the apply side has the arrival of
   the electronic demand as both figures. */
struct bl_picture_side {
    enum bl_figure_name first, second;
    struct bl_picture_unit *unit; /* front to rear */
    size_t units;
    /* Over the units of which nothing was found: how many gave `second`, and
       from where to where their medians reach. */
    size_t others;
    double others_low_s, others_high_s;
    double from_s, step_s; /* of the courses; after the command */
    size_t points;
};

/* The applications of one combination under one condition, of one kind and
   shape: the hardest that gave figures. */
struct bl_picture_group {
    char combination;
    const char *condition; /* the trial's */
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    size_t applications;
    struct bl_picture_side side[BL_PICTURE_SIDES];
    /* The application nearest to the medians. */
    long replay_run; /* index in the trial; -1: none */
    int replay_number;
};

struct bl_picture {
    struct bl_picture_group *group; /* powered conditions first */
    size_t groups, capacity;
};

/* `answer` is what was made of the same input. Borrows names from the trial;
   else nothing given is kept. Runs whose data or
   clocks are NULL have no courses. Errors: NOMEM. Free with
   bl_picture_destroy. */
BL_API BL_MUST_CHECK enum bl_status
bl_picture_create(struct bl_picture **out, const struct bl_answer_input *input,
                  const struct bl_answer_sentences *answer,
                  struct bl_error *error);
BL_API void bl_picture_destroy(struct bl_picture *picture);

#endif
