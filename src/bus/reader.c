/* SPDX-License-Identifier: MIT */
/*
 * The registry of bus recordings, and the reader that a program sees: the
 * format's reader feeds the ordering stage, which feeds the batches.
 */
#include "bus/format.h"
#include "bus/order.h"
#include "bus/packet.h"

#include "base/alloc.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static const struct bl_bus_format *const formats[] = {
#define X(name) &bl_format_##name,
    BL_BUS_FORMAT_LIST(X)
#undef X
};
enum { FORMATS = sizeof(formats) / sizeof(formats[0]), SAID_MAX = 160 };

struct bl_bus_reader {
    const struct bl_bus_format *format;
    void *state;
    struct bl_bus_context context;
    struct bl_order order;
    bool ended;
    enum bl_status status; /* sticky, given after the last frame */
    struct bl_error error;
};

/* How much the probes look at: first little, for slow pipes. */
static const size_t looks[] = {64, 4096, BL_PEEK_MAX};
enum { LOOKS = sizeof(looks) / sizeof(looks[0]) };

/* "pcap, pcapng or textlog": all formats by name, or as people call them. */
static const char *any_format(bool by_name, char text[SAID_MAX])
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < FORMATS && used < SAID_MAX; i++) {
        const char *between = i == 0 ? "" : i + 1 == FORMATS ? " or " : ", ";
        used +=
            (size_t)snprintf(text + used, SAID_MAX - used, "%s%s", between,
                             by_name ? formats[i]->name : formats[i]->called);
    }
    return text;
}

/* The first format that says more than "not mine"; NULL when there is none.
   `only` limits the question to one. */
static const struct bl_bus_format *recognise(struct bl_bytes *source,
                                             const struct bl_bus_format *only,
                                             enum bl_bus_answer *answer,
                                             struct bl_error *why)
{
    *answer = BL_BUS_NOT_MINE;
    for (size_t look = 0; look < LOOKS; look++) {
        const uint8_t *data;
        size_t size;
        if (bl_bytes_peek(source, looks[look], &data, &size, why) != BL_OK) {
            return NULL;
        }
        const bool all = size < looks[look] || look + 1 == LOOKS;
        bool more = false;
        for (size_t i = 0; i < FORMATS; i++) {
            const struct bl_bus_format *format = formats[i];
            if (only != NULL && only != format) {
                continue;
            }
            *answer = format->probe(data, size, all, why);
            if (*answer == BL_BUS_MINE || *answer == BL_BUS_BROKEN) {
                return format;
            }
            more = more || *answer == BL_BUS_NEED_MORE;
        }
        if (!more) {
            break;
        }
    }
    *answer = BL_BUS_NOT_MINE;
    return NULL;
}

bool bl_bus_recognised(struct bl_bytes *source)
{
    enum bl_bus_answer answer;
    return recognise(source, NULL, &answer, NULL) != NULL;
}

/* Nothing fitted: an unreadable source says why itself. */
static enum bl_status not_recognised(struct bl_bytes *source, const char *asked,
                                     struct bl_error *error)
{
    const uint8_t *data;
    size_t size;
    const enum bl_status status =
        bl_bytes_window(source, 4, &data, &size, error);
    if (status != BL_OK) {
        return status;
    }
    const char *name = bl_bytes_name(source);
    char said[SAID_MAX];
    char wanted[SAID_MAX + 16];
    snprintf(wanted, sizeof(wanted), asked != NULL ? "%s" : "a %s recording",
             asked != NULL ? asked : any_format(false, said));
    if (size == 0) {
        return bl_fail(error, BL_FORMAT, name,
                       "expected %s, found nothing: it is empty", wanted);
    }
    char found[4 * 3 + 1] = "";
    for (size_t i = 0; i < 4 && i < size; i++) {
        static const char digits[] = "0123456789abcdef";
        found[3 * i] = ' ';
        found[3 * i + 1] = digits[data[i] >> 4];
        found[3 * i + 2] = digits[data[i] & 15];
        found[3 * i + 3] = '\0';
    }
    bool text = true;
    for (size_t i = 0; i < 4 && i < size; i++) {
        text = text && ((data[i] >= ' ' && data[i] <= '~') || data[i] == '\t');
    }
    return bl_fail_offset(error, BL_FORMAT, name, 0,
                          "expected %s, found bytes%s%s", wanted, found,
                          text ? ", which is text: is it an analog log?" : "");
}

static enum bl_status choose_format(const struct bl_bus_format **format,
                                    struct bl_bytes *source, const char *asked,
                                    struct bl_error *error)
{
    const struct bl_bus_format *only = NULL;
    for (size_t i = 0; asked != NULL && i < FORMATS; i++) {
        if (strcmp(asked, formats[i]->name) == 0) {
            only = formats[i];
        }
    }
    char said[SAID_MAX];
    if (asked != NULL && only == NULL) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected the format %s, found '%s'",
                       any_format(true, said), asked);
    }
    struct bl_error why;
    bl_error_clear(&why);
    enum bl_bus_answer answer;
    *format = recognise(source, only, &answer, &why);
    if (answer == BL_BUS_BROKEN) {
        return bl_fail_offset(error, why.status, bl_bytes_name(source),
                              why.offset, "%s", why.message);
    }
    if (*format == NULL && why.status != BL_OK) {
        if (error != NULL) {
            *error = why;
        }
        return why.status;
    }
    return *format != NULL ? BL_OK : not_recognised(source, asked, error);
}

static void set_options(struct bl_bus_context *context,
                        const struct bl_bus_options *options)
{
    if (options == NULL) {
        return;
    }
    context->id_order = options->can_id_order;
    if (options->bus_name != NULL) {
        const size_t length = strnlen(options->bus_name, BL_BUS_NAME_MAX - 1);
        memcpy(context->default_name, options->bus_name, length);
    }
}

struct bl_bus_options bl_bus_options_default(void)
{
    return (struct bl_bus_options){.can_id_order = BL_ID_ORDER_AUTO};
}

enum bl_status bl_bus_open(struct bl_bus_reader **out, struct bl_bytes *source,
                           const struct bl_bus_options *options,
                           struct bl_error *error)
{
    *out = NULL;
    const struct bl_bus_format *format;
    enum bl_status status = choose_format(
        &format, source, options == NULL ? NULL : options->format, error);
    if (status != BL_OK) {
        return status;
    }
    struct bl_bus_reader *reader = bl_alloc(1, sizeof(*reader));
    if (reader == NULL) {
        return bl_fail_memory(error);
    }
    struct bl_bus_context *context = &reader->context;
    bl_error_clear(&reader->error);
    context->source = source;
    context->info.format = format->name;
    set_options(context, options);
    context->info.bus = bl_alloc(BL_BUS_MAX, sizeof(*context->info.bus));
    status = context->info.bus == NULL
                 ? bl_fail_memory(error)
                 : format->open(&reader->state, context, error);
    if (status != BL_OK) {
        bl_bus_close(reader);
        return status;
    }
    reader->format = format;
    *out = reader;
    return BL_OK;
}

/* One batch from the file into the ordering stage. */
static void read_on(struct bl_bus_reader *reader)
{
    struct bl_frame *room = bl_order_room(&reader->order, BL_BUS_BATCH);
    if (room == NULL) {
        reader->status = bl_fail_memory(&reader->error);
        reader->ended = true;
        return;
    }
    size_t count = 0;
    reader->status = reader->format->next(reader->state, room, BL_BUS_BATCH,
                                          &count, &reader->error);
    reader->ended = reader->status != BL_OK || count == 0;
    struct bl_error error;
    const enum bl_status status =
        bl_order_add(&reader->order, count, reader->ended, &error);
    if (status != BL_OK && reader->status == BL_OK) {
        reader->status =
            bl_fail(&reader->error, status,
                    bl_bytes_name(reader->context.source), "%s", error.message);
        reader->context.info.after_damage = true;
        reader->ended = true;
    }
}

/* A note that stands for `count` occurrences. */
static enum bl_status note_count(struct bl_notes *notes, uint64_t count,
                                 const char *code, const char *text)
{
    if (count == 0) {
        return BL_OK;
    }
    const enum bl_status status = bl_note(notes, code, -1, -1, "%s", text);
    for (size_t i = 0; i < notes->count && status == BL_OK; i++) {
        if (strcmp(notes->item[i].code, code) == 0) {
            notes->item[i].count = count;
        }
    }
    return status;
}

/* What can be said only at the end. */
static enum bl_status say_at_end(struct bl_bus_reader *reader)
{
    struct bl_bus_info *info = &reader->context.info;
    enum bl_status status = bl_packet_check_order(&reader->context);
    if (status == BL_OK && reader->status == BL_OK && info->frames == 0 &&
        reader->order.ready == reader->order.head) {
        status = bl_note(&info->notes, "no-frames", -1, -1,
                         "the recording holds no CAN frame that can be used, "
                         "and %" PRIu64 " packets of other kinds",
                         info->other_packets);
    }
    if (status == BL_OK) {
        status = note_count(&info->notes, info->late_sorted, "late-stamps",
                            "frames stood up to 200 ms too late in the file "
                            "and were sorted by their stamps");
    }
    if (status == BL_OK) {
        status = note_count(&info->notes, info->strays, "stray-stamps",
                            "frames had a stamp far off that the next frames "
                            "undid; excluded");
    }
    if (status == BL_OK) {
        status =
            note_count(&info->notes, info->undone_splits, "time-jumps-back",
                       "times at which the stamps jump back: the "
                       "recording is split there, no figure spans it");
    }
    return status;
}

/* Frames of one bus that stand together are counted together; how many. */
static size_t count_some(struct bl_bus_stats *bus, const struct bl_frame *frame,
                         size_t count)
{
    const uint16_t index = frame[0].bus;
    int64_t first_ns = frame[0].time_ns;
    int64_t last_ns = first_ns;
    size_t i = 0;
    size_t others = 0;
    for (; i < count && frame[i].bus == index; i++) {
        const int64_t time_ns = frame[i].time_ns;
        first_ns = time_ns < first_ns ? time_ns : first_ns;
        last_ns = time_ns > last_ns ? time_ns : last_ns;
        if (frame[i].kind != BL_FRAME_CLASSIC) {
            bus->frames[frame[i].kind]++;
            others++;
        }
    }
    bus->frames[BL_FRAME_CLASSIC] += i - others;
    uint64_t all = 0;
    for (size_t k = 0; k < BL_FRAME_KINDS; k++) {
        all += bus->frames[k];
    }
    if (all == i || first_ns < bus->first_ns) {
        bus->first_ns = first_ns;
    }
    if (all == i || last_ns > bus->last_ns) {
        bus->last_ns = last_ns;
    }
    return i;
}

static void count_frames(struct bl_bus_info *info, const struct bl_frame *frame,
                         size_t count)
{
    for (size_t i = 0; i < count;) {
        i += count_some(&info->bus[frame[i].bus], frame + i, count - i);
    }
    info->frames += count;
}

enum bl_status bl_bus_next(struct bl_bus_reader *reader,
                           const struct bl_frame **batch, size_t *count,
                           struct bl_error *error)
{
    struct bl_bus_info *info = &reader->context.info;
    for (;;) {
        *batch = bl_order_take(&reader->order, count);
        if (*count > 0) {
            count_frames(info, *batch, *count);
            return BL_OK;
        }
        if (reader->ended) {
            break;
        }
        read_on(reader);
        info->late_sorted = reader->order.late;
        info->strays = reader->order.strays;
        info->undone_splits = reader->order.part;
        info->times = &reader->order.times;
        if (reader->ended) {
            const enum bl_status said = say_at_end(reader);
            if (said != BL_OK && reader->status == BL_OK) {
                reader->status = bl_fail_memory(&reader->error);
            }
        }
    }
    if (reader->status != BL_OK && error != NULL) {
        *error = reader->error;
    }
    return reader->status;
}

const struct bl_bus_info *bl_bus_info(const struct bl_bus_reader *reader)
{
    return &reader->context.info;
}

void bl_bus_close(struct bl_bus_reader *reader)
{
    if (reader == NULL) {
        return;
    }
    if (reader->format != NULL) {
        reader->format->close(reader->state);
    }
    bl_order_finish(&reader->order);
    bl_notes_finish(&reader->context.info.notes);
    bl_free(reader->context.info.bus);
    bl_free(reader);
}
