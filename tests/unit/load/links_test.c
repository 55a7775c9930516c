/* SPDX-License-Identifier: MIT */
/* Intervals of one identifier. Outside reference: the definition of the median,
   worked out by hand for patterns that repeat. */
#include "testing.h"

#include "brakelag/brakelag.h"
#include "load/build.h"

/* Frames whose intervals repeat `pattern`, `count` intervals in all. */
static struct bl_links fed(const int64_t *pattern, size_t period, size_t count)
{
    struct bl_loaded_recording recording = {0};
    struct bl_run_data data = {.recording = &recording, .recordings = 1};
    struct bl_links_build b = {0};
    struct bl_frame frame = {.id = 0x123, .length = 8};
    size_t id;
    assert_int_equal(bl_links_start(&b, &data, 0, NULL, NULL), BL_OK);
    assert_int_equal(bl_links_id(&b, &id, &frame, 0, NULL), BL_OK);
    for (size_t i = 0; i <= count; i++) {
        if (i == 0 || !bl_links_usual(&b, &frame, id)) {
            assert_int_equal(bl_links_frame(&b, &frame, id), BL_OK);
        }
        frame.time_ns += pattern[i % period];
    }
    assert_int_equal(bl_links_finish(&b), BL_OK);
    assert_int_equal(b.links.ids, 1);
    assert_int_equal(b.links.id[0].frames, count + 1);
    bl_notes_finish(&recording.notes);
    return b.links;
}

/* Every second, fourth .. interval is shorter: a sender that keeps two tasks in
   step. One of `period` is less than half, so the median is the other one, and
   so is the usual interval. */
static void no_interval_is_passed_over(void **state)
{
    (void)state;
    for (size_t period = 4; period <= 64; period *= 2) {
        int64_t pattern[64];
        for (size_t i = 0; i < period; i++) {
            pattern[i] = i == 0 ? 9010000 : 9958000;
        }
        struct bl_links links = fed(pattern, period, 20000);
        assert_near(links.id[0].median_s, 9.958e-3, 1e-12);
        assert_near(links.id[0].nominal_s, 9.958e-3, 1e-12);
        assert_near(links.id[0].least_s, 9.01e-3, 1e-12);
        assert_near(links.id[0].most_s, 9.958e-3, 1e-12);
        bl_links_destroy(&links);
    }
}

/* Of 10 ms every third frame is lost: half of the intervals are 20 ms, but the
   sender's own is 10 ms. */
static void lost_frames_leave_the_usual_interval(void **state)
{
    (void)state;
    const int64_t pattern[] = {10000000, 20000000};
    struct bl_links links = fed(pattern, 2, 20000);
    assert_near(links.id[0].nominal_s, 10e-3, 1e-12);
    assert_near(links.id[0].median_s, 15e-3, 1e-12);
    assert_int_equal(links.id[0].gap_count, 0);
    bl_links_destroy(&links);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_interval_is_passed_over),
        cmocka_unit_test(lost_frames_leave_the_usual_interval),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
