/* SPDX-License-Identifier: MIT */
/*
 * How two conditions differ, figure by figure and unit by unit: powered
 * against unpowered, after a repair against before; or two units side by side
 * in the same applications. docs/methods/comparison.md says how and why.
 *
 * The run is the unit of inference: applications of one run share its state of
 * the air and of the recorders, so what is said of the conditions rests on the
 * means of three runs a side or more. With fewer, it is said of these runs.
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
    double confidence; /* 0: 0.95 */
    /* Half-width that is wished, seconds: how many runs would give it. 0: a
       tenth of the difference. */
    double aim_s;
    double same_within_s;           /* what counts as the same; 0: 0.020 */
    size_t unit_base, unit_against; /* UNITS: indices in the trial, different */
};
BL_API struct bl_compare_options bl_compare_options_default(void);

enum bl_verdict {
    BL_VERDICT_NO_VALUES,       /* one side has none */
    BL_VERDICT_RUN_MORE,        /* fewer than three runs on a side */
    BL_VERDICT_NO_CHANGE_SHOWN, /* the interval holds 0 */
    BL_VERDICT_SAME,            /* and lies within the margin, surely */
    BL_VERDICT_EARLIER,         /* against is earlier than base */
    BL_VERDICT_LATER,
    BL_VERDICT_COMMAND_DIFFERS /* it may be the command's own difference */
};
BL_API const char *bl_verdict_name(enum bl_verdict verdict);

struct bl_travel {
    double kmh, m, u_m; /* distance travelled during the difference of lags;
                           NaN: refused, as the command differs */
};

/* What a statement is about. */
enum bl_compare_scope {
    BL_SCOPE_THESE_RUNS, /* applications of these runs, by ranks */
    BL_SCOPE_RUNS,       /* means of runs; Welch */
    BL_SCOPE_PAIRS       /* differences within blocks, or of two units within
                            runs; Student */
};
BL_API const char *bl_compare_scope_name(enum bl_compare_scope scope);

/* A value that lies apart from its like. It is named and kept. */
struct bl_outlier {
    size_t run; /* index in the trial */
    int number; /* its application; 0: the mean of the whole run */
    bool against;
    double value_s, off_s; /* off: from the mean of the others */
};
enum { BL_OUTLIERS = 4 };

/* How a comparison would come out without its outliers. */
struct bl_without {
    double difference_s, low_s, high_s;
    enum bl_verdict verdict;
};

/* How many runs a side, of how many applications each, would give the
   half-width: the least effort, where a run costs as much as five
   applications. runs 0: not known from these, or no number would do, as what
   does not average out is as much. */
struct bl_aim {
    double half_width_s;
    size_t runs, applications;
};

/* What a row rests on. Components of variance: NaN as in bl_variance. */
struct bl_compared_runs {
    size_t runs_base, runs_against;     /* with values */
    size_t pairs;                       /* blocks, or runs of two units */
    double mean_base_s, mean_against_s; /* means of the means of runs */
    struct bl_variance base, against;
    size_t more_base, more_against; /* runs to add before conditions can be
                                       spoken of */
    double least_s, most_s; /* THESE_RUNS: smallest and largest difference of
                               two applications */
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
    enum bl_compare_scope scope;
    struct bl_compared_runs of_runs;
    /* By ranks: of applications in THESE_RUNS, else of the means of runs (of
       pairs), where it stands beside as the exact test. */
    struct bl_shift shift;
    struct bl_mean_difference mean; /* but for THESE_RUNS */
    /* The result: widened by what does not average out. NaN where the verdict
       is NO_VALUES. */
    double difference_s, u_s, low_s, high_s;
    double confidence, p;
    double p_exact; /* of the ranks of means of runs, where so many could give
                       0.05: four and four, or six pairs; else NaN */
    double p_holm;  /* over all lines of this figure; NaN: takes no part */
    double same_within_s, p_same;
    double u_random_s;
    double u_systematic_s; /* clocks of the runs */
    /* The command's own difference at this figure: what was taken off, or,
       where that cannot be done, how much it may be (u alone). 0: it is the
       same on both sides. */
    double command_s, u_command_s;
    bool command_taken_off, metres_refused;
    /* What was taken off, and why nothing was. */
    double reference_s, u_reference_s;
    size_t n_reference;
    bool reference_cancels; /* same channel on both sides */
    struct bl_outlier outlier[BL_OUTLIERS];
    size_t outliers;
    struct bl_without without; /* counts where there are outliers */
    struct bl_aim aim;
    struct bl_trend trend_base, trend_against;
    bool drifts_base, drifts_against; /* beyond the chance of all trends */
    struct bl_travel *travel;         /* one per bl_trial.speed_kmh */
};

/* One property of the command on both sides; NaN where it was not seen. */
struct bl_command_part {
    double base, against, difference, u;
    bool differs;
};
/* The commands of one kind and shape, compared before anything else. */
struct bl_compared_command {
    char combination;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    enum bl_quantity quantity; /* of the hold */
    size_t n_base, n_against;
    struct bl_command_part rise; /* 10 to 75 % of its hold, seconds */
    struct bl_command_part fall; /* 90 to 10 % */
    struct bl_command_part hold;
    bool hold_far; /* holds so different that lags say nothing */
    bool unseen;   /* a switch: how fast it went was not recorded */
};

struct bl_comparison {
    char *base, *against, *reference; /* labels; reference NULL: none */
    double confidence;
    size_t runs_base, runs_against, runs_reference;
    bool order_balanced; /* base and against runs are spread alike in time */
    bool two_units;      /* side by side in the same applications */
    size_t excluded;     /* applications that the trial excludes */
    size_t trends;       /* of all rows, that could tell of a drift */
    struct bl_compared_command *command;
    size_t commands, command_capacity;
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
