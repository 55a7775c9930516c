/* SPDX-License-Identifier: MIT */
/*
 * A bus recording to series of segments. A frame costs one look-up of its
 * identifier on its bus; what it leads to was decided when that identifier
 * was first seen.
 */
#include "load/routes.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void extend(struct bl_segment *segment, int64_t time_ns)
{
    const int64_t gap = time_ns - segment->last_ns;
    if (gap > segment->longest_gap_ns) {
        segment->longest_gap_ns = gap;
    }
    segment->last_ns = time_ns;
    segment->count++;
}

/* Does the frame say what the one before it said? Most do. */
static bool repeats(struct bl_route *route, const struct bl_frame *frame)
{
    uint64_t data;
    memcpy(&data, frame->data, sizeof(data));
    const bool same = route->length == frame->length && route->data == data;
    route->data = data;
    route->length =
        frame->length <= sizeof(data) ? frame->length : BL_ROUTE_NO_LENGTH;
    return same;
}

static enum bl_status feed_series(struct bl_series_build *s,
                                  const struct bl_frame *frame, bool same)
{
    struct bl_segment *last =
        s->segments == 0 ? NULL : &s->segment[s->segments - 1];
    const bool same_part = last != NULL && last->part == frame->part;
    const struct bl_value value =
        same && last != NULL
            ? (struct bl_value){.raw = last->raw,
                                .value = last->value,
                                .state = last->state}
            : bl_signal_decode(s->series.signal, frame->data, frame->length);
    if (same_part && s->intervals < BL_INTERVALS_KEPT) {
        s->interval_s[s->intervals++] =
            (double)(frame->time_ns - s->last_ns) * 1e-9;
    }
    s->series.steps.frames++;
    s->series.steps.not_valid += value.state != BL_VALUE_VALID;
    if (same_part && last->raw == value.raw && last->state == value.state) {
        extend(last, frame->time_ns);
        s->last_ns = frame->time_ns;
        return BL_OK;
    }
    if (!bl_grow(&s->segment, &s->capacity, s->segments + 1,
                 sizeof(*s->segment), BL_LIMIT_SEGMENTS)) {
        return BL_NOMEM;
    }
    s->segment[s->segments++] = (struct bl_segment){
        .before_ns = same_part ? s->last_ns : INT64_MIN,
        .first_ns = frame->time_ns,
        .last_ns = frame->time_ns,
        .count = 1,
        .raw = value.raw,
        .value = value.state == BL_VALUE_VALID ? value.value : NAN,
        .state = value.state,
        .part = frame->part,
    };
    s->last_ns = frame->time_ns;
    return BL_OK;
}

static enum bl_status feed_route(struct bl_capture_build *b,
                                 struct bl_route *route,
                                 const struct bl_frame *frame)
{
    const size_t first = route->first;
    const bool same = repeats(route, frame);
    for (size_t i = 0; i < route->count; i++) {
        if (feed_series(&b->item[first + i], frame, same) != BL_OK) {
            return BL_NOMEM;
        }
    }
    return BL_OK;
}

/* Is it the frame before it once more? */
static bool is_twice(const struct bl_capture_build *b,
                     const struct bl_route *route, const struct bl_frame *frame)
{
    uint64_t data;
    memcpy(&data, frame->data, sizeof(data));
    return !b->into->untimed && route->link != SIZE_MAX && route->count > 0 &&
           route->length == frame->length && route->data == data &&
           bl_links_soon(&b->links, frame, route->link);
}

/* Once more, it counts no more. Behind others it may be what a clock that
   stands still makes of a sender's next frame. */
static enum bl_status take_twice(struct bl_capture_build *b,
                                 const struct bl_route *route,
                                 const struct bl_frame *frame,
                                 const struct bl_frame *before)
{
    const bool at_once = before != NULL && before->id == frame->id;
    if (bl_links_twice(&b->links, frame, route->link, at_once) != BL_OK) {
        return BL_NOMEM;
    }
    return bl_note(&b->into->notes, "frames-twice", -1, -1,
                   "frames are stored a second time within 1 ms, as by "
                   "two taps on one bus: each counts once");
}

/* One frame to what its identifier leads to; `before` it on its bus, NULL: not
   at hand, as where that of another bus came last. */
static enum bl_status feed(struct bl_capture_build *b,
                           const struct bl_frame *frame, size_t bus,
                           const struct bl_frame *before)
{
    const uint64_t key = bl_route_key(frame, bus);
    struct bl_route *route = b->route_slots == 0 ? NULL : bl_route_slot(b, key);
    if (route == NULL || route->key == 0) {
        if (bl_route_make(b, &route, key, frame, bus) != BL_OK) {
            return BL_NOMEM;
        }
        if (route == NULL) {
            return BL_OK;
        }
    }
    if (is_twice(b, route, frame)) {
        return take_twice(b, route, frame, before);
    }
    if (route->link != SIZE_MAX &&
        bl_links_frame(&b->links, frame, route->link) != BL_OK) {
        return BL_NOMEM;
    }
    return route->count == 0 ? BL_OK : feed_route(b, route, frame);
}

/* The same, the short way where it can be gone. */
static inline enum bl_status feed_quickly(struct bl_capture_build *b,
                                          const struct bl_frame *frame,
                                          size_t bus,
                                          const struct bl_frame *before)
{
    struct bl_route *route =
        b->route_slots == 0 ? NULL : bl_route_slot(b, bl_route_key(frame, bus));
    if (route == NULL || route->key == 0 || route->link == SIZE_MAX ||
        !bl_links_usual(&b->links, frame, route->link)) {
        return feed(b, frame, bus, before);
    }
    return route->count == 0 ? BL_OK : feed_route(b, route, frame);
}

/* Frames of one bus and one part, in time order. */
static enum bl_status feed_all(struct bl_capture_build *b,
                               const struct bl_frame *frame, size_t count,
                               size_t bus)
{
    struct bl_loaded_recording *into = b->into;
    const int64_t last_ns = frame[count - 1].time_ns;
    if (into->frames == 0 || frame[0].time_ns < into->first_ns) {
        into->first_ns = frame[0].time_ns;
    }
    if (into->frames == 0 || last_ns > into->last_ns) {
        into->last_ns = last_ns;
    }
    into->frames += count;
    if (bl_links_bus(&b->links, frame, count, bus) != BL_OK) {
        return BL_NOMEM;
    }
    for (size_t i = 0; i < count; i++) {
        if ((frame[i].kind == BL_FRAME_CLASSIC ||
             frame[i].kind == BL_FRAME_FD) &&
            feed_quickly(b, &frame[i], bus, i > 0 ? &frame[i - 1] : NULL) !=
                BL_OK) {
            return BL_NOMEM;
        }
    }
    return BL_OK;
}

/* The recording's number of a bus that a file calls `name`. */
static enum bl_status bus_number(struct bl_loaded_recording *into,
                                 const char *name, size_t *out)
{
    for (size_t i = 0; i < into->buses; i++) {
        if (strcmp(into->bus[i], name) == 0) {
            *out = i;
            return BL_OK;
        }
    }
    void *grown = bl_realloc(into->bus, into->buses + 1, sizeof(into->bus[0]));
    if (grown == NULL) {
        return BL_NOMEM;
    }
    into->bus = grown;
    (void)snprintf(into->bus[into->buses], sizeof(into->bus[0]), "%s", name);
    *out = into->buses++;
    return BL_OK;
}

/* Parts of one file go on counting where the file before stopped, unless its
   time goes on too: then the cut between the files is no jump. */
struct continuation {
    uint16_t part_base, part;
    int64_t last_ns, shift_ns;
    /* By how much the parts of the recording were moved. */
    int64_t *part_shift_ns;
    size_t part_shifts, part_shift_capacity;
    bool any;
    bool damaged; /* what stood behind the latest frame could not be read */
    /* The recording's number of each bus of the present file, plus one. */
    size_t bus[BL_BUS_MAX];
};

/* After a jump back, later stamps would lie among earlier ones. They are moved
   to one second after the jump: inside a part all times are as recorded, and
   nothing is ever measured from one part to another. */
static enum bl_status place_part(struct bl_capture_build *b,
                                 struct bl_frame *frame,
                                 struct continuation *so_far, bool *usable)
{
    if (so_far->any && frame->part != so_far->part &&
        frame->time_ns <= so_far->last_ns - so_far->shift_ns) {
        so_far->shift_ns = so_far->last_ns + 1000000000 - frame->time_ns;
        (void)bl_note(&b->into->notes, "part-moved", -1, -1,
                      "time jumps back: what follows is placed behind it, and "
                      "no figure spans the jump");
    }
    so_far->part = frame->part;
    while (so_far->part_shifts <= frame->part) {
        if (!bl_grow(&so_far->part_shift_ns, &so_far->part_shift_capacity,
                     so_far->part_shifts + 1, sizeof(*so_far->part_shift_ns),
                     (size_t)UINT16_MAX + 1)) {
            return BL_NOMEM;
        }
        so_far->part_shift_ns[so_far->part_shifts++] = so_far->shift_ns;
    }
    *usable = frame->time_ns <= BL_LIMIT_TIME_NS - so_far->shift_ns &&
              frame->time_ns >= -BL_LIMIT_TIME_NS;
    if (!*usable) {
        return bl_note(&b->into->notes, "impossible-time", -1, -1,
                       "expected times within 146 years of 0, found others; "
                       "these frames are left out");
    }
    frame->time_ns += so_far->shift_ns;
    return BL_OK;
}

/* A frame of the part at hand, the first one, whose time needs no moving. */
static bool as_before(const struct bl_frame *frame,
                      const struct continuation *so_far)
{
    return frame->part == so_far->part && frame->time_ns <= BL_LIMIT_TIME_NS &&
           frame->time_ns >= -BL_LIMIT_TIME_NS &&
           (frame->flags & BL_FRAME_AFTER_DAMAGE) == 0;
}

/* How many frames can be taken as they were read: those as before, of one
   bus. */
static size_t count_as_before(const struct bl_frame *frame, size_t count,
                              const struct continuation *so_far)
{
    size_t i = 0;
    if (so_far->any && so_far->part_base == 0 && so_far->shift_ns == 0 &&
        !so_far->damaged) {
        while (i < count && frame[i].bus == frame[0].bus &&
               as_before(&frame[i], so_far)) {
            i++;
        }
    }
    return i;
}

/* One frame whose part or time may have to be others than as read. */
static enum bl_status take_moved(struct bl_capture_build *b,
                                 const struct bl_frame *frame, size_t bus,
                                 struct continuation *so_far)
{
    struct bl_frame moved = *frame;
    bool usable;
    moved.part = (uint16_t)(moved.part + so_far->part_base);
    if (place_part(b, &moved, so_far, &usable) != BL_OK) {
        return BL_NOMEM;
    }
    if (!usable) {
        return BL_OK;
    }
    if (so_far->damaged || (moved.flags & BL_FRAME_AFTER_DAMAGE) != 0) {
        if (bl_damage_add(b->into, so_far->any ? so_far->last_ns : INT64_MIN,
                          moved.time_ns) != BL_OK) {
            return BL_NOMEM;
        }
        so_far->damaged = false;
    }
    so_far->last_ns = moved.time_ns;
    so_far->any = true;
    return feed_all(b, &moved, 1, bus);
}

static enum bl_status take_batch(struct bl_capture_build *b,
                                 const struct bl_bus_info *info,
                                 const struct bl_frame *batch, size_t count,
                                 struct continuation *so_far)
{
    for (size_t i = 0; i < count;) {
        const struct bl_frame *frame = &batch[i];
        size_t bus = so_far->bus[frame->bus] - 1;
        if (so_far->bus[frame->bus] == 0) {
            if (bus_number(b->into, info->bus[frame->bus].name, &bus) !=
                BL_OK) {
                return BL_NOMEM;
            }
            so_far->bus[frame->bus] = bus + 1;
        }
        const size_t same = count_as_before(frame, count - i, so_far);
        if (same == 0) {
            if (take_moved(b, frame, bus, so_far) != BL_OK) {
                return BL_NOMEM;
            }
            i++;
            continue;
        }
        if (feed_all(b, frame, same, bus) != BL_OK) {
            return BL_NOMEM;
        }
        so_far->last_ns = frame[same - 1].time_ns;
        i += same;
    }
    return BL_OK;
}

static enum bl_status read_frames(struct bl_capture_build *b,
                                  struct bl_bus_reader *reader,
                                  struct continuation *so_far,
                                  struct bl_error *error)
{
    const struct bl_bus_info *info = bl_bus_info(reader);
    bool first = true;
    memset(so_far->bus, 0, sizeof(so_far->bus));
    for (;;) {
        const struct bl_frame *batch;
        size_t count = 0;
        const enum bl_status status =
            bl_bus_next(reader, &batch, &count, error);
        if (status != BL_OK || count == 0) {
            return status;
        }
        b->links.beats.resolution_ns = info->resolution_ns;
        b->into->untimed = b->into->untimed || info->untimed;
        if (first && so_far->any &&
            batch[0].time_ns < so_far->last_ns - so_far->shift_ns) {
            so_far->part_base++;
        }
        first = false;
        if (take_batch(b, info, batch, count, so_far) != BL_OK) {
            return bl_fail_memory(error);
        }
    }
}

static enum bl_status read_file(struct bl_capture_build *b,
                                const struct bl_trial_recording *recording,
                                size_t file, struct continuation *so_far,
                                struct bl_error *error)
{
    struct bl_bytes *source = NULL;
    struct bl_bus_reader *reader = NULL;
    const struct bl_bus_options options = {
        .can_id_order = recording->can_id_order, .bus_name = recording->bus};
    enum bl_status status =
        bl_bytes_open(&source, recording->file[file], error);
    if (status != BL_OK) {
        so_far->damaged = true;
        return status;
    }
    status = bl_bus_open(&reader, source, &options, error);
    if (status != BL_OK) {
        so_far->damaged = true;
    } else {
        status = read_frames(b, reader, so_far, error);
        const struct bl_bus_info *info = bl_bus_info(reader);
        /* A bus that was tapped and silent differs from one without a tap. */
        for (size_t i = 0; i < info->buses; i++) {
            size_t number;
            if (bus_number(b->into, info->bus[i].name, &number) != BL_OK) {
                status = bl_fail_memory(error);
            }
        }
        so_far->damaged = so_far->damaged || info->after_damage;
        if (bl_times_take(b->into, info->times, so_far->part_shift_ns,
                          so_far->part_shifts, so_far->part_base) != BL_OK) {
            status = bl_fail_memory(error);
        }
        so_far->part_base = (uint16_t)(so_far->part_base + info->undone_splits);
        b->into->resolution_ns = info->resolution_ns;
        b->into->untimed = b->into->untimed || info->untimed;
        if (bl_notes_append(&b->into->notes, &info->notes) != BL_OK ||
            bl_damage_packed(b->into, source, status) != BL_OK) {
            status = bl_fail_memory(error);
        }
    }
    bl_bus_close(reader);
    /* The hash goes to the end of the bytes even after a failure; a failure to
       get there must not hide the first one. */
    struct bl_error second;
    const enum bl_status finished = bl_bytes_drain(
        source, &b->into->file[file].stored, status == BL_OK ? error : &second);
    bl_bytes_close(source);
    return status != BL_OK ? status : finished;
}

static enum bl_status keep_series(struct bl_run_store *store,
                                  struct bl_series_build *s)
{
    struct bl_run_data *data = &store->data;
    const size_t wanted = data->series_count + 1;
    size_t capacity = store->series_capacity;
    if (!bl_grow(&data->series, &capacity, wanted, sizeof(*data->series),
                 (size_t)BL_LIMIT_IDENTIFIERS * 64)) {
        return BL_NOMEM;
    }
    void *grown =
        bl_realloc(store->segments, capacity, sizeof(*store->segments));
    if (grown == NULL) {
        return BL_NOMEM;
    }
    store->segments = grown;
    store->series_capacity = capacity;
    s->series.steps.segment = s->segment;
    s->series.steps.count = s->segments;
    s->series.steps.resolution = fabs(s->series.signal->scale);
    if (s->intervals > 0) {
        s->series.steps.interval_ns =
            (int64_t)llround(bl_median(s->interval_s, s->intervals) * 1e9);
    }
    store->segments[data->series_count] = s->segment;
    data->series[data->series_count++] = s->series;
    s->segment = NULL; /* the store owns it now */
    return BL_OK;
}

void bl_capture_build_free(struct bl_capture_build *b)
{
    if (b == NULL) {
        return;
    }
    for (size_t i = 0; i < b->count; i++) {
        bl_free(b->item[i].segment);
        bl_free(b->item[i].interval_s);
    }
    bl_links_destroy(&b->links.links);
    bl_free(b->item);
    bl_free(b->route);
    bl_free(b->wanted);
    bl_free(b->address);
    bl_free(b);
}

static enum bl_status start_build(struct bl_capture_build *b,
                                  struct bl_error *error)
{
    const struct bl_trial *trial = b->trial;
    b->address = bl_alloc(trial->units, 1);
    if (b->address == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < trial->units; i++) {
        if (trial->unit[i].address >= 0) {
            b->address[b->addresses++] = (uint8_t)trial->unit[i].address;
        }
    }
    return bl_wanted_signals(trial, &b->wanted, &b->wanteds, error);
}

static enum bl_status read_files(struct bl_capture_build *b,
                                 const struct bl_trial_recording *recording,
                                 struct bl_error *error)
{
    struct continuation so_far = {0};
    for (size_t i = 0; i < recording->files; i++) {
        struct bl_error local;
        bl_error_clear(&local);
        const enum bl_status read = read_file(b, recording, i, &so_far, &local);
        if (read == BL_NOMEM) {
            bl_free(so_far.part_shift_ns);
            return bl_fail_memory(error);
        }
        if (read != BL_OK) {
            bl_loaded_failed(b->into, &local);
        }
    }
    bl_free(so_far.part_shift_ns);
    if (!so_far.damaged) {
        return BL_OK;
    }
    const enum bl_status status =
        so_far.any ? bl_damage_add(b->into, so_far.last_ns, INT64_MAX)
                   : bl_loaded_unusable(b->into);
    return status == BL_OK ? BL_OK : bl_fail_memory(error);
}

enum bl_status bl_capture_read(struct bl_capture_build **out,
                               struct bl_run_store *store,
                               const struct bl_trial *trial, size_t index,
                               struct bl_error *error)
{
    struct bl_loaded_recording *into = &store->data.recording[index];
    struct bl_capture_build *b = bl_alloc(1, sizeof(*b));
    *out = b;
    if (b == NULL) {
        return bl_fail_memory(error);
    }
    b->trial = trial;
    b->recording = index;
    b->into = into;
    into->absolute_time = true;
    enum bl_status status = start_build(b, error);
    if (status == BL_OK) {
        status = bl_links_start(&b->links, &store->data, index, trial->tables,
                                error);
    }
    if (status != BL_OK) {
        return status;
    }
    status = read_files(b, &trial->recording[into->recording], error);
    if (bl_links_finish(&b->links) != BL_OK && status == BL_OK) {
        status = bl_fail_memory(error);
    }
    return status;
}

enum bl_status bl_capture_keep(struct bl_run_store *store,
                               struct bl_capture_build *b,
                               struct bl_error *error)
{
    for (size_t i = 0; i < b->count; i++) {
        if (keep_series(store, &b->item[i]) != BL_OK) {
            return bl_fail_memory(error);
        }
    }
    return bl_links_append(&store->data.links, &b->links.links) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}
