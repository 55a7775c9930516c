/* SPDX-License-Identifier: MIT */
/*
 * The result inside, and the parts that fill and write it. A later section of
 * the result gets a model_*.c that fills a member of `root` and an entry in
 * the table of text sections; JSON needs nothing.
 */
#ifndef BRAKELAG_SRC_REPORT_RESULT_H
#define BRAKELAG_SRC_REPORT_RESULT_H

#include "brakelag/report.h"
#include "lag/medians.h"
#include "report/tree.h"

struct bl_result {
    struct bl_tree tree;
    struct bl_codes codes;            /* of the tree's words */
    json_t *root, *recordings, *runs; /* the latter two belong to root */
    bool in_front;  /* a study is: text without glance and runs */
    bool whole;     /* a report: everything is shown, whatever is in front */
    bool each;      /* text with every application, however many */
    json_t *traces; /* of the page, not of the result */
    json_t *labels, *by_unit; /* csv_identity.c */
    size_t first_curve;       /* of the run whose characteristics came last */
    struct bl_u_parts parts;  /* for the page: their medians */
};

/* Which condition of a comparison an order is of. */
enum bl_order_side { BL_ORDER_BASE, BL_ORDER_AGAINST, BL_ORDER_OF_RUN };
/* model_trial.c */
json_t *bl_model_trial(struct bl_tree *tree, const struct bl_trial *trial);
json_t *bl_model_table(struct bl_tree *tree, const struct bl_table_info *info);
json_t *bl_model_tables(struct bl_tree *tree, const struct bl_trial *trial);
/* model_run.c */
void bl_model_recordings(struct bl_tree *tree, json_t *recordings,
                         const struct bl_trial *trial,
                         const struct bl_run_data *data,
                         const struct bl_run_clocks *clocks,
                         const struct bl_run_lag *lag);
/* What zero the times of a run count from. */
void bl_model_zero(struct bl_tree *tree, json_t *run,
                   const struct bl_trial *trial, const struct bl_run_data *data,
                   const struct bl_run_clocks *clocks);
/* model_lag.c */
json_t *bl_model_applications(struct bl_tree *tree,
                              const struct bl_trial *trial,
                              const struct bl_run_lag *lag);
json_t *bl_model_summary(struct bl_tree *tree, const struct bl_trial *trial,
                         const struct bl_run_lag *lag);

/* Names of a kind and a shape; "unit" and "name" of a unit by its index. */
const char *bl_model_kind(enum bl_application_kind kind);
const char *bl_model_shape(enum bl_application_shape shape);
/* The label of an output, or what it is read from; NULL: there is none. */
const char *bl_model_output(const struct bl_trial *trial, size_t unit,
                            size_t output);
void bl_model_unit(struct bl_tree *tree, json_t *object,
                   const struct bl_trial *trial, size_t index);
/* model_findings.c: name of a run by its index, and what a finding or a
   sentence rests on. */
void bl_model_run(struct bl_tree *tree, json_t *object,
                  const struct bl_trial *trial, long run);
json_t *bl_model_evidence(struct bl_tree *tree, const struct bl_trial *trial,
                          const struct bl_evidence *evidence, size_t count);
/* model_order.c: put in `array`; `condition` may be NULL. */
void bl_model_orders(struct bl_tree *tree, json_t *array,
                     const struct bl_trial *trial, const char *condition,
                     const struct bl_order *order, size_t count);
/* model_traces.c */
json_t *bl_model_traces(struct bl_tree *tree, const struct bl_trial *trial,
                        const struct bl_run_data *data,
                        const struct bl_run_clocks *clocks,
                        const struct bl_run_lag *lag);

/* model_traits.c */
enum bl_status bl_result_add_traits(struct bl_result *result,
                                    const struct bl_trial *trial,
                                    const struct bl_traits *all,
                                    struct bl_error *error);

/* csv_long.c: its columns up to those of csv_identity.c. */
extern const char bl_csv_long_head[];
/* csv_findings.c: the findings, a row per piece of evidence. */
void bl_result_csv_findings(const struct bl_result *result,
                            struct bl_output *output);

/* write_text.c, write_csv.c; failures stick to the output. `options` with a
   unit of pressure. */
enum bl_status bl_result_text(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_result_options *options,
                              struct bl_error *error);
/* csv_traits.c: a row per trait and reference. */
void bl_csv_traits(const struct bl_result *result, struct bl_output *output);
/* csv_reach.c: a row per unit and run. */
void bl_reach_csv(const struct bl_result *result, struct bl_output *output);
/*
 * csv_identity.c: the last cells of every row of every table, and its end:
 * day and place of the trial, id of the unit and a column per label. A table
 * that has the day in front leaves it out (`dated`).
 */
void bl_identity_collect(struct bl_result *result);
void bl_csv_identity_head(const struct bl_result *result,
                          struct bl_output *output, bool dated);
void bl_csv_identity(const struct bl_result *result, struct bl_output *output,
                     const char *unit, bool dated);
void bl_csv_figures(const struct bl_result *result, struct bl_output *output);
enum bl_status bl_result_csv(const struct bl_result *result,
                             struct bl_output *output, struct bl_error *error);
void bl_csv_cell(struct bl_output *output, const char *text);
/* Pieces of CSV: a text or number and the comma behind it. */
void bl_csv_text(struct bl_output *output, const json_t *object,
                 const char *key);
void bl_csv_number(struct bl_output *output, double value);
/* Seven cells: the application's number, combination, kind, shape and whether
   it is left out, and the unit's number and name. */
void bl_csv_application(struct bl_output *output, const json_t *application,
                        const json_t *unit);
/* A figure's flags in one cell, blanks between them. */
void bl_csv_flags(struct bl_output *output, const json_t *figure);
/* A cell without a comma: "first air (20 kPa)", the figure as text and page
   show it, in kPa whatever the screen shows. */
void bl_csv_shown_as(struct bl_output *output, double response_at_kpa,
                     const char *figure);
void bl_csv_bare(struct bl_output *output, double value); /* without comma */
/* csv_compare.c */
void bl_csv_comparison(const struct bl_result *result,
                       struct bl_output *output);
/* csv_pair.c */
void bl_csv_before_after(const struct bl_result *result,
                         struct bl_output *output);
/* csv_studies.c */
/* docs/analysis.md: a row per figure, application and unit. */
void bl_csv_long(const struct bl_result *result, struct bl_output *output);
void bl_csv_limits(const struct bl_result *result, struct bl_output *output);
void bl_csv_dynamics(const struct bl_result *result, struct bl_output *output);
void bl_csv_predict(const struct bl_result *result, struct bl_output *output);
/* write_html.c */
enum bl_status bl_result_html(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_measurement_unit *pressure,
                              struct bl_error *error);

/* Start a result with what the trial says and which tables it uses. The trial
   is read now and not kept. Text that is not UTF-8 is taken as Latin-1.
   Errors: NOMEM. */
BL_MUST_CHECK enum bl_status bl_result_create(struct bl_result **out,
                                              const struct bl_trial *trial,
                                              struct bl_error *error);
/* This is a report: text tells the runs even where a study is in front. */
void bl_result_keep_whole(struct bl_result *result);
/* Text tells every application, however many there are. Without this it tells
   up to six, and of more only the medians and what stood out. */
void bl_result_tell_each(struct bl_result *result);

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
BL_MUST_CHECK enum bl_status
bl_result_add_run(struct bl_result *result, const struct bl_trial *trial,
                  const struct bl_result_run *found, struct bl_error *error);

/* Add what limits say (limits.h), the trial's own and published ones. Errors:
   NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_limits(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_limits *limits, struct bl_error *error);

/* Add what lag costs (dynamics.h). Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_dynamics(struct bl_result *result, const struct bl_trial *trial,
                       const struct bl_dynamics *dynamics,
                       struct bl_error *error);
/* Add what air alone would take in one run (predict.h). Nothing is kept.
   Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_predict(struct bl_result *result, const struct bl_trial *trial,
                      const struct bl_predict *predict, struct bl_error *error);
/* Add what was studied of one run: members `characteristics` and `rear`, and
   `transducers`. Nothing is kept. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status bl_result_add_characteristics(
    struct bl_result *result, const struct bl_trial *trial,
    const struct bl_characteristics *all, struct bl_error *error);
/* Say beside each curve of `curves`, added before, which characteristic the
   unit's link called for (`called_for`). Nothing is kept. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_called(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_characteristics *curves,
                     const struct bl_reach *reach, struct bl_error *error);
BL_MUST_CHECK enum bl_status bl_result_add_transducers(
    struct bl_result *result, const struct bl_trial *trial,
    const struct bl_transducers *all, struct bl_error *error);
/* Add what bl_compare found (once). Text and CSV then show the comparison and
   what it rests on instead of every application. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_comparison(struct bl_result *result, const struct bl_trial *trial,
                         const struct bl_comparison *comparison,
                         struct bl_error *error);

/* Add what bl_check_run found of a run. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status bl_result_add_check(struct bl_result *result,
                                                 const struct bl_trial *trial,
                                                 const struct bl_check *check,
                                                 struct bl_error *error);

/* Add what bl_budget_create took apart. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_budget(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_budget *budget, struct bl_error *error);
/* Add the reach of one run, with its recordings; a result that holds nothing
   else is written as the acceptance table. Nothing is kept. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_reach(struct bl_result *result, const struct bl_trial *trial,
                    const struct bl_run_data *data,
                    const struct bl_run_clocks *clocks,
                    const struct bl_reach *reach, struct bl_error *error);
/* Set the findings, ranked, with what was looked for and what could not be.
   CSV then has the findings instead of the figures. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_findings(struct bl_result *result, const struct bl_trial *trial,
                       const struct bl_findings *findings,
                       struct bl_error *error);

/* Set the answer (answer.h), which text and page tell first. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_answer(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_answer_sentences *answer,
                     struct bl_error *error);

/* Set what is drawn beside the answer (picture.h). Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_picture(struct bl_result *result, const struct bl_trial *trial,
                      const struct bl_picture *picture, struct bl_error *error);

/* Keep what the page draws of a run: the traces around each application, with
   fewer points but every extreme. Only BL_RESULT_PAGE shows them. Nothing
   given is kept. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status
bl_result_add_traces(struct bl_result *result, const struct bl_trial *trial,
                     const struct bl_run_data *data,
                     const struct bl_run_clocks *clocks,
                     const struct bl_run_lag *lag, struct bl_error *error);

#endif
