/* SPDX-License-Identifier: MIT */
#include "lag/track.h"
#include "lag/rules.h"

#include "signal/walk.h"

#include <math.h>
#include <string.h>

static const double root_12 = 3.4641016151377544;

int64_t bl_track_raw(const struct bl_track *track, int64_t run_ns)
{
    return bl_clock_unmap(track->tie, run_ns + track->delay_ns);
}

int64_t bl_track_run(const struct bl_track *track, int64_t raw_ns)
{
    return bl_clock_map(track->tie, raw_ns) - track->delay_ns;
}

static void common(struct bl_track *track, const struct bl_run_data *data,
                   const struct bl_run_clocks *clocks, size_t recording)
{
    track->present = true;
    track->recording = recording;
    track->tie = &clocks->tie[recording];
    track->u_stamp_s =
        (double)data->recording[recording].resolution_ns * 1e-9 / root_12;
}

static void from_channel(struct bl_track *track, const struct bl_trial *trial,
                         const struct bl_run_data *data,
                         const struct bl_run_clocks *clocks, long index)
{
    const struct bl_channel_series *series = bl_run_channel(data, index);
    if (series == NULL || series->samples.count == 0) {
        track->absent = BL_REASON_NO_DATA;
        return;
    }
    const struct bl_trial_channel *channel = &trial->channel[index];
    common(track, data, clocks, series->recording);
    track->samples = &series->samples;
    track->channel = channel;
    track->quantity = channel->quantity;
    track->is_state = channel->quantity == BL_QUANTITY_SWITCH;
    track->delay_ns =
        isnan(channel->delay_s) ? 0 : (int64_t)llround(channel->delay_s * 1e9);
    track->u_delay_s = channel->u_delay_s;
    track->at_range_end = series->at_range_end;
    const struct bl_samples *s = track->samples;
    if (s->regular) {
        track->u_phase_s = track->u_stamp_s;
        track->u_stamp_s = 0;
    }
    track->first_ns = bl_track_run(track, s->time_ns[0]);
    track->last_ns = bl_track_run(track, s->time_ns[s->count - 1]);
}

static enum bl_quantity quantity_of(const struct bl_signal *signal)
{
    const struct bl_measurement_unit *unit =
        bl_measurement_unit_find(signal->unit);
    return unit == NULL ? BL_QUANTITY_NONE : unit->quantity;
}

void bl_track_series(struct bl_track *track, const struct bl_run_data *data,
                     const struct bl_run_clocks *clocks,
                     const struct bl_bus_series *series)
{
    *track = (struct bl_track){.u_delay_s = NAN};
    if (series->steps.count == 0) {
        track->absent = BL_REASON_NO_DATA;
        return;
    }
    common(track, data, clocks, series->recording);
    track->steps = &series->steps;
    track->signal = series->signal;
    track->quantity = quantity_of(series->signal);
    track->is_state = series->signal->kind == BL_SIGNAL_STATE;
    track->first_ns = bl_track_run(track, series->steps.segment[0].first_ns);
    track->last_ns = bl_track_run(
        track, series->steps.segment[series->steps.count - 1].last_ns);
}

static bool fits(const struct bl_bus_series *series,
                 const struct bl_signal_ref *ref)
{
    return series->signal == ref->signal &&
           (ref->address < 0 || series->source == ref->address) &&
           (ref->bus[0] == '\0' || series->bus[0] == '\0' ||
            strcmp(series->bus, ref->bus) == 0);
}

static void from_signal(struct bl_track *track, const struct bl_run_data *data,
                        const struct bl_run_clocks *clocks,
                        const struct bl_signal_ref *ref)
{
    track->absent = BL_REASON_NO_DATA;
    for (size_t i = 0; i < data->series_count; i++) {
        if (fits(&data->series[i], ref)) {
            bl_track_series(track, data, clocks, &data->series[i]);
            return;
        }
    }
}

void bl_track_find(struct bl_track *track, const struct bl_trial *trial,
                   const struct bl_run_data *data,
                   const struct bl_run_clocks *clocks,
                   const struct bl_trial_input *input)
{
    *track =
        (struct bl_track){.absent = BL_REASON_NO_CHANNEL, .u_delay_s = NAN};
    if (input->kind == BL_INPUT_CHANNEL) {
        from_channel(track, trial, data, clocks, input->channel);
    } else if (input->kind == BL_INPUT_SIGNAL) {
        from_signal(track, data, clocks, &input->signal);
    }
}

static struct bl_passage from_crossing(const struct bl_track *track,
                                       const struct bl_crossing *c)
{
    return (struct bl_passage){
        .found = c->found,
        .time_ns = c->found ? bl_track_run(track, c->time_ns) : 0,
        .seen_ns = c->found ? bl_track_run(track, c->seen_ns) : 0,
        .slope = c->slope,
        .u_noise_s = c->u_noise_s,
        .u_sampling_s = c->u_sampling_s,
        .u_resolution_s = c->u_resolution_s,
        .flags = c->flags};
}

static struct bl_passage switch_passage(const struct bl_track *track,
                                        enum bl_way way, int64_t from,
                                        int64_t to)
{
    enum { STEADY_NS = 50000000 }; /* chatter comes in bursts under 50 ms */
    struct bl_edge edge =
        bl_switch_edge(track->samples, from, to,
                       way == BL_UPWARDS || way == BL_LAST_UPWARDS, STEADY_NS);
    if (way == BL_LAST_DOWNWARDS) {
        uint64_t chatter = 0;
        struct bl_edge next = edge;
        struct bl_walk walk = {from, to};
        while (next.found) {
            edge = next;
            chatter += next.chatter;
            next.found = bl_walk_on(&walk, edge.seen_ns);
            if (next.found) {
                next = bl_switch_edge(track->samples, walk.at_ns, to, false,
                                      STEADY_NS);
            }
        }
        edge.chatter = chatter;
    }
    return (struct bl_passage){
        .found = edge.found,
        .time_ns = edge.found ? bl_track_run(track, edge.time_ns) : 0,
        .seen_ns = edge.found ? bl_track_run(track, edge.seen_ns) : 0,
        .slope = NAN,
        .u_sampling_s = edge.u_sampling_s,
        .flags = edge.flags,
        .chatter = edge.chatter};
}

static struct bl_passage steps_passage(const struct bl_track *track,
                                       enum bl_way way, int64_t from,
                                       int64_t to, double level,
                                       enum bl_held held)
{
    if (way == BL_UPWARDS || way == BL_LAST_UPWARDS) {
        const struct bl_crossing c =
            bl_steps_rising(track->steps, from, to, level, held);
        return from_crossing(track, &c);
    }
    struct bl_crossing c =
        bl_steps_falling(track->steps, from, to, level, held);
    struct bl_walk walk = {from, to};
    while (way == BL_LAST_DOWNWARDS && c.found &&
           bl_walk_on(&walk, c.seen_ns)) {
        const struct bl_crossing up =
            bl_steps_rising(track->steps, walk.at_ns, to, level, held);
        if (!up.found || !bl_walk_on(&walk, up.seen_ns)) {
            break;
        }
        const struct bl_crossing next =
            bl_steps_falling(track->steps, walk.at_ns, to, level, held);
        if (!next.found) {
            break;
        }
        c = next;
    }
    return from_crossing(track, &c);
}

struct bl_passage bl_track_passage(const struct bl_track *track,
                                   enum bl_way way, int64_t from_ns,
                                   int64_t to_ns,
                                   const struct bl_level_passed *at,
                                   enum bl_held held)
{
    const int64_t from = bl_track_raw(track, from_ns);
    const int64_t to = bl_track_raw(track, to_ns);
    if (track->steps != NULL) {
        return steps_passage(track, way, from, to, at->level, held);
    }
    if (track->samples->is_switch) {
        return switch_passage(track, way, from, to);
    }
    struct bl_crossing c;
    if (way == BL_UPWARDS) {
        c = bl_rising(track->samples, from, to, at->level, at->noise, at->band);
    } else if (way == BL_LAST_UPWARDS) {
        c = bl_last_rising(track->samples, from, to, at->level, at->noise,
                           at->band);
    } else if (way == BL_DOWNWARDS) {
        c = bl_falling(track->samples, from, to, at->level, at->noise,
                       at->band);
    } else {
        c = bl_last_falling(track->samples, from, to, at->level, at->noise,
                            at->band);
    }
    return from_crossing(track, &c);
}

/* A stretch of held values that stay within one bit of each other. */
struct held_stretch {
    double value; /* the one that was in force longest */
    int64_t longest_ns, from_ns, to_ns;
    uint64_t count;
};

/* The stretch that ends with segment *i, which is in force until to_ns; *i is
   left at the first segment before it. Begins at from_ns at the earliest. */
static struct held_stretch stretch_before(const struct bl_steps *steps,
                                          size_t *i, bool *more,
                                          int64_t from_ns, int64_t to_ns)
{
    const struct bl_segment *last = &steps->segment[*i];
    struct held_stretch s = {.value = last->value, .to_ns = to_ns};
    int64_t until = to_ns;
    *more = false;
    for (size_t k = *i + 1; k-- > 0;) {
        const struct bl_segment *segment = &steps->segment[k];
        if (segment->part != last->part || segment->state != last->state ||
            fabs(segment->value - last->value) > steps->resolution) {
            *i = k;
            *more = segment->part == last->part && until > from_ns;
            break;
        }
        const int64_t since =
            segment->first_ns > from_ns ? segment->first_ns : from_ns;
        if (until - since > s.longest_ns) {
            s.longest_ns = until - since;
            s.value = segment->value;
        }
        s.from_ns = since;
        s.count += segment->count;
        until = segment->first_ns;
        if (until <= from_ns) {
            break;
        }
    }
    return s;
}

/* The last value that stood for least_ns before `to`. A touch of the pedal
   or the first frames of the rise itself are not rest. Where nothing stood so
   long, the value in force. */
static struct bl_rest held_rest(const struct bl_track *track, int64_t from,
                                int64_t to, int64_t least_ns)
{
    struct bl_rest rest = {.known = false};
    const struct bl_steps *steps = track->steps;
    const struct bl_segment *at = bl_steps_at(steps, to);
    if (at == NULL) {
        return rest;
    }
    size_t i = (size_t)(at - steps->segment);
    int64_t until = to;
    for (bool more = true; more;) {
        const enum bl_value_state state = steps->segment[i].state;
        const struct held_stretch s =
            stretch_before(steps, &i, &more, from, until);
        const bool lasted = s.to_ns - s.from_ns >= least_ns;
        const bool in_force = !rest.known && until == to;
        if (state == BL_VALUE_VALID && (lasted || in_force)) {
            rest = (struct bl_rest){.known = true,
                                    .value = s.value,
                                    .noise = steps->resolution / root_12,
                                    .u = steps->resolution / root_12,
                                    .from_ns = s.from_ns,
                                    .to_ns = s.to_ns,
                                    .count = (size_t)s.count};
        }
        if (state == BL_VALUE_VALID && lasted) {
            break;
        }
        until = s.from_ns;
    }
    return rest;
}

struct bl_rest bl_track_rest(const struct bl_track *track, int64_t from_ns,
                             int64_t to_ns)
{
    const int64_t to = bl_track_raw(track, to_ns);
    if (track->steps != NULL) {
        return held_rest(track, bl_track_raw(track, from_ns), to,
                         BL_REST_LEAST_NS);
    }
    const double tolerance =
        track->quantity == BL_QUANTITY_PRESSURE ? BL_REST_TOLERANCE_KPA : 0.0;
    return bl_rest_before(track->samples, bl_track_raw(track, from_ns), to,
                          BL_REST_LEAST_NS, BL_REST_MOST_NS, tolerance);
}

bool bl_level_stands_clear(double distance, double noise)
{
    /* A passage lasts three samples. Of white noise they all lie beyond 2.5
       standard deviations by chance in 0.0062^3 of the cases: once in two
       hours at 500 Hz. Own choice: at 2 it would be every three minutes. */
    const double clear_noises = 2.5;
    return fabs(distance) >= clear_noises * noise;
}

double bl_track_value(const struct bl_track *track, int64_t time_ns)
{
    const int64_t raw = bl_track_raw(track, time_ns);
    if (track->samples != NULL) {
        return bl_samples_value(track->samples, raw);
    }
    const struct bl_segment *segment = bl_steps_at(track->steps, raw);
    return segment == NULL ? NAN : segment->value;
}

static struct bl_extent steps_extent(const struct bl_steps *steps, int64_t from,
                                     int64_t to)
{
    struct bl_extent e = {.smallest = INFINITY, .largest = -INFINITY};
    for (size_t i = 0; i < steps->count; i++) {
        const struct bl_segment *s = &steps->segment[i];
        if (s->last_ns < from || s->first_ns >= to ||
            s->state != BL_VALUE_VALID) {
            continue;
        }
        e.known = true;
        e.count += (size_t)s->count;
        if (s->value < e.smallest) {
            e.smallest = s->value;
            e.smallest_ns = s->first_ns;
        }
        if (s->value > e.largest) {
            e.largest = s->value;
            e.largest_ns = s->first_ns;
        }
    }
    e.median = e.known ? (e.smallest + e.largest) / 2 : NAN;
    return e;
}

struct bl_extent bl_track_extent(const struct bl_track *track, int64_t from_ns,
                                 int64_t to_ns)
{
    const int64_t from = bl_track_raw(track, from_ns);
    const int64_t to = bl_track_raw(track, to_ns);
    struct bl_extent e = track->samples != NULL
                             ? bl_samples_extent(track->samples, from, to)
                             : steps_extent(track->steps, from, to);
    e.smallest_ns = bl_track_run(track, e.smallest_ns);
    e.largest_ns = bl_track_run(track, e.largest_ns);
    return e;
}

/* What is damaged so near to a passage may have moved it: the samples that a
   passage and its rest are read from (own choice). */
static const int64_t near_ns = 250000000;

unsigned bl_track_damage(const struct bl_track *track, int64_t a_ns,
                         int64_t b_ns)
{
    if (!track->present) {
        return 0;
    }
    const struct bl_damage *damage =
        track->samples != NULL ? track->samples->damage : track->steps->damage;
    const size_t damages = track->samples != NULL ? track->samples->damages
                                                  : track->steps->damages;
    const int64_t a = bl_track_raw(track, a_ns);
    const int64_t b = bl_track_raw(track, b_ns);
    return bl_damage_between(damage, damages, (a < b ? a : b) - near_ns,
                             (a < b ? b : a) + near_ns)
               ? BL_FLAG_NEAR_DAMAGE
               : 0;
}

size_t bl_track_part(const struct bl_track *track, int64_t time_ns)
{
    const int64_t raw = bl_track_raw(track, time_ns);
    if (track->steps != NULL) {
        const struct bl_segment *segment = bl_steps_at(track->steps, raw);
        return segment == NULL ? 0 : segment->part;
    }
    const struct bl_samples *s = track->samples;
    size_t part = 0;
    while (part + 1 < s->parts && s->time_ns[s->part_start[part + 1]] <= raw) {
        part++;
    }
    return part;
}
