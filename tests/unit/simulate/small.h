/* SPDX-License-Identifier: MIT */
/* A small train for the tests: three towed units, one of them relaying. */
#ifndef BRAKELAG_TESTS_SIMULATE_SMALL_H
#define BRAKELAG_TESTS_SIMULATE_SMALL_H

#include "testing.h"

#include "brakelag/simulate.h"

#define SMALL_HEAD                                                             \
    "[scenario]\nname = small train\nseed = 7\n"                               \
    "tables = iso11992-2, j1939-brakes\nlevels = 65 kPa, 414 kPa\n"            \
    "quiet_first = 1 s\ncompress = no\n"                                       \
    "[sensors]\npedal_switch = yes\n"                                          \
    "[clocks]\nlog_offset = 1.25 s\nlog_drift = 20 ppm\n"                      \
    "capture_drift = -17 ppm\n"

/* Valves that keep nothing and short wide lines: what a test expects can be
   worked out from one part at a time. */
#define SMALL_PARTS                                                            \
    "bore = 11 mm\nline_end = 50 cm3\nfittings = 1\ncoupling = 500\n"          \
    "crack = 25 kPa\ndifferential = 0 kPa\nhysteresis = 8 kPa\n"               \
    "rear_crack = 8 kPa\nrear_differential = 2 kPa\n"                          \
    "rear_hysteresis = 1 kPa\nrelay_delay = 15 ms\nvalve_travel = 25 ms\n"     \
    "feed = 25\nvent = 25\nrear_feed = 20\nmodulator = 40 ms\n"

#define SMALL_UNITS                                                            \
    "[unit 0]\naddress = 32\nbus = vehicle\n" SMALL_PARTS                      \
    "[unit 1]\naddress = 200\nbus = link1\nline = 8 m\n" SMALL_PARTS           \
    "[unit 2]\naddress = 192\nbus = link2\nline = 10 m\n" SMALL_PARTS          \
    "control_line = relayed\n"                                                 \
    "[unit 3]\naddress = 184\nbus = link3\nline = 12 m\n" SMALL_PARTS

#define SMALL_PRESSES                                                          \
    "[application full]\npressure = 650 kPa\nrise = 0.15 s\nrise_spread = 0 "  \
    "s\nhold = 2 s\npause = 3 s\n"                                             \
    "[application light]\npressure = 100 kPa\nrise = 0.15 s\nrise_spread = 0 " \
    "s\nhold = 2 s\npause = 3 s\n"

#define SMALL_FRAMES                                                           \
    "[demand]\nmessage = EBS11\nset.brake_light_switch = pedal_switch\n"       \
    "[message status]\nmessage = EBS22\nset.service_brake_active = braking\n"

#define SMALL_RUNS                                                             \
    "[run P]\ncondition = powered\napplications = full, light\n"               \
    "[run U]\ncondition = unpowered\npower = off\ndata = off\n"                \
    "applications = full, light\n"

#define SMALL SMALL_HEAD SMALL_UNITS SMALL_PRESSES SMALL_FRAMES SMALL_RUNS

enum { POWERED, UNPOWERED };

struct small {
    struct bl_scenario *scenario;
    struct bl_simulation *simulation;
};

static inline enum bl_status small_read(struct bl_scenario **out,
                                        const char *text,
                                        struct bl_notes *mistakes,
                                        struct bl_error *error)
{
    struct bl_bytes *source;
    enum bl_status status =
        bl_bytes_open_memory(&source, "small.ini", text, strlen(text), error);
    if (status == BL_OK) {
        status = bl_scenario_read(out, source, NULL, mistakes, error);
        bl_bytes_close(source);
    }
    return status;
}

static inline struct small small_run(const char *text, uint64_t seed)
{
    struct small s = {NULL, NULL};
    struct bl_error error;
    char line[1024];
    bl_error_clear(&error);
    if (small_read(&s.scenario, text, NULL, &error) != BL_OK) {
        fail_msg("%s", bl_error_line(&error, line, sizeof(line)));
    }
    if (seed != 0) {
        bl_scenario_set_seed(s.scenario, seed);
    }
    if (bl_simulate(&s.simulation, s.scenario, &error) != BL_OK) {
        fail_msg("%s", bl_error_line(&error, line, sizeof(line)));
    }
    return s;
}

static inline void small_end(struct small *s)
{
    bl_simulation_destroy(s->simulation);
    bl_scenario_destroy(s->scenario);
}

static inline const struct bl_true_unit *
truth_of(const struct small *s, size_t run, size_t application, size_t unit)
{
    const struct bl_simulated_run *r = bl_simulation_run(s->simulation, run);
    assert_non_null(r);
    assert_true(application < r->applications);
    const struct bl_true_application *a = &r->application[application];
    for (size_t i = 0; i < a->units; i++) {
        if (a->unit[i].unit == unit) {
            return &a->unit[i];
        }
    }
    fail();
    return NULL;
}

static inline const struct bl_simulated_column *
column_of(const struct bl_simulated_run *run, const char *name)
{
    for (size_t i = 0; i < run->columns; i++) {
        if (strcmp(run->column[i].name, name) == 0) {
            return &run->column[i];
        }
    }
    fail();
    return NULL;
}

#endif
