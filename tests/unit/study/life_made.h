/* SPDX-License-Identifier: MIT */
/* A life of one series that says everything: what its tests start from. */
#ifndef BRAKELAG_TESTS_LIFE_MADE_H
#define BRAKELAG_TESTS_LIFE_MADE_H

#include "testing.h"

#include "brakelag/life.h"

enum { MOST = 80 };

struct made {
    struct bl_life_visit visit[MOST];
    struct bl_life_value value[MOST];
    struct bl_life_series series;
    struct bl_life life;
};

static void make(struct made *m, const double *value, size_t n)
{
    memset(m, 0, sizeof(*m));
    for (size_t i = 0; i < n; i++) {
        m->visit[i] = (struct bl_life_visit){.day = 182.625 * (double)i,
                                             .supply_kpa = 800,
                                             .temperature_c = 20,
                                             .units_in_front = 1,
                                             .kinds_in_front = "prime mover",
                                             .command = "treadle"};
        m->value[i] = (struct bl_life_value){.visit = i,
                                             .value = value[i],
                                             .command_rise_s = 0.15,
                                             .position = "rear",
                                             .transducer = "a"};
    }
    m->series = (struct bl_life_series){.key = {.figure = BL_FIGURE_APPLY_75,
                                                .condition = "powered",
                                                .kind = BL_KIND_FULL,
                                                .shape = BL_SHAPE_STEP},
                                        .value = m->value,
                                        .values = n};
    m->life = (struct bl_life){.visit = m->visit,
                               .visits = n,
                               .series = &m->series,
                               .series_count = 1};
}

static struct bl_lives *look(const struct made *m,
                             const struct bl_life_options *options)
{
    struct bl_error error;
    bl_error_clear(&error);
    struct bl_lives *lives = bl_life_create(&m->life, options, &error);
    if (lives == NULL) {
        print_error("%s\n", error.message);
    }
    assert_non_null(lives);
    return lives;
}

#endif
