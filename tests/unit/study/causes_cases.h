/* SPDX-License-Identifier: MIT */
/*
 * The faults of the trials: how each is put into the plant, its severities and
 * from which one on the measurement suffices. "Suffices" is the tolerance of
 * docs/findings.md and as much again where a tolerance is all there is, which
 * is far beyond 4 u of a plant with 0.4 kPa of noise at 200 Hz; where it is
 * something else it stands beside the case.
 */
#ifndef BRAKELAG_TESTS_CAUSES_CASES_H
#define BRAKELAG_TESTS_CAUSES_CASES_H

#include "plant_bus.h"

/* One trial: a sound run before and the run now, or one run on the bus. */
struct set_up {
    struct plant_fault before[PLANT_UNITS], now[PLANT_UNITS];
    struct plant_course before_course, now_course;
    struct plant_bus bus;
    bool on_bus;
    double threshold_kpa, shelf_kpa; /* stated; of sound units */
    double pipe_m;                   /* stated; NaN */
    bool doubled;                    /* a second transducer at each coupling */
    const char *condition_before;
};

enum { ANY_UNIT = -2, NO_UNIT = -1, FAULTY_UNIT = 0 };

struct fault_case {
    enum bl_finding_code code;
    const char *name;
    void (*put)(struct set_up *t, double severity, long unit);
    double least, most; /* severities, from far below to far above */
    double power;       /* from here on the measurement suffices */
    long named;         /* FAULTY_UNIT, or 1, or NO_UNIT, or ANY_UNIT */
};

#define PUT(member)                                                            \
    static void put_##member(struct set_up *t, double severity, long unit)     \
    {                                                                          \
        t->now[unit].member = severity;                                        \
    }
PUT(dead_s)
PUT(fill_factor)
PUT(release_s)
PUT(fall_factor)
PUT(line_dead_s)
PUT(line_release_s)
PUT(line_loss_kpa)
PUT(lost_kpa)
PUT(leak_kpa_s)
PUT(sag_kpa)
PUT(volts)
PUT(stays_kpa)
PUT(stray_kpa)
PUT(pedal_s)
PUT(hunt_kpa)

static void put_early_s(struct set_up *t, double severity, long unit)
{
    t->now[unit].early_s = severity;
    t->pipe_m = 15;
}

static void put_zero(struct set_up *t, double severity, long unit)
{
    t->before[unit].zero_kpa = t->now[unit].zero_kpa = -severity;
}

static void put_false_kpa(struct set_up *t, double severity, long unit)
{
    t->doubled = true;
    t->now[unit].false_kpa = severity;
}

static void put_second(struct set_up *t, double severity, long unit)
{
    t->doubled = true;
    t->now[unit].b_off_kpa = severity;
}

static void put_clipped(struct set_up *t, double severity, long unit)
{
    t->now[unit].clip_kpa = 650 - severity;
}

/* The pressure of the air goes with height and weather. */
static void put_absolute(struct set_up *t, double severity, long unit)
{
    t->before[unit].absolute_kpa = t->now[unit].absolute_kpa = severity;
}

/* In turn: psi, bar and MPa read as kPa, and kPa read as psi. */
static void put_unit(struct set_up *t, double severity, long unit)
{
    static const double factors[] = {1 / 6.894757, 0.01, 0.001, 6.894757};
    t->before[unit].scale = t->now[unit].scale = factors[(int)severity % 4];
}

static void put_dead(struct set_up *t, double severity, long unit)
{
    (void)severity;
    t->now[unit].dead = true;
}

static void put_none(struct set_up *t, double severity, long unit)
{
    (void)severity;
    t->now[unit].none = true;
}

static void put_stairs(struct set_up *t, double severity, long unit)
{
    t->before[unit].stairs = t->now[unit].stairs = (int)severity;
}

/* Against an earlier run: what parts the two units is their line. */
static void put_swapped(struct set_up *t, double severity, long unit)
{
    t->before[2].line_dead_s = t->now[2].line_dead_s = severity;
    t->now[unit].exchanged = true;
}

/* In both runs: unit 2's output leads its own control pressure. */
static void put_swapped_always(struct set_up *t, double severity, long unit)
{
    put_swapped(t, severity, unit);
    t->before[unit].exchanged = true;
}

/* Nothing to tell them apart by but one point pressed: no line between. */
static void put_swapped_touch(struct set_up *t, double severity, long unit)
{
    t->before[unit].exchanged = t->now[unit].exchanged = true;
    t->before[2].line_dead_s = t->now[2].line_dead_s = -0.06;
    t->now[unit].touch_kpa = severity;
}

static void put_below(struct set_up *t, double severity, long unit)
{
    (void)unit;
    t->shelf_kpa = t->threshold_kpa = 40 + severity;
    t->before_course.hold_kpa = t->now_course.hold_kpa = 40;
}

static void put_shelf(struct set_up *t, double severity, long unit)
{
    t->now[unit].shelf_kpa = severity;
    t->now_course.stairs = true;
    t->threshold_kpa = t->shelf_kpa = 40;
}

/* Severity is what is missing to 4 s between applications. */
static void put_not_vented(struct set_up *t, double severity, long unit)
{
    (void)unit;
    t->now_course.period_s = 3.1 + 4 - severity;
}

static void put_not_comparable(struct set_up *t, double severity, long unit)
{
    (void)unit;
    t->condition_before = "other";
    t->now_course.hold_kpa = 650 - severity;
}

#define BUS(member)                                                            \
    static void put_bus_##member(struct set_up *t, double severity, long unit) \
    {                                                                          \
        t->on_bus = true;                                                      \
        t->now_course.powered = true;                                          \
        t->bus.unit[unit].member = severity;                                   \
    }
BUS(lost)
BUS(off_s)
BUS(stands_kpa)
BUS(second_kpa)

/* A unit without a demand brakes by its air. */
static void put_bus_invalid_s(struct set_up *t, double severity, long unit)
{
    put_bus_off_s(t, 0, unit);
    t->bus.unit[unit].invalid_s = severity;
    t->now[unit].demand_invalid_s = severity;
}

/* Unit 1 alone passes the demand on. */
static void put_bus_share(struct set_up *t, double severity, long unit)
{
    put_bus_off_s(t, 0, unit);
    t->bus.unit[1].share = severity;
}

static void put_bus_late_s(struct set_up *t, double severity, long unit)
{
    put_bus_off_s(t, 0, unit);
    t->bus.unit[1].late_s = severity;
    t->now[2].demand_late_s = severity;
}

#define BUS_COUNT(member)                                                      \
    static void put_bus_##member(struct set_up *t, double severity, long unit) \
    {                                                                          \
        t->on_bus = true;                                                      \
        t->now_course.powered = true;                                          \
        t->bus.unit[unit].member = (int)(severity + 0.5);                      \
    }
BUS_COUNT(codes)
BUS_COUNT(park)
BUS_COUNT(automatic)
BUS_COUNT(silent)
BUS_COUNT(slower)

/* The unit in front goes on with its other message: it is not silent. */
static void put_bus_unasked(struct set_up *t, double severity, long unit)
{
    (void)severity;
    t->on_bus = t->now_course.powered = true;
    t->bus.heavy_called = true;
    t->bus.unit[unit].unasked = true;
}

static void put_bus_address(struct set_up *t, double severity, long unit)
{
    /* Other towed units' addresses (ISO 11992-2). */
    static const int addresses[] = {184, 176, 168};
    put_bus_off_s(t, 0, unit);
    t->bus.unit[unit].sent_to = addresses[(int)severity % 3];
}

static void put_bus_gap(struct set_up *t, double severity, long unit)
{
    put_bus_off_s(t, 0, unit);
    t->bus.gap_s = severity;
}

/* Severity: how much later the air arrives than the demand would. */
static void put_bus_ignored(struct set_up *t, double severity, long unit)
{
    put_bus_off_s(t, 0, unit);
    t->now[unit].follows_air = true;
    t->now[1].line_dead_s = severity;
}

/* Declared with data, and there is none; in turn, without, and there is; and
   with power, of which the voltage shows nothing. */
static void put_bus_condition(struct set_up *t, double severity, long unit)
{
    put_bus_off_s(t, 0, unit);
    const int kind = (int)severity % 3;
    t->bus.no_demand = kind == 0;
    t->now_course.powered = kind != 0;
    t->bus.data = kind == 1 ? "off" : "on";
    t->bus.power = kind == 2 ? "off" : "on";
}

/* Unit 1 begins at 50 kPa + severity; 50 kPa were called for. */
static void put_bus_curve(struct set_up *t, double severity, long unit)
{
    put_bus_off_s(t, 0, unit);
    t->now_course.stairs = true;
    t->threshold_kpa = 50;
    t->shelf_kpa = 50;
    t->now[1].shelf_kpa = severity;
}

/* Recorders of their own clocks, and all pauses alike: any application may be
   any other. */
static void put_bus_even_pauses(struct set_up *t, double severity, long unit)
{
    put_bus_off_s(t, 0, unit);
    (void)severity;
    t->bus.clock = "auto";
}

#define CASE(code, how, least, most, power, named)                             \
    {                                                                          \
        BL_FINDING_##code, #how, put_##how, least, most, power, named          \
    }

static const struct fault_case fault_cases[] = {
    CASE(LATE_APPLY, dead_s, 0.002, 0.3, 0.06, 0),
    CASE(SLOW_FILL, fill_factor, 0.05, 4, 1, 0),
    CASE(LATE_RELEASE, release_s, 0.002, 0.4, 0.08, 0),
    CASE(SLOW_RELEASE, fall_factor, 0.05, 4, 1, 0),
    CASE(CONTROL_LATE_APPLY, line_dead_s, 0.002, 0.3, 0.06, 0),
    CASE(CONTROL_LATE_RELEASE, line_release_s, 0.002, 0.4, 0.08, 0),
    CASE(CONTROL_LINE_LOSS, line_loss_kpa, 2, 150, 60, 0),
    CASE(LOW_HOLD, lost_kpa, 3, 300, 50, 0),
    CASE(HOLD_FALLS, leak_kpa_s, 0.5, 60, 25, 0),
    /* To each side: twice 30 kPa from turn to turn. */
    CASE(HOLD_UNSTEADY, hunt_kpa, 1, 150, 30, 0),
    CASE(NO_OUTPUT, none, 1, 1, 1, 0),
    CASE(BELOW_THRESHOLD, below, 3, 40, 10, ANY_UNIT),
    /* Three applications are needed: the first of them is one sag down. */
    CASE(SUPPLY_SAG, sag_kpa, 1, 160, 76, 0),
    CASE(VOLTAGE_LOW, volts, 0.2, 16, 6, 0),
    CASE(RESIDUAL_PRESSURE, stays_kpa, 0.5, 18, 10, 0),
    CASE(ZERO_OFFSET, zero, 0.5, 40, 10, 0),
    CASE(OUTPUT_WITHOUT_COMMAND, stray_kpa, 1, 300, 60, 0),
    /* 15 kPa, and 4 u of a threshold read from holds 10 kPa apart. */
    CASE(HIGH_THRESHOLD, shelf, 1, 80, 35, 0),
    /* 5 % of 650 kPa is what the two may differ by. */
    CASE(TRANSDUCERS_DISAGREE, second, 1, 300, 45, 0),
    CASE(FALSE_DEMAND, false_kpa, 1, 300, 50, 0),
    /* 4 u + 0.02 s between the two units' lags, which are 0.09 s already. */
    CASE(CHANNELS_SWAPPED, swapped, 0.002, 0.3, 0.002, ANY_UNIT),
    CASE(CHANNELS_SWAPPED, swapped_always, 0.002, 0.3, 0.002, ANY_UNIT),
    CASE(CHANNELS_SWAPPED, swapped_touch, 5, 300, 80, ANY_UNIT),
    CASE(CHANNEL_DEAD, dead, 1, 1, 1, 0),
    CASE(CHANNEL_CLIPPED, clipped, 0.5, 500, 20, 0),
    CASE(STAIR_STEPS, stairs, 2, 40, 2, 0),
    CASE(WRONG_PRESSURE_UNIT, unit, 1, 8, 1, 0),
    CASE(GAUGE_ABSOLUTE, absolute, 86, 107, 86, 0),
    /* The air needs 0.03 s per 15 m: unit 1 answers 0.1 s after the pedal. */
    CASE(IMPLAUSIBLE_LAG, early_s, 0.005, 0.4, 0.2, 0),
    CASE(PEDAL_SLOW, pedal_s, 0.01, 0.8, 0.2, NO_UNIT),
    CASE(NOT_VENTED, not_vented, 0.1, 3.8, 3.2, ANY_UNIT),
    CASE(NOT_COMPARABLE, not_comparable, 1, 600, 150, NO_UNIT),
};

/* Trials that need frames: the plant is written to files and read back. */
static const struct fault_case bus_cases[] = {
    CASE(DEMAND_MISSING, bus_invalid_s, 0.002, 3, 0.02, 0),
    CASE(DEMAND_MISSING, bus_unasked, 1, 1, 1, 0),
    /* By 4 u and 0.01 s the output has to trail the air's lead. */
    CASE(DEMAND_IGNORED, bus_ignored, 0.002, 0.3, 0.05, 0),
    /* One bit is 5/256 kPa: 0.003 % of 650 kPa. */
    CASE(DEMAND_ALTERED, bus_share, 0.00001, 0.3, 0.0002, 1),
    /* Two intervals and 0.01 s are allowed; frames come each 0.01 s. */
    CASE(DEMAND_LATE, bus_late_s, 0.001, 0.3, 0.06, 1),
    CASE(FRAMES_LOST, bus_lost, 0.0005, 0.4, 0.02, 0),
    CASE(RECORDING_GAP, bus_gap, 0.01, 3, 0.1, NO_UNIT),
    CASE(UNIT_SILENT, bus_silent, 1, 1, 1, 0),
    /* Two intervals of its fastest message, 0.1 s, and a half. */
    CASE(UNIT_RESTARTED, bus_off_s, 0.02, 5, 0.5, 0),
    CASE(FAULT_CODES_PRESENT, bus_codes, 1, 19, 1, 0),
    CASE(ADDRESS_ORDER, bus_address, 1, 30, 1, 0),
    CASE(DEMAND_STANDS, bus_stands_kpa, 1, 640, 1, 0),
    /* Twice the table's period is past a tenth more. */
    CASE(DEMAND_SLOW, bus_slower, 2, 10, 2, 0),
    CASE(TWO_SENDERS, bus_second_kpa, 1, 640, 1, 0),
    CASE(CONDITION_NOT_MET, bus_condition, 1, 30, 1, ANY_UNIT),
    CASE(PARK_BRAKE_ON, bus_park, 0.6, 4, 2.5, 0),
    CASE(AUTOMATIC_BRAKING, bus_automatic, 0.6, 4, 2.5, 0),
    /* 2 u to each side of holds 10 kPa apart. */
    CASE(UNEXPECTED_CHARACTERISTIC, bus_curve, 1, 60, 30, 1),
    CASE(CLOCK_AMBIGUOUS, bus_even_pauses, 1, 1, 1, NO_UNIT),
};

#endif
