/* SPDX-License-Identifier: MIT */
/*
 * What every member of the J1939 family shares: the identifier, the value
 * ranges, multi-packet transport, the NAME and trouble codes. Which message
 * means what is the business of the mapping tables (decoder.h).
 * Sources: shared facts of SAE J1939-21, -71, -73, -81 as given in
 * docs/methods/bus.md, each with its public origin.
 */
#ifndef BRAKELAG_J1939_H
#define BRAKELAG_J1939_H

#include "brakelag/status.h"

enum { BL_ADDRESS_GLOBAL = 255, BL_ADDRESS_NULL = 254 };

/* A 29-bit identifier taken apart. For PDU1 (format below 240) `destination`
   is the PS byte and not part of the PGN; else destination is 255. */
struct bl_id {
    uint32_t pgn; /* 18 bits */
    uint8_t priority, format, specific, source, destination;
    bool extended_page, data_page, pdu1;
};
BL_API struct bl_id bl_id_split(uint32_t id);
/* `destination` counts for PDU1 only. */
BL_API uint32_t bl_id_join(uint8_t priority, uint32_t pgn, uint8_t source,
                           uint8_t destination);

/* How a raw field reads (J1939-71 transmitted signal ranges). */
enum bl_value_state {
    BL_VALUE_VALID,
    BL_VALUE_SPECIFIC, /* parameter specific, 0xFB.. */
    BL_VALUE_RESERVED, /* 0xFC.., 0xFD.. */
    BL_VALUE_ERROR,    /* 0xFE.. */
    BL_VALUE_NOT_AVAILABLE,
    BL_VALUE_ABSENT /* the frame is too short to hold the field */
};
BL_API const char *bl_value_state_name(enum bl_value_state state);
/* `bits` 1 to 64. 2, 4, 8, 16, 32 bits as J1939; other widths: all ones is not
   available, all else valid; a single bit is always valid. */
BL_API enum bl_value_state bl_value_range(uint64_t raw, unsigned bits);
/* The largest raw value of `bits` (1 to 64) that is valid: those up to it are,
   those above it are not. */
BL_API uint64_t bl_value_most(unsigned bits);

/* NAME (J1939-81), 8 bytes, least significant first. */
struct bl_name {
    uint32_t identity;
    uint16_t manufacturer;
    uint8_t ecu_instance, function_instance, function, vehicle_system;
    uint8_t vehicle_system_instance, industry_group;
    bool arbitrary_address;
    uint64_t raw;
};
BL_API struct bl_name bl_name_split(const uint8_t bytes[8]);
/* A claim from the null address says that the sender could not claim any
   (J1939-81, cannot claim source address). */
BL_API bool bl_claim_failed(uint8_t source);

/* Trouble codes (J1939-73 DM1). */
struct bl_trouble {
    uint32_t spn;
    uint8_t fmi, count, method; /* method: the conversion bit, 0: version 4;
                                   `spn` reads as version 4 either way */
    /* With method 1 the wire does not tell which of the older three forms was
       used; all three readings of the SPN are given. */
    uint32_t spn_v1, spn_v2, spn_v3;
};
/* The one reading, or those of versions 1, 2 and 3; how many. */
BL_API size_t bl_trouble_readings(const struct bl_trouble *code,
                                  uint32_t spn[3]);
/* "SPN 1208"; with method 1 all readings: "SPN 1208, 309248 or 38656
   (conversion bit 1: version 1, 2 or 3)". Returns `text`. */
enum { BL_TROUBLE_TEXT = 80 };
BL_API const char *bl_trouble_spn_text(const struct bl_trouble *code,
                                       char *text, size_t size);
/* Codes in a DM1/DM2 payload. Writes up to `room` codes; *count is how many
   there are (all-zero and all-one entries are "none" and left out). Errors:
   FORMAT when the payload is shorter than 6 bytes. */
BL_API BL_MUST_CHECK enum bl_status bl_trouble_read(const uint8_t *data,
                                                    size_t size,
                                                    struct bl_trouble *codes,
                                                    size_t room, size_t *count);
/* "data erratic" and so on; "" where not known. */
BL_API const char *bl_fmi_text(unsigned fmi);

/* Multi-packet transport (J1939-21 TP and ETP), for a listener who hears both
   sides. */
struct bl_transport;
struct bl_transport_message {
    int64_t first_ns, last_ns; /* announcement; the packet that completed it */
    uint32_t pgn;
    uint8_t source, destination;
    uint16_t bus;
    const uint8_t *data; /* valid until the next call */
    size_t size;
};
/* Is this identifier one of transport's own? */
BL_API bool bl_transport_takes(uint32_t id);
/* Why a session came to nothing. */
enum bl_transport_loss {
    BL_TRANSPORT_ABORTED,
    BL_TRANSPORT_REPLACED,
    BL_TRANSPORT_TIMED_OUT,
    BL_TRANSPORT_INCOMPLETE, /* at the end of the recording, or acknowledged
                                though packets were not recorded */
    BL_TRANSPORT_MALFORMED,
    BL_TRANSPORT_TOO_LARGE,
    BL_TRANSPORT_LOSSES
};
/* `limit` bytes at most per message (larger ones are counted as TOO_LARGE),
   and at most 1024 sessions at a time (then the oldest counts as REPLACED). */
BL_API BL_MUST_CHECK enum bl_status
bl_transport_create(struct bl_transport **out, size_t limit,
                    struct bl_error *error);
/* A frame as it was seen; `data` is borrowed for the call. */
struct bl_transport_frame {
    int64_t time_ns;
    uint16_t bus;
    uint32_t id;
    const uint8_t *data;
    size_t length;
};
/* Give it every frame (29-bit data frames; others are ignored) in time order; a
   jump back by more than 1 s ends all sessions as INCOMPLETE.
 *done is true when `message` was filled. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_transport_feed(struct bl_transport *transport,
                  const struct bl_transport_frame *frame, bool *done,
                  struct bl_transport_message *message);
/* Ends all sessions as INCOMPLETE. */
BL_API void bl_transport_flush(struct bl_transport *transport);
BL_API uint64_t bl_transport_lost(const struct bl_transport *transport,
                                  enum bl_transport_loss why);
BL_API void bl_transport_destroy(struct bl_transport *transport);

#endif
