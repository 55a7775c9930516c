/* SPDX-License-Identifier: MIT */
/* Lines of text that fit a width. A width counts characters of UTF-8. */
#ifndef BRAKELAG_SRC_REPORT_WRAP_H
#define BRAKELAG_SRC_REPORT_WRAP_H

#include "brakelag/io.h"

/* Characters of a line, where nobody says. */
enum { BL_WRAP_USUAL = 80 };

/* Bytes of `text`, up to `size`, that stand on a line of `columns`: all of it,
   or up to the last blank where it may be parted, or its first word, however
   long. What follows begins behind the blanks there. A value stays with its
   uncertainty and its unit. */
size_t bl_wrap_length(const char *text, size_t size, size_t columns);
/* Write whole lines. Those longer than `columns` go on below, by two deeper
   than they began, or at the margin where they began there. */
void bl_wrap_write(struct bl_output *output, const char *text, size_t columns);

#endif
