/* SPDX-License-Identifier: MIT */
/*
 * Applications and their figures: what `measure` says. All definitions stand
 * in docs/methods/figures.md in the words that the user sees.
 */
#ifndef BRAKELAG_LAG_H
#define BRAKELAG_LAG_H

#include "brakelag/clock.h"
#include "brakelag/load.h"
#include "brakelag/names.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* Components of a standard uncertainty, all in the figure's unit. NaN: the
   channel does not state it, so it is not included, and said to be so. */
struct bl_uncertainty {
    double crossing;   /* noise over slope, of the point itself */
    double sampling;   /* sample or frame interval, gaps */
    double resolution; /* of value and of time stamps */
    double gain;       /* stated gain error of the channel at that level */
    double zero;       /* stated zero error; cancels above rest */
    double delay;      /* stated delay of channel and hose */
    double rest;       /* the rest and hold that the level was taken from */
    double command;    /* all of the command's own crossing */
    double clock;      /* tie between two recorders */
};
enum { BL_COMPONENTS = 9 };

/* A time figure, seconds. Missing: known is false and reason says why. */
struct bl_figure {
    bool known;
    enum bl_reason reason;
    double s;   /* relative to the event that the definition names */
    double u_s; /* standard; k = 2 in text */
    unsigned flags;
    struct bl_uncertainty part;
    /* Of a missing one with HOLD_LONGER: it lies later than that, as the output
       was still rising. */
    bool bounded;
    double later_than_s, u_later_s;
};

/* A pressure, or another value of a channel. */
struct bl_level {
    bool known;
    enum bl_reason reason;
    double value, u;
    enum bl_quantity quantity;
};

enum bl_hold_from { BL_HOLD_NONE, BL_HOLD_SETTLED, BL_HOLD_LAST, BL_HOLD_PEAK };
enum bl_answer { BL_UNKNOWN, BL_NO, BL_YES };
enum bl_application_kind {
    BL_KIND_UNKNOWN,
    BL_KIND_LIGHT,
    BL_KIND_SERVICE,
    BL_KIND_FULL
};
enum bl_application_shape { BL_SHAPE_UNKNOWN, BL_SHAPE_STEP, BL_SHAPE_RAMP };

/* Where the response of a towed unit goes: events on the way from the command
   to its output, in the order in which one causes the next. */
enum bl_path_event {
    BL_PATH_COMMAND,
    BL_PATH_DEMAND_SENT,    /* on the link behind the towing unit */
    BL_PATH_DEMAND_ARRIVAL, /* on the unit's own link */
    BL_PATH_UNIT_REPORT,    /* the unit reports service braking */
    BL_PATH_RESPONSE,
    BL_PATH_EVENTS
};
BL_API const char *bl_path_event_name(enum bl_path_event event);
/* A leg ends at `to` and counts from the last event before it that was seen:
   the known legs of a known response sum to it. A unit may act before it
   reports: that leg is negative. */
struct bl_path_leg {
    enum bl_path_event from, to;
    struct bl_figure time;
};
enum { BL_PATH_LEGS = BL_PATH_EVENTS - 1 };

/* What made the output rise: the electronic demand or the air in the unit's
   control line (docs/methods/reach.md). */
enum bl_follows { BL_FOLLOWS_UNKNOWN, BL_FOLLOWS_DATA, BL_FOLLOWS_AIR };
BL_API const char *bl_follows_name(enum bl_follows follows);
struct bl_follow {
    enum bl_follows by_lead, by_level;
    double lead_s, u_lead_s; /* air at its front coupling less output; NaN */
    double air_s, u_air_s;   /* that air's arrival after the command's apply, on
                                the log's clock; NaN */
    bool air_seen;           /* its control line is wired and was recorded */
    bool air_came;           /* it rose by response_at */
};

struct bl_unit_lag {
    size_t unit; /* index in the trial */
    long output; /* which of its outputs was the least favourable; -1 */
    enum bl_answer responded;
    unsigned flags;
    struct bl_level rest, hold, peak, control_peak;
    struct bl_level control_hold; /* steady over the last half second */
    struct bl_level reservoir_least, voltage_least; /* while the command is on;
                          least middle value of a tenth of a second */
    enum bl_hold_from hold_from;
    double least_level_kpa; /* above rest, that noise and resolution of its
                               outputs allow; 0: not known */
    /* By BL_FIGURE_RESPONSE and so on; LEVEL and SPREAD stand elsewhere. */
    struct bl_figure figure[BL_FIGURES];
    struct bl_figure *level; /* one per bl_trial.level_kpa */
    /* Where it has several outputs: each by itself, in the trial's order, with
       the members above that one output has; its `level` is NULL. Else NULL. */
    struct bl_unit_lag *each;
    size_t outputs;
    struct bl_path_leg path[BL_PATH_LEGS];
    struct bl_follow follow; /* of towed units */
    bool has_path;           /* towed units with an output */
    uint64_t chatter; /* edges of a switch beyond the first on each side */
};

struct bl_application {
    int number; /* from 1 within its run and combination */
    char combination;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    bool begun_before, unfinished, excluded;
    const char *excluded_why;     /* the trial's text, or what contradicts */
    bool contradicted;            /* excluded, since the recordings are not as
                                     the trial declares the run */
    int64_t apply_ns, release_ns; /* of the command, on the run's time; counts
                                     only when command_* are known */
    struct bl_figure command_apply, command_release; /* s since run t0 */
    struct bl_level command_rest, command_hold;
    enum bl_hold_from command_hold_from;
    /* When the command itself passes the share of its own hold that a figure
       AT HOLD is defined by, and half of it: s after command_apply, on the way
       back after command_release. A switch has none. */
    struct bl_figure own[BL_FIGURES], own_half_rise, own_half_fall;
    unsigned modulations;
    unsigned flags;
    struct bl_unit_lag *unit; /* the combination's units that are measured */
    size_t units;
    long stagger_from; /* index in `unit`; -1 */
    struct bl_figure spread;
};

/* A unit that passes a figure after a unit behind it, by more than both
   uncertainties (k = 2). */
struct bl_overtaken {
    enum bl_figure_name figure;
    size_t unit, behind; /* indices in the trial */
    double by_s;
};
/* Unit `index` of the application, against that behind it which comes before it
   by most. False: there is none. */
BL_API bool bl_overtaken(struct bl_overtaken *out,
                         const struct bl_application *application, size_t index,
                         enum bl_figure_name figure);

/* Summary of one figure over the applications of one kind and shape. */
struct bl_summary {
    size_t unit;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    enum bl_figure_name figure;
    double level_kpa;               /* of figure LEVEL */
    size_t n;                       /* applications that gave it */
    size_t null;                    /* that did not */
    double median_s, low_s, high_s; /* smallest and largest */
    double u_s; /* what is common to all of them: does not average out */
};

/* Figures that take a tie between two recorders; bits. */
enum bl_hanging {
    BL_HANGING_LAGS = 1,   /* outputs against the command */
    BL_HANGING_DEMAND = 2, /* the demand against the command */
    BL_HANGING_STAGGER = 4 /* outputs against each other */
};

struct bl_run_lag {
    unsigned *hanging; /* by recording of the run's data: what hangs on it */
    size_t recordings;
    size_t run;
    int64_t t0_ns; /* earliest stamp of the run, on its time */
    struct bl_application *application;
    size_t applications;
    struct bl_summary *summary;
    size_t summaries;
    struct bl_notes notes;
};

/* Measure one loaded run. The result borrows from the trial alone. Errors:
   NODATA (no command was found in the recordings; the message says which was
   looked for), NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_measure_run(struct bl_run_lag **out, const struct bl_trial *trial,
               const struct bl_run_data *data,
               const struct bl_run_clocks *clocks, struct bl_error *error);
BL_API void bl_run_lag_destroy(struct bl_run_lag *lag);

/*
 * In which order the units of a combination pass a figure (RESPONSE or
 * APPLY_75), over the applications of one kind and shape, and how often that
 * order repeats. Units without such a figure by their wiring (no output, a
 * switch at 75 %) take no part.
 */
struct bl_order {
    char combination;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    enum bl_figure_name figure;
    size_t n;       /* applications in which every unit gave the figure */
    size_t without; /* in which one did not: they have no order */
    size_t repeats; /* of n: had the most frequent order */
    size_t close;   /* of n: two neighbours nearer than 2 u of their difference,
                       so that their order is not certain */
    size_t *unit;   /* the most frequent order: indices in the trial */
    size_t units;
};
/* Orders over several runs (NULL runs are passed over). Nothing given is kept.
   Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status bl_orders_find(
    struct bl_order **out, size_t *count, const struct bl_trial *trial,
    const struct bl_run_lag *const *lag, size_t runs, struct bl_error *error);
BL_API void bl_orders_destroy(struct bl_order *order, size_t count);

#endif
