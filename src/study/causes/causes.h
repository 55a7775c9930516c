/* SPDX-License-Identifier: MIT */
/* What the looks for causes share; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_CAUSES_CAUSES_H
#define BRAKELAG_SRC_STUDY_CAUSES_CAUSES_H

#include "brakelag/causes.h"
#include "lag/track.h"

/* A unit's time in one application, parted at its coupling. */
enum bl_stretch {
    BL_OWN_APPLY,    /* control (or demand, or command) to response */
    BL_OWN_FILL,     /* response to 75 % */
    BL_OWN_RELEASE,  /* control (or command) to 90 % */
    BL_OWN_FALL,     /* 90 to 10 % */
    BL_LINE_APPLY,   /* control in front (or command) to control here */
    BL_LINE_RELEASE, /* the same on release */
    BL_STRETCHES
};

/* NaN where not known; u without what all applications share. */
struct bl_stretches {
    double s[BL_STRETCHES], u[BL_STRETCHES];
    double control_hold, u_control_hold; /* above its rest, kPa */
};

/* Numbers of one code over the applications of a run. */
struct bl_excess {
    double *value, *u;
    size_t count, capacity;
};

struct bl_causing {
    const struct bl_trial *trial;
    const struct bl_causes_run *run;
    struct bl_findings *into;
    struct bl_stretches **stretch; /* per run: application times unit */
    struct bl_excess excess;       /* scratch */
    bool failed;
};

struct bl_stretches *bl_causes_cell(const struct bl_causing *c, size_t run,
                                    size_t application, size_t unit);
/* Were power and data on in this run, as declared? */
bool bl_causes_powered(const struct bl_causing *c, size_t run);
/* The track of an input; false where it is no recorded pressure. */
bool bl_causes_pressure(const struct bl_causing *c, size_t run,
                        const struct bl_trial_input *input,
                        struct bl_track *track);
/* May figures of this application be used? */
bool bl_causes_usable(const struct bl_application *application);
/* The unit in an application; NULL. */
const struct bl_unit_lag *bl_causes_unit_of(const struct bl_application *a,
                                            size_t unit);
const struct bl_finding *bl_causes_found(const struct bl_causing *c,
                                         enum bl_finding_code code, long unit,
                                         long run);

void bl_excess_clear(struct bl_causing *c);
void bl_excess_put(struct bl_causing *c, double value, double u);
/* Judge what was put. NULL when it is not there (it counts as looked for), or
   when nothing was put. */
struct bl_finding *bl_excess_judge(struct bl_causing *c,
                                   enum bl_finding_code code, long unit,
                                   long run);
/* "unit 2 (bin trailer A)" */
const char *bl_causes_unit(const struct bl_causing *c, size_t unit, char *text,
                           size_t size);
/* Middle and scatter of n values; reorders them. NaN for none. */
double bl_causes_middle(double *value, size_t n, double *scatter);

/* The looks. */
void bl_causes_stretch(struct bl_causing *c);
void bl_causes_timing(struct bl_causing *c);
void bl_causes_limits(struct bl_causing *c);
void bl_causes_levels(struct bl_causing *c);
void bl_causes_supply(struct bl_causing *c);
void bl_causes_rests(struct bl_causing *c);
void bl_causes_channels(struct bl_causing *c);
void bl_causes_swapped(struct bl_causing *c);
void bl_causes_measuring(struct bl_causing *c);
void bl_causes_explain(struct bl_causing *c);

#endif
