/* SPDX-License-Identifier: MIT */
/* What the looks for causes share; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_CAUSES_CAUSES_H
#define BRAKELAG_SRC_STUDY_CAUSES_CAUSES_H

#include "brakelag/causes.h"
#include "brakelag/traits.h"
#include "lag/application.h"
#include "lag/track.h"
#include "study/reach/unit.h"

/* NaN where not known; u without what all applications share. */
struct bl_stretches {
    double value[BL_TRAITS], u[BL_TRAITS];
    double control_hold, u_control_hold; /* above its rest, kPa */
    /* The command over the same time; NaN: not held, or no pressure. */
    double asked_hold;
    double response_s, u_response; /* after the command */
    double control_s, u_control;   /* control at its coupling, the same */
    double release_s, u_release;   /* both after the command's release */
    double control_release_s, u_control_release;
    bool from_demand;   /* its delay counts from the demand, not the command */
    bool fill_at_least; /* it had not ended at the release: a bound */
    bool rise_at_least; /* the control pressure had not settled: a bound */
    bool fill_parted;   /* the time of the control pressure is taken off */
    bool control_wired; /* a pressure was recorded at its coupling */
    /* To there from the one in front that was recorded, or the command; 0: not
       wired. */
    size_t couplings;
};

/* Numbers of one code over the applications of a run. */
struct bl_excess {
    double *value, *u;
    size_t count, capacity;
    size_t open; /* bounds that show nothing */
};

/* What could not be decided, as too many outputs had not settled. */
struct bl_open {
    enum bl_finding_code code;
    long unit, run;
    size_t n, out_of; /* applications */
};

enum { BL_CAUSES_ROOMS = 5 };

struct bl_causing {
    const struct bl_trial *trial;
    const struct bl_causes_run *run;
    const struct bl_visits *visits; /* NULL: none */
    struct bl_findings *into;
    struct bl_stretches **stretch; /* per run: application times place */
    size_t places;                 /* as bl_traits has them */
    struct bl_excess excess;       /* scratch */
    struct bl_open *open;
    size_t opens, open_capacity;
    bool *impossible;         /* per run: an effect came before its cause */
    struct bl_traits *traits; /* the table; belongs to `into` */
    /* Scratch: each has room for all applications of all runs, or all units. */
    double *room[BL_CAUSES_ROOMS];
    bool failed;
};

struct bl_stretches *bl_causes_cell(const struct bl_causing *c, size_t run,
                                    size_t application, size_t place);
/* The place of an output, 0 being the first, of a unit with several. */
size_t bl_trait_place(const struct bl_trial *trial, size_t unit, size_t output);
/* Has nobody braked for so long before application `a` that what still stands
   there is no rest of the press before? */
bool bl_causes_let_go(const struct bl_run_lag *lag, size_t a);
/* The unit in front whose output was measured, index in the trial; -1. */
long bl_causes_in_front(const struct bl_causing *c, size_t unit);
/* What asked for braking in this run: as declared, or as outputs before their
   own control pressure show. */
enum bl_trait_class bl_causes_class(const struct bl_causing *c, size_t run);
/* Were power and data on in this run, as declared? */
bool bl_causes_powered(const struct bl_causing *c, size_t run);
/* Was power or data off, so that air alone asked for braking? */
bool bl_causes_air_only(const struct bl_causing *c, size_t run);
/* The track of an input; false where it is no recorded pressure. */
bool bl_causes_pressure(const struct bl_causing *c, size_t run,
                        const struct bl_trial_input *input,
                        struct bl_track *track);
const struct bl_finding *bl_causes_found(const struct bl_causing *c,
                                         enum bl_finding_code code, long unit,
                                         long run);

void bl_excess_clear(struct bl_causing *c);
void bl_excess_put(struct bl_causing *c, double value, double u);
/* The same of what is at least so much; true when it is beyond. */
bool bl_excess_put_bound(struct bl_causing *c, double value, double u);
void bl_causes_leave_open(struct bl_causing *c, enum bl_finding_code code,
                          long unit, long run);
/* Judge what was put. NULL when it is not there (it counts as looked for, or
   is left open where a bound was put), or when nothing was put (it is listed
   as missing). */
struct bl_finding *bl_excess_judge(struct bl_causing *c,
                                   enum bl_finding_code code, long unit,
                                   long run);
/* "unit 2 (bin trailer A)" */
const char *bl_causes_unit(const struct bl_causing *c, size_t unit, char *text,
                           size_t size);
/* Middle and scatter of n values; reorders them. NaN for none. */
double bl_causes_middle(double *value, size_t n, double *scatter);

/* Response of a unit over the usable applications of a run; NaN for none. u
   joins that of one figure and the scatter. */
struct bl_lag_of {
    double middle, u;
    size_t n;
};
struct bl_lag_of bl_causes_response(const struct bl_causing *c, size_t run,
                                    size_t unit);
/* The run's label, or its name. */
const char *bl_causes_condition_of(const struct bl_causing *c, size_t run);
/* May figures of run `r` stand for those of `run`: measured, and of the same
   condition? */
bool bl_causes_like(const struct bl_causing *c, size_t r, size_t run);
/* The command of one kind and shape (a group of traits) in a run beside that of
   its earlier runs: s to 75 % of its hold, or from 90 to 10 % of it. */
struct bl_pedal_move {
    bool differs; /* by more than it scatters */
    double now_s, before_s, u_s;
    double explains_s; /* at most so much of what units are later */
};
struct bl_pedal_move bl_causes_pedal(const struct bl_causing *c, size_t run,
                                     char combination, size_t group,
                                     bool release);
/* By how much the command of the first run takes longer to rise than that of
   the second in a group; NaN: it is no pressure, or has no such application. */
double bl_causes_rise_apart(const struct bl_causing *c, const size_t run[2],
                            char combination, size_t group, double *u_s);
/* Longest time of the track above the level between from and to, s; it must
   have been below before. */
double bl_causes_above_s(const struct bl_track *track, int64_t from, int64_t to,
                         double level);
/* The quiet stretch between application `a` and the next: from three seconds
   after the release on, when slow brakes have vented. False: there is none. */
bool bl_causes_between(const struct bl_causing *c, size_t run, size_t a,
                       int64_t *from, int64_t *to);

/* Control above its rest while held, kPa, or the command where control is not
   recorded. False: neither is known. */
bool bl_causes_asked(const struct bl_causing *c, size_t run, size_t a,
                     size_t unit, double *kpa, double *u_kpa);

/* Of the outputs of a unit, judged one by one, that which stands out most; all
   zero before the first. */
enum { BL_WORST_OUTPUTS = 64 }; /* as many are told apart by name */
struct bl_worst {
    size_t seen; /* outputs with numbers */
    size_t output;
    enum bl_shown shown;
    double ratio;
    size_t fired, judged;
    uint64_t found; /* a bit for each output that shows it */
};
/* Judges what was put of one output; true where it is now the worst. */
bool bl_worst_put(struct bl_causing *c, struct bl_worst *worst, size_t output);
/* As bl_excess_judge, of the worst; bounds are not asked for. */
struct bl_finding *bl_worst_judge(struct bl_causing *c,
                                  const struct bl_worst *worst,
                                  enum bl_finding_code code, long unit,
                                  long run);
/* " at its output rear"; "" where all outputs do so, or the unit has one. */
const char *bl_causes_at_outputs(const struct bl_causing *c, size_t unit,
                                 uint64_t which, char *text, size_t size);
const char *bl_worst_outputs(const struct bl_causing *c, size_t unit,
                             const struct bl_worst *worst, char *text,
                             size_t size);
/* "the output of unit C", "output rear of unit C" */
const char *bl_causes_output_of(const struct bl_causing *c, size_t unit,
                                size_t output, char *text, size_t size);
/* What one output of a measured unit gave; the unit's own where it has one.
   Takes NULL. */
const struct bl_unit_lag *bl_causes_output(const struct bl_unit_lag *measured,
                                           size_t output);

/* The recorded command of the unit's combination; false where there is none. */
bool bl_causes_command(const struct bl_causing *c, size_t run, size_t unit,
                       struct bl_track *track);
/* May one be compared with the other in time, if only in differences? */
bool bl_causes_tied(const struct bl_track *a, const struct bl_track *b,
                    int64_t at_ns);
/* One output as a recorded pressure that a clock ties to the command. */
bool bl_causes_output_track(const struct bl_causing *c, size_t run, size_t unit,
                            size_t output, struct bl_track *track);
/* What it takes, where no clock ties any output of the unit to the command;
   NULL: one does, or none was recorded. Static text. */
const char *bl_causes_untied(const struct bl_causing *c, size_t run,
                             size_t unit);

/* The prediction of a unit, where it has bands; NULL. */
const struct bl_predict_unit *bl_causes_prediction(const struct bl_causing *c,
                                                   size_t run, size_t unit);

/* Was a state on the bus on during the application? */
bool bl_causes_on_during(const struct bl_causing *c, size_t run,
                         const struct bl_bus_series *s,
                         const struct bl_application *a);

/* The looks. */
void bl_causes_stretch(struct bl_causing *c);
void bl_causes_demand(struct bl_causing *c);
void bl_causes_ignored(struct bl_causing *c);
void bl_causes_curves(struct bl_causing *c);
/* traits/unwired.c: before any look says what a line would take;
   bl_causes_stretch calls it. */
void bl_causes_unwired(struct bl_causing *c);
void bl_causes_timing(struct bl_causing *c);
void bl_causes_stages(struct bl_causing *c);
void bl_causes_predicted(struct bl_causing *c);
void bl_causes_limits(struct bl_causing *c);
void bl_causes_unsettled(struct bl_causing *c);
void bl_causes_levels(struct bl_causing *c);
void bl_causes_unsteady(struct bl_causing *c);
void bl_causes_supply(struct bl_causing *c);
void bl_causes_rests(struct bl_causing *c);
void bl_causes_pipes(struct bl_causing *c);
void bl_causes_unasked(struct bl_causing *c);
void bl_causes_channels(struct bl_causing *c);
void bl_causes_swapped(struct bl_causing *c);
void bl_causes_exchanged(struct bl_causing *c);
void bl_causes_one_place(struct bl_causing *c);
void bl_causes_odd(struct bl_causing *c);
void bl_causes_odd_looked(struct bl_causing *c); /* odd.c calls it */
void bl_causes_holds_once(struct bl_causing *c);
void bl_causes_passed_over(struct bl_causing *c);
/* The evidence of a finding that rests on earlier runs: this one, then these.
 */
#define BL_CAUSES_NOW "now, middle"
#define BL_CAUSES_EARLIER "earlier runs, middle"
/* together.c: a run that is late as a whole; after the looks at units. */
void bl_causes_together(struct bl_causing *c);
void bl_causes_once(struct bl_causing *c);
void bl_causes_visits(struct bl_causing *c);
void bl_causes_pairs(struct bl_causing *c);
/* traits/few.c: behind bl_causes_odd's own */
void bl_causes_few(struct bl_causing *c);
void bl_causes_measuring(struct bl_causing *c);
void bl_causes_impossible(struct bl_causing *c);
void bl_causes_explain(struct bl_causing *c);
void bl_causes_silence(struct bl_causing *c);

#endif
