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
#include "brakelag/picture.h"
#include "brakelag/predict.h"
#include "brakelag/reach.h"
#include "brakelag/status.h"
#include "brakelag/survey.h"
#include "brakelag/transducers.h"
#include "brakelag/trial.h"

struct bl_result;

BL_API void bl_result_destroy(struct bl_result *result);

/* BL_RESULT_PAGE is one HTML file that needs nothing else. */
enum bl_result_form {
    BL_RESULT_TEXT,
    BL_RESULT_JSON,
    BL_RESULT_CSV,  /* of the study in front, else of the figures */
    BL_RESULT_LONG, /* CSV for analysis: a row per figure (docs/analysis.md) */
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
    bool brief;                                 /* text: the answer alone */
    size_t columns; /* of a line of text, 40 at least; 0: 80 */
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
 * page, BL_REPORT_RUNS for recordings and figures, BL_REPORT_TRAITS for the
 * table that findings rest on: these parts alone. Nothing of the assessment is
 * kept. Errors: NOMEM, and those of bl_result_write.
 */
enum { BL_REPORT_RUNS = 0x400, BL_REPORT_TRAITS = 0x800 };
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

/* A survey for people, in lines of `columns` characters (0: 80), or as JSON
   (schema "brakelag-survey/1"). Failures of writing stick to the output.
   Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_report_survey_text(const struct bl_survey *survey, struct bl_output *output,
                      size_t columns, struct bl_error *error);
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
