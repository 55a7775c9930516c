/* SPDX-License-Identifier: MIT */
/*
 * The result inside, and the parts that fill and write it. A later section of
 * the result gets a model_*.c that fills a member of `root` and an entry in
 * the table of text sections; JSON needs nothing.
 */
#ifndef BRAKELAG_SRC_REPORT_RESULT_H
#define BRAKELAG_SRC_REPORT_RESULT_H

#include "brakelag/report.h"
#include "report/tree.h"

struct bl_result {
    struct bl_tree tree;
    json_t *root, *recordings, *runs; /* the latter two belong to root */
    json_t *traces;                   /* of the page, not of the result */
};

/* model_trial.c */
json_t *bl_model_trial(struct bl_tree *tree, const struct bl_trial *trial);
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

/* model_traces.c */
json_t *bl_model_traces(struct bl_tree *tree, const struct bl_trial *trial,
                        const struct bl_run_data *data,
                        const struct bl_run_clocks *clocks,
                        const struct bl_run_lag *lag);

/* Members of a unit that hold a figure, in the order of print; NULL ends. */
extern const char *const bl_result_figures[];
/* Names of the components of an uncertainty, as in struct bl_uncertainty. */
extern const char *const bl_result_components[];

/* write_text.c, write_csv.c; failures stick to the output. */
enum bl_status bl_result_text(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_unit *pressure,
                              struct bl_error *error);
enum bl_status bl_result_csv(const struct bl_result *result,
                             struct bl_output *output, struct bl_error *error);
/* write_html.c */
enum bl_status bl_result_html(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_unit *pressure,
                              struct bl_error *error);

#endif
