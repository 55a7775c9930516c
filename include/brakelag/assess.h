/* SPDX-License-Identifier: MIT */
/*
 * A whole trial in one call: every run is loaded, its clocks are tied, its
 * applications are measured, and what is asked for is studied. Everything that
 * was found lies in one object, ready for report.h or for a program's own use.
 *
 *     struct bl_assessment *found;
 *     if (bl_assess(&found, trial, NULL, NULL, &error) == BL_OK) {
 *         ... bl_report_write(found, output, NULL, &error) ...
 *         bl_assessment_destroy(found);
 *     }
 *
 * What cannot be had does not stop the rest: a run that could not be read has
 * its reason and the other runs are measured.
 */
#ifndef BRAKELAG_ASSESS_H
#define BRAKELAG_ASSESS_H

#include "brakelag/answer.h"
#include "brakelag/budget.h"
#include "brakelag/causes.h"
#include "brakelag/characteristic.h"
#include "brakelag/check.h"
#include "brakelag/clock.h"
#include "brakelag/compare.h"
#include "brakelag/dynamics.h"
#include "brakelag/findings.h"
#include "brakelag/lag.h"
#include "brakelag/limits.h"
#include "brakelag/load.h"
#include "brakelag/picture.h"
#include "brakelag/predict.h"
#include "brakelag/reach.h"
#include "brakelag/status.h"
#include "brakelag/transducers.h"
#include "brakelag/trial.h"

/* What is studied besides the figures; bits. */
enum bl_assess_part {
    BL_ASSESS_CHECK = 0x1, /* of one run each: */
    BL_ASSESS_REACH = 0x2,
    BL_ASSESS_CURVES = 0x4, /* characteristics and doubled transducers */
    BL_ASSESS_PREDICT = 0x8,
    BL_ASSESS_CAUSES = 0x10, /* of all runs; needs reach, curves and predict,
                                which are made with it */
    BL_ASSESS_COMPARISON = 0x20,
    BL_ASSESS_ANSWER = 0x40, /* from what else is asked for */
    BL_ASSESS_DYNAMICS = 0x80,
    BL_ASSESS_LIMITS = 0x100,
    /* For traces and for a program's own use: without this, and where no study
       needs them, the series of a run are freed once it was measured, so that
       memory holds one run at a time. */
    BL_ASSESS_SERIES = 0x200,
    /* The findings as with CAUSES, for an answer that needs no more of it:
       prediction is made without bands (predict.h), so that the table of traits
       does not say what the chain lets expect. Several times as quick. */
    BL_ASSESS_FINDINGS = 0x400,
    BL_ASSESS_REPORT =
        0x3FE /* all but check and FINDINGS, which is in CAUSES */
};

struct bl_assessment;
/* What it points to is borrowed for the call. All zero: the figures alone. */
struct bl_assess_options {
    unsigned parts; /* enum bl_assess_part */
    /* Names of the runs that take part; 0: all. */
    const char *const *run;
    size_t runs;
    /* NULL: powered against unpowered, where the trial has both; else there is
       none, which is no error. */
    const struct bl_compare_options *compare;
    unsigned topics;    /* of the answer (answer.h); 0: the whole trial's */
    const char *budget; /* a figure to be taken apart (budget.h); NULL: none */
    /* Asked once the figures are there, before causes are looked for: earlier
       visits of the units. What it gives is borrowed. NULL: there are none. Its
       failure is that of bl_assess. */
    enum bl_status (*visits)(const struct bl_visits **out, void *user,
                             const struct bl_assessment *so_far,
                             struct bl_error *error);
    void *visits_user;
};
/* All of BL_ASSESS_REPORT, all runs, every topic of the answer. */
BL_API struct bl_assess_options bl_assess_options_default(void);

/* One run of the trial. */
struct bl_assessed_run {
    bool taken; /* asked for; else all is NULL */
    /* As far as they could be had; the first that is NULL is so for `why`,
       whose status is BL_OK where all are there. */
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct bl_run_lag *lag;
    struct bl_error why;
    /* NULL: not asked for, not possible without what is NULL above, or failed
       for `failed`, which keeps the first such failure. */
    struct bl_check *check;
    struct bl_reach *reach;
    struct bl_characteristics *curves;
    struct bl_transducers *pairs;
    struct bl_predict *predict;
    struct bl_error failed;
};

/* All of it belongs to the assessment. The trial is borrowed and must outlive
   it. */
struct bl_assessment {
    const struct bl_trial *trial;
    unsigned parts; /* those asked for, with those that they need */
    struct bl_assessed_run *run; /* one per run of the trial, in its order */
    size_t runs;
    /* Over all runs; NULL: not asked for, nothing to compare, or failed. */
    struct bl_findings *findings;
    struct bl_comparison *comparison;
    struct bl_answer_sentences *answer;
    struct bl_picture *picture; /* with the answer, where series are kept */
    struct bl_dynamics *dynamics;
    struct bl_limits *limits;
    struct bl_budget *budget;
    struct bl_error failed; /* the first of these that failed; BL_OK: none */
};

/* Who wants to hear how far it is; each may be NULL. Called from the thread
   that called bl_assess. */
struct bl_assess_progress {
    void (*begin)(void *user, const struct bl_trial *trial, size_t run);
    /* The run is done with; its series may be freed after this. */
    void (*done)(void *user, const struct bl_assessment *so_far, size_t run);
    void *user;
};

/*
 * Assess a trial. `options` NULL: everything of BL_ASSESS_REPORT, all runs.
 * `progress` may be NULL. Errors: ARG (a run that the trial has not), NOMEM.
 * Whatever else fails is in the assessment, beside the part that is missing.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_assess(struct bl_assessment **out, const struct bl_trial *trial,
          const struct bl_assess_options *options,
          const struct bl_assess_progress *progress, struct bl_error *error);
/* Takes NULL. */
BL_API void bl_assessment_destroy(struct bl_assessment *assessment);

#endif
