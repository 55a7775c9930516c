/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_BASE_WORDS_H
#define BRAKELAG_SRC_BASE_WORDS_H

#include "brakelag/words.h"

/* Slips between two words. SIZE_MAX where either is longer than BL_WORD_MAX:
   that is no slip of a short word. */
enum { BL_WORD_MAX = 48 };
size_t bl_word_distance(const char *a, const char *b);

#endif
