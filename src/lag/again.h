/* SPDX-License-Identifier: MIT */
/*
 * Where an output rises a second time although no command was seen: it was let
 * go, rested, and brakes again. Either it does so by itself, or the command did
 * and nobody saw it, as below the command's noise. What it does then belongs to
 * no application (docs/methods/figures.md, "Application").
 */
#ifndef BRAKELAG_SRC_LAG_AGAIN_H
#define BRAKELAG_SRC_LAG_AGAIN_H

#include "lag/track.h"

/* The time before which the output had not begun to rise again after it was
   let go; to_ns: it did not. */
int64_t bl_rose_again(const struct bl_track *track,
                      const struct bl_level_passed *at, int64_t release_ns,
                      int64_t to_ns);

#endif
