/* SPDX-License-Identifier: MIT */
/*
 * One case per shape of a yard recorder's file. Every expected number is
 * written by hand beside the text that it stands in; seconds since 1970 were
 * taken from `date -u -d ... +%s`.
 */
#include "log_testing.h"

#define S INT64_C(1000000000)
#define MS INT64_C(1000000)
/* date -u -d '2025-01-18 19:33:06' +%s */
#define JAN18 (INT64_C(1737228786) * S)

struct shape {
    const char *name, *text;
    struct bl_log_options options;
    const char *form;
    size_t rows, columns;
    int64_t first_ns, last_ns;
    double first, last; /* of the first value column */
    const char *title, *unit;
};

/* clang-format off */
static const struct shape shapes[] = {
    {"comma", "t,P\n0,1.25\n0.01,1.5\n0.02,-2.75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, -2.75, "P", NULL},
    {"semicolon and decimal comma", "t;P\n0;1,25\n0,01;1,5\n0,02;-2,75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, -2.75, "P", NULL},
    {"semicolon and decimal point", "t;P\n0;1.25\n0.01;1.5\n0.02;2.75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, 2.75, "P", NULL},
    {"tab", "t\tP\n0\t1.25\n0.01\t1.5\n0.02\t2.75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, 2.75, "P", NULL},
    {"tab and decimal comma", "t\tP\n0\t1,25\n0,01\t1,5\n0,02\t2,75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, 2.75, "P", NULL},
    {"fixed spaces",
     "  t        P out 1   P in\n"
     "  0.00       1.25     3\n  0.01      11.50     4\n"
     "  0.02     112.75     5\n", {0},
     "s", 3, 2, 0, 20 * MS, 1.25, 112.75, "P out 1", NULL},
    {"quoted cells hold the comma",
     "\"t\",\"P, \"\"rear\"\"\"\n\"0\",\"1,25\"\n\"0,01\",\"1,5\"\n"
     "\"0,02\",\"2,75\"\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, 2.75, "P, \"rear\"", NULL},
    {"thousands by point", "t;P\n0;1.234,5\n0,01;12.345,5\n0,02;1.234.567,5\n",
     {0}, "s", 3, 1, 0, 20 * MS, 1234.5, 1234567.5, "P", NULL},
    {"thousands by comma", "t;P\n0.00;1,234.5\n0.01;12,345.5\n0.02;999.5\n",
     {0}, "s", 3, 1, 0, 20 * MS, 1234.5, 999.5, "P", NULL},
    {"thousands by blank", "t;P\n0,00;1 234,5\n0,01;12 345,5\n0,02;999,5\n",
     {0}, "s", 3, 1, 0, 20 * MS, 1234.5, 999.5, "P", NULL},
    {"exponent", "t;P\n0;1,23E+02\n0,01;1,5E-01\n0,02;2,5e3\n", {0},
     "s", 3, 1, 0, 20 * MS, 123, 2500, "P", NULL},
    {"free text, names, units",
     "Operator;A\nRate: 100 Hz\n\nNote, with commas, in it\n"
     "Time;P1\ns;bar\n0;1,25\n0,01;1,5\n0,02;2,75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, 2.75, "P1", "bar"},
    {"third row with factors",
     "Time,P1,P2\ns,V,V\n1,250,250\n10,1.25,1\n10.01,1.5,1\n10.02,2.75,1\n"
     "10.03,2.5,1\n", {0},
     "s", 4, 2, 10 * S, 10 * S + 30 * MS, 1.25, 2.5, "P1", "V"},
    {"third row with factors, time from zero",
     "Time,P1\ns,V\n1,250\n0,1.25\n0.01,1.5\n0.02,2.75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, 2.75, "P1", "V"},
    {"a pause behind the first row is no row of factors",
     "Time,P1\nms,V\n0,1\n277,1.25\n287,1.5\n297,2.75\n", {0},
     "ms", 4, 1, 0, 297 * MS, 1, 2.75, "P1", "V"},
    {"units in square brackets",
     "t [s],P1 [bar]\n0,1.25\n0.01,1.5\n0.02,2.75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, 2.75, "P1 [bar]", "bar"},
    {"units in round brackets",
     "Time (ms),P1 (psi)\n0,1.25\n10,1.5\n20,2.75\n", {0},
     "ms", 3, 1, 0, 20 * MS, 1.25, 2.75, "P1 (psi)", "psi"},
    {"no header", "0,1.25\n0.01,1.5\n0.02,2.75\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.25, 2.75, "", NULL},
    {"milliseconds without a unit", "t;P\n0;1,5\n10;2,5\n20;3,5\n", {0},
     "ms", 3, 1, 0, 20 * MS, 1.5, 3.5, "P", NULL},
    {"microseconds", "t [us];P\n0;1,5\n200;2,5\n400;3,5\n", {0},
     "us", 3, 1, 0, 400000, 1.5, 3.5, "P", NULL},
    {"sample index, rate in the header",
     "Sample rate: 500 Hz\nSample,P\n0,1.5\n1,2.5\n2,3.5\n", {0},
     "index", 3, 1, 0, 4 * MS, 1.5, 3.5, "P", NULL},
    {"sample index, interval in the header",
     "Interval = 20 ms\nNo;P\n1;1,5\n2;2,5\n3;3,5\n", {0},
     "index", 3, 1, 20 * MS, 60 * MS, 1.5, 3.5, "P", NULL},
    {"no time at all, rate in the header",
     "fs 1 kHz\nP1,P2\n3.5,2\n1.5,1\n2.5,3\n", {0},
     "index", 3, 2, 0, 2 * MS, 3.5, 2.5, "P1", NULL},
    {"clock", "Time,P\n07:05:09.250,1.5\n07:05:09.260,2.5\n07:05:09.270,3.5\n",
     {0}, "clock", 3, 1, 25509 * S + 250 * MS, 25509 * S + 270 * MS, 1.5, 3.5,
     "P", NULL},
    {"clock past midnight",
     "Time;P\n23:59:59,990;1,5\n00:00:00,000;2,5\n00:00:00,010;3,5\n", {0},
     "clock", 3, 1, 86399 * S + 990 * MS, 86400 * S + 10 * MS, 1.5, 3.5, "P",
     NULL},
    {"clock of twelve hours",
     "Time,P\n11:59:59.5 AM,1.5\n12:00:00.0 PM,2.5\n12:00:00.5 PM,3.5\n", {0},
     "clock", 3, 1, 43199 * S + 500 * MS, 43200 * S + 500 * MS, 1.5, 3.5, "P",
     NULL},
    {"date and clock without zone",
     "Time;P\n2025-01-18 19:33:06.564;1.5\n2025-01-18 19:33:06.664;2.5\n"
     "2025-01-18 19:33:06.764;3.5\n", {0},
     "iso", 3, 1, JAN18 + 564 * MS, JAN18 + 764 * MS, 1.5, 3.5, "P", NULL},
    {"date and clock with zone",
     "Time,P\n2025-01-19T05:33:06.5+10:00,1.5\n2025-01-19T05:33:06.6+10:00,2.5"
     "\n2025-01-19T05:33:06.7+10:00,3.5\n", {0},
     "iso", 3, 1, JAN18 + 500 * MS, JAN18 + 700 * MS, 1.5, 3.5, "P", NULL},
    {"date and clock with Z",
     "Time,P\n2025-01-18T19:33:06Z,1.5\n2025-01-18T19:33:07Z,2.5\n", {0},
     "iso", 2, 1, JAN18, JAN18 + S, 1.5, 2.5, "P", NULL},
    {"zone stated for times without one",
     "Time,P\n2025-01-19T05:33:06,1.5\n2025-01-19T05:33:07,2.5\n",
     {.timezone = "+10:00"},
     "iso", 2, 1, JAN18, JAN18 + S, 1.5, 2.5, "P", NULL},
    {"day first",
     "Zeit;P\n18.01.2025 19:33:06,5;1,5\n18.01.2025 19:33:06,6;2,5\n", {0},
     "iso", 2, 1, JAN18 + 500 * MS, JAN18 + 600 * MS, 1.5, 2.5, "P", NULL},
    {"month first",
     "Time,P\n01/18/2025 07:33:06 PM,1.5\n01/18/2025 07:33:07 PM,2.5\n", {0},
     "iso", 2, 1, JAN18, JAN18 + S, 1.5, 2.5, "P", NULL},
    /* 45675 is 2025-01-18 (25569 is 1970-01-01); 0.25 day is 6 h; one step
       of 0.0000001 day is 8.64 ms. date -u -d '2025-01-18 06:00' +%s */
    {"day fraction",
     "Time,P\n45675.2500000,1.5\n45675.2500001,2.5\n45675.2500002,3.5\n", {0},
     "day-fraction", 3, 1, INT64_C(1737180000) * S,
     INT64_C(1737180000) * S + 17280000, 1.5, 3.5, "P", NULL},
    {"seconds since 1970",
     "Time,P\n1737228786.564,1.5\n1737228786.664,2.5\n1737228786.764,3.5\n",
     {0}, "epoch-s", 3, 1, JAN18 + 564 * MS, JAN18 + 764 * MS, 1.5, 3.5, "P",
     NULL},
    {"milliseconds since 1970",
     "Time,P\n1737228786564,1.5\n1737228786664,2.5\n1737228786764,3.5\n", {0},
     "epoch-ms", 3, 1, JAN18 + 564 * MS, JAN18 + 764 * MS, 1.5, 3.5, "P", NULL},
    {"microseconds since 1970",
     "Time,P\n1737228786564001,1.5\n1737228786564201,2.5\n", {0},
     "epoch-us", 2, 1, JAN18 + 564 * MS + 1000, JAN18 + 564 * MS + 201000, 1.5,
     2.5, "P", NULL},
    {"nanoseconds since 1970, to the last digit",
     "Time,P\n1737228786564000001,1.5\n1737228786564000999,2.5\n", {0},
     "epoch-ns", 2, 1, JAN18 + 564 * MS + 1, JAN18 + 564 * MS + 999, 1.5, 2.5,
     "P", NULL},
    {"date and time in two columns",
     "Date;Time;P\n18.01.2025;19:33:06,5;1,5\n18.01.2025;19:33:06,6;2,5\n", {0},
     "clock", 2, 1, JAN18 + 500 * MS, JAN18 + 600 * MS, 1.5, 2.5, "P", NULL},
    {"a stated date", "Time;P\n19:33:06,5;1,5\n19:33:06,6;2,5\n",
     {.date = "2025-01-18"},
     "clock", 2, 1, JAN18 + 500 * MS, JAN18 + 600 * MS, 1.5, 2.5, "P", NULL},
    {"time only in the first row",
     "Rate;100 Hz\nTime;P\n19:33:06;1,5\n;2,5\n;3,5\n;4,5\n", {0},
     "clock", 4, 1, 70386 * S, 70386 * S + 30 * MS, 1.5, 4.5, "P", NULL},
    {"carriage returns", "t,P\r\n0,1.5\r\n0.01,2.5\r\n0.02,3.5\r\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.5, 3.5, "P", NULL},
    {"old carriage returns alone", "t,P\r0,1.5\r0.01,2.5\r0.02,3.5\r", {0},
     "s", 3, 1, 0, 20 * MS, 1.5, 3.5, "P", NULL},
    {"trailing delimiter", "t;P;\n0;1,5;\n0,01;2,5;\n0,02;3,5;\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.5, 3.5, "P", NULL},
    {"blank last lines", "t;P\n0;1,5\n0,01;2,5\n0,02;3,5\n\n\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.5, 3.5, "P", NULL},
    {"no line end behind the last row", "t;P\n0;1,5\n0,01;2,5\n0,02;3,5", {0},
     "s", 3, 1, 0, 20 * MS, 1.5, 3.5, "P", NULL},
    {"comment sign before the names", "# t,P\n0,1.5\n0.01,2.5\n0.02,3.5\n",
     {0}, "s", 3, 1, 0, 20 * MS, 1.5, 3.5, "P", NULL},
    {"switch words", "t,lamp\n0,off\n0.01,off\n0.02,ON\n", {0},
     "s", 3, 1, 0, 20 * MS, 0, 1, "lamp", NULL},
    {"one row of data", "Time [s],P\n0.5,1.5\n", {0},
     "s", 1, 1, 500 * MS, 500 * MS, 1.5, 1.5, "P", NULL},
    {"a byte order mark", "\xEF\xBB\xBFt,P\n0,1.5\n0.01,2.5\n0.02,3.5\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.5, 3.5, "P", NULL},
    {"Latin-1", "t,Dr\xFC" "ck\n0,1.5\n0.01,2.5\n0.02,3.5\n", {0},
     "s", 3, 1, 0, 20 * MS, 1.5, 3.5, "Dr\xC3\xBC" "ck", NULL},
    {"names stated", "a,b\nt,P\n0,1.5\n0.01,2.5\n", {.names_row = 1},
     "s", 2, 1, 0, 10 * MS, 1.5, 2.5, "b", NULL},
    {"no names stated", "t,P\n0,1.5\n0.01,2.5\n", {.names_row = -1},
     "s", 2, 1, 0, 10 * MS, 1.5, 2.5, "", NULL},
    {"first row stated", "t,P\n0,1.5\n0.01,2.5\n0.02,3.5\n", {.first_row = 3},
     "s", 2, 1, 10 * MS, 20 * MS, 2.5, 3.5, "P", NULL},
    {"time column stated", "P,x\n1.5,0\n2.5,10\n2.0,20\n",
     {.time = "x", .time_form = "ms"},
     "ms", 3, 1, 0, 20 * MS, 1.5, 2, "P", NULL},
    {"time column stated by number", "P,x\n1.5,0\n2.5,10\n2.0,20\n",
     {.time = "#2", .time_form = "ms"},
     "ms", 3, 1, 0, 20 * MS, 1.5, 2, "P", NULL},
    {"rows are counted as stated", "a,P\n0,1.5\n1,2.5\n2,3.5\n",
     {.time = "none", .rate_hz = 50},
     "index", 3, 2, 0, 40 * MS, 0, 2, "a", NULL},
    {"delimiter and decimal stated", "t;P\n0;1,500\n0,010;2,500\n",
     {.delimiter = ";", .decimal = ","},
     "s", 2, 1, 0, 10 * MS, 1.5, 2.5, "P", NULL},
};
/* clang-format on */

static bool same_text(const char *a, const char *b)
{
    return a == NULL || b == NULL ? a == b : strcmp(a, b) == 0;
}

static bool is_as_expected(const struct shape *shape, const struct table *table)
{
    const size_t last = table->rows - 1;
    const struct bl_log_info *info = table->info;
    return table->rows == shape->rows && table->rows > 0 &&
           info->columns == shape->columns &&
           strcmp(info->time_form, shape->form) == 0 &&
           table->time_ns[0] == shape->first_ns &&
           table->time_ns[last] == shape->last_ns &&
           table->value[0][0] == shape->first &&
           table->value[0][last] == shape->last &&
           same_text(info->column[0].name, shape->title) &&
           same_text(info->column[0].unit, shape->unit);
}

static void every_shape_is_read(void **state)
{
    (void)state;
    size_t wrong = 0;
    for (size_t i = 0; i < COUNT_OF(shapes); i++) {
        const struct shape *shape = &shapes[i];
        struct table table =
            table_memory(shape->text, strlen(shape->text), &shape->options);
        if (table.status != BL_OK) {
            print_error("%s: %s\n", shape->name, table.error.message);
            wrong++;
        } else if (!is_as_expected(shape, &table)) {
            print_error("%s: %s; %zu rows", shape->name, table.info->decided,
                        table.rows);
            for (size_t row = 0; row < table.rows; row++) {
                print_error(" (%lld ns %g)", (long long)table.time_ns[row],
                            table.value[0][row]);
            }
            print_error(" '%s' %s\n", table.info->column[0].name,
                        table.info->column[0].unit);
            wrong++;
        }
        table_finish(&table);
    }
    assert_int_equal(wrong, 0);
}

/* The text as UTF-16, optionally with a mark; returns bytes. */
static size_t to_utf16(const char *text, bool big, bool mark, uint8_t *out)
{
    size_t size = 0;
    if (mark) {
        out[size++] = big ? 0xFE : 0xFF;
        out[size++] = big ? 0xFF : 0xFE;
    }
    for (; *text != '\0'; text++) {
        out[size++] = big ? 0 : (uint8_t)*text;
        out[size++] = big ? (uint8_t)*text : 0;
    }
    return size;
}

static void utf16_of_both_orders_gives_the_same(void **state)
{
    (void)state;
    for (int kind = 0; kind < 4; kind++) {
        uint8_t data[256];
        const size_t size = to_utf16("t;P\r\n0;1,5\r\n0,01;2,5\r\n0,02;3,5\r\n",
                                     kind & 1, (kind & 2) != 0, data);
        struct table table = table_memory(data, size, NULL);
        assert_int_equal(table.status, BL_OK);
        assert_int_equal(table.rows, 3);
        assert_true(table.value[0][2] == 3.5);
        assert_int_equal(table.time_ns[2], 20 * MS);
        assert_string_equal(table.info->encoding,
                            kind & 1 ? "utf-16be" : "utf-16le");
        assert_string_equal(table.info->column[0].name, "P");
        table_finish(&table);
    }
}

static void what_is_no_number_is_counted_by_kind(void **state)
{
    (void)state;
    static const char text[] =
        "t;A;A\n0,00;1;1\n0,01;NaN;2\n0,02;---;2\n0,03;;2,5\n"
        "t;A;A\n0,04;OVERFLOW;4\n0,05;abc;4\n0,06;-3;4\n0,07";
    struct table table = table_memory(text, strlen(text), NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, 7);
    const struct bl_log_column *a = &table.info->column[0];
    const struct bl_log_column *b = &table.info->column[1];
    assert_string_equal(b->name, "A (2)");
    assert_int_equal(table_note(&table, "duplicate-column"), 1);
    assert_int_equal(table_note(&table, "repeated-header"), 1);
    assert_int_equal(table_note(&table, "cut-last-row"), 1);
    assert_int_equal(a->values, 2);
    assert_int_equal(a->missing, 3);
    assert_int_equal(a->overflows, 1);
    assert_int_equal(a->not_numbers, 1);
    assert_true(a->smallest == -3 && a->largest == 1);
    for (size_t row = 1; row < 6; row++) {
        assert_nan(table.value[0][row]);
    }
    /* 1 2 2 2.5 4 4 4: three repeats, smallest step 0.5. */
    assert_int_equal(b->repeats, 3);
    assert_true(b->step == 0.5);
    assert_int_equal(bl_log_find(table.info, "A"), 0);
    assert_int_equal(bl_log_find(table.info, "#3"), 1);
    assert_int_equal(bl_log_find(table.info, "#1"), -1);
    assert_int_equal(bl_log_find(table.info, "B"), -1);
    table_finish(&table);
}

static void factors_are_shown_and_not_applied(void **state)
{
    (void)state;
    static const char text[] = "Time,P1,P2\ns,V,V\n1,250,250\n10,1.25,1\n"
                               "10.01,1.5,1\n10.02,2.75,1\n10.03,2.5,1\n";
    struct table table = table_memory(text, strlen(text), NULL);
    assert_int_equal(table.status, BL_OK);
    assert_string_equal(table.info->column[1].factor, "250");
    assert_true(table.info->scale_hint == 250);
    assert_int_equal(table.info->first_row, 4);
    assert_int_equal(table.info->units_row, 2);
    assert_int_equal(table.info->names_row, 1);
    table_finish(&table);
}

static void header_text_is_found_without_its_unit(void **state)
{
    (void)state;
    static const char text[] =
        "t,P out [bar],p OUT [psi],X\n0,1,2,3\n0.01,1,2,3\n0.02,1,2,3\n";
    struct table table = table_memory(text, strlen(text), NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(bl_log_find(table.info, "P out [bar]"), 0);
    assert_int_equal(bl_log_find(table.info, "P OUT [PSI]"), 1);
    assert_int_equal(bl_log_find(table.info, "p out"), -2);
    assert_int_equal(bl_log_find(table.info, "x"), 2);
    table_finish(&table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_shape_is_read),
        cmocka_unit_test(utf16_of_both_orders_gives_the_same),
        cmocka_unit_test(what_is_no_number_is_counted_by_kind),
        cmocka_unit_test(factors_are_shown_and_not_applied),
        cmocka_unit_test(header_text_is_found_without_its_unit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
