/* SPDX-License-Identifier: MIT */
/*
 * Recordings with known truth. A scenario (INI, docs/scenario-file.md) and a
 * seed give the bus captures, analog logs and trial file of a brake trial that
 * never took place, and every figure that an analysis of it should find. The
 * model of air and valves is docs/methods/physics.md. The same scenario and
 * seed give the same recordings everywhere.
 */
#ifndef BRAKELAG_SIMULATE_H
#define BRAKELAG_SIMULATE_H

#include "brakelag/bus.h"
#include "brakelag/lag.h"
#include "brakelag/names.h"
#include "brakelag/status.h"

struct bl_scenario;

/*
 * Read and check a scenario. Every mistake is appended to `mistakes` (may be
 * NULL) with its line; the first one is the error. `folder` is what paths of
 * mapping tables start from (NULL: where the source lies). Errors: TRIAL, IO,
 * LIMIT, NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status bl_scenario_read(struct bl_scenario **out,
                                                     struct bl_bytes *source,
                                                     const char *folder,
                                                     struct bl_notes *mistakes,
                                                     struct bl_error *error);
BL_API BL_MUST_CHECK enum bl_status
bl_scenario_read_file(struct bl_scenario **out, const char *path,
                      struct bl_notes *mistakes, struct bl_error *error);
BL_API void bl_scenario_destroy(struct bl_scenario *scenario);
/* The file's seed is replaced: other noise, phases and errors, same train. */
BL_API void bl_scenario_set_seed(struct bl_scenario *scenario, uint64_t seed);

/* A true time; relative to command_apply, or to command_release for the
   release figures, on the run's time. */
struct bl_true_figure {
    bool known; /* false: it does not happen */
    double s;
};
struct bl_true_unit {
    size_t unit; /* index in the scenario: 0 tows */
    bool responded;
    bool settled;                        /* the hold */
    double rest_kpa, hold_kpa, peak_kpa; /* of the output */
    /* Those with a side. DEMAND_ARRIVAL is a frame's stamp, noise included:
       what the unit was truly told. LEVEL stands beside. */
    struct bl_true_figure figure[BL_FIGURES];
    struct bl_true_figure *level; /* one per level of the scenario */
};
struct bl_true_application {
    int number; /* from 1 within the run */
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    bool finished;                /* the release was found */
    int64_t apply_ns, release_ns; /* the command's, on the run's time */
    double command_hold_kpa;
    struct bl_true_unit *unit; /* units with brakes, front to rear */
    size_t units;
};

/* One column of the log as written: sensor errors, noise, resolution in. */
struct bl_simulated_column {
    char name[32];
    enum bl_quantity quantity;
    const char *unit;  /* of the values, static text; "" for switches */
    unsigned decimals; /* as written in the file */
    double *value;     /* one per row; NaN: empty cell */
    double zero_kpa, gain, delay_s; /* true errors of its sensor */
};

struct bl_simulated_run {
    const char *name, *condition; /* the scenario's text */
    const struct bl_frame *frame; /* raw stamps of the capture, time order */
    size_t frames;
    const char *const *bus; /* names by index of bl_frame.bus */
    size_t buses;
    const int64_t *row_ns; /* raw stamps of the log */
    size_t rows;
    const struct bl_simulated_column *column;
    size_t columns;
    int64_t t0_ns; /* earliest stamp of both, on the log's clock */
    /* t_log = t_bus + offset + drift (t_bus - t_first), truly. */
    double offset_s, drift_ppm;
    const struct bl_true_application *application;
    size_t applications;
};

struct bl_simulation; /* owns everything that it hands out */

/* Run a scenario. It is borrowed and must outlive the simulation. Errors:
   LIMIT, NOMEM, TRIAL (a value does not fit into its signal). */
BL_API BL_MUST_CHECK enum bl_status bl_simulate(struct bl_simulation **out,
                                                const struct bl_scenario *s,
                                                struct bl_error *error);
BL_API void bl_simulation_destroy(struct bl_simulation *simulation);
BL_API size_t bl_simulation_runs(const struct bl_simulation *simulation);
/* NULL past the last. */
BL_API const struct bl_simulated_run *
bl_simulation_run(const struct bl_simulation *simulation, size_t index);

/* All files into a folder that exists: per run NAME.csv and NAME.pcapng (or
   as the scenario says), with .gz where it asks for compression, copies of
   mapping tables of one's own, truth.json and trial.ini. They appear together
   or not at all, and nothing is replaced. Errors: ARG (one of them is there),
   IO, NOMEM, and those of their contents. */
BL_API BL_MUST_CHECK enum bl_status
bl_simulation_write(const struct bl_simulation *simulation, const char *folder,
                    struct bl_error *error);

#endif
