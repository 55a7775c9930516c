/* SPDX-License-Identifier: MIT */
/*
 * What is no log of measurements: a table of bus frames, whose bytes would
 * pass for columns of small pressures, or a file of another program.
 */
#ifndef BRAKELAG_SRC_LOG_FRAMES_H
#define BRAKELAG_SRC_LOG_FRAMES_H

#include "log/head.h"

/* Most of the lines have an identifier in hexadecimal with bytes in
   hexadecimal behind it, and some of these bytes are no decimal numbers. */
bool bl_log_head_is_frames(const struct log_head *head);
/* What the first bytes of a file tell, in general words, as "a binary
   measurement file (MDF)"; NULL: nothing that is known. */
const char *bl_log_known_container(const uint8_t *data, size_t size);

#endif
