/* SPDX-License-Identifier: MIT */
/* Causes as rows: which traits must be off for it, which may be, which must
   not. A cause is added by a row here, its text and a case of a plant. */
#ifndef BRAKELAG_SRC_STUDY_CAUSES_TRAITS_ROWS_H
#define BRAKELAG_SRC_STUDY_CAUSES_TRAITS_ROWS_H

#include "study/causes/traits/traits.h"

/* Traits of the table, and what follows from two of them. */
enum {
    BL_SIGN_NEXT_APPLY = BL_TRAITS, /* the stage of the unit behind it */
    BL_SIGN_NEXT_RELEASE,
    BL_SIGN_NEXT_HOLD,
    BL_SIGN_NEXT_FILLED,
    BL_SIGN_NEXT_EMPTIED,
    BL_SIGN_STEP_FILLED, /* up: what is behind it is as slow, it is its line */
    BL_SIGN_STEP_EMPTIED,
    BL_SIGN_LIKE_AIR, /* up: powered it responds as by air alone */
    BL_SIGNS
};

enum bl_sign_how {
    BL_SIGN_ALL, /* wherever it was measured, at least once */
    BL_SIGN_ANY, /* at least once */
    BL_SIGN_IF,  /* wherever it was measured, which it need not be */
    BL_SIGN_MAY,
    BL_SIGN_NOT
};

enum {
    BL_WITH_LIGHT = 1,
    BL_WITH_HARD = 2,
    BL_WITH_BOTH = 3,
    BL_ROW_SIGNS = 18
};

struct bl_sign {
    int trait;
    enum bl_off off;
    enum bl_sign_how how;
    unsigned in, with; /* classes and efforts in which it is asked for */
};

struct bl_cause_row {
    enum bl_finding_code code;
    const char *what;                  /* "fills slowly" */
    const char *measure;               /* "to 75 %": what the two numbers are */
    const char *where;                 /* "Look ..." */
    struct bl_sign sign[BL_ROW_SIGNS]; /* ends with how ALL and off UNKNOWN;
                                          the first lends the numbers */
};
const struct bl_cause_row *bl_cause_rows(size_t *count);

#endif
