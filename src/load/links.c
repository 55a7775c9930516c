/* SPDX-License-Identifier: MIT */
/*
 * What each bus carried: frames and intervals per identifier, its gaps, the
 * times when nothing at all was recorded, error frames, load. A frame costs no
 * look-up of its own: capture.c's route leads here.
 * Length of a frame without stuffing: 67 bits and its data with a 29-bit
 * identifier, 47 with an 11-bit one, both with the three bits between frames
 * (CAN arithmetic: 131 bits for 29-bit identifiers and 8 bytes).
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/intervals.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BUSES = 256 };

static const int64_t SILENT_NS = 50000000;

const char *bl_error_class_name(unsigned bit)
{
    static const char *const names[BL_ERROR_CLASSES] = {"transmit time-out",
                                                        "lost arbitration",
                                                        "controller problem",
                                                        "protocol violation",
                                                        "transceiver",
                                                        "no acknowledgement",
                                                        "bus off",
                                                        "bus error",
                                                        "controller restarted",
                                                        "error counters"};
    return bit < BL_ERROR_CLASSES ? names[bit] : "other";
}

enum bl_status bl_links_start(struct bl_links_build *b,
                              struct bl_run_data *data, size_t recording,
                              const struct bl_tables *tables,
                              struct bl_error *error)
{
    b->into = &data->recording[recording];
    b->tables = tables;
    b->recording = recording;
    return bl_transport_create(&b->transport, BL_LIMIT_TRANSPORT_BYTES, error);
}

static bool has_role(const struct bl_message *message, enum bl_role role)
{
    for (size_t i = 0; message != NULL && i < message->signals; i++) {
        if (message->signal[i].role == role) {
            return true;
        }
    }
    return false;
}

enum bl_status bl_links_id(struct bl_links_build *b, size_t *out,
                           const struct bl_frame *frame, size_t bus,
                           const struct bl_message *message)
{
    *out = SIZE_MAX;
    if (!bl_grow(&b->item, &b->capacity, b->count + 1, sizeof(*b->item),
                 BL_LIMIT_IDENTIFIERS)) {
        return BL_NOMEM;
    }
    const bool extended = (frame->flags & BL_FRAME_EXTENDED) != 0;
    struct bl_link_build *l = &b->item[b->count];
    *l = (struct bl_link_build){
        .seen = {.recording = b->recording,
                 .bus = bus,
                 .id = frame->id,
                 .extended = extended,
                 .message = message,
                 .least_s = NAN,
                 .median_s = NAN,
                 .most_s = NAN,
                 .nominal_s = NAN},
        .limit_ns = INT64_MAX,
        .band = BL_BEAT_BAND_NONE,
        .trouble = has_role(message, BL_ROLE_TROUBLE_CODES),
        .claim = has_role(message, BL_ROLE_ADDRESS_CLAIM),
        .transport = extended && bl_transport_takes(frame->id)};
    l->talks = l->trouble || l->claim || l->transport;
    b->count++;
    return bl_beats_add(&b->beats, out);
}

static int ascending(const void *a, const void *b)
{
    const float x = *(const float *)a;
    const float y = *(const float *)b;
    return (x > y) - (x < y);
}

/* Median of the intervals up to 1.5 times the lower quartile: lost frames only
   make intervals longer, and up to half of all may lie beside one. Own choice:
   halfway to the double interval that one lost frame makes. */
static const double USUAL_TIMES = 1.5;
/* The usual interval so many times over is a gap: one lost frame makes two, and
   jitter of the sender and a busy bus up to another half (own choice). */
static const double GAP_TIMES = 3;
/* What is usual is read off so many first intervals, and once more from
   BL_LINK_FIRST_INTERVALS (own choice: a lower quartile of two). */
enum { FEW_INTERVALS = 8 };

static double nominal_of_first(const struct bl_link_build *l)
{
    float interval[BL_LINK_FIRST_INTERVALS];
    memcpy(interval, l->first_s, l->firsts * sizeof(*interval));
    qsort(interval, l->firsts, sizeof(*interval), ascending);
    const float most = (float)USUAL_TIMES * interval[l->firsts / 4];
    size_t usual = l->firsts / 4 + 1;
    while (usual < l->firsts && interval[usual] <= most) {
        usual++;
    }
    return (double)interval[usual / 2];
}

static double seconds(int64_t ns)
{
    return (double)ns * 1e-9;
}

static double nominal(const struct bl_intervals *all)
{
    const double quartile = (double)bl_intervals_ranked(all, all->count / 4);
    const double most = fmin(USUAL_TIMES * quartile, 9e18);
    const uint64_t usual = bl_intervals_up_to(all, (int64_t)most);
    return seconds(bl_intervals_ranked(all, usual / 2));
}

static enum bl_status keep_gap(struct bl_links_build *b,
                               struct bl_link_build *l, int64_t from_ns,
                               int64_t until_ns)
{
    l->seen.gap_count++;
    if (l->seen.gaps >= BL_LIMIT_LINK_GAPS) {
        return bl_note(&b->into->notes, "links-left-out", -1, -1,
                       "more than %u gaps of one identifier: the rest is "
                       "counted only",
                       BL_LIMIT_LINK_GAPS);
    }
    if (!bl_grow(&l->seen.gap, &l->gap_capacity, l->seen.gaps + 1,
                 sizeof(*l->seen.gap), BL_LIMIT_LINK_GAPS)) {
        return BL_NOMEM;
    }
    l->seen.gap[l->seen.gaps++] = (struct bl_link_gap){from_ns, until_ns};
    return BL_OK;
}

/* The longest interval of up to limit_s. */
static int64_t up_to(double limit_s)
{
    if (limit_s > 9e9) { /* longer than times can tell */
        return INT64_MAX;
    }
    int64_t ns = (int64_t)(limit_s * 1e9);
    while (seconds(ns) > limit_s) {
        ns--;
    }
    while (seconds(ns + 1) <= limit_s) {
        ns++;
    }
    return ns;
}

/* Before the eighth interval there is no limit, so a gap among those is counted
   in most_s, but not kept. */
static void find_limit(struct bl_link_build *l, int64_t interval_ns)
{
    l->first_s[l->firsts++] = (float)seconds(interval_ns);
    if (l->firsts == FEW_INTERVALS || l->firsts == BL_LINK_FIRST_INTERVALS) {
        l->limit_ns = up_to(GAP_TIMES * nominal_of_first(l));
    }
}

static enum bl_status interval(struct bl_links_build *b,
                               struct bl_link_build *l, int64_t time_ns)
{
    const int64_t ns = time_ns - l->last_ns;
    if (l->firsts == 0) {
        l->least_ns = ns;
        l->most_ns = ns;
    }
    l->least_ns = ns < l->least_ns ? ns : l->least_ns;
    l->most_ns = ns > l->most_ns ? ns : l->most_ns;
    if (!bl_intervals_add(&l->intervals, ns)) {
        return BL_NOMEM;
    }
    if (l->firsts < BL_LINK_FIRST_INTERVALS) {
        find_limit(l, ns);
    }
    if (!l->talks && !bl_beat_usual(&l->band, ns)) {
        const struct bl_beat_odd odd = {(size_t)(l - b->item), l->last_ns,
                                        time_ns, l->part};
        if (bl_beats_odd(&b->beats, &l->band, &odd) != BL_OK) {
            return BL_NOMEM;
        }
        bl_beat_narrow(&l->band, l->limit_ns);
    }
    return ns > l->limit_ns ? keep_gap(b, l, l->last_ns, time_ns) : BL_OK;
}

static enum bl_status silence(struct bl_links_build *b, int64_t until_ns)
{
    struct bl_links *links = &b->links;
    if (links->silences >= BL_LIMIT_LINK_GAPS) {
        return bl_note(&b->into->notes, "links-left-out", -1, -1,
                       "more than %u silences: the rest is left out",
                       BL_LIMIT_LINK_GAPS);
    }
    void *grown = bl_realloc(links->silence, links->silences + 1,
                             sizeof(*links->silence));
    if (grown == NULL) {
        return BL_NOMEM;
    }
    links->silence = grown;
    grown = bl_realloc(links->silence_recording, links->silences + 1,
                       sizeof(*links->silence_recording));
    if (grown == NULL) {
        return BL_NOMEM;
    }
    links->silence_recording = grown;
    links->silence[links->silences] =
        (struct bl_link_gap){b->last_ns, until_ns};
    links->silence_recording[links->silences++] = b->recording;
    return BL_OK;
}

static struct bl_link_bus *bus_entry(struct bl_links_build *b, size_t bus,
                                     int64_t time_ns)
{
    struct bl_links *links = &b->links;
    if (bus < BUSES && b->bus_of[bus] != 0) {
        return &links->bus[b->bus_of[bus] - 1];
    }
    if (bus >= BUSES) {
        return NULL; /* a reader delivers fewer */
    }
    void *grown = bl_realloc(links->bus, links->buses + 1, sizeof(*links->bus));
    if (grown == NULL) {
        return NULL;
    }
    links->bus = grown;
    links->bus[links->buses] = (struct bl_link_bus){.recording = b->recording,
                                                    .bus = bus,
                                                    .first_ns = time_ns,
                                                    .last_ns = time_ns};
    b->bus_of[bus] = ++links->buses;
    return &links->bus[links->buses - 1];
}

/* What a bus carries while frames of one stretch are counted. */
struct load {
    int64_t second;
    uint64_t second_bits, bits, busiest_bits;
};

static void count_bits(struct load *load, const struct bl_frame *frame)
{
    const uint64_t head = (frame->flags & BL_FRAME_EXTENDED) != 0 ? 67 : 47;
    const uint64_t bits = head + 8 * (uint64_t)frame->length;
    const int64_t second = frame->time_ns / 1000000000;
    if (load->second != second) {
        load->second = second;
        load->second_bits = 0;
    }
    load->second_bits += bits;
    load->bits += bits;
    if (load->second_bits > load->busiest_bits) {
        load->busiest_bits = load->second_bits;
    }
}

static void count_odd(struct bl_link_bus *bus, const struct bl_frame *frame)
{
    if (frame->kind == BL_FRAME_ERROR) {
        bus->errors++;
        for (unsigned bit = 0; bit < BL_ERROR_CLASSES; bit++) {
            bus->error_class[bit] += (frame->id >> bit) & 1;
        }
    } else {
        bus->remote++;
    }
}

/* There was nothing at all before this frame, for longer than a step of the
   clock may be. */
static enum bl_status listen(struct bl_links_build *b, int64_t last_ns,
                             const struct bl_frame *frame)
{
    const struct bl_beat_silence quiet_since = {last_ns, frame->time_ns,
                                                frame->part};
    if (bl_beats_silence(&b->beats, &quiet_since) != BL_OK) {
        return BL_NOMEM;
    }
    if (frame->time_ns - last_ns > SILENT_NS) {
        b->last_ns = last_ns;
        return silence(b, frame->time_ns);
    }
    return BL_OK;
}

enum bl_status bl_links_bus(struct bl_links_build *b,
                            const struct bl_frame *frame, size_t count,
                            size_t bus)
{
    struct bl_link_bus *link_bus = bus_entry(b, bus, frame[0].time_ns);
    if (link_bus == NULL) {
        return bus < BUSES ? BL_NOMEM : BL_OK;
    }
    struct load load = {b->second[bus], b->second_bits[bus], link_bus->bits,
                        link_bus->busiest_bits};
    enum bl_status status = BL_OK;
    const int64_t beats_ns = bl_beats_silent(&b->beats);
    const int64_t silent_ns = beats_ns < SILENT_NS ? beats_ns : SILENT_NS;
    int64_t last_ns =
        b->any && b->part == frame[0].part ? b->last_ns : frame[0].time_ns;
    b->any = true;
    b->part = frame[0].part;
    for (size_t i = 0; i < count && status == BL_OK; i++) {
        if (frame[i].kind == BL_FRAME_CLASSIC || frame[i].kind == BL_FRAME_FD) {
            count_bits(&load, &frame[i]);
        } else {
            count_odd(link_bus, &frame[i]);
        }
        if (frame[i].time_ns - last_ns > silent_ns) {
            status = listen(b, last_ns, &frame[i]);
        }
        last_ns = frame[i].time_ns;
    }
    b->last_ns = frame[count - 1].time_ns;
    b->second[bus] = load.second;
    b->second_bits[bus] = load.second_bits;
    link_bus->frames += count;
    link_bus->last_ns = b->last_ns;
    link_bus->bits = load.bits;
    link_bus->busiest_bits = load.busiest_bits;
    return status;
}

enum bl_status bl_links_frame(struct bl_links_build *b,
                              const struct bl_frame *frame, size_t id)
{
    struct bl_link_build *l = &b->item[id];
    if (l->seen.bus >= BUSES) {
        return BL_OK;
    }
    if (l->frames == 0) {
        l->seen.first_ns = frame->time_ns;
    } else if (l->part != frame->part) {
        bl_beats_until(&b->beats, id, l->last_ns);
    } else if (interval(b, l, frame->time_ns) != BL_OK) {
        return BL_NOMEM;
    }
    l->frames++;
    l->last_ns = frame->time_ns;
    l->part = frame->part;
    return l->talks ? bl_links_talk(b, l, frame) : BL_OK;
}

/* A recording that stores many frames twice does so by habit: then a stand is
   seen by what its frames carry, which changes, or not at all. */
static bool stores_twice(const struct bl_link_build *l)
{
    return l->seen.twice >= BL_BEAT_HABIT_LEAST &&
           l->seen.twice * BL_BEAT_HABIT_INTERVALS >= l->frames;
}

enum bl_status bl_links_twice(struct bl_links_build *b,
                              const struct bl_frame *frame, size_t id,
                              bool at_once)
{
    struct bl_link_build *l = &b->item[id];
    l->seen.twice++;
    if (at_once || l->talks || stores_twice(l) ||
        !bl_beats_has_learned(&b->beats, id)) {
        return BL_OK;
    }
    const struct bl_beat_odd odd = {id, l->last_ns, frame->time_ns, l->part};
    return bl_beats_odd(&b->beats, &l->band, &odd);
}

static void note_losses(struct bl_links_build *b)
{
    static const char *const why[BL_TRANSPORT_LOSSES] = {
        "aborted",    "replaced",  "timed out",
        "incomplete", "malformed", "too large"};
    bl_transport_flush(b->transport);
    for (int i = 0; i < BL_TRANSPORT_LOSSES; i++) {
        const uint64_t lost =
            bl_transport_lost(b->transport, (enum bl_transport_loss)i);
        for (uint64_t n = 0; n < lost; n++) {
            (void)bl_note(
                &b->into->notes, "transport-lost", -1, -1,
                "multi-packet messages were never completed (the first: %s)",
                why[i]);
        }
    }
}

enum bl_status bl_links_finish(struct bl_links_build *b)
{
    struct bl_links *links = &b->links;
    enum bl_status status = BL_OK;
    links->id = bl_alloc(b->count, sizeof(*links->id));
    if (links->id == NULL) {
        status = BL_NOMEM;
    }
    for (size_t i = 0; i < b->count; i++) {
        struct bl_link_build *l = &b->item[i];
        l->seen.frames = l->frames;
        l->seen.last_ns = l->last_ns;
        bl_beats_until(&b->beats, i, l->last_ns);
        if (!bl_intervals_end(&l->intervals)) {
            status = BL_NOMEM;
        } else if (l->intervals.count > 0) {
            l->seen.least_s = seconds(l->least_ns);
            l->seen.most_s = seconds(l->most_ns);
            l->seen.median_s = seconds(bl_intervals_median(&l->intervals));
            l->seen.nominal_s = nominal(&l->intervals);
        }
        bl_intervals_finish(&l->intervals);
        if (status == BL_OK) {
            links->id[links->ids++] = l->seen;
        } else {
            bl_free(l->seen.gap);
        }
    }
    if (bl_beats_finish(&b->beats, &b->into->times) != BL_OK) {
        status = BL_NOMEM;
    }
    bl_free(b->item);
    b->item = NULL;
    b->count = 0;
    if (b->transport != NULL) {
        note_losses(b);
    }
    bl_transport_destroy(b->transport);
    b->transport = NULL;
    return status;
}

/* `items` is the address of an array's pointer, as for bl_grow. */
static enum bl_status append(void *items, size_t *count, const void *from,
                             size_t added, size_t size)
{
    void *old;
    memcpy(&old, items, sizeof(old));
    if (added == 0) {
        return BL_OK;
    }
    char *grown = bl_realloc(old, *count + added, size);
    if (grown == NULL) {
        return BL_NOMEM;
    }
    memcpy(items, &grown, sizeof(grown));
    memcpy(grown + *count * size, from, added * size);
    *count += added;
    return BL_OK;
}

enum bl_status bl_links_append(struct bl_links *to, struct bl_links *from)
{
    size_t silences = to->silences;
    if (append(&to->id, &to->ids, from->id, from->ids, sizeof(*to->id)) !=
        BL_OK) {
        return BL_NOMEM;
    }
    from->ids = 0; /* the gaps are the other's now */
    return append(&to->trouble, &to->troubles, from->trouble, from->troubles,
                  sizeof(*to->trouble)) == BL_OK &&
                   append(&to->name, &to->names, from->name, from->names,
                          sizeof(*to->name)) == BL_OK &&
                   append(&to->transport, &to->transports, from->transport,
                          from->transports, sizeof(*to->transport)) == BL_OK &&
                   append(&to->bus, &to->buses, from->bus, from->buses,
                          sizeof(*to->bus)) == BL_OK &&
                   append(&to->silence, &silences, from->silence,
                          from->silences, sizeof(*to->silence)) == BL_OK &&
                   append(&to->silence_recording, &to->silences,
                          from->silence_recording, from->silences,
                          sizeof(*to->silence_recording)) == BL_OK
               ? BL_OK
               : BL_NOMEM;
}

void bl_links_destroy(struct bl_links *links)
{
    for (size_t i = 0; i < links->ids; i++) {
        bl_free(links->id[i].gap);
    }
    bl_free(links->id);
    bl_free(links->trouble);
    bl_free(links->name);
    bl_free(links->transport);
    bl_free(links->bus);
    bl_free(links->silence);
    bl_free(links->silence_recording);
}
