/* SPDX-License-Identifier: MIT */
#include "testing.h"

#include "base/limits.h"
#include "io/lines.h"

struct expected {
    const char *text;
    bool ended, has_nul;
};

/* A source that gives `step` bytes at a time, so that every border is met. */
struct slow {
    const char *data;
    size_t size, at, step;
};

static enum bl_status slow_fill(void *context, uint8_t *buffer, size_t size,
                                size_t *got, struct bl_error *error)
{
    (void)error;
    struct slow *slow = context;
    size_t count = slow->size - slow->at;
    count = count < slow->step ? count : slow->step;
    count = count < size ? count : size;
    memcpy(buffer, slow->data + slow->at, count);
    slow->at += count;
    *got = count;
    return BL_OK;
}

static void check_lines(const char *data, size_t size, bool skip_bom,
                        const struct expected *rows, size_t count)
{
    for (size_t step = 1; step <= size + 1; step++) {
        struct slow slow = {.data = data, .size = size, .step = step};
        struct bl_bytes *source;
        assert_int_equal(
            bl_bytes_open_function(&source, "slow", slow_fill, &slow, NULL),
            BL_OK);
        struct bl_lines lines;
        bl_lines_start(&lines, source, skip_bom);
        struct bl_text_line line;
        for (size_t i = 0; i < count; i++) {
            assert_int_equal(bl_lines_next(&lines, &line, NULL), BL_OK);
            assert_non_null(line.text);
            const size_t length =
                rows[i].has_nul ? line.length : strlen(rows[i].text);
            assert_int_equal(line.length, length);
            assert_memory_equal(line.text, rows[i].text, length);
            assert_int_equal(line.number, i + 1);
            assert_int_equal(line.ended, rows[i].ended);
            assert_int_equal(line.has_nul, rows[i].has_nul);
            assert_memory_equal(data + line.offset, line.text, length);
        }
        assert_int_equal(bl_lines_next(&lines, &line, NULL), BL_OK);
        assert_null(line.text);
        bl_bytes_close(source);
    }
}

static void all_line_ends_are_known(void **state)
{
    (void)state;
    static const char mixed[] = "one\ntwo\r\nthree\rfour\n\rsix\r\r\n\n\nlast";
    static const struct expected rows[] = {
        {"one", true, false},  {"two", true, false}, {"three", true, false},
        {"four", true, false}, {"", true, false},    {"six", true, false},
        {"", true, false},     {"", true, false},    {"", true, false},
        {"last", false, false}};
    check_lines(mixed, strlen(mixed), false, rows, COUNT_OF(rows));
}

static void nothing_has_no_lines(void **state)
{
    (void)state;
    check_lines("", 0, true, NULL, 0);
}

static void a_byte_order_mark_is_skipped_when_asked(void **state)
{
    (void)state;
    static const char data[] = "\xEF\xBB\xBFname\nx";
    static const struct expected without[] = {{"name", true, false},
                                              {"x", false, false}};
    static const struct expected with[] = {{"\xEF\xBB\xBFname", true, false},
                                           {"x", false, false}};
    check_lines(data, strlen(data), true, without, 2);
    check_lines(data, strlen(data), false, with, 2);
}

static void zero_bytes_are_told(void **state)
{
    (void)state;
    static const char data[] = "a\nb\0c\nd\n";
    static const struct expected rows[] = {
        {"a", true, false}, {"b\0c", true, true}, {"d", true, false}};
    check_lines(data, sizeof(data) - 1, false, rows, 3);
}

static void lines_are_bounded(void **state)
{
    (void)state;
    const size_t limit = BL_LIMIT_LINE_BYTES;
    const size_t size = 2 + limit + 1 + 3 * limit + 1 + 3;
    char *data = malloc(size);
    assert_non_null(data);
    memset(data, 'x', size);
    data[1] = '\n';
    data[2 + limit] = '\n'; /* exactly at the limit */
    data[2 + limit + 1 + 3 * limit] = '\n';
    memcpy(data + size - 3, "end", 3);
    struct bl_bytes *source;
    assert_int_equal(bl_bytes_open_memory(&source, "wide", data, size, NULL),
                     BL_OK);
    struct bl_lines lines;
    struct bl_text_line line;
    struct bl_error error;
    bl_error_clear(&error);
    bl_lines_start(&lines, source, false);
    assert_int_equal(bl_lines_next(&lines, &line, NULL), BL_OK);
    assert_int_equal(line.length, 1);
    assert_int_equal(bl_lines_next(&lines, &line, NULL), BL_OK);
    assert_int_equal(line.length, limit);
    assert_int_equal(bl_lines_next(&lines, &line, &error), BL_LIMIT);
    assert_int_equal(error.line, 3);
    assert_int_equal(bl_lines_next(&lines, &line, NULL), BL_OK);
    assert_int_equal(line.length, 3);
    assert_int_equal(line.number, 4);
    assert_false(line.ended);
    assert_int_equal(bl_lines_next(&lines, &line, NULL), BL_OK);
    assert_null(line.text);
    bl_bytes_close(source);
    free(data);
}

static void damage_comes_after_the_lines_before_it(void **state)
{
    (void)state;
    char path[4096];
    struct bl_bytes *source;
    assert_int_equal(
        bl_bytes_open(&source,
                      test_data("io/gzip-cut-in-data.gz", path, sizeof(path)),
                      NULL),
        BL_OK);
    struct bl_lines lines;
    struct bl_text_line line;
    struct bl_error error;
    bl_error_clear(&error);
    bl_lines_start(&lines, source, true);
    int count = 0;
    enum bl_status status;
    bool ended = true;
    while ((status = bl_lines_next(&lines, &line, &error)) == BL_OK &&
           line.text != NULL) {
        char expected[64];
        snprintf(expected, sizeof(expected), "line %04d of the plain text",
                 count);
        assert_true(ended);
        ended = line.ended;
        assert_memory_equal(line.text, expected, line.length);
        count++;
    }
    assert_int_equal(status, BL_TRUNCATED);
    assert_true(count > 10);
    assert_int_equal(bl_lines_next(&lines, &line, NULL), BL_TRUNCATED);
    bl_bytes_close(source);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_line_ends_are_known),
        cmocka_unit_test(nothing_has_no_lines),
        cmocka_unit_test(a_byte_order_mark_is_skipped_when_asked),
        cmocka_unit_test(zero_bytes_are_told),
        cmocka_unit_test(lines_are_bounded),
        cmocka_unit_test(damage_comes_after_the_lines_before_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
