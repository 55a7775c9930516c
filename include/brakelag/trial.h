/* SPDX-License-Identifier: MIT */
/*
 * The trial file: one INI file that says what was tested and how it was
 * wired. Reading checks everything that can be checked without the
 * recordings, and loads the mapping tables that it names.
 * docs/trial-file.md is the reference for the people who write one.
 *
 * Conventions of these structures: text belongs to the trial and is UTF-8;
 * text that was not given is NULL; a number that was not given is NaN; an
 * index that was not given is -1; `line` is the section's line in the file.
 */
#ifndef BRAKELAG_TRIAL_H
#define BRAKELAG_TRIAL_H

#include "brakelag/bus.h"
#include "brakelag/decoder.h"
#include "brakelag/log.h"
#include "brakelag/names.h"
#include "brakelag/status.h"

/* A channel of an analog log. value = written * scale + zero, in the canonical
   unit of `quantity` (already converted from the units in the file). */
struct bl_trial_channel {
    char *name;
    char *log;    /* which log file or recording, where there are several */
    char *column; /* header text or "#3"; NULL: the channel's own name */
    enum bl_quantity quantity;
    char *measured_in;  /* unit of the column as the trial says, also by its
                           `scale`; NULL: as the log says */
    double scale, zero; /* NaN, NaN: by the unit alone */
    /* What the instrument is stated to do; NaN: not stated, and then said to
       be not included. All standard uncertainties, canonical unit. */
    double accuracy_fraction; /* of range or, without range, of reading;
                                 as stated, a half-width */
    double accuracy_value;    /* a half-width in canonical unit */
    double u_zero, u_gain_fraction, resolution;
    double delay_s, u_delay_s;
    double range_low, range_high;
    char *calibrated;
    char *instrument; /* its serial number, so that another one is noticed */
    /* Switches: where they trip and reset on the pressure they watch. */
    double trips_at_kpa, resets_at_kpa;
    bool on_when_low; /* on_when = low: the contact reads low when pressed */
    double on_level;  /* column value, as written there, that parts off from on;
                         NaN: midway */
    int line;
};

enum bl_input_kind { BL_INPUT_NONE, BL_INPUT_CHANNEL, BL_INPUT_SIGNAL };

/* Where a quantity of a unit comes from. */
struct bl_trial_input {
    enum bl_input_kind kind;
    char *text;   /* as written */
    char *label;  /* output.front -> "front"; NULL for plain keys */
    long channel; /* index of the channel, or -1 */
    struct bl_signal_ref signal;
    int line;
};

enum bl_command_kind {
    BL_COMMAND_NONE,
    BL_COMMAND_CONTROL_MOVEMENT,
    BL_COMMAND_TREADLE_PRESSURE,
    BL_COMMAND_ELECTRONIC_DEMAND
};
enum bl_command_at_kind {
    BL_COMMAND_AT_PRESSURE, /* kPa above rest */
    BL_COMMAND_AT_PERCENT,  /* percent points above rest */
    BL_COMMAND_AT_EDGE      /* the switch or state turns on */
};
enum bl_load_kind {
    BL_LOAD_UNKNOWN,
    BL_LOAD_LADEN,
    BL_LOAD_EMPTY,
    BL_LOAD_MASS
};

/* What a towed unit is, where a published limit asks for it. */
enum bl_unit_kind { BL_UNIT_NOT_STATED, BL_UNIT_TRAILER, BL_UNIT_DOLLY };

/* Whether units pass the control air on or re-issue it by a valve. */
enum bl_control_line {
    BL_CONTROL_LINE_UNKNOWN,
    BL_CONTROL_LINE_THROUGH,
    BL_CONTROL_LINE_RELAYED
};

struct bl_trial_pair {
    char *key, *value;
    int line;
};

struct bl_trial_unit {
    char combination; /* 'A' where the file writes plain numbers */
    int number;       /* 0 tows; 1.. counts rearwards */
    char *name;
    char *id; /* the owner's own, the same at every visit; NULL: not stated */
    struct bl_trial_pair *label; /* label.valve = .. is {"valve", ".."} */
    size_t labels;
    enum bl_unit_kind kind;        /* towed units */
    int address;                   /* 0..253; -1 */
    char *bus;                     /* link at its front coupling; NULL: any */
    struct bl_trial_input command; /* unit 0; `text` "none REASON" and kind NONE
                                      where there is none on purpose */
    enum bl_command_kind command_kind;
    enum bl_command_at_kind command_at_kind;
    double command_at; /* kPa or percent points */
    struct bl_trial_input control, control_b, control_out, reservoir, voltage;
    struct bl_trial_input *output; /* none, one or several */
    size_t outputs;
    enum bl_control_line control_line; /* UNKNOWN: as the trial says */
    double pipe_m;   /* developed length of its control line */
    double length_m; /* of the vehicle, where that is not known */
    double bore_mm, crack_kpa, volume_cm3, chambers_cm3, reservoir_volume_cm3;
    double keeps_kpa; /* of the control pressure, where it re-issues it */
    double valve_delay_s, conductance; /* conductance in dm3/(s bar) */
    double stroke_percent;             /* of the chambers' volume, in use */
    char *chambers;                    /* as written: "6 x type 24" */
    double threshold_kpa, gain;
    bool gain_by_load; /* gain = load */
    enum bl_load_kind load;
    double load_kg;
    double mass_kg, force_kn_per_kpa;
    int line;
};

enum bl_clock_kind {
    BL_CLOCK_UNSET, /* as the run says, else auto */
    BL_CLOCK_AUTO,
    BL_CLOCK_SHARED, /* stamps of both recorders are of one clock */
    BL_CLOCK_OWN,    /* untied on purpose */
    BL_CLOCK_SAME_AS,
    BL_CLOCK_OFFSET, /* t_log = t_bus + offset + drift (t_bus - t_first) */
    BL_CLOCK_START,  /* log's first row lies so long after capture's first
                        frame */
    BL_CLOCK_SYNC    /* one event on both: CHANNEL SIGNAL */
};
struct bl_trial_clock {
    enum bl_clock_kind kind;
    char *same_as;                            /* recording name */
    double offset_s, drift_ppm, half_width_s; /* of offset and start; NaN */
    char *channel, *signal;                   /* sync, as written */
    long channel_index;
    struct bl_signal_ref signal_ref;
    int line;
};

enum bl_recording_kind { BL_RECORDING_CAPTURE, BL_RECORDING_LOG };

/* One stream: usually one file; several are consecutive parts. The shorthand
   `captures` and `logs` in [run] makes such recordings too, one of every file
   and named as the file is written there. */
struct bl_trial_recording {
    char *name;
    size_t run;
    enum bl_recording_kind kind;
    char *
        *file; /* paths as opened: relative ones joined to the trial's folder */
    size_t files;
    char *bus; /* name for a capture without interface names; NULL */
    struct bl_trial_clock clock;
    enum bl_id_order can_id_order;
    int line;
};

enum bl_switch_state {
    BL_STATED_UNKNOWN,
    BL_STATED_ON,
    BL_STATED_OFF,
    BL_STATED_STOP_LAMP_ONLY
};
enum bl_air_state { BL_AIR_UNKNOWN, BL_AIR_OPEN, BL_AIR_BLOCKED };

struct bl_trial_exclusion {
    int application; /* number from 1 */
    char *why;
    int line;
};

struct bl_trial_run {
    char *name;
    char *condition; /* a label; NULL: the run's own name */
    enum bl_switch_state power, data;
    enum bl_air_state control_air;
    struct bl_trial_clock clock;
    char *block; /* runs of one block may be paired; NULL */
    struct bl_trial_exclusion *exclude;
    size_t exclusions;
    int line;
};

struct bl_trial_characteristic {
    char *name;
    double threshold_kpa, gain;
    bool gain_by_load;
    char **when; /* message names */
    size_t whens;
    bool when_none;  /* when = none: the one in force when nothing was seen */
    double within_s; /* NaN: at any time */
    int line;
};

struct bl_trial_limit {
    char *name;
    enum bl_figure_name figure;
    double level_kpa; /* of figure LEVEL */
    long unit;        /* index; -1: every unit */
    double max_s;
    int line;
};

/* [expect]; NaN or unset fields are not expected. */
struct bl_trial_expect {
    bool reach;
    double gap_max_s, interval_max_s, coupling_delay_max_s, lost_max_fraction,
        first_valid_max_s;
    double voltage_min_v; /* at the last unit of a combination */
    int line;             /* 0: no such section */
};

/* [log NAME]: how to read a log; NAME is a file name as written in `logs`, or
   "*" for all. */
struct bl_trial_log {
    char *name;
    struct bl_log_options options;
    int line;
};

struct bl_trial {
    char *path, *folder, *name;
    char *date;  /* ISO 8601, "2026-03-01" or "2026-03-01T14:30"; NULL */
    char *place; /* as date and supply from [record], where they stand, too */
    double supply_kpa; /* before the first application; NaN */
    char sha256[BL_SHA256_HEX];
    double *speed_kmh;
    size_t speeds;
    double response_at_kpa; /* default 20 */
    double brakes_at_kpa;   /* default 35, common practice */
    double *level_kpa;
    size_t levels;
    enum bl_control_line control_line;
    bool bus_split; /* one bus runs through all units: a demand to the first is
                       meant for all */
    char **table;   /* names as written */
    size_t table_count;
    struct bl_tables *tables;
    struct bl_trial_unit *unit; /* combination by combination, front to rear */
    size_t units;
    struct bl_trial_channel *channel;
    size_t channels;
    struct bl_trial_recording *recording;
    size_t recordings;
    struct bl_trial_run *run;
    size_t runs;
    struct bl_trial_characteristic *characteristic;
    size_t characteristics;
    struct bl_trial_limit *limit;
    size_t limits;
    struct bl_trial_log *log;
    size_t logs;
    struct bl_trial_expect expect;
    struct bl_trial_pair *record; /* [record], free text */
    size_t records;
    struct bl_notes notes; /* harmless oddities */
};

/*
 * Read and check. Every mistake is appended to `mistakes` (may be NULL) as a
 * note whose text is "expected ..., found ..." with its line; the first one is
 * also the error. Codes of mistakes are not merged: each mistake has its own
 * note. Errors: TRIAL, IO, LIMIT, NOMEM. `source` is borrowed; `folder` is
 * what relative paths start from (NULL: that of the source's name).
 */
BL_API BL_MUST_CHECK enum bl_status bl_trial_read(struct bl_trial **out,
                                                  struct bl_bytes *source,
                                                  const char *folder,
                                                  struct bl_notes *mistakes,
                                                  struct bl_error *error);
/* The same, from a path. */
BL_API BL_MUST_CHECK enum bl_status
bl_trial_read_file(struct bl_trial **out, const char *path,
                   struct bl_notes *mistakes, struct bl_error *error);
BL_API void bl_trial_destroy(struct bl_trial *trial);

/* Index of a unit by combination and number, of others by name; -1. */
BL_API long bl_trial_unit_index(const struct bl_trial *trial, char combination,
                                int number);
/* What a unit does with the control air at its rear: its own word, else the
   trial's. */
BL_API enum bl_control_line
bl_trial_unit_control_line(const struct bl_trial *trial, size_t unit);
/* Least supply voltage under load that is accepted, V: what [expect] asks for,
   else 10, "minimum of 10 volts at the rearmost trailer, with the electrical
   system under maximum load" (permit scheme of a state, long combinations). */
BL_API double bl_trial_voltage_least(const struct bl_trial *trial);
BL_API long bl_trial_run_index(const struct bl_trial *trial, const char *name);
/* Is the channel one of this log? (Its `log` is the recording's name, a file
   of it, with or without folder, or such a name with '*' for any text.) */
BL_API bool bl_trial_channel_in(const struct bl_trial_channel *channel,
                                const struct bl_trial_recording *recording);
/* Does the channel's `log` name logs of other runs only? Then run `run` lacks
   nothing. */
BL_API bool bl_trial_channel_elsewhere(const struct bl_trial *trial,
                                       const struct bl_trial_channel *channel,
                                       size_t run);
/* How to read this log: the [log] section whose name fits it, a plain name
   before one with '*'; NULL: none, everything is decided by looking. */
BL_API const struct bl_trial_log *
bl_trial_log_for(const struct bl_trial *trial,
                 const struct bl_trial_recording *recording);
/* What people call unit `index`: its name; its number where it has none; both
   where another unit has the same name, the name is a number, or it does not
   fit `size` and is cut. In a sentence it takes up to BL_UNIT_CALLED bytes. */
enum { BL_UNIT_CALLED = 64 };
BL_API const char *bl_trial_unit_called(const struct bl_trial *trial,
                                        size_t index, char *text, size_t size);
/* The same where a sentence begins: "Bin trailer C". */
BL_API const char *bl_trial_unit_begins(const struct bl_trial *trial,
                                        size_t index, char *text, size_t size);
/* Those of a trial's units whose entry in `in` is true: what the only one is
   called, or "units 2, 3 and 5", cut where it does not fit. Returns text. */
BL_API const char *bl_trial_units_called(const struct bl_trial *trial,
                                         const bool *in, char *text,
                                         size_t size);
/* "2" or "B.1", as the file writes it. */
BL_API const char *bl_trial_unit_label(const struct bl_trial_unit *unit,
                                       char *text, size_t size);

#endif
