/* SPDX-License-Identifier: MIT */
/*
 * Ranges: as stated, else as usual. A corner takes one end of each, so that a
 * run of the model is as fast or as slow as what is known allows. Times of
 * valves, lines and chambers fall or rise with each of these alone, but for
 * crack, hysteresis and differential, which have corners of their own.
 */
#include "study/predict/inputs.h"

#include "base/number.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#define KELVIN 273.15
#define B_RATIO 0.3      /* critical ratio of valves: 0.2 to 0.4 (practice) */
#define STROKED_KPA 20.0 /* from push-out to the end of the stroke */
#define DEAD_SHARE 0.25  /* of the rated volume, hoses included */
#define HEAD_KPA 15.0    /* a reservoir above what is held of it */
#define HYSTERESIS_MOST 0.6
#define RESERVOIR_TIMES 8 /* chambers: 49 CFR 571.121 S5.2.1.1 for trailers */

/* Fastest and slowest apply; fastest and slowest end of a release; longest and
   shortest time from the first movement to the last. */
const struct bl_corner bl_corners[BL_CORNERS] = {
    {true, true, true, false, false},  {false, false, false, true, true},
    {true, true, false, false, false}, {false, false, true, true, false},
    {false, true, true, false, false}, {true, false, false, true, true},
};

static const struct {
    struct bl_predict_input usual;
    bool fast_high;
} list[BL_PREDICT_INPUTS] = {
#define X(id, what, unit, low, high, fast_high)                                \
    {{what, unit, low, high, BL_PREDICT_FROM_USUAL}, fast_high},
    BL_PREDICT_INPUT_LIST(X)
#undef X
};

static void state(struct bl_unit_inputs *in, enum bl_predict_input_name name,
                  double value, enum bl_predict_from from)
{
    if (!isnan(value)) {
        in->of[name].low = value;
        in->of[name].high = value;
        in->of[name].from = from;
    }
}

bool bl_temperature_read(const char *text, double *low_c, double *high_c)
{
    double value[2];
    size_t count = 0;
    while (count < 2) {
        size_t used;
        if (!bl_number_scan(text, strlen(text), '.', &value[count], &used)) {
            return false;
        }
        text += used;
        text += strspn(text, " \t");
        count++;
        if (strncmp(text, "to ", 3) == 0) {
            text += 3;
        } else if (strncmp(text, "..", 2) == 0) {
            text += 2;
        } else {
            break;
        }
        text += strspn(text, " \t");
    }
    const struct bl_measurement_unit *unit = bl_measurement_unit_find(text);
    if (unit == NULL || unit->quantity != BL_QUANTITY_TEMPERATURE) {
        return false;
    }
    *low_c = value[0] * unit->factor + unit->shift;
    *high_c = value[count - 1] * unit->factor + unit->shift;
    return *low_c <= *high_c && *low_c > -90 && *high_c < 90;
}

static void temperature(struct bl_unit_inputs *in, const struct bl_trial *trial)
{
    struct bl_predict_input *is = &in->of[BL_INPUT_TEMPERATURE];
    double low;
    double high;
    for (size_t i = 0; i < trial->records; i++) {
        if (strcasecmp(trial->record[i].key, "temperature") == 0 &&
            bl_temperature_read(trial->record[i].value, &low, &high)) {
            is->low = low;
            is->high = high;
            is->from = BL_PREDICT_FROM_RECORD;
        }
    }
}

void bl_inputs_of(struct bl_unit_inputs *out, const struct bl_trial *trial,
                  size_t unit, double reservoir_kpa, double gain,
                  bool electronic)
{
    const struct bl_trial_unit *is = &trial->unit[unit];
    const enum bl_predict_from stated = BL_PREDICT_FROM_TRIAL;
    for (size_t i = 0; i < BL_PREDICT_INPUTS; i++) {
        out->of[i] = list[i].usual;
    }
    state(out, BL_INPUT_LINE, is->line_m, stated);
    state(out, BL_INPUT_BORE, is->bore_mm, stated);
    state(out, BL_INPUT_END_VOLUME, is->volume_cm3, stated);
    state(out, BL_INPUT_CRACK, is->threshold_kpa, stated);
    state(out, BL_INPUT_CRACK, is->crack_kpa, stated);
    state(out, BL_INPUT_GAIN, gain, BL_PREDICT_FROM_MEASURED);
    state(out, BL_INPUT_GAIN, is->gain, stated);
    state(out, BL_INPUT_CHAMBERS, is->chambers_cm3, stated);
    state(out, BL_INPUT_RESERVOIR, reservoir_kpa, BL_PREDICT_FROM_MEASURED);
    temperature(out, trial);
    out->of[BL_INPUT_DIFFERENTIAL].high = out->of[BL_INPUT_CRACK].high;
    struct bl_predict_input *tank = &out->of[BL_INPUT_RESERVOIR_VOLUME];
    tank->low = RESERVOIR_TIMES * out->of[BL_INPUT_CHAMBERS].low;
    tank->high = INFINITY;
    state(out, BL_INPUT_RESERVOIR_VOLUME, is->reservoir_volume_cm3, stated);
    if (!electronic) {
        out->of[BL_INPUT_SOURCE_DELAY].high = 0;
    }
}

static double end_of(const struct bl_unit_inputs *in,
                     enum bl_predict_input_name name, bool fast)
{
    const struct bl_predict_input *is = &in->of[name];
    return fast == list[name].fast_high ? is->high : is->low;
}

static double wave_speed(const struct bl_unit_inputs *in, bool fast)
{
    const double kelvin = end_of(in, BL_INPUT_TEMPERATURE, fast) + KELVIN;
    return bl_air_speed(fast ? BL_AIR_ADIABATIC : BL_AIR_ISOTHERMAL, kelvin);
}

/* Flows are in kg/s of air at 20 degC; what fills a volume grows with the
   root of the temperature, so the conductance is scaled instead. */
static double conductance(const struct bl_unit_inputs *in,
                          enum bl_predict_input_name name, bool fast)
{
    const double kelvin = end_of(in, BL_INPUT_TEMPERATURE, fast) + KELVIN;
    return end_of(in, name, fast) * sqrt(kelvin / BL_AIR_REFERENCE_KELVIN);
}

/* A valve that opens at little pressure has little hysteresis. */
static double hysteresis(const struct bl_unit_inputs *in,
                         const struct bl_corner *corner, double crack_kpa)
{
    const struct bl_predict_input *is = &in->of[BL_INPUT_HYSTERESIS];
    return fmin(corner->hysteresis ? is->high : is->low,
                HYSTERESIS_MOST * crack_kpa);
}

static double low_or_high(const struct bl_unit_inputs *in,
                          enum bl_predict_input_name name, bool low)
{
    return low ? in->of[name].low : in->of[name].high;
}

/* Output per control: as stated, else so that the held pressures fit. */
static double gain_of(const struct bl_unit_inputs *in, double differential_kpa,
                      double command_kpa, double hold_kpa)
{
    const struct bl_predict_input *is = &in->of[BL_INPUT_GAIN];
    const double control = command_kpa - differential_kpa;
    if (is->from == BL_PREDICT_FROM_MEASURED && hold_kpa > 0 && control > 0) {
        return fmin(fmax(hold_kpa / control, 0.05), 5);
    }
    return is->low;
}

static void take_valves(struct bl_chain_unit *out,
                        const struct bl_unit_inputs *in,
                        const struct bl_corner *corner, double command_kpa,
                        double hold_kpa)
{
    const double crack = low_or_high(in, BL_INPUT_CRACK, corner->opens_low);
    const double rear = low_or_high(in, BL_INPUT_REAR_CRACK, corner->opens_low);
    const double kept = corner->biased ? in->of[BL_INPUT_DIFFERENTIAL].high : 0;
    out->relay = (struct bl_relay){crack, kept, hysteresis(in, corner, crack),
                                   gain_of(in, kept, command_kpa, hold_kpa), 0};
    out->rear =
        (struct bl_relay){rear, 0, hysteresis(in, corner, rear), 1, 1e9};
    out->delay_s = end_of(in, BL_INPUT_DELAY, corner->fast);
    out->travel_s = end_of(in, BL_INPUT_TRAVEL, corner->fast);
    out->hose_s =
        end_of(in, BL_INPUT_HOSE, corner->fast) / wave_speed(in, corner->fast);
    const double c = conductance(in, BL_INPUT_RELAY_C, corner->fast);
    out->feed = (struct bl_restriction){c, B_RATIO, 0};
    out->vent = out->feed;
    out->rear_feed = (struct bl_restriction){
        conductance(in, BL_INPUT_REAR_C, corner->fast), B_RATIO, 0};
}

/* Not stated, a reservoir has at least what the unit held of it in the end. */
static double reservoir(const struct bl_unit_inputs *in,
                        const struct bl_chain_unit *unit, double rated_cm3,
                        double hold_kpa, bool fast)
{
    const struct bl_predict_input *is = &in->of[BL_INPUT_RESERVOIR];
    const double kpa = end_of(in, BL_INPUT_RESERVOIR, fast);
    const double taken =
        unit->reservoir_cm3 > 0 ? rated_cm3 / unit->reservoir_cm3 : 0;
    return is->from == BL_PREDICT_FROM_USUAL && hold_kpa > 0
               ? fmax(kpa, hold_kpa * (1 + taken) + HEAD_KPA)
               : kpa;
}

void bl_inputs_take(struct bl_chain_unit *out, const struct bl_unit_inputs *in,
                    const struct bl_corner *corner, double command_kpa,
                    double hold_kpa, bool relays)
{
    const bool fast = corner->fast;
    *out =
        (struct bl_chain_unit){.line_m = in->of[BL_INPUT_LINE].low,
                               .bore_mm = end_of(in, BL_INPUT_BORE, fast),
                               .end_cm3 = end_of(in, BL_INPUT_END_VOLUME, fast),
                               .relays = relays};
    take_valves(out, in, corner, command_kpa, hold_kpa);
    const double tank = end_of(in, BL_INPUT_RESERVOIR_VOLUME, fast);
    out->reservoir_cm3 = isinf(tank) ? 0 : tank;
    const double rated = end_of(in, BL_INPUT_CHAMBERS, fast);
    out->reservoir_kpa = reservoir(in, out, rated, hold_kpa, fast);
    const double used = rated * end_of(in, BL_INPUT_STROKE, fast) / 100;
    const double dead = rated * end_of(in, BL_INPUT_DEAD, corner->quick) / 100;
    const double push_out = end_of(in, BL_INPUT_PUSH_OUT, corner->quick);
    out->chamber =
        (struct bl_chamber){dead, used - dead, push_out, push_out + STROKED_KPA,
                            fast ? BL_AIR_ADIABATIC : BL_AIR_ISOTHERMAL};
}

void bl_inputs_chain(struct bl_chain *out, const struct bl_unit_inputs *in,
                     const struct bl_corner *corner)
{
    const bool fast = corner->fast;
    const double coupling = conductance(in, BL_INPUT_COUPLING_C, fast);
    out->wave_m_s = wave_speed(in, fast);
    out->feed = (struct bl_restriction){
        conductance(in, BL_INPUT_TREADLE_C, fast), B_RATIO, 0};
    out->vent = out->feed;
    out->coupling_c = isinf(coupling) ? 0 : coupling;
    out->narrow = !fast;
    out->source_delay_s = end_of(in, BL_INPUT_SOURCE_DELAY, fast);
}
