/* SPDX-License-Identifier: MIT */
/* A scenario while it is being read. */
#ifndef BRAKELAG_SRC_SIMULATE_READ_H
#define BRAKELAG_SRC_SIMULATE_READ_H

#include "simulate/keys.h"

struct sim_reading {
    struct bl_scenario *scenario;
    struct bl_notes *mistakes; /* may be NULL */
    struct bl_error *error;
    enum bl_status status; /* of the first mistake or failure */
    enum sim_section section;
    bool in_section; /* false: entries of a wrong section are passed over */
    void *object;
    bool seen[SIM_KEYS_MOST]; /* the keys that this section gives */
    int given[SIM_KEYS_MOST]; /* line of each key in its last section */
    int section_line;
};

/* mistake.c */
void bl_sim_mistake(struct sim_reading *r, int line, const char *format, ...)
    BL_PRINTF(3, 4);
void bl_sim_no_memory(struct sim_reading *r);
/* Line of a key of [scenario]; 0: not given. */
int bl_sim_line_of(const struct sim_reading *r, const char *key);
/* check.c: the whole against itself; fills in what follows from the text. */
void bl_sim_check(struct sim_reading *r, const char *folder);

#endif
