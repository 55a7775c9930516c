/* SPDX-License-Identifier: MIT */
/*
 * Inside pcapng (draft-ietf-opsawg-pcapng): what the packet loop (pcapng.c)
 * and the reading of section headers and interfaces (pcapng_meta.c) share.
 */
#ifndef BRAKELAG_SRC_BUS_PCAPNG_H
#define BRAKELAG_SRC_BUS_PCAPNG_H

#include "bus/format.h"

enum {
    BL_NG_INTERFACE = 1,
    BL_NG_OLD_PACKET = 2,
    BL_NG_SIMPLE_PACKET = 3,
    BL_NG_PACKET = 6,
    BL_NG_FRAME = 12,   /* type and two lengths around a body */
    BL_NG_SECTION = 28, /* least section header */
    BL_NG_INTERFACE_MIN = 20
};
#define BL_NG_SECTION_TYPE 0x0A0D0D0Au

struct bl_ng_interface {
    int link_type;
    bool can;     /* a link type that can carry CAN */
    bool has_bus; /* `bus` is set */
    uint16_t bus;
    char name[BL_BUS_NAME_MAX];
    /* Stamps count units of 1 s / units_per_s. */
    bool binary;       /* ... a power of two */
    unsigned exponent; /* of 10 or 2 */
    uint64_t units_per_s;
    int64_t offset_s;
    /* For packets of a usual kind (packet.h): nanoseconds of a unit, 0 where
       none can be such, and the last stamp that is in range. */
    uint64_t usual_unit_ns, usual_most;
};

struct bl_ng_reader {
    struct bl_bus_context *context;
    bool big; /* byte order of the present section */
    struct bl_ng_interface *interface;
    size_t interfaces, capacity; /* of the present section */
    bool done;
    bool read_on;            /* in this section, behind damage */
    bool section_lost;       /* interfaces have numbers that nobody knows */
    struct bl_error failure; /* the first damage; given at the end */
};

/* The block that the source stands at. */
struct bl_ng_block {
    uint32_t type;
    uint64_t size; /* whole */
    const uint8_t *data;
    size_t seen; /* bytes of it in `data` */
    int64_t place;
};

uint16_t bl_ng_16(const struct bl_ng_reader *reader, const uint8_t *data);
uint32_t bl_ng_32(const struct bl_ng_reader *reader, const uint8_t *data);

/* The byte-order magic: false when it is something else. */
bool bl_ng_byte_order(const uint8_t *data, bool *big);

/* Do options, up to their end, fit the `size` bytes that a block has for them?
 */
bool bl_ng_options_fit(const struct bl_ng_reader *reader, const uint8_t *data,
                       size_t size);

/* A whole section header or interface block of `size` bytes, at byte `place`
   of the file. */
enum bl_status bl_ng_read_section(struct bl_ng_reader *reader,
                                  const uint8_t *block, size_t size,
                                  int64_t place, struct bl_error *error);
enum bl_status bl_ng_read_interface(struct bl_ng_reader *reader,
                                    const uint8_t *block, size_t size,
                                    int64_t place, struct bl_error *error);

/* pcapng_resync.c: the block at `place` is damaged; how far behind the source's
   present place the next whole one is. Errors: IO, NOMEM. */
enum bl_status bl_ng_find_next(struct bl_ng_reader *reader, int64_t place,
                               bool *found, size_t *distance,
                               struct bl_error *error);

/* The same file: is a block that is passed over one of a frame, or of an
   interface, but for its type? `size` whole bytes at `data`. */
enum bl_ng_likeness {
    BL_NG_LIKE_NONE,
    BL_NG_LIKE_PACKET,
    BL_NG_LIKE_INTERFACE,
    BL_NG_LIKE_SECTION
};
enum bl_ng_likeness bl_ng_likeness(const struct bl_ng_reader *reader,
                                   const uint8_t *data, size_t size);

/* Do whole packets stand inside a block that is passed over? Then its length is
   damaged. */
bool bl_ng_holds_packets(const struct bl_ng_reader *reader, const uint8_t *data,
                         size_t size);

/* pcapng_other.c: fails where whole packets stand inside the block. */
enum bl_status bl_ng_hold_nothing(const struct bl_ng_reader *reader,
                                  const struct bl_ng_block *block,
                                  struct bl_error *error);
enum bl_status bl_ng_read_simple(struct bl_ng_reader *reader,
                                 const struct bl_ng_block *block,
                                 struct bl_error *error);
enum bl_status bl_ng_read_other(struct bl_ng_reader *reader,
                                const struct bl_ng_block *block,
                                struct bl_error *error);

/* A stamp in the interface's units as nanoseconds since 1970, cut to whole
   ones. False: out of range. */
bool bl_ng_time(const struct bl_ng_interface *interface, uint64_t stamp,
                int64_t *time_ns);

#endif
