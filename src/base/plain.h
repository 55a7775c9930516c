/* SPDX-License-Identifier: MIT */
/*
 * The one place where foreign text is made fit to be shown to a person:
 * characters that control a terminal, turn the text around them or show
 * nothing are written out as their number, U+202E as "202E" between single
 * guillemets. Text that is written for people goes through it as a whole
 * (bl_output_plain). JSON and CSV keep them as they are: programs read those.
 * The page's script does the same (report/page/base.js, plain()).
 */
#ifndef BRAKELAG_SRC_BASE_PLAIN_H
#define BRAKELAG_SRC_BASE_PLAIN_H

#include "base/strbuf.h"

/* What is no well-formed UTF-8 is left as it is. */
bool bl_plain_is(const char *text);
void bl_plain_add(struct bl_strbuf *buffer, const char *text);

#endif
