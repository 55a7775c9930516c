/* SPDX-License-Identifier: MIT */
/*
 * The key table: every section and key of a trial file, in the order in which
 * they are parsed (a key may rest on those above it). docs/trial-file.md is
 * compared with it by a test.
 */
#include "trial/reading.h"

#include "base/logtime.h"

#include <string.h>

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* Bounds that no vehicle and no recorder reaches, so that a slip of the unit or
   of the decimals is refused where it was made and not measured with. All are
   our own choice: the largest that such a thing can be, and some times that. */
#define HUGE_LIMIT 1e12 /* of any quantity of a channel */
#define SMALL 1e-9      /* more than nothing */
/* kPa. No gauge of a brake resolves less; service lines hold 850 and their
   compressors give 1300, of which responses and thresholds are a part. */
#define LEVEL_LEAST 0.1
#define RESPONSE_MOST 500
#define THRESHOLD_MOST 1000
#define LEVEL_MOST 2000
#define LINE_MOST 1000         /* m: the longest road trains have some 100 */
#define BORE_LEAST 1e-4        /* m */
#define BORE_MOST 0.2          /* m: hoses have 8 to 13 mm */
#define VOLUME_MOST 1e6        /* cm3: a line's end, or chambers, of 1 m3 */
#define RESERVOIR_MOST 1e7     /* cm3 */
#define MASS_MOST 1e6          /* kg: of one unit */
#define FORCE_MOST 1000        /* kN per kPa */
#define DELAY_MOST 10          /* s: of an instrument */
#define VALVE_DELAY_LEAST 1e-4 /* s */
#define VALVE_DELAY_MOST 1     /* s */
#define CONDUCTANCE_MOST 1000  /* dm3/(s bar): valves have 5 to 40 */
#define LAG_MOST 3600          /* s: an hour is no lag */
#define DAY 86400              /* s */
#define VOLTAGE_MOST 100       /* V: systems of vehicles have 12, 24 or 48 */
#define ROWS_MOST 1000000      /* of a log's head */

/* Rows by kind of value. T: text, Q: quantity, C: one of several words,
   X: a setter of its own. `need` is true for keys that must be given. */
#define ROW(section, key, need, ...)                                           \
    {                                                                          \
        SECTION_##section, key, __VA_ARGS__, need, false                       \
    }
#define T(section, key, need, type, field, example, meaning)                   \
    ROW(section, key, need, bl_trial_set_text, offsetof(type, field),          \
        BL_QUANTITY_NONE, 1, 0, 0, example, meaning)
#define Q(section, key, type, field, quantity, scale, low, high, example,      \
          meaning)                                                             \
    ROW(section, key, false, bl_trial_set_quantity, offsetof(type, field),     \
        BL_QUANTITY_##quantity, scale, low, high, example, meaning)
#define C(section, key, type, field, words, meaning)                           \
    ROW(section, key, false, bl_trial_set_choice, offsetof(type, field),       \
        BL_QUANTITY_NONE, 1, 0, 0, words, meaning)
#define X(section, key, need, name, quantity, example, meaning)                \
    ROW(section, key, need, bl_trial_set_##name, 0, BL_QUANTITY_##quantity, 1, \
        0, 0, example, meaning)
#define INPUT(key, field, meaning)                                             \
    ROW(UNIT, key, false, bl_trial_set_input,                                  \
        offsetof(struct bl_trial_unit, field), BL_QUANTITY_NONE, 1, 0, 0,      \
        key "_1", meaning)
#define OWN(key, field, low, example, meaning)                                 \
    ROW(CHANNEL, key, false, bl_trial_set_own_quantity,                        \
        offsetof(struct bl_trial_channel, field), BL_QUANTITY_NONE, 1, low,    \
        HUGE_LIMIT, example, meaning)
#define NUMBER(key, field, low, meaning)                                       \
    ROW(LOG, key, false, bl_trial_set_row,                                     \
        offsetof(struct bl_trial_log, options.field), BL_QUANTITY_NONE, 1,     \
        low, ROWS_MOST, "3", meaning)
#define WORDS(key, field, words, meaning)                                      \
    ROW(LOG, key, false, bl_trial_set_option,                                  \
        offsetof(struct bl_trial_log, options.field), BL_QUANTITY_NONE, 1, 0,  \
        0, words, meaning)

typedef struct bl_trial trial_t;
typedef struct bl_trial_unit unit_t;
typedef struct bl_trial_channel channel_t;
typedef struct bl_trial_recording recording_t;
typedef struct bl_trial_run run_t;
typedef struct bl_trial_characteristic characteristic_t;
typedef struct bl_trial_limit limit_t;
typedef struct bl_trial_log log_t;
typedef struct bl_trial_expect expect_t;

static const struct trial_key keys[] = {
    T(TRIAL, "name", true, trial_t, name, "Cane train, mill yard",
      "what was tested, as reports head it"),
    X(TRIAL, "speeds", false, quantities, SPEED, "60, 80, 100 km/h",
      "road speeds at which a lag is given in metres"),
    Q(TRIAL, "response_at", trial_t, response_at_kpa, PRESSURE, 1, LEVEL_LEAST,
      RESPONSE_MOST, "20 kPa",
      "pressure above rest at which an output counts as responding"),
    Q(TRIAL, "brakes_at", trial_t, brakes_at_kpa, PRESSURE, 1, LEVEL_LEAST,
      RESPONSE_MOST, "35 kPa",
      "push-out pressure at which brakes begin to act"),
    X(TRIAL, "levels", false, quantities, PRESSURE, "65 kPa, 414 kPa",
      "further pressures whose crossings are wanted"),
    X(TRIAL, "tables", false, tables, NONE, "iso11992-2, j1939-brakes",
      "mapping tables: which bytes of which message mean what"),
    C(TRIAL, "control_line", trial_t, control_line, "unknown|through|relayed",
      "whether units pass the control air on or re-issue it by a valve"),
    X(TRIAL, "bus_split", false, bus_split, NONE, "yes|no",
      "whether one bus runs through all units, so that a demand to the first "
      "is meant for all"),

    T(UNIT, "name", false, unit_t, name, "bin trailer A",
      "what the unit is called in reports"),
    X(UNIT, "id", false, id, NONE, "BT-0417",
      "the unit's own number, the same at every visit and in every train"),
    {SECTION_UNIT, "label", bl_trial_set_label, 0, BL_QUANTITY_NONE, 1, 0, 0,
     "relay type R", "label.NAME: what units are sorted by over many trials",
     false, true},
    C(UNIT, "kind", unit_t, kind, "|trailer|dolly",
      "what a towed unit is, for published limits that ask for it"),
    X(UNIT, "address", false, address, NONE, "0xC8",
      "the unit's address on the bus"),
    T(UNIT, "bus", false, unit_t, bus, "can0",
      "the bus link at the unit's front coupling"),
    X(UNIT, "command", false, command, NONE, "treadle",
      "channel or signal whose rise begins an application (unit 0)"),
    C(UNIT, "command_kind", unit_t, command_kind,
      "|control-movement|treadle-pressure|electronic-demand",
      "what the command is a measure of"),
    X(UNIT, "command_at", false, command_at, NONE, "20 kPa",
      "rise above rest at which the command counts as given"),
    INPUT("control", control, "air demand at the unit's front coupling"),
    INPUT("control_b", control_b, "a second transducer that doubles control"),
    INPUT("control_out", control_out, "air demand at its rear coupling"),
    {SECTION_UNIT, "output", bl_trial_set_output, offsetof(unit_t, output),
     BL_QUANTITY_NONE, 1, 0, 0, "output_1",
     "pressure at the brakes; the latest counts where there are several", false,
     true},
    INPUT("reservoir", reservoir, "pressure of the unit's own reservoir"),
    INPUT("voltage", voltage, "supply voltage at the unit"),
    C(UNIT, "control_line", unit_t, control_line, "|through|relayed",
      "whether this unit passes the control air on or re-issues it"),
    Q(UNIT, "line", unit_t, pipe_m, LENGTH, 1, SMALL, LINE_MOST, "14 m",
      "developed length of the control line, from valve to valve"),
    Q(UNIT, "length", unit_t, length_m, LENGTH, 1, SMALL, LINE_MOST, "12 m",
      "length of the vehicle, where that of its line is not known"),
    Q(UNIT, "bore", unit_t, bore_mm, LENGTH, 1000, BORE_LEAST, BORE_MOST,
      "11 mm", "inner diameter of that line"),
    Q(UNIT, "crack", unit_t, crack_kpa, PRESSURE, 1, 0, THRESHOLD_MOST,
      "25 kPa", "control pressure at which the unit's relay valve opens"),
    Q(UNIT, "volume", unit_t, volume_cm3, VOLUME, 1, 0, VOLUME_MOST, "385 cm3",
      "air volume at the end of the control line"),
    Q(UNIT, "keeps", unit_t, keeps_kpa, PRESSURE, 1, 0, THRESHOLD_MOST,
      "35 kPa", "what its re-issuing valve keeps of the control pressure"),
    Q(UNIT, "valve_delay", unit_t, valve_delay_s, TIME, 1, VALVE_DELAY_LEAST,
      VALVE_DELAY_MOST, "20 ms", "until one of its valves begins to move"),
    Q(UNIT, "conductance", unit_t, conductance, CONDUCTANCE, 1, SMALL,
      CONDUCTANCE_MOST, "15 dm3/(s bar)", "of its re-issuing valve, ISO 6358"),
    Q(UNIT, "stroke_in_use", unit_t, stroke_percent, RATIO, 1, 1, 100, "75 %",
      "share of the chambers' volume that is filled"),
    X(UNIT, "chambers", false, chambers, VOLUME, "6 x type 24",
      "brake chambers by number and type, or their volume"),
    Q(UNIT, "reservoir_volume", unit_t, reservoir_volume_cm3, VOLUME, 1, SMALL,
      RESERVOIR_MOST, "90 l", "volume of the unit's reservoirs"),
    Q(UNIT, "threshold", unit_t, threshold_kpa, PRESSURE, 1, 0, THRESHOLD_MOST,
      "50 kPa", "expected control pressure at which the output begins"),
    X(UNIT, "gain", false, gain, NONE, "1.0",
      "expected output per control pressure, or load"),
    X(UNIT, "load", false, load, MASS, "laden",
      "laden, empty, or the mass of the load"),
    Q(UNIT, "mass", unit_t, mass_kg, MASS, 1, SMALL, MASS_MOST, "22 t",
      "mass of the unit as tested"),
    Q(UNIT, "force", unit_t, force_kn_per_kpa, FORCE_PER_PRESSURE, 1, SMALL,
      FORCE_MOST, "0.12 kN/kPa", "brake force per output pressure"),

    T(CHANNEL, "log", false, channel_t, log, "yard.csv",
      "which log it is in, where a run has several; * fits any text"),
    T(CHANNEL, "column", false, channel_t, column, "P_out 1",
      "header text of the column, or #3 for the third"),
    X(CHANNEL, "quantity", true, quantity_name, NONE, "pressure",
      "what is measured"),
    X(CHANNEL, "measured_in", false, measured_in, NONE, "V",
      "unit of the numbers in the column"),
    X(CHANNEL, "scale", false, scale, NONE, "250 kPa/V",
      "what one unit of the column stands for"),
    X(CHANNEL, "zero", false, zero, NONE, "-125 kPa",
      "what the column's 0 stands for"),
    X(CHANNEL, "accuracy", false, accuracy, NONE, "0.5 %",
      "stated limits of error, plus or minus"),
    OWN("u_zero", u_zero, 0, "0.5 kPa", "standard uncertainty of the zero"),
    X(CHANNEL, "u_gain", false, u_gain, RATIO, "0.3 %",
      "standard uncertainty of the scale"),
    OWN("resolution", resolution, 0, "0.25 kPa",
        "smallest step that the instrument shows"),
    Q(CHANNEL, "delay", channel_t, delay_s, TIME, 1, 0, DELAY_MOST, "2 ms",
      "how much later the instrument shows what happens"),
    Q(CHANNEL, "u_delay", channel_t, u_delay_s, TIME, 1, 0, DELAY_MOST,
      "0.5 ms", "standard uncertainty of the delay"),
    X(CHANNEL, "range", false, range, NONE, "0 .. 1000 kPa",
      "measuring range of the instrument"),
    T(CHANNEL, "instrument", false, channel_t, instrument, "PT-0093",
      "which transducer it is: its own number"),
    T(CHANNEL, "calibrated", false, channel_t, calibrated,
      "2026-02, works bench", "when and how it was calibrated"),
    Q(CHANNEL, "trips_at", channel_t, trips_at_kpa, PRESSURE, 1, 0, LEVEL_MOST,
      "35 kPa", "switch: rising pressure at which it turns on"),
    Q(CHANNEL, "resets_at", channel_t, resets_at_kpa, PRESSURE, 1, 0,
      LEVEL_MOST, "28 kPa", "switch: falling pressure at which it turns off"),
    X(CHANNEL, "on_when", false, on_when, NONE, "high|low",
      "switch: whether the column is high or low when it is on"),
    X(CHANNEL, "on_level", false, on_level, NONE, "2.5 V",
      "switch: value of the column that parts off from on"),

    T(RUN, "condition", false, run_t, condition, "powered",
      "label of the state that runs are compared by"),
    C(RUN, "power", run_t, power, "unknown|on|off|stop-lamp-only",
      "what was done with the units' electric supply"),
    C(RUN, "data", run_t, data, "unknown|on|off",
      "what was done with the data wires"),
    C(RUN, "control_air", run_t, control_air, "unknown|open|blocked",
      "what was done with the control line"),
    X(RUN, "captures", false, run_files, NONE, "p1.pcap.gz",
      "bus recordings of the run"),
    X(RUN, "logs", false, run_files, NONE, "p1.csv", "analog logs of the run"),
    X(RUN, "clock", false, run_clock, NONE, "auto",
      "how the clocks of bus recording and log are tied"),
    T(RUN, "block", false, run_t, block, "1",
      "runs of one block may be paired"),
    X(RUN, "exclude", false, exclude, NONE, "3 pedal slipped",
      "applications to leave out, by number, with the reason"),

    X(RECORDING, "run", true, run_of, NONE, "P1", "the run it belongs to"),
    X(RECORDING, "file", true, files, NONE, "p1-link2.pcap.gz",
      "the file; several are consecutive parts of one stream"),
    X(RECORDING, "kind", false, recording_kind, NONE, "capture|log",
      "bus recording or analog log, where the name does not tell"),
    T(RECORDING, "bus", false, recording_t, bus, "can1",
      "name of its bus, where the file has none"),
    C(RECORDING, "can_id_order", recording_t, can_id_order, "auto|big|little",
      "byte order of the identifiers, for files that break the rule"),
    X(RECORDING, "clock", false, recording_clock, NONE, "own",
      "how its clock is tied to the others"),

    Q(CHARACTERISTIC, "threshold", characteristic_t, threshold_kpa, PRESSURE, 1,
      0, THRESHOLD_MOST, "70 kPa",
      "control pressure at which the output begins"),
    X(CHARACTERISTIC, "gain", false, characteristic_gain, NONE, "1.2",
      "output per control pressure, or load"),
    X(CHARACTERISTIC, "when", false, when, NONE, "none",
      "messages that call for it; none: no message"),
    Q(CHARACTERISTIC, "within", characteristic_t, within_s, TIME, 1, 0, DAY,
      "5 s", "time after power-up in which they count"),

    X(LIMIT, "figure", true, figure, NONE, "response",
      "the figure that is limited"),
    Q(LIMIT, "level", limit_t, level_kpa, PRESSURE, 1, LEVEL_LEAST, LEVEL_MOST,
      "65 kPa", "pressure of the figure level"),
    X(LIMIT, "unit", false, limit_unit, NONE, "2", "a unit, or every"),
    ROW(LIMIT, "max", true, bl_trial_set_quantity, offsetof(limit_t, max_s),
        BL_QUANTITY_TIME, 1, -LAG_MOST, LAG_MOST, "0.4 s",
        "the most that is accepted"),

    X(EXPECT, "reach", false, reach, NONE, "yes|no",
      "whether the electronic demand must reach every unit"),
    Q(EXPECT, "gap_max", expect_t, gap_max_s, TIME, 1, SMALL, LAG_MOST,
      "100 ms", "longest accepted gap between demand messages"),
    Q(EXPECT, "interval_max", expect_t, interval_max_s, TIME, 1, SMALL,
      LAG_MOST, "20 ms",
      "longest accepted middle interval between demand messages"),
    Q(EXPECT, "coupling_delay_max", expect_t, coupling_delay_max_s, TIME, 1,
      SMALL, LAG_MOST, "20 ms",
      "longest accepted delay of the demand per unit"),
    Q(EXPECT, "lost_max", expect_t, lost_max_fraction, RATIO, 0.01, 0, 100,
      "0.1 %", "largest accepted share of demand frames lost"),
    Q(EXPECT, "first_valid_max", expect_t, first_valid_max_s, TIME, 1, SMALL,
      LAG_MOST, "3 s",
      "longest accepted time from first frame to valid demand"),
    Q(EXPECT, "voltage_min", expect_t, voltage_min_v, VOLTAGE, 1, SMALL,
      VOLTAGE_MOST, "10 V",
      "least accepted voltage at the last unit while braking"),

    WORDS("delimiter", delimiter, "comma|semicolon|tab|space",
          "sign between cells"),
    WORDS("decimal", decimal, "point|comma", "decimal sign"),
    WORDS("encoding", encoding, "utf-8|latin-1|utf-16le|utf-16be",
          "how letters are stored"),
    NUMBER("header_row", header_row, 1, "last row of free text"),
    NUMBER("names_row", names_row, -1, "row of the column names, or none"),
    NUMBER("units_row", units_row, -1, "row of the units, or none"),
    NUMBER("first_row", first_row, 1, "first row of data"),
    T(LOG, "time", false, log_t, options.time, "Time",
      "time column: header text, #1, or none"),
    WORDS("time_form", time_form,
          "s|ms|us|ns|epoch-s|epoch-ms|epoch-us|clock|iso|day-fraction|index",
          "how times are written"),
    Q(LOG, "rate", log_t, options.rate_hz, FREQUENCY, 1, LOG_RATE_LEAST_HZ,
      LOG_RATE_MOST_HZ, "200 Hz", "rows per second, where rows have no time"),
    X(LOG, "date", false, date, NONE, "2026-03-01",
      "date of times without one, or the column that holds it"),
    X(LOG, "timezone", false, timezone, NONE, "+10:00",
      "zone of times written without one"),
    WORDS("layout", layout, "columns|rows",
          "whether a channel is a column or a row"),

    X(RECORD, "date", false, record_date, NONE, "2026-03-01",
      "day of the trial, with its time where there are several that day"),
    X(RECORD, "place", false, record_place, NONE, "works yard",
      "where it was tested"),
    X(RECORD, "supply", false, record_supply, PRESSURE, "830 kPa",
      "supply pressure before the first application"),
    X(RECORD, "*", false, record, NONE, "level concrete",
      "tester, plates, temperature, instruments, ..: any key"),
};

static const struct {
    const char *word;
    bool named;
} sections[SECTION_KINDS] = {
    [SECTION_TRIAL] = {"trial", false},
    [SECTION_UNIT] = {"unit", true},
    [SECTION_CHANNEL] = {"channel", true},
    [SECTION_RECORDING] = {"recording", true},
    [SECTION_RUN] = {"run", true},
    [SECTION_CHARACTERISTIC] = {"characteristic", true},
    [SECTION_LIMIT] = {"limit", true},
    [SECTION_LOG] = {"log", true},
    [SECTION_EXPECT] = {"expect", false},
    [SECTION_RECORD] = {"record", false},
};

const struct trial_key *bl_trial_key_at(size_t index)
{
    return index < COUNT(keys) ? &keys[index] : NULL;
}

const struct trial_key *bl_trial_key_find(enum section_kind section,
                                          const char *key)
{
    for (size_t i = 0; i < COUNT(keys); i++) {
        const struct trial_key *row = &keys[i];
        const size_t length = strlen(row->key);
        if (row->section == section &&
            (strcmp(row->key, key) == 0 || strcmp(row->key, "*") == 0 ||
             (row->labelled && strncmp(row->key, key, length) == 0 &&
              key[length] == '.' && key[length + 1] != '\0'))) {
            return row;
        }
    }
    return NULL;
}

const char *bl_trial_section_word(enum section_kind kind)
{
    return kind < SECTION_KINDS ? sections[kind].word : "";
}

bool bl_trial_section_named(enum section_kind kind)
{
    return kind < SECTION_KINDS && sections[kind].named;
}

bool bl_trial_keys(size_t index, const char **section, const char **key,
                   const char **meaning)
{
    const struct trial_key *row = bl_trial_key_at(index);
    if (row == NULL) {
        return false;
    }
    *section = sections[row->section].word;
    *key = row->key;
    *meaning = row->meaning;
    return true;
}
