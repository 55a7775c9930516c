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
    json_t *root, *recordings, *runs; /* the latter two belong to root */
    bool brief;     /* text without glance and runs: a study stands in front */
    bool whole;     /* a report: everything is told, whatever stands in front */
    bool each;      /* text with every application, however many */
    json_t *traces; /* of the page, not of the result */
    size_t first_curve;      /* of the run whose characteristics came last */
    struct bl_u_parts parts; /* for the page: their medians */
};

/* model_trial.c */
json_t *bl_model_trial(struct bl_tree *tree, const struct bl_trial *trial);
json_t *bl_model_table(struct bl_tree *tree, const struct bl_table_info *info);
json_t *bl_model_tables(struct bl_tree *tree, const struct bl_trial *trial);
/* model_run.c */
void bl_model_recordings(struct bl_tree *tree, json_t *recordings,
                         const struct bl_trial *trial,
                         const struct bl_run_data *data,
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

/* csv_findings.c: the findings, a row per piece of evidence. */
void bl_result_csv_findings(const struct bl_result *result,
                            struct bl_output *output);

/* write_text.c, write_csv.c; failures stick to the output. */
enum bl_status bl_result_text(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_measurement_unit *pressure,
                              struct bl_error *error);
/* csv_reach.c: a row per unit and run. */
void bl_reach_csv(const json_t *root, struct bl_output *output);
void bl_csv_figures(const struct bl_result *result, struct bl_output *output);
enum bl_status bl_result_csv(const struct bl_result *result,
                             struct bl_output *output, struct bl_error *error);
void bl_csv_cell(struct bl_output *output, const char *text);
/* Pieces of CSV: a text or number and the comma behind it. */
void bl_csv_text(struct bl_output *output, const json_t *object,
                 const char *key);
void bl_csv_number(struct bl_output *output, double value);
void bl_csv_bare(struct bl_output *output, double value); /* without comma */
/* csv_compare.c */
void bl_csv_comparison(const struct bl_result *result,
                       struct bl_output *output);
/* csv_studies.c */
void bl_csv_limits(const struct bl_result *result, struct bl_output *output);
void bl_csv_dynamics(const struct bl_result *result, struct bl_output *output);
void bl_csv_predict(const struct bl_result *result, struct bl_output *output);
/* write_html.c */
enum bl_status bl_result_html(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_measurement_unit *pressure,
                              struct bl_error *error);

#endif
