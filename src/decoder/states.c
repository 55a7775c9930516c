/* SPDX-License-Identifier: MIT */
/* Words of a state signal: "0=passive;1=active". */
#include "decoder/tables.h"

#include "base/number.h"

#include <stdio.h>
#include <string.h>

struct entry {
    uint64_t raw;
    const char *word;
    size_t length;
};

/* The entry at *at; moves behind it. False: it is not one. */
static bool next_entry(const char **at, struct entry *entry)
{
    const char *text = *at;
    const size_t length = strcspn(text, ";");
    const char *equals = memchr(text, '=', length);
    if (equals == NULL ||
        !bl_unsigned_parse(text, (size_t)(equals - text), &entry->raw)) {
        return false;
    }
    entry->word = equals + 1;
    entry->length = (size_t)(text + length - entry->word);
    *at = text + length + (text[length] == ';');
    return entry->length > 0;
}

bool bl_row_check_states(struct bl_loader *loader, const char *states,
                         unsigned bits)
{
    const uint64_t most = bits >= 64 ? UINT64_MAX : (UINT64_C(1) << bits) - 1;
    uint64_t last = 0;
    const char *at = states;
    while (*at != '\0') {
        const bool first = at == states;
        struct entry entry;
        if (!next_entry(&at, &entry)) {
            bl_loader_mistake(loader, loader->line,
                              "states: expected 0=word;1=word, found '%s'",
                              states);
            return false;
        }
        if (entry.raw > most || (!first && entry.raw <= last)) {
            bl_loader_mistake(loader, loader->line,
                              "states: expected rising values that fit into "
                              "%u bits, found '%s'",
                              bits, states);
            return false;
        }
        last = entry.raw;
    }
    return true;
}

const char *bl_signal_state_text(const struct bl_signal *signal, uint64_t raw,
                                 char *text, size_t size)
{
    const char *at = signal->states;
    struct entry entry;
    while (*at != '\0' && next_entry(&at, &entry)) {
        if (entry.raw == raw) {
            (void)snprintf(text, size, "%.*s", (int)entry.length, entry.word);
            return text;
        }
    }
    return NULL;
}
