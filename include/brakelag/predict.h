/* SPDX-License-Identifier: MIT */
/*
 * What air alone would need: expected times per unit as a band, and the
 * measured ones against it. The model is driven by the command pressure as it
 * was recorded; what the trial does not state is taken as a usual range, which
 * widens the band and is said. docs/methods/predict.md.
 */
#ifndef BRAKELAG_PREDICT_H
#define BRAKELAG_PREDICT_H

#include "brakelag/clock.h"
#include "brakelag/lag.h"
#include "brakelag/load.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* X(ENUM, "name", "meaning"): why there is no band, or no verdict. */
#define BL_PREDICT_REASON_LIST(X)                                              \
    X(NONE, "", "")                                                            \
    X(NO_LINE, "no-line",                                                      \
      "the line to this unit, or to one in front of it, has no stated length") \
    X(NO_OUTPUT, "no-output", "the unit has no output to compare with")        \
    X(COMMAND_NOT_PRESSURE, "command-not-pressure",                            \
      "the command is not a recorded pressure, so what drives the air is not " \
      "known")                                                                 \
    X(CONTROL_BLOCKED, "control-blocked",                                      \
      "the control air was blocked in this run")                               \
    X(POWERED, "powered",                                                      \
      "the run was powered: the demand does not travel as air")                \
    X(CONDITION_NOT_STATED, "condition-not-stated",                            \
      "the trial does not state power = off or data = off for this run")       \
    X(ONE_TEE, "one-tee",                                                      \
      "all outputs respond as one: the transducers may be at one tee")         \
    X(NO_APPLICATION, "no-application", "no application could be modelled")    \
    X(NO_FIGURE, "no-figure", "no application gives the figure")               \
    X(HOLD_LONGER, "hold-longer",                                              \
      "an output had not settled when the command was let go, and what it "    \
      "had reached is not late: hold longer")                                  \
    X(NOT_REACHED, "not-reached",                                              \
      "in too many draws of the model the level is not passed, or the "        \
      "pressure "                                                              \
      "does not settle, within the application")                               \
    X(DIFFERENCES_ONLY, "differences-only",                                    \
      "the clocks give differences only")                                      \
    X(BEYOND_BAND, "beyond-band",                                              \
      "beyond the band, by less than sound trains may be")                     \
    X(WITHIN_UNCERTAINTY, "within-uncertainty",                                \
      "the band's edge is nearer than 2 u")                                    \
    X(MIXED, "mixed", "applications disagree")

/* Figures of the lag that pass a height or a share of the hold, and two
   differences that do not depend on where the command's time was taken. */
enum bl_predict_figure {
#define X(id, ...) BL_PREDICT_##id = BL_FIGURE_##id,
    BL_FIGURE_LIST(X)
#undef X
        BL_PREDICT_FILL, /* from response until filled */
    BL_PREDICT_FALL,     /* from 90 % until emptied */
    BL_PREDICT_FIGURES
};
enum bl_predict_reason {
#define X(id, name, meaning) BL_PREDICT_WHY_##id,
    BL_PREDICT_REASON_LIST(X)
#undef X
};
BL_API const char *bl_predict_figure_name(enum bl_predict_figure figure);
BL_API const char *bl_predict_reason_name(enum bl_predict_reason reason);
BL_API const char *bl_predict_reason_meaning(enum bl_predict_reason reason);

enum bl_predict_verdict {
    BL_PREDICT_NOT_DECIDED,
    BL_PREDICT_INSIDE,
    BL_PREDICT_LATER,
    BL_PREDICT_EARLIER
};
/* "not-decided", "inside", "later", "earlier". */
BL_API const char *bl_predict_verdict_name(enum bl_predict_verdict verdict);

enum bl_predict_from {
    BL_PREDICT_FROM_TRIAL,    /* the trial file states it */
    BL_PREDICT_FROM_RECORD,   /* [record], in its own words */
    BL_PREDICT_FROM_MEASURED, /* a held pressure of this run; never a time */
    BL_PREDICT_FROM_USUAL     /* common practice: not stated */
};
/* May a trial state or record this input by its name, and so narrow the band?
   What is in no file, as friction in a valve, stays a usual range. */
BL_API bool bl_predict_may_be_stated(const char *what);
/* "trial", "record", "measured", "usual". */
BL_API const char *bl_predict_from_name(enum bl_predict_from from);

/* One thing that a band rests on; low = usual = high where it is known. `what`
   and `unit` are static text. */
struct bl_predict_input {
    const char *what, *unit;
    double low, usual, high;
    enum bl_predict_from from;
};

/* One modelled application. */
struct bl_predict_point {
    size_t application;             /* index in the run's lag */
    double s, u_s;                  /* measured; NaN: not given */
    double low_s, middle_s, high_s; /* NaN: the model does not get there */
    /* Where a verdict begins: beyond the band by what one sound train in two
       hundred is, at the pace of its other units. NaN before it is judged. */
    double earliest_s, latest_s;
    bool differences_only; /* s is NAN because the clocks give no lags */
    bool at_least;         /* s is a bound: counts only where it is later */
};

/* One figure over the applications of one kind and shape. */
struct bl_predict_row {
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    enum bl_predict_figure figure;
    struct bl_predict_point *point;
    size_t points;     /* applications that were modelled */
    size_t n;          /* of them: with a measured figure */
    size_t bounds;     /* of n: only known to be later than that */
    double measured_s; /* median of those; NaN; with bounds it is one */
    double u_s;        /* largest of those */
    double low_s, middle_s, high_s; /* medians of the bands; NaN */
    double earliest_s, latest_s;    /* and of the limits */
    double pace; /* of the other units, over their middles; NaN: none */
    size_t inside, later, earlier, implausible; /* of n */
    /* Later or earlier: in three applications or in all. Inside: in all. */
    enum bl_predict_verdict verdict;
    enum bl_predict_reason reason; /* when not decided */
};

/* From the output of the unit that hands a unit its control air to its own, in
   hard steps of one run, and the same of the other stages of the train. */
enum { BL_STAGE_APPLY, BL_STAGE_RELEASE, BL_STAGES };
/* What makes a stage slow, where control pressure is recorded at both of its
   ends. Bore, couplings and branches look alike: resistance. */
enum bl_stage_cause {
    BL_STAGE_CANNOT_TELL,
    BL_STAGE_DELAY,
    BL_STAGE_RESISTANCE,
    BL_STAGE_KEEPS
};
/* "cannot-tell", "delay", "resistance", "kept-pressure". */
BL_API const char *bl_stage_cause_name(enum bl_stage_cause cause);
struct bl_stage_fit {
    bool known;
    size_t n;                 /* applications: medians of them */
    double delay_s, friction; /* friction as times that of a bare pipe */
    double keeps_kpa;         /* NaN: no hold of three seconds */
    double misfit_kpa;        /* the largest */
    /* u: what sound stages of one make differ by, and the scatter. */
    double u_delay_s, u_ln_friction, u_keeps_kpa;
    double others_delay_s, others_friction, others_keeps_kpa; /* means; NaN */
    enum bl_stage_cause cause; /* of a late stage */
};
struct bl_stage {
    bool known;
    size_t from, n;  /* the unit in front, index in the trial; applications */
    double s, u_s;   /* median of response, or of 90 % on release */
    double length_m; /* of pipe between the two; NaN */
    size_t others;   /* stages it is judged against; under 3: it is not */
    double expected_s, limit_s; /* by them, one-sided at 1 %; NaN */
    bool late;
    struct bl_stage_fit fit;
};

/* What a unit needs of the command to brake by air, and what was held. */
enum bl_ladder_verdict {
    BL_LADDER_CANNOT_TELL,
    BL_LADDER_BRAKES,
    BL_LADDER_NOT_EXPECTED, /* does not, and needs more than was held */
    BL_LADDER_DOES_NOT,     /* does not, and needs less */
    BL_LADDER_VERDICTS
};
/* "cannot-tell", "brakes", "not-expected", "does-not". */
BL_API const char *bl_ladder_verdict_name(enum bl_ladder_verdict verdict);
/* Applications of one kind. */
struct bl_ladder_row {
    enum bl_application_kind kind;
    size_t n, count[BL_LADDER_VERDICTS];
    double front_kpa, u_kpa; /* what the command held: median; largest u */
    enum bl_ladder_verdict verdict; /* of all; does-not: of three or of all */
};
/* Pressure of the command from which on its output passes `brakes_at`: 5, 50
   and 95 % of the draws. */
struct bl_ladder {
    bool known;
    double low_kpa, middle_kpa, high_kpa;
    struct bl_ladder_row row[BL_KIND_FULL];
    size_t rows;
};

struct bl_predict_unit {
    size_t run, unit;                  /* indices in the trial */
    enum bl_predict_reason reason;     /* why there are no rows; NONE */
    enum bl_control_line control_line; /* how control air was taken to come */
    double path_m;                     /* length of line from the valve */
    double least_s;                    /* bl_predict_least_s of it */
    struct bl_predict_input *input;
    size_t inputs;
    struct bl_predict_row *row;
    size_t rows;
    struct bl_stage stage[BL_STAGES]; /* of runs by air alone */
    struct bl_ladder ladder;          /* the same */
};

struct bl_predict {
    struct bl_predict_unit *unit;
    size_t units;
    size_t modelled, left_out; /* applications; left out: beyond the bound */
};

/* Predict one measured run; every unit of the trial has an entry. Errors:
   NOMEM. What it points to is its own or static. */
BL_API BL_MUST_CHECK enum bl_status
bl_predict_run(struct bl_predict **out, const struct bl_trial *trial,
               const struct bl_run_data *data,
               const struct bl_run_clocks *clocks, const struct bl_run_lag *lag,
               struct bl_error *error);
/* The same without what takes most of its time and only a table of predictions
   shows: the figures have no bands, so that no row has a verdict, and stages
   are fitted only where one of their edge is late. All else is the same to the
   bit. */
BL_API BL_MUST_CHECK enum bl_status bl_predict_run_without_bands(
    struct bl_predict **out, const struct bl_trial *trial,
    const struct bl_run_data *data, const struct bl_run_clocks *clocks,
    const struct bl_run_lag *lag, struct bl_error *error);
BL_API void bl_predict_destroy(struct bl_predict *predict);

#endif
