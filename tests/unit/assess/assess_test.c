/* SPDX-License-Identifier: MIT */
/*
 * A whole trial in one call. The trial is made here: two runs of one
 * application, and a third whose log is not there. Command and output are
 * straight lines, so the response is worked out on paper.
 */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
#include "testing.h"

#include "base/alloc.h"
#include "brakelag/brakelag.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static char folder[256];
static char trial_path[300];

/* 0 to 600 kPa in 0.6 s from `from` on, held until 5 s, back in 0.5 s. */
static double line_kpa(double s, double from)
{
    const double up = (s - from) / 0.6;
    const double down = 1 - (s - 5) / 0.5;
    return 600 * fmax(0, fmin(1, fmin(up, down)));
}

static void write_log(const char *name)
{
    char path[300];
    snprintf(path, sizeof(path), "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fprintf(file, "Time (s),P_treadle (kPa),P_out (kPa)\n");
    for (int i = 0; i < 8000; i++) {
        const double s = i * 0.001;
        fprintf(file, "%.3f,%.3f,%.3f\n", s, line_kpa(s, 2), line_kpa(s, 2.25));
    }
    assert_int_equal(fclose(file), 0);
}

static int make_trial(void **state)
{
    (void)state;
    (void)test_folder_name(folder, sizeof(folder), "assess");
    assert_non_null(mkdtemp(folder));
    snprintf(trial_path, sizeof(trial_path), "%s/trial.ini", folder);
    FILE *file = fopen(trial_path, "w");
    assert_non_null(file);
    fprintf(file, "[trial]\nname = made\nresponse_at = 20 kPa\n"
                  "[unit 0]\ncommand = treadle\n"
                  "command_kind = treadle-pressure\ncommand_at = 20 kPa\n"
                  "[unit 1]\noutput = out\n"
                  "[channel treadle]\ncolumn = P_treadle\n"
                  "quantity = pressure\naccuracy = 0.5 %%\n"
                  "[channel out]\ncolumn = P_out\n"
                  "quantity = pressure\naccuracy = 0.5 %%\n"
                  "[run P1]\ncondition = powered\nlogs = P1.csv\n"
                  "[run LOST]\ncondition = powered\nlogs = LOST.csv\n"
                  "[run U1]\ncondition = unpowered\nlogs = U1.csv\n");
    assert_int_equal(fclose(file), 0);
    write_log("P1.csv");
    write_log("U1.csv");
    return 0;
}

static int remove_trial(void **state)
{
    static const char *const names[] = {"trial.ini", "P1.csv", "U1.csv"};
    char path[300];
    (void)state;
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        snprintf(path, sizeof(path), "%s/%s", folder, names[i]);
        (void)unlink(path);
    }
    return rmdir(folder);
}

static struct bl_trial *read_trial(void)
{
    struct bl_trial *trial = NULL;
    struct bl_error error;
    char text[1024];
    if (bl_trial_read_file(&trial, trial_path, NULL, &error) != BL_OK) {
        fail_msg("%s", bl_error_line(&error, text, sizeof(text)));
    }
    return trial;
}

struct heard {
    char text[256];
    size_t samples; /* of the first channel, when its run was done */
};

static void hear(struct heard *heard, char sign, const char *name)
{
    const size_t length = strlen(heard->text);
    snprintf(heard->text + length, sizeof(heard->text) - length, "%c%s", sign,
             name);
}

static void begin(void *user, const struct bl_trial *trial, size_t run)
{
    hear(user, '+', trial->run[run].name);
}

static void done(void *user, const struct bl_assessment *so_far, size_t run)
{
    struct heard *heard = user;
    hear(heard, '-', so_far->trial->run[run].name);
    if (so_far->run[run].data != NULL) {
        heard->samples = so_far->run[run].data->channel[0].samples.count;
    }
}

/* The output passes 20 kPa of 600 as far up as the command does, 0.25 s later.
   The third run is measured although the second could not be read. */
static void what_cannot_be_read_does_not_stop_the_rest(void **state)
{
    (void)state;
    struct bl_trial *trial = read_trial();
    struct bl_assessment *found = NULL;
    struct heard heard = {"", 0};
    const struct bl_assess_options options = {.parts = 0};
    const struct bl_assess_progress progress = {begin, done, &heard};
    assert_int_equal(bl_assess(&found, trial, &options, &progress, NULL),
                     BL_OK);
    assert_string_equal(heard.text, "+P1-P1+LOST-LOST+U1-U1");
    assert_int_equal(found->runs, 3);
    for (size_t i = 0; i < 3; i += 2) {
        const struct bl_run_lag *lag = found->run[i].lag;
        assert_int_equal(found->run[i].why.status, BL_OK);
        assert_int_equal(lag->applications, 1);
        const struct bl_unit_lag *unit = lag->application[0].unit;
        while (unit->unit != 1) {
            unit++;
        }
        if (!unit->figure[BL_FIGURE_RESPONSE].known) {
            fail_msg("%s", bl_reason_meaning(
                               unit->figure[BL_FIGURE_RESPONSE].reason));
        }
        assert_true(fabs(unit->figure[BL_FIGURE_RESPONSE].s - 0.25) < 0.001);
    }
    assert_true(found->run[1].taken);
    assert_null(found->run[1].lag);
    assert_int_equal(found->run[1].why.status, BL_IO);
    assert_non_null(strstr(found->run[1].why.message, "cannot open"));
    /* Nothing else was asked for. */
    assert_null(found->findings);
    assert_null(found->comparison);
    assert_null(found->limits);
    assert_null(found->run[0].reach);
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
}

/* Memory holds the series of one run at a time, unless they are asked for. */
static void series_are_kept_where_asked_for(void **state)
{
    (void)state;
    struct bl_trial *trial = read_trial();
    for (int keep = 0; keep < 2; keep++) {
        struct bl_assessment *found = NULL;
        struct heard heard = {"", 0};
        const struct bl_assess_options options = {
            .parts = keep == 0 ? 0 : BL_ASSESS_SERIES};
        const struct bl_assess_progress progress = {NULL, done, &heard};
        assert_int_equal(bl_assess(&found, trial, &options, &progress, NULL),
                         BL_OK);
        assert_int_equal(heard.samples, 8000);
        assert_int_equal(found->run[0].data->recordings, 1);
        assert_int_equal(found->run[0].data->channels, keep == 0 ? 0 : 2);
        bl_assessment_destroy(found);
    }
    bl_trial_destroy(trial);
}

static void runs_are_chosen_by_name(void **state)
{
    (void)state;
    static const char *const chosen[] = {"U1"};
    static const char *const unknown[] = {"P1", "U7"};
    struct bl_trial *trial = read_trial();
    struct bl_assessment *found = NULL;
    struct bl_error error;
    const struct bl_assess_options one = {
        .parts = BL_ASSESS_REPORT, .run = chosen, .runs = 1};
    assert_int_equal(bl_assess(&found, trial, &one, NULL, &error), BL_OK);
    assert_false(found->run[0].taken);
    assert_null(found->run[0].data);
    assert_non_null(found->run[2].lag);
    assert_non_null(found->findings);
    assert_null(found->comparison); /* one condition alone */
    bl_assessment_destroy(found);
    const struct bl_assess_options bad = {.run = unknown, .runs = 2};
    assert_int_equal(bl_assess(&found, trial, &bad, NULL, &error), BL_ARG);
    assert_null(found);
    assert_non_null(strstr(error.message, "'U7'"));
    bl_trial_destroy(trial);
}

/* A study that cannot be made is told beside its place, and the others are
   made: no run has the condition that is asked for. */
static void a_study_that_fails_is_told(void **state)
{
    (void)state;
    struct bl_trial *trial = read_trial();
    struct bl_assessment *found = NULL;
    const struct bl_compare_options compare = {.base = "wet",
                                               .confidence = 0.95};
    const struct bl_assess_options options = {
        .parts = BL_ASSESS_COMPARISON | BL_ASSESS_LIMITS, .compare = &compare};
    assert_int_equal(bl_assess(&found, trial, &options, NULL, NULL), BL_OK);
    assert_null(found->comparison);
    assert_int_equal(found->failed.status, BL_TRIAL);
    assert_non_null(strstr(found->failed.message, "wet"));
    assert_non_null(found->limits);
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
}

/* Everything, and a report of it: powered against unpowered, of the runs that
   could be read. */
static void everything_by_default(void **state)
{
    (void)state;
    struct bl_trial *trial = read_trial();
    struct bl_assessment *found = NULL;
    struct bl_output *output = NULL;
    const struct bl_result_options json = {.form = BL_RESULT_JSON};
    assert_int_equal(bl_assess(&found, trial, NULL, NULL, NULL), BL_OK);
    assert_int_equal(found->failed.status, BL_OK);
    assert_non_null(found->comparison);
    assert_int_equal(found->comparison->runs_base, 1);
    assert_non_null(found->answer);
    assert_non_null(found->dynamics);
    assert_null(found->run[0].check);
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    assert_int_equal(bl_report_write(found, output, &json, NULL), BL_OK);
    size_t size = 0;
    const char *text = bl_output_memory(output, &size);
    assert_non_null(text);
    static const char *const wanted[] = {"\"brakelag-result/", "\"LOST\"",
                                         "\"comparison\"", "\"findings\"",
                                         "\"answer\""};
    for (size_t i = 0; i < COUNT_OF(wanted); i++) {
        if (strstr(text, wanted[i]) == NULL) {
            fail_msg("no %s in the report", wanted[i]);
        }
    }
    bl_output_discard(output);
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
}

/* Any one of many allocations fails: all or nothing, and no block is left. */
static void memory_ends(void **state)
{
    (void)state;
    struct bl_trial *trial = read_trial();
    static const char *const chosen[] = {"P1"};
    const struct bl_assess_options options = {
        .parts = BL_ASSESS_REPORT, .run = chosen, .runs = 1};
    enum bl_status status = BL_NOMEM;
    size_t refused = 0;
    for (uint64_t at = 1; status != BL_OK; at += 1 + at / 20) {
        struct bl_assessment *found = NULL;
        bl_alloc_fail_at(at);
        status = bl_assess(&found, trial, &options, NULL, NULL);
        bl_alloc_fail_at(0);
        assert_true(status == BL_OK || status == BL_NOMEM);
        assert_true((status == BL_OK) == (found != NULL));
        refused += status == BL_NOMEM;
        bl_assessment_destroy(found);
    }
    assert_true(refused > 20);
    bl_trial_destroy(trial);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_cannot_be_read_does_not_stop_the_rest),
        cmocka_unit_test(series_are_kept_where_asked_for),
        cmocka_unit_test(runs_are_chosen_by_name),
        cmocka_unit_test(a_study_that_fails_is_told),
        cmocka_unit_test(everything_by_default),
        cmocka_unit_test(memory_ends),
    };
    return cmocka_run_group_tests(tests, make_trial, remove_trial);
}
