/* SPDX-License-Identifier: MIT */
/* A run while it is predicted. Inside of the study room. */
#ifndef BRAKELAG_SRC_STUDY_PREDICT_PREDICTING_H
#define BRAKELAG_SRC_STUDY_PREDICT_PREDICTING_H

#include "lag/application.h"
#include "lag/track.h"
#include "study/predict/inputs.h"

/* What one unit takes in the applications of one kind and shape. */
struct bl_band {
    double low[BL_PREDICT_FIGURES], middle[BL_PREDICT_FIGURES],
        high[BL_PREDICT_FIGURES];
    double usual[BL_PREDICT_FIGURES]; /* of the usual train, as drawn for */
    bool open[BL_PREDICT_FIGURES];    /* too many draws do not get there */
};
enum {
    BL_PREDICT_KINDS = BL_KIND_FULL + 1,
    BL_PREDICT_SHAPES = BL_SHAPE_RAMP + 1
};

struct predicting {
    struct bl_predict *into;
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag;
    struct bl_error *error;
    bool bands;          /* are wanted, and fits of stages that are not late */
    size_t first, units; /* of the combination */
    struct bl_track command;
    bool own_line;             /* unit 0 takes part, on a line of its own */
    size_t begin, modelled;    /* units of the trial that are in the chain */
    struct bl_unit_inputs *in; /* per modelled unit */
    struct bl_unit_values *values; /* the same, of one draw */
    struct bl_chain_unit *chain;
    /* Per modelled unit, NULL until it is drawn. */
    struct bl_band *band[BL_PREDICT_KINDS][BL_PREDICT_SHAPES];
};

/* May figures of this application of the combination be used? */
bool bl_predicting_usable(const struct predicting *p,
                          const struct bl_application *application);
/* What a unit holds above its rest; NaN where it did not settle. */
double bl_predicting_held(const struct bl_application *application,
                          size_t unit);

/* Output per command in the hardest settled application; NaN. */
double bl_predicting_gain(const struct predicting *p, size_t unit);
/* A held pressure above its rest; NaN where it is not known, or no pressure. */
double bl_level_above(const struct bl_level *hold, const struct bl_level *rest);

/* band.c: one application through the model; its points are added to the
   rows of each unit, or it is counted as left out. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status bl_predict_application(struct predicting *p,
                                                    size_t application);

/* stage.c. Judge stages against each other, per metre where all lengths are
   known. */
void bl_stage_judge(struct bl_stage *stage, size_t count);
/* Every stage of the combination; `scratch` holds one per unit. Errors: NOMEM.
 */
BL_MUST_CHECK enum bl_status bl_predict_stages(struct predicting *p,
                                               struct bl_stage *scratch);
/* A hard and quick application, as stages are read from. */
bool bl_predicting_hard(const struct predicting *p,
                        const struct bl_application *application);
/* fits.c: the stage of a unit by the control pressures at both of its ends,
   where they are recorded. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status bl_predict_fit(const struct predicting *p,
                                            size_t unit, size_t edge,
                                            struct bl_stage *stage);

/* ladder.c: what every towed unit of the combination needs, and what was held;
   `in`, `values` and `chain` are scratch. */
void bl_predict_ladder(struct predicting *p);

#endif
