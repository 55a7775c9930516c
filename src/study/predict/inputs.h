/* SPDX-License-Identifier: MIT */
/* What a prediction rests on, as ranges with their origin. Inside of the study
   room. */
#ifndef BRAKELAG_SRC_STUDY_PREDICT_INPUTS_H
#define BRAKELAG_SRC_STUDY_PREDICT_INPUTS_H

#include "brakelag/predict.h"
#include "study/predict/chain.h"

/* X(ENUM, "what", "unit", usual low, usual high, faster at the high end).
   Usual ranges are common practice; docs/methods/predict.md tells them. */
#define BL_PREDICT_INPUT_LIST(X)                                               \
    X(LINE, "line", "m", NAN, NAN, false)                                      \
    X(BORE, "bore", "mm", 9, 13, true)                                         \
    X(END_VOLUME, "volume", "cm3", 20, 200, false)                             \
    X(CRACK, "crack", "kPa", 7, 40, false)                                     \
    X(GAIN, "gain", "", 1, 1, false)                                           \
    X(CHAMBERS, "chambers", "cm3", 1000, 9000, false)                          \
    X(DEAD, "part of them before the stroke", "%", 15, 40, false)              \
    X(STROKE, "stroke in use", "%", 50, 100, false)                            \
    X(PUSH_OUT, "push-out pressure", "kPa", 20, 35, true)                      \
    X(RESERVOIR, "reservoir pressure", "kPa", 650, 850, true)                  \
    X(RESERVOIR_VOLUME, "reservoir_volume", "cm3", NAN, NAN, true)             \
    X(TEMPERATURE, "air temperature", "degC", -20, 50, true)                   \
    X(RELAY_C, "relay valve", "dm3/(s bar)", 15, 40, true)                     \
    X(REAR_C, "re-issuing valve", "dm3/(s bar)", 15, 40, true)                 \
    X(REAR_CRACK, "re-issuing valve opens at", "kPa", 2, 40, false)            \
    X(TREADLE_C, "treadle valve", "dm3/(s bar)", 10, 20, true)                 \
    X(COUPLING_C, "coupling with filter", "dm3/(s bar)", 20, INFINITY, true)   \
    X(HYSTERESIS, "valve hysteresis", "kPa", 1, 20, false)                     \
    X(DIFFERENTIAL, "valve differential", "kPa", 0, NAN, false)                \
    X(HOSE, "hose from valve to brake", "m", 0, 4, false)                      \
    X(DELAY, "valve delay", "s", 0.005, 0.025, false)                          \
    X(TRAVEL, "valve travel", "s", 0.005, 0.025, false)                        \
    X(SOURCE_DELAY, "valve behind the demand", "s", 0, 0.06, false)

enum bl_predict_input_name {
#define X(id, what, unit, low, high, fast_high) BL_INPUT_##id,
    BL_PREDICT_INPUT_LIST(X)
#undef X
        BL_PREDICT_INPUTS
};

/* Of one unit in one run. */
struct bl_unit_inputs {
    struct bl_predict_input of[BL_PREDICT_INPUTS];
};

/* A choice of ends. What opens a valve late closes it early, and what makes a
   unit begin late leaves it less time to fill after that, so these have
   choices of their own. */
struct bl_corner {
    bool fast;       /* flows, volumes, waves */
    bool quick;      /* what happens before an output moves */
    bool opens_low;  /* low opening pressure */
    bool hysteresis; /* the large end of it */
    bool biased;     /* output stays below control by the differential */
};
enum { BL_CORNERS = 6 };
extern const struct bl_corner bl_corners[BL_CORNERS];

/* Fill from trial and usual ranges. `reservoir_kpa` and `gain` as measured in
   the run, NaN where they are not; `electronic`: the command is a demand. */
void bl_inputs_of(struct bl_unit_inputs *out, const struct bl_trial *trial,
                  size_t unit, double reservoir_kpa, double gain,
                  bool electronic);
/* The unit in a corner. `hold_ratio`: output per command as held in this
   application, where the trial states no gain; NaN. */
void bl_inputs_take(struct bl_chain_unit *out, const struct bl_unit_inputs *in,
                    const struct bl_corner *corner, double command_kpa,
                    double hold_kpa, bool relays);
/* What belongs to the whole chain, from its first unit's inputs. */
void bl_inputs_chain(struct bl_chain *out, const struct bl_unit_inputs *in,
                     const struct bl_corner *corner);
/* [record] temperature: "18 degC", "12 to 25 degC". False: not understood. */
bool bl_temperature_read(const char *text, double *low_c, double *high_c);

#endif
