/* SPDX-License-Identifier: MIT */
/*
 * One unit over its visits: does a figure drift, did it step, or is it as it
 * was? docs/methods/life.md says how and why. Plain data in, plain data out:
 * no file, no trial. The caller gives one unit, every visit that is known of
 * it, and every figure that it wants looked at: the false rate is kept over all
 * of them together and over the unit's whole life, so that asking for less
 * afterwards does not make a change surer.
 *
 * Values are in the figure's own unit, seconds for all times; where it says
 * _s, a caller with another unit gives its own numbers. A change is later less
 * earlier: positive means slower now.
 */
#ifndef BRAKELAG_LIFE_H
#define BRAKELAG_LIFE_H

#include "brakelag/lag.h"
#include "brakelag/names.h"
#include "brakelag/status.h"

/*
 * What makes two visits comparable. X(ENUM, "name", "meaning", "what to do").
 * Position and command must be the same, or the visits are not compared. The
 * others are taken into account where they were recorded; where they were not,
 * what they could have made is allowed for in full.
 */
#define BL_LIFE_FACT_LIST(X)                                                   \
    X(POSITION, "position", "where the output was measured",                   \
      "measure the output at the same point at every visit and name it alike") \
    X(COMMAND, "command", "what the command was read from",                    \
      "read the command from the same source at every visit")                  \
    X(TRANSDUCER, "transducer",                                                \
      "which transducers were used, and their error",                          \
      "name the transducers and state their accuracy and delay")               \
    X(SUPPLY, "supply", "supply pressure", "record the supply pressure")       \
    X(TEMPERATURE, "temperature", "temperature of the air",                    \
      "record the temperature")                                                \
    X(IN_FRONT, "units-in-front", "how many and which units stood in front",   \
      "describe the units in front")                                           \
    X(RISE, "command-rise", "how fast the command rose",                       \
      "record the pedal or its pressure, not a switch alone")

enum bl_life_fact {
#define X(id, ...) BL_LIFE_FACT_##id,
    BL_LIFE_FACT_LIST(X)
#undef X
        BL_LIFE_FACTS
};
BL_API const char *bl_life_fact_name(enum bl_life_fact fact);
BL_API const char *bl_life_fact_meaning(enum bl_life_fact fact);
BL_API const char *bl_life_fact_todo(enum bl_life_fact fact);

/* One visit. Text NULL or empty, numbers NaN: not recorded. */
struct bl_life_visit {
    double day; /* days since any one date; ascending over the visits */
    double supply_kpa, temperature_c;
    double units_in_front;
    const char *kinds_in_front; /* front to rear, in the same words at every
                                   visit */
    const char *command;        /* what it was read from */
};

/* One figure at one visit: the mean over its runs and applications. */
struct bl_life_value {
    size_t visit;        /* index in bl_life.visit */
    double value;        /* NaN: the figure is missing there */
    double u_random;     /* standard, of `value`: all that is new at each visit:
                            scatter over the root of n, ties of the clocks */
    double u_systematic; /* standard: what visits with the same transducers
                            share (gain, zero, delay); NaN: not stated */
    double command_rise_s;  /* the command's own time from 10 to 75 % of its
                               hold; NaN: not recorded (a switch) */
    const char *position;   /* where the output was measured */
    const char *transducer; /* those of output and command, any text that is
                               the same when they are; not recorded: it may
                               have been another one since any visit */
};

/* What a series is about; text is borrowed. */
struct bl_life_key {
    enum bl_figure_name figure;
    double level_kpa; /* of figure LEVEL */
    const char *condition;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
};
/* One figure over the visits that gave it, in their order. Figures that count
   from the command (bl_figure_of_output); stagger and spread tell of other
   units, too. */
struct bl_life_series {
    struct bl_life_key key;
    bool by_air; /* its demand came by the air line alone, or it is not known */
    /* The last visit looked for it in an application that counts, and no value
       came. Not judged: for those who tell of it. */
    bool silent;
    const struct bl_life_value *value;
    size_t values;
};
struct bl_life {
    const struct bl_life_visit *visit;
    size_t visits;
    const struct bl_life_series *series;
    size_t series_count;
};

/* Numbers that decide; docs/methods/life.md has their sources. */
struct bl_life_options {
    double confidence; /* of intervals: 0.95 */
    double false_rate; /* of a unit's whole life and all its series: 0.02 */
    double spread_s;   /* what visits usually differ by: 0.012 */
    double spread_dof; /* and what that is worth, degrees of freedom: 4 */
    double least_s;    /* a smaller change is no trend: 0.020 */
    double odds;       /* to call it a drift, not a step, or back: 20 */
};
BL_API struct bl_life_options bl_life_options_default(void);

/* X(ENUM, "name", "meaning") */
#define BL_LIFE_VERDICT_LIST(X)                                                \
    X(CANNOT_TELL, "cannot-tell",                                              \
      "these visits do not show whether it changed; the reason says why")      \
    X(NO_CHANGE_SHOWN, "no-change-shown",                                      \
      "no change is seen; one too small for these visits may be there")        \
    X(SMALL, "small",                                                          \
      "it changed, but by less than counts as a change (20 ms unless set)")    \
    X(DRIFT, "drift", "it changes bit by bit, from visit to visit")            \
    X(STEP, "step", "it changed between two visits and stayed there")          \
    X(DRIFT_OR_STEP, "drift-or-step",                                          \
      "it changed; these visits do not show whether at once or bit by bit")    \
    X(LAST_APART, "last-apart",                                                \
      "the last visit stands apart; the next one shows whether it stays")      \
    X(FIRST_APART, "first-apart",                                              \
      "the first visit stands apart: a change right after it, or a bad day")

enum bl_life_verdict {
#define X(id, ...) BL_LIFE_##id,
    BL_LIFE_VERDICT_LIST(X)
#undef X
        BL_LIFE_VERDICTS
};
BL_API const char *bl_life_verdict_name(enum bl_life_verdict verdict);
BL_API const char *bl_life_verdict_meaning(enum bl_life_verdict verdict);

/* Why there is no answer: X(ENUM, "name", "meaning"). NONE with every verdict
   but CANNOT_TELL. */
#define BL_LIFE_REASON_LIST(X)                                                 \
    X(NONE, "none", "there is an answer")                                      \
    X(FEW_VISITS, "few-visits", "fewer than three visits can be compared")     \
    X(ONE_DAY, "one-day",                                                      \
      "all visits that can be compared lie within one day")                    \
    X(ONE_MONTH, "one-month",                                                  \
      "all visits that can be compared lie within a month; a slow change "     \
      "does not show in that")                                                 \
    X(NOT_RECORDED, "not-recorded",                                            \
      "what was not recorded could make a change or hide one")                 \
    X(NO_POWER, "no-power",                                                    \
      "even a change as large as the figure itself could have passed "         \
      "unnoticed")

enum bl_life_reason {
#define X(id, ...) BL_LIFE_REASON_##id,
    BL_LIFE_REASON_LIST(X)
#undef X
        BL_LIFE_REASONS
};
BL_API const char *bl_life_reason_name(enum bl_life_reason reason);
BL_API const char *bl_life_reason_meaning(enum bl_life_reason reason);

/*
 * A change with its uncertainty: difference, drift per year, step. `u` has the
 * spread between visits in it. `allowance` is what facts that were not recorded
 * could make of it at most: the interval is wider by it on both sides, and p is
 * of what is left of the change. Not known: NaN throughout.
 */
struct bl_life_change {
    bool known;
    double size, u, dof, allowance;
    double low, high;
    double p; /* two-sided, of this one change by itself */
};

/* One comparable visit of a series. */
struct bl_life_point {
    size_t visit;
    double value;    /* as measured */
    double adjusted; /* less what recorded facts make: what is compared */
    double u;        /* of one visit, the spread between visits included, what
                        was not recorded left out */
};
/* A visit that is not compared with the last one, and why. */
struct bl_life_left {
    size_t visit;
    enum bl_life_fact why;
};

struct bl_life_row {
    struct bl_life_key key;
    struct bl_life_point *point; /* comparable with the last visit, and it */
    size_t points;
    struct bl_life_left *left;
    size_t lefts;
    size_t older; /* comparable, but before the latest 60: not looked at */
    double spread, spread_dof;    /* standard deviation between visits, as the
                                     usual and this life have it together */
    struct bl_life_change before; /* last visit less the one before */
    struct bl_life_change middle; /* last visit less the median of all before */
    struct bl_life_change last;   /* the same as the estimate of least variance:
                                     what is judged; of two visits `before` */
    struct bl_life_change drift;  /* per year: median of slopes; three visits
                                     over more than a month */
    struct bl_life_change step;   /* at the place that fits best */
    size_t step_at;               /* index in `point`: the first after it */
    double odds_drift;            /* drift against a step at any place: 20 is 20
                                     to 1; NaN: no drift was tried */
    /* Control limits for the next visit, the visits so far taken as steady:
       from 3 standard deviations of the normal distribution. `middle_line`
       stands between them. NaN: fewer than three since a step, a drift, or it
       cannot be told. Never infinite. */
    double middle_line, control_low, control_high;
    /* Over both ways of changing, all places, all looks of a life and all
       series of the unit: at most `false_rate` is a change. NaN: not looked. */
    double p, p_life;
    double noticeable; /* a drift per year of this size would have been called a
                          change nine times in ten; smaller ones often pass.
                          NaN: no drift was tried; with NO_CHANGE_SHOWN never */
    enum bl_life_verdict verdict;
    enum bl_life_reason reason; /* of CANNOT_TELL */
    unsigned needs;             /* 1 << enum bl_life_fact: what would decide */
    size_t more_visits; /* comparable ones still missing for a trend; 0 */
};
struct bl_lives {
    struct bl_life_row *row; /* one per series, in their order */
    size_t rows;
    size_t looked_at; /* rows that share the false rate */
};

enum { BL_LIFE_VISITS_LEAST = 3 };

/* Look at a whole life. Nothing given is kept but the text of keys. NULL: what
   went wrong is in `error`: ARG (days not ascending, a visit that is not
   there or twice, a negative u, options out of range), LIMIT (BL_LIMIT_LIFE_*),
   NOMEM. `options` NULL: the default. */
BL_API BL_MUST_CHECK struct bl_lives *
bl_life_create(const struct bl_life *life,
               const struct bl_life_options *options, struct bl_error *error);
BL_API void bl_life_destroy(struct bl_lives *lives);

/*
 * Before and after: the last visit against those before it.
 * X(ENUM, "name", "meaning")
 */
#define BL_LIFE_PAIR_LIST(X)                                                   \
    X(CANNOT_TELL, "cannot-tell",                                              \
      "these two visits do not show whether it changed; the reason says why")  \
    X(NONE_SHOWN, "no-change-shown",                                           \
      "no change is seen; one within the interval may be there")               \
    X(SAME, "same", "it changed by less than counts as a change, surely")      \
    X(SMALL, "small",                                                          \
      "it changed, but by less than counts as a change (20 ms unless set)")    \
    X(FASTER, "faster", "it comes earlier than at the visit before")           \
    X(SLOWER, "slower", "it comes later than at the visit before")

enum bl_life_pair_verdict {
#define X(id, ...) BL_LIFE_PAIR_##id,
    BL_LIFE_PAIR_LIST(X)
#undef X
        BL_LIFE_PAIR_VERDICTS
};
BL_API const char *bl_life_pair_name(enum bl_life_pair_verdict verdict);

/* X(ENUM, "name", "meaning") */
#define BL_LIFE_PAIR_REASON_LIST(X)                                            \
    X(NONE, "none", "there is an answer")                                      \
    X(ONLY_THEN, "only-then", "the later visit has no value of it")            \
    X(ONLY_NOW, "only-now", "the earlier visit has no value of it")            \
    X(NOT_COMPARABLE, "not-comparable",                                        \
      "it was measured at another place or from another command")              \
    X(NOT_RECORDED, "not-recorded",                                            \
      "what was not recorded could make a change or hide one")                 \
    X(BY_CHANCE, "by-chance",                                                  \
      "it differs, but one of so many may do so by chance; a third visit "     \
      "shows whether it stays")                                                \
    X(NO_POWER, "no-power",                                                    \
      "even a change as large as the figure itself could have passed "         \
      "unnoticed")

enum bl_life_pair_reason {
#define X(id, ...) BL_LIFE_PAIR_REASON_##id,
    BL_LIFE_PAIR_REASON_LIST(X)
#undef X
        BL_LIFE_PAIR_REASONS
};
BL_API const char *bl_life_pair_reason_name(enum bl_life_pair_reason reason);
BL_API const char *bl_life_pair_reason_meaning(enum bl_life_pair_reason reason);

struct bl_life_pair {
    enum bl_life_pair_verdict verdict;
    enum bl_life_pair_reason reason; /* of CANNOT_TELL */
    unsigned needs; /* 1 << enum bl_life_fact: what would decide */
    double p_all;   /* over all figures of the unit; NaN: not compared */
};

/* Judge the change `last` of each row: one `out` per row. It is one where p
   over all of them is at most 1 - confidence, where each visit is another look.
   `options` as given to bl_life_create. Errors: ARG (fewer than two visits),
   NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_life_pairs(struct bl_life_pair *out, const struct bl_lives *lives,
              const struct bl_life *life, const struct bl_life_options *options,
              struct bl_error *error);

#endif
