/* SPDX-License-Identifier: MIT */
/*
 * One result, several writers. A result is filled run by run from what the
 * rooms before it found; each writer walks the same tree. docs/result.md
 * specifies the tree as JSON, schema "brakelag-result/2".
 */
#ifndef BRAKELAG_REPORT_H
#define BRAKELAG_REPORT_H

#include "brakelag/answer.h"
#include "brakelag/assess.h"
#include "brakelag/budget.h"
#include "brakelag/characteristic.h"
#include "brakelag/check.h"
#include "brakelag/clock.h"
#include "brakelag/compare.h"
#include "brakelag/dynamics.h"
#include "brakelag/findings.h"
#include "brakelag/io.h"
#include "brakelag/lag.h"
#include "brakelag/limits.h"
#include "brakelag/load.h"
#include "brakelag/predict.h"
#include "brakelag/reach.h"
#include "brakelag/status.h"
#include "brakelag/survey.h"
#include "brakelag/transducers.h"
#include "brakelag/trial.h"

struct bl_result;

/* Start a result with what the trial says and which tables it uses. The trial
   is read now and not kept. Text that is not UTF-8 is taken as Latin-1.
   Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_create(struct bl_result **out, const struct bl_trial *trial,
                 struct bl_error *error);
/* This is a report: text tells the runs even where a study stands in front. */
BL_API void bl_result_keep_whole(struct bl_result *result);
/* Text tells every application, however many there are. Without this it tells
   up to six, and of more only the medians and what stood out. */
BL_API void bl_result_tell_each(struct bl_result *result);
BL_API void bl_result_destroy(struct bl_result *result);

/* One run as far as it could be had: where a step failed, NULL for what it did
   not make and the reason as `why`. All is borrowed for the call. */
struct bl_result_run {
    size_t run;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag;
    const struct bl_error *why;
};

/*
 * Add one run with its recordings, clocks and applications, in the order of
 * the calls; one that failed is in the result all the same, with its reason.
 * Errors: NOMEM, ARG (NULL lag without a reason).
 */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_run(struct bl_result *result, const struct bl_trial *trial,
                  const struct bl_result_run *found, struct bl_error *error);

/* Add what limits say (limits.h), the trial's own and published ones. Errors:
   NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_limits(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_limits *limits, struct bl_error *error);

/* Add what lag costs (dynamics.h). Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_dynamics(struct bl_result *result, const struct bl_trial *trial,
                       const struct bl_dynamics *dynamics,
                       struct bl_error *error);
/* Add what air alone would take in one run (predict.h). Nothing is kept.
   Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_predict(struct bl_result *result, const struct bl_trial *trial,
                      const struct bl_predict *predict, struct bl_error *error);
/* Add what was studied of one run: members `characteristics` and `rear`, and
   `transducers`. Nothing is kept. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status bl_result_add_characteristics(
    struct bl_result *result, const struct bl_trial *trial,
    const struct bl_characteristics *all, struct bl_error *error);
/* Say beside each curve of `curves`, added before, which characteristic the
   unit's link called for (`called_for`). Nothing is kept. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_called(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_characteristics *curves,
                     const struct bl_reach *reach, struct bl_error *error);
BL_API BL_MUST_CHECK enum bl_status bl_result_add_transducers(
    struct bl_result *result, const struct bl_trial *trial,
    const struct bl_transducers *all, struct bl_error *error);
/* Add what bl_compare found (once). Text and CSV then show the comparison and
   what it rests on instead of every application. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_comparison(struct bl_result *result, const struct bl_trial *trial,
                         const struct bl_comparison *comparison,
                         struct bl_error *error);

/* Add what bl_check_run found of a run. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_check(struct bl_result *result, const struct bl_trial *trial,
                    const struct bl_check *check, struct bl_error *error);

/* Add what bl_budget_create took apart. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_budget(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_budget *budget, struct bl_error *error);
/* Add the reach of one run, with its recordings; a result that holds nothing
   else is written as the acceptance table. Nothing is kept. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_reach(struct bl_result *result, const struct bl_trial *trial,
                    const struct bl_run_data *data,
                    const struct bl_run_clocks *clocks,
                    const struct bl_reach *reach, struct bl_error *error);
/* Set the findings, ranked, with what was looked for and what could not be.
   CSV then has the findings instead of the figures. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_findings(struct bl_result *result, const struct bl_trial *trial,
                       const struct bl_findings *findings,
                       struct bl_error *error);

/* Set the answer (answer.h), which text and page tell first. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_answer(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_answer_sentences *answer,
                     struct bl_error *error);

/* Keep what the page draws of a run: the traces around each application, with
   fewer points but every extreme. Only BL_RESULT_PAGE shows them. Nothing
   given is kept. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_result_add_traces(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_run_data *data,
                     const struct bl_run_clocks *clocks,
                     const struct bl_run_lag *lag, struct bl_error *error);

/* BL_RESULT_PAGE is one HTML file that needs nothing else. */
enum bl_result_form {
    BL_RESULT_TEXT,
    BL_RESULT_JSON,
    BL_RESULT_CSV,     /* of the study in front, else of the figures */
    BL_RESULT_FIGURES, /* CSV of the figures, whatever else was added */
    BL_RESULT_LIMITS,  /* CSV of one part; the head alone where it is empty */
    BL_RESULT_DIFFERENCES,
    BL_RESULT_FINDINGS,
    BL_RESULT_REACH,
    BL_RESULT_DYNAMICS,
    BL_RESULT_PREDICTION,
    BL_RESULT_PAGE
};

struct bl_result_options {
    enum bl_result_form form;
    const struct bl_measurement_unit *pressure; /* of text; NULL: kPa */
};
BL_API struct bl_result_options bl_result_options_default(void);

/* Write the result; the output stays the caller's to commit. `options` may be
   NULL: text in kPa. Errors: NOMEM, ARG (pressure is not a pressure unit). */
BL_API BL_MUST_CHECK enum bl_status
bl_result_write(const struct bl_result *result, struct bl_output *output,
                const struct bl_result_options *options,
                struct bl_error *error);

/*
 * An assessment as a result, or written at once as one report. `only` 0: a
 * whole report, of everything that was assessed and that the trial says
 * something of. Else bits of enum bl_assess_part, SERIES for the traces of the
 * page, and BL_REPORT_RUNS for recordings and figures: these parts alone.
 * Nothing of the assessment is kept. Errors: NOMEM, and those of
 * bl_result_write.
 */
enum { BL_REPORT_RUNS = 0x400 };
struct bl_report_options {
    unsigned only;
    bool each; /* as bl_result_tell_each */
};
BL_API struct bl_report_options bl_report_options_default(void);
BL_API BL_MUST_CHECK enum bl_status bl_result_create_assessed(
    struct bl_result **out, const struct bl_assessment *assessment,
    const struct bl_report_options *options, struct bl_error *error);
BL_API BL_MUST_CHECK enum bl_status bl_report_write(
    const struct bl_assessment *assessment, struct bl_output *output,
    const struct bl_result_options *options, struct bl_error *error);

/* A survey for people, or as JSON (schema "brakelag-survey/1"). Failures of
   writing stick to the output. Errors of json: NOMEM. */
BL_API void bl_report_survey_text(const struct bl_survey *survey,
                                  struct bl_output *output);
BL_API BL_MUST_CHECK enum bl_status
bl_report_survey_json(const struct bl_survey *survey, struct bl_output *output,
                      struct bl_error *error);

/* Loaded mapping tables as JSON (schema "brakelag-tables/1"). Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_report_tables_json(struct bl_output *output, const struct bl_tables *tables,
                      struct bl_error *error);

/* One frame to be taken apart. */
struct bl_explained {
    uint32_t id;
    bool extended, remote;
    uint8_t data[64];
    size_t size;
};
/* What tables say of messages, and of `frame` where it is not NULL, as JSON
   (schema "brakelag-explain/1"). `only`: this signal alone; NULL: all. Errors:
   NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_report_explain_json(struct bl_output *output,
                       const struct bl_explained *frame,
                       const struct bl_message *const *message, size_t messages,
                       const struct bl_signal *only, struct bl_error *error);

#endif
