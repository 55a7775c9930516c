/* SPDX-License-Identifier: MIT */
/*
 * Channels of measurement files. The files are written by
 * tests/data/mdf/make.py with their twin in CSV, which the reader of CSV reads;
 * a real one, of another program, has an export by that program. What is
 * damaged or refused is reckoned from how the file was made: 40 rows, every 10
 * ms, 18 bytes each.
 */
#include "log_testing.h"

#include "base/alloc.h"

enum { COLUMNS = 4, ROWS = 40 };

static const char *const twins[] = {
    "good-plain",          "good-big-endian",      "good-lists",
    "good-packed",         "good-turned-alone",    "good-turned",
    "good-virtual-master", "good-integer-time",    "good-unfinished",
    "good-both",           "good-unfinished-list", "good-times-in-ms",
};

static struct table read_fixture(const char *name)
{
    char file[128];
    char path[512];
    snprintf(file, sizeof(file), "mdf/%s.mf4", name);
    return table_file(test_data(file, path, sizeof(path)), NULL);
}

static struct table read_twin(void)
{
    char path[512];
    const struct bl_log_options options = {.time_form = "epoch-s"};
    struct table twin =
        table_file(test_data("mdf/values.csv", path, sizeof(path)), &options);
    assert_int_equal(twin.status, BL_OK);
    assert_int_equal(twin.rows, ROWS);
    assert_int_equal(twin.info->columns, COLUMNS);
    return twin;
}

static void same_cell(const char *name, double a, double b)
{
    if (!(a == b || (isnan(a) && isnan(b)))) {
        fail_msg("%s: %g, its twin has %g", name, a, b);
    }
}

static void every_shape_reads_as_its_twin(void **state)
{
    (void)state;
    struct table twin = read_twin();
    for (size_t i = 0; i < COUNT_OF(twins); i++) {
        struct table table = read_fixture(twins[i]);
        if (table.status != BL_OK || table.rows != ROWS) {
            fail_msg("%s: %s, %zu rows", twins[i], bl_status_name(table.status),
                     table.rows);
        }
        assert_int_equal(table.info->columns, COLUMNS);
        assert_string_equal(table.info->format, "mdf");
        for (size_t c = 0; c < COLUMNS; c++) {
            assert_string_equal(table.info->column[c].unit == NULL
                                    ? ""
                                    : table.info->column[c].unit,
                                c == 3   ? ""
                                : c == 0 ? "kPa"
                                : c == 1 ? "V"
                                         : "deg");
            for (size_t r = 0; r < ROWS; r++) {
                same_cell(twins[i], table.value[c][r], twin.value[c][r]);
            }
        }
        for (size_t r = 0; r < ROWS; r++) {
            assert_true(table.time_ns[r] == twin.time_ns[r]);
        }
        assert_int_equal(table.info->interval_ns, 10000000);
        assert_int_equal(table.info->times.places, 0);
        assert_int_equal(table.info->column[1].missing, 6); /* every 7th */
        table_finish(&table);
    }
    table_finish(&twin);
}

/* Level is linear but for two numbers that are codes of the sensor: those are
   no measurement, and counted. */
static void codes_beside_values_are_no_numbers(void **state)
{
    (void)state;
    struct table twin = read_twin();
    struct table table = read_fixture("good-codes-beside-values");
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, ROWS);
    for (size_t r = 0; r < ROWS; r++) {
        const bool code = 8 * r == 8 || 8 * r == 64;
        same_cell("good-codes-beside-values", table.value[1][r],
                  code ? (double)NAN : twin.value[1][r]);
        same_cell("good-codes-beside-values", table.value[0][r],
                  twin.value[0][r]);
    }
    assert_int_equal(table.info->column[1].not_numbers, 2);
    assert_int_equal(table.info->column[1].missing, 6);
    table_finish(&table);
    table_finish(&twin);
}

/* Rows of both groups; those of the first are the twin's. */
static void groups_of_other_rates_are_merged_by_time(void **state)
{
    (void)state;
    static const char *const names[] = {"good-unsorted", "good-two-sets"};
    static const char *const first[] = {"pressure", "Chassis/pressure"};
    static const char *const slow[] = {"slow", "Cab/pressure"};
    struct table twin = read_twin();
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        struct table table = read_fixture(names[i]);
        assert_int_equal(table.status, BL_OK);
        assert_int_equal(table.rows, ROWS + ROWS / 4);
        assert_int_equal(bl_log_find(table.info, first[i]), 0);
        assert_int_equal(bl_log_find(table.info, slow[i]), COLUMNS);
        assert_int_not_equal(table.info->column[0].group,
                             table.info->column[COLUMNS].group);
        size_t k = 0;
        size_t slows = 0;
        for (size_t r = 0; r < table.rows; r++) {
            if (isnan(table.value[0][r])) {
                /* 2 ms behind every fourth, and its number. */
                assert_true(table.value[COLUMNS][r] == (double)(4 * slows));
                assert_true(table.time_ns[r] ==
                            twin.time_ns[4 * slows] + 2000000);
                slows++;
                continue;
            }
            assert_nan(table.value[COLUMNS][r]);
            for (size_t c = 0; c < COLUMNS; c++) {
                same_cell(names[i], table.value[c][r], twin.value[c][k]);
            }
            assert_true(table.time_ns[r] == twin.time_ns[k]);
            k++;
        }
        assert_int_equal(k, ROWS);
        assert_int_equal(slows, ROWS / 4);
        assert_int_equal(table.info->times.places, 0);
        assert_int_equal(table.info->column[COLUMNS].missing, 0);
        table_finish(&table);
    }
    table_finish(&twin);
}

/* Only the groups of what is selected make rows. */
static void a_selected_channel_brings_its_group_alone(void **state)
{
    (void)state;
    char path[512];
    struct bl_bytes *bytes;
    struct bl_log_reader *reader;
    struct bl_log_block block;
    const size_t column = COLUMNS;
    test_data("mdf/good-two-sets.mf4", path, sizeof(path));
    assert_int_equal(bl_bytes_open(&bytes, path, NULL), BL_OK);
    assert_int_equal(bl_log_open(&reader, bytes, NULL, NULL), BL_OK);
    assert_int_equal(bl_log_select(reader, &column, 1, NULL), BL_OK);
    assert_int_equal(bl_log_next(reader, &block, NULL), BL_OK);
    assert_int_equal(block.rows, ROWS / 4);
    assert_null(block.value[0]);
    assert_true(block.value[COLUMNS][1] == 4);
    bl_log_close(reader);
    bl_bytes_close(bytes);
}

/* shared_data/mdf4: an export of one of two files by the program that wrote
   them, rounded to six decimals; the first record is not in it. */
static void a_real_file_equals_its_export(void **state)
{
    (void)state;
    enum { RECORDS = 2595, CHANNELS = 7 };
    char path[512];
    char text[512];
    shared_data("mdf4/export.csv", text, sizeof(text));
    struct table table =
        table_file(shared_data("mdf4/KonvektionKalt1-20140123-143636.mf4", path,
                               sizeof(path)),
                   NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, RECORDS);
    assert_int_equal(table.info->columns, CHANNELS);
    FILE *file = fopen(text, "r");
    assert_non_null(file);
    char line[256];
    assert_non_null(fgets(line, sizeof(line), file));
    double value[CHANNELS + 1];
    size_t rows = 0;
    while (fscanf(file, "%lf %lf %lf %lf %lf %lf %lf %lf", &value[0], &value[1],
                  &value[2], &value[3], &value[4], &value[5], &value[6],
                  &value[7]) == CHANNELS + 1) {
        rows++;
        assert_near((double)(table.time_ns[rows] - table.time_ns[0]) * 1e-9,
                    value[0], 5e-7);
        for (size_t c = 0; c < CHANNELS; c++) {
            /* Of the 6th decimal, and of the double that it becomes. */
            assert_near(table.value[c][rows], value[c + 1], 5e-7 + 1e-12);
        }
    }
    fclose(file);
    assert_int_equal(rows, RECORDS - 1);
    table_finish(&table);
}

struct row {
    const char *name;
    enum bl_status open_status, status;
    size_t rows, columns;
    const char *says; /* in the failure, or the code of a note */
};

/* clang-format off */
static const struct row rows[] = {
    /* Refused by name: the rest is read. */
    {"refused-conversion-formula", BL_OK, BL_OK, 40, 4, "conversion-not-read"},
    {"refused-conversion-interpolated-table", BL_OK, BL_OK, 40, 4,
     "conversion-not-read"},
    {"refused-conversion-table", BL_OK, BL_OK, 40, 4, "conversion-not-read"},
    {"refused-conversion-table-of-ranges", BL_OK, BL_OK, 40, 4,
     "conversion-not-read"},
    {"refused-conversion-ranges-to-texts", BL_OK, BL_OK, 40, 4,
     "conversion-not-read"},
    {"refused-conversion-texts-to-values", BL_OK, BL_OK, 40, 4,
     "conversion-not-read"},
    {"refused-conversion-table-of-bits", BL_OK, BL_OK, 40, 4,
     "conversion-not-read"},
    {"refused-text", BL_OK, BL_OK, 40, 4, "no-number"},
    {"refused-variable", BL_OK, BL_OK, 40, 4, "no-number"},
    {"refused-date", BL_OK, BL_OK, 40, 4, "type-not-read"},
    {"refused-float-of-16-bits", BL_OK, BL_OK, 40, 4, "type-not-read"},
    {"refused-array", BL_OK, BL_OK, 40, 4, "array-not-read"},
    {"refused-kind-virtual", BL_OK, BL_OK, 40, 4, "channel-kind-not-read"},
    {"refused-master-of-angle", BL_OK, BL_OK, 40, 4, "group-not-read"},
    {"refused-remote-master", BL_OK, BL_OK, 40, 4, "group-not-read"},
    {"refused-data-in-columns", BL_OK, BL_UNSUPPORTED, 0, 4, "##LD"},
    {"refused-other-packing", BL_OK, BL_UNSUPPORTED, 0, 4, "##DZ2"},
    {"refused-version-3", BL_FORMAT, BL_OK, 0, 0, "older than version 4"},
    /* Damage of the description. */
    {"id-cut", BL_FORMAT, BL_OK, 0, 0, "cut in its first bytes"},
    {"head-of-another-kind", BL_FORMAT, BL_OK, 0, 0, "found '##HX'"},
    {"links-overflow", BL_FORMAT, BL_OK, 0, 0, "at most 65536 links"},
    {"block-shorter-than-its-links", BL_FORMAT, BL_OK, 0, 0,
     "at least 72 bytes in a block ##HD, found 40"},
    {"link-out-of-the-file", BL_TRUNCATED, BL_OK, 0, 0, "out of the file"},
    {"link-above-all", BL_TRUNCATED, BL_OK, 0, 0, "out of the file"},
    {"sets-in-a-loop", BL_OK, BL_FORMAT, 40, 4, "comes back to itself"},
    {"groups-in-a-loop", BL_OK, BL_FORMAT, 40, 4, "comes back to itself"},
    {"channels-in-a-loop", BL_OK, BL_FORMAT, 40, 4, "comes back to itself"},
    {"channel-composed-of-itself", BL_OK, BL_FORMAT, 40, 2,
     "comes back to itself"},
    {"channel-outside-its-record", BL_OK, BL_FORMAT, 40, 3, "'angle' lies"},
    {"channel-of-4-gigabits", BL_OK, BL_FORMAT, 40, 3, "'angle' lies"},
    {"invalid-bit-outside", BL_OK, BL_FORMAT, 40, 3, "'level' lies"},
    {"conversion-nowhere", BL_OK, BL_FORMAT, 40, 3, "a block ##CC"},
    {"conversion-of-too-many-values", BL_OK, BL_FORMAT, 40, 3, "60000 values"},
    {"name-nowhere", BL_OK, BL_FORMAT, 40, 4, "a block of MDF"},
    {"record-of-4-gigabytes", BL_FORMAT, BL_OK, 0, 0, "at most 1048576 bytes"},
    {"record-identifier-of-3-bytes", BL_FORMAT, BL_OK, 0, 0, "found 3"},
    /* Damage of the data. */
    {"groups-without-identifiers", BL_OK, BL_FORMAT, 0, 8,
     "expected identifiers"},
    {"record-of-an-unknown-group", BL_OK, BL_FORMAT, 20, 4, "found 9"},
    {"record-of-another-group", BL_OK, BL_FORMAT, 20, 4, "found 9"},
    {"variable-record-of-4-gigabytes", BL_OK, BL_FORMAT, 0, 4,
     "found 4294967295"},
    {"data-cut-by-the-end", BL_OK, BL_TRUNCATED, 25, 4,
     "expected 720 bytes of data, found 454"},
    {"data-length-overflows", BL_OK, BL_TRUNCATED, 40, 4, "the file ends"},
    {"fewer-records-than-counted", BL_OK, BL_TRUNCATED, 40, 4,
     "expected 43 records, found 40"},
    {"more-data-than-counted", BL_OK, BL_OK, 37, 4, "more-data-than-counted"},
    {"last-record-cut", BL_OK, BL_OK, 39, 4, "cut-last-record"},
    /* The second of blocks of 139 bytes, which is 7 5/18 records: rows 8 to 16
       are gone, 31 are left. */
    {"packed-block-damaged", BL_OK, BL_FORMAT, 31, 4, "damaged packed data"},
    {"packed-block-lost", BL_OK, BL_TRUNCATED, 31, 4, "out of the file"},
    {"packed-block-lost-length-unknown", BL_OK, BL_TRUNCATED, 15, 4,
     "out of the file"},
    {"first-packed-block-lost", BL_OK, BL_TRUNCATED, 32, 4, "out of the file"},
    {"lists-in-a-loop", BL_OK, BL_FORMAT, 40, 4, "comes back to itself"},
    {"list-of-more-than-it-links", BL_OK, BL_FORMAT, 0, 4,
     "says 9 data blocks and links 3"},
    {"list-of-an-endless-gap", BL_OK, BL_FORMAT, 7, 4, "a block of MDF"},
    {"bomb-by-its-word", BL_OK, BL_FORMAT, 0, 4, "9223372036854775808"},
    {"bomb-over-the-ratio", BL_OK, BL_FORMAT, 0, 4, "62914560"},
    {"packed-holds-more", BL_OK, BL_FORMAT, 0, 4, "more than stated"},
    {"packed-holds-less", BL_OK, BL_FORMAT, 0, 4, "less than stated"},
    {"packed-length-overflows", BL_OK, BL_TRUNCATED, 0, 4, "has fewer"},
    {"packed-ends-too-soon", BL_OK, BL_FORMAT, 0, 4, "ends too soon"},
    {"packed-of-another-kind", BL_OK, BL_FORMAT, 0, 4, "another kind"},
    {"turned-in-records-of-4-gigabytes", BL_OK, BL_FORMAT, 0, 4,
     "found 4294967295"},
    {"times-that-cannot-be", BL_OK, BL_OK, 38, 4, "impossible-stamp"},
};
/* clang-format on */

static void check_row(const struct row *row)
{
    struct table table = read_fixture(row->name);
    const bool opened = row->open_status == BL_OK;
    const enum bl_status wanted = opened ? row->status : row->open_status;
    if (table.status != wanted || table.rows != row->rows ||
        (table.reader != NULL) != opened) {
        fail_msg("%s: %s, %zu rows: %s", row->name,
                 bl_status_name(table.status), table.rows, table.error.message);
    }
    if (opened) {
        assert_int_equal(table.info->columns, row->columns);
    }
    if (wanted != BL_OK) {
        if (strstr(table.error.message, row->says) == NULL) {
            fail_msg("%s: says '%s'", row->name, table.error.message);
        }
        assert_null(strchr(table.error.message, '\n'));
    } else if (bl_notes_find(&table.info->notes, row->says) == NULL) {
        fail_msg("%s: no note %s", row->name, row->says);
    }
    table_finish(&table);
}

static void what_is_damaged_or_refused_is_said(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        check_row(&rows[i]);
    }
}

/* A gap in the data is a place of damage between the rows around it. */
static void lost_records_are_a_place_of_damage(void **state)
{
    (void)state;
    struct table table = read_fixture("packed-block-damaged");
    assert_int_equal(table.info->damages, 1);
    const int64_t start_ns = table.time_ns[0];
    assert_true(table.info->damage[0].at.from_ns == start_ns + 60000000);
    assert_true(table.info->damage[0].at.until_ns == start_ns + 160000000);
    assert_false(table.info->after_damage);
    table_finish(&table);
    table = read_fixture("data-cut-by-the-end");
    assert_true(table.info->after_damage);
    table_finish(&table);
}

static enum bl_status read_whole(const char *path)
{
    struct bl_bytes *bytes = NULL;
    struct bl_log_reader *reader = NULL;
    struct bl_log_block block = {0};
    enum bl_status status = bl_bytes_open(&bytes, path, NULL);
    if (status == BL_OK) {
        status = bl_log_open(&reader, bytes, NULL, NULL);
    }
    do {
        if (status == BL_OK) {
            status = bl_log_next(reader, &block, NULL);
        }
    } while (status == BL_OK && block.rows > 0);
    bl_log_close(reader);
    bl_bytes_close(bytes);
    return status;
}

static void every_lack_of_memory_is_said(void **state)
{
    (void)state;
    static const char *const names[] = {"mdf/good-turned.mf4",
                                        "mdf/good-unsorted.mf4"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        char path[512];
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
        cmocka_unit_test(codes_beside_values_are_no_numbers),
        cmocka_unit_test(groups_of_other_rates_are_merged_by_time),
        cmocka_unit_test(a_selected_channel_brings_its_group_alone),
        cmocka_unit_test(a_real_file_equals_its_export),
        cmocka_unit_test(what_is_damaged_or_refused_is_said),
        cmocka_unit_test(lost_records_are_a_place_of_damage),
        cmocka_unit_test(every_lack_of_memory_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
