/* SPDX-License-Identifier: MIT */
/*
 * How two conditions differ, figure by figure and unit by unit: powered
 * against unpowered, after a repair against before; or two units side by side
 * in the same applications. docs/methods/comparison.md says how and why.
 *
 * Sign: a difference is "against" less "base", so a negative one means that
 * the unit is earlier under "against".
 */
#ifndef BRAKELAG_COMPARE_H
#define BRAKELAG_COMPARE_H

#include "brakelag/lag.h"
#include "brakelag/stats.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

enum bl_compare_mode {
    BL_COMPARE_CONDITIONS, /* every unit with itself, under two conditions */
    BL_COMPARE_UNITS       /* two units side by side in the same applications */
};

/* Text is borrowed for the call. All zero is the default: unpowered against
   powered. */
struct bl_compare_options {
    enum bl_compare_mode mode;
    /* CONDITIONS: their labels; NULL: unpowered, powered. UNITS: `base` is the
       condition of the runs to use; NULL: all runs. */
    const char *base, *against;
    /* What the measuring chains themselves differ by: a condition whose runs
       have all transducers at one tee, or a stated "81 ms +- 5 ms"; NULL. */
    const char *reference;
    double confidence;              /* 0: 0.95 */
    size_t unit_base, unit_against; /* UNITS: indices in the trial, different */
};
BL_API struct bl_compare_options bl_compare_options_default(void);

enum bl_verdict {
    BL_VERDICT_NO_VALUES,       /* one side has none */
    BL_VERDICT_RUN_MORE,        /* no exact test of so few can be that sure */
    BL_VERDICT_NO_CHANGE_SHOWN, /* the interval holds 0 */
    BL_VERDICT_EARLIER,         /* against is earlier than base */
    BL_VERDICT_LATER
};
BL_API const char *bl_verdict_name(enum bl_verdict verdict);

struct bl_travel {
    double kmh, m, u_m; /* distance travelled during the difference of lags */
};

struct bl_comparison_row {
    size_t unit;      /* index in the trial; the "against" unit of two */
    size_t unit_base; /* the same, but for two units side by side */
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    enum bl_figure_name figure;
    double level_kpa; /* of figure LEVEL */
    bool paired;
    size_t n_base, n_against;       /* values used */
    size_t null_base, null_against; /* applications without the figure */
    size_t unpaired_left;           /* values left over when paired */
    unsigned flags;                 /* enum bl_flag of all values used */
    double base_median_s, against_median_s;
    enum bl_verdict verdict;
    size_t more; /* RUN_MORE: applications to add on each side, at least */
    struct bl_shift shift; /* on values with the reference taken off */
    /* The result: shift, widened by what does not average out. NaN where the
       verdict is NO_VALUES. */
    double difference_s, u_s, low_s, high_s;
    double u_random_s;     /* of the shift */
    double u_systematic_s; /* clocks of the runs */
    /* What was taken off, and why nothing was. */
    double reference_s, u_reference_s;
    size_t n_reference;
    bool reference_cancels; /* same channel on both sides */
    struct bl_trend trend_base, trend_against;
    bool drifts_base, drifts_against; /* beyond the chance of all trends */
    struct bl_travel *travel;         /* one per bl_trial.speed_kmh */
};

struct bl_comparison {
    char *base, *against, *reference; /* labels; reference NULL: none */
    double confidence;
    size_t runs_base, runs_against, runs_reference;
    bool order_balanced; /* base and against runs are spread alike in time */
    bool two_units;      /* side by side in the same applications */
    size_t excluded;     /* applications that the trial excludes */
    size_t trends;       /* of all rows, that could tell of a drift */
    /* In which order the units answer; two units side by side: of their
       runs, on the base side. */
    struct bl_order *order_base, *order_against;
    size_t orders_base, orders_against;
    struct bl_comparison_row *row;
    size_t rows;
    size_t speeds; /* travels per row */
    struct bl_notes notes;
};

/*
 * Compare measured runs. lag[i] belongs to trial run i; NULL for a run that
 * could not be measured. Errors: TRIAL (no run has such a condition; names
 * those that there are), ARG (reference not understood; one unit twice, one
 * that the trial has not, or two whose commands differ), NOMEM. `options` NULL:
 * the default.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_compare(struct bl_comparison **out, const struct bl_trial *trial,
           struct bl_run_lag *const *lag,
           const struct bl_compare_options *options, struct bl_error *error);
BL_API void bl_comparison_destroy(struct bl_comparison *comparison);

#endif
