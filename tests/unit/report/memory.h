/* SPDX-License-Identifier: MIT */
/*
 * The way from a trial file to JSON with one allocation failing. Either the
 * answer is the same to the byte, or it is "out of memory"; as many blocks are
 * held afterwards as before, and nothing leaks (the sanitizer's word at exit).
 * memory_whole.h goes on from here to a report.
 */
#ifndef BRAKELAG_TESTS_REPORT_MEMORY_H
#define BRAKELAG_TESTS_REPORT_MEMORY_H

#include "report/result.h"
#include "testing.h"

#include "base/alloc.h"
#include "brakelag/brakelag.h"

static inline enum bl_status memory_run(struct bl_result *result,
                                        const struct bl_trial *trial,
                                        size_t run, struct bl_error *error)
{
    struct bl_run_data *data = NULL;
    struct bl_run_clocks *clocks = NULL;
    struct bl_run_lag *lag = NULL;
    enum bl_status status = bl_load_run(&data, trial, run, error);
    if (status == BL_OK) {
        /* What a recording could not be read for is kept with it. */
        for (size_t i = 0; i < data->recordings; i++) {
            assert_true(data->recording[i].status == BL_OK ||
                        data->recording[i].status == BL_NOMEM);
            if (data->recording[i].status != BL_OK) {
                status = bl_fail_memory(error);
            }
        }
    }
    if (status == BL_OK) {
        status = bl_clock_tie_run(&clocks, trial, data, error);
    }
    if (status == BL_OK) {
        status = bl_measure_run(&lag, trial, data, clocks, error);
    }
    if (status == BL_OK) {
        status = bl_result_add_run(
            result, trial,
            &(const struct bl_result_run){run, data, clocks, lag, NULL}, error);
    }
    bl_run_lag_destroy(lag);
    bl_run_clocks_destroy(clocks);
    bl_run_data_destroy(data);
    return status;
}

/* *out is the caller's to discard; NULL unless OK. */
static inline enum bl_status
memory_way(struct bl_output **out, const char *path, struct bl_error *error)
{
    const struct bl_result_options options = {.form = BL_RESULT_JSON};
    struct bl_trial *trial = NULL;
    struct bl_result *result = NULL;
    *out = NULL;
    bl_error_clear(error);
    enum bl_status status = bl_trial_read_file(&trial, path, NULL, error);
    if (status == BL_OK) {
        status = bl_result_create(&result, trial, error);
    }
    for (size_t i = 0; status == BL_OK && i < trial->runs; i++) {
        status = memory_run(result, trial, i, error);
    }
    if (status == BL_OK) {
        status = bl_output_open(out, NULL, error);
    }
    if (status == BL_OK) {
        status = bl_result_write(result, *out, &options, error);
    }
    size_t size;
    if (status == BL_OK && bl_output_memory(*out, &size) == NULL) {
        status = bl_fail_memory(error);
    }
    if (status != BL_OK) {
        bl_output_discard(*out);
        *out = NULL;
    }
    bl_result_destroy(result);
    bl_trial_destroy(trial);
    return status;
}

/* Let every `stride`th allocation fail, one per attempt. */
static inline void memory_fail_in_turn(const char *path, uint64_t stride)
{
    struct bl_output *whole = NULL;
    struct bl_error error;
    char line[1024];
    size_t size;
    size_t again;
    bl_alloc_fail_at(0);
    if (memory_way(&whole, path, &error) != BL_OK) {
        fail_msg("%s", bl_error_line(&error, line, sizeof(line)));
    }
    const uint64_t count = bl_alloc_count();
    const char *expected = bl_output_memory(whole, &size);
    const int64_t live = bl_alloc_live();
    uint64_t refused = 0;
    assert_true(count > 100);
    for (uint64_t at = 1; at <= count; at += stride) {
        struct bl_output *output;
        bl_alloc_fail_at(at);
        const enum bl_status status = memory_way(&output, path, &error);
        bl_alloc_fail_at(0);
        if (status == BL_OK) {
            const char *text = bl_output_memory(output, &again);
            size_t same = 0;
            while (same < size && same < again &&
                   text[same] == expected[same]) {
                same++;
            }
            if (again != size || same != size) {
                fail_msg("allocation %llu fails and the answer is another: "
                         "'%.80s' became '%.80s'",
                         (unsigned long long)at, expected + same, text + same);
            }
            bl_output_discard(output);
            assert_int_equal(bl_alloc_live(), live);
            continue;
        }
        refused++;
        assert_int_equal(bl_alloc_live(), live);
        if (status != BL_NOMEM ||
            strstr(error.message, "out of memory") == NULL) {
            fail_msg("allocation %llu fails: %s", (unsigned long long)at,
                     bl_error_line(&error, line, sizeof(line)));
        }
    }
    print_message("%llu allocations, every %lluth failed: %llu refused\n",
                  (unsigned long long)count, (unsigned long long)stride,
                  (unsigned long long)refused);
    assert_true(refused > 0);
    bl_output_discard(whole);
}

/* A trial of one braking and two units. */
static const char memory_small[] =
    "[scenario]\nname = small\nseed = 3\ntables = iso11992-2\n"
    "levels = 65 kPa\nquiet_first = 1 s\n"
    "[sensors]\nrate = 100 Hz\n"
    "[clocks]\nlog_offset = 1.25 s\n"
    "[unit 0]\naddress = 32\nbus = vehicle\n"
    "[unit 1]\naddress = 200\nbus = link1\nline = 8 m\n"
    "[demand]\nmessage = EBS11\nperiod = 20 ms\n"
    "[application full]\npressure = 600 kPa\nhold = 0.8 s\npause = 1 s\n"
    "[run P]\napplications = full\n";

/* Simulate a scenario into a new folder; `path` is its trial file. */
static inline void memory_simulate(char *path, size_t size, const char *text)
{
    struct bl_bytes *source;
    struct bl_scenario *scenario;
    struct bl_simulation *simulation;
    struct bl_error error;
    char line[1024];
    const char *base = getenv("TMPDIR");
    char folder[512];
    snprintf(folder, sizeof(folder), "%s/brakelag-test-XXXXXX",
             base == NULL ? "/tmp" : base);
    assert_non_null(mkdtemp(folder));
    assert_int_equal(
        bl_bytes_open_memory(&source, "small.ini", text, strlen(text), NULL),
        BL_OK);
    if (bl_scenario_read(&scenario, source, NULL, NULL, &error) != BL_OK) {
        fail_msg("%s", bl_error_line(&error, line, sizeof(line)));
    }
    bl_bytes_close(source);
    assert_int_equal(bl_simulate(&simulation, scenario, NULL), BL_OK);
    assert_int_equal(bl_simulation_write(simulation, folder, NULL), BL_OK);
    bl_simulation_destroy(simulation);
    bl_scenario_destroy(scenario);
    snprintf(path, size, "%s/trial.ini", folder);
}

/* Away with what memory_simulate made; `runs` are the names of the runs,
   a letter each. */
static inline void memory_remove(const char *trial, const char *runs)
{
    char path[1024];
    const int folder = (int)(strrchr(trial, '/') - trial);
    for (const char *run = runs; *run != '\0'; run++) {
        snprintf(path, sizeof(path), "%.*s/%c.csv.gz", folder, trial, *run);
        assert_int_equal(remove(path), 0);
        snprintf(path, sizeof(path), "%.*s/%c.pcapng.gz", folder, trial, *run);
        (void)remove(path); /* a run without data has none */
    }
    snprintf(path, sizeof(path), "%.*s/truth.json", folder, trial);
    assert_int_equal(remove(path), 0);
    assert_int_equal(remove(trial), 0);
    snprintf(path, sizeof(path), "%.*s", folder, trial);
    assert_int_equal(remove(path), 0);
}

#endif
