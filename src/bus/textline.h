/* SPDX-License-Identifier: MIT */
/*
 * One line of a timestamped text recording:
 *     (1701364099.986950) can0 18F62521#F82A00000900FF52
 * 3 hex digits: 11-bit identifier, 8: 29-bit (or an error frame, 0x20000000
 * set); `##` and a digit of flags: FD; `#R` and a length: remote; dots may
 * stand between bytes, `_` and the raw length code behind eight bytes, and a
 * direction letter R or T at the end.
 */
#ifndef BRAKELAG_SRC_BUS_TEXTLINE_H
#define BRAKELAG_SRC_BUS_TEXTLINE_H

#include "brakelag/bus.h"

enum bl_textline_kind {
    BL_TEXTLINE_FRAME,
    BL_TEXTLINE_BLANK,
    BL_TEXTLINE_COMMENT, /* begins with # */
    BL_TEXTLINE_XL,      /* a CAN XL frame: not read */
    BL_TEXTLINE_BAD
};

struct bl_textline {
    const char *bus; /* into the line */
    size_t bus_length;
    unsigned fraction_digits;
    const char *expected; /* BAD: what was expected */
    size_t at;            /* BAD: where, in bytes from the line's start */
};

/* Sets everything of `frame` but bus and part. */
enum bl_textline_kind bl_textline_parse(const char *text, size_t length,
                                        struct bl_frame *frame,
                                        struct bl_textline *line);

/* What stands behind the stamp, from text[at] on: bus, identifier and data.
   Sets as above, but not the time. */
enum bl_textline_kind bl_textline_unstamped(const char *text, size_t length,
                                            size_t at, struct bl_frame *frame,
                                            struct bl_textline *line);

/*
 * The start of the line before, as far as the next one is likely to have it
 * again: its bus, and its stamp up to the point. Zero-initialise.
 */
enum { BL_TEXTLINE_SAME = 16 };
struct bl_textline_before {
    char bus[BL_BUS_NAME_MAX];
    size_t bus_length; /* 0: none */
    /* Two words each of "(1717200000." and of "can0 " with masks of their
       bytes; the stamp has length 0 where there is none. */
    uint64_t stamp[2], stamp_mask[2], name[2], name_mask[2];
    size_t stamp_length;
    int64_t second_ns;
};
/* Sets the bus; false when it is too long to be kept. */
bool bl_textline_keep_bus(struct bl_textline_before *before, const char *bus,
                          size_t length);

/*
 * The line that recordings are full of, "(1717200000.123456) can0 0C02C820#"
 * and up to eight bytes, from the bus of the line before, with its line end:
 * where the next line begins. NULL: any other line, also a damaged one; `frame`
 * may have been written to. BL_TEXTLINE_PLAIN bytes must be readable. *digits
 * is that of the fraction; frame->bus is left alone.
 */
enum { BL_TEXTLINE_PLAIN = 160 };
const char *bl_textline_plain(const char *text,
                              struct bl_textline_before *before,
                              struct bl_frame *frame, unsigned *digits);

#endif
