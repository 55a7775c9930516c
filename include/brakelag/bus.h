/* SPDX-License-Identifier: MIT */
/*
 * Bus recordings: classic pcap, pcapng, text and tables of frames to frames,
 * and the first three kinds back; groups of frames of measurement files (ASAM
 * MDF 4) to frames. Readers take a byte source and deliver batches in time
 * order; which bus a frame came from is kept, because that is the heart of the
 * question whether a demand reached the rear unit.
 */
#ifndef BRAKELAG_BUS_H
#define BRAKELAG_BUS_H

#include "brakelag/io.h"
#include "brakelag/pace.h"
#include "brakelag/status.h"

enum bl_frame_kind {
    BL_FRAME_CLASSIC,
    BL_FRAME_FD,
    BL_FRAME_REMOTE,
    BL_FRAME_ERROR /* `id` holds the error class bits of linux/can/error.h */
};
enum { BL_FRAME_KINDS = 4 };

enum {
    BL_FRAME_EXTENDED = 1, /* 29-bit identifier */
    BL_FRAME_BIT_RATE_SWITCH = 2,
    BL_FRAME_ERROR_STATE = 4, /* FD error state indicator */
    BL_FRAME_OUTGOING = 8,    /* sent by the recorder itself */
    /* Something before it in the file was damaged and left out: what was sent
       since the frame before is not known. */
    BL_FRAME_AFTER_DAMAGE = 16
};

/* One frame. `length` counts the bytes in `data`; for a remote frame it is
   the length asked for and `data` is empty. */
struct bl_frame {
    int64_t time_ns; /* since 1970 by the recorder's clock, or as written */
    uint32_t id;     /* 11 or 29 bits, no flag bits */
    uint16_t bus;    /* index into bl_bus_info.bus */
    uint16_t part;   /* counts up at every backward jump of time; no figure
                        may span two parts */
    uint8_t kind;    /* enum bl_frame_kind */
    uint8_t flags;
    uint8_t length; /* 0 to 64 */
    uint8_t data[64];
};

enum bl_id_order { BL_ID_ORDER_AUTO, BL_ID_ORDER_BIG, BL_ID_ORDER_LITTLE };

/* Text is borrowed until the reader is closed. */
struct bl_bus_options {
    const char *format; /* "pcap", "pcapng", "textlog", "mdf", "terminal",
                           "table"; NULL: by looking */
    /* AUTO: as the link type defines (227: big-endian; 113 and 276: the order
       of the file). Where that cannot be right, the note "can-id-order" says
       so after the last batch. */
    enum bl_id_order can_id_order;
    const char *bus_name; /* for input that names no interface; NULL: "" */
};
BL_API struct bl_bus_options bl_bus_options_default(void);

enum { BL_BUS_NAME_MAX = 64, BL_BUS_MAX = 256 };

struct bl_bus_stats {
    /* UTF-8; "" where the file has none; "if3" where it numbers interfaces
       without naming them (link type 276) */
    char name[BL_BUS_NAME_MAX];
    uint64_t frames[BL_FRAME_KINDS];
    int64_t first_ns, last_ns;
};

/* What is known so far; complete after the last batch. */
struct bl_bus_info {
    const char *format;
    struct bl_bus_stats *bus;
    size_t buses;
    uint64_t frames;        /* delivered */
    uint64_t other_packets; /* link types that are not CAN, skipped */
    uint64_t late_sorted;   /* stamps put back in order */
    uint64_t strays;        /* excluded: stamp far off, undone at once */
    uint64_t undone_splits; /* parts - 1 */
    int64_t resolution_ns;  /* of the stamps, as far as the file tells */
    /* Where stamps step or jump back; borrowed, good until the next batch. */
    const struct bl_time_places *times;
    bool untimed; /* the recording has no stamps: a frame's time is its place
                     in the file, in ns, and says nothing but the order */
    bool after_damage; /* what was read last was damaged and left out; after the
                          last batch: nothing whole stands behind it */
    struct bl_notes notes;
};

struct bl_bus_reader;

/*
 * Recognise the recording and read its header. `source` is borrowed and must
 * outlive the reader. `options` may be NULL.
 * Errors: FORMAT (none of the known kinds, or a known kind but broken),
 * TRUNCATED, UNSUPPORTED (with the link type's number), IO, NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_bus_open(struct bl_bus_reader **out, struct bl_bytes *source,
            const struct bl_bus_options *options, struct bl_error *error);

/*
 * Next batch, in time order within a part (late stamps are sorted inside a
 * window of 200 ms or 65,536 frames; equal stamps keep file order).
 * The batch belongs to the reader and is valid until the next call. *count == 0
 * only at the end. After an error every frame read before it has
 * been delivered, and the same status comes again on the next call; where it is
 * safe, reading goes on behind the damage (pcapng, note "read-on"), and the
 * error comes at the end. A cut last record is a note ("cut-last-record"), not
 * an error; what could not be used and was excluded is counted in a note of its
 * own code, and the next frame carries AFTER_DAMAGE.
 */
BL_API BL_MUST_CHECK enum bl_status bl_bus_next(struct bl_bus_reader *reader,
                                                const struct bl_frame **batch,
                                                size_t *count,
                                                struct bl_error *error);
/* Belongs to the reader; grows with every call of bl_bus_next. */
BL_API const struct bl_bus_info *bl_bus_info(const struct bl_bus_reader *r);
BL_API void bl_bus_close(struct bl_bus_reader *reader);

/* Is this a bus recording at all? Used to tell captures from logs. */
BL_API bool bl_bus_recognised(struct bl_bytes *source);

struct bl_bus_writer;

/* Text is borrowed until the writer is closed. */
struct bl_bus_writer_options {
    const char *format;     /* "pcap", "pcapng" or "textlog" */
    int link_type;          /* pcap, pcapng: 227 (default when 0), 113 or 276 */
    const char *const *bus; /* bus names by index; textlog and pcapng */
    size_t buses;
    bool big_endian; /* pcap, pcapng: byte order of the file */
};
/* pcapng, link type 227, no bus named. */
BL_API struct bl_bus_writer_options bl_bus_writer_options_default(void);

/* Write frames in the order given. The output stays the caller's to commit.
   Errors: ARG (unknown format, a frame that cannot be), UNSUPPORTED (pcap with
   more than one bus, which only link type 276 tells apart; a time that the
   format cannot hold), NOMEM. What the output refuses is reported by its
   commit. */
BL_API BL_MUST_CHECK enum bl_status
bl_bus_writer_open(struct bl_bus_writer **out, struct bl_output *output,
                   const struct bl_bus_writer_options *options,
                   struct bl_error *error);
BL_API BL_MUST_CHECK enum bl_status
bl_bus_writer_put(struct bl_bus_writer *writer, const struct bl_frame *frame,
                  struct bl_error *error);
BL_API BL_MUST_CHECK enum bl_status
bl_bus_writer_close(struct bl_bus_writer *writer, struct bl_error *error);

#endif
