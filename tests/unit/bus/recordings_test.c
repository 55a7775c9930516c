/* SPDX-License-Identifier: MIT */
/*
 * The openly licensed recordings read as their README says: the same traffic
 * in five encodings, FD frames beside their text twin, counts and the number
 * of late stamps.
 */
#include "recordings.h"

static struct recording read_shared(const char *name)
{
    char path[4096];
    return read_file(shared_data(name, path, sizeof(path)), NULL);
}

static void check_clean(const struct recording *r, size_t frames)
{
    assert_int_equal(r->open_status, BL_OK);
    assert_int_equal(r->status, BL_OK);
    assert_int_equal(r->frames, frames);
    assert_int_equal(r->info->strays, 0);
    assert_int_equal(r->info->undone_splits, 0);
    uint64_t sum = 0;
    for (size_t i = 0; i < r->info->buses; i++) {
        for (size_t k = 0; k < BL_FRAME_KINDS; k++) {
            sum += r->info->bus[i].frames[k];
        }
    }
    assert_int_equal(sum, frames);
}

static void five_encodings_read_alike(void **state)
{
    (void)state;
    static const struct {
        const char *name, *format;
        size_t buses;
        int64_t resolution_ns;
    } rows[] = {
        {"truck-brake-release/release_le_us_227.pcap", "pcap", 1, 1000},
        {"truck-brake-release/release_be_ns_227.pcap", "pcap", 1, 1},
        {"truck-brake-release/release_sll_113.pcap", "pcap", 1, 1000},
        {"truck-brake-release/release_2if_us.pcapng", "pcapng", 2, 1000},
    };
    struct recording text = read_shared("truck-brake-release/release.log");
    check_clean(&text, 4648);
    assert_string_equal(text.info->format, "textlog");
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct recording other = read_shared(rows[i].name);
        check_clean(&other, 4648);
        assert_string_equal(other.info->format, rows[i].format);
        assert_int_equal(other.info->buses, rows[i].buses);
        assert_int_equal(other.info->resolution_ns, rows[i].resolution_ns);
        for (size_t k = 0; k < text.frames; k++) {
            if (!same_frame(&text.frame[k], &other.frame[k])) {
                fail_msg("%s: frame %zu differs", rows[i].name, k);
            }
            if (rows[i].buses > 1) {
                assert_string_equal(text.info->bus[text.frame[k].bus].name,
                                    other.info->bus[other.frame[k].bus].name);
            }
        }
        close_recording(&other);
    }
    /* The first line of the text: (1701364099.986950) 18F62521#F82A... */
    assert_int_equal(text.frame[0].time_ns, INT64_C(1701364099986950000));
    assert_int_equal(text.frame[0].id, 0x18F62521);
    assert_int_equal(text.frame[0].flags, BL_FRAME_EXTENDED);
    assert_memory_equal(text.frame[0].data, "\xF8\x2A\0\0\x09\0\xFF\x52", 8);
    close_recording(&text);
}

static void fd_frames_equal_their_text_twin(void **state)
{
    (void)state;
    struct recording text = read_shared("cooked-canfd/multiple_CAN.log");
    struct recording cooked = read_shared("cooked-canfd/multiple_CAN.pcap");
    check_clean(&text, 164);
    check_clean(&cooked, 164);
    /* grep -c '##' on the text gives 128 */
    uint64_t fd = 0;
    for (size_t i = 0; i < cooked.info->buses; i++) {
        fd += cooked.info->bus[i].frames[BL_FRAME_FD];
    }
    assert_int_equal(fd, 128);
    for (size_t k = 0; k < 164; k++) {
        assert_true(same_frame(&text.frame[k], &cooked.frame[k]));
        const char *name = cooked.info->bus[cooked.frame[k].bus].name;
        const char *twin = text.info->bus[text.frame[k].bus].name;
        /* "CAN 1" is can0 */
        assert_int_equal(name[4] - '1', twin[3] - '0');
    }
    /* Two interfaces of link type 212 are named. */
    assert_int_equal(notes_of(&cooked, "other-link-type"), 2);
    close_recording(&text);
    close_recording(&cooked);
}

static void counts_agree_with_the_readme(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        size_t frames;
        uint64_t late, remote;
    } rows[] = {
        {"truck-brake-release/full_401s.log.gz", 150411, 0, 0},
        {"truck-bench-drive/drive_211s.log.gz", 39740, 0, 1},
        {"truck-short/short_4s_out_of_order.log", 2645, 333, 0},
        {"cooked-canfd/single_can_bus_1_CAN.pcap", 1, 0, 0},
        {"cooked-canfd/single_can_bus_2_CAN.pcap", 1, 0, 0},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct recording r = read_shared(rows[i].name);
        check_clean(&r, rows[i].frames);
        assert_int_equal(r.info->late_sorted, rows[i].late);
        uint64_t remote = 0;
        for (size_t k = 0; k < r.frames; k++) {
            remote += r.frame[k].kind == BL_FRAME_REMOTE;
            assert_true(k == 0 || r.frame[k - 1].time_ns <= r.frame[k].time_ns);
        }
        assert_int_equal(remote, rows[i].remote);
        close_recording(&r);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_encodings_read_alike),
        cmocka_unit_test(fd_frames_equal_their_text_twin),
        cmocka_unit_test(counts_agree_with_the_readme),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
