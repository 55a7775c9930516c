/* SPDX-License-Identifier: MIT */
/*
 * Recordings that are damaged in one way each (tests/data/bus/make.py): what
 * is whole is delivered, and the damage is said in one line or counted.
 */
#include "recordings.h"

#include <dirent.h>

struct row {
    const char *name;
    enum bl_status open_status, status;
    size_t frames;
    const char *says; /* the error, or the code of a note */
};

static const struct row rows[] = {
    {"pcap-header-cut.pcap", BL_TRUNCATED, BL_OK, 0, "24 bytes, found 23"},
    {"pcap-version-9.pcap", BL_FORMAT, BL_OK, 0, "damaged pcap header"},
    {"pcap-link-type-ethernet.pcap", BL_UNSUPPORTED, BL_OK, 0,
     "found link type 1"},
    {"pcap-record-longer-than-snaplen.pcap", BL_OK, BL_FORMAT, 1, "record 2"},
    {"pcap-record-header-cut.pcap", BL_OK, BL_OK, 1, "cut-last-record"},
    {"pcap-record-data-cut.pcap", BL_OK, BL_OK, 1, "cut-last-record"},
    {"pcap-length-over-the-original.pcap", BL_OK, BL_OK, 3, "wrong-length"},
    {"pcap-record-longer-than-can.pcap", BL_OK, BL_FORMAT, 1,
     "at most 2112 bytes of packet, found 4096"},
    {"pcap-fraction-over-a-second.pcap", BL_OK, BL_OK, 2, "impossible-stamp"},
    {"pcap-packet-shorter-than-can-header.pcap", BL_OK, BL_OK, 2, "cut-frame"},
    {"pcap-length-over-64.pcap", BL_OK, BL_OK, 2, "impossible-length"},
    {"pcap-frame-cut-by-snaplen.pcap", BL_OK, BL_OK, 2, "cut-frame"},
    {"pcap-standard-id-over-11-bits.pcap", BL_OK, BL_OK, 2, "impossible-id"},
    {"pcap-can-xl.pcap", BL_OK, BL_OK, 2, "can-xl"},
    {"pcap-cooked-shorter-than-header.pcap", BL_OK, BL_OK, 2, "cut-frame"},
    {"pcapng-section-cut.pcapng", BL_TRUNCATED, BL_OK, 0, "28 bytes, found 20"},
    {"pcapng-no-byte-order-magic.pcapng", BL_FORMAT, BL_OK, 0, "magic"},
    {"pcapng-version-2.pcapng", BL_UNSUPPORTED, BL_OK, 0, "found 2.0"},
    {"pcapng-block-length-not-multiple-of-4.pcapng", BL_OK, BL_FORMAT, 2,
     "found 49"},
    {"pcapng-block-length-too-small.pcapng", BL_OK, BL_FORMAT, 2, "found 8"},
    {"pcapng-trailing-length-differs.pcapng", BL_OK, BL_FORMAT, 2, "found 52"},
    {"pcapng-packet-longer-than-block.pcapng", BL_OK, BL_FORMAT, 2, "found 20"},
    {"pcapng-packet-block-too-small.pcapng", BL_OK, BL_FORMAT, 2, "found 24"},
    {"pcapng-packet-block-over-the-limit.pcapng", BL_OK, BL_FORMAT, 1,
     "found 268435456"},
    {"pcapng-interface-block-too-small.pcapng", BL_OK, BL_FORMAT, 0,
     "found 16"},
    {"pcapng-unknown-interface.pcapng", BL_OK, BL_OK, 2, "unknown-interface"},
    {"pcapng-packet-before-interface.pcapng", BL_OK, BL_OK, 2,
     "unknown-interface"},
    {"pcapng-simple-packet.pcapng", BL_OK, BL_OK, 2, "no-stamp"},
    {"pcapng-block-cut.pcapng", BL_OK, BL_OK, 2, "cut-last-record"},
    {"pcapng-unknown-block-cut.pcapng", BL_OK, BL_OK, 2, "cut-last-record"},
    {"pcapng-type-of-a-packet-damaged.pcapng", BL_OK, BL_OK, 2,
     "unknown-block"},
    {"pcapng-type-of-an-interface-damaged.pcapng", BL_OK, BL_FORMAT, 0,
     "an interface is described behind damage"},
    {"pcapng-interface-as-simple-packet.pcapng", BL_OK, BL_FORMAT, 0,
     "an interface is described behind damage"},
    {"pcapng-type-of-a-section-damaged.pcapng", BL_OK, BL_FORMAT, 1,
     "is a section header inside"},
    {"pcapng-unknown-block-over-packets.pcapng", BL_OK, BL_FORMAT, 60,
     "whole packets stand inside a block of 2880 bytes"},
    {"pcapng-packet-block-over-packets.pcapng", BL_OK, BL_FORMAT, 60,
     "whole packets stand inside a block of 2880 bytes"},
    {"pcapng-lost-bytes-leave-a-1-before-a-length.pcapng", BL_OK, BL_FORMAT, 4,
     "at most the block's 16 bytes of packet"},
    {"pcapng-resolution-twice.pcapng", BL_OK, BL_FORMAT, 0, "tsresol once"},
    {"pcapng-resolution-of-two-bytes.pcapng", BL_OK, BL_FORMAT, 0,
     "tsresol of one byte"},
    {"pcapng-resolution-too-fine.pcapng", BL_OK, BL_FORMAT, 0, "finer"},
    {"pcapng-offset-of-four-bytes.pcapng", BL_OK, BL_FORMAT, 0,
     "tsoffset of eight"},
    {"pcapng-offset-twice.pcapng", BL_OK, BL_FORMAT, 0, "tsoffset once"},
    {"pcapng-option-longer-than-block.pcapng", BL_OK, BL_OK, 2, "bad-option"},
    {"pcapng-section-option-longer-than-block.pcapng", BL_OK, BL_OK, 2,
     "bad-option"},
    {"pcapng-stamp-out-of-range.pcapng", BL_OK, BL_OK, 2, "impossible-stamp"},
    {"text-odd-number-of-digits.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-nine-bytes.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-fd-65-bytes.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-id-of-four-digits.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-id-over-11-bits.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-id-over-29-bits.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-time-is-a-word.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-time-out-of-range.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-without-interface.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-without-data-sign.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-unknown-direction.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-raw-length-behind-seven-bytes.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-remote-length-nine.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-zero-bytes.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-binary-in-between.log", BL_OK, BL_OK, 2, "bad-line"},
    {"text-can-xl.log", BL_OK, BL_OK, 2, "can-xl"},
    {"text-cut-last-line.log", BL_OK, BL_OK, 2, "cut-last-record"},
    {"text-last-line-without-end.log", BL_OK, BL_OK, 2,
     "last-line-without-end"},
    {"text-no-whole-line.log", BL_FORMAT, BL_OK, 0, "no whole line"},
    {"term-fewer-bytes-than-the-length.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-more-bytes-than-the-length.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-length-nine.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-length-65.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-without-length.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-byte-of-one-digit.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-id-of-four-digits.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-id-over-11-bits.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-id-over-29-bits.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-flags-unknown.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-stamp-is-a-word.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-stamp-out-of-range.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-stamp-missing-in-one-line.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-zero-bytes.txt", BL_OK, BL_OK, 2, "bad-line"},
    {"term-cut-last-line.txt", BL_OK, BL_OK, 1, "cut-last-record"},
    {"term-last-line-without-end.txt", BL_OK, BL_OK, 2,
     "last-line-without-end"},
    {"term-no-whole-line.txt", BL_FORMAT, BL_OK, 0, "no whole line"},
    {"term-delta-stamp-lost.txt", BL_OK, BL_FORMAT, 20,
     "expected the time since the line before"},
    {"table-id-is-a-word.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-id-over-29-bits.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-fewer-bytes-than-the-length.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-length-over-64.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-bytes-of-three-digits.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-odd-number-of-digits.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-time-is-a-word.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-cells-missing.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-zero-bytes.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-cut-last-row.csv", BL_OK, BL_OK, 1, "cut-last-record"},
    {"table-last-row-without-end.csv", BL_OK, BL_OK, 2,
     "last-line-without-end"},
    {"table-byte-over-255.csv", BL_OK, BL_OK, 2, "bad-line"},
    {"table-base-of-ids-unknown.csv", BL_FORMAT, BL_OK, 0,
     "whether identifiers are decimal or hexadecimal cannot be told"},
    {"table-base-of-bytes-unknown.csv", BL_FORMAT, BL_OK, 0,
     "whether bytes are decimal or hexadecimal cannot be told"},
    {"table-rows-are-none.csv", BL_FORMAT, BL_OK, 0,
     "most rows are not frames"},
    {"table-header-alone.csv", BL_FORMAT, BL_OK, 0, "no row follows it"},
    {"table-delta-time-lost.csv", BL_OK, BL_FORMAT, 5,
     "expected the time since the line before"},
};

static void check_row(const struct row *row)
{
    char name[256];
    char path[4096];
    snprintf(name, sizeof(name), "bus/%s", row->name);
    struct recording r = read_file(test_data(name, path, sizeof(path)), NULL);
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
        assert_string_equal(r.error.source, path);
        assert_null(strchr(r.error.message, '\n'));
    } else if (notes_of(&r, row->says) != 1) {
        fail_msg("%s: no single note %s", row->name, row->says);
    }
    close_recording(&r);
}

static void damage_is_said_and_the_rest_is_read(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        check_row(&rows[i]);
    }
}

/* Every fixture that is named after a damage has its row. */
static void no_fixture_is_left_out(void **state)
{
    (void)state;
    char path[4096];
    DIR *folder = opendir(test_data("bus", path, sizeof(path)));
    assert_non_null(folder);
    const struct dirent *entry;
    size_t damaged = 0;
    while ((entry = readdir(folder)) != NULL) {
        const char *name = entry->d_name;
        bool known = name[0] == '.' || strncmp(name, "good-", 5) == 0 ||
                     strcmp(name, "make.py") == 0 ||
                     /* have tests of their own below */
                     strcmp(name, "pcap-little-endian-ids.pcap") == 0 ||
                     strcmp(name, "pcap-cooked-not-can.pcap") == 0;
        damaged += !known;
        for (size_t i = 0; i < COUNT_OF(rows); i++) {
            known = known || strcmp(name, rows[i].name) == 0;
        }
        if (!known) {
            fail_msg("tests/data/bus/%s has no row", name);
        }
    }
    closedir(folder);
    assert_int_equal(damaged, COUNT_OF(rows));
}

static void ids_in_the_wrong_order_are_said_and_can_be_read(void **state)
{
    (void)state;
    char path[4096];
    test_data("bus/pcap-little-endian-ids.pcap", path, sizeof(path));
    struct recording r = read_file(path, NULL);
    assert_int_equal(r.status, BL_OK);
    assert_int_equal(notes_of(&r, "can-id-order"), 1);
    assert_non_null(strstr(bl_notes_find(&r.info->notes, "can-id-order")->text,
                           "can_id_order"));
    close_recording(&r);
    const struct bl_bus_options little = {.can_id_order = BL_ID_ORDER_LITTLE};
    r = read_file(path, &little);
    assert_int_equal(r.frames, 5);
    assert_int_equal(r.info->notes.count, 0);
    assert_int_equal(r.frame[0].id, 0x0C02C820);
    assert_int_equal(r.frame[4].id, 0x0CF00400);
    assert_int_equal(r.frame[4].flags, BL_FRAME_EXTENDED);
    close_recording(&r);
}

static void the_wrong_option_on_a_right_file_is_said_too(void **state)
{
    (void)state;
    char path[4096];
    const struct bl_bus_options little = {.can_id_order = BL_ID_ORDER_LITTLE};
    struct recording r =
        read_file(shared_data("truck-brake-release/release_le_us_227.pcap",
                              path, sizeof(path)),
                  &little);
    assert_int_equal(notes_of(&r, "can-id-order"), 1);
    close_recording(&r);
}

static void other_packets_are_counted(void **state)
{
    (void)state;
    char path[4096];
    struct recording r = read_file(
        test_data("bus/pcap-cooked-not-can.pcap", path, sizeof(path)), NULL);
    assert_int_equal(r.frames, 2);
    assert_int_equal(r.info->other_packets, 1);
    close_recording(&r);
}

static void what_is_no_recording_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *data, *format, *says;
        enum bl_status status;
    } cases[] = {
        {"", NULL,
         "expected a pcap, pcapng, timestamped text, MDF 4, terminal text or "
         "frame table recording, found nothing: it is empty",
         BL_FORMAT},
        {"time;bar\n1;2\n", NULL, "found bytes 74 69 6d 65", BL_FORMAT},
        {"(1.0) can0 123#00\n", "pcap", "expected pcap", BL_FORMAT},
        {"(1.0) can0 123#00\n", "pcapng", "expected pcapng", BL_FORMAT},
        {"time;bar\n1;2\n", "textlog", "expected textlog", BL_FORMAT},
        {"(1.0) can0 123#00\n", "unknown",
         "expected the format pcap, pcapng, textlog, mdf, terminal or table, "
         "found 'unknown'",
         BL_ARG},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        const struct bl_bus_options options = {.format = cases[i].format};
        struct recording r =
            read_memory(cases[i].data, strlen(cases[i].data), &options);
        assert_int_equal(r.open_status, cases[i].status);
        assert_non_null(strstr(r.error.message, cases[i].says));
        close_recording(&r);
        struct bl_bytes *source;
        assert_int_equal(bl_bytes_open_memory(&source, "m", cases[i].data,
                                              strlen(cases[i].data), NULL),
                         BL_OK);
        assert_int_equal(bl_bus_recognised(source), cases[i].data[0] == '(');
        bl_bytes_close(source);
    }
}

static void a_cut_gzip_gives_its_frames_and_says_so(void **state)
{
    (void)state;
    char path[4096];
    shared_data("truck-bench-drive/drive_211s.log.gz", path, sizeof(path));
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    static char data[50000];
    assert_int_equal(fread(data, 1, sizeof(data), file), sizeof(data));
    fclose(file);
    struct recording r = read_memory(data, sizeof(data), NULL);
    assert_int_equal(r.open_status, BL_OK);
    assert_int_equal(r.status, BL_TRUNCATED);
    assert_true(r.frames > 1000 && r.frames < 39740);
    close_recording(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(damage_is_said_and_the_rest_is_read),
        cmocka_unit_test(no_fixture_is_left_out),
        cmocka_unit_test(ids_in_the_wrong_order_are_said_and_can_be_read),
        cmocka_unit_test(the_wrong_option_on_a_right_file_is_said_too),
        cmocka_unit_test(other_packets_are_counted),
        cmocka_unit_test(what_is_no_recording_is_refused),
        cmocka_unit_test(a_cut_gzip_gives_its_frames_and_says_so),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
