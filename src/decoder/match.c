/* SPDX-License-Identifier: MIT */
/*
 * Which messages a frame may be: a binary search over what identifies a
 * message, then the sender decides between twins. The more a row says about
 * its sender the better it fits: an address beats a place in the combination,
 * and that beats "any".
 */
#include "decoder/tables.h"

#include "base/alloc.h"

#include <stdlib.h>

enum { TOWING = 1, TOWED = 2 };
#define SINGLE (UINT64_C(1) << 40)
#define EXTENDED (UINT64_C(1) << 32)

static uint64_t key_of_id(uint32_t id, bool extended)
{
    return SINGLE | (extended ? EXTENDED : 0) | id;
}

static uint64_t key_of_message(const struct bl_message *message)
{
    return message->single_id ? key_of_id(message->id, message->id > 0x7FF)
                              : message->pgn;
}

static int by_key(const void *a, const void *b)
{
    const struct bl_index_entry *one = a, *other = b;
    if (one->key != other->key) {
        return one->key < other->key ? -1 : 1;
    }
    return one->order < other->order ? -1 : one->order > other->order;
}

enum bl_status bl_tables_index(struct bl_tables *tables)
{
    struct bl_index_entry *index = bl_alloc(tables->messages, sizeof(*index));
    if (index == NULL) {
        return BL_NOMEM;
    }
    for (size_t i = 0; i < tables->messages; i++) {
        index[i].message = tables->message[i];
        index[i].order = i;
        index[i].key = key_of_message(tables->message[i]);
    }
    qsort(index, tables->messages, sizeof(*index), by_key);
    bl_free(tables->index);
    tables->index = index;
    return BL_OK;
}

static size_t first_with(const struct bl_tables *tables, uint64_t key)
{
    size_t low = 0, high = tables->messages;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (tables->index[middle].key < key) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

static bool place_of(const struct bl_addresses *units, uint8_t address,
                     size_t *place)
{
    for (size_t i = 0; i < units->count; i++) {
        if (units->address[i] == address) {
            *place = i;
            return true;
        }
    }
    return false;
}

static const uint8_t usual[] = {0x20, 0xC8, 0xC0, 0xB8, 0xB0, 0xA8};
static const struct bl_addresses usual_units = {usual, sizeof(usual)};

/* A sender that is not one of the units acts as whom it speaks to shows.
   Towed units' addresses need not be stated. */
static unsigned stranger_acts_as(const struct bl_addresses *units,
                                 const struct bl_id *id)
{
    size_t to;
    if (!id->pdu1) {
        return 0;
    }
    return place_of(units, id->destination, &to) && to == 0 ? TOWED
                                                            : TOWING | TOWED;
}

/* What the sender acts as in this frame: the front unit tows, the rear one is
   towed, those between are both unless the destination tells. */
static unsigned acts_as(const struct bl_addresses *units,
                        const struct bl_id *id)
{
    size_t from, to;
    if (!place_of(units, id->source, &from)) {
        return stranger_acts_as(units, id);
    }
    if (id->pdu1 && place_of(units, id->destination, &to) && to != from) {
        return to > from ? TOWING : TOWED;
    }
    if (from == 0) {
        return TOWING;
    }
    /* A unit behind it may have no address that is known. */
    return from + 1 == units->count && !id->pdu1 ? TOWED : TOWING | TOWED;
}

/* How well the sender fits; -1: not at all. */
static int fit(const struct bl_message *message, uint8_t source, unsigned acts)
{
    switch (message->sender) {
    case BL_SENDER_ADDRESS:
        return message->sender_address == source ? 2 : -1;
    case BL_SENDER_TOWING:
        return (acts & TOWING) != 0 ? 1 : -1;
    case BL_SENDER_TOWED:
        return (acts & TOWED) != 0 ? 1 : -1;
    case BL_SENDER_ANY:
        break;
    }
    return 0;
}

static size_t write_all(const struct bl_tables *tables, uint64_t key,
                        const struct bl_message **found, size_t room)
{
    size_t count = 0;
    for (size_t i = first_with(tables, key);
         i < tables->messages && tables->index[i].key == key; i++) {
        if (count < room) {
            found[count] = tables->index[i].message;
        }
        count++;
    }
    return count;
}

/* The rows of its group that fit the sender best. */
static size_t match_group(const struct bl_tables *tables,
                          const struct bl_id *parts, unsigned acts,
                          const struct bl_message **found, size_t room)
{
    size_t count = 0;
    int best = 0;
    for (size_t i = first_with(tables, parts->pgn);
         i < tables->messages && tables->index[i].key == parts->pgn; i++) {
        const struct bl_message *message = tables->index[i].message;
        const int how = fit(message, parts->source, acts);
        if (how < best) {
            continue;
        }
        if (how > best) {
            best = how;
            count = 0;
        }
        if (count < room) {
            found[count] = message;
        }
        count++;
    }
    return count;
}

size_t bl_tables_match(const struct bl_tables *tables, uint32_t id,
                       bool extended, const struct bl_addresses *units,
                       const struct bl_message **found, size_t room)
{
    size_t count = write_all(tables, key_of_id(id, extended), found, room);
    if (count > 0 || !extended) {
        return count; /* one identifier says more than a group */
    }
    const struct bl_id parts = bl_id_split(id);
    const bool stated = units != NULL && units->count > 0;
    count = match_group(tables, &parts,
                        acts_as(stated ? units : &usual_units, &parts), found,
                        room);
    /* A unit whose address is not stated may have a usual one. */
    return count > 0 || !stated
               ? count
               : match_group(tables, &parts, acts_as(&usual_units, &parts),
                             found, room);
}
