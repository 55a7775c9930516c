/* SPDX-License-Identifier: MIT */
/*
 * A real brake release, bus only: the same window of a parked truck in five
 * encodings (openly licensed, see the data's own README). The pedal position
 * of the brake ECU (address 11) stands at 43.2 % when the recording begins and
 * falls to 37.6 % with the frame stamped 1701364100.594300: that frame is the
 * first at or below 90 % of the hold.
 */
#include "testing.h"

#include "brakelag/brakelag.h"

static const char *const encodings[] = {
    "release.log", "release_le_us_227.pcap", "release_be_ns_227.pcap",
    "release_sll_113.pcap", "release_2if_us.pcapng"};

static void must(enum bl_status status, const struct bl_error *error)
{
    if (status != BL_OK) {
        char line[700];
        fail_msg("%s", bl_error_line(error, line, sizeof(line)));
    }
}

static struct bl_trial *trial_over(const char *path)
{
    char text[1024];
    snprintf(text, sizeof(text),
             "[trial]\nname = release\ntables = j1939-brakes\n"
             "[unit 0]\nname = truck\n"
             "command = EBC1.pedal_position@0x0B\n"
             "command_kind = control-movement\ncommand_at = 5 %%\n"
             "[unit 1]\nname = trailer\n"
             "[run only]\ncaptures = %s\n",
             path);
    struct bl_error error;
    struct bl_bytes *source;
    struct bl_trial *trial;
    must(bl_bytes_open_memory(&source, "release.ini", text, strlen(text),
                              &error),
         &error);
    must(bl_trial_read(&trial, source, NULL, NULL, &error), &error);
    bl_bytes_close(source);
    return trial;
}

static void check(const struct bl_run_lag *lag)
{
    assert_int_equal(lag->applications, 1);
    const struct bl_application *a = &lag->application[0];
    assert_true(a->begun_before);
    assert_false(a->unfinished);
    assert_false(a->command_apply.known);
    assert_int_equal(a->command_apply.reason, BL_REASON_BEGUN_BEFORE);
    assert_true(a->command_release.known);
    assert_int_equal(a->release_ns, INT64_C(1701364100594300000));
    assert_near(a->command_hold.value, 43.2, 1e-9);
    /* first frame of the file: 1701364099.986950 */
    assert_near(a->command_release.s, 0.607350, 1e-9);
    for (size_t u = 0; u < a->units; u++) {
        assert_int_equal(a->unit[u].responded, BL_UNKNOWN);
        assert_false(a->unit[u].release_start.known);
        assert_int_equal(a->unit[u].release_start.reason, BL_REASON_NO_CHANNEL);
    }
}

static void five_encodings_give_one_result(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(encodings); i++) {
        char name[200];
        char path[600];
        snprintf(name, sizeof(name), "truck-brake-release/%s", encodings[i]);
        shared_data(name, path, sizeof(path));
        struct bl_trial *trial = trial_over(path);
        struct bl_error error;
        struct bl_run_data *data;
        struct bl_run_clocks *clocks;
        struct bl_run_lag *lag;
        must(bl_load_run(&data, trial, 0, &error), &error);
        must(bl_clock_tie_run(&clocks, trial, data, &error), &error);
        must(bl_measure_run(&lag, trial, data, clocks, &error), &error);
        check(lag);
        bl_run_lag_destroy(lag);
        bl_run_clocks_destroy(clocks);
        bl_run_data_destroy(data);
        bl_trial_destroy(trial);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_encodings_give_one_result),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
