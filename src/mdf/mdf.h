/* SPDX-License-Identifier: MIT */
/*
 * Measurement files in ASAM MDF 4: what is in them, and their records. One
 * container for both registries: bus/mdf.c makes frames of the records,
 * log/mdf.c rows. The layout of the blocks is that of the standard, versions
 * 4.00 to 4.20, from memory, and compared with two recordings of another
 * program (docs/testing.md). All numbers of blocks are little-endian.
 *
 * Links lead anywhere, so that nothing is believed: every block is looked at
 * before it is used, chains that come back to themselves end there, and a limit
 * stands before every allocation. What is damaged is left out and remembered:
 * its first sentence is `failure`, for the reader's last word.
 */
#ifndef BRAKELAG_SRC_MDF_MDF_H
#define BRAKELAG_SRC_MDF_MDF_H

#include "io/bytes.h"

/* A record may be read this far beyond its end. */
enum { BL_MDF_ID_BYTES = 64, BL_MDF_SLACK = 8 };

/* Type of a number or of bytes in a record. */
enum bl_mdf_type {
    BL_MDF_UNSIGNED,
    BL_MDF_SIGNED,
    BL_MDF_FLOAT, /* 32 or 64 bits; 16 bits are refused */
    BL_MDF_BYTES,
    BL_MDF_TEXT
};

/* Where a value is in a record (behind its identifier). */
struct bl_mdf_field {
    uint32_t byte, bytes; /* that hold it; 0: it stands nowhere (virtual) */
    uint32_t bits;
    uint8_t shift; /* of its lowest bit in them */
    bool big;      /* the first byte is the highest */
    uint64_t mask; /* of a number of up to 64 bits: its bits, at the bottom */
    enum bl_mdf_type type;
};

enum bl_mdf_rule { BL_MDF_AS_IS, BL_MDF_LINEAR, BL_MDF_RATIONAL };

/* From the number in the record to the physical one. */
struct bl_mdf_conversion {
    enum bl_mdf_rule rule;
    double p[6];
    /* Numbers that mean a text: where the rest has a rule of its own they are
       no measurement (`texts_only` false), else they are states. */
    double *text_at;
    size_t texts;
    bool texts_only;
};

/* Kinds of channels, as the standard numbers them. */
enum bl_mdf_kind {
    BL_MDF_FIXED = 0,
    BL_MDF_VARIABLE = 1, /* the record holds an offset into other data */
    BL_MDF_MASTER = 2,
    BL_MDF_VIRTUAL_MASTER = 3,
    BL_MDF_SYNC = 4,
    BL_MDF_UP_TO = 5, /* fixed room, the length in another channel */
    BL_MDF_VIRTUAL = 6
};

struct bl_mdf_channel {
    char *name, *unit; /* never NULL; "" where there is none */
    enum bl_mdf_kind kind;
    uint64_t at;
    bool used;     /* false: refused, and noted */
    bool composed; /* its parts follow as channels of their own */
    bool value;    /* a number that a log can hold */
    struct bl_mdf_field field;
    struct bl_mdf_conversion conversion;
    bool never_valid, may_be_invalid;
    uint32_t invalid_bit;
    uint64_t data;     /* VARIABLE: link to its data */
    uint64_t whole_ns; /* of time: so many ns a count; 0: it has no such step */
};

enum bl_mdf_holds {
    BL_MDF_HOLDS_NOTHING, /* refused, and noted */
    BL_MDF_HOLDS_VALUES,
    BL_MDF_HOLDS_DATA_FRAMES,
    BL_MDF_HOLDS_REMOTE_FRAMES,
    BL_MDF_HOLDS_ERROR_FRAMES,
    BL_MDF_HOLDS_OTHER_FRAMES, /* of a bus that is not read, counted */
    BL_MDF_HOLDS_BYTES         /* of channels of kind VARIABLE */
};

/* Records of one shape. */
struct bl_mdf_group {
    char *name; /* "" where there is none */
    uint64_t at, id, cycles;
    uint32_t data_bytes, invalid_bytes;
    uint16_t flags;
    enum bl_mdf_holds holds;
    size_t set;             /* index of its data */
    size_t first, channels; /* into bl_mdf.channel */
    size_t time;            /* index into bl_mdf.channel; SIZE_MAX: none */
};

/* Data that one or more groups share. */
struct bl_mdf_set {
    uint64_t at, data; /* link to the data; 0: none */
    uint8_t id_bytes;  /* of the identifier in front of a record */
    size_t first, groups;
};

struct bl_mdf {
    struct bl_bytes *source; /* borrowed */
    struct bl_notes *notes;  /* borrowed */
    uint64_t size, held;
    bool unfinished;
    bool frames_left_out; /* a whole group of them cannot be read: noted */
    uint16_t version, left_undone; /* flags of an unfinished file */
    int64_t start_ns;              /* since 1970 */
    bool absolute;                 /* start_ns is set */
    struct bl_mdf_set *set;
    struct bl_mdf_group *group;
    struct bl_mdf_channel *channel;
    size_t sets, groups, channels;
    size_t set_capacity, group_capacity, channel_capacity;
    enum bl_status failed;
    struct bl_error failure;
};

/* Flags of an unfinished file. */
enum { BL_MDF_UNDONE_LAST_LENGTH = 4 };

/* By its first bytes (8 are enough to say no, BL_MDF_ID_BYTES to say yes). */
bool bl_mdf_recognised(const uint8_t *data, size_t size);

/*
 * Read the description; the data stays where it is. `source` and `notes` are
 * borrowed. Errors: FORMAT (not this kind, or its head is broken), TRUNCATED,
 * LIMIT, IO, NOMEM. What is broken behind the head is left out: `failed`.
 */
enum bl_status bl_mdf_open(struct bl_mdf **out, struct bl_bytes *source,
                           struct bl_notes *notes, struct bl_error *error);
void bl_mdf_close(struct bl_mdf *mdf);
/* Is there any group of frames (of values)? */
bool bl_mdf_has_frames(const struct bl_mdf *mdf);
bool bl_mdf_has_values(const struct bl_mdf *mdf);

/* Data blocks of one list, as one stretch of bytes. */
struct bl_mdf_piece {
    uint64_t at, stored; /* in the file, without its header */
    uint64_t from, size; /* in the stretch */
    uint32_t columns;    /* over 0: transposed in records of so many bytes */
    bool packed, lost;
};
struct bl_mdf_pieces {
    struct bl_mdf_piece *piece;
    size_t count, capacity;
    uint64_t size;
    bool open_end; /* what is behind the last one could not be found */
};

/* The bytes, in order, and those ahead at hand. */
struct bl_mdf_stream {
    struct bl_mdf *mdf;
    struct bl_mdf_pieces pieces;
    size_t next;      /* piece to come */
    uint64_t next_at; /* of that piece, bytes read already */
    uint64_t offset;  /* of buffer[at] in the stretch */
    uint8_t *buffer, *packed, *turned;
    size_t at, end, capacity, turned_capacity;
    uint64_t held; /* of what mdf->held counts */
    void *inflater;
    bool lost; /* bytes that are lost stand behind those at hand */
};

/* `data`: link of a DG or CN; `id`: of its blocks, "DT" or "SD". */
enum bl_status bl_mdf_stream_open(struct bl_mdf_stream *stream,
                                  struct bl_mdf *mdf, uint64_t data,
                                  const char *id, struct bl_error *error);
/* All bytes that are at hand, at least `wanted` unless the stretch ends or
   bytes are lost before. */
enum bl_status bl_mdf_stream_window(struct bl_mdf_stream *stream, size_t wanted,
                                    const uint8_t **data, size_t *available,
                                    struct bl_error *error);
static inline void bl_mdf_stream_take(struct bl_mdf_stream *stream,
                                      size_t count)
{
    stream->at += count;
    stream->offset += count;
}
/* Behind the bytes that are lost (stream->lost). */
void bl_mdf_stream_skip_lost(struct bl_mdf_stream *stream);
/* Go to a place of the stretch: forward, or back among what is at hand. *found
   false: it is not there, or lost, or was passed. */
enum bl_status bl_mdf_stream_seek(struct bl_mdf_stream *stream, uint64_t offset,
                                  bool *found, struct bl_error *error);
void bl_mdf_stream_close(struct bl_mdf_stream *stream);

/* The records of one set, in the order of the file. */
struct bl_mdf_cursor {
    struct bl_mdf *mdf;
    struct bl_mdf_stream stream;
    size_t set, group; /* that of the record before */
    uint64_t *records; /* of each group so far; those that are lost, too, where
                          their number is known */
    bool ended, lost, cut;
};
struct bl_mdf_record {
    size_t group;        /* index into bl_mdf.group */
    uint64_t number;     /* in its group, from 0 */
    const uint8_t *data; /* without identifier; valid until the next call */
    size_t bytes;        /* HOLDS_BYTES: their number, else as the group says */
    bool after_loss;     /* something before it is lost */
};
enum bl_status bl_mdf_cursor_open(struct bl_mdf_cursor *cursor,
                                  struct bl_mdf *mdf, size_t set,
                                  struct bl_error *error);
/* *got false at the end. */
enum bl_status bl_mdf_cursor_next(struct bl_mdf_cursor *cursor,
                                  struct bl_mdf_record *record, bool *got,
                                  struct bl_error *error);
void bl_mdf_cursor_close(struct bl_mdf_cursor *cursor);

/* The bytes as they lie, the first the lowest. */
static inline uint64_t bl_mdf_low_first(const uint8_t *data, size_t bytes)
{
    uint64_t value = 0;
    for (size_t i = bytes; i > 0; i--) {
        value = value << 8 | data[i - 1];
    }
    return value;
}

/* A number as it stands, where the short way does not do: big-endian, or in
   nine bytes. */
uint64_t bl_mdf_raw_slowly(const struct bl_mdf_field *field,
                           const uint8_t *record);

/* A number as it stands, up to 64 bits. Compilers make one load of the eight
   bytes, which are at hand behind every place of a record (BL_MDF_SLACK). */
static inline uint64_t bl_mdf_raw(const struct bl_mdf_field *field,
                                  const uint8_t *record)
{
    if (field->big || field->bytes > 8) {
        return bl_mdf_raw_slowly(field, record);
    }
    const uint8_t *d = record + field->byte;
    const uint64_t value = (uint64_t)d[0] | (uint64_t)d[1] << 8 |
                           (uint64_t)d[2] << 16 | (uint64_t)d[3] << 24 |
                           (uint64_t)d[4] << 32 | (uint64_t)d[5] << 40 |
                           (uint64_t)d[6] << 48 | (uint64_t)d[7] << 56;
    return value >> field->shift & field->mask;
}

/* Is the value of this channel marked as invalid? */
static inline bool bl_mdf_invalid(const struct bl_mdf_group *group,
                                  const struct bl_mdf_channel *channel,
                                  const uint8_t *record)
{
    return channel->never_valid ||
           (channel->may_be_invalid &&
            (record[group->data_bytes + channel->invalid_bit / 8] >>
                 channel->invalid_bit % 8 &
             1) != 0);
}

/* The physical value; NaN where it means a text that is no measurement
   (*text) or is no number. `number`: of the record in its group, from 0. */
double bl_mdf_value(const struct bl_mdf_channel *channel, const uint8_t *record,
                    uint64_t number, bool *text);

/* Time of a record since 1970, or since the start where that is not known;
   false: none that can be (or marked as invalid). */
bool bl_mdf_time(const struct bl_mdf *mdf, const struct bl_mdf_record *record,
                 int64_t *time_ns);
/* Steps in which the time of a group counts, ns; 0: not known. */
int64_t bl_mdf_time_step(const struct bl_mdf *mdf,
                         const struct bl_mdf_group *group);

#endif
