/* SPDX-License-Identifier: MIT */
/*
 * From the commanded valve through lines and relaying units to every brake:
 * the models of the physics room, put one behind the other. What simulate does
 * not use of them is not here either: the two share the room, and are held
 * against outside figures each by its own tests.
 */
#include "study/predict/chain.h"

#include <math.h>

#include "base/alloc.h"
#include "physics/line.h"

#define OPEN_BAND_KPA 15.0
#define LINE_QUIET_KPA 0.1

/* A line from one valve to the unit that relays next, or to the last. */
struct stretch {
    struct bl_air_line *line;
    long source; /* unit that feeds it; -1: the commanded valve */
    double length_m, bore_mm, end_cm3, last_kpa;
    struct bl_restriction feed, vent;
    struct bl_relay_state rear;
};

struct brake {
    size_t stretch;
    double x_m; /* its valve on that line */
    struct bl_relay_state relay;
    double kpa, travel, reservoir_kpa;
};

struct chain_run {
    const struct bl_chain *chain;
    const double *drive;
    size_t steps;
    double *control, *output;
    struct stretch *stretch;
    size_t stretches;
    struct brake *brake;
};

static void open_stretch(struct chain_run *r, long source)
{
    const struct bl_chain *chain = r->chain;
    struct stretch *now = &r->stretch[r->stretches++];
    *now = (struct stretch){.source = source};
    now->feed = source < 0 ? chain->feed : chain->unit[source].rear_feed;
    now->vent = source < 0 ? chain->vent : chain->unit[source].rear_feed;
}

static void lay(struct chain_run *r)
{
    const struct bl_chain *chain = r->chain;
    size_t couplings = 0;
    bool open = false;
    for (size_t u = 0; u < chain->units; u++) {
        const struct bl_chain_unit *unit = &chain->unit[u];
        if (!open) {
            const bool own = u == 0 || (u == 1 && chain->own_line);
            open_stretch(r, own ? -1 : (long)u - 1);
            couplings = 0;
            open = true;
        }
        struct stretch *now = &r->stretch[r->stretches - 1];
        if (now->length_m == 0 ||
            (unit->bore_mm < now->bore_mm) == chain->narrow) {
            now->bore_mm = unit->bore_mm;
        }
        now->length_m += unit->line_m;
        now->end_cm3 = unit->end_cm3 + (chain->narrow ? now->end_cm3 : 0);
        r->brake[u] = (struct brake){.stretch = r->stretches - 1,
                                     .x_m = now->length_m,
                                     .reservoir_kpa = unit->reservoir_kpa};
        const bool alone = u == 0 && chain->own_line;
        couplings += !alone;
        if (alone || unit->relays || u + 1 == chain->units) {
            now->feed.c =
                bl_air_in_series(now->feed.c, chain->coupling_c, couplings);
            now->vent.c =
                bl_air_in_series(now->vent.c, chain->coupling_c, couplings);
            open = false;
        }
    }
}

static enum bl_status make(struct chain_run *r, struct bl_error *error)
{
    const size_t units = r->chain->units;
    r->stretch = bl_alloc(units + 1, sizeof(*r->stretch));
    r->brake = bl_alloc(units, sizeof(*r->brake));
    if (r->stretch == NULL || r->brake == NULL) {
        return bl_fail_memory(error);
    }
    lay(r);
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < r->stretches; i++) {
        const struct bl_air_line_shape shape = {
            r->stretch[i].length_m, r->stretch[i].bore_mm,
            r->stretch[i].end_cm3, r->chain->wave_m_s};
        status = bl_air_line_create(&r->stretch[i].line, &shape,
                                    BL_CHAIN_STEP_S, error);
    }
    return status;
}

static void unmake(struct chain_run *r)
{
    for (size_t i = 0; r->stretch != NULL && i < r->stretches; i++) {
        bl_air_line_destroy(r->stretch[i].line);
    }
    bl_free(r->stretch);
    bl_free(r->brake);
}

/* A trace some time before step n, between steps by a straight line. */
static double before(const double *trace, size_t n, double earlier_s)
{
    const double at = (double)n - earlier_s / BL_CHAIN_STEP_S;
    if (!(at > 0)) {
        return trace[0];
    }
    const size_t i = (size_t)at;
    return i >= n ? trace[n]
                  : trace[i] + (at - (double)i) * (trace[i + 1] - trace[i]);
}

static double ahead_of(struct chain_run *r, struct stretch *stretch, size_t n)
{
    if (stretch->source < 0) {
        return before(r->drive, n, r->chain->source_delay_s);
    }
    const size_t u = (size_t)stretch->source;
    return bl_relay_target(
        &r->chain->unit[u].rear, &stretch->rear,
        before(&r->control[u * r->steps], n - 1, r->chain->unit[u].delay_s));
}

static void step_lines(struct chain_run *r, size_t n)
{
    for (size_t i = 0; i < r->stretches; i++) {
        struct stretch *stretch = &r->stretch[i];
        const double kpa = ahead_of(r, stretch, n);
        if (kpa != stretch->last_kpa ||
            !bl_air_line_quiet(stretch->line, kpa, LINE_QUIET_KPA)) {
            bl_air_line_step(stretch->line, kpa, &stretch->feed,
                             &stretch->vent);
        }
        stretch->last_kpa = kpa;
    }
    for (size_t u = 0; u < r->chain->units; u++) {
        r->control[u * r->steps + n] = bl_air_line_pressure(
            r->stretch[r->brake[u].stretch].line, r->brake[u].x_m);
    }
}

static void step_brake(struct chain_run *r, size_t u, size_t n)
{
    const struct bl_chain_unit *unit = &r->chain->unit[u];
    struct brake *brake = &r->brake[u];
    struct bl_relay relay = unit->relay;
    relay.most_kpa = brake->reservoir_kpa;
    const double target = bl_relay_target(
        &relay, &brake->relay,
        before(&r->control[u * r->steps], n, unit->delay_s + unit->hose_s));
    const double was = brake->kpa;
    brake->travel = bl_valve_travel(brake->travel, target - was,
                                    BL_CHAIN_STEP_S / unit->travel_s);
    const struct bl_chamber_ways ways = {unit->feed, unit->vent,
                                         brake->reservoir_kpa, OPEN_BAND_KPA,
                                         fabs(brake->travel)};
    brake->kpa =
        bl_chamber_step(&unit->chamber, &ways, was, target, BL_CHAIN_STEP_S);
    if (unit->reservoir_cm3 > 0 && brake->kpa > was) {
        brake->reservoir_kpa -= (brake->kpa - was) *
                                bl_chamber_volume(&unit->chamber, brake->kpa) /
                                unit->reservoir_cm3;
    }
    r->output[u * r->steps + n] = brake->kpa;
}

static bool all_below(const struct chain_run *r, double kpa)
{
    for (size_t u = 0; u < r->chain->units; u++) {
        if (!(r->brake[u].kpa < kpa)) {
            return false;
        }
    }
    return true;
}

enum bl_status bl_chain_run(const struct bl_chain *chain, const double *drive,
                            size_t steps, size_t release, double quiet_kpa,
                            double *control, double *output, size_t *done,
                            struct bl_error *error)
{
    struct chain_run r = {chain, drive, steps, control, output, NULL, 0, NULL};
    *done = 0;
    enum bl_status status = make(&r, error);
    if (status != BL_OK) {
        unmake(&r);
        return status;
    }
    for (size_t u = 0; u < chain->units; u++) {
        control[u * steps] = 0;
        output[u * steps] = 0;
    }
    size_t n = 1;
    for (; n < steps && !(n > release && all_below(&r, quiet_kpa)); n++) {
        step_lines(&r, n);
        for (size_t u = 0; u < chain->units; u++) {
            step_brake(&r, u, n);
        }
    }
    *done = n;
    unmake(&r);
    return BL_OK;
}
