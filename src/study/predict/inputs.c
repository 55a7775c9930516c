/* SPDX-License-Identifier: MIT */
/*
 * Ranges: as stated, else as usual, and values drawn from them. Corners that
 * take all slow or all fast ends at once multiply over the stages of a chain
 * (0.3 to 6.4 s for six units); no train is built so. A chain is drawn as it is
 * bought: one type of part for all of it, with some scatter from unit to unit.
 */
#include "study/predict/inputs.h"

#include "base/number.h"
#include "base/random.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#define KELVIN 273.15
#define B_RATIO 0.3      /* critical ratio of valves: 0.2 to 0.4 (practice) */
#define STROKED_KPA 20.0 /* from push-out to the end of the stroke */
#define HEAD_KPA 15.0    /* a reservoir above what is held of it */
#define HYSTERESIS_MOST 0.6 /* of the opening pressure */
#define RESERVOIR_TIMES 8   /* chambers: 49 CFR 571.121 S5.2.1.1, trailers */
#define RESERVOIR_USUAL 12  /* own choice */
#define RESERVOIR_LARGE 30  /* own choice: it falls by a few per cent */
/* Own choice: parts of one type differ by 10 % from unit to unit, so that
   stages of sound units of one make differ by about 9 % (an independent
   computation of such chains). */
#define UNIT_SCATTER 0.10
/* A range whose ends differ by more than this factor is drawn on a logarithmic
   scale: half and double are alike. */
#define LOG_FROM 2.5
#define DRAW_SEED 0x62726B6C6167u /* any; the same for every prediction */

enum drawn { DRAWN_UNIT, DRAWN_CHAIN };

static const struct {
    struct bl_predict_input usual;
    enum drawn drawn;
} list[BL_PREDICT_INPUTS] = {
#define X(id, what, unit, low, usual, high, drawn)                             \
    {{what, unit, low, usual, high, BL_PREDICT_FROM_USUAL}, DRAWN_##drawn},
    BL_PREDICT_INPUT_LIST(X)
#undef X
};

static void state(struct bl_unit_inputs *in, enum bl_predict_input_name name,
                  double value, enum bl_predict_from from)
{
    if (!isnan(value)) {
        in->range[name].low = value;
        in->range[name].usual = value;
        in->range[name].high = value;
        in->range[name].from = from;
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

/* The value of [record] `temperature` is a temperature; the last one counts. */
static bool stated_temperature(const struct bl_trial *trial, double *low,
                               double *high)
{
    bool found = false;
    for (size_t i = 0; i < trial->records; i++) {
        if (strcasecmp(trial->record[i].key, "temperature") == 0 &&
            bl_temperature_read(trial->record[i].value, low, high)) {
            found = true;
        }
    }
    return found;
}

double bl_stated_temperature_c(const struct bl_trial *trial)
{
    double low;
    double high;
    return stated_temperature(trial, &low, &high) ? (low + high) / 2 : NAN;
}

static void temperature(struct bl_unit_inputs *in, const struct bl_trial *trial)
{
    struct bl_predict_input *air = &in->range[BL_INPUT_TEMPERATURE];
    double low;
    double high;
    if (stated_temperature(trial, &low, &high)) {
        air->low = low;
        air->usual = (low + high) / 2;
        air->high = high;
        air->from = BL_PREDICT_FROM_RECORD;
    }
}

/* A stated `line` is the pipe itself; a stated `length` is the vehicle's, and
   the pipe is longer than that. */
static void state_line(struct bl_unit_inputs *in,
                       const struct bl_trial_unit *unit)
{
    const bool by_length = isnan(unit->pipe_m) && unit->length_m > 0;
    state(in, BL_INPUT_LINE, by_length ? unit->length_m : unit->pipe_m,
          BL_PREDICT_FROM_TRIAL);
    if (!by_length) {
        state(in, BL_INPUT_PIPE, 1, BL_PREDICT_FROM_TRIAL);
    }
}

static double if_stated(double value)
{
    return value > 0 ? value : NAN;
}

void bl_inputs_of(struct bl_unit_inputs *out, const struct bl_trial *trial,
                  size_t unit, double reservoir_kpa, double gain,
                  bool electronic)
{
    const struct bl_trial_unit *told = &trial->unit[unit];
    const enum bl_predict_from stated = BL_PREDICT_FROM_TRIAL;
    for (size_t i = 0; i < BL_PREDICT_INPUTS; i++) {
        out->range[i] = list[i].usual;
    }
    state_line(out, told);
    state(out, BL_INPUT_BORE, told->bore_mm, stated);
    state(out, BL_INPUT_END_VOLUME, told->volume_cm3, stated);
    state(out, BL_INPUT_REAR_KEPT, told->keeps_kpa, stated);
    state(out, BL_INPUT_REAR_C, if_stated(told->conductance), stated);
    state(out, BL_INPUT_DELAY, if_stated(told->valve_delay_s), stated);
    state(out, BL_INPUT_STROKE, if_stated(told->stroke_percent), stated);
    state(out, BL_INPUT_CRACK, told->threshold_kpa, stated);
    state(out, BL_INPUT_CRACK, told->crack_kpa, stated);
    state(out, BL_INPUT_GAIN, gain, BL_PREDICT_FROM_MEASURED);
    state(out, BL_INPUT_GAIN, told->gain, stated);
    state(out, BL_INPUT_CHAMBERS, told->chambers_cm3, stated);
    state(out, BL_INPUT_RESERVOIR, reservoir_kpa, BL_PREDICT_FROM_MEASURED);
    temperature(out, trial);
    struct bl_predict_input *tank = &out->range[BL_INPUT_RESERVOIR_VOLUME];
    tank->low = RESERVOIR_TIMES * out->range[BL_INPUT_CHAMBERS].low;
    tank->usual = RESERVOIR_USUAL * out->range[BL_INPUT_CHAMBERS].usual;
    tank->high = RESERVOIR_LARGE * out->range[BL_INPUT_CHAMBERS].high;
    state(out, BL_INPUT_RESERVOIR_VOLUME, told->reservoir_volume_cm3, stated);
    if (!electronic) {
        state(out, BL_INPUT_SOURCE_DELAY, 0, stated);
    }
}

/* ---- draws */

/* Quantile of the triangular distribution from low to high with its peak at
   usual. */
static double triangular(double low, double usual, double high, double share)
{
    const double whole = high - low;
    const double rising = (usual - low) / whole;
    return share < rising ? low + sqrt(share * whole * (usual - low))
                          : high - sqrt((1 - share) * whole * (high - usual));
}

static double drawn_value(const struct bl_predict_input *range, double share)
{
    if (range->low > 0 && range->high > LOG_FROM * range->low) {
        return exp(triangular(log(range->low), log(range->usual),
                              log(range->high), share));
    }
    return triangular(range->low, range->usual, range->high, share);
}

static double with_scatter(const struct bl_predict_input *range, double value,
                           double scatter)
{
    /* A range that holds zero scatters by a part of its own width. */
    const double one = range->low > 0 ? value : range->high - range->low;
    return fmin(fmax(value + UNIT_SCATTER * scatter * one, range->low),
                range->high);
}

void bl_inputs_draw(struct bl_unit_values *out, const struct bl_unit_inputs *in,
                    size_t units, unsigned draw)
{
    struct bl_random random;
    for (size_t i = 0; i < BL_PREDICT_INPUTS; i++) {
        /* A sequence per input: a value does not hang on what else is drawn,
           nor on how many units there are. */
        bl_random_seed(&random,
                       DRAW_SEED + (uint64_t)draw * 977u + i * 1000003u);
        const double share = bl_random_uniform(&random);
        for (size_t u = 0; u < units; u++) {
            const struct bl_predict_input *range = &in[u].range[i];
            const double scatter = bl_random_normal(&random);
            double value = range->usual;
            if (draw < BL_PREDICT_DRAWS && range->low < range->high) {
                value = drawn_value(range, share);
                if (list[i].drawn == DRAWN_UNIT) {
                    value = with_scatter(range, value, scatter);
                }
            }
            out[u].value[i] = value;
        }
    }
}

/* ---- from values to parts */

static double wave_speed(const double *v)
{
    return bl_air_speed(v[BL_INPUT_EXPONENT], v[BL_INPUT_TEMPERATURE] + KELVIN);
}

/* Flows are in kg/s of air at 20 degC; what fills a volume grows with the
   root of the temperature, so the conductance is scaled instead. */
static double conductance(const double *v, enum bl_predict_input_name name)
{
    const double kelvin = v[BL_INPUT_TEMPERATURE] + KELVIN;
    return v[name] * sqrt(kelvin / BL_AIR_REFERENCE_KELVIN);
}

static struct bl_relay valve(const double *v, double opens_kpa, double kept_kpa)
{
    /* A valve keeps no more than it opens at, and one that opens at little
       has little hysteresis. */
    return (struct bl_relay){
        opens_kpa, fmin(kept_kpa, opens_kpa),
        fmin(v[BL_INPUT_HYSTERESIS], HYSTERESIS_MOST * opens_kpa), 1, 1e9};
}

double bl_inputs_behind(const struct bl_chain_unit *unit, double control_kpa)
{
    if (!unit->relays) {
        return control_kpa;
    }
    return control_kpa < unit->rear.crack_kpa
               ? 0
               : control_kpa - unit->rear.differential_kpa;
}

/* Output per control: as stated, else so that the held pressures fit. */
static double gain_of(const struct bl_unit_inputs *in, const double *v,
                      double kept_kpa, const struct bl_asked *asked)
{
    const double control = asked->control_kpa - kept_kpa;
    if (in->range[BL_INPUT_GAIN].from != BL_PREDICT_FROM_TRIAL &&
        asked->hold_kpa > 0 && control > 0) {
        return fmin(fmax(asked->hold_kpa / control, 0.05), 5);
    }
    return v[BL_INPUT_GAIN];
}

static void build_valves(struct bl_chain_unit *out,
                         const struct bl_unit_inputs *in, const double *v,
                         const struct bl_asked *asked)
{
    out->relay = valve(v, v[BL_INPUT_CRACK], v[BL_INPUT_DIFFERENTIAL]);
    out->relay.gain = gain_of(in, v, out->relay.differential_kpa, asked);
    out->rear = valve(v, v[BL_INPUT_REAR_CRACK], v[BL_INPUT_REAR_KEPT]);
    if (in->range[BL_INPUT_REAR_KEPT].from == BL_PREDICT_FROM_TRIAL) {
        /* What is stated to be kept is kept: it opens no sooner. */
        out->rear =
            valve(v, fmax(v[BL_INPUT_REAR_CRACK], v[BL_INPUT_REAR_KEPT]),
                  v[BL_INPUT_REAR_KEPT]);
    }
    out->delay_s = v[BL_INPUT_DELAY];
    out->travel_s = v[BL_INPUT_TRAVEL];
    out->rear_delay_s = v[BL_INPUT_DELAY];
    out->rear_travel_s = v[BL_INPUT_TRAVEL];
    out->hose_s = v[BL_INPUT_HOSE] / wave_speed(v);
    out->feed =
        (struct bl_restriction){conductance(v, BL_INPUT_RELAY_C), B_RATIO, 0};
    out->vent = out->feed;
    out->rear_feed =
        (struct bl_restriction){conductance(v, BL_INPUT_REAR_C), B_RATIO, 0};
}

/* Not stated, a reservoir has at least what the unit held of it in the end. */
static double reservoir(const struct bl_unit_inputs *in, const double *v,
                        double hold_kpa)
{
    const double kpa = v[BL_INPUT_RESERVOIR];
    const double taken = v[BL_INPUT_CHAMBERS] / v[BL_INPUT_RESERVOIR_VOLUME];
    return in->range[BL_INPUT_RESERVOIR].from == BL_PREDICT_FROM_USUAL &&
                   hold_kpa > 0
               ? fmax(kpa, hold_kpa * (1 + taken) + HEAD_KPA)
               : kpa;
}

void bl_inputs_build(struct bl_chain_unit *out, const struct bl_unit_inputs *in,
                     const struct bl_unit_values *values,
                     const struct bl_asked *asked, bool relays)
{
    const double *v = values->value;
    *out = (struct bl_chain_unit){.pipe_m = v[BL_INPUT_LINE] * v[BL_INPUT_PIPE],
                                  .bore_mm = v[BL_INPUT_BORE],
                                  .friction = v[BL_INPUT_FITTINGS],
                                  .branch_cm3 = v[BL_INPUT_END_VOLUME],
                                  .coupling_c =
                                      conductance(v, BL_INPUT_COUPLING_C),
                                  .relays = relays};
    build_valves(out, in, v, asked);
    out->reservoir_cm3 = v[BL_INPUT_RESERVOIR_VOLUME];
    out->reservoir_kpa = reservoir(in, v, asked->hold_kpa);
    const double rated = v[BL_INPUT_CHAMBERS];
    const double used = rated * v[BL_INPUT_STROKE] / 100;
    const double dead = rated * v[BL_INPUT_DEAD] / 100;
    const double push_out = v[BL_INPUT_PUSH_OUT];
    out->chamber =
        (struct bl_chamber){dead, used - dead, push_out, push_out + STROKED_KPA,
                            v[BL_INPUT_EXPONENT]};
}

void bl_inputs_chain(struct bl_chain *out, const struct bl_unit_values *values)
{
    const double *v = values->value;
    out->wave_m_s = wave_speed(v);
    out->feed =
        (struct bl_restriction){conductance(v, BL_INPUT_TREADLE_C), B_RATIO, 0};
    out->vent = out->feed;
    out->source_delay_s = v[BL_INPUT_SOURCE_DELAY];
}
