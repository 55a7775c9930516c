/* SPDX-License-Identifier: MIT */
/*
 * The air of one run: control lines from the treadle valve or a relaying unit
 * to the next one, and every unit's valve and chambers. One step for all; a
 * line at rest is not stepped.
 */
#include "simulate/world.h"

#include <math.h>

#include "base/alloc.h"
#include "physics/line.h"

#define LINE_B 0.3
#define OPEN_BAND_KPA 15.0
#define RECHARGE_KPA_S 20.0
#define QUIET_KPA 0.1

/* A line from one source to the unit that relays next, or to the last. */
struct stretch {
    struct bl_air_line *line;
    size_t source; /* 0: the treadle valve; else the unit that feeds it */
    struct bl_air_line_shape shape; /* its parts lie in the train's arrays */
    struct bl_restriction feed, vent;
    double last_target, travel;
};

struct valve_state {
    struct bl_relay_state service, rear;
    double kpa;
    double travel; /* -1 exhaust open, 0 lapped, 1 inlet open */
};

struct train {
    struct sim_world *world;
    struct stretch *stretch;
    size_t stretches;
    size_t *on;                     /* stretch of each unit */
    double *x_m;                    /* its valve there */
    struct bl_air_piece *piece;     /* one per unit */
    struct bl_air_fitting *fitting; /* two per unit: coupling, branches */
    struct valve_state *state;
};

static double amount(const struct train *t, size_t unit, enum fault_code code,
                     double without)
{
    return bl_sim_amount(t->world->scenario, t->world->run, unit, code,
                         without);
}

/* Where a unit that hands the air on loses some of it, its coupling and the
   leak behind it set a pressure of their own, as a valve would. */
static bool loses(const struct train *t, size_t u)
{
    return bl_sim_fault(t->world->scenario, t->world->run, u,
                        FAULT_CONTROL_LOSS) != NULL;
}

/* A unit's part of its line: its pipe with the coupling in the middle, and its
   branches at its valve. */
static void lay_unit(struct train *t, struct stretch *now, size_t u)
{
    const struct sim_unit *unit = &t->world->scenario->unit[u];
    struct bl_air_line_shape *shape = &now->shape;
    if (shape->pieces == 0) {
        shape->piece = &t->piece[u];
        shape->fitting = &t->fitting[2 * u];
        shape->speed_m_s = bl_air_speed(SIM_EXPONENT, BL_AIR_REFERENCE_KELVIN);
    }
    const double middle_m = shape->length_m + unit->pipe_m / 2;
    shape->length_m += unit->pipe_m;
    t->piece[u] = (struct bl_air_piece){
        shape->length_m, unit->bore_mm * amount(t, u, FAULT_CONTROL_LATE, 1),
        unit->fittings};
    t->fitting[2 * u] = (struct bl_air_fitting){
        middle_m, unit->coupling_c * amount(t, u, FAULT_COUPLING, 1), 0};
    t->fitting[2 * u + 1] =
        (struct bl_air_fitting){shape->length_m, 0, unit->end_cm3};
    shape->pieces++;
    shape->fittings += 2;
    t->on[u] = t->stretches;
    t->x_m[u] = shape->length_m;
}

/* Lay the lines: units one by one; one that relays or leaks ends a stretch. */
static void lay(struct train *t)
{
    const struct bl_scenario *s = t->world->scenario;
    struct stretch *now = &t->stretch[0];
    now->feed = (struct bl_restriction){s->treadle_feed_c, LINE_B, 0};
    now->vent = (struct bl_restriction){s->treadle_vent_c, LINE_B, 0};
    now->source = 0;
    t->stretches = 0;
    for (size_t u = 1; u < s->units; u++) {
        lay_unit(t, now, u);
        if (s->unit[u].relays || loses(t, u) || u + 1 == s->units) {
            t->stretches++;
            now = &t->stretch[t->stretches];
            now->source = u;
            now->feed = (struct bl_restriction){s->unit[u].rear_c, LINE_B, 0};
            now->vent = now->feed;
        }
    }
}

static enum bl_status make(struct train *t, struct bl_error *error)
{
    const struct bl_scenario *s = t->world->scenario;
    t->stretch = bl_alloc(s->units + 1, sizeof(*t->stretch));
    t->on = bl_alloc(s->units, sizeof(*t->on));
    t->x_m = bl_alloc(s->units, sizeof(*t->x_m));
    t->piece = bl_alloc(s->units, sizeof(*t->piece));
    t->fitting = bl_alloc(2 * s->units, sizeof(*t->fitting));
    t->state = bl_alloc(s->units, sizeof(*t->state));
    if (t->stretch == NULL || t->on == NULL || t->x_m == NULL ||
        t->piece == NULL || t->fitting == NULL || t->state == NULL) {
        return bl_fail_memory(error);
    }
    lay(t);
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < t->stretches; i++) {
        status = bl_air_line_create(&t->stretch[i].line, &t->stretch[i].shape,
                                    s->step_s, error);
    }
    return status;
}

static void unmake(struct train *t)
{
    for (size_t i = 0; t->stretch != NULL && i < t->stretches; i++) {
        bl_air_line_destroy(t->stretch[i].line);
    }
    bl_free(t->stretch);
    bl_free(t->on);
    bl_free(t->x_m);
    bl_free(t->piece);
    bl_free(t->fitting);
    bl_free(t->state);
}

/* What stands ahead of a stretch's valve at step n. */
static double stretch_target(struct train *t, const struct stretch *stretch,
                             size_t n)
{
    const struct bl_scenario *s = t->world->scenario;
    if (stretch->source == 0) {
        return s->run[t->world->run].blocked ? 0 : t->world->treadle[n];
    }
    const size_t u = stretch->source;
    const double kept = amount(t, u, FAULT_CONTROL_LOSS, 1);
    if (!s->unit[u].relays) {
        return kept * bl_sim_trace(t->world, t->world->unit[u].control,
                                   ((double)n - 1) * s->step_s);
    }
    struct bl_relay relay = s->unit[u].rear;
    relay.gain *= kept;
    const double control =
        bl_sim_trace(t->world, t->world->unit[u].control,
                     (double)n * s->step_s - s->unit[u].relay_delay_s);
    return bl_relay_target(&relay, &t->state[u].rear, control);
}

/* The treadle valve is open as its pressure says; one that re-issues has to
   travel first, and opens as far as its piston is pushed. */
static double opening(const struct train *t, struct stretch *stretch,
                      double target)
{
    const struct bl_scenario *s = t->world->scenario;
    if (stretch->source == 0 || !s->unit[stretch->source].relays) {
        return 1;
    }
    const double more = target - bl_air_line_pressure(stretch->line, 0);
    stretch->travel =
        bl_valve_follow(stretch->travel, more, OPEN_BAND_KPA,
                        s->step_s / s->unit[stretch->source].travel_s);
    /* Nothing passes while it still comes back from the other side. */
    return stretch->travel * more > 0 ? fabs(stretch->travel) : 0;
}

static void step_lines(struct train *t, size_t n)
{
    for (size_t i = 0; i < t->stretches; i++) {
        struct stretch *stretch = &t->stretch[i];
        const double target = stretch_target(t, stretch, n);
        if (target != stretch->last_target ||
            !bl_air_line_quiet(stretch->line, target, QUIET_KPA)) {
            const double open = opening(t, stretch, target);
            struct bl_restriction feed = stretch->feed;
            struct bl_restriction vent = stretch->vent;
            feed.c *= open;
            vent.c *= open;
            bl_air_line_step(stretch->line, target, &feed, &vent);
        }
        stretch->last_target = target;
        if (stretch->source > 0) {
            t->world->unit[stretch->source].control_out[n] =
                bl_air_line_pressure(stretch->line, 0);
        }
    }
    for (size_t u = 1; u < t->world->scenario->units; u++) {
        t->world->unit[u].control[n] =
            bl_air_line_pressure(t->stretch[t->on[u]].line, t->x_m[u]);
    }
    t->world->unit[0].control[n] = t->world->treadle[n];
}

/* The input that the unit's valve works on, its own delays in. *by_demand: it
   is the electronic demand, which its electronics reach by their own sensor:
   what the valve keeps of an air line is made up for. */
static double valve_input(struct train *t, size_t u, double time_s,
                          bool *by_demand)
{
    *by_demand = false;
    const struct bl_scenario *s = t->world->scenario;
    const struct sim_unit_traces *trace = &t->world->unit[u];
    const double late = amount(t, u, FAULT_LATE_APPLY, 0);
    if (trace->electronic &&
        bl_sim_fault(s, t->world->run, u, FAULT_DEMAND_IGNORED) == NULL) {
        const double demand = bl_sim_trace(
            t->world, trace->demand, time_s - s->unit[u].modulator_s - late);
        if (!isnan(demand)) {
            *by_demand = true;
            return demand;
        }
    }
    return bl_sim_trace(t->world, trace->control,
                        time_s - s->unit[u].relay_delay_s - late);
}

static double service_target(struct train *t, size_t u, double time_s,
                             double reservoir)
{
    struct bl_relay relay = t->world->scenario->unit[u].relay;
    const double more = amount(t, u, FAULT_HIGH_THRESHOLD, 0);
    relay.crack_kpa += more;
    relay.differential_kpa += more;
    relay.gain *= amount(t, u, FAULT_LOW_HOLD, 1);
    relay.most_kpa = reservoir;
    bool by_demand;
    double input = valve_input(t, u, time_s, &by_demand);
    relay.differential_kpa = by_demand ? more : relay.differential_kpa;
    const double keep = amount(t, u, FAULT_LATE_RELEASE, 0);
    if (keep > 0) { /* only falling is late */
        const double before = valve_input(t, u, time_s - keep, &by_demand);
        input = before > input ? before : input;
    }
    return bl_relay_target(&relay, &t->state[u].service, input);
}

/* Air for the output comes from the reservoir; the compressor follows. */
static double reservoir_after(struct train *t, size_t u, size_t n,
                              double gained_kpa)
{
    const struct bl_scenario *s = t->world->scenario;
    const double before = t->world->unit[u].reservoir[n - 1];
    double now = before;
    if (gained_kpa > 0) {
        now -= gained_kpa *
               bl_chamber_volume(&s->unit[u].chamber, t->state[u].kpa) /
               s->unit[u].reservoir_cm3;
    }
    const struct sim_fault *sag =
        bl_sim_fault(s, t->world->run, u, FAULT_SUPPLY_SAG);
    if (sag == NULL) {
        now += RECHARGE_KPA_S * s->step_s;
    }
    for (size_t i = 0; sag != NULL && i < t->world->presses; i++) {
        const size_t at = (size_t)(t->world->press[i].hold_from_s / s->step_s);
        now -= at == n ? sag->amount : 0;
    }
    now = now < s->supply_kpa ? now : s->supply_kpa;
    return now > 0 ? now : 0;
}

static void step_unit(struct train *t, size_t u, size_t n)
{
    const struct bl_scenario *s = t->world->scenario;
    const struct sim_unit *unit = &s->unit[u];
    struct sim_unit_traces *trace = &t->world->unit[u];
    struct valve_state *state = &t->state[u];
    const double time_s = (double)n * s->step_s;
    const double reservoir = trace->reservoir[n - 1];
    double target = service_target(t, u, time_s, reservoir);
    if (bl_sim_fault(s, t->world->run, u, FAULT_NO_OUTPUT) != NULL) {
        target = 0;
    }
    const double rest = amount(t, u, FAULT_RESIDUAL_PRESSURE, 0);
    if (rest > target && state->kpa >= rest) {
        target = rest; /* the exhaust closes before the chamber is empty */
    }
    const double before = state->kpa;
    state->travel = bl_valve_travel(state->travel, target - before,
                                    s->step_s / unit->travel_s);
    const double hose = amount(t, u, FAULT_HOSE, 1); /* both ways */
    const struct bl_chamber_ways ways = {
        {unit->feed_c * hose * amount(t, u, FAULT_INLET, 1), LINE_B, 0},
        {unit->vent_c * hose * amount(t, u, FAULT_EXHAUST, 1), LINE_B, 0},
        reservoir,
        OPEN_BAND_KPA,
        fabs(state->travel)};
    const bool lapped = fabs(target - before) < 1e-9;
    state->kpa = lapped ? before
                        : bl_chamber_step(&unit->chamber, &ways, before, target,
                                          s->step_s);
    trace->reservoir[n] = reservoir_after(t, u, n, state->kpa - before);
    trace->output[n] = state->kpa;
}

/* A leak behind the valve: what is shown falls while held, and the valve is
   taken as too small to make it up. */
static void leak(struct train *t, size_t u)
{
    const double rate = amount(t, u, FAULT_HOLD_FALLS, 0);
    double *output = t->world->unit[u].output;
    double lost = 0;
    for (size_t n = 1; rate > 0 && n < t->world->count; n++) {
        const bool held = output[n] > 60;
        lost = held ? lost + rate * t->world->scenario->step_s : 0;
        output[n] = output[n] > lost ? output[n] - lost : 0;
    }
}

enum bl_status bl_sim_air(struct sim_world *world, struct bl_error *error)
{
    struct train t = {.world = world};
    const size_t units = world->scenario->units;
    enum bl_status status = make(&t, error);
    if (status != BL_OK) {
        unmake(&t);
        return status;
    }
    for (size_t u = 0; u < units; u++) {
        world->unit[u].reservoir[0] = world->scenario->supply_kpa;
    }
    for (size_t n = 1; n < world->count; n++) {
        step_lines(&t, n);
        for (size_t u = 0; u < units; u++) {
            if (world->scenario->unit[u].brakes) {
                step_unit(&t, u, n);
            } else {
                world->unit[u].reservoir[n] = world->unit[u].reservoir[n - 1];
            }
        }
    }
    for (size_t u = 0; u < units; u++) {
        leak(&t, u);
    }
    unmake(&t);
    return BL_OK;
}
