/* SPDX-License-Identifier: MIT */
/*
 * Limits: those that regulations publish, and the trial's own. What a yard
 * trial says about a published one is indicative always: it does not meet the
 * rule's conditions, and each row says which. docs/methods/limits.md.
 */
#ifndef BRAKELAG_LIMITS_H
#define BRAKELAG_LIMITS_H

#include "brakelag/decoder.h"
#include "brakelag/lag.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* X(ENUM, "name", "meaning") */
#define BL_LIMIT_CLASS_LIST(X)                                                 \
    X(MOTOR_VEHICLE, "motor-vehicle", "the towing motor vehicle")              \
    X(TRAILER, "trailer", "any towed vehicle")                                 \
    X(TOWING_TRAILER, "towing-trailer",                                        \
      "a trailer with another one behind it, not a dolly")                     \
    X(DOLLY, "converter-dolly", "a converter dolly")                           \
    X(TOWS, "towing-trailer-or-dolly",                                         \
      "a trailer or dolly with another unit behind it")                        \
    X(LAST_TRAILER, "last-trailer", "a trailer that tows nothing")

/* Why a limit is not decided. */
#define BL_LIMIT_REASON_LIST(X)                                                \
    X(NONE, "", "")                                                            \
    X(NOT_MEASURED, "not-measured", "this trial measures no such figure")      \
    X(NO_APPLICATION, "no-application",                                        \
      "no application of the kind that the rule asks for")                     \
    X(NO_FIGURE, "no-figure", "an application does not give the figure")       \
    X(NO_LEVEL, "no-level",                                                    \
      "the measured levels leave the rule's own level open")                   \
    X(WITHIN_UNCERTAINTY, "within-uncertainty",                                \
      "figure and limit are closer than the uncertainty")                      \
    X(COUNTS_MORE, "counts-more",                                              \
      "the figure includes the way to the unit, the rule does not")            \
    X(REFERENCE_RUN, "reference-run",                                          \
      "the transducers were at one tee: no unit was measured")                 \
    X(UNPOWERED, "unpowered",                                                  \
      "an electronically controlled unit without its electric supply or data " \
      "(from memory: the rules test it supplied)")                             \
    X(HOLD_LONGER, "hold-longer",                                              \
      "an output had not settled when the command was let go, so that its "    \
      "figure is only known to be later than a bound: hold longer")

enum bl_limit_class {
#define X(id, name, meaning) BL_LIMIT_CLASS_##id,
    BL_LIMIT_CLASS_LIST(X)
#undef X
};
enum bl_limit_reason {
#define X(id, name, meaning) BL_LIMIT_##id,
    BL_LIMIT_REASON_LIST(X)
#undef X
};
BL_API const char *bl_limit_class_name(enum bl_limit_class vehicle_class);
BL_API const char *bl_limit_reason_name(enum bl_limit_reason reason);
BL_API const char *bl_limit_reason_meaning(enum bl_limit_reason reason);

/* What of a trial is compared with a published limit. */
enum bl_limit_measure {
    BL_LIMIT_BY_NOTHING,  /* no figure of a trial is this one */
    BL_LIMIT_BY_APPLY_75, /* command to 75 % */
    BL_LIMIT_BY_APPLY,    /* command to 60 psi, or 70 % of the most */
    BL_LIMIT_BY_RELEASE,  /* command to 5 psi */
    BL_LIMIT_BY_LOSS      /* pressure lost from coupling to coupling */
};

/* One limit as published. `limit` is in `unit`: s, kPa or %. */
struct bl_published_limit {
    const char *regulation, *clause;
    enum bl_limit_class vehicle;
    const char *from, *to;
    double limit;
    const char *unit;
    bool to_tenth;    /* the result is rounded to 0.1 s before it is judged */
    bool counts_more; /* the trial's figure begins before the rule's */
    double above_kpa, up_to_kpa; /* of the input pressure, for BY_LOSS */
    enum bl_limit_measure by;
    const char *conditions; /* that a yard trial does not meet */
    const char *source;
    enum bl_confidence confidence;
};
/* All of them by index; NULL past the last. Static data. */
BL_API const struct bl_published_limit *bl_published_limit(size_t index);

enum bl_limit_verdict {
    BL_LIMIT_NOT_DECIDED, /* of a user's limit: not shown */
    BL_LIMIT_INSIDE,
    BL_LIMIT_OUTSIDE
};
BL_API const char *bl_limit_verdict_name(enum bl_limit_verdict verdict);

/* One limit and one unit in one run. Judged is every application; shown is
   the one with the greatest value. */
struct bl_limit_row {
    const struct bl_published_limit *published; /* NULL: the trial's own */
    const struct bl_trial_limit *own;           /* belongs to the trial */
    long run, unit;   /* indices in the trial; -1: none, or the whole train */
    size_t n;         /* applications that were judged */
    size_t bounds;    /* of n: of an unsettled output, later than `low` */
    size_t without;   /* that do not give the figure */
    double low, high; /* equal where the figure is exact; NaN */
    double u;         /* of high */
    double most_kpa;  /* pressure of the full application; NaN */
    enum bl_limit_verdict verdict;
    enum bl_limit_reason reason;
};
struct bl_limits {
    struct bl_limit_row *row;
    size_t rows, capacity;
    size_t own_failed, own_not_shown; /* what sets the exit code */
};

/* Judge measured runs: lag[i] belongs to trial run i, NULL where there is
   none. Rows point into `trial`, which must outlive them. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_limits_create(struct bl_limits **out, const struct bl_trial *trial,
                 struct bl_run_lag *const *lag, struct bl_error *error);
BL_API void bl_limits_destroy(struct bl_limits *limits);

#endif
