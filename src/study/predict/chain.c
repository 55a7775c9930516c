/* SPDX-License-Identifier: MIT */
/*
 * From the commanded valve through lines and relaying units to every brake:
 * the models of the physics room, put one behind the other. What simulate does
 * not use of them is not here either: the two share the room, and are compared
 * with outside figures each by its own tests.
 */
#include "study/predict/chain.h"

#include <math.h>

#include "base/alloc.h"
#include "physics/line.h"

#define OPEN_BAND_KPA 15.0
#define LINE_QUIET_KPA 0.3 /* nothing of it passes a valve's hysteresis */
/* What a command must have moved by to wake a line at rest: it is recorded with
   noise. */
#define WAKES_KPA 1.0
enum { LOOK_EVERY = 16 }; /* steps: whether a line is at rest */

/* A line from one valve to the unit that relays next, or to the last. */
struct stretch {
    struct bl_air_line *line;
    struct bl_air_line_shape shape; /* its parts lie in the run's arrays */
    long source; /* unit that feeds it; -1: the commanded valve */
    double last_kpa, travel;
    bool asleep; /* at rest, and nothing wakes it */
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
    struct bl_air_piece *piece;     /* one per unit */
    struct bl_air_fitting *fitting; /* two per unit: coupling, branches */
};

static struct stretch *open_stretch(struct chain_run *r, size_t u)
{
    const struct bl_chain *chain = r->chain;
    const bool own = u == 0 || (u == 1 && chain->own_line);
    struct stretch *now = &r->stretch[r->stretches++];
    *now = (struct stretch){.source = own ? -1 : (long)u - 1};
    now->feed = own ? chain->feed : chain->unit[u - 1].rear_feed;
    now->vent = own ? chain->vent : chain->unit[u - 1].rear_feed;
    now->shape.speed_m_s = chain->wave_m_s;
    now->shape.piece = &r->piece[u];
    now->shape.fitting = &r->fitting[2 * u];
    return now;
}

/* A unit's part of its line: its pipe with the coupling in the middle, and its
   branches at its valve. */
static void lay_unit(struct chain_run *r, struct stretch *now, size_t u)
{
    const struct bl_chain_unit *unit = &r->chain->unit[u];
    struct bl_air_line_shape *shape = &now->shape;
    const double from_m = shape->length_m;
    shape->length_m += unit->pipe_m;
    r->piece[u] =
        (struct bl_air_piece){shape->length_m, unit->bore_mm, unit->friction};
    r->fitting[2 * u] =
        (struct bl_air_fitting){from_m + unit->pipe_m / 2, unit->coupling_c, 0};
    r->fitting[2 * u + 1] =
        (struct bl_air_fitting){shape->length_m, 0, unit->branch_cm3};
    shape->pieces++;
    shape->fittings += 2;
    r->brake[u] = (struct brake){.stretch = r->stretches - 1,
                                 .x_m = shape->length_m,
                                 .reservoir_kpa = unit->reservoir_kpa};
}
static void lay(struct chain_run *r)
{
    const struct bl_chain *chain = r->chain;
    struct stretch *now = NULL;
    for (size_t u = 0; u < chain->units; u++) {
        now = now == NULL ? open_stretch(r, u) : now;
        lay_unit(r, now, u);
        if ((u == 0 && chain->own_line) || chain->unit[u].relays) {
            now = NULL;
        }
    }
}

static enum bl_status make(struct chain_run *r, struct bl_error *error)
{
    const size_t units = r->chain->units;
    r->stretch = bl_alloc(units + 1, sizeof(*r->stretch));
    r->brake = bl_alloc(units, sizeof(*r->brake));
    r->piece = bl_alloc(units, sizeof(*r->piece));
    r->fitting = bl_alloc(2 * units, sizeof(*r->fitting));
    if (r->stretch == NULL || r->brake == NULL || r->piece == NULL ||
        r->fitting == NULL) {
        return bl_fail_memory(error);
    }
    lay(r);
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < r->stretches; i++) {
        status = bl_air_line_create(&r->stretch[i].line, &r->stretch[i].shape,
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
    bl_free(r->piece);
    bl_free(r->fitting);
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
    const struct bl_chain_unit *unit = &r->chain->unit[u];
    return bl_relay_target(
        &unit->rear, &stretch->rear,
        before(&r->control[u * r->steps], n - 1, unit->rear_delay_s));
}

/* The commanded valve is open as its pressure says; one that re-issues has to
   travel first, and opens as far as its piston is pushed. */
static double opening(const struct chain_run *r, struct stretch *stretch,
                      double kpa)
{
    if (stretch->source < 0) {
        return 1;
    }
    const struct bl_chain_unit *unit = &r->chain->unit[stretch->source];
    const double more = kpa - bl_air_line_pressure(stretch->line, 0);
    stretch->travel = bl_valve_follow(stretch->travel, more, OPEN_BAND_KPA,
                                      BL_CHAIN_STEP_S / unit->rear_travel_s);
    /* Nothing passes while it still comes back from the other side. */
    return stretch->travel * more > 0 ? fabs(stretch->travel) : 0;
}

static void step_lines(struct chain_run *r, size_t n)
{
    for (size_t i = 0; i < r->stretches; i++) {
        struct stretch *stretch = &r->stretch[i];
        const double kpa = ahead_of(r, stretch, n);
        if (fabs(kpa - stretch->last_kpa) > WAKES_KPA) {
            stretch->last_kpa = kpa;
            stretch->asleep = false;
        }
        if (!stretch->asleep) {
            const double open = opening(r, stretch, kpa);
            struct bl_restriction feed = stretch->feed;
            struct bl_restriction vent = stretch->vent;
            feed.c *= open;
            vent.c *= open;
            bl_air_line_step(stretch->line, kpa, &feed, &vent);
            stretch->asleep =
                n % LOOK_EVERY == 0 &&
                bl_air_line_quiet(stretch->line, kpa, LINE_QUIET_KPA);
            stretch->last_kpa = stretch->asleep ? kpa : stretch->last_kpa;
        }
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

enum bl_status bl_chain_run(const struct bl_chain *chain,
                            const struct bl_chain_drive *drive, double *control,
                            double *output, size_t *done,
                            struct bl_error *error)
{
    const size_t steps = drive->steps;
    struct chain_run r = {.chain = chain,
                          .drive = drive->kpa,
                          .steps = steps,
                          .control = control,
                          .output = output};
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
    for (;
         n < steps && !(n > drive->release && all_below(&r, drive->quiet_kpa));
         n++) {
        step_lines(&r, n);
        for (size_t u = 0; u < chain->units; u++) {
            step_brake(&r, u, n);
        }
    }
    *done = n;
    unmake(&r);
    return BL_OK;
}
