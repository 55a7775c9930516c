/* SPDX-License-Identifier: MIT */
/*
 * brakelag: which unit of a combination of heavy vehicles brakes late, by how
 * much, and why.
 *
 * Concepts
 *   recording   what one recorder wrote: a bus capture or an analog log
 *   trial       one INI file: the combination, how it was wired, the runs
 *   run         recordings made together under one condition
 *   series      one channel or one bus signal over time, on its recorder's
 *               clock
 *   tie         how one recorder's stamps become another's time
 *   application one braking: command, and what every unit made of it
 *   figure      a time or pressure with its standard uncertainty, or the reason
 *               why there is none
 *
 * The way of a sample: io -> bus or log -> (decoder) -> load -> clock -> lag ->
 * study -> assess -> report.
 *
 * A small program that writes the page of a whole trial (docs/examples/page.c
 * has it complete):
 *
 *     if (bl_trial_read_file(&trial, "trial.ini", NULL, &e) != BL_OK ||
 *         bl_assess(&found, trial, NULL, NULL, &e) != BL_OK ||
 *         bl_report_write(found, output, &page, &e) != BL_OK) {
 *         ... bl_error_line(&e, text, sizeof(text)) ...
 *     }
 *
 * One that takes the steps itself and prints the response of every unit:
 *
 *     struct bl_error e;
 *     struct bl_trial *trial;
 *     struct bl_run_data *data;
 *     struct bl_run_clocks *clocks;
 *     struct bl_run_lag *lag;
 *     if (bl_trial_read_file(&trial, "trial.ini", NULL, &e) != BL_OK ||
 *         bl_load_run(&data, trial, 0, &e) != BL_OK ||
 *         bl_clock_tie_run(&clocks, trial, data, &e) != BL_OK ||
 *         bl_measure_run(&lag, trial, data, clocks, &e) != BL_OK) {
 *         ... bl_error_line(&e, text, sizeof(text)) ...
 *     }
 *     for (size_t i = 0; i < lag->applications; i++) { ... }
 *
 * Every object is made by the caller's thread and may be used by one thread at
 * a time; nothing is shared between objects except what a header says is
 * borrowed. The library prints nothing and never ends the process.
 *
 * Verbs
 *   X_create, X_destroy  an object; destroy takes NULL. What one call does in
 *               one go has that work for a name (bl_assess, bl_compare,
 *               bl_load_run, bl_reach_run ..: out first) and is destroyed alike
 *   X_open, X_close      a stream over something that stays the caller's; an
 *               output ends in commit or discard
 *   X_finish    a struct that the caller zero-initialised
 *   X_default   options with what stands for them when NULL is given
 * A call that fails makes nothing and sets *out to NULL.
 *
 * Borrowed
 *   A `const struct X *` that a call takes is read during the call only, and
 * one that it returns lives as long as what it was asked of, unless the header
 * says otherwise. A result (lag, reach, comparison ..) may be kept when the
 * run's data and clocks are gone, but not when the trial is: names, texts and
 * signals in results belong to the trial and its tables.
 */
#ifndef BRAKELAG_BRAKELAG_H
#define BRAKELAG_BRAKELAG_H

#include "brakelag/answer.h"
#include "brakelag/assess.h"
#include "brakelag/budget.h"
#include "brakelag/bus.h"
#include "brakelag/causes.h"
#include "brakelag/characteristic.h"
#include "brakelag/check.h"
#include "brakelag/clock.h"
#include "brakelag/compare.h"
#include "brakelag/decoder.h"
#include "brakelag/dynamics.h"
#include "brakelag/findings.h"
#include "brakelag/history.h"
#include "brakelag/io.h"
#include "brakelag/j1939.h"
#include "brakelag/lag.h"
#include "brakelag/life.h"
#include "brakelag/limits.h"
#include "brakelag/load.h"
#include "brakelag/log.h"
#include "brakelag/names.h"
#include "brakelag/pace.h"
#include "brakelag/picture.h"
#include "brakelag/predict.h"
#include "brakelag/reach.h"
#include "brakelag/report.h"
#include "brakelag/series.h"
#include "brakelag/simulate.h"
#include "brakelag/stats.h"
#include "brakelag/status.h"
#include "brakelag/survey.h"
#include "brakelag/transducers.h"
#include "brakelag/trial.h"
#include "brakelag/units.h"
#include "brakelag/words.h"

#endif
