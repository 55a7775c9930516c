/* SPDX-License-Identifier: MIT */
/* Who speaks on the buses: senders and their names, multi-packet messages,
   trouble codes. The tables' roles say which message carries what. */
#include "survey/internal.h"

#include <stdlib.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

enum { CODES = 64, ITEMS_MAX = 65536, CACHE = 4096 };

/* What an identifier on a bus leads to, so that neither it is taken apart nor
   the tables are asked at every frame. */
struct cached {
    bool known, claims, codes, transport;
    uint16_t bus;
    uint8_t source;
    uint32_t id;
    uint32_t address; /* place in the list + 1 */
};

struct bl_survey_talk {
    struct bl_survey_file *file;
    const struct bl_tables *tables;
    struct bl_transport *transport;
    size_t address_capacity, name_capacity, transport_capacity;
    size_t trouble_capacity;
    struct cached cache[CACHE];
    uint32_t place[BL_BUS_MAX][256]; /* of an address, + 1 */
    int64_t last_ns;
};

enum bl_status bl_survey_talk_create(struct bl_survey_talk **out,
                                     struct bl_survey_file *file,
                                     const struct bl_tables *tables,
                                     struct bl_error *error)
{
    struct bl_survey_talk *talk = bl_alloc(1, sizeof(*talk));
    *out = talk;
    if (talk == NULL) {
        return bl_fail_memory(error);
    }
    talk->file = file;
    talk->tables = tables;
    return bl_transport_create(&talk->transport, BL_LIMIT_TRANSPORT_BYTES,
                               error);
}

void bl_survey_talk_destroy(struct bl_survey_talk *talk)
{
    if (talk != NULL) {
        bl_transport_destroy(talk->transport);
        bl_free(talk);
    }
}

static struct bl_survey_address *address_of(struct bl_survey_talk *talk,
                                            uint16_t bus, uint8_t address)
{
    struct bl_survey_file *file = talk->file;
    uint32_t *place = &talk->place[bus][address];
    if (*place == 0) {
        if (!bl_grow(&file->address, &talk->address_capacity,
                     file->addresses + 1, sizeof(*file->address), ITEMS_MAX)) {
            return NULL;
        }
        struct bl_survey_address *added = &file->address[file->addresses++];
        memset(added, 0, sizeof(*added));
        added->bus = bus;
        added->address = address;
        *place = (uint32_t)file->addresses;
    }
    return &file->address[*place - 1];
}

/* The message of an identifier that has a signal of this role; NULL. */
static const struct bl_message *with_role(const struct bl_tables *tables,
                                          uint32_t id, enum bl_role role)
{
    const struct bl_message *found[BL_SURVEY_MESSAGES];
    if (tables == NULL) {
        return NULL;
    }
    const size_t count =
        bl_tables_match(tables, id, true, NULL, found, BL_SURVEY_MESSAGES);
    for (size_t m = 0; m < count && m < BL_SURVEY_MESSAGES; m++) {
        for (size_t s = 0; s < found[m]->signals; s++) {
            if (found[m]->signal[s].role == role) {
                return found[m];
            }
        }
    }
    return NULL;
}

static const struct cached *facts_of(struct bl_survey_talk *talk, uint16_t bus,
                                     uint32_t id)
{
    struct cached *cached = &talk->cache[(id ^ id >> 12 ^ bus) % CACHE];
    if (cached->known && cached->id == id && cached->bus == bus) {
        return cached;
    }
    const uint8_t source = bl_id_split(id).source;
    if (address_of(talk, bus, source) == NULL) {
        return NULL;
    }
    *cached = (struct cached){
        .known = true,
        .claims = with_role(talk->tables, id, BL_ROLE_ADDRESS_CLAIM) != NULL,
        .codes = with_role(talk->tables, id, BL_ROLE_TROUBLE_CODES) != NULL,
        .transport = bl_transport_takes(id),
        .bus = bus,
        .source = source,
        .id = id,
        .address = talk->place[bus][source]};
    return cached;
}

static enum bl_status add_code(struct bl_survey_talk *talk, uint16_t bus,
                               uint8_t source, int64_t time_ns,
                               const struct bl_trouble *code,
                               struct bl_error *error)
{
    struct bl_survey_file *file = talk->file;
    size_t i = 0;
    while (i < file->troubles &&
           !(file->trouble[i].bus == bus && file->trouble[i].source == source &&
             file->trouble[i].code.spn == code->spn &&
             file->trouble[i].code.fmi == code->fmi &&
             file->trouble[i].code.method == code->method)) {
        i++;
    }
    if (i == file->troubles) {
        if (i >= ITEMS_MAX / 64) {
            return bl_note(&file->notes, "trouble-codes-left-out", -1, -1,
                           "more than %d different trouble codes: the others "
                           "are counted here only",
                           ITEMS_MAX / 64);
        }
        if (!bl_grow(&file->trouble, &talk->trouble_capacity, i + 1,
                     sizeof(*file->trouble), ITEMS_MAX)) {
            return bl_fail_memory(error);
        }
        memset(&file->trouble[i], 0, sizeof(file->trouble[i]));
        file->trouble[i].bus = bus;
        file->trouble[i].source = source;
        file->trouble[i].first_ns = time_ns;
        file->troubles++;
    }
    file->trouble[i].code = *code;
    file->trouble[i].last_ns = time_ns;
    file->trouble[i].seen++;
    return BL_OK;
}

static enum bl_status add_name(struct bl_survey_talk *talk,
                               const struct bl_frame *frame, uint8_t source,
                               struct bl_error *error)
{
    struct bl_survey_file *file = talk->file;
    const struct bl_name name = bl_name_split(frame->data);
    size_t i = 0;
    while (i < file->names && !(file->name[i].bus == frame->bus &&
                                file->name[i].address == source &&
                                file->name[i].name.raw == name.raw)) {
        i++;
    }
    if (i == file->names) {
        if (i >= ITEMS_MAX / 64) {
            return bl_note(&file->notes, "names-left-out", -1, -1,
                           "more than %d different address claims: the others "
                           "are counted here only",
                           ITEMS_MAX / 64);
        }
        if (!bl_grow(&file->name, &talk->name_capacity, i + 1,
                     sizeof(*file->name), ITEMS_MAX)) {
            return bl_fail_memory(error);
        }
        file->name[file->names++] =
            (struct bl_survey_name){.bus = frame->bus,
                                    .address = source,
                                    .name = name,
                                    .first_ns = frame->time_ns};
    }
    file->name[i].claims++;
    file->name[i].last_ns = frame->time_ns;
    return BL_OK;
}

static enum bl_status read_codes(struct bl_survey_talk *talk,
                                 const struct bl_transport_message *message,
                                 struct bl_error *error)
{
    struct bl_trouble code[CODES];
    size_t count = 0;
    if (bl_trouble_read(message->data, message->size, code, CODES, &count) !=
        BL_OK) {
        return bl_note(&talk->file->notes, "short-trouble-message", -1, -1,
                       "expected at least 6 bytes of trouble codes, found %zu",
                       message->size);
    }
    for (size_t i = 0; i < count && i < CODES; i++) {
        const enum bl_status status =
            add_code(talk, message->bus, message->source, message->last_ns,
                     &code[i], error);
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

static enum bl_status add_transport(struct bl_survey_talk *talk,
                                    const struct bl_transport_message *message,
                                    struct bl_error *error)
{
    struct bl_survey_file *file = talk->file;
    const uint32_t id =
        bl_id_join(6, message->pgn, message->source, message->destination);
    size_t i = 0;
    while (i < file->transports &&
           !(file->transport[i].bus == message->bus &&
             file->transport[i].pgn == message->pgn &&
             file->transport[i].source == message->source &&
             file->transport[i].destination == message->destination)) {
        i++;
    }
    if (i == file->transports && i < ITEMS_MAX / 64) {
        if (!bl_grow(&file->transport, &talk->transport_capacity, i + 1,
                     sizeof(*file->transport), ITEMS_MAX)) {
            return bl_fail_memory(error);
        }
        struct bl_survey_transport *added = &file->transport[i];
        memset(added, 0, sizeof(*added));
        added->bus = message->bus;
        added->pgn = message->pgn;
        added->source = message->source;
        added->destination = message->destination;
        if (talk->tables != NULL) {
            const struct bl_message *found = NULL;
            if (bl_tables_match(talk->tables, id, true, NULL, &found, 1) > 0) {
                added->message = found;
            }
        }
        file->transports++;
    }
    if (i < file->transports) {
        file->transport[i].messages++;
        if (message->size > file->transport[i].largest) {
            file->transport[i].largest = message->size;
        }
    } else if (bl_note(&file->notes, "transport-left-out", -1, -1,
                       "more than %d kinds of multi-packet messages: the "
                       "others are counted here only",
                       ITEMS_MAX / 64) != BL_OK) {
        return bl_fail_memory(error);
    }
    if (with_role(talk->tables, id, BL_ROLE_TROUBLE_CODES) != NULL) {
        return read_codes(talk, message, error);
    }
    return BL_OK;
}

/* Multi-packet messages. */
static enum bl_status feed_transport(struct bl_survey_talk *talk,
                                     const struct bl_frame *frame,
                                     struct bl_error *error)
{
    bool done = false;
    struct bl_transport_message message;
    const enum bl_status status = bl_transport_feed(
        talk->transport,
        &(const struct bl_transport_frame){
            frame->time_ns, frame->bus, frame->id, frame->data, frame->length},
        &done, &message);
    if (status != BL_OK) {
        return bl_fail_memory(error);
    }
    return done ? add_transport(talk, &message, error) : BL_OK;
}

enum bl_status bl_survey_talk_meet(struct bl_survey_talk *talk,
                                   const struct bl_frame *frame, bool *listen,
                                   struct bl_error *error)
{
    const struct cached *facts = facts_of(talk, frame->bus, frame->id);
    if (facts == NULL) {
        return bl_fail_memory(error);
    }
    *listen = facts->claims || facts->codes || facts->transport;
    return BL_OK;
}

void bl_survey_talk_count(struct bl_survey_talk *talk, uint16_t bus,
                          uint32_t id, uint64_t frames)
{
    const uint32_t place = talk->place[bus][bl_id_split(id).source];
    if (place > 0) {
        talk->file->address[place - 1].frames += frames;
    }
}

void bl_survey_talk_until(struct bl_survey_talk *talk, int64_t time_ns)
{
    talk->last_ns = time_ns;
}

enum bl_status bl_survey_talk_feed(struct bl_survey_talk *talk,
                                   const struct bl_frame *frame,
                                   struct bl_error *error)
{
    const struct cached *facts = facts_of(talk, frame->bus, frame->id);
    if (facts == NULL) {
        return bl_fail_memory(error);
    }
    enum bl_status status = BL_OK;
    if (frame->length == 8 && facts->claims) {
        status = add_name(talk, frame, facts->source, error);
    }
    if (status == BL_OK && facts->codes) {
        const struct bl_transport_message whole = {.last_ns = frame->time_ns,
                                                   .source = facts->source,
                                                   .bus = frame->bus,
                                                   .data = frame->data,
                                                   .size = frame->length};
        status = read_codes(talk, &whole, error);
    }
    return status == BL_OK && facts->transport &&
                   frame->kind == BL_FRAME_CLASSIC
               ? feed_transport(talk, frame, error)
               : status;
}

static int compare_addresses(const void *a, const void *b)
{
    const struct bl_survey_address *x = a;
    const struct bl_survey_address *y = b;
    if (x->bus != y->bus) {
        return x->bus < y->bus ? -1 : 1;
    }
    return (x->address > y->address) - (x->address < y->address);
}

static int compare_names(const void *a, const void *b)
{
    const struct bl_survey_name *x = a;
    const struct bl_survey_name *y = b;
    if (x->bus != y->bus) {
        return x->bus < y->bus ? -1 : 1;
    }
    if (x->address != y->address) {
        return x->address < y->address ? -1 : 1;
    }
    return (x->name.raw > y->name.raw) - (x->name.raw < y->name.raw);
}

/* Addresses and names in order, and which names are whose. */
static void join_names(struct bl_survey_file *file)
{
    if (file->names > 1) {
        qsort(file->name, file->names, sizeof(*file->name), compare_names);
    }
    size_t n = 0;
    for (size_t i = 0; i < file->addresses; i++) {
        struct bl_survey_address *a = &file->address[i];
        a->name = n;
        while (n < file->names && file->name[n].bus == a->bus &&
               file->name[n].address == a->address) {
            n++;
        }
        a->names = n - a->name;
    }
}

void bl_survey_talk_finish(struct bl_survey_talk *talk)
{
    /* What had no packet for too long before the last frame has timed out: an
       identifier of no packets tells the time. */
    bool done;
    struct bl_transport_message none;
    if (bl_transport_feed(
            talk->transport,
            &(const struct bl_transport_frame){talk->last_ns, 0, 0, NULL, 0},
            &done, &none) != BL_OK) {
        return; /* only a packet can fail */
    }
    bl_transport_flush(talk->transport);
    if (talk->file->addresses > 1) {
        qsort(talk->file->address, talk->file->addresses,
              sizeof(*talk->file->address), compare_addresses);
    }
    join_names(talk->file);
    for (int i = 0; i < BL_TRANSPORT_LOSSES; i++) {
        talk->file->transport_lost[i] =
            bl_transport_lost(talk->transport, (enum bl_transport_loss)i);
    }
}
