/* SPDX-License-Identifier: MIT */
/*
 * The words of the trade: closed lists that several rooms and every output
 * share. Roles of signals, figures, reasons for a missing figure, flags, codes
 * of findings. One X-macro each: enum, name and meaning cannot drift apart.
 */
#ifndef BRAKELAG_NAMES_H
#define BRAKELAG_NAMES_H

#include "brakelag/units.h"

#include <stdbool.h>

/* X(ENUM, "name in tables", "meaning") */
#define BL_ROLE_LIST(X)                                                        \
    X(NONE, "", "not looked for")                                              \
    X(SERVICE_DEMAND, "service_demand", "braking asked of the unit behind")    \
    X(PEDAL_POSITION, "pedal_position", "brake pedal, share of travel")        \
    X(BRAKE_SWITCH, "brake_switch", "brake pedal touched")                     \
    X(BRAKE_ACTIVE, "brake_active", "unit reports service braking")            \
    X(AUTOMATIC_BRAKING, "automatic_braking", "unit brakes by itself")         \
    X(ABS_ACTIVE, "abs_active", "anti-lock control is working")                \
    X(DELIVERED_PRESSURE, "delivered_pressure", "pressure at a brake")         \
    X(APPLICATION_PRESSURE, "application_pressure",                            \
      "pressure that the brake valve gives")                                   \
    X(SUPPLY_PRESSURE, "supply_pressure", "pressure of a reservoir")           \
    X(SUPPLY_SUFFICIENT, "supply_sufficient", "air supply is enough")          \
    X(ELECTRIC_SUPPLY_SUFFICIENT, "electric_supply_sufficient",                \
      "electric supply is enough")                                             \
    X(CONTROL_LINE_PRESENT, "control_line_present",                            \
      "air control line is fitted")                                            \
    X(CIRCUITS, "circuits", "demand comes from two electric circuits")         \
    X(LINE_BRAKING_SUPPORTED, "line_braking_supported",                        \
      "unit brakes by the electric control line")                              \
    X(PARK_DEMAND, "park_demand", "parking brake asked for")                   \
    X(PARK_BRAKE, "park_brake", "parking brake is on")                         \
    X(SPRING_BRAKE_ENGAGED, "spring_brake_engaged", "spring brake is on")      \
    X(SUPPLY_LINE_REQUEST, "supply_line_request",                              \
      "unit asks for braking by the supply line")                              \
    X(STOP_LAMP_REQUEST, "stop_lamp_request", "unit asks for stop lamps")      \
    X(ROAD_SPEED, "road_speed", "speed of the vehicle")                        \
    X(WHEEL_SPEED, "wheel_speed", "speed of one wheel")                        \
    X(DECELERATION, "deceleration", "longitudinal acceleration")               \
    X(AXLE_LOAD, "axle_load", "load on the axles")                             \
    X(WARNING_RED, "warning_red", "unit asks for the red warning")             \
    X(WARNING_AMBER, "warning_amber", "unit asks for the amber warning")       \
    X(RETARDER_DEMAND, "retarder_demand", "retarder torque asked for")         \
    X(RETARDER_ACTIVE, "retarder_active", "retarder is working")               \
    X(LINING_WEAR, "lining_wear", "lining that is left")                       \
    X(BRAKE_TEMPERATURE, "brake_temperature", "temperature of a brake")        \
    X(TROUBLE_CODES, "trouble_codes", "active trouble codes")                  \
    X(ADDRESS_CLAIM, "address_claim", "a unit claims its address")             \
    X(VOLTAGE, "voltage", "supply voltage")

/*
 * Figures of one unit in one application (docs/methods/figures.md), in the
 * order of time. X(ENUM, "name in results", "title", "title where its side is
 * said already", SIDE, AT, share, SINCE, by switch, "meaning"); what the words
 * in capitals mean stands at their enums below. An entry AT HOLD needs no
 * more than this line: its passage of that share is read off as it says here.
 */
#define BL_FIGURE_LIST(X)                                                      \
    X(DEMAND_ARRIVAL, "demand_arrival", "demand arrives", "demand", APPLY,     \
      COMMAND_AT, 0, COMMAND_APPLY, true,                                      \
      "electronic demand on the unit's bus passes the command level")          \
    X(RISE_START, "rise_start", "rise begins", "rise begins", APPLY, REST, 0,  \
      COMMAND_APPLY, false,                                                    \
      "onset: last moment before the output is 1 kPa above its released "      \
      "pressure")                                                              \
    X(RESPONSE, "response", "first air", "first air", APPLY, RESPONSE_AT, 0,   \
      COMMAND_APPLY, true,                                                     \
      "output passes response_at above its released pressure; the response "   \
      "times of the rules count to 75 %")                                      \
    X(APPLY_10, "apply_10", "10 % of settled", "10 % of settled", APPLY, HOLD, \
      0.10, COMMAND_APPLY, false,                                              \
      "output passes 10 % of the way from released to settled pressure")       \
    X(APPLY_75, "apply_75", "75 % of settled", "75 % of settled", APPLY, HOLD, \
      0.75, COMMAND_APPLY, false,                                              \
      "output passes 75 % of the way from released to settled pressure")       \
    X(APPLY_90, "apply_90", "90 % of settled", "90 % of settled", APPLY, HOLD, \
      0.90, COMMAND_APPLY, false,                                              \
      "output passes 90 % of the way from released to settled pressure")       \
    X(LEVEL, "level", "stated pressure", "stated pressure", APPLY, LEVEL, 0,   \
      COMMAND_APPLY, false, "output passes a stated pressure")                 \
    X(RELEASE_START, "release_start", "release to 90 % of settled",            \
      "90 % of settled", RELEASE, HOLD, 0.90, COMMAND_RELEASE, false,          \
      "output falls through 90 % of settled: the release has begun")           \
    X(RELEASE_10, "release_10", "release to 10 % of settled",                  \
      "10 % of settled", RELEASE, HOLD, 0.10, COMMAND_RELEASE, false,          \
      "output falls through 10 % of settled")                                  \
    X(RELEASE_END, "release_end", "release ends", "release ends", RELEASE,     \
      RESPONSE_AT, 0, COMMAND_RELEASE, true,                                   \
      "output falls through response_at above its released pressure")          \
    X(STAGGER, "stagger", "behind the first", "behind the first", NEITHER,     \
      UNITS, 0, FIRST_UNIT, true,                                              \
      "first air later than that of the first braked unit")                    \
    X(SPREAD, "spread", "first to last", "first to last", NEITHER, UNITS, 0,   \
      FIRST_RESPONSE, true, "from the earliest first air to the last")

/* Why a figure is null. */
#define BL_REASON_LIST(X)                                                      \
    X(NONE, "", "")                                                            \
    X(NO_CHANNEL, "no-channel", "no channel is wired for it")                  \
    X(NO_DATA, "no-data", "the recording has no samples there")                \
    X(BEGUN_BEFORE, "begun-before",                                            \
      "the application began before the recording")                            \
    X(UNFINISHED, "unfinished", "the recording ends before the release")       \
    X(DID_NOT_RESPOND, "did-not-respond", "the output did not rise enough")    \
    X(NOT_REACHED, "not-reached", "the output did not reach the level")        \
    X(NEAR_HOLD, "near-hold",                                                  \
      "the output settled within the transducer's error of the level")         \
    X(BELOW_NOISE, "below-noise", "the level lies within noise or resolution") \
    X(NO_HOLD, "no-hold", "no settled pressure to take a share of")            \
    X(SWITCH_ONLY, "switch-only", "a switch does not give this figure")        \
    X(TRIP_UNKNOWN, "trip-unknown", "the switch's trip point is not stated")   \
    X(CLOCKS_UNRELATED, "clocks-unrelated",                                    \
      "the two recorders' clocks are not tied")                                \
    X(CLOCK_AMBIGUOUS, "clock-ambiguous",                                      \
      "the clocks fit in more than one way")                                   \
    X(DIFFERENCES_ONLY, "differences-only",                                    \
      "this clock tie allows differences only")                                \
    X(PART_SPLIT, "part-split", "the recorder's time jumped in between")       \
    X(NOT_ALL_RESPONDED, "not-all-responded", "not every unit responded")      \
    X(NO_COMMAND, "no-command", "the command was not seen")                    \
    X(NOT_VENTED, "not-vented", "the output was not vented before")            \
    X(EXCLUDED, "excluded", "the trial file excludes this application")        \
    X(NOT_FITTED, "not-fitted", "no curve fits the beginning of the rise")     \
    X(STILL_PRESSED, "still-pressed",                                          \
      "the next application began before the figure was reached")              \
    X(NOT_SEEN, "not-seen", "no frame that tells it was recorded")             \
    X(NOT_REPORTED, "not-reported", "the unit did not report it")              \
    X(HOLD_LONGER, "hold-longer",                                              \
      "the output had not settled when the command was let go: hold longer")

/* What to keep in mind beside a figure that is given; bits. */
#define BL_FLAG_LIST(X)                                                        \
    X(REST_CARRIED, 0x1, "rest-carried",                                       \
      "no quiet stretch just before: the earlier released pressure is used")   \
    X(NOT_SETTLED, 0x2, "not-settled", "the pressure did not settle")          \
    X(NOT_VENTED, 0x4, "not-vented", "an output was not vented before")        \
    X(IN_GAP, 0x8, "in-gap", "the crossing lies in a gap of the recording")    \
    X(HELD_VALUE, 0x10, "held-value",                                          \
      "a value held between frames: the midpoint is given")                    \
    X(STAIR_STEPS, 0x20, "stair-steps",                                        \
      "the channel repeats its values: the midpoint is given")                 \
    X(CHATTER, 0x40, "chatter", "the switch chattered")                        \
    X(CLIPPED, 0x80, "clipped", "the channel reached the end of its range")    \
    X(MODULATED, 0x100, "modulated", "the command rose or fell in between")    \
    X(RAMP, 0x400, "ramp", "the command was not a step")                       \
    X(NEAR_DAMAGE, 0x800, "near-damage", "the recording is damaged near by")   \
    X(ROSE_AGAIN, 0x1000, "rose-again",                                        \
      "an output rose again without a command: not counted")

/* Codes of findings. X(ENUM, "code", GROUP, SEVERITY): what a finding speaks
   of, and how grave it is at most. */
#define BL_FINDING_LIST(X)                                                     \
    X(DEMAND_MISSING, "demand-missing", DEMAND, FAULT)                         \
    X(DEMAND_IGNORED, "demand-ignored", DEMAND, FAULT)                         \
    X(DEMAND_ALTERED, "demand-altered", DEMAND, FAULT)                         \
    X(DEMAND_LATE, "demand-late", DEMAND, WARNING)                             \
    X(FRAMES_LOST, "frames-lost", DEMAND, WARNING)                             \
    X(RECORDING_GAP, "recording-gap", DEMAND, NOTE)                            \
    X(UNIT_SILENT, "unit-silent", DEMAND, FAULT)                               \
    X(UNIT_RESTARTED, "unit-restarted", DEMAND, FAULT)                         \
    X(FAULT_CODES_PRESENT, "fault-codes-present", DEMAND, WARNING)             \
    X(ADDRESS_ORDER, "address-order", DEMAND, FAULT)                           \
    X(DEMAND_STANDS, "demand-stands", DEMAND, FAULT)                           \
    X(DEMAND_SLOW, "demand-slow", DEMAND, WARNING)                             \
    X(TWO_SENDERS, "two-senders", DEMAND, FAULT)                               \
    X(CONDITION_NOT_MET, "condition-not-met", DEMAND, WARNING)                 \
    X(LATE_APPLY, "late-apply", UNIT, FAULT)                                   \
    X(SLOW_FILL, "slow-fill", UNIT, FAULT)                                     \
    X(LATE_RELEASE, "late-release", UNIT, FAULT)                               \
    X(SLOW_RELEASE, "slow-release", UNIT, FAULT)                               \
    X(HOSE_RESTRICTED, "hose-restricted", UNIT, FAULT)                         \
    X(NO_OUTPUT, "no-output", UNIT, FAULT)                                     \
    X(AIR_PATH_SHUT, "air-path-shut", UNIT, FAULT)                             \
    X(BELOW_THRESHOLD, "below-threshold", UNIT, NOTE)                          \
    X(HIGH_THRESHOLD, "high-threshold", UNIT, WARNING)                         \
    X(LOW_HOLD, "low-hold", UNIT, FAULT)                                       \
    X(HIGH_HOLD, "high-hold", UNIT, WARNING)                                   \
    X(HOLD_FALLS, "hold-falls", UNIT, FAULT)                                   \
    X(HOLD_UNSTEADY, "hold-unsteady", UNIT, WARNING)                           \
    X(UNEXPECTED_CHARACTERISTIC, "unexpected-characteristic", UNIT, WARNING)   \
    X(OUTPUT_WITHOUT_COMMAND, "output-without-command", UNIT, FAULT)           \
    X(PARK_IN_SERVICE, "park-in-service", UNIT, FAULT)                         \
    X(CONTROL_LATE_APPLY, "control-late-apply", AIR, FAULT)                    \
    X(CONTROL_LATE_RELEASE, "control-late-release", AIR, FAULT)                \
    X(CONTROL_LINE_LOSS, "control-line-loss", AIR, WARNING)                    \
    X(VALVE_KEEPS, "valve-keeps", AIR, WARNING)                                \
    X(SUPPLY_CROSSED, "supply-crossed", AIR, FAULT)                            \
    X(RESERVOIR_FALLS, "reservoir-falls", AIR, WARNING)                        \
    X(SUPPLY_SAG, "supply-sag", AIR, WARNING)                                  \
    X(VOLTAGE_LOW, "voltage-low", AIR, FAULT)                                  \
    X(PARK_BRAKE_ON, "park-brake-on", AIR, FAULT)                              \
    X(AUTOMATIC_BRAKING, "automatic-braking", AIR, FAULT)                      \
    X(NOT_VENTED, "not-vented", AIR, WARNING)                                  \
    X(RESIDUAL_PRESSURE, "residual-pressure", AIR, WARNING)                    \
    X(ZERO_OFFSET, "zero-offset", AIR, NOTE)                                   \
    X(TRANSDUCERS_DISAGREE, "transducers-disagree", MEASURING, WARNING)        \
    X(FALSE_DEMAND, "false-demand", MEASURING, FAULT)                          \
    X(CHANNELS_SWAPPED, "channels-swapped", MEASURING, FAULT)                  \
    X(CHANNEL_DEAD, "channel-dead", MEASURING, WARNING)                        \
    X(CHANNEL_CLIPPED, "channel-clipped", MEASURING, WARNING)                  \
    X(STAIR_STEPS, "stair-steps", MEASURING, NOTE)                             \
    X(WRONG_PRESSURE_UNIT, "wrong-pressure-unit", MEASURING, WARNING)          \
    X(GAUGE_ABSOLUTE, "gauge-absolute", MEASURING, WARNING)                    \
    X(CLOCK_AMBIGUOUS, "clock-ambiguous", MEASURING, WARNING)                  \
    X(IMPLAUSIBLE_LAG, "implausible-lag", MEASURING, WARNING)                  \
    X(PEDAL_SLOW, "pedal-slow", MEASURING, NOTE)                               \
    X(NOT_COMPARABLE, "not-comparable", MEASURING, NOTE)

enum bl_role {
#define X(id, name, meaning) BL_ROLE_##id,
    BL_ROLE_LIST(X)
#undef X
        BL_ROLES
};
enum bl_figure_name {
#define X(id, ...) BL_FIGURE_##id,
    BL_FIGURE_LIST(X)
#undef X
        BL_FIGURES
};
/* The figure that stands for a filled chamber (published limits ask for it at
   75 %) and the one for an empty one: what orders, overtaking, causes and short
   tables speak of where one figure has to do. */
#define BL_FIGURE_FILLED BL_FIGURE_APPLY_75
#define BL_FIGURE_EMPTIED BL_FIGURE_RELEASE_10

enum bl_figure_side { BL_SIDE_NEITHER, BL_SIDE_APPLY, BL_SIDE_RELEASE };
/* What is passed at the figure's time. */
enum bl_figure_at {
    BL_AT_COMMAND_AT,  /* the command level, by the demand on the bus */
    BL_AT_REST,        /* left by the output */
    BL_AT_RESPONSE_AT, /* that height above rest, by the output */
    BL_AT_HOLD,        /* a share of the hold above rest, by the output */
    BL_AT_LEVEL,       /* a stated pressure, by the output */
    BL_AT_UNITS        /* a response, against another unit's */
};
/* Where it counts from. */
enum bl_figure_since {
    BL_SINCE_COMMAND_APPLY,
    BL_SINCE_COMMAND_RELEASE,
    BL_SINCE_FIRST_UNIT,    /* response of the first braked unit */
    BL_SINCE_FIRST_RESPONSE /* earliest response of all units */
};
/* One entry of the list. */
struct bl_figure_entry {
    const char *name, *title;
    const char *brief; /* title in a table of its side */
    const char *meaning;
    enum bl_figure_side side;
    enum bl_figure_at at;
    double share; /* of the hold above rest, AT_HOLD; else 0 */
    enum bl_figure_since since;
    bool by_switch; /* an output that is a switch gives it */
};
enum bl_reason {
#define X(id, name, meaning) BL_REASON_##id,
    BL_REASON_LIST(X)
#undef X
        BL_REASONS
};
enum bl_flag {
#define X(id, bit, name, meaning) BL_FLAG_##id = bit,
    BL_FLAG_LIST(X)
#undef X
};
enum bl_finding_code {
#define X(id, code, group, severity) BL_FINDING_##id,
    BL_FINDING_LIST(X)
#undef X
        BL_FINDINGS
};

enum bl_finding_group {
    BL_GROUP_DEMAND,
    BL_GROUP_UNIT,
    BL_GROUP_AIR,
    BL_GROUP_MEASURING
};
enum bl_severity { BL_SEVERITY_NOTE, BL_SEVERITY_WARNING, BL_SEVERITY_FAULT };

/* Names as tables, trial files and results write them; never NULL. */
BL_API const char *bl_role_name(enum bl_role role);
BL_API const char *bl_role_meaning(enum bl_role role);
/* The entry of a figure; NULL for BL_FIGURES. */
BL_API const struct bl_figure_entry *bl_figure_entry(enum bl_figure_name name);
/* Is it one value per unit and application, and no level or spread? */
BL_API bool bl_figure_of_unit(enum bl_figure_name name);
/* Is it read off one output, and by one value? */
BL_API bool bl_figure_of_output(enum bl_figure_name name);
BL_API const char *bl_figure_name_text(enum bl_figure_name figure);
BL_API const char *bl_figure_title(enum bl_figure_name figure);
BL_API const char *bl_figure_meaning(enum bl_figure_name figure);
BL_API const char *bl_reason_name(enum bl_reason reason);
BL_API const char *bl_reason_meaning(enum bl_reason reason);
BL_API const char *bl_flag_name(enum bl_flag flag);
BL_API const char *bl_flag_meaning(enum bl_flag flag);
BL_API const char *bl_finding_group_name(enum bl_finding_group group);
BL_API const char *bl_severity_name(enum bl_severity severity);
/* All flags by index; 0 past the last. */
BL_API enum bl_flag bl_flag_at(size_t index);

/* The other way round: false when the text is not a name of the list. */
BL_API bool bl_role_from(const char *name, enum bl_role *out);
BL_API bool bl_figure_from(const char *name, enum bl_figure_name *out);

#endif
