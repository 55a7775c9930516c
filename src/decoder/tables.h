/* SPDX-License-Identifier: MIT */
/* How a set of mapping tables is kept, and the parts that load it. */
#ifndef BRAKELAG_SRC_DECODER_TABLES_H
#define BRAKELAG_SRC_DECODER_TABLES_H

#include "brakelag/decoder.h"

/* Is this word of `tables` a file's path, not the name of a shipped table? */
bool bl_tables_is_path(const char *word);

/* One loaded table; it owns the text that its messages point to. */
struct bl_table {
    struct bl_table_info info;
    char **text;
    size_t texts, text_capacity;
    struct bl_signal *signal; /* all rows; each message has a stretch */
    size_t signals, signal_capacity;
    struct bl_message *message;
    size_t messages, message_capacity;
};

struct bl_index_entry {
    uint64_t key;
    size_t order;
    const struct bl_message *message;
};

struct bl_tables {
    struct bl_table **table;
    size_t count, capacity;
    const struct bl_message **message; /* those not replaced */
    size_t messages, message_capacity;
    struct bl_index_entry *index; /* one per message, sorted by key */
    struct bl_notes notes;
};

/* Where rows go and mistakes are listed. `failed` after the first mistake,
   `status` what to return then. */
struct bl_loader {
    struct bl_table *table;
    const char *source;
    struct bl_notes *mistakes;
    struct bl_error *error;
    int64_t line;
    enum bl_status status;
};
void bl_loader_mistake(struct bl_loader *loader, int64_t line,
                       const char *format, ...) BL_PRINTF(3, 4);
void bl_loader_memory(struct bl_loader *loader);

/* The columns of a row, in order. */
enum bl_column {
    BL_COLUMN_MESSAGE,
    BL_COLUMN_PGN,
    BL_COLUMN_SENDER,
    BL_COLUMN_DIRECTION,
    BL_COLUMN_PERIOD,
    BL_COLUMN_SIGNAL,
    BL_COLUMN_START,
    BL_COLUMN_BITS,
    BL_COLUMN_SCALE,
    BL_COLUMN_OFFSET,
    BL_COLUMN_UNIT,
    BL_COLUMN_LOW,
    BL_COLUMN_HIGH,
    BL_COLUMN_KIND,
    BL_COLUMN_ROLE,
    BL_COLUMN_STATES,
    BL_COLUMN_SOURCE,
    BL_COLUMN_CONFIDENCE,
    BL_COLUMNS
};
const char *bl_column_name(enum bl_column column);

/* One row, checked as far as it can be alone. The texts in it are those of
   the cells, not yet kept. False: mistakes were listed. */
struct bl_row {
    struct bl_message message;
    struct bl_signal signal;
};
bool bl_row_read(struct bl_loader *loader, const char *const cell[BL_COLUMNS],
                 struct bl_row *row);
/* "0=passive;1=active": false with a mistake. */
bool bl_row_check_states(struct bl_loader *loader, const char *states,
                         unsigned bits);

/* Put a row into its message; checks it against the rows before it. */
void bl_loader_place(struct bl_loader *loader, const struct bl_row *row);
/* After the last row: checks of whole messages, pointers between them. */
void bl_loader_end(struct bl_loader *loader);

/* Read `source` into a new table. */
enum bl_status bl_table_load(struct bl_table **out, struct bl_bytes *source,
                             const char *name, struct bl_notes *mistakes,
                             struct bl_error *error);
void bl_table_destroy(struct bl_table *table);

/* Sort the messages by what identifies them. Errors: NOMEM. */
enum bl_status bl_tables_index(struct bl_tables *tables);

/* Bits that a signal takes from its start; text to the end takes none. */
static inline bool bl_signal_to_end(const struct bl_signal *signal)
{
    return signal->kind == BL_SIGNAL_TEXT && signal->bits == 0;
}

/* The byte behind its last one, from 0. */
static inline size_t bl_signal_end(const struct bl_signal *signal)
{
    const size_t first = signal->start_bit / 8;
    const unsigned in_first = signal->start_bit % 8 + 1;
    if (!signal->big_endian) {
        return ((size_t)signal->start_bit + signal->bits + 7) / 8;
    }
    return signal->bits <= in_first
               ? first + 1
               : first + 1 + (signal->bits - in_first + 7) / 8;
}

#endif
