/* SPDX-License-Identifier: MIT */
/*
 * What a unit makes of its demand once everything has settled: output against
 * input, and what is left of a light demand at the rear.
 * docs/methods/characteristic.md has the definitions.
 *
 * Pressures are kPa. Outputs are taken above their rest. An input that is air
 * is taken above its rest where it was vented (rest within 10 kPa of zero),
 * which takes its zero error off; otherwise it is taken as read.
 */
#ifndef BRAKELAG_CHARACTERISTIC_H
#define BRAKELAG_CHARACTERISTIC_H

#include "brakelag/lag.h"
#include "brakelag/limits.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* A value with standard uncertainty; NaN, NaN: not known. */
struct bl_measured {
    double value, u;
};

/* X(ENUM, "name", "sentence"): why a curve is missing, with what to do. */
#define BL_CURVE_REASON_LIST(X)                                                \
    X(FITTED, "", "")                                                          \
    X(NO_INPUT, "no-input", "this input is not wired or was not recorded")     \
    X(NO_OUTPUT, "no-output",                                                  \
      "no pressure of the output is wired or was recorded")                    \
    X(UNRELATED, "clocks-unrelated",                                           \
      "input and output are of recorders whose clocks are not tied")           \
    X(TOO_FAST, "too-fast",                                                    \
      "the pressure was moved too fast: record steps of 10 kPa from 30 to "    \
      "100 kPa, each held for 2 s, or ramps up and down of at most 20 kPa/s")  \
    X(TOO_FEW, "too-few",                                                      \
      "too few slow or held pressures on this branch: record steps of 10 kPa " \
      "from 30 to 100 kPa up and down, each held for 2 s")                     \
    X(NOT_VENTED, "no-low-end",                                                \
      "no steady or slow pressure below the onset: begin with vented brakes")  \
    X(NO_RISE, "no-rise", "the output did not rise with the input")
enum bl_curve_reason {
#define X(id, name, sentence) BL_CURVE_##id,
    BL_CURVE_REASON_LIST(X)
#undef X
};
BL_API const char *bl_curve_reason_name(enum bl_curve_reason reason);
BL_API const char *bl_curve_reason_sentence(enum bl_curve_reason reason);

/* Seconds of the recording by how they were used. */
struct bl_quasi_static {
    double hold_s, ramp_s;
    double fast_s;    /* moved faster than 20 kPa/s, or had just done so */
    double missing_s; /* no value of input or output */
    double fastest;   /* kPa/s */
};

/* One branch: out = 0 below `on`, jump + gain (in - on) above it, level from
   the input `sat_in` on. All u standard. */
struct bl_branch {
    enum bl_curve_reason reason; /* FITTED: the rest counts */
    size_t points, holds;
    struct bl_measured on; /* rate x lag taken off; u holds the lag's own */
    struct bl_measured jump, gain;
    bool has_jump;  /* shown by the data */
    bool saturates; /* shown by the data */
    struct bl_measured sat_in, sat_out;
    double rate;           /* of the input near `on`, kPa/s */
    double bias;           /* rate x lag that was taken off `on` */
    double s;              /* residual standard deviation */
    double low, high, top; /* input from, to; largest output */
};

enum bl_fit_verdict { BL_FIT_UNKNOWN, BL_FIT_NO, BL_FIT_YES };
struct bl_candidate {
    char name[64];
    double threshold, gain; /* NaN: set by load */
    bool stated;            /* a section or key of the trial, not a default */
    double residual;        /* standard deviation from it */
    double off_threshold;   /* (its threshold - found) / u */
    double off_gain;        /* (its gain - found) / u; NaN: set by load */
    enum bl_fit_verdict fits;
};

enum bl_curve_input {
    BL_CURVE_OF_DEMAND,
    BL_CURVE_OF_CONTROL,
    BL_CURVE_OF_FRONT
};
BL_API const char *bl_curve_input_name(enum bl_curve_input input);

/* A held or slowly moving pressure that the branches were read from. */
struct bl_curve_seen {
    double in, out;
    double rate; /* of the input, kPa/s; 0 in a hold */
    bool falling, hold;
    double seconds; /* that it is the mean of */
};
enum { BL_CURVE_SEEN = 120 };

struct bl_curve {
    enum bl_curve_input input;
    struct bl_curve_seen *seen; /* in order of time, holds and what moved
                                   thinned to BL_CURVE_SEEN each; NULL: none */
    size_t seen_count;
    struct bl_quasi_static time;
    struct bl_branch rising, falling;
    struct bl_measured hysteresis;
    struct bl_measured lag_s; /* of output behind input, as used */
    bool lag_measured;        /* from steps of this run; else a common range */
    size_t lag_steps;
    bool input_above_rest;
    double u_zero; /* stated zero error in `on`; NaN: not stated */
    double u_gain; /* stated gain error, fraction; NaN: not stated */
};

struct bl_characteristic {
    size_t unit;
    long output;                  /* index of the unit's output */
    struct bl_curve curve[2];     /* against DEMAND and against CONTROL */
    enum bl_answer demand_better; /* explains the output better; UNKNOWN:
                                     cannot tell */
    long used; /* index of the curve that the rest rests on; -1 */
    struct bl_candidate *candidate;
    size_t candidates;
    long choice;             /* -1: cannot tell, or none fits */
    double threshold_choice; /* NaN: cannot tell, or none fits */
    /* Onset against the front demand: what all stages ask for together. Only
       for relayed lines, or where control and control_out were recorded. */
    struct bl_branch cumulative;
    bool cumulative_applies;
};

/* One held demand below 150 kPa, and what every unit made of it. */
struct bl_light_unit {
    size_t unit;
    struct bl_measured output; /* above rest; NaN: not recorded */
    enum bl_answer braked;     /* against brakes_at; UNKNOWN: cannot tell */
};
struct bl_light_row {
    double from_s, to_s; /* since the run's t0 */
    struct bl_measured demand;
    struct bl_light_unit *unit;
    size_t units;
};

/* Pressure lost from a towing unit's front to its rear coupling while held,
   beside the published differential (49 CFR 571.121 S5.3.5). */
struct bl_line_loss {
    size_t unit;
    bool next_stands_in; /* control of the next unit, for lack of control_out */
    bool falling;        /* holds that were come to from above */
    struct bl_measured front, loss;
    const struct bl_published_limit *limit; /* that speaks of this pressure */
    double published;                       /* what it allows here, kPa */
    enum bl_fit_verdict inside;             /* UNKNOWN: not decided */
    size_t holds;
};

struct bl_characteristics {
    size_t run;
    struct bl_characteristic *item;
    size_t count;
    struct bl_light_row *light;
    size_t lights;
    bool light_known; /* false: no front demand in kPa was recorded */
    struct bl_line_loss *loss;
    size_t losses;
    struct bl_notes notes;
};

/* Study one measured run (`lag` may be NULL: no lags from steps then). Nothing
   given is kept; limits that it points to are static. Errors: NOMEM, LIMIT. */
BL_API BL_MUST_CHECK enum bl_status bl_characteristic_run(
    struct bl_characteristics **out, const struct bl_trial *trial,
    const struct bl_run_data *data, const struct bl_run_clocks *clocks,
    const struct bl_run_lag *lag, struct bl_error *error);
BL_API void bl_characteristics_destroy(struct bl_characteristics *all);

#endif
