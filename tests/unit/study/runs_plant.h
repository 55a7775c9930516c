/* SPDX-License-Identifier: MIT */
/*
 * Trials of many runs, as figures without recordings: each run has an effect of
 * its own beside the scatter within, as runs at a yard have (frame phase, state
 * of the air), and a pedal of its own.
 */
#ifndef BRAKELAG_TESTS_UNIT_STUDY_RUNS_PLANT_H
#define BRAKELAG_TESTS_UNIT_STUDY_RUNS_PLANT_H

#include "testing.h"

#include "base/random.h"
#include "brakelag/compare.h"

enum { PLANT_RUNS = 12, PLANT_APPLICATIONS = 12 };

struct runs_plant {
    struct bl_trial trial;
    struct bl_trial_unit unit[1];
    struct bl_trial_run run[PLANT_RUNS];
    char name[PLANT_RUNS][8], block[PLANT_RUNS][8];
    double speed[1];
    struct bl_run_lag lag[PLANT_RUNS];
    struct bl_run_lag *list[PLANT_RUNS];
    struct bl_application application[PLANT_RUNS][PLANT_APPLICATIONS];
    struct bl_unit_lag answer[PLANT_RUNS][PLANT_APPLICATIONS];
};

/* Runs alternate: even ones are unpowered, odd ones powered. */
static inline void plant_start(struct runs_plant *p, size_t runs,
                               size_t applications, bool blocks)
{
    memset(p, 0, sizeof(*p));
    p->speed[0] = 100;
    p->trial.path = (char *)"made.ini";
    p->trial.speed_kmh = p->speed;
    p->trial.speeds = 1;
    p->trial.unit = p->unit;
    p->trial.units = 1;
    p->trial.run = p->run;
    p->trial.runs = runs;
    p->unit[0].combination = 'A';
    p->unit[0].outputs = 1;
    for (size_t r = 0; r < runs; r++) {
        snprintf(p->name[r], sizeof(p->name[r]), "r%u", (unsigned)r % 100);
        snprintf(p->block[r], sizeof(p->block[r]), "%u", (unsigned)r / 2 % 100);
        p->run[r].name = p->name[r];
        p->run[r].condition =
            r % 2 == 0 ? (char *)"unpowered" : (char *)"powered";
        p->run[r].block = blocks ? p->block[r] : NULL;
        p->lag[r] = (struct bl_run_lag){.run = r,
                                        .t0_ns = (int64_t)r,
                                        .application = p->application[r],
                                        .applications = applications};
        p->list[r] = &p->lag[r];
        for (size_t i = 0; i < applications; i++) {
            p->application[r][i] =
                (struct bl_application){.number = (int)i + 1,
                                        .combination = 'A',
                                        .kind = BL_KIND_FULL,
                                        .shape = BL_SHAPE_STEP,
                                        .unit = &p->answer[r][i],
                                        .units = 1};
        }
    }
}

static inline struct bl_figure plant_figure(double s)
{
    return (struct bl_figure){.known = true, .s = s, .u_s = 0.0005};
}

/* 75 % of the output, and a pedal that rises evenly to its hold in `pedal_s`
   (0: it is not told how the pedal went). */
static inline void plant_set(struct runs_plant *p, size_t run, size_t i,
                             double value_s, double pedal_s)
{
    struct bl_application *a = &p->application[run][i];
    p->answer[run][i].figure[BL_FIGURE_APPLY_75] = plant_figure(value_s);
    p->answer[run][i].figure[BL_FIGURE_APPLY_75].part.crossing = 1e-6;
    if (pedal_s > 0) {
        a->own[BL_FIGURE_APPLY_10] = plant_figure(0.10 * pedal_s);
        a->own[BL_FIGURE_APPLY_75] = plant_figure(0.75 * pedal_s);
        a->own_half_rise = plant_figure(0.50 * pedal_s);
    }
    a->command_hold = (struct bl_level){
        .known = true, .value = 650, .u = 1, .quantity = BL_QUANTITY_PRESSURE};
    a->command_rest = (struct bl_level){
        .known = true, .u = 1, .quantity = BL_QUANTITY_PRESSURE};
}

static inline const struct bl_comparison_row *
plant_row(const struct bl_comparison *c)
{
    for (size_t i = 0; i < c->rows; i++) {
        if (c->row[i].figure == BL_FIGURE_APPLY_75 && c->row[i].n_base > 0) {
            return &c->row[i];
        }
    }
    fail_msg("no row");
    return NULL;
}

static inline struct bl_comparison *
plant_compare(struct runs_plant *p, const struct bl_compare_options *options)
{
    struct bl_error error;
    struct bl_comparison *c = NULL;
    if (bl_compare(&c, &p->trial, p->list, options, &error) != BL_OK) {
        fail_msg("%s", error.message);
    }
    return c;
}

/* One cell of a simulation. The truth is the difference of the populations:
   what the mean over endless runs would show. */
struct runs_cell {
    size_t runs, applications;        /* a side */
    double between, within;           /* standard deviations, seconds */
    double difference;                /* of the populations */
    double pedal_base, pedal_against; /* rise from 0 to hold */
    double fills; /* share of the pedal's own time at half of its way that a
                     unit that only fills shows; 1: it delays only */
    bool blocks;
};

struct runs_found {
    size_t trials, covered, sure, wrong_sure;
};

static inline void runs_trial(struct runs_found *found,
                              const struct runs_cell *cell,
                              struct bl_random *random)
{
    static struct runs_plant p;
    plant_start(&p, 2 * cell->runs, cell->applications, cell->blocks);
    for (size_t r = 0; r < 2 * cell->runs; r++) {
        const bool against = r % 2 == 1;
        const double own = cell->between * bl_random_normal(random);
        const double pedal = against ? cell->pedal_against : cell->pedal_base;
        for (size_t i = 0; i < cell->applications; i++) {
            const double rise = pedal * (1 + 0.05 * bl_random_normal(random));
            const double lag = 0.3 + (against ? cell->difference : 0) + own +
                               cell->within * bl_random_normal(random);
            const double share = 0.75 * cell->fills + 0.5 * (1 - cell->fills);
            plant_set(&p, r, i, lag + share * rise, rise);
        }
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    const struct bl_comparison_row *row = plant_row(c);
    const bool sure =
        row->verdict == BL_VERDICT_EARLIER || row->verdict == BL_VERDICT_LATER;
    found->trials++;
    found->covered +=
        row->low_s <= cell->difference && cell->difference <= row->high_s;
    found->sure += sure;
    bl_comparison_destroy(c);
}

#endif
