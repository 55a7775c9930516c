/* SPDX-License-Identifier: MIT */
/*
 * Which identifiers a trial's train should show on which link, from the tables
 * and the addresses alone: what the unit in front sends to the one behind it,
 * and back. Priorities are those that the demand and fast messages (period up
 * to 10 ms: 3) and all others (6) use (J1939-21; public layouts of ISO 11992).
 * A message that is sent under either of two numbers has one priority.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <ctype.h>
#include <string.h>

struct ids {
    struct bl_reach_id *item;
    size_t count, capacity;
};

static bool coupling_message(const struct bl_message *m)
{
    return m->direction != BL_DIRECTION_ANY;
}

static bool same_layout(const struct bl_message *a, const struct bl_message *b)
{
    if (a->direction != b->direction || a->signals != b->signals) {
        return false;
    }
    for (size_t i = 0; i < a->signals; i++) {
        if (strcmp(a->signal[i].name, b->signal[i].name) != 0) {
            return false;
        }
    }
    return true;
}

/* The table may state the period of one of two numbers only. */
static double period_ms(const struct bl_trial *trial,
                        const struct bl_message *m)
{
    for (size_t i = 0;
         m->period_ms <= 0 && i < bl_tables_messages(trial->tables); i++) {
        const struct bl_message *other = bl_tables_message(trial->tables, i);
        if (other->period_ms > 0 && same_layout(other, m)) {
            return other->period_ms;
        }
    }
    return m->period_ms;
}

static bool add(struct ids *ids, const struct bl_trial *trial, size_t unit,
                const struct bl_message *m)
{
    const bool down = m->direction == BL_DIRECTION_DOWN;
    const uint8_t front = (uint8_t)trial->unit[unit - 1].address;
    const uint8_t self = (uint8_t)trial->unit[unit].address;
    struct bl_reach_id *into;
    if (!bl_grow(&ids->item, &ids->capacity, ids->count + 1, sizeof(*ids->item),
                 BL_LIMIT_IDENTIFIERS)) {
        return false;
    }
    into = &ids->item[ids->count++];
    into->unit = unit;
    into->message = m;
    into->from_front = down;
    into->extended = !m->single_id || m->id > 0x7FF;
    /* A single-byte group has the partner's address in the identifier. */
    const double every_ms = period_ms(trial, m);
    const uint8_t priority = every_ms > 0 && every_ms <= 10 ? 3 : 6;
    into->id = m->single_id ? m->id
                            : bl_id_join(priority, m->pgn, down ? front : self,
                                         down ? self : front);
    return true;
}

static enum bl_status no_address(const struct bl_trial *trial, size_t unit,
                                 struct bl_error *error)
{
    char label[32];
    return bl_fail_line(
        error, BL_NODATA, trial->path, trial->unit[unit].line,
        "unit %s: expected an address, so that identifiers "
        "can be told, found none",
        bl_trial_unit_label(&trial->unit[unit], label, sizeof(label)));
}

enum bl_status bl_reach_ids(struct bl_reach_id **out, size_t *count,
                            const struct bl_trial *trial,
                            struct bl_error *error)
{
    struct ids ids = {0};
    *out = NULL;
    *count = 0;
    for (size_t unit = 1; unit < trial->units; unit++) {
        if (trial->unit[unit].number == 0) {
            continue;
        }
        for (size_t back = 0; back < 2; back++) {
            if (trial->unit[unit - back].address < 0) {
                bl_free(ids.item);
                return no_address(trial, unit - back, error);
            }
        }
        for (size_t m = 0; m < bl_tables_messages(trial->tables); m++) {
            const struct bl_message *message =
                bl_tables_message(trial->tables, m);
            if (coupling_message(message) && !add(&ids, trial, unit, message)) {
                bl_free(ids.item);
                return bl_fail_memory(error);
            }
        }
    }
    *out = ids.item;
    *count = ids.count;
    return BL_OK;
}

void bl_reach_ids_destroy(struct bl_reach_id *ids)
{
    bl_free(ids);
}

/* "J1939 SPN 84: ..." or "SPN 959 to 964": the numbers named first count. */
static bool cites(const char *source, uint32_t spn)
{
    const char *at = source == NULL ? NULL : strstr(source, "SPN ");
    if (at == NULL || !isdigit((unsigned char)at[4])) {
        return false;
    }
    uint32_t number = 0;
    for (at += 4; isdigit((unsigned char)*at) && number < 1000000; at++) {
        number = number * 10 + (uint32_t)(*at - '0');
    }
    return number == spn && *at == ':';
}

const struct bl_signal *bl_spn_signal(const struct bl_tables *tables,
                                      uint32_t spn)
{
    const size_t messages = tables == NULL ? 0 : bl_tables_messages(tables);
    for (size_t m = 0; m < messages; m++) {
        const struct bl_message *message = bl_tables_message(tables, m);
        for (size_t i = 0; i < message->signals; i++) {
            if (cites(message->signal[i].source, spn)) {
                return &message->signal[i];
            }
        }
    }
    return NULL;
}
