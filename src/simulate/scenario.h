/* SPDX-License-Identifier: MIT */
/*
 * Inside of the simulate room: a scenario as read. Text belongs to the
 * scenario; every key and its default is in keys.c.
 */
#ifndef BRAKELAG_SRC_SIMULATE_SCENARIO_H
#define BRAKELAG_SRC_SIMULATE_SCENARIO_H

#include "brakelag/decoder.h"
#include "brakelag/simulate.h"
#include "physics/valve.h"

/* X(ENUM, "code", usual amount, "meaning") */
#define BL_FAULT_LIST(X)                                                       \
    X(HOSE, "hose", 0.15,                                                      \
      "share of the conductance between its valve and its chambers that is "   \
      "left, both ways")                                                       \
    X(INLET, "inlet", 0.15,                                                    \
      "share of its valve's inlet that is left: only filling is slow")         \
    X(EXHAUST, "exhaust", 0.2,                                                 \
      "share of its valve's exhaust that is left: only emptying is slow")      \
    X(COUPLING, "coupling", 0.15,                                              \
      "share of the conductance of its front coupling's filter that is left")  \
    X(LATE_APPLY, "late-apply", 0.25, "s later begins each apply")             \
    X(LATE_RELEASE, "late-release", 0.25, "s later begins each release")       \
    X(HIGH_THRESHOLD, "high-threshold", 40,                                    \
      "kPa more are needed before the unit begins")                            \
    X(LOW_HOLD, "low-hold", 0.6, "share of the output that is reached")        \
    X(HOLD_FALLS, "hold-falls", 20, "kPa/s leak from the output")              \
    X(RESIDUAL_PRESSURE, "residual-pressure", 12,                              \
      "kPa stay in the output after the first application")                    \
    X(NO_OUTPUT, "no-output", 1, "the unit does not brake at all")             \
    X(SUPPLY_SAG, "supply-sag", 60,                                            \
      "kPa are lost from the reservoir by every application")                  \
    X(VOLTAGE_LOW, "voltage-low", 4, "V less while the valves work")           \
    X(CONTROL_LATE, "control-late-apply", 0.6,                                 \
      "share of the control line's bore that is left")                         \
    X(CONTROL_LOSS, "control-line-loss", 0.85,                                 \
      "share of the control pressure that is passed on behind the unit")       \
    X(DEMAND_MISSING, "demand-missing", 1,                                     \
      "no demand on the link in front of the unit")                            \
    X(DEMAND_IGNORED, "demand-ignored", 1,                                     \
      "the unit follows its air line, not the demand")                         \
    X(DEMAND_ALTERED, "demand-altered", 0.9,                                   \
      "share of the demand that the unit passes on")                           \
    X(DEMAND_LATE, "demand-late", 0.08, "s more until the unit re-issues")     \
    X(FRAMES_LOST, "frames-lost", 0.3,                                         \
      "share of the demand frames lost on the link in front of the unit")      \
    X(ERROR_VALUES, "error-values", 1,                                         \
      "the demand in front of the unit reads 'error' from `at` on, for `for`") \
    X(LATE_WAKE_UP, "late-wake-up", 2,                                         \
      "s until the link in front of the unit speaks at all")                   \
    X(UNIT_SILENT, "unit-silent", 1, "the unit sends nothing at all")          \
    X(UNIT_DROPOUT, "unit-restarted", 1,                                       \
      "the unit sends nothing from `at` on, for `for`")                        \
    X(WRONG_ORDER, "wrong-address-order", 1,                                   \
      "the unit and unit `other` use each other's address")                    \
    X(RECORDING_GAP, "recording-gap", 1,                                       \
      "neither recorder writes from `at` on, for `for`")                       \
    X(ZERO_OFFSET, "zero-offset", 15, "kPa on the output's transducer")        \
    X(GAIN_ERROR, "gain-error", 1.05, "the output's transducer reads so much") \
    X(TRANSDUCER_LATE, "transducer-late", 0.03,                                \
      "s more delay of the output's transducer")                               \
    X(CHANNELS_SWAPPED, "channels-swapped", 1,                                 \
      "the outputs of the unit and of unit `other` are swapped")               \
    X(CHANNEL_DEAD, "channel-dead", 0, "kPa stand on the output's channel")    \
    X(CHANNEL_CLIPPED, "channel-clipped", 300,                                 \
      "kPa are the most that the output's channel shows")                      \
    X(STAIR_STEPS, "stair-steps", 0.05,                                        \
      "s between new values of the output's channel")                          \
    X(CHANNEL_STUCK, "channel-stuck", 1,                                       \
      "the output's channel keeps its value from `at` on, for `for`")          \
    X(GAUGE_ABSOLUTE, "gauge-absolute", 101.3,                                 \
      "kPa too much: the transducer reads absolute pressure")                  \
    X(WRONG_UNIT, "wrong-pressure-unit", 0.1450377,                            \
      "the output's channel is written in another unit: factor")

/* Of the air in lines and chambers: docs/methods/predict.md. */
#define SIM_EXPONENT 1.1

enum fault_code {
#define X(id, code, usual, meaning) FAULT_##id,
    BL_FAULT_LIST(X)
#undef X
        FAULTS
};

/* Own choice: the label of an output, such as "rear". */
enum { BL_SIM_LABEL_MAX = 32 };

struct sim_trial_unit_words { /* passed on to the trial file as written */
    char *kind, *load, *mass, *force, *threshold, *id, *measured_at;
};

struct sim_unit {
    char *name, *bus;
    long address;
    double pipe_m, bore_mm, end_cm3, fittings, coupling_c;
    int relays; /* the control air is re-issued at its rear */
    int brakes; /* has an output */
    int output_switch;
    double trips_at_kpa;
    struct bl_relay relay, rear; /* gain, most_kpa filled in when checked */
    double gain;
    double relay_delay_s, modulator_s, forward_s, travel_s;
    double feed_c, vent_c, rear_c;
    struct bl_chamber chamber;
    double reservoir_cm3, voltage;
    struct sim_trial_unit_words words;
    int line;
};

struct sim_profile { /* [application NAME] */
    char *name;
    double pressure_kpa, rise_s, rise_spread_s, hold_s, fall_s, pause_s;
    long stabs; /* short touches of 30 kPa before it */
    int line;
};

enum sim_place { PLACE_FRONT, PLACE_REAR, PLACE_VEHICLE };
/* X(ENUM, "name", "meaning") */
#define BL_SOURCE_LIST(X)                                                      \
    X(NUMBER, "", "a number")                                                  \
    X(PEDAL, "pedal", "% of pedal travel")                                     \
    X(PEDAL_SWITCH, "pedal_switch", "1 while the pedal is touched")            \
    X(DEMAND, "demand", "kPa asked for, as this unit knows it")                \
    X(OUTPUT, "output", "kPa at this unit's brakes")                           \
    X(BRAKING, "braking", "1 while this unit's output is above brakes_at")     \
    X(SUPPLY, "supply", "kPa in this unit's reservoir")                        \
    X(SUPPLY_OK, "supply_sufficient", "1 while that is above 450 kPa")         \
    X(VOLTAGE_OK, "voltage_sufficient", "1 while its voltage is above 20 V")   \
    X(CONTROL_LINE, "control_line", "1 unless the control air is blocked")
enum sim_source {
#define X(id, name, meaning) SOURCE_##id,
    BL_SOURCE_LIST(X)
#undef X
        SOURCES
};

struct sim_set {
    char *name, *text;
    const struct bl_signal *signal;
    enum sim_source source;
    double number;
    int line;
};
struct sim_message { /* [demand] and [message NAME] */
    char *name, *message_name, *units;
    const struct bl_message *message;
    int place;
    long address; /* of the sender; -1: the unit's */
    long priority;
    double period_s, jitter_s, delay_s;
    struct sim_set *set;
    size_t sets, set_capacity;
    int line;
};

struct sim_run {
    char *name, *condition, *block, *applications, *clock;
    int power, data, blocked, reference;
    size_t *profile; /* one index per application */
    size_t profiles;
    int line;
};

struct sim_fault {
    char *code_name, *runs;
    enum fault_code code;
    long unit, other;
    double amount, at_s, for_s;
    int line;
};

enum sim_format { FORMAT_PCAPNG, FORMAT_PCAP, FORMAT_TEXTLOG };
enum sim_command { COMMAND_TREADLE, COMMAND_DEMAND, COMMAND_PEDAL_SWITCH };

struct bl_scenario {
    char *source, *name, *table_words, *levels_text;
    char *speeds_text;  /* for the trial file, as written */
    char *date, *place; /* the same */
    double seed_number;
    uint64_t seed;
    struct bl_tables *tables;
    double response_at_kpa, brakes_at_kpa, command_at_kpa;
    double *level_kpa;
    size_t levels;
    int command; /* enum sim_command */
    double supply_kpa, full_pedal_kpa, treadle_delay_s;
    double treadle_feed_c, treadle_vent_c;
    double step_s, first_s, start_s;
    int capture_format; /* enum sim_format */
    int compress;
    double log_hz;
    int has_treadle, has_pedal, has_control, has_reservoir, has_voltage;
    char *log_unit;
    double range_kpa; /* of every transducer, from zero */
    double noise_kpa, resolution_kpa, zero_kpa, gain_part, delay_s,
        delay_spread_s;
    int stated; /* the trial states these sensor errors */
    double log_offset_s, log_drift_ppm, capture_offset_s, capture_drift_ppm;
    double tie_error_s, tie_half_width_s;
    struct sim_unit *unit;
    size_t units, unit_capacity;
    struct sim_profile *profile;
    size_t profiles, profile_capacity;
    struct sim_message demand; /* message_name NULL: no electronic demand */
    struct sim_message *message;
    size_t messages, message_capacity;
    struct sim_run *run;
    size_t runs, run_capacity;
    struct sim_fault *fault;
    size_t faults, fault_capacity;
};

const char *bl_sim_source_name(enum sim_source source);

/* Does "1, 3" or "towed" or "all" name this unit? */
bool bl_sim_units_hold(const char *units, size_t unit);
/* Does "P1, P2" or "*" name this run? */
bool bl_sim_list_holds(const char *list, const char *name);
/* The fault of a code that this unit has in this run, or NULL. */
const struct sim_fault *bl_sim_fault(const struct bl_scenario *scenario,
                                     size_t run, size_t unit,
                                     enum fault_code code);
/* Its amount, or `without` where there is none. */
double bl_sim_amount(const struct bl_scenario *scenario, size_t run,
                     size_t unit, enum fault_code code, double without);

/* Faults that a scenario may hold, by index; false past the last. */
struct bl_fault_info {
    const char *code;
    double usual;        /* amount where the scenario states none */
    const char *meaning; /* of the fault and its amount */
};
bool bl_fault_at(size_t index, struct bl_fault_info *out);

/* Of the captures' file names: "pcapng", "pcap" or "txt". */
const char *bl_sim_capture_ending(const struct bl_scenario *scenario);

#endif
