/* SPDX-License-Identifier: MIT */
/*
 * Rows to messages: rows of one message stand together and agree on what the
 * message is; its signals have names of their own and do not overlap. Fed by
 * row.c.
 */
#include "decoder/tables.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <string.h>

enum { FRAME_BITS = 64, SIGNALS_MOST = 1024 };

/* A copy that lives as long as the table; NULL when out of memory. */
static const char *keep(struct bl_loader *loader, const char *text)
{
    struct bl_table *table = loader->table;
    if (!bl_grow(&table->text, &table->text_capacity, table->texts + 1,
                 sizeof(*table->text), (size_t)BL_LIMIT_TABLE_ROWS * 8)) {
        bl_loader_memory(loader);
        return NULL;
    }
    char *copy = bl_strdup(text);
    if (copy == NULL) {
        bl_loader_memory(loader);
        return NULL;
    }
    table->text[table->texts++] = copy;
    return copy;
}

static struct bl_message *last_message(struct bl_table *table)
{
    return table->messages == 0 ? NULL : &table->message[table->messages - 1];
}

static bool new_message(struct bl_loader *loader, const struct bl_message *from)
{
    struct bl_table *table = loader->table;
    for (size_t i = 0; i < table->messages; i++) {
        if (strcmp(table->message[i].name, from->name) == 0) {
            bl_loader_mistake(loader, loader->line,
                              "message: the rows of %s do not stand together",
                              from->name);
            return false;
        }
    }
    if (!bl_grow(&table->message, &table->message_capacity, table->messages + 1,
                 sizeof(*table->message), BL_LIMIT_TABLE_ROWS)) {
        bl_loader_memory(loader);
        return false;
    }
    struct bl_message message = *from;
    message.name = keep(loader, from->name);
    message.table = table->info.name;
    if (message.name == NULL) {
        return false;
    }
    table->message[table->messages++] = message;
    return true;
}

static bool same_message(struct bl_loader *loader, const struct bl_message *a,
                         const struct bl_message *b)
{
    const char *column = NULL;
    if (a->single_id != b->single_id || a->id != b->id || a->pgn != b->pgn) {
        column = "pgn";
    } else if (a->sender != b->sender ||
               a->sender_address != b->sender_address) {
        column = "sender";
    } else if (a->direction != b->direction) {
        column = "direction";
    } else if (a->period_ms != b->period_ms) {
        column = "period_ms";
    }
    if (column == NULL) {
        return true;
    }
    bl_loader_mistake(loader, loader->line,
                      "%s: differs from the first row of message %s", column,
                      a->name);
    return false;
}

/* Bits of one byte that a signal takes. */
static unsigned bits_in(const struct bl_signal *signal, size_t byte)
{
    const size_t first = signal->start_bit / 8;
    const unsigned bit = signal->start_bit % 8;
    const size_t length = signal->bits;
    /* Of the signal's bits, in its own order, those in front of this byte. */
    const size_t before =
        byte == first
            ? 0
            : (byte - first - 1) * 8 + (signal->big_endian ? bit + 1 : 8 - bit);
    const size_t left = length - before;
    if (signal->big_endian) {
        const unsigned top = byte == first ? bit + 1 : 8;
        const unsigned low = left >= top ? 0 : top - (unsigned)left;
        return (1u << top) - (1u << low);
    }
    const unsigned low = byte == first ? bit : 0;
    const unsigned top = left >= 8 - low ? 8 : low + (unsigned)left;
    return (1u << top) - (1u << low);
}

static bool overlap(const struct bl_signal *a, const struct bl_signal *b)
{
    if (bl_signal_to_end(a) || bl_signal_to_end(b)) {
        return false; /* the whole payload, beside its parts */
    }
    size_t at = a->start_bit / 8;
    const size_t other = b->start_bit / 8;
    const size_t end_a = bl_signal_end(a);
    const size_t end_b = bl_signal_end(b);
    for (at = at > other ? at : other; at < end_a && at < end_b; at++) {
        if ((bits_in(a, at) & bits_in(b, at)) != 0) {
            return true;
        }
    }
    return false;
}

static bool fits_among(struct bl_loader *loader,
                       const struct bl_message *message,
                       const struct bl_signal *signal)
{
    const struct bl_table *table = loader->table;
    const size_t first = table->signals - message->signals;
    if (message->signals >= SIGNALS_MOST) {
        bl_loader_mistake(loader, loader->line,
                          "message: %s has more than %d signals", message->name,
                          SIGNALS_MOST);
        return false;
    }
    for (size_t i = 0; i < message->signals; i++) {
        const struct bl_signal *other = &table->signal[first + i];
        if (strcmp(other->name, signal->name) == 0) {
            bl_loader_mistake(loader, loader->line,
                              "signal: %s.%s is there already, in line %d",
                              message->name, signal->name, other->line);
            return false;
        }
        if (overlap(other, signal)) {
            bl_loader_mistake(
                loader, loader->line, "start: %s.%s overlaps %s of line %d",
                message->name, signal->name, other->name, other->line);
            return false;
        }
    }
    return true;
}

void bl_loader_place(struct bl_loader *loader, const struct bl_row *row)
{
    struct bl_table *table = loader->table;
    struct bl_message *message = last_message(table);
    if (message == NULL || strcmp(message->name, row->message.name) != 0) {
        if (!new_message(loader, &row->message)) {
            return;
        }
        message = last_message(table);
    } else if (!same_message(loader, message, &row->message)) {
        return;
    }
    if (!fits_among(loader, message, &row->signal)) {
        return;
    }
    if (!bl_grow(&table->signal, &table->signal_capacity, table->signals + 1,
                 sizeof(*table->signal), BL_LIMIT_TABLE_ROWS)) {
        bl_loader_memory(loader);
        return;
    }
    struct bl_signal signal = row->signal;
    signal.name = keep(loader, signal.name);
    signal.unit = keep(loader, signal.unit);
    signal.states = keep(loader, signal.states);
    signal.source = keep(loader, signal.source);
    if (loader->status == BL_NOMEM) {
        return;
    }
    table->signal[table->signals++] = signal;
    message->signals++;
    table->info.by_confidence[signal.confidence]++;
}

/* Only a message that carries text to its end is longer than a frame. */
static void check_length(struct bl_loader *loader,
                         const struct bl_message *message)
{
    for (size_t i = 0; i < message->signals; i++) {
        if (bl_signal_to_end(&message->signal[i])) {
            return;
        }
    }
    for (size_t i = 0; i < message->signals; i++) {
        const struct bl_signal *signal = &message->signal[i];
        if (8 * bl_signal_end(signal) > FRAME_BITS) {
            bl_loader_mistake(loader, signal->line,
                              "bits: %s.%s ends in byte %zu, a frame has %d",
                              message->name, signal->name,
                              bl_signal_end(signal), FRAME_BITS / 8);
        }
    }
}

void bl_loader_end(struct bl_loader *loader)
{
    struct bl_table *table = loader->table;
    size_t first = 0;
    for (size_t i = 0; i < table->messages; i++) {
        struct bl_message *message = &table->message[i];
        message->signal = table->signal == NULL ? NULL : table->signal + first;
        for (size_t k = 0; k < message->signals; k++) {
            table->signal[first + k].message = message;
        }
        first += message->signals;
        check_length(loader, message);
    }
    table->info.messages = table->messages;
    table->info.signals = table->signals;
}
