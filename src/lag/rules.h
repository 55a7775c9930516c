/* SPDX-License-Identifier: MIT */
/*
 * The numbers that decide in this room, each with its source, or "own choice"
 * and why. docs/methods/figures.md states them in the words of the user; what
 * concerns one file alone stands there, in the same way.
 */
#ifndef BRAKELAG_SRC_LAG_RULES_H
#define BRAKELAG_SRC_LAG_RULES_H

#include <stdint.h>

/* --- kinds and shapes of applications --- */

/* Light is below 22 psi, full from 80 psi: common practice. Of pedal travel the
   fifths at both ends: own choice. */
static const double BL_LIGHT_BELOW_KPA = 150, BL_FULL_FROM_KPA = 550;
static const double BL_LIGHT_BELOW_PERCENT = 20, BL_FULL_FROM_PERCENT = 80;
/* A step goes from 10 to 90 % within this: UN R13 Annex 6 asks for a pedal time
   of 0.2 s in the laboratory; twice that is what a foot does (own choice). */
static const double BL_STEP_S = 0.4;

/* --- shares of a hold that figures are defined by --- */

/* 10 and 75 % of the hold: UN R13 Annex 6. 90 % as the beginning of a release:
   by symmetry to 10 % (own choice). */
static const double BL_SHARE_LOW = 0.10, BL_SHARE_HIGH = 0.90;
/* States are 0 or 1. */
static const double BL_STATE_LEVEL = 0.5;

/* --- what noise and resolution allow --- */

/* Of normal noise one sample in two million lies beyond 5 standard deviations,
   so that an hour at 500 Hz passes such a level once by chance: own choice. */
static const double BL_CLEAR_OF_NOISE = 5;
/* Twice that stays clear on the way back too (own choice). */
static const double BL_CLEAR_BOTH_WAYS = 10;
/* A step of the resolution may lie on either side of a level, and a third one
   is needed to see a slope: own choice. */
static const double BL_CLEAR_STEPS = 3;
/* Between its smallest and largest sample a quiet stretch of several hundred
   holds about 6 standard deviations of normal noise (from tables of the range).
 */
static const double BL_RANGE_IN_NOISE = 6;

/* Of two transducers of one kind one in twenty reads higher by two of their
   standard uncertainties: what only the others would pass is not given. */
static const double BL_LEVEL_CLEAR = 2;

/* --- whether an output follows the demand or the air --- */

/* A relay valve's own time: common practice. */
static const double BL_VALVE_S = 0.1;
/* Two taps of one pressure differ by hose and volume: own choice. */
static const double BL_LEAST_LEAD_S = 0.01;
/* A trailer's brake is at 75 % within 0.4 s of its demand (UN R13 Annex 6), and
   from the first response to there takes 0.1 s at least (own choice): who acts
   on a demand has begun by then. Units that do begin some 0.2 s after the
   pedal (common practice), when in a short train the air has come, too. */
static const double BL_LATEST_BY_DEMAND_S = 0.3;
/* What sound equipment differs by from run to run, first air and 75 %: own
   choice. A unit that brakes with power as by air alone is no further off. */
static const double BL_SAME_RESPONSE_S = 0.005, BL_SAME_75_S = 0.01;

/* --- where figures are looked for --- */

/* An output may lead its command by so much: the pedal's switch or frame comes
   before its pressure. Longer than any sender's interval and stroke on the way
   (own choice); docs/methods/figures.md says so to the user. */
static const int64_t BL_LEAD_NS = 500000000;
/* The rest before is looked for over so long: half the time that a slow
   brake takes to vent, twenty leads (own choice). */
static const int64_t BL_REST_WITHIN_NS = 20 * INT64_C(500000000);
/* Where a rise may have begun already, the rest ends a little sooner: a fifth
   of the lead for outputs, a twentieth of a second for the command (own
   choice). */
static const int64_t BL_REST_BEFORE_RISE_NS = 500000000 / 5;
static const int64_t BL_REST_BEFORE_COMMAND_NS = 50000000;
/* Rest is quiet for at least so long (own choice: thirty samples at 100 Hz) and
   is taken from so much at most, as gauges drift with temperature. */
static const int64_t BL_REST_LEAST_NS = 300000000;
static const int64_t BL_REST_MOST_NS = INT64_C(10000000000);
/* A slope that a quiet stretch of pressure may have between its quarters: some
   steps of a 12-bit recorder of 1000 kPa (own choice). */
static const double BL_REST_TOLERANCE_KPA = 1;
/* So long after the begin of the search without a rise an output was seen to
   stay away: no published unit takes half of that (own choice). */
static const int64_t BL_STAYED_AWAY_NS = 2000000000;

/* A level counts as passed until the signal is back by this share of its height
   above rest: less and ripple ends it, more and a release is missed (own
   choice). */
static const double BL_KEPT_OF_LEVEL = 0.25;
/* From the foot of a command's rise to command_at it takes less than this: more
   than twice BL_STEP_S, for ramps (own choice). */
static const int64_t BL_FOOT_WITHIN_NS = 1000000000;
/* A passage that ends a search is looked for so much beyond it, so that it lies
   inside (own choice: below any sampling interval). */
static const int64_t BL_BEHIND_END_NS = 1000000;

/* --- holds and vents --- */

/* Settled is what has moved less than 1 % of the hold per second for so long:
   five intervals of the slowest demand (docs/methods/figures.md). */
static const int64_t BL_SETTLED_NS = 500000000;

/* What a hold that never settled is taken from. */
static const int64_t BL_LAST_NS = 200000000;
/* Its middle value needs so many samples at least. */
enum { BL_LEAST_SAMPLES = 3 };
/* A settled stretch is a hold above this share of the peak, and what it was let
   go from when the last values lie within a tenth of it (own choice: dips of
   less are modulation). */
static const double BL_HOLD_OF_PEAK = 0.5, BL_LET_GO_WITHIN = 0.1;
/* A value held between frames stood when it moved by no more than two steps or
   this share of the hold: as 1 % per second for samples. */
static const double BL_STOOD_WITHIN = 0.01;
/* Vented is within so much of the lowest rest: a quarter of response_at's usual
   20 kPa, and more than gauges drift in a trial (own choice). */
static const double BL_VENTED_KPA = 5;

#endif
