/* SPDX-License-Identifier: MIT */
/*
 * Mapping tables: which bytes of which message mean what. All knowledge of
 * particular messages is data (decoders/ *.csv); analysis finds a signal by
 * its role. docs/mapping-tables.md specifies the file.
 */
#ifndef BRAKELAG_DECODER_H
#define BRAKELAG_DECODER_H

#include "brakelag/io.h"
#include "brakelag/j1939.h"
#include "brakelag/names.h"
#include "brakelag/status.h"

enum bl_sender {
    BL_SENDER_ANY,
    BL_SENDER_TOWING,
    BL_SENDER_TOWED,
    BL_SENDER_ADDRESS
};
enum bl_direction { BL_DIRECTION_ANY, BL_DIRECTION_DOWN, BL_DIRECTION_UP };
enum bl_signal_kind {
    BL_SIGNAL_NUMBER,
    BL_SIGNAL_STATE,
    BL_SIGNAL_COUNT,
    BL_SIGNAL_TEXT
};
/* X(ENUM, "name in tables and results"): how well a row is supported. */
#define BL_CONFIDENCE_LIST(X)                                                  \
    X(CONFIRMED, "confirmed")                                                  \
    X(SINGLE_SOURCE, "single-source")                                          \
    X(FROM_MEMORY, "from-memory")
enum bl_confidence {
#define X(id, name) BL_##id,
    BL_CONFIDENCE_LIST(X)
#undef X
};
BL_API const char *bl_confidence_name(enum bl_confidence confidence);

struct bl_message;

struct bl_signal {
    const struct bl_message *message;
    const char *name;   /* "service_demand" */
    const char *unit;   /* as in the table, "" for none */
    const char *states; /* "0=passive;1=active", "" for none */
    const char *source;
    enum bl_signal_kind kind;
    enum bl_confidence confidence;
    enum bl_role role;  /* BL_ROLE_NONE when analysis does not look for it */
    unsigned start_bit; /* from 0: (byte - 1) * 8 + (bit - 1); of the least
                           significant bit, big-endian: of the most */
    bool big_endian;    /* goes on at bit 8 of the next byte, downwards */
    bool is_signed;     /* number in two's complement: every raw value is one */
    unsigned bits;      /* 1 to 64; text may be longer, a multiple of 8; 0: to
                           the end of the payload */
    double scale, offset; /* value = raw * scale + offset, in `unit` */
    double low, high;     /* valid range in `unit` */
    int line;             /* in its table */
};

struct bl_message {
    const char *name; /* "EBS11" as in the standard that defines it */
    const char *table;
    bool single_id; /* `id` is one identifier: 11 bits, or 29 when above */
    uint32_t id;    /* with single_id */
    uint32_t pgn;   /* without */
    enum bl_sender sender;
    uint8_t sender_address; /* with BL_SENDER_ADDRESS */
    enum bl_direction direction;
    double period_ms; /* 0: on event or unknown */
    const struct bl_signal *signal;
    size_t signals;
};

struct bl_tables; /* a set of loaded tables */

BL_API BL_MUST_CHECK enum bl_status bl_tables_create(struct bl_tables **out,
                                                     struct bl_error *error);
/* Add a table. `name` says which in results (file name without folder and
   ".csv"). All rows are checked; every mistake is appended to `mistakes` (may
   be NULL) with its line, and the first one is the error. A message that an
   earlier table has is replaced whole and noted ("message-replaced").
   Errors: TRIAL (mistakes in the table), IO, LIMIT, NOMEM. */
BL_API BL_MUST_CHECK enum bl_status bl_tables_add(struct bl_tables *tables,
                                                  struct bl_bytes *source,
                                                  const char *name,
                                                  struct bl_notes *mistakes,
                                                  struct bl_error *error);
/* Add by a trial file's word: a path (has '/' or ends in ".csv"), taken as
   relative to `folder`, or the name of a shipped table, looked for in
   BRAKELAG_TABLES (environment), then where they were installed. */
BL_API BL_MUST_CHECK enum bl_status
bl_tables_add_named(struct bl_tables *tables, const char *name,
                    const char *folder, struct bl_notes *mistakes,
                    struct bl_error *error);
BL_API void bl_tables_destroy(struct bl_tables *tables);

/* Names of the shipped tables, NULL-terminated. */
BL_API const char *const *bl_tables_shipped(void);

struct bl_table_info {
    const char *name, *file; /* file: as opened */
    char sha256[BL_SHA256_HEX];
    size_t messages, signals, by_confidence[3];
};
BL_API size_t bl_tables_count(const struct bl_tables *tables);
BL_API const struct bl_table_info *bl_tables_info(const struct bl_tables *t,
                                                  size_t index);
BL_API const struct bl_notes *bl_tables_notes(const struct bl_tables *tables);

/* All messages, in table order. Messages and their signals live as long as the
   tables; adding a table may replace them. */
BL_API size_t bl_tables_messages(const struct bl_tables *tables);
BL_API const struct bl_message *bl_tables_message(const struct bl_tables *t,
                                                  size_t index);
BL_API const struct bl_message *
bl_tables_message_named(const struct bl_tables *tables, const char *name);

/*
 * Which messages a frame may be. Twin messages share a PGN and differ by
 * sender: `units` gives the addresses of towing and towed units (NULL: the
 * usual ones, 0x20 towing, 0xC8 0xC0 0xB8 0xB0 0xA8 towed; a towed unit that
 * tows on is both unless the destination tells; a sender that is not one of
 * them is known by whom it speaks to, or by the usual addresses where no row
 * fits otherwise). A row for one identifier beats a group; a row for the
 * sender's address beats towing or towed, and these beat any. Writes up to
 * `room` and returns how many fit equally well.
 */
struct bl_addresses {
    const uint8_t *address; /* front to rear */
    size_t count;
};
BL_API size_t bl_tables_match(const struct bl_tables *tables, uint32_t id,
                              bool extended, const struct bl_addresses *units,
                              const struct bl_message **found, size_t room);

/* A decoded value. `value` counts only in state VALID (NaN otherwise). */
struct bl_value {
    double value;
    uint64_t raw;
    enum bl_value_state state;
    bool in_range; /* within low..high of the table */
};
BL_API struct bl_value bl_signal_decode(const struct bl_signal *signal,
                                        const uint8_t *data, size_t size);
/* Put the nearest raw value into `data`. Errors: ARG (out of range, or the
   field lies outside `size`). */
BL_API BL_MUST_CHECK enum bl_status
bl_signal_encode(const struct bl_signal *signal, double value, uint8_t *data,
                 size_t size);
BL_API BL_MUST_CHECK enum bl_status
bl_signal_encode_raw(const struct bl_signal *signal, uint64_t raw,
                     uint8_t *data, size_t size);
/* Words for a state value ("active"); NULL where the table has none. The text
   is copied into `text`. */
BL_API const char *bl_signal_state_text(const struct bl_signal *signal,
                                        uint64_t raw, char *text, size_t size);

/* MESSAGE.signal[@address][/bus], as a trial file writes it. */
struct bl_signal_ref {
    const struct bl_signal *signal;
    int address;  /* sender; -1: any */
    char bus[64]; /* "": any */
};
BL_API BL_MUST_CHECK enum bl_status
bl_signal_ref_parse(const struct bl_tables *tables, const char *text,
                    struct bl_signal_ref *out, struct bl_error *error);

/* Signals that have `role`, in table order; returns how many, writes up to
   room. */
BL_API size_t bl_tables_by_role(const struct bl_tables *tables,
                                enum bl_role role,
                                const struct bl_signal **found, size_t room);

#endif
