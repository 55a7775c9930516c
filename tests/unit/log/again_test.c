/* SPDX-License-Identifier: MIT */
/*
 * Rows that are in a log again: dropped, counted, noted, no damage. The
 * outside reference is the log without them, read the same way.
 */
#include "log_testing.h"

enum { ROWS = 3000, MOST = 4 * ROWS, ROW_BYTES = 40 };

struct text {
    char bytes[MOST * ROW_BYTES];
    size_t size;
};

static void put(struct text *text, const char *row)
{
    const size_t length = strlen(row);
    assert_true(text->size + length < sizeof(text->bytes));
    memcpy(text->bytes + text->size, row, length);
    text->size += length;
}

static void row(struct text *text, int i)
{
    char line[ROW_BYTES];
    snprintf(line, sizeof(line), "%d.%02d,%d,%d.5\n", i / 100, i % 100,
             i * 7 % 650, i * 11 % 90);
    put(text, line);
}

static void head(struct text *text)
{
    put(text, "Yard logger,by A\nRate,100 Hz\n"
              "time [s],P [kPa],Q [kPa]\n");
}

static void whole(struct text *text, int rows)
{
    head(text);
    for (int i = 0; i < rows; i++) {
        row(text, i);
    }
}

/* As the log that was written once, with so many rows dropped. */
static void same_as_once(const struct text *text, uint64_t dropped)
{
    static struct text once;
    once.size = 0;
    whole(&once, ROWS);
    struct table a = table_memory(once.bytes, once.size, NULL);
    struct table b = table_memory(text->bytes, text->size, NULL);
    assert_int_equal(a.rows, ROWS);
    assert_int_equal(b.rows, ROWS);
    for (size_t i = 0; i < ROWS; i++) {
        assert_int_equal(a.time_ns[i], b.time_ns[i]);
        assert_int_equal(b.part[i], 0);
        assert_true(a.value[0][i] == b.value[0][i]);
        assert_true(a.value[1][i] == b.value[1][i]);
    }
    assert_int_equal(b.info->repeated_rows, dropped);
    assert_int_equal(table_note(&b, "repeated-row"), dropped);
    assert_int_equal(b.info->damages, 0);
    assert_int_equal(b.info->bad_rows, 0);
    assert_int_equal(b.info->splits, 0);
    assert_false(b.info->after_damage);
    table_finish(&a);
    table_finish(&b);
}

static void a_log_stored_twice_is_read_once(void **state)
{
    (void)state;
    static struct text text;
    text.size = 0;
    whole(&text, ROWS);
    whole(&text, ROWS);
    same_as_once(&text, ROWS);
    /* Without its head, and three times. */
    for (int i = 0; i < ROWS; i++) {
        row(&text, i);
    }
    same_as_once(&text, 2 * (uint64_t)ROWS);
    /* A shorter copy first, and the whole recording behind it. */
    text.size = 0;
    whole(&text, 1000);
    whole(&text, ROWS);
    same_as_once(&text, 1000);
}

static void rows_stored_twice_are_read_once(void **state)
{
    (void)state;
    static struct text text;
    text.size = 0;
    head(&text);
    uint64_t dropped = 0;
    for (int i = 0; i < ROWS; i++) {
        row(&text, i);
        if (i % 10 == 3) { /* at once */
            row(&text, i);
            dropped++;
        }
        if (i % 100 == 50) { /* out of order, by 0.05 and by 0.4 s */
            row(&text, i - 5);
            row(&text, i - 40);
            dropped += 2;
        }
        if (i % 500 == 499) { /* far behind */
            row(&text, 12);
            dropped++;
        }
    }
    same_as_once(&text, dropped);
}

/* One row of the second copy has another value: damage, and no new part. */
static void a_copy_that_differs_is_damaged(void **state)
{
    (void)state;
    static struct text text;
    text.size = 0;
    whole(&text, ROWS);
    for (int i = 0; i < ROWS; i++) {
        if (i == 700) {
            put(&text, "7.00,999,1.5\n");
        } else {
            row(&text, i);
        }
    }
    struct table t = table_memory(text.bytes, text.size, NULL);
    assert_int_equal(t.rows, ROWS);
    assert_int_equal(t.info->splits, 0);
    assert_int_equal(table_note(&t, "copy-differs"), 1);
    assert_int_equal(t.info->bad_rows, 1);
    assert_int_equal(t.info->repeated_rows, ROWS - 1);
    table_finish(&t);
}

/* The clock starts anew and other values follow: a recording of its own. Whole
   seconds with the same value at rest are no repetition either. */
static void what_only_looks_alike_stays(void **state)
{
    (void)state;
    static struct text text;
    text.size = 0;
    whole(&text, ROWS);
    for (int i = 0; i < ROWS; i++) {
        char line[ROW_BYTES];
        snprintf(line, sizeof(line), "%d.%02d,%d,%d.5\n", i / 100, i % 100,
                 i * 7 % 650 + 1, i * 11 % 90);
        put(&text, line);
    }
    struct table t = table_memory(text.bytes, text.size, NULL);
    assert_int_equal(t.rows, 2 * ROWS);
    assert_int_equal(t.info->repeated_rows, 0);
    assert_int_equal(t.info->splits, 1);
    table_finish(&t);
    text.size = 0;
    put(&text, "time [s],P [kPa]\n");
    for (int i = 0; i < ROWS; i++) {
        char line[ROW_BYTES];
        snprintf(line, sizeof(line), "%d,%d\n", i / 50,
                 i % 2000 < 200 ? i % 3 : 0);
        put(&text, line);
    }
    t = table_memory(text.bytes, text.size, NULL);
    assert_int_equal(t.rows, ROWS);
    assert_int_equal(t.info->repeated_rows, 0);
    table_finish(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_log_stored_twice_is_read_once),
        cmocka_unit_test(rows_stored_twice_are_read_once),
        cmocka_unit_test(a_copy_that_differs_is_damaged),
        cmocka_unit_test(what_only_looks_alike_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
