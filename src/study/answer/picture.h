/* SPDX-License-Identifier: MIT */
/* What the parts of the picture share; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_ANSWER_PICTURE_H
#define BRAKELAG_SRC_STUDY_ANSWER_PICTURE_H

#include "brakelag/picture.h"
#include "study/answer/answer.h"

/* Calls `visit` with every application of the group, which is not excluded. */
void bl_picture_each(struct bl_answering *a,
                     const struct bl_picture_group *group,
                     void (*visit)(size_t run,
                                   const struct bl_application *application,
                                   void *user),
                     void *user);

/* course.c: the outputs' courses of all groups of one combination, on the same
   times. */
void bl_picture_courses(struct bl_answering *a, struct bl_picture *picture,
                        char combination);

#endif
