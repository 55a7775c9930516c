/* SPDX-License-Identifier: MIT */
/*
 * Damaged logs: each fixture in tests/data/log is named after its defect.
 * What must be refused is refused with the full sentence; what must be noted is
 * noted with line, count and sentence, and the rest is still read.
 */
#include "log_testing.h"

#include "base/limits.h"

struct refused {
    const char *file;
    enum bl_status status;
    const char *message; /* with place, without the folder */
};

#define NONE                                                                   \
    "expected a table, found none: tab, ';', ',' and blanks were "             \
    "tried between cells of the first "
#define NO_TIME "no time: expected a column of times, or a sampling rate for "

#define FRAMES                                                                 \
    ": expected a log of measurements, found a recording of bus frames: its "  \
    "bytes are no pressures; name it under captures"
#define HEADLESS                                                               \
    ": expected a log of measurements, found lines of bus frames without a "   \
    "header: their bytes are no pressures; write a first line that names "     \
    "the columns, such as 'time (s),id,data', or pcap"

static const struct refused refused[] = {
    {"frames-bytes-together.csv", BL_FORMAT, FRAMES},
    {"frames-bytes-apart.csv", BL_FORMAT, FRAMES},
    {"frames-trace-with-a-header.csv", BL_FORMAT, HEADLESS},
    {"frames-as-a-terminal-shows-them.csv", BL_FORMAT, FRAMES},
    {"container-mdf.csv", BL_FORMAT,
     ": expected a recording, found a measurement file in MDF, older than "
     "version 4 or cut in its first bytes, which is not read: have the program "
     "that wrote it export pressures as CSV and frames "
     "as pcap"},
    {"empty-file.csv", BL_FORMAT, ": expected a table, found an empty file"},
    {"blank-lines-only.csv", BL_FORMAT, ": " NONE "3 lines"},
    {"free-text-only.csv", BL_FORMAT, ": " NONE "3 lines"},
    {"only-header.csv", BL_FORMAT, ": " NONE "1 line"},
    {"one-word.csv", BL_FORMAT, ": " NONE "1 line"},
    {"binary-zeros.csv", BL_FORMAT,
     ":1: expected a table of text, found NUL bytes: is it a bus recording?"},
    {"binary-noise.csv", BL_FORMAT,
     ":1: expected a table of text, found NUL bytes: is it a bus recording?"},
    {"times-all-equal.csv", BL_FORMAT,
     ":2: expected times that advance in column 1, found that all stamps are "
     "equal in the first 4 rows"},
    {"times-backwards.csv", BL_FORMAT,
     ":2: expected times that advance in column 1, found that stamps run "
     "backwards in the first 4 rows"},
    {"no-time-and-no-rate.csv", BL_FORMAT,
     ":2: " NO_TIME "rows that are counted; state time or rate: [log] of a "
     "trial file, --time and --rate of "
     "survey"},
    {"index-without-rate.csv", BL_FORMAT,
     ":2: " NO_TIME "rows that are counted; state time or rate: [log] of a "
     "trial file, --time and --rate of "
     "survey"},
    {"rate-of-ages.csv", BL_FORMAT,
     ":3: " NO_TIME "rows that are counted; state time or rate: [log] of a "
     "trial file, --time and --rate of "
     "survey"},
    {"first-time-only-without-rate.csv", BL_FORMAT,
     ":2: " NO_TIME "the one time in the first row; state time or rate: [log] "
     "of a trial file, --time and --rate of "
     "survey"},
};

static void what_is_no_log_is_refused_in_words(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(refused); i++) {
        char path[512];
        char name[256];
        char line[1024];
        char expected[1536];
        snprintf(name, sizeof(name), "log/%s", refused[i].file);
        struct table table =
            table_file(test_data(name, path, sizeof(path)), NULL);
        assert_int_equal(table.status, refused[i].status);
        snprintf(expected, sizeof(expected), "%s%s", path, refused[i].message);
        assert_string_equal(bl_error_line(&table.error, line, sizeof(line)),
                            expected);
        table_finish(&table);
    }
}

struct noted {
    const char *file, *code;
    int64_t line;
    uint64_t count;
    size_t rows; /* that are still read */
    const char *text;
};

static const struct noted noted[] = {
    {"nul-bytes-in-a-cell.csv", "nul-bytes", 3, 1, 6,
     "expected a number in column 2 'P', found NUL bytes"},
    {"nul-bytes-in-the-time.csv", "nul-bytes", 4, 1, 5,
     "expected a row of data, found NUL bytes; row left out"},
    {"cut-last-row.csv", "cut-last-row", 4, 1, 2,
     "the last row is cut: expected 3 cells, found 2; left out"},
    {"cut-inside-time.csv", "cut-last-row", 4, 1, 2,
     "the last row is cut: expected 2 cells, found 1; left out"},
    {"letters-in-the-middle.csv", "not-a-number", 4, 1, 6,
     "expected a number in column 2 'P', found '3.x5'"},
    {"letters-in-the-time.csv", "bad-row", 5, 1, 5,
     "expected a time in column 1, found 'o.03'; row left out"},
    {"mixed-decimal-signs.csv", "other-decimal-sign", 4, 1, 5,
     "expected ',' as decimal sign in column 2 'P', found '3.5'"},
    {"mixed-decimal-signs-with-commas.csv", "long-row", 3, 1, 3,
     "expected 2 cells, found more; row left out"},
    {"row-too-long.csv", "long-row", 4, 1, 5,
     "expected 2 cells, found more; row left out"},
    {"first-row-too-short.csv", "short-row", 2, 1, 3,
     "expected 3 cells, found 2; row left out"},
    {"first-row-cut-to-its-time.csv", "short-row", 2, 1, 3,
     "expected 3 cells, found 1; row left out"},
    {"first-row-of-a-date-too-short.csv", "short-row", 2, 1, 3,
     "expected 3 cells, found 2; row left out"},
    {"first-row-cut-to-its-date.csv", "short-row", 2, 1, 3,
     "expected 4 cells, found 1; row left out"},
    {"first-row-too-long.csv", "long-row", 2, 1, 3,
     "expected 2 cells, found more; row left out"},
    {"row-too-short.csv", "short-row", 3, 1, 3,
     "expected 3 cells, found 2; row left out"},
    {"stored-twice.csv", "repeated-row", 33, 30, 30,
     "this row occurs earlier in the log; left out"},
    {"row-cut-inside.csv", "short-row", 27, 1, 39,
     "expected 3 cells, found 2; row left out"},
    {"separator-contradicts.csv", "odd-separator", 27, 1, 40,
     "expected a number in column 3 'Q [kPa]' without such separators, as in "
     "the other rows, found '651.650.00'"},
    {"thousands-in-one-cell.csv", "other-decimal-sign", 27, 1, 40,
     "expected '.' as decimal sign in column 2 'P [kPa]', found '103,500'"},
    {"decimals-lost.csv", "cut-cell", 27, 1, 40,
     "expected 2 decimals in column 3 'Q [kPa]', as in the other rows, found "
     "'3'"},
    {"decimals-lost-in-the-time.csv", "bad-row", 27, 1, 39,
     "expected a time in column 1, found '0.2'; row left out"},
    {"cut-inside-last-cell.csv", "cut-last-row", 41, 1, 39,
     "the last row is cut inside its last cell; left out"},
    {"duplicate-names.csv", "duplicate-column", 1, 2, 3,
     "column 3 has the name 'P' of an earlier one; it is called 'P (2)' or "
     "higher"},
    {"repeated-header.csv", "repeated-header", 8, 1, 8,
     "the header is repeated inside the data; skipped"},
    {"unbalanced-quote.csv", "unbalanced-quote", 3, 1, 3,
     "expected a closing quote, found the end of the line; row left out"},
    {"text-behind-a-quote.csv", "behind-quote", 4, 1, 4,
     "expected the end of a cell behind its closing quote, found more; row "
     "left out"},
    {"number-of-a-hundred-digits.csv", "not-a-number", 4, 1, 6,
     "expected a number in column 2 'P [kPa]', found "
     "'30123456789012345678901234567890123456789012345'"},
    {"unbalanced-quote-in-names.csv", "unbalanced-quote", 1, 1, 3,
     "expected a closing quote in the names, found the end of the line"},
    {"time-restarts.csv", "time-goes-back", 8, 1, 12,
     "time steps back by more than 200 ms; a new part begins"},
    {"late-row.csv", "late-row", 5, 1, 5,
     "time steps back by less than 200 ms; row sorted in"},
    {"time-out-of-range.csv", "bad-row", 7, 1, 5,
     "expected a time in column 1, found '1e300'; row left out"},
    {"impossible-date.csv", "bad-row", 3, 1, 4,
     "expected a time in column 1, found '2025-02-29 10:00:01'; row left out"},
    {"impossible-clock.csv", "bad-row", 3, 1, 4,
     "expected a time in column 1, found '10:00:61'; row left out"},
    {"thousands-and-decimal-alike.csv", "thousands-separator", 3, 2, 4,
     "'1.000.000' was read with thousands separators"},
    {"transposed-short-row.csv", "short-row", 2, 1, 220,
     "expected 220 values, as there are times, found 200"},
    {"transposed-long-row.csv", "long-row", 2, 1, 220,
     "expected 220 values, as there are times, found 230; the others are left "
     "out"},
    {"transposed-letters.csv", "not-a-number", 2, 1, 220,
     "expected a number in row 2, found 'x'"},
    {"half-a-utf16-character.csv", "cut-character", 4, 1, 3,
     "the file ends inside a character; 1 byte left out"},
};

/* Numbers of two digits behind an identifier-like time are no bytes: nothing in
   them is hexadecimal only. */
static void small_numbers_are_no_frames(void **state)
{
    (void)state;
    static const char text[] = "time a b c d\n"
                               "100 12 34 56 78\n"
                               "101 13 35 57 79\n"
                               "102 14 36 58 80\n"
                               "103 15 37 59 81\n";
    /* A column of states in hexadecimal beside small pressures. */
    static const char states[] = "time a b state\n"
                                 "100 12 34 0x1F\n"
                                 "101 13 35 0x1F\n"
                                 "102 14 36 0x2F\n"
                                 "103 15 37 0x2F\n";
    struct table table = table_memory(text, sizeof(text) - 1, NULL);
    assert_int_equal(table.status, BL_OK);
    table_finish(&table);
    table = table_memory(states, sizeof(states) - 1, NULL);
    assert_int_equal(table.status, BL_OK);
    table_finish(&table);
}

static void damage_inside_is_noted_and_the_rest_read(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(noted); i++) {
        char path[512];
        char name[256];
        snprintf(name, sizeof(name), "log/%s", noted[i].file);
        struct table table =
            table_file(test_data(name, path, sizeof(path)), NULL);
        if (table.status != BL_OK) {
            fail_msg("%s: %s", name, table.error.message);
        }
        const struct bl_note *note =
            bl_notes_find(&table.info->notes, noted[i].code);
        if (note == NULL) {
            fail_msg("%s: no note %s", name, noted[i].code);
            return;
        }
        assert_string_equal(note->text, noted[i].text);
        assert_int_equal(note->first_line, noted[i].line);
        assert_int_equal(note->count, noted[i].count);
        assert_int_equal(table.rows, noted[i].rows);
        assert_int_equal(table.info->rows, noted[i].rows);
        table_finish(&table);
    }
}

static void numbers_out_of_range_are_overflows(void **state)
{
    (void)state;
    char path[512];
    struct table table = table_file(
        test_data("log/number-out-of-range.csv", path, sizeof(path)), NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.info->column[0].overflows, 1);
    assert_int_equal(table.info->column[0].values, 5);
    assert_nan(table.value[0][2]);
    table_finish(&table);
}

static void other_bytes_in_names_are_taken_as_latin1(void **state)
{
    (void)state;
    char path[512];
    struct table table = table_file(
        test_data("log/not-quite-utf8.csv", path, sizeof(path)), NULL);
    assert_int_equal(table.status, BL_OK);
    assert_string_equal(table.info->encoding, "latin-1");
    /* ISO 8859-1: C3 is A with tilde, FF is y with two dots. */
    assert_string_equal(table.info->column[0].name, "P\xC3\x83(\xC3\xBF");
    table_finish(&table);
}

/* The step between the first two does not fit 64 bits with a sign. */
static void stamps_at_both_ends_are_rows(void **state)
{
    (void)state;
    char path[512];
    struct table table = table_file(
        test_data("log/times-at-both-ends.csv", path, sizeof(path)), NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, 5);
    assert_int_equal(table.info->interval_ns, 10000000);
    table_finish(&table);
}

static void more_columns_than_allowed_are_refused(void **state)
{
    (void)state;
    const size_t columns = BL_LIMIT_LOG_COLUMNS + 1;
    char *text = malloc(columns * 2 * 3 + 1);
    size_t at = 0;
    for (int row = 0; row < 3; row++) {
        for (size_t c = 0; c < columns; c++) {
            text[at++] = (char)('0' + (c + (size_t)row) % 7);
            text[at++] = c + 1 < columns ? ',' : '\n';
        }
    }
    const struct bl_log_options options = {
        .layout = "columns", .time = "none", .rate_hz = 100};
    struct table table = table_memory(text, at, &options);
    char line[1024];
    assert_int_equal(table.status, BL_LIMIT);
    assert_string_equal(bl_error_line(&table.error, line, sizeof(line)),
                        "yard.csv:1: expected at most 10000 columns, found "
                        "10001");
    table_finish(&table);
    free(text);
}

static void a_line_over_the_limit_is_left_out(void **state)
{
    (void)state;
    const size_t most = BL_LIMIT_LINE_BYTES;
    const size_t size = most + 200;
    char *text = malloc(size);
    size_t at = (size_t)snprintf(text, size, "t,P\n0,1\n0.01,2\n");
    memset(text + at, '7', most + 1);
    at += most + 1;
    at += (size_t)snprintf(text + at, size - at, "\n0.02,3\n");
    struct table table = table_memory(text, at, NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, 3);
    const struct bl_note *note =
        bl_notes_find(&table.info->notes, "line-too-long");
    assert_non_null(note);
    assert_int_equal(note->first_line, 4);
    assert_string_equal(note->text, "expected at most 1 MiB in a line, found "
                                    "more; row left out");
    table_finish(&table);

    table = table_memory(text + 15, most + 1, NULL);
    char line[1024];
    assert_int_equal(table.status, BL_LIMIT);
    assert_string_equal(bl_error_line(&table.error, line, sizeof(line)),
                        "yard.csv:1: expected lines of at most 1 MiB, found a "
                        "longer one and no table");
    table_finish(&table);
    free(text);
}

static void options_that_are_no_values_are_refused(void **state)
{
    (void)state;
    static const struct {
        struct bl_log_options options;
        const char *message;
    } wrong[] = {
        {{.delimiter = "|"},
         "expected ',', ';', tab or space for delimiter, found '|'"},
        {{.decimal = "x"}, "expected '.' or ',' for decimal, found 'x'"},
        {{.encoding = "ebcdic"},
         "expected encoding utf-8, latin-1, utf-16le or utf-16be, found "
         "'ebcdic'"},
        {{.time_form = "years"},
         "expected s, ms, us, ns, epoch-s, epoch-ms, epoch-us, epoch-ns, "
         "clock, iso, day-fraction or index for time_form, found 'years'"},
        {{.timezone = "here"},
         "expected 'Z' or '+hh:mm' for timezone, found 'here'"},
        {{.layout = "heap"},
         "expected columns or rows for layout, found "
         "'heap'"},
        {{.rate_hz = -1}, "expected a rate of 0.001 to 1e+07 Hz, found -1"},
    };
    static const char text[] = "t,P\n0,1\n0.01,2\n";
    for (size_t i = 0; i < COUNT_OF(wrong); i++) {
        struct table table =
            table_memory(text, strlen(text), &wrong[i].options);
        assert_int_equal(table.status, BL_ARG);
        assert_string_equal(table.error.message, wrong[i].message);
        table_finish(&table);
    }
    const struct bl_log_options absent = {.time = "x"};
    struct table table = table_memory(text, strlen(text), &absent);
    assert_int_equal(table.status, BL_FORMAT);
    assert_string_equal(table.error.message,
                        "expected a column 'x' for the time, found none");
    table_finish(&table);
}

/* 100 rows at 10 ms; rows 50, 60 and 61 cannot be read, and a cut last one,
   which is the end and no damage. Two rows left out in a row are one place. */
static void where_rows_are_left_out_is_told(void **state)
{
    (void)state;
    char text[4096];
    size_t at = (size_t)snprintf(text, sizeof(text), "time [s],P [bar]\n");
    for (int i = 0; i < 100; i++) {
        const char *time = i == 50 || i == 61 ? "0.?" : i == 60 ? "\"0." : "0.";
        at += (size_t)snprintf(text + at, sizeof(text) - at, "%s%02d,%d\n",
                               time, i, i * 7 % 5);
    }
    (void)snprintf(text + at, sizeof(text) - at, "1.0");
    struct table table = table_memory(text, strlen(text), NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, 97);
    assert_int_equal(table.info->bad_rows, 4);
    assert_int_equal(table.info->damages, 2);
    assert_int_equal(table.info->damage[0].at.from_ns, 490000000);
    assert_int_equal(table.info->damage[0].at.until_ns, 510000000);
    assert_int_equal(table.info->damage[1].at.from_ns, 590000000);
    assert_int_equal(table.info->damage[1].at.until_ns, 620000000);
    assert_false(table.info->after_damage);
    table_finish(&table);
}

/* Rows without times of their own: one that is left out had its time. */
static void a_row_left_out_counts_where_rows_are_counted(void **state)
{
    (void)state;
    static const char text[] = "P,Q\n1,1\n2,2\n\"3,3\n4,4\n5,5\n";
    const struct bl_log_options counted = {.time = "none", .rate_hz = 100};
    struct table table = table_memory(text, strlen(text), &counted);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, 4);
    assert_int_equal(table.time_ns[1], 10000000);
    assert_int_equal(table.time_ns[2], 30000000);
    assert_int_equal(table.time_ns[3], 40000000);
    assert_int_equal(table.info->damages, 1);
    table_finish(&table);
}

/* The same behind the head of the file, where plain rows are read by a short
   way: rows every 10 ms, of which number 3000 has no time. */
static void a_row_left_out_among_plain_ones_is_told(void **state)
{
    (void)state;
    enum { ROWS = 5000, BAD = 3000 };
    const size_t room = (size_t)ROWS * 32 + 64;
    char *text = malloc(room);
    assert_non_null(text);
    size_t at = (size_t)snprintf(text, room, "time [s],P [kPa],Q [kPa]\n");
    for (int i = 0; i < ROWS; i++) {
        at += (size_t)(i == BAD
                           ? snprintf(text + at, room - at, "none,1.5,2\n")
                           : snprintf(text + at, room - at, "%d.%02d,%d.5,%d\n",
                                      i / 100, i % 100, i % 90, i % 70));
    }
    struct table table = table_memory(text, at, NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, ROWS - 1);
    assert_int_equal(table.info->damages, 1);
    assert_int_equal(table.info->damage[0].at.from_ns,
                     (int64_t)(BAD - 1) * 10000000);
    assert_int_equal(table.info->damage[0].at.until_ns,
                     (int64_t)(BAD + 1) * 10000000);
    assert_false(table.info->after_damage);
    table_finish(&table);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_no_log_is_refused_in_words),
        cmocka_unit_test(small_numbers_are_no_frames),
        cmocka_unit_test(damage_inside_is_noted_and_the_rest_read),
        cmocka_unit_test(numbers_out_of_range_are_overflows),
        cmocka_unit_test(other_bytes_in_names_are_taken_as_latin1),
        cmocka_unit_test(stamps_at_both_ends_are_rows),
        cmocka_unit_test(more_columns_than_allowed_are_refused),
        cmocka_unit_test(a_line_over_the_limit_is_left_out),
        cmocka_unit_test(where_rows_are_left_out_is_told),
        cmocka_unit_test(a_row_left_out_counts_where_rows_are_counted),
        cmocka_unit_test(a_row_left_out_among_plain_ones_is_told),
        cmocka_unit_test(options_that_are_no_values_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
