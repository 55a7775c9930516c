/* SPDX-License-Identifier: MIT */
/* What a prediction rests on, as ranges with their origin. Inside of the study
   room. */
#ifndef BRAKELAG_SRC_STUDY_PREDICT_INPUTS_H
#define BRAKELAG_SRC_STUDY_PREDICT_INPUTS_H

#include "brakelag/predict.h"
#include "study/predict/chain.h"

/* Pipe per metre of the vehicle, usual; and what no pipe explains of a stage,
   as metres of it: 0.0121 s per metre of pipe and 0.2325 s a stage of 14.5 m
   are those of an independent computation of such chains. A stage whose length
   is not stated counts as long as is usual. */
#define BL_PIPE_PER_METRE 1.3
#define BL_STAGE_FIXED_M 5.0
#define BL_STAGE_USUAL_M 15.0

/* X(ENUM, "what", "unit", low, usual, high, how it is drawn). Ranges are
   common practice, those of the control line and its valves as an independent
   computation of six units matched what a yard measured;
   docs/methods/predict.md says so of each. */
#define BL_PREDICT_INPUT_LIST(X)                                               \
    X(LINE, "line", "m", NAN, NAN, NAN, UNIT)                                  \
    X(PIPE, "pipe per metre of the vehicle", "", 1.0, BL_PIPE_PER_METRE, 1.8,  \
      UNIT)                                                                    \
    X(BORE, "bore", "mm", 6, 8, 11, UNIT)                                      \
    X(FITTINGS, "friction with fittings", "", 1.0, 1.4, 2.0, UNIT)             \
    X(END_VOLUME, "volume", "cm3", 80, 300, 900, UNIT)                         \
    X(COUPLING_C, "coupling with filter", "dm3/(s bar)", 4, 8, 20, UNIT)       \
    X(REAR_CRACK, "re-issuing valve opens at", "kPa", 20, 45, 65, UNIT)        \
    X(REAR_KEPT, "keeps", "kPa", 10, 35, 60, UNIT)                             \
    X(REAR_C, "conductance", "dm3/(s bar)", 5, 15, 30, UNIT)                   \
    X(DELAY, "valve_delay", "s", 0.010, 0.020, 0.040, UNIT)                    \
    X(TRAVEL, "valve travel", "s", 0.005, 0.015, 0.030, UNIT)                  \
    X(HYSTERESIS, "valve hysteresis", "kPa", 2, 8, 20, UNIT)                   \
    X(CRACK, "crack", "kPa", 30, 50, 70, UNIT)                                 \
    X(DIFFERENTIAL, "valve differential", "kPa", 0, 35, 60, UNIT)              \
    X(RELAY_C, "brake valve", "dm3/(s bar)", 12, 20, 40, UNIT)                 \
    X(GAIN, "gain", "", 1, 1, 1, UNIT)                                         \
    X(CHAMBERS, "chambers", "cm3", 1000, 4000, 9000, UNIT)                     \
    X(DEAD, "part of them before the stroke", "%", 15, 25, 40, UNIT)           \
    X(STROKE, "stroke_in_use", "%", 50, 75, 100, UNIT)                         \
    X(PUSH_OUT, "push-rod start", "kPa", 20, 28, 35, UNIT)                     \
    X(RESERVOIR, "reservoir pressure", "kPa", 650, 750, 850, UNIT)             \
    X(RESERVOIR_VOLUME, "reservoir_volume", "cm3", NAN, NAN, NAN, UNIT)        \
    X(HOSE, "hose from valve to brake", "m", 0, 1.5, 4, UNIT)                  \
    X(EXPONENT, "polytropic exponent", "", 1.0, 1.1, 1.25, CHAIN)              \
    X(TEMPERATURE, "air temperature", "degC", -20, 20, 50, CHAIN)              \
    X(TREADLE_C, "foot (treadle) valve", "dm3/(s bar)", 10, 15, 20, CHAIN)     \
    X(SOURCE_DELAY, "valve behind the demand", "s", 0, 0.03, 0.06, CHAIN)

enum bl_predict_input_name {
#define X(id, what, unit, low, usual, high, drawn) BL_INPUT_##id,
    BL_PREDICT_INPUT_LIST(X)
#undef X
        BL_PREDICT_INPUTS
};

/* Of one unit in one run. */
struct bl_unit_inputs {
    struct bl_predict_input range[BL_PREDICT_INPUTS];
};

/* One value of each. */
struct bl_unit_values {
    double value[BL_PREDICT_INPUTS];
};
/* How often a chain is drawn, and the part of the draws that lies on either
   side of a band. */
enum { BL_PREDICT_DRAWS = 100 };
#define BL_PREDICT_OUTSIDE 0.05

/* Fill from trial and usual ranges. `reservoir_kpa` and `gain` as measured in
   the run, NaN where they are not; `electronic`: the command is a demand. */
void bl_inputs_of(struct bl_unit_inputs *out, const struct bl_trial *trial,
                  size_t unit, double reservoir_kpa, double gain,
                  bool electronic);
/* Draw number `draw` of a chain of `units`: parts of one type in all of it,
   with what parts of one type differ by from unit to unit. The same draw gives
   the same values whatever the application; `draw` BL_PREDICT_DRAWS gives the
   usual value of everything. */
void bl_inputs_draw(struct bl_unit_values *out, const struct bl_unit_inputs *in,
                    size_t units, unsigned draw);

/* What an application asks for, above rest; hold NaN where the unit's output
   did not settle. */
struct bl_asked {
    double control_kpa; /* at the unit's own front coupling */
    double hold_kpa;
};
/* The unit with these values. Where its gain is measured it is set so that what
   was asked for gives what was held. */
void bl_inputs_build(struct bl_chain_unit *out, const struct bl_unit_inputs *in,
                     const struct bl_unit_values *values,
                     const struct bl_asked *asked, bool relays);
/* What belongs to the whole chain, from its first unit's values. */
void bl_inputs_chain(struct bl_chain *out, const struct bl_unit_values *values);
/* What stays of a control pressure behind the valve of a unit. */
double bl_inputs_behind(const struct bl_chain_unit *unit, double control_kpa);
/* [record] temperature: "18 degC", "12 to 25 degC". False: not understood. */
bool bl_temperature_read(const char *text, double *low_c, double *high_c);
/* The middle of what [record] states; NaN. */
double bl_stated_temperature_c(const struct bl_trial *trial);

#endif
