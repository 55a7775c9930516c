/* SPDX-License-Identifier: MIT */
/*
 * Frames of measurement files. The files are written by tests/data/mdf/make.py
 * with their twin as text, which the reader of text reads. What is damaged is
 * reckoned from how the file was made: 36 frames, 27 of them classic.
 */
#include "recordings.h"

#include "base/alloc.h"

static const char *const twins[] = {
    "good-frames-fixed",
    "good-frames-up-to",
    "good-frames-sd",
    "good-frames-sd-list",
    "good-frames-sd-packed",
    "good-frames-records-behind",
    "good-frames-records-before",
    "good-frames-unfinished",
    "good-frames-sd-unfinished",
    "good-frames-two-sets",
    "good-both",
};

static struct recording read_fixture(const char *name)
{
    char file[128];
    char path[4096];
    snprintf(file, sizeof(file), "mdf/%s", name);
    return read_file(test_data(file, path, sizeof(path)), NULL);
}

static struct recording read_mf4(const char *name)
{
    char file[128];
    snprintf(file, sizeof(file), "%s.mf4", name);
    return read_fixture(file);
}

static void every_shape_reads_as_its_twin(void **state)
{
    (void)state;
    struct recording twin = read_fixture("frames.log");
    assert_int_equal(twin.frames, 36);
    for (size_t i = 0; i < COUNT_OF(twins); i++) {
        struct recording r = read_mf4(twins[i]);
        if (r.status != BL_OK || r.frames != twin.frames) {
            fail_msg("%s: %s, %zu frames", twins[i], bl_status_name(r.status),
                     r.frames);
        }
        for (size_t k = 0; k < r.frames; k++) {
            if (!same_frame(&r.frame[k], &twin.frame[k]) ||
                strcmp(r.info->bus[r.frame[k].bus].name,
                       twin.info->bus[twin.frame[k].bus].name) != 0) {
                fail_msg("%s: frame %zu is not its twin", twins[i], k);
            }
        }
        assert_string_equal(r.info->format, "mdf");
        assert_false(r.info->after_damage);
        close_recording(&r);
    }
    close_recording(&twin);
}

/* Three records of a bus that is not read. */
static void other_buses_are_counted(void **state)
{
    (void)state;
    struct recording r = read_mf4("good-both");
    assert_int_equal(r.info->other_packets, 3);
    assert_int_equal(notes_of(&r, "group-not-read"), 1);
    close_recording(&r);
}

/* Kinds of errors 0 to 5 in the classes of linux/can/error.h: 0x08 protocol
   with the kind in byte 2 or the place in byte 3, 0x20 no acknowledgement. */
static void remote_and_error_frames_keep_their_kind(void **state)
{
    (void)state;
    static const uint32_t class_of[] = {0x08, 0x08, 0x08, 0x08, 0x08, 0x20};
    static const uint8_t kind[] = {0, 0x01, 0x02, 0x04, 0, 0};
    static const uint8_t where[] = {0, 0, 0, 0, 0x08, 0};
    struct recording r = read_mf4("good-remote-and-error");
    assert_int_equal(r.status, BL_OK);
    assert_int_equal(r.frames, 12);
    for (size_t k = 0; k < 6; k++) {
        const struct bl_frame *remote = &r.frame[2 * k];
        const struct bl_frame *error = &r.frame[2 * k + 1];
        assert_int_equal(remote->kind, BL_FRAME_REMOTE);
        assert_int_equal(remote->length, k);
        assert_int_equal(error->kind, BL_FRAME_ERROR);
        assert_int_equal(error->id, class_of[k]);
        assert_int_equal(error->data[2], kind[k]);
        assert_int_equal(error->data[3], where[k]);
        assert_string_equal(r.info->bus[error->bus].name, "can2");
    }
    close_recording(&r);
}

struct row {
    const char *name;
    enum bl_status open_status, status;
    size_t frames;
    const char *says; /* in the failure, or the code of a note */
};

/* clang-format off */
static const struct row rows[] = {
    {"frames-length-over-the-record", BL_OK, BL_OK, 26, "impossible-length"},
    {"frames-length-over-8", BL_OK, BL_OK, 26, "impossible-length"},
    {"frames-11-bits-too-large", BL_OK, BL_OK, 26, "impossible-id"},
    {"frames-bytes-out-of-place", BL_OK, BL_OK, 25, "data-not-found"},
    {"frames-bytes-nowhere", BL_OK, BL_FORMAT, 0, "a block of MDF"},
    {"frames-without-identifier", BL_OK, BL_OK, 0, "group-not-read"},
    {"frames-without-time", BL_OK, BL_OK, 27, "group-not-read"},
    {"good-plain", BL_FORMAT, BL_OK, 0, "belongs to 'logs'"},
    {"head-of-another-kind", BL_FORMAT, BL_OK, 0, "found '##HX'"},
    {"link-out-of-the-file", BL_TRUNCATED, BL_OK, 0, "out of the file"},
    {"sets-in-a-loop", BL_FORMAT, BL_OK, 0, "comes back to itself"},
};
/* clang-format on */

static void what_is_damaged_is_said(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct row *row = &rows[i];
        struct recording r = read_mf4(row->name);
        if (r.open_status != row->open_status || r.status != row->status ||
            r.frames != row->frames) {
            fail_msg("%s: open %s, then %s, %zu frames: %s", row->name,
                     bl_status_name(r.open_status), bl_status_name(r.status),
                     r.frames, r.error.message);
        }
        if (row->open_status != BL_OK || row->status != BL_OK) {
            if (strstr(r.error.message, row->says) == NULL) {
                fail_msg("%s: says '%s'", row->name, r.error.message);
            }
        } else if (notes_of(&r, row->says) == 0) {
            fail_msg("%s: no note %s", row->name, row->says);
        }
        close_recording(&r);
    }
}

/* The frame behind one that is left out says so. */
static void a_frame_behind_a_damaged_one_is_marked(void **state)
{
    (void)state;
    struct recording r = read_mf4("frames-length-over-8");
    for (size_t k = 0; k < r.frames; k++) {
        assert_int_equal((r.frame[k].flags & BL_FRAME_AFTER_DAMAGE) != 0,
                         k == 4);
    }
    close_recording(&r);
}

static enum bl_status read_whole(const char *path)
{
    struct bl_bytes *bytes = NULL;
    struct bl_bus_reader *reader = NULL;
    size_t count = 0;
    enum bl_status status = bl_bytes_open(&bytes, path, NULL);
    if (status == BL_OK) {
        status = bl_bus_open(&reader, bytes, NULL, NULL);
    }
    do {
        const struct bl_frame *batch;
        if (status == BL_OK) {
            status = bl_bus_next(reader, &batch, &count, NULL);
        }
    } while (status == BL_OK && count > 0);
    bl_bus_close(reader);
    bl_bytes_close(bytes);
    return status;
}

static void every_lack_of_memory_is_said(void **state)
{
    (void)state;
    static const char *const names[] = {"mdf/good-frames-sd-packed.mf4",
                                        "mdf/good-frames-records-before.mf4",
                                        "mdf/good-frames-two-sets.mf4"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        char path[4096];
        test_data(names[i], path, sizeof(path));
        bl_alloc_fail_at(0); /* counts from here */
        assert_int_equal(read_whole(path), BL_OK);
        const uint64_t count = bl_alloc_count();
        assert_true(count > 50);
        for (uint64_t n = 1; n <= count; n++) {
            bl_alloc_fail_at(n);
            const enum bl_status status = read_whole(path);
            bl_alloc_fail_at(0);
            if (status != BL_NOMEM) {
                fail_msg("%s: allocation %llu failed: %s", names[i],
                         (unsigned long long)n, bl_status_name(status));
            }
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_shape_reads_as_its_twin),
        cmocka_unit_test(other_buses_are_counted),
        cmocka_unit_test(remote_and_error_frames_keep_their_kind),
        cmocka_unit_test(what_is_damaged_is_said),
        cmocka_unit_test(a_frame_behind_a_damaged_one_is_marked),
        cmocka_unit_test(every_lack_of_memory_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
