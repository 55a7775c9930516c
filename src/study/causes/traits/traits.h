/* SPDX-License-Identifier: MIT */
/* What the files of the traits share; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_CAUSES_TRAITS_TRAITS_H
#define BRAKELAG_SRC_STUDY_CAUSES_TRAITS_TRAITS_H

#include "study/causes/causes.h"
#include "study/findings/fill.h"

/* A pressure over one application. */
struct bl_course {
    const struct bl_track *track; /* NULL: not recorded */
    double rest, noise, hold;     /* hold above rest; NaN: not known */
    bool moving; /* it had not settled when the command was let go */
    bool let_go; /* it was let go from its hold */
};
/* Enters what `here` lags behind `front` over its rise and its fall. */
void bl_courses_read(const struct bl_application *a,
                     const struct bl_course *front,
                     const struct bl_course *here, struct bl_stretches *cell);
/* How long a control pressure takes over what lets the output behind it rise
   from `first_kpa` to 75 % of `held_kpa`, or fall from 90 to 10 % of it; what
   the valve between them keeps is taken off. NaN: not to be had. */
double bl_course_rises(const struct bl_application *a,
                       const struct bl_course *course, double held_kpa,
                       double first_kpa);
double bl_course_falls(const struct bl_application *a,
                       const struct bl_course *course, double held_kpa);
/* Of a passage, without what all applications share; damage since is in it. */
double bl_passage_u(const struct bl_track *track, const struct bl_passage *p,
                    int64_t from_ns);

enum bl_off { BL_OFF_UNKNOWN, BL_OFF_NOT, BL_OFF_UP, BL_OFF_DOWN };

/* Classes of runs (enum bl_trait_class) as bits. */
enum { BL_IN_DEMAND = 1, BL_IN_AIR = 2, BL_IN_UNKNOWN = 4, BL_IN_ALL = 7 };

/* What a valve that hands control air on keeps of it, kPa: the upper end of
   what is usual in an independent computation of trains (5 to 95 %: 10 to 60;
   common practice). Of a light application that is a large share. */
static const double BL_VALVE_KEEPS_KPA = 60;

/* rules.c: how a trait may be compared with that of other units. Classes count
   where the air is not parted from the unit. */
struct bl_trait_rule {
    unsigned grows; /* classes in which it grows along the train */
    unsigned chain; /* in which it is that of the chain in front, and not of
                       the unit: its stage is judged instead */
    unsigned chain_light; /* the same of light applications only */
    bool beside_towing; /* the towing unit's stands beside any, as its input is
                           the command */
    bool of_coupling; /* of what lies between the unit in front and this one */
    bool by_metre;    /* compared by the metre too, where lengths are stated */
    bool by_line;     /* and by what the whole line holds (line.c) */
    bool of_load;     /* only among units of one load */
    bool falls;       /* where it grows along it falls */
    enum bl_trait input; /* what its input takes of the same, where that is
                            recorded; DELAY: none */
    enum bl_trait own;   /* what the unit itself takes is in it, and the same of
                            the unit in front with the other sign; DELAY: not */
};
const struct bl_trait_rule *bl_trait_rule(enum bl_trait trait);
/* A time that counts from the command's release. */
bool bl_trait_of_release(enum bl_trait trait);
/* Is the class of a run among these? */
bool bl_trait_class_in(const struct bl_causing *c, size_t run,
                       unsigned classes);

/* A trait of a unit over all runs of one class and groups of one effort,
   compared with the other units. */
struct bl_trait_state {
    enum bl_off off;
    double by;           /* how far it lies off, plain units; NaN */
    double ratio;        /* the same in u */
    double value, other; /* the cell that shows it best, and its reference */
    long run;            /* of that cell; -1 */
    size_t group;
    const struct bl_trait_cell *cell;
    enum bl_reference_kind reference;
};

/* What an excess of this trait must pass to matter; NaN: it is not judged. */
double bl_trait_matters(enum bl_trait trait, double expected);
/* How much sound units differ that do `middle` of it. */
double bl_trait_spread(enum bl_trait trait, double middle, bool kinds);
/* How many u the one of `units` that lies off most must lie off. */
double bl_doubt_ratio(size_t units);
/* Both of one combination, and both tow or are of one kind? */
bool bl_traits_one_kind(const struct bl_causing *c, size_t a, size_t b);
/* Does it grow along the train, so that units are no reference for each other
   without their place? `parted`: the air is taken off. */
bool bl_trait_moves_along(const struct bl_causing *c, size_t run,
                          enum bl_trait trait, bool parted);
/* "0.31 s", "57 %", "115 kPa" */
void bl_trait_say(char *text, size_t size, enum bl_trait trait, double value);

/* " at its output rear (the other 0.10 s)": which output of several shows what
   the unit is said to do; "" where all of them do, or it has one. */
void bl_trait_say_output(char *text, size_t size, const struct bl_causing *c,
                         size_t unit, enum bl_trait trait,
                         const struct bl_trait_state *shown);

/* What the units' own times add to the u of a stage from output to output:
   own.c. 0 where none are in it. */
double bl_trait_own_u(const struct bl_causing *c, size_t unit, size_t group,
                      enum bl_trait trait);

/* A line that goes straight through a unit holds more than one that ends at a
   valve, by how much is not known of each train: the stage to such a unit, and
   the one behind it, are not found odd. Dollies do so more often than not
   (common practice). */
bool bl_trait_on_through_line(const struct bl_causing *c, size_t unit,
                              enum bl_trait trait);

/* One of the other units: where it stands along the train, and its trait. */
struct bl_peer {
    double value, u, at;
};
struct bl_peers {
    const struct bl_peer *peer;
    size_t count;
    double at;         /* where the unit stands that is compared with them */
    bool along;        /* a trend along the train is taken into account */
    bool falls;        /* which can only fall; else it can only rise */
    double falls_most; /* from unit to unit */
    double prior;      /* spread of sound units */
};
/* Between two control pressures. */
bool bl_trait_is_of_line(enum bl_trait trait);
/* Is it, in a trait of a line, that of several lines one behind the other, as
   units in between had no control pressure recorded? Valves are between them,
   and one line is no measure of it: unwired.c. */
bool bl_line_is_several(const struct bl_trait_cell *cell, enum bl_trait trait);
/* Is a code of the line to the unit left open in this run for that reason? */
bool bl_line_is_open(const struct bl_causing *c, size_t run, size_t unit,
                     enum bl_finding_code code);
/* What the numbers of such a line are, " from the coupling in front": where it
   begins further ahead that is named. */
void bl_line_measure(char *text, size_t size, const struct bl_causing *c,
                     const struct bl_trait_cell *cell, size_t unit,
                     const char *measure);
/* Are the lengths of all lines of its combination stated? */
bool bl_line_lengths(const struct bl_trial *trial, size_t unit);
/* What the line to a unit takes beside the lines to other units, on a scale of
   its own: two views, of which either may be right. */
enum bl_line_view { BL_LINE_BY_VOLUME, BL_LINE_BY_LENGTH, BL_LINE_VIEWS };
double bl_line_weight(const struct bl_trial *trial, size_t unit,
                      enum bl_line_view view);

/* What they let one expect. False: there are too few. */
bool bl_peers_expect(const struct bl_peers *all, double *value, double *u);

bool bl_traits_make(struct bl_causing *c);
/* Gives a unit with several outputs the cells of its least favourable one,
   trait by trait. False: no memory. */
bool bl_traits_of_outputs(struct bl_causing *c, size_t run);
void bl_traits_against_others(struct bl_causing *c);
void bl_traits_against_rest(struct bl_causing *c);
enum bl_off bl_reference_off(const struct bl_trait_reference *to);
struct bl_trait_state bl_trait_state(const struct bl_causing *c, size_t unit,
                                     enum bl_trait_class by,
                                     enum bl_trait_effort effort,
                                     enum bl_trait trait);

#endif
