/* SPDX-License-Identifier: MIT */
/* Key table of the scenario file and the setters that it needs. */
#include "simulate/keys.h"

#include <stdio.h>
#include <string.h>

#include "base/alloc.h"
#include "base/number.h"

#define QUANTITY(section, key, type, field, what, factor, low, high, usual)    \
    {                                                                          \
        section, key, KEY_QUANTITY, offsetof(type, field), BL_QUANTITY_##what, \
            factor, low, high, NULL, usual                                     \
    }
#define NUMBER(section, key, type, field, low, high, usual)                    \
    {                                                                          \
        section, key, KEY_NUMBER, offsetof(type, field), BL_QUANTITY_NONE, 1,  \
            low, high, NULL, usual                                             \
    }
#define INTEGER(section, key, type, field, low, high, usual)                   \
    {                                                                          \
        section, key, KEY_INTEGER, offsetof(type, field), BL_QUANTITY_NONE, 1, \
            low, high, NULL, usual                                             \
    }
#define WORD(section, key, type, field, words, usual)                          \
    {                                                                          \
        section, key, KEY_WORD, offsetof(type, field), BL_QUANTITY_NONE, 1, 0, \
            0, words, usual                                                    \
    }
#define TEXT(section, key, type, field, usual)                                 \
    {                                                                          \
        section, key, KEY_TEXT, offsetof(type, field), BL_QUANTITY_NONE, 1, 0, \
            0, NULL, usual                                                     \
    }

#define S struct bl_scenario
#define U struct sim_unit
#define A struct sim_profile
#define M struct sim_message
#define R struct sim_run
#define F struct sim_fault

static const struct sim_key keys[] = {
    TEXT(SIM_SCENARIO, "name", S, name, "a simulated trial"),
    NUMBER(SIM_SCENARIO, "seed", S, seed_number, 0, 9e15, "1"),
    TEXT(SIM_SCENARIO, "tables", S, table_words, ""),
    QUANTITY(SIM_SCENARIO, "response_at", S, response_at_kpa, PRESSURE, 1, 1,
             500, "20 kPa"),
    QUANTITY(SIM_SCENARIO, "brakes_at", S, brakes_at_kpa, PRESSURE, 1, 1, 500,
             "35 kPa"),
    TEXT(SIM_SCENARIO, "levels", S, levels_text, ""),
    TEXT(SIM_SCENARIO, "speeds", S, speeds_text, ""),
    TEXT(SIM_SCENARIO, "date", S, date, ""),
    TEXT(SIM_SCENARIO, "place", S, place, ""),
    WORD(SIM_SCENARIO, "command", S, command, "treadle|demand|pedal-switch",
         "treadle"),
    QUANTITY(SIM_SCENARIO, "command_at", S, command_at_kpa, PRESSURE, 1, 1, 500,
             "20 kPa"),
    QUANTITY(SIM_SCENARIO, "supply", S, supply_kpa, PRESSURE, 1, 100, 1500,
             "800 kPa"),
    QUANTITY(SIM_SCENARIO, "full_pedal", S, full_pedal_kpa, PRESSURE, 1, 100,
             1500, "650 kPa"),
    QUANTITY(SIM_SCENARIO, "treadle_delay", S, treadle_delay_s, TIME, 1, 0, 1,
             "10 ms"),
    NUMBER(SIM_SCENARIO, "treadle_feed", S, treadle_feed_c, 0.1, 500, "15"),
    NUMBER(SIM_SCENARIO, "treadle_vent", S, treadle_vent_c, 0.1, 500, "15"),
    QUANTITY(SIM_SCENARIO, "step", S, step_s, TIME, 1, 5e-5, 0.005, "1 ms"),
    QUANTITY(SIM_SCENARIO, "quiet_first", S, first_s, TIME, 1, 0, 600, "3 s"),
    QUANTITY(SIM_SCENARIO, "start", S, start_s, TIME, 1, 0, 4e9,
             "1717200000 s"),
    WORD(SIM_SCENARIO, "capture_format", S, capture_format,
         "pcapng|pcap|textlog", "pcapng"),
    WORD(SIM_SCENARIO, "compress", S, compress, "no|yes", "yes"),
    WORD(SIM_SENSORS, "treadle", S, has_treadle, "no|yes", "yes"),
    WORD(SIM_SENSORS, "pedal_switch", S, has_pedal, "no|yes", "no"),
    WORD(SIM_SENSORS, "control", S, has_control, "no|yes", "yes"),
    WORD(SIM_SENSORS, "reservoir", S, has_reservoir, "no|yes", "no"),
    WORD(SIM_SENSORS, "voltage", S, has_voltage, "no|yes", "no"),
    QUANTITY(SIM_SENSORS, "rate", S, log_hz, FREQUENCY, 1, 1, 20000, "1 kHz"),
    TEXT(SIM_SENSORS, "written_in", S, log_unit, "kPa"),
    QUANTITY(SIM_SENSORS, "range", S, range_kpa, PRESSURE, 1, 10, 1e5,
             "1000 kPa"),
    QUANTITY(SIM_SENSORS, "noise", S, noise_kpa, PRESSURE, 1, 0, 100,
             "0.5 kPa"),
    QUANTITY(SIM_SENSORS, "resolution", S, resolution_kpa, PRESSURE, 1, 0.001,
             100, "0.25 kPa"),
    QUANTITY(SIM_SENSORS, "zero", S, zero_kpa, PRESSURE, 1, 0, 100, "1 kPa"),
    QUANTITY(SIM_SENSORS, "gain", S, gain_part, RATIO, 0.01, 0, 20, "0.2 %"),
    QUANTITY(SIM_SENSORS, "delay", S, delay_s, TIME, 1, 0, 1, "1 ms"),
    QUANTITY(SIM_SENSORS, "delay_spread", S, delay_spread_s, TIME, 1, 0, 1,
             "0.3 ms"),
    WORD(SIM_SENSORS, "stated", S, stated, "no|yes", "yes"),
    QUANTITY(SIM_CLOCKS, "log_offset", S, log_offset_s, TIME, 1, -1e6, 1e6,
             "0 s"),
    QUANTITY(SIM_CLOCKS, "log_drift", S, log_drift_ppm, DRIFT, 1, -1000, 1000,
             "0 ppm"),
    QUANTITY(SIM_CLOCKS, "capture_offset", S, capture_offset_s, TIME, 1, -1e6,
             1e6, "0 s"),
    QUANTITY(SIM_CLOCKS, "capture_drift", S, capture_drift_ppm, DRIFT, 1, -1000,
             1000, "0 ppm"),
    QUANTITY(SIM_CLOCKS, "tie_error", S, tie_error_s, TIME, 1, -1, 1, "0 s"),
    QUANTITY(SIM_CLOCKS, "tie_half_width", S, tie_half_width_s, TIME, 1, 0, 1,
             "1 ms"),
    TEXT(SIM_UNIT, "name", U, name, ""),
    TEXT(SIM_UNIT, "bus", U, bus, ""),
    INTEGER(SIM_UNIT, "address", U, address, -1, 253, "-1"),
    QUANTITY(SIM_UNIT, "line", U, pipe_m, LENGTH, 1, 0.1, 200, "14 m"),
    QUANTITY(SIM_UNIT, "bore", U, bore_mm, LENGTH, 1000, 0.001, 0.1, "8 mm"),
    QUANTITY(SIM_UNIT, "line_end", U, end_cm3, VOLUME, 1, 0, 5000, "300 cm3"),
    NUMBER(SIM_UNIT, "fittings", U, fittings, 1, 10, "1.4"),
    NUMBER(SIM_UNIT, "coupling", U, coupling_c, 0.01, 500, "8"),
    WORD(SIM_UNIT, "control_line", U, relays, "through|relayed", "through"),
    WORD(SIM_UNIT, "brakes", U, brakes, "no|yes", "yes"),
    WORD(SIM_UNIT, "output", U, output_switch, "transducer|switch",
         "transducer"),
    QUANTITY(SIM_UNIT, "trips_at", U, trips_at_kpa, PRESSURE, 1, 1, 500,
             "35 kPa"),
    QUANTITY(SIM_UNIT, "crack", U, relay.crack_kpa, PRESSURE, 1, 0, 300,
             "50 kPa"),
    QUANTITY(SIM_UNIT, "differential", U, relay.differential_kpa, PRESSURE, 1,
             0, 300, "35 kPa"),
    QUANTITY(SIM_UNIT, "hysteresis", U, relay.hysteresis_kpa, PRESSURE, 1, 0,
             100, "8 kPa"),
    NUMBER(SIM_UNIT, "gain", U, gain, 0.05, 5, "1"),
    QUANTITY(SIM_UNIT, "rear_crack", U, rear.crack_kpa, PRESSURE, 1, 0, 300,
             "45 kPa"),
    QUANTITY(SIM_UNIT, "rear_differential", U, rear.differential_kpa, PRESSURE,
             1, 0, 300, "35 kPa"),
    QUANTITY(SIM_UNIT, "rear_hysteresis", U, rear.hysteresis_kpa, PRESSURE, 1,
             0, 100, "8 kPa"),
    QUANTITY(SIM_UNIT, "relay_delay", U, relay_delay_s, TIME, 1, 0, 1, "20 ms"),
    QUANTITY(SIM_UNIT, "valve_travel", U, travel_s, TIME, 1, 1e-4, 1, "15 ms"),
    QUANTITY(SIM_UNIT, "modulator", U, modulator_s, TIME, 1, 0, 1, "120 ms"),
    QUANTITY(SIM_UNIT, "forward", U, forward_s, TIME, 1, 0, 1, "4 ms"),
    NUMBER(SIM_UNIT, "feed", U, feed_c, 0.01, 500, "20"),
    NUMBER(SIM_UNIT, "vent", U, vent_c, 0.01, 500, "20"),
    NUMBER(SIM_UNIT, "rear_feed", U, rear_c, 0.01, 500, "15"),
    QUANTITY(SIM_UNIT, "dead_volume", U, chamber.dead_cm3, VOLUME, 1, 10, 50000,
             "1000 cm3"),
    QUANTITY(SIM_UNIT, "stroke_volume", U, chamber.stroke_cm3, VOLUME, 1, 0,
             50000, "3000 cm3"),
    QUANTITY(SIM_UNIT, "push_out", U, chamber.push_out_kpa, PRESSURE, 1, 1, 200,
             "28 kPa"),
    QUANTITY(SIM_UNIT, "stroked", U, chamber.stroked_kpa, PRESSURE, 1, 2, 400,
             "48 kPa"),
    QUANTITY(SIM_UNIT, "reservoir", U, reservoir_cm3, VOLUME, 1, 100, 1e6,
             "40 l"),
    QUANTITY(SIM_UNIT, "voltage", U, voltage, VOLTAGE, 1, 0, 60, "27 V"),
    TEXT(SIM_UNIT, "kind", U, words.kind, ""),
    TEXT(SIM_UNIT, "load", U, words.load, ""),
    TEXT(SIM_UNIT, "mass", U, words.mass, ""),
    TEXT(SIM_UNIT, "force", U, words.force, ""),
    TEXT(SIM_UNIT, "threshold", U, words.threshold, ""),
    TEXT(SIM_UNIT, "id", U, words.id, ""),
    TEXT(SIM_UNIT, "measured_at", U, words.measured_at, ""),
    QUANTITY(SIM_APPLICATION, "pressure", A, pressure_kpa, PRESSURE, 1, 5, 1500,
             NULL),
    QUANTITY(SIM_APPLICATION, "rise", A, rise_s, TIME, 1, 0.001, 600, "0.2 s"),
    QUANTITY(SIM_APPLICATION, "rise_spread", A, rise_spread_s, TIME, 1, 0, 600,
             "0.05 s"),
    QUANTITY(SIM_APPLICATION, "hold", A, hold_s, TIME, 1, 0, 600, "3 s"),
    QUANTITY(SIM_APPLICATION, "fall", A, fall_s, TIME, 1, 0.001, 600, "0.1 s"),
    QUANTITY(SIM_APPLICATION, "pause", A, pause_s, TIME, 1, 0, 3600, "4 s"),
    INTEGER(SIM_APPLICATION, "stabs", A, stabs, 0, 10, "0"),
    TEXT(SIM_DEMAND, "message", M, message_name, NULL),
    QUANTITY(SIM_DEMAND, "period", M, period_s, TIME, 1, 0.001, 10, "10 ms"),
    QUANTITY(SIM_DEMAND, "jitter", M, jitter_s, TIME, 1, 0, 1, "0.2 ms"),
    QUANTITY(SIM_DEMAND, "delay", M, delay_s, TIME, 1, 0, 1, "5 ms"),
    INTEGER(SIM_DEMAND, "priority", M, priority, 0, 7, "3"),
    TEXT(SIM_MESSAGE, "message", M, message_name, NULL),
    TEXT(SIM_MESSAGE, "units", M, units, "towed"),
    WORD(SIM_MESSAGE, "on", M, place, "front|rear|vehicle", "front"),
    INTEGER(SIM_MESSAGE, "address", M, address, -1, 253, "-1"),
    INTEGER(SIM_MESSAGE, "priority", M, priority, 0, 7, "6"),
    QUANTITY(SIM_MESSAGE, "period", M, period_s, TIME, 1, 0.001, 60, "100 ms"),
    QUANTITY(SIM_MESSAGE, "jitter", M, jitter_s, TIME, 1, 0, 1, "0.5 ms"),
    TEXT(SIM_RUN, "condition", R, condition, ""),
    TEXT(SIM_RUN, "block", R, block, ""),
    TEXT(SIM_RUN, "applications", R, applications, NULL),
    TEXT(SIM_RUN, "clock", R, clock, "offset"),
    WORD(SIM_RUN, "power", R, power, "off|on", "on"),
    WORD(SIM_RUN, "data", R, data, "off|on", "on"),
    WORD(SIM_RUN, "control_air", R, blocked, "open|blocked", "open"),
    WORD(SIM_RUN, "one_tee", R, reference, "no|yes", "no"),
    TEXT(SIM_FAULT, "code", F, code_name, NULL),
    INTEGER(SIM_FAULT, "unit", F, unit, 0, 99, NULL),
    INTEGER(SIM_FAULT, "other", F, other, -1, 99, "-1"),
    TEXT(SIM_FAULT, "runs", F, runs, "*"),
    NUMBER(SIM_FAULT, "amount", F, amount, -1e6, 1e6, ""),
    QUANTITY(SIM_FAULT, "at", F, at_s, TIME, 1, 0, 1e6, "5 s"),
    QUANTITY(SIM_FAULT, "for", F, for_s, TIME, 1, 0, 1e6, "1 s"),
};
_Static_assert(sizeof(keys) / sizeof(keys[0]) <= SIM_KEYS_MOST,
               "a reading keeps one line per key");
#undef S
#undef U
#undef A
#undef M
#undef R
#undef F

static const struct {
    const char *word;
    bool named;
} sections[] = {
    [SIM_SCENARIO] = {"scenario", false},
    [SIM_SENSORS] = {"sensors", false},
    [SIM_CLOCKS] = {"clocks", false},
    [SIM_UNIT] = {"unit", true},
    [SIM_APPLICATION] = {"application", true},
    [SIM_DEMAND] = {"demand", false},
    [SIM_MESSAGE] = {"message", true},
    [SIM_RUN] = {"run", true},
    [SIM_FAULT] = {"fault", true},
};

const char *bl_sim_section_word(enum sim_section section)
{
    return sections[section].word;
}

bool bl_sim_section_named(enum sim_section section)
{
    return sections[section].named;
}

const struct sim_key *bl_sim_key_at(size_t index)
{
    return index < sizeof(keys) / sizeof(keys[0]) ? &keys[index] : NULL;
}

const struct sim_key *bl_sim_key_find(enum sim_section section, const char *key)
{
    const struct sim_key *k;
    for (size_t i = 0; (k = bl_sim_key_at(i)) != NULL; i++) {
        if (k->section == section && strcmp(k->key, key) == 0) {
            return k;
        }
    }
    return NULL;
}

/* "20 kPa": the number, then one unit of the quantity. */
static bool measure(const struct sim_key *key, const char *text, double *value)
{
    size_t used;
    if (!bl_number_scan(text, strlen(text), '.', value, &used)) {
        return false;
    }
    const char *name = text + used + strspn(text + used, " \t");
    const struct bl_measurement_unit *unit = bl_measurement_unit_find(name);
    if (unit == NULL || unit->quantity != key->quantity) {
        return false;
    }
    *value = *value * unit->factor + unit->shift;
    return *value >= key->low && *value <= key->high;
}

static bool set_quantity(const struct sim_key *key, void *field,
                         const char *text, char expected[128])
{
    double value;
    if (measure(key, text, &value)) {
        value *= key->factor;
        memcpy(field, &value, sizeof(value));
        return true;
    }
    snprintf(expected, 128, "a %s from %g to %g %s",
             bl_quantity_name(key->quantity), key->low, key->high,
             bl_quantity_unit(key->quantity));
    return false;
}

static bool set_number(const struct sim_key *key, void *field, const char *text,
                       char expected[128])
{
    double value;
    if (bl_number_parse(text, strlen(text), &value) && value >= key->low &&
        value <= key->high) {
        memcpy(field, &value, sizeof(value));
        return true;
    }
    snprintf(expected, 128, "a number from %g to %g", key->low, key->high);
    return false;
}

static bool set_integer(const struct sim_key *key, void *field,
                        const char *text, char expected[128])
{
    int64_t value;
    if (bl_integer_parse(text, strlen(text), &value) &&
        (double)value >= key->low && (double)value <= key->high) {
        const long whole = (long)value;
        memcpy(field, &whole, sizeof(whole));
        return true;
    }
    snprintf(expected, 128, "a whole number from %g to %g", key->low,
             key->high);
    return false;
}

static bool set_word(const struct sim_key *key, void *field, const char *text,
                     char expected[128])
{
    const char *word = key->words;
    for (int i = 0;; i++) {
        const size_t length = strcspn(word, "|");
        if (strlen(text) == length && strncmp(word, text, length) == 0) {
            memcpy(field, &i, sizeof(i));
            return true;
        }
        if (word[length] == '\0') {
            break;
        }
        word += length + 1;
    }
    snprintf(expected, 128, "one of %s", key->words);
    return false;
}

static bool set_text(void *field, const char *text, bool *memory)
{
    char *copy = bl_strdup(text);
    char *old;
    if (copy == NULL) {
        *memory = true;
        return false;
    }
    memcpy(&old, field, sizeof(old));
    bl_free(old);
    memcpy(field, &copy, sizeof(copy));
    return true;
}

bool bl_sim_key_set(const struct sim_key *key, void *object, const char *text,
                    char expected[128], bool *memory)
{
    void *field = (char *)object + key->offset;
    *memory = false;
    expected[0] = '\0';
    switch (key->kind) {
    case KEY_QUANTITY:
        return set_quantity(key, field, text, expected);
    case KEY_NUMBER:
        return set_number(key, field, text, expected);
    case KEY_INTEGER:
        return set_integer(key, field, text, expected);
    case KEY_WORD:
        return set_word(key, field, text, expected);
    case KEY_TEXT:
        return set_text(field, text, memory);
    }
    return false;
}
