/* SPDX-License-Identifier: MIT */
/*
 * Openly licensed recordings. Rows are counted by `wc -l` (less the header,
 * plus one where the last line has no end); first and last stamps and values
 * are copied from `head` and `tail`. Python's csv module is a second reader.
 */
#include "log_testing.h"

#define S INT64_C(1000000000)
#define MS INT64_C(1000000)

struct file {
    const char *name, *delimiter, *decimal, *form;
    size_t rows, columns;
    int64_t first_ns, last_ns;
    double first[2], last[2]; /* of the first and the last value column */
    int64_t interval_ns;
};

/* clang-format off */
static const struct file files[] = {
    {"pneumatic-100hz/Circle_1bar.csv", "tab", ".", "ms", 7139, 6,
     0, 73508 * MS, {3.476, 49.749}, {3.314, 43.065}, 10 * MS},
    {"pneumatic-100hz/Circle_5bar.csv", "tab", ".", "ms", 10321, 6,
     0, 106284 * MS, {3.589, 248.779}, {3.500, 234.645}, 10 * MS},
    {"pneumatic-100hz/Kidney_3bar.csv", "tab", ".", "ms", 6430, 6,
     0, 65968 * MS, {4.444, 156.966}, {4.223, 113.186}, 10 * MS},
    {"pneumatic-100hz/Kidney_lc_5bar.csv", "tab", ".", "ms", 6600, 6,
     0, 68488 * MS, {4.601, 267.561}, {4.481, 250.168}, 10 * MS},
    {"pneumatic-100hz/NAPN_7bar.csv", "tab", ".", "ms", 8488, 6,
     0, 87938 * MS, {4.487, 349.698}, {4.329, 333.193}, 10 * MS},
    {"pneumatic-100hz/T3_25mm_O_moving.csv", "tab", ".", "ms", 8443, 6,
     0, 87513 * MS, {4.217, 0.158}, {6.417, 39.443}, 10 * MS},
    /* Points both group thousands and stand before decimals: 151.303.000. */
    {"pneumatic-100hz/leakdown_Aluminium.csv", ";", ".", "ms", 1508, 2,
     0, 151303 * MS, {3.658, 7.315}, {3.642, 7.284}, 100 * MS},
    {"pneumatic-100hz/leakdown_Ultimaker_010.csv", ";", ".", "ms", 1408, 2,
     0, 141438 * MS, {3.763, 7.526}, {3.712, 7.425}, 100 * MS},
    {"pneumatic-100hz/leakdown_Resultaten_opnieuwaanzetten.csv", ";", ",", "s",
     1357, 8, 0, 135600 * MS, {0, 0}, {-24, -105}, 100 * MS},
    /* date -u -d '2025-01-18 19:33:06' +%s gives 1737228786. */
    {"pressure-odd-csv/pressure_raw_10hz.csv", ";", ".", "iso", 2062, 3,
     1737228786 * S + 564 * MS, 1737228992 * S + 864 * MS, {100, 4.0},
     {100, 3.9}, 100 * MS},
};
/* clang-format on */

static void open_recordings_are_read_to_the_last_row(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(files); i++) {
        const struct file *file = &files[i];
        char path[512];
        struct table table =
            table_file(shared_data(file->name, path, sizeof(path)), NULL);
        assert_int_equal(table.status, BL_OK);
        const struct bl_log_info *info = table.info;
        assert_string_equal(info->delimiter, file->delimiter);
        assert_string_equal(info->decimal, file->decimal);
        assert_string_equal(info->time_form, file->form);
        assert_int_equal(table.rows, file->rows);
        assert_int_equal(info->rows, file->rows);
        assert_int_equal(info->columns, file->columns);
        assert_int_equal(info->bad_rows, 0);
        assert_int_equal(info->splits, 0);
        assert_true(info->interval_ns == file->interval_ns);
        const size_t last = table.rows - 1;
        assert_true(table.time_ns[0] == file->first_ns);
        assert_true(table.time_ns[last] == file->last_ns);
        assert_true(info->first_ns == file->first_ns);
        assert_true(info->last_ns == file->last_ns);
        for (int end = 0; end < 2; end++) {
            const size_t c = end == 0 ? 0 : info->columns - 1;
            assert_true(table.value[c][0] == file->first[end]);
            assert_true(table.value[c][last] == file->last[end]);
        }
        table_finish(&table);
    }
}

static void a_header_in_dutch_and_units_in_brackets_are_kept(void **state)
{
    (void)state;
    char path[512];
    struct table table = table_file(
        shared_data("pneumatic-100hz/leakdown_Resultaten_opnieuwaanzetten.csv",
                    path, sizeof(path)),
        NULL);
    assert_int_equal(table.status, BL_OK);
    assert_string_equal(table.info->column[3].name, "0 Meting");
    assert_int_equal(bl_log_find(table.info, "Ultimaker 0.1 mm"), 7);
    table_finish(&table);
    table = table_file(shared_data("pressure-odd-csv/pressure_raw_10hz.csv",
                                   path, sizeof(path)),
                       NULL);
    assert_int_equal(table.status, BL_OK);
    assert_string_equal(table.info->column[1].unit, "Bar");
    assert_string_equal(table.info->column[2].unit, "\xC2\xB0"
                                                    "C");
    assert_int_equal(bl_log_find(table.info, "5600 pressure"), 1);
    assert_true(table.info->absolute_time);
    assert_non_null(strstr(table.info->decided, "taken as UTC"));
    table_finish(&table);
}

/* Row 1 holds 31574 times (31573 commas by `tr -cd , | wc -c`), row 2 as many
   volts; the last two stamps are equal. */
static void two_long_rows_are_one_channel(void **state)
{
    (void)state;
    char path[512];
    struct table table =
        table_file(shared_data("pressure-odd-csv/thrust_raw_two_row.csv", path,
                               sizeof(path)),
                   NULL);
    assert_int_equal(table.status, BL_OK);
    assert_string_equal(table.info->layout, "rows");
    assert_int_equal(table.rows, 31574);
    assert_int_equal(table.info->columns, 1);
    assert_int_equal(table.info->late_rows, 0);
    /* 0.4855020046234131 s and 206.34583473205566 s to the nanosecond. */
    assert_true(table.time_ns[0] == INT64_C(485502005));
    assert_true(table.time_ns[31573] == INT64_C(206345834732));
    assert_true(table.time_ns[31572] == table.time_ns[31573]);
    assert_true(table.value[0][0] == 0.17578125);
    assert_true(table.value[0][31573] == 0.15625);
    /* Equal neighbours by awk over the first row: 10088. */
    size_t equal = 0;
    for (size_t i = 1; i < table.rows; i++) {
        equal += table.time_ns[i] == table.time_ns[i - 1];
    }
    assert_int_equal(equal, 10088);
    table_finish(&table);
}

/* Second reader: every cell as Python's csv module and float() see it. */
static void python_reads_the_same_numbers(void **state)
{
    (void)state;
    static const struct {
        const char *name, *delimiter;
        int header;
    } read[] = {
        {"pneumatic-100hz/leakdown_Resultaten_opnieuwaanzetten.csv", ";", 1},
        {"pressure-odd-csv/pressure_raw_10hz.csv", ";", 1},
        {"pneumatic-100hz/Circle_5bar.csv", "\\t", 0},
    };
    for (size_t i = 0; i < COUNT_OF(read); i++) {
        char path[512];
        char command[1024];
        shared_data(read[i].name, path, sizeof(path));
        snprintf(command, sizeof(command),
                 "python3 -c \"import csv,sys\n"
                 "for n,r in enumerate(csv.reader(open(sys.argv[1],"
                 "encoding='utf-8'),delimiter='%s')):\n"
                 " if n>=%d:\n"
                 "  for x in r[1:]: print(float(x.replace(',','.')).hex())\" "
                 "'%s'",
                 read[i].delimiter, read[i].header, path);
        FILE *python = popen(command, "r");
        assert_non_null(python);
        struct table table = table_file(path, NULL);
        assert_int_equal(table.status, BL_OK);
        char line[128];
        size_t cells = 0;
        const size_t columns = table.info->columns;
        while (fgets(line, sizeof(line), python) != NULL) {
            assert_true(cells / columns < table.rows);
            const double expected = strtod(line, NULL);
            if (table.value[cells % columns][cells / columns] != expected) {
                fail_msg("%s: cell %zu is %.17g, python has %s", path, cells,
                         table.value[cells % columns][cells / columns], line);
            }
            cells++;
        }
        const int result = pclose(python);
        table_finish(&table);
        if (cells == 0 && result != 0) {
            print_message("skipped: no python3\n");
            skip();
            return;
        }
        assert_int_equal(result, 0);
        assert_int_equal(cells, table.rows * columns);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(open_recordings_are_read_to_the_last_row),
        cmocka_unit_test(a_header_in_dutch_and_units_in_brackets_are_kept),
        cmocka_unit_test(two_long_rows_are_one_channel),
        cmocka_unit_test(python_reads_the_same_numbers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
