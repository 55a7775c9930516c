/* SPDX-License-Identifier: MIT */
/*
 * One line as a terminal shows a frame (layout from memory; the file without
 * times in tests is a published one):
 *     (1701364099.986950)  can0  18F62521   [8]  F8 2A 00 00 09 00 FF 52
 * The stamp counts from 1970, from the start, from the line before, is a date
 * and a time of day, or is lacking. 3 hex digits: 11-bit identifier, 8: 29-bit
 * (or an error frame, 0x20000000 set), also as <0x18F62521>. A length of two
 * digits: FD. RX or TX with two letters of flags may stand before the
 * identifier; "remote request" instead of bytes, "ERRORFRAME" or the bytes as
 * text in ' ' behind them. Also `can0 18F62521#F82A` without a stamp, as
 * textline.h has it.
 */
#ifndef BRAKELAG_SRC_BUS_TERMLINE_H
#define BRAKELAG_SRC_BUS_TERMLINE_H

#include "bus/textline.h"

enum bl_termline_stamp {
    BL_TERMLINE_NONE,
    BL_TERMLINE_SECONDS,
    BL_TERMLINE_DATE
};

struct bl_termline {
    struct bl_textline part; /* digits of the fraction only with SECONDS */
    enum bl_termline_stamp stamp;
    int64_t resolution_ns; /* with DATE */
    bool brackets;         /* the length is in them */
};

/* Sets everything of `frame` but bus and part; without stamp its time is 0. */
enum bl_textline_kind bl_termline_parse(const char *text, size_t length,
                                        struct bl_frame *frame,
                                        struct bl_termline *line);

#endif
