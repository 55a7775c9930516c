/* SPDX-License-Identifier: MIT */
/* What the result rests on: the trial file, recordings with their hashes,
   clocks and their claims, what was noticed while reading. */
#include "report/text.h"

#include <math.h>
#include <string.h>

static void notes(struct bl_text *to, const json_t *array)
{
    for (size_t i = 0; i < json_array_size(array); i++) {
        const json_t *note = json_array_get(array, i);
        const unsigned long long count = bl_tree_get_count(note, "count");
        const uint64_t line = bl_tree_get_count(note, "line");
        bl_output_text(to->output, "    note: ");
        if (line > 0) {
            bl_output_format(to->output,
                             "line %llu: ", (unsigned long long)line);
        }
        bl_text_plain(to, bl_tree_get_text(note, "text"));
        if (count > 1) {
            bl_output_format(to->output, " (%llu times)", count);
        }
        bl_output_text(to->output, "\n");
    }
}

static const char *claim_words(const char *claim)
{
    static const struct bl_coded known[] = {
        {"none", "not tied: no figure crosses to another recorder"},
        {"absolute", "lags can be measured"},
        {"bounded",
         "lags include a systematic error, which their uncertainty allows for"},
        {"differences-only", "differences between units and runs only: a lag "
                             "common to all hides in the offset"},
        {"ambiguous", "fits in more than one way: refused"},
        {NULL, NULL}};
    return bl_coded_words(known, claim);
}

/* Offset and drift. Their uncertainty includes the systematic part; a lag that
   hides in the offset is in no uncertainty, so it is said. */
static void clock_line(struct bl_text *to, const json_t *tie)
{
    char text[BL_TEXT_CELL];
    const double offset = bl_tree_get_number(tie, "offset_s");
    const double drift = bl_tree_get_number(tie, "drift_ppm");
    if (isnan(offset) || (offset == 0 && drift == 0)) {
        return;
    }
    const bool holds_lag =
        bl_text_is(to, tie, "claim", BL_CLAIM_DIFFERENCES_ONLY);
    bl_output_format(
        to->output, ", offset%s %s s", holds_lag ? " with that lag in it" : "",
        bl_text_value(offset, bl_tree_get_number(tie, "u_whole_s"), 4, text));
    if (!isnan(drift)) {
        bl_output_format(to->output, ", drift %s ppm",
                         bl_text_value(drift,
                                       bl_tree_get_number(tie, "u_drift_ppm"),
                                       1, text));
    }
}

static void clock_pairs(struct bl_text *to, const json_t *tie)
{
    char text[BL_TEXT_CELL];
    const unsigned long long pairs = bl_tree_get_count(tie, "pairs");
    if (pairs == 0) {
        return;
    }
    const unsigned long long releases = bl_tree_get_count(tie, "releases");
    if (releases > 0) {
        bl_output_format(to->output, ", from %llu presses and %llu releases",
                         pairs, releases);
    }
    bl_output_format(to->output, ", %llu pairs, %llu outliers", pairs,
                     (unsigned long long)bl_tree_get_count(tie, "outliers"));
    const double residual = bl_tree_get_number(tie, "residual_s");
    if (!isnan(residual)) {
        bl_output_format(to->output, ", residual %s s",
                         bl_text_fixed(residual, 4, text));
    }
    const double beyond = bl_tree_get_number(tie, "extrapolation_s");
    if (!isnan(beyond)) {
        bl_output_format(to->output, ", used up to %s s beyond them",
                         bl_text_fixed(beyond, 1, text));
    }
}

/* What a reader may pass over where no figure takes this tie. */
static void hangs(struct bl_text *to, const json_t *all)
{
    if (!json_is_array(all)) {
        return;
    }
    bl_output_text(to->output, json_array_size(all) == 0
                                   ? "    no figure uses this tie"
                                   : "    figures that use this tie: ");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const char *name = json_string_value(json_array_get(all, i));
        bl_output_format(to->output, "%s%s", i == 0 ? "" : ", ", name);
    }
    bl_output_text(to->output, "\n");
}

static void clock(struct bl_text *to, const json_t *tie)
{
    if (!json_is_object(tie)) {
        return;
    }
    if (bl_text_is(to, tie, "method", true) &&
        bl_text_is(to, tie, "claim", BL_CLAIM_ABSOLUTE)) {
        bl_output_text(to->output, "    clock: its own, which is the run's\n");
        return;
    }
    bl_output_format(to->output, "    clock: %s (%s)",
                     bl_tree_get_text(tie, "method"),
                     claim_words(bl_tree_get_text(tie, "claim")));
    clock_line(to, tie);
    clock_pairs(to, tie);
    bl_output_text(to->output, "\n");
    hangs(to, json_object_get(tie, "hangs"));
}

static void file(struct bl_text *to, const json_t *stored)
{
    bl_output_text(to->output, "    ");
    bl_text_plain(to, bl_tree_get_text(stored, "file"));
    bl_output_format(to->output, ", %llu bytes\n",
                     (unsigned long long)bl_tree_get_count(stored, "bytes"));
    const char *hash = bl_tree_get_text(stored, "sha256");
    bl_output_format(to->output, "    sha256 %s\n",
                     hash[0] == '\0' ? "not known" : hash);
}

static void recording(struct bl_text *to, const json_t *entry)
{
    bl_output_text(to->output, "  ");
    bl_text_plain(to, bl_tree_get_text(entry, "name"));
    bl_output_text(to->output, " of run ");
    bl_text_plain(to, bl_tree_get_text(entry, "run"));
    if (bl_text_is(to, entry, "kind", BL_RECORDING_LOG)) {
        bl_output_format(to->output, ": log, %llu rows\n",
                         (unsigned long long)bl_tree_get_count(entry, "rows"));
    } else {
        bl_output_format(
            to->output, ": capture, %llu frames",
            (unsigned long long)bl_tree_get_count(entry, "frames"));
        const json_t *buses = json_object_get(entry, "buses");
        for (size_t i = 0; i < json_array_size(buses); i++) {
            const char *name = json_string_value(json_array_get(buses, i));
            bl_output_text(to->output, i == 0 ? " on " : ", ");
            bl_text_plain(to,
                          name == NULL || name[0] == '\0' ? "one bus" : name);
        }
        bl_output_text(to->output, "\n");
    }
    if (json_object_get(entry, "file") != NULL) {
        file(to, entry);
    }
    const json_t *more = json_object_get(entry, "more_files");
    for (size_t i = 0; i < json_array_size(more); i++) {
        file(to, json_array_get(more, i));
    }
    clock(to, json_object_get(entry, "clock"));
    const json_t *failure = json_object_get(entry, "failure");
    if (failure != NULL) {
        bl_output_text(to->output, "    damaged: ");
        bl_text_plain(to, bl_tree_get_text(failure, "text"));
        bl_output_text(to->output, "; what could be read is used\n");
    }
    notes(to, json_object_get(entry, "warnings"));
}

static void run_notes(struct bl_text *to, const json_t *run)
{
    static const char *const steps[] = {"loading", "clocks", "measuring"};
    const json_t *warnings = json_object_get(run, "warnings");
    size_t count = 0;
    for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++) {
        count += json_array_size(json_object_get(warnings, steps[i]));
    }
    if (count == 0) {
        return;
    }
    bl_output_text(to->output, "  run ");
    bl_text_plain(to, bl_tree_get_text(run, "name"));
    bl_output_text(to->output, "\n");
    for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++) {
        notes(to, json_object_get(warnings, steps[i]));
    }
}

static void trial_file(struct bl_text *to)
{
    const json_t *trial = json_object_get(to->root, "trial");
    const json_t *tables = json_object_get(to->root, "tables");
    const json_t *record = json_object_get(trial, "record");
    bl_output_text(to->output, "\nTrial file\n  ");
    bl_text_plain(to, bl_tree_get_text(trial, "file"));
    bl_output_format(to->output, "\n  sha256 %s\n",
                     bl_tree_get_text(trial, "sha256"));
    for (size_t i = 0; i < json_array_size(tables); i++) {
        const json_t *table = json_array_get(tables, i);
        bl_output_text(to->output, i == 0 ? "  mapping tables " : ", ");
        bl_text_plain(to, bl_tree_get_text(table, "name"));
    }
    if (json_array_size(tables) > 0) {
        bl_output_text(to->output, "\n");
    }
    for (size_t i = 0; i < json_array_size(record); i++) {
        const json_t *pair = json_array_get(record, i);
        bl_output_text(to->output, "  ");
        bl_text_plain(to, bl_tree_get_text(pair, "key"));
        bl_output_text(to->output, ": ");
        bl_text_plain(to, bl_tree_get_text(pair, "value"));
        bl_output_text(to->output, "\n");
    }
    bl_text_identity(to);
}

bool bl_text_has_runs(const struct bl_text *to)
{
    return json_object_get(to->root, "findings") == NULL ||
           json_array_size(json_object_get(to->root, "runs")) > 0;
}

void bl_text_rests_on(struct bl_text *to)
{
    const json_t *recordings = json_object_get(to->root, "recordings");
    const json_t *runs = json_object_get(to->root, "runs");
    trial_file(to);
    if (!bl_text_has_runs(to)) {
        return;
    }
    bl_output_text(to->output, "\nRecordings\n");
    for (size_t i = 0; i < json_array_size(recordings); i++) {
        recording(to, json_array_get(recordings, i));
    }
    for (size_t i = 0; i < json_array_size(runs); i++) {
        run_notes(to, json_array_get(runs, i));
    }
}
