/* SPDX-License-Identifier: MIT */
/*
 * Trouble codes, names and multi-packet messages on a bus. Which message
 * carries them is known by the role in the mapping tables; transport is the
 * same for the whole family (j1939.h).
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/limits.h"

#include <string.h>

enum { CODES = 64, TALK_MATCHES = 8 };

static enum bl_status left_out(struct bl_links_build *b)
{
    return bl_note(&b->into->notes, "links-left-out", -1, -1,
                   "more than %u trouble codes, names or transports: the rest "
                   "is left out",
                   BL_LIMIT_LINK_TALK);
}

static enum bl_status add_trouble(struct bl_links_build *b,
                                  const struct bl_link_trouble *trouble)
{
    struct bl_links *links = &b->links;
    for (size_t i = 0; i < links->troubles; i++) {
        struct bl_link_trouble *t = &links->trouble[i];
        if (t->recording == trouble->recording && t->bus == trouble->bus &&
            t->source == trouble->source && t->code.spn == trouble->code.spn &&
            t->code.fmi == trouble->code.fmi &&
            t->code.method == trouble->code.method) {
            t->reports++;
            t->last_ns = trouble->last_ns;
            t->multi_packet = t->multi_packet || trouble->multi_packet;
            if (trouble->code.count > t->code.count) {
                t->code.count = trouble->code.count;
            }
            return BL_OK;
        }
    }
    if (links->troubles >= BL_LIMIT_LINK_TALK) {
        return left_out(b);
    }
    void *grown = bl_realloc(links->trouble, links->troubles + 1,
                             sizeof(*links->trouble));
    if (grown == NULL) {
        return BL_NOMEM;
    }
    links->trouble = grown;
    links->trouble[links->troubles++] = *trouble;
    return BL_OK;
}

/* A message of trouble codes, out of one frame or of several. */
struct troubles {
    size_t bus;
    uint8_t source;
    int64_t time_ns;
    const uint8_t *data;
    size_t size;
    bool multi;
};

static enum bl_status troubles(struct bl_links_build *b,
                               const struct troubles *message)
{
    struct bl_trouble code[CODES];
    size_t count = 0;
    if (bl_trouble_read(message->data, message->size, code, CODES, &count) !=
        BL_OK) {
        return bl_note(&b->into->notes, "trouble-codes-too-short", -1, -1,
                       "a message of trouble codes is shorter than 6 bytes");
    }
    if (count > CODES) {
        count = CODES;
        if (left_out(b) != BL_OK) {
            return BL_NOMEM;
        }
    }
    for (size_t i = 0; i < count; i++) {
        const struct bl_link_trouble trouble = {.recording = b->recording,
                                                .bus = message->bus,
                                                .source = message->source,
                                                .multi_packet = message->multi,
                                                .code = code[i],
                                                .reports = 1,
                                                .first_ns = message->time_ns,
                                                .last_ns = message->time_ns};
        if (add_trouble(b, &trouble) != BL_OK) {
            return BL_NOMEM;
        }
    }
    return BL_OK;
}

static enum bl_status claim(struct bl_links_build *b, size_t bus,
                            uint8_t source, int64_t time_ns,
                            const uint8_t *data, size_t size)
{
    struct bl_links *links = &b->links;
    if (size < 8) {
        return bl_note(&b->into->notes, "claim-too-short", -1, -1,
                       "an address claim is shorter than 8 bytes");
    }
    const struct bl_name name = bl_name_split(data);
    for (size_t i = 0; i < links->names; i++) {
        struct bl_link_name *n = &links->name[i];
        if (n->recording == b->recording && n->bus == bus &&
            n->source == source && n->name.raw == name.raw) {
            n->claims++;
            return BL_OK;
        }
    }
    if (links->names >= BL_LIMIT_LINK_TALK) {
        return left_out(b);
    }
    void *grown =
        bl_realloc(links->name, links->names + 1, sizeof(*links->name));
    if (grown == NULL) {
        return BL_NOMEM;
    }
    links->name = grown;
    links->name[links->names++] =
        (struct bl_link_name){b->recording, bus, source, name, 1, time_ns};
    return BL_OK;
}

static enum bl_status count_transport(struct bl_links_build *b,
                                      const struct bl_transport_message *m)
{
    struct bl_links *links = &b->links;
    for (size_t i = 0; i < links->transports; i++) {
        struct bl_link_transport *t = &links->transport[i];
        if (t->recording == b->recording && t->bus == m->bus &&
            t->source == m->source && t->pgn == m->pgn) {
            t->messages++;
            t->longest = m->size > t->longest ? m->size : t->longest;
            return BL_OK;
        }
    }
    if (links->transports >= BL_LIMIT_LINK_TALK) {
        return left_out(b);
    }
    void *grown = bl_realloc(links->transport, links->transports + 1,
                             sizeof(*links->transport));
    if (grown == NULL) {
        return BL_NOMEM;
    }
    links->transport = grown;
    links->transport[links->transports++] = (struct bl_link_transport){
        b->recording, m->bus, m->source, m->pgn, 1, m->size};
    return BL_OK;
}

static bool any_role(const struct bl_message *message, enum bl_role role)
{
    for (size_t i = 0; i < message->signals; i++) {
        if (message->signal[i].role == role) {
            return true;
        }
    }
    return false;
}

static enum bl_status completed(struct bl_links_build *b,
                                const struct bl_transport_message *m)
{
    const struct bl_message *found[TALK_MATCHES];
    if (count_transport(b, m) != BL_OK) {
        return BL_NOMEM;
    }
    const uint32_t id = bl_id_join(6, m->pgn, m->source, m->destination);
    const size_t matches =
        b->tables == NULL
            ? 0
            : bl_tables_match(b->tables, id, true, NULL, found, TALK_MATCHES);
    for (size_t i = 0; i < matches && i < TALK_MATCHES; i++) {
        if (any_role(found[i], BL_ROLE_TROUBLE_CODES)) {
            const struct troubles message = {m->bus,  m->source, m->last_ns,
                                             m->data, m->size,   true};
            return troubles(b, &message);
        }
    }
    return BL_OK;
}

enum bl_status bl_links_talk(struct bl_links_build *b,
                             const struct bl_link_build *item,
                             const struct bl_frame *frame)
{
    const uint8_t source = bl_id_split(frame->id).source;
    if (item->transport) {
        struct bl_transport_message message;
        bool done = false;
        const enum bl_status status =
            bl_transport_feed(b->transport,
                              &(const struct bl_transport_frame){
                                  frame->time_ns, (uint16_t)item->seen.bus,
                                  frame->id, frame->data, frame->length},
                              &done, &message);
        return status == BL_OK && done ? completed(b, &message) : status;
    }
    const struct troubles message = {item->seen.bus, source,
                                     frame->time_ns, frame->data,
                                     frame->length,  false};
    return item->trouble ? troubles(b, &message)
                         : claim(b, item->seen.bus, source, frame->time_ns,
                                 frame->data, frame->length);
}
