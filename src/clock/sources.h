/* SPDX-License-Identifier: MIT */
/* Which series of a run may tie two recorders, and what for. */
#ifndef BRAKELAG_SRC_CLOCK_SOURCES_H
#define BRAKELAG_SRC_CLOCK_SOURCES_H

#include "brakelag/clock.h"

enum source_kind {
    SOURCE_SWITCH,     /* log: a switch at the pedal */
    SOURCE_TRAVEL,     /* log: movement of the pedal */
    SOURCE_PRESSURE,   /* log: pressure at the treadle or a control line */
    SOURCE_BUS_SWITCH, /* bus: pedal touched */
    SOURCE_BUS_PEDAL,  /* bus: pedal position */
    SOURCE_BUS_DEMAND  /* bus: demand to the unit behind */
};

struct source {
    enum source_kind kind;
    size_t recording; /* index in the run's data */
    const struct bl_samples *samples;
    const struct bl_steps *steps;
    double level; /* above rest, in the series' own unit */
    char name[80];
};

struct sources {
    struct source *item;
    size_t count, capacity;
};

enum bl_status bl_sources_find(struct sources *sources,
                               const struct bl_trial *trial,
                               const struct bl_run_data *data);
/* One channel or bus series as a source, whatever its part in the trial. */
struct source bl_source_channel(const struct bl_trial *trial,
                                const struct bl_channel_series *series);
struct source bl_source_series(const struct bl_trial *trial,
                               const struct bl_bus_series *series);
void bl_sources_finish(struct sources *sources);

#endif
