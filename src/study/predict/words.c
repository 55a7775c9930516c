/* SPDX-License-Identifier: MIT */
/* Names and meanings of predict's lists, as results write them. */
#include "brakelag/predict.h"
#include "study/predict/figures.h"

#include <string.h>

static const struct {
    const char *name, *meaning;
} reasons[] = {
#define X(id, name, meaning) {name, meaning},
    BL_PREDICT_REASON_LIST(X)
#undef X
};

const char *bl_predict_figure_name(enum bl_predict_figure figure)
{
    return figure == BL_PREDICT_FILL ? "fill"
           : figure == BL_PREDICT_FALL
               ? "fall"
               : bl_figure_name_text((enum bl_figure_name)figure);
}

const char *bl_predict_reason_name(enum bl_predict_reason reason)
{
    return reasons[reason].name;
}

const char *bl_predict_reason_meaning(enum bl_predict_reason reason)
{
    return reasons[reason].meaning;
}

const char *bl_predict_verdict_name(enum bl_predict_verdict verdict)
{
    static const char *const names[] = {"not-decided", "inside", "later",
                                        "earlier"};
    return names[verdict];
}

const char *bl_ladder_verdict_name(enum bl_ladder_verdict verdict)
{
    static const char *const names[] = {"cannot-tell", "brakes", "not-expected",
                                        "does-not"};
    return names[verdict];
}

const char *bl_stage_cause_name(enum bl_stage_cause cause)
{
    static const char *const names[] = {"cannot-tell", "delay", "resistance",
                                        "kept-pressure"};
    return names[cause];
}

const char *bl_predict_from_name(enum bl_predict_from from)
{
    static const char *const names[] = {"trial", "record", "measured", "usual"};
    return names[from];
}

bool bl_predict_may_be_stated(const char *what)
{
    static const char *const keys[] = {"pipe per metre of the vehicle",
                                       "bore",
                                       "volume",
                                       "crack",
                                       "gain",
                                       "chambers",
                                       "keeps",
                                       "valve_delay",
                                       "conductance",
                                       "stroke_in_use",
                                       "reservoir_volume",
                                       "reservoir pressure",
                                       "air temperature"};
    for (size_t i = 0; i < sizeof(keys) / sizeof(keys[0]); i++) {
        if (strcmp(keys[i], what) == 0) {
            return true;
        }
    }
    return false;
}
