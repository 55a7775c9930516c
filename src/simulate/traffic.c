/* SPDX-License-Identifier: MIT */
/*
 * The frames of one run. First the electronic demand, link by link: what a
 * unit received is what it re-issues, at its own beat. Then all other
 * messages, filled from what happens in the unit that sends them. Which
 * message carries what is the scenario's business, not this file's.
 */
#include "simulate/world.h"

#include <math.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#define FRAME_S 0.0011   /* 8 bytes, 29 bits at 125 kbit/s, usual stuffing */
#define TIMEOUT_S 0.25   /* a unit gives up a demand that stops */
#define LEAST_SUPPLY 450 /* kPa, for supply_sufficient */
#define LEAST_VOLTS 20

static uint16_t bus_index(struct sim_world *world, const char *name)
{
    for (size_t i = 0; i < world->buses; i++) {
        if (strcmp(world->bus[i], name) == 0) {
            return (uint16_t)i;
        }
    }
    world->bus[world->buses] = name;
    return (uint16_t)world->buses++;
}

static uint8_t address_of(const struct sim_world *world, size_t unit)
{
    const struct bl_scenario *s = world->scenario;
    for (size_t u = 0; u < s->units; u++) {
        const struct sim_fault *fault =
            bl_sim_fault(s, world->run, u, FAULT_WRONG_ORDER);
        if (fault != NULL && unit == u) {
            return (uint8_t)s->unit[fault->other].address;
        }
        if (fault != NULL && unit == (size_t)fault->other) {
            return (uint8_t)s->unit[u].address;
        }
    }
    return (uint8_t)s->unit[unit].address;
}

/* Does the unit send at all at this time? */
static bool speaks(const struct sim_world *world, size_t unit, double time_s)
{
    const struct bl_scenario *s = world->scenario;
    const struct sim_fault *out =
        bl_sim_fault(s, world->run, unit, FAULT_UNIT_DROPOUT);
    if (bl_sim_fault(s, world->run, unit, FAULT_UNIT_SILENT) != NULL) {
        return false;
    }
    return out == NULL || time_s < out->at_s || time_s > out->at_s + out->for_s;
}

static enum bl_status add_frame(struct sim_world *world,
                                const struct bl_frame *frame, double time_s,
                                double demand_kpa, struct bl_error *error)
{
    if (world->frames >= BL_LIMIT_SIMULATED_FRAMES) {
        return bl_fail(error, BL_LIMIT, world->scenario->source,
                       "run %s has more than %u frames",
                       world->scenario->run[world->run].name,
                       BL_LIMIT_SIMULATED_FRAMES);
    }
    if (!bl_grow(&world->frame, &world->frame_capacity, world->frames + 1,
                 sizeof(*world->frame), BL_LIMIT_SIMULATED_FRAMES)) {
        return bl_fail_memory(error);
    }
    struct sim_trace_frame *at = &world->frame[world->frames];
    at->frame = *frame;
    at->frame.time_ns = (int64_t)(time_s * 1e9);
    at->demand_kpa = demand_kpa;
    at->order = world->frames++;
    return BL_OK;
}

/* Nearest value that the signal can say. */
static enum bl_status put(const struct bl_signal *signal, double value,
                          struct bl_frame *frame, struct bl_error *error)
{
    value = value < signal->low ? signal->low : value;
    value = value > signal->high ? signal->high : value;
    if (bl_signal_encode(signal, value, frame->data, 8) != BL_OK) {
        return bl_fail(error, BL_TRIAL, NULL,
                       "the value %g does not fit into %s.%s", value,
                       signal->message->name, signal->name);
    }
    return BL_OK;
}

static double source_value(const struct sim_world *world, size_t u,
                           const struct sim_set *set, double t)
{
    const struct bl_scenario *s = world->scenario;
    const struct sim_unit_traces *unit = &world->unit[u];
    switch (set->source) {
    case SOURCE_PEDAL:
        return 100 * bl_sim_pedal_kpa(world, t) / s->full_pedal_kpa;
    case SOURCE_PEDAL_SWITCH:
        return bl_sim_pedal_touched(world, t);
    case SOURCE_DEMAND:
        return u == 0 ? bl_sim_pedal_kpa(world, t)
                      : bl_sim_trace(world, unit->demand, t);
    case SOURCE_OUTPUT:
        return bl_sim_trace(world, unit->output, t);
    case SOURCE_BRAKING:
        return bl_sim_trace(world, unit->output, t) > s->brakes_at_kpa;
    case SOURCE_SUPPLY:
        return bl_sim_trace(world, unit->reservoir, t);
    case SOURCE_SUPPLY_OK:
        return bl_sim_trace(world, unit->reservoir, t) > LEAST_SUPPLY;
    case SOURCE_VOLTAGE_OK:
        return bl_sim_unit_voltage(world, u, t) > LEAST_VOLTS;
    case SOURCE_CONTROL_LINE:
        return !s->run[world->run].blocked;
    case SOURCE_NUMBER:
    case SOURCES:
        break;
    }
    return set->number;
}

static enum bl_status fill(const struct sim_world *world, size_t u,
                           const struct sim_message *m, double t,
                           struct bl_frame *frame, struct bl_error *error)
{
    memset(frame->data, 0xFF, 8); /* not available */
    frame->length = 8;
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < m->sets; i++) {
        const double value = source_value(world, u, &m->set[i], t);
        if (!isnan(value)) {
            status = put(m->set[i].signal, value, frame, error);
        }
    }
    return status;
}

static void set_id(struct bl_frame *frame, const struct sim_message *m,
                   uint8_t source, uint8_t destination)
{
    if (m->message->single_id) {
        frame->id = m->message->id;
        frame->flags = m->message->id > 0x7FF ? BL_FRAME_EXTENDED : 0;
        return;
    }
    frame->id =
        bl_id_join((uint8_t)m->priority, m->message->pgn, source, destination);
    frame->flags = BL_FRAME_EXTENDED;
}

static const struct bl_signal *demand_signal(const struct sim_message *m)
{
    for (size_t i = 0; i < m->message->signals; i++) {
        if (m->message->signal[i].role == BL_ROLE_SERVICE_DEMAND) {
            return &m->message->signal[i];
        }
    }
    return NULL;
}

/* One link of the demand, from unit to - 1 to unit `to`. */
struct link {
    struct sim_world *world;
    const struct sim_message *m;
    const struct bl_signal *signal;
    size_t to;
    uint16_t bus;
    struct bl_random random;
};

/* What the sender knows when it sends; NaN: nothing. */
static double known_demand(const struct link *link, double t)
{
    const struct sim_world *world = link->world;
    const struct bl_scenario *s = world->scenario;
    const size_t from = link->to - 1;
    if (from == 0) {
        return bl_sim_pedal_kpa(world, t - link->m->delay_s);
    }
    const double late =
        bl_sim_amount(s, world->run, from, FAULT_DEMAND_LATE, 0);
    double at = (t - s->unit[from].forward_s - late) / s->step_s;
    at = at > 0 ? at : 0;
    size_t index = (size_t)at; /* held, not interpolated */
    index = index < world->count ? index : world->count - 1;
    return world->unit[from].demand[index] *
           bl_sim_amount(s, world->run, from, FAULT_DEMAND_ALTERED, 1);
}

static bool passes(struct link *link, double t)
{
    const struct sim_world *world = link->world;
    const struct bl_scenario *s = world->scenario;
    const size_t run = world->run;
    /* Drawn always, so that a fault does not shift the other draws. */
    const double draw = bl_random_uniform(&link->random);
    return bl_sim_fault(s, run, link->to, FAULT_DEMAND_MISSING) == NULL &&
           speaks(world, link->to - 1, t) &&
           t >= bl_sim_amount(s, run, link->to, FAULT_LATE_WAKE_UP, -1) &&
           draw >= bl_sim_amount(s, run, link->to, FAULT_FRAMES_LOST, -1);
}

/* Put the demand into the frame; *heard is what the receiver makes of it. */
static enum bl_status put_demand(struct link *link, double t,
                                 struct bl_frame *frame, double *heard,
                                 struct bl_error *error)
{
    const struct bl_signal *signal = link->signal;
    const struct sim_fault *wrong = bl_sim_fault(
        link->world->scenario, link->world->run, link->to, FAULT_ERROR_VALUES);
    const double kpa = known_demand(link, t);
    *heard = (double)NAN;
    if (wrong != NULL && t >= wrong->at_s && t < wrong->at_s + wrong->for_s) {
        const uint64_t raw = signal->bits >= 8
                                 ? (uint64_t)0xFE << (signal->bits - 8)
                                 : ((uint64_t)1 << signal->bits) - 2;
        return bl_signal_encode_raw(signal, raw, frame->data, 8);
    }
    if (isnan(kpa)) {
        return BL_OK; /* stays not available */
    }
    enum bl_status status = put(signal, kpa, frame, error);
    if (status == BL_OK) {
        *heard = bl_signal_decode(signal, frame->data, 8).value;
    }
    return status;
}

/* The receiver holds each value until the next frame or the time-out. */
static void hear(struct link *link, double from_s, double *filled,
                 double *value, double now)
{
    struct sim_world *world = link->world;
    double *trace = world->unit[link->to].demand;
    const double step = world->scenario->step_s;
    size_t i = (size_t)(*filled / step) + 1;
    for (; i < world->count && (double)i * step <= from_s; i++) {
        trace[i] =
            (double)i * step - *filled > TIMEOUT_S ? (double)NAN : *value;
    }
    *filled = from_s;
    *value = now;
}

static enum bl_status run_link(struct link *link, struct bl_error *error)
{
    struct sim_world *world = link->world;
    const struct sim_message *m = link->m;
    double filled = 0;
    double value = (double)NAN;
    enum bl_status status = BL_OK;
    world->unit[link->to].demand[0] = value;
    const double phase = m->period_s * bl_random_uniform(&link->random);
    for (double n = 0; status == BL_OK; n++) {
        const double t = phase + n * m->period_s +
                         m->jitter_s * bl_random_uniform(&link->random);
        struct bl_frame frame = {.bus = link->bus, .kind = BL_FRAME_CLASSIC};
        double heard;
        if (t >= world->duration_s) {
            break;
        }
        if (!passes(link, t)) {
            continue;
        }
        status = fill(world, link->to - 1, m, t, &frame, error);
        if (status == BL_OK) {
            status = put_demand(link, t, &frame, &heard, error);
        }
        if (status == BL_OK) {
            set_id(&frame, m, address_of(world, link->to - 1),
                   address_of(world, link->to));
            status = add_frame(world, &frame, t + FRAME_S, heard, error);
            hear(link, t + FRAME_S, &filled, &value, heard);
        }
    }
    hear(link, world->duration_s + 1, &filled, &value, value);
    return status;
}

static bool linked(const struct sim_world *world)
{
    const struct sim_run *run = &world->scenario->run[world->run];
    return run->power && run->data;
}

enum bl_status bl_sim_demand(struct sim_world *world, struct bl_error *error)
{
    const struct bl_scenario *s = world->scenario;
    enum bl_status status = BL_OK;
    if (s->unit[0].bus[0] != '\0') {
        bus_index(world, s->unit[0].bus);
    }
    for (size_t u = 1; u < s->units; u++) {
        bus_index(world, s->unit[u].bus);
    }
    if (s->demand.message == NULL || !linked(world)) {
        return BL_OK;
    }
    for (size_t u = 1; status == BL_OK && u < s->units; u++) {
        struct link link = {.world = world,
                            .m = &s->demand,
                            .signal = demand_signal(&s->demand),
                            .to = u,
                            .bus = bus_index(world, s->unit[u].bus)};
        bl_sim_random(&link.random, s, world->run, STREAM_FRAMES, u);
        world->unit[u].electronic = true;
        status = run_link(&link, error);
    }
    /* The towing unit knows its own pedal; it has no link in front. */
    return status;
}

/* Bus and partner of a message that a unit sends; false: it has none. */
static bool place(struct sim_world *world, const struct sim_message *m,
                  size_t u, uint16_t *bus, uint8_t *destination)
{
    const struct bl_scenario *s = world->scenario;
    if (m->place == PLACE_VEHICLE) {
        *destination = BL_ADDRESS_GLOBAL;
        *bus = bus_index(world, s->unit[0].bus);
        return true;
    }
    if (!linked(world) || (m->place == PLACE_FRONT && u == 0) ||
        (m->place == PLACE_REAR && u + 1 >= s->units)) {
        return false;
    }
    const bool front = m->place == PLACE_FRONT;
    *bus = bus_index(world, s->unit[front ? u : u + 1].bus);
    *destination = address_of(world, front ? u - 1 : u + 1);
    return true;
}

static enum bl_status send(struct sim_world *world, size_t index, size_t u,
                           struct bl_error *error)
{
    const struct sim_message *m = &world->scenario->message[index];
    struct bl_random random;
    uint16_t bus;
    uint8_t destination;
    if (!place(world, m, u, &bus, &destination)) {
        return BL_OK;
    }
    bl_sim_random(&random, world->scenario, world->run, STREAM_FRAMES,
                  1000 + 100 * index + u);
    const double phase = m->period_s * bl_random_uniform(&random);
    const double wake =
        bl_sim_amount(world->scenario, world->run, u, FAULT_LATE_WAKE_UP, -1);
    enum bl_status status = BL_OK;
    for (double n = 0; status == BL_OK; n++) {
        const double t =
            phase + n * m->period_s + m->jitter_s * bl_random_uniform(&random);
        struct bl_frame frame = {.bus = bus, .kind = BL_FRAME_CLASSIC};
        if (t >= world->duration_s) {
            break;
        }
        if (!speaks(world, u, t) || t < wake) {
            continue;
        }
        status = fill(world, u, m, t, &frame, error);
        set_id(&frame, m,
               m->address >= 0 ? (uint8_t)m->address : address_of(world, u),
               destination);
        if (status == BL_OK) {
            status = add_frame(world, &frame, t + FRAME_S, (double)NAN, error);
        }
    }
    return status;
}

enum bl_status bl_sim_messages(struct sim_world *world, struct bl_error *error)
{
    const struct bl_scenario *s = world->scenario;
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < s->messages; i++) {
        for (size_t u = 0; status == BL_OK && u < s->units; u++) {
            if (bl_sim_units_hold(s->message[i].units, u)) {
                status = send(world, i, u, error);
            }
        }
    }
    return status;
}
