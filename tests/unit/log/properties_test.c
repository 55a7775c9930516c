/* SPDX-License-Identifier: MIT */
/*
 * What must hold for any log: the same table in other clothes gives the same
 * numbers, however the bytes arrive and whatever the locale says; late rows
 * are sorted; every failing allocation is survived. The numbers come from the
 * integers that the texts were made of, by strtod in the C locale.
 */
#include "log_testing.h"

#include "base/alloc.h"
#include "base/random.h"

#include <locale.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>
#include <zlib.h>

#define MS INT64_C(1000000)

enum { ROWS = 700, CHANNELS = 3, TEXT_BYTES = 1 << 16 };

/* Thousandths, as they are written. */
static int written[ROWS][CHANNELS];

static void make_numbers(void)
{
    struct bl_random random;
    bl_random_seed(&random, 20260202);
    for (int row = 0; row < ROWS; row++) {
        for (int c = 0; c < CHANNELS; c++) {
            written[row][c] = (int)bl_random_below(&random, 900000) - 100000;
        }
    }
}

static size_t add_number(char *text, size_t size, int thousandths, char decimal)
{
    const int magnitude = abs(thousandths);
    return (size_t)snprintf(text, size, "%s%d%c%03d",
                            thousandths < 0 ? "-" : "", magnitude / 1000,
                            decimal, magnitude % 1000);
}

static size_t make_text(char *text, char delimiter, char decimal)
{
    size_t at = (size_t)snprintf(text, TEXT_BYTES,
                                 "t%cA%cB%cDr\xC3\xBC"
                                 "ck\r\n",
                                 delimiter, delimiter, delimiter);
    for (int row = 0; row < ROWS; row++) {
        at += add_number(text + at, TEXT_BYTES - at, row * 5, decimal);
        for (int c = 0; c < CHANNELS; c++) {
            text[at++] = delimiter;
            at += add_number(text + at, TEXT_BYTES - at, written[row][c],
                             decimal);
        }
        at += (size_t)snprintf(text + at, TEXT_BYTES - at, "\r\n");
    }
    return at;
}

/* UTF-8 of code points under 0x800 into another encoding. */
static size_t encode(const char *text, size_t size, int encoding, uint8_t *out)
{
    size_t at = 0;
    for (size_t i = 0; i < size; i++) {
        unsigned code = (uint8_t)text[i];
        if (encoding == 0) {
            out[at++] = (uint8_t)code;
            continue;
        }
        if (code >= 0xC0) {
            code = (code & 0x1F) << 6 | ((uint8_t)text[++i] & 0x3F);
        }
        if (encoding == 1) {
            out[at++] = (uint8_t)code;
        } else {
            out[at++] = (uint8_t)(encoding == 2 ? code & 0xFF : code >> 8);
            out[at++] = (uint8_t)(encoding == 2 ? code >> 8 : code & 0xFF);
        }
    }
    return at;
}

static void check_numbers(const struct table *table)
{
    if (table->status != BL_OK) {
        fail_msg("%s", table->error.message);
    }
    assert_int_equal(table->rows, ROWS);
    assert_int_equal(table->info->columns, CHANNELS);
    assert_string_equal(table->info->column[2].name, "Dr\xC3\xBC"
                                                     "ck");
    for (int row = 0; row < ROWS; row++) {
        assert_true(table->time_ns[row] == row * 5 * MS);
        for (int c = 0; c < CHANNELS; c++) {
            /* Both are exact: one correctly rounded division. */
            if (table->value[c][row] != written[row][c] / 1000.0) {
                fail_msg("%s: row %d column %d: %.17g for %d thousandths",
                         table->info->decided, row, c, table->value[c][row],
                         written[row][c]);
            }
        }
    }
}

static void clothes_change_no_number(void **state)
{
    (void)state;
    static const char *const shapes[] = {",.",  ";.", ";,", "\t.",
                                         "\t,", " .", " ,"};
    static char text[TEXT_BYTES];
    static uint8_t data[2 * TEXT_BYTES];
    for (size_t shape = 0; shape < COUNT_OF(shapes); shape++) {
        for (int encoding = 0; encoding < 4; encoding++) {
            const size_t size =
                make_text(text, shapes[shape][0], shapes[shape][1]);
            const size_t bytes = encode(text, size, encoding, data);
            struct table table = table_memory(data, bytes, NULL);
            check_numbers(&table);
            table_finish(&table);
        }
    }
}

/* The folder for scratch files of this test. */
static char folder[64];

static void feed(const char *path, const char *text, size_t size, size_t piece)
{
    FILE *pipe = fopen(path, "wb");
    for (size_t at = 0; pipe != NULL && at < size; at += piece) {
        const size_t part = size - at < piece ? size - at : piece;
        if (fwrite(text + at, 1, part, pipe) != part || fflush(pipe) != 0) {
            break;
        }
    }
    if (pipe != NULL) {
        fclose(pipe);
    }
    _exit(0);
}

static void odd_read_sizes_change_nothing(void **state)
{
    (void)state;
    static const size_t pieces[] = {1, 7, 61, 4099};
    static char text[TEXT_BYTES];
    const size_t size = make_text(text, ';', ',');
    char path[128];
    snprintf(path, sizeof(path), "%s/pipe", folder);
    for (size_t i = 0; i < COUNT_OF(pieces); i++) {
        assert_int_equal(mkfifo(path, 0600), 0);
        const pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            feed(path, text, size, pieces[i]);
        }
        struct table table = table_file(path, NULL);
        check_numbers(&table);
        table_finish(&table);
        waitpid(child, NULL, 0);
        unlink(path);
    }
}

static void a_locale_with_decimal_comma_changes_nothing(void **state)
{
    (void)state;
    static char text[TEXT_BYTES];
    char command[256];
    snprintf(command, sizeof(command),
             "localedef -i de_DE -f UTF-8 %s/de_DE.UTF-8 2>%s/log", folder,
             folder);
    setenv("LOCPATH", folder, 1);
    if (system(command) > 256 || setlocale(LC_ALL, "de_DE.UTF-8") == NULL ||
        strcmp(localeconv()->decimal_point, ",") != 0) {
        print_message("skipped: no locale with a decimal comma here\n");
        unsetenv("LOCPATH");
        skip();
        return;
    }
    for (int shape = 0; shape < 2; shape++) {
        const size_t size = make_text(text, ";,"[shape], ",."[shape]);
        struct table table = table_memory(text, size, NULL);
        check_numbers(&table);
        table_finish(&table);
    }
    setlocale(LC_ALL, "C");
    unsetenv("LOCPATH");
}

static void only_selected_columns_are_read(void **state)
{
    (void)state;
    static char text[TEXT_BYTES];
    const size_t size = make_text(text, ',', '.');
    struct bl_bytes *bytes;
    struct bl_log_reader *reader;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_bytes_open_memory(&bytes, "m", text, size, &error),
                     BL_OK);
    assert_int_equal(bl_log_open(&reader, bytes, NULL, &error), BL_OK);
    const size_t beyond = 3;
    assert_int_equal(bl_log_select(reader, &beyond, 1, &error), BL_ARG);
    assert_string_equal(error.message,
                        "expected a value column below 3, found 3");
    const size_t one = 1;
    assert_int_equal(bl_log_select(reader, &one, 1, &error), BL_OK);
    struct bl_log_block block;
    size_t rows = 0;
    do {
        assert_int_equal(bl_log_next(reader, &block, &error), BL_OK);
        for (size_t i = 0; i < block.rows; i++, rows++) {
            assert_null(block.value[0]);
            assert_null(block.value[2]);
            assert_true(block.value[1][i] == written[rows][1] / 1000.0);
        }
    } while (block.rows > 0);
    assert_int_equal(rows, ROWS);
    assert_int_equal(bl_log_info(reader)->column[0].values, 0);
    assert_int_equal(bl_log_info(reader)->column[1].values, ROWS);
    assert_int_equal(bl_log_select(reader, &one, 1, &error), BL_ARG);
    bl_log_close(reader);
    bl_bytes_close(bytes);
}

/* 30000 rows at 1 ms, every tenth group of 60 rows written backwards: across
   the borders of blocks too. The value is the stamp. */
static void late_rows_are_sorted_across_blocks(void **state)
{
    (void)state;
    enum { MANY = 30000, GROUP = 60 };
    char *text = malloc(MANY * 20 + 16);
    size_t at = (size_t)snprintf(text, 16, "t,P\n");
    size_t late = 0;
    for (int i = 0; i < MANY; i++) {
        const int group = i / GROUP;
        const bool back = group % 10 == 6;
        const int k = back ? (group + 1) * GROUP - 1 - i % GROUP : i;
        late += back && i % GROUP > 0;
        at += (size_t)snprintf(text + at, 20, "%d.%03d,%d\n", k / 1000,
                               k % 1000, k);
    }
    struct table table = table_memory(text, at, NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, MANY);
    assert_int_equal(table.info->late_rows, late);
    assert_int_equal(table.info->splits, 0);
    for (int i = 0; i < MANY; i++) {
        assert_true(table.time_ns[i] == i * MS);
        assert_true(table.value[0][i] == i);
    }
    table_finish(&table);
    free(text);
}

/* Three starts from zero: three parts, no block spans two. */
static void time_that_goes_back_begins_a_part(void **state)
{
    (void)state;
    enum { EACH = 9000 };
    char *text = malloc(3 * EACH * 20 + 16);
    size_t at = (size_t)snprintf(text, 16, "t,P\n");
    for (int i = 0; i < 3 * EACH; i++) {
        const int k = i % EACH;
        at += (size_t)snprintf(text + at, 20, "%d.%03d,%d\n", k / 1000,
                               k % 1000, i);
    }
    struct table table = table_memory(text, at, NULL);
    assert_int_equal(table.status, BL_OK);
    assert_int_equal(table.rows, 3 * EACH);
    assert_int_equal(table.info->splits, 2);
    for (int i = 0; i < 3 * EACH; i++) {
        assert_int_equal(table.part[i], i / EACH);
        assert_true(table.time_ns[i] == i % EACH * MS);
        assert_true(table.value[0][i] == i);
    }
    table_finish(&table);
    free(text);
}

static void a_cut_gzip_gives_its_rows_then_says_so(void **state)
{
    (void)state;
    static char text[TEXT_BYTES];
    static uint8_t packed[TEXT_BYTES];
    const size_t size = make_text(text, ',', '.');
    z_stream stream = {0};
    assert_int_equal(
        deflateInit2(&stream, 6, Z_DEFLATED, 31, 8, Z_DEFAULT_STRATEGY), Z_OK);
    stream.next_in = (Bytef *)text;
    stream.avail_in = (uInt)size;
    stream.next_out = packed;
    stream.avail_out = sizeof(packed);
    assert_int_equal(deflate(&stream, Z_FINISH), Z_STREAM_END);
    const size_t bytes = stream.total_out;
    deflateEnd(&stream);
    struct table table = table_memory(packed, bytes, NULL);
    check_numbers(&table);
    table_finish(&table);

    table = table_memory(packed, bytes / 2, NULL);
    assert_int_equal(table.status, BL_TRUNCATED);
    assert_true(table.error.message[0] != '\0');
    assert_true(table.rows > ROWS / 4 && table.rows < ROWS);
    for (size_t row = 0; row < table.rows; row++) {
        assert_true(table.value[0][row] == written[row][0] / 1000.0);
    }
    table_finish(&table);
}

static enum bl_status read_quietly(const char *text, size_t size)
{
    struct bl_bytes *bytes;
    struct bl_log_reader *reader;
    struct bl_log_block block;
    enum bl_status status = bl_bytes_open_memory(&bytes, "m", text, size, NULL);
    if (status != BL_OK) {
        return status;
    }
    status = bl_log_open(&reader, bytes, NULL, NULL);
    if (status == BL_OK) {
        do {
            status = bl_log_next(reader, &block, NULL);
        } while (status == BL_OK && block.rows > 0);
        bl_log_close(reader);
    }
    bl_bytes_close(bytes);
    return status;
}

static void every_failing_allocation_is_survived(void **state)
{
    (void)state;
    static const char table[] =
        "t;P;P\n0,00;1;x\n0,01;2;1.234,5\n0,02;3;3\n0,01;1;1\nzzz;1;1\n0,03";
    static char rows[8192];
    size_t at = 0;
    for (int row = 0; row < 2; row++) {
        for (int i = 0; i < 220; i++) {
            at += (size_t)snprintf(rows + at, sizeof(rows) - at, "%s%d.%02d",
                                   i > 0 ? "," : "", i / 100, i % 100);
        }
        rows[at++] = '\n';
    }
    const char *const texts[] = {table, rows};
    for (int i = 0; i < 2; i++) {
        const size_t size = strlen(texts[i]);
        bl_alloc_fail_at(0);
        assert_int_equal(read_quietly(texts[i], size), BL_OK);
        const uint64_t count = bl_alloc_count();
        assert_true(count > 10);
        for (uint64_t number = 1; number <= count; number++) {
            bl_alloc_fail_at(number);
            const enum bl_status status = read_quietly(texts[i], size);
            if (status != BL_NOMEM) {
                fail_msg("allocation %llu of %llu fails: %s",
                         (unsigned long long)number, (unsigned long long)count,
                         bl_status_name(status));
            }
        }
        bl_alloc_fail_at(0);
    }
}

static int make_folder(void **state)
{
    (void)state;
    const char *base = getenv("TMPDIR");
    snprintf(folder, sizeof(folder), "%.40s/bl-log-XXXXXX",
             base != NULL ? base : "/tmp");
    make_numbers();
    return mkdtemp(folder) == NULL;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[128];
    snprintf(command, sizeof(command), "rm -r '%s'", folder);
    return system(command) != 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clothes_change_no_number),
        cmocka_unit_test(odd_read_sizes_change_nothing),
        cmocka_unit_test(a_locale_with_decimal_comma_changes_nothing),
        cmocka_unit_test(only_selected_columns_are_read),
        cmocka_unit_test(late_rows_are_sorted_across_blocks),
        cmocka_unit_test(time_that_goes_back_begins_a_part),
        cmocka_unit_test(a_cut_gzip_gives_its_rows_then_says_so),
        cmocka_unit_test(every_failing_allocation_is_survived),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
