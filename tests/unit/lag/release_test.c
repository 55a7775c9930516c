/* SPDX-License-Identifier: MIT */
/*
 * A real brake release, bus only: the same window of a parked truck in five
 * encodings (openly licensed, docs/testing.md). The pedal position of the brake
 * ECU (address 11) stands at 43.2 % when the recording begins and falls to
 * 37.6 % with the frame stamped 1701364100.594300: that frame is the first at
 * or below 90 % of the hold.
 *
 * The same release from frames of our own making, which need no recording: the
 * bytes that the notes of that recording give, 0x6C (43.2 %), then 0x5E 0x43
 * 0x3C 0x36 0x19 0x00 of 0.4 % a bit, 100 ms apart. 90 % of 43.2 is 38.88; the
 * first byte at or below it is 0x5E, 37.6 %.
 */
#include "testing.h"

#include "brakelag/brakelag.h"

#include <unistd.h>

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

/* `apply_s`: NAN where the application began before the recording. */
static void check(const struct bl_run_lag *lag, double apply_s,
                  int64_t release_ns, double release_s)
{
    assert_int_equal(lag->applications, 1);
    const struct bl_application *a = &lag->application[0];
    assert_int_equal(a->begun_before, isnan(apply_s));
    assert_false(a->unfinished);
    assert_int_equal(a->command_apply.known, !isnan(apply_s));
    if (isnan(apply_s)) {
        assert_int_equal(a->command_apply.reason, BL_REASON_BEGUN_BEFORE);
    } else {
        assert_near(a->command_apply.s, apply_s, 1e-9);
    }
    assert_true(a->command_release.known);
    assert_int_equal(a->release_ns, release_ns);
    assert_near(a->command_hold.value, 43.2, 1e-9);
    assert_near(a->command_release.s, release_s, 1e-9);
    for (size_t u = 0; u < a->units; u++) {
        assert_int_equal(a->unit[u].responded, BL_UNKNOWN);
        assert_false(a->unit[u].figure[BL_FIGURE_RELEASE_START].known);
        assert_int_equal(a->unit[u].figure[BL_FIGURE_RELEASE_START].reason,
                         BL_REASON_NO_CHANNEL);
    }
}

static void check_file(const char *path, double apply_s, int64_t release_ns,
                       double release_s)
{
    struct bl_trial *trial = trial_over(path);
    struct bl_error error;
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct bl_run_lag *lag;
    must(bl_load_run(&data, trial, 0, &error), &error);
    must(bl_clock_tie_run(&clocks, trial, data, &error), &error);
    must(bl_measure_run(&lag, trial, data, clocks, &error), &error);
    check(lag, apply_s, release_ns, release_s);
    bl_run_lag_destroy(lag);
    bl_run_clocks_destroy(clocks);
    bl_run_data_destroy(data);
    bl_trial_destroy(trial);
}

static void five_encodings_give_one_result(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(encodings); i++) {
        char name[200];
        char path[600];
        snprintf(name, sizeof(name), "truck-brake-release/%s", encodings[i]);
        shared_data(name, path, sizeof(path));
        /* first frame of the file: 1701364099.986950 */
        check_file(path, NAN, INT64_C(1701364100594300000), 0.607350);
    }
}

/* `count` frames of EBC1 (PGN 61441, J1939-71) from address 11, 100 ms apart;
   byte 2 is the pedal. Nothing is known of the other bytes. */
static void put_frames(FILE *file, unsigned *index, unsigned count,
                       uint8_t pedal)
{
    for (unsigned i = 0; i < count; i++, ++*index) {
        (void)fprintf(file, "(%u.%u00000) can0 18F0010B#FF%02XFFFFFFFFFFFF\n",
                      1000 + *index / 10, *index % 10, pedal);
    }
}

/* `second`: of the release, 0x43 in the recording. `before` frames with the
   pedal up, `over` frames at 70.4 %, 2 s at 43.2 %, the release, 1 s up. */
static void check_made(unsigned before, unsigned over, uint8_t second,
                       double apply_s, double release_s)
{
    const uint8_t release[] = {0x5E, second, 0x3C, 0x36, 0x19, 0x00};
    char path[600];
    unsigned index = 0;
    test_folder_name(path, sizeof(path), "release");
    const int fd = mkstemp(path);
    FILE *file = fd < 0 ? NULL : fdopen(fd, "w");
    assert_non_null(file);
    put_frames(file, &index, before, 0x00);
    put_frames(file, &index, over, 0xB0);
    put_frames(file, &index, 20, 0x6C);
    for (size_t i = 0; i < COUNT_OF(release); i++) {
        put_frames(file, &index, 1, release[i]);
    }
    put_frames(file, &index, 10, 0x00);
    assert_int_equal(fclose(file), 0);
    const int64_t release_ns =
        INT64_C(1000000000000) + (before + over + 20) * INT64_C(100000000);
    check_file(path, apply_s, release_ns, release_s);
    assert_int_equal(unlink(path), 0);
}

static void the_same_bytes_in_frames_of_our_own(void **state)
{
    (void)state;
    check_made(0, 0, 0x43, NAN, 2.0);
    /* The pedal goes down with the 31st frame, 3 s after the first. */
    check_made(30, 0, 0x43, 3.0, 5.0);
}

/* 90 % of 70.4 are passed when the pedal settles; it is let go 2 s later. */
static void an_overshoot_is_no_hold(void **state)
{
    (void)state;
    check_made(30, 3, 0x43, 3.0, 5.3);
}

/* J1939-71: 0xFE is an error, 0xFF is not available. The frame says nothing of
   the pedal, which was let go from where it stood before. */
static void a_frame_without_a_value_is_no_hold(void **state)
{
    (void)state;
    check_made(30, 0, 0xFE, 3.0, 5.0);
    check_made(30, 0, 0xFF, 3.0, 5.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_encodings_give_one_result),
        cmocka_unit_test(the_same_bytes_in_frames_of_our_own),
        cmocka_unit_test(an_overshoot_is_no_hold),
        cmocka_unit_test(a_frame_without_a_value_is_no_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
