/* SPDX-License-Identifier: MIT */
/* How much a fit of two event lists is worth. */
#ifndef BRAKELAG_SRC_CLOCK_EVIDENCE_H
#define BRAKELAG_SRC_CLOCK_EVIDENCE_H

#include "clock/match.h"

/*
 * Expected number of fits as good as this among unrelated lists of the same
 * density: every pair may anchor a shift, several drifts fit in the corridor,
 * and the other pairs must fall into it by chance.
 */
double bl_evidence_chance(const struct events *e, double offset, size_t pairs,
                          double width, const struct bl_pair_options *options);
/* The period when at least four of five pauses between the matched events are
   whole multiples of one pause, within 2 width; else 0. Such events fit at
   every multiple, and which one is right rests on what happens to be missing.
 */
double bl_evidence_period(const struct events *e, const struct matched *m,
                          double width);
/*
 * Pauses that are nearly even fit at other shifts too, more often than events
 * at random would. Expected number of such fits: every shift by some events,
 * under which pause after pause must agree by chance; how often two pauses do
 * is counted in the lists themselves.
 */
double bl_evidence_alike(const struct events *e, const struct matched *m,
                         double width);

#endif
