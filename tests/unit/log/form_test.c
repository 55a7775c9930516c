/* SPDX-License-Identifier: MIT */
/*
 * Rows whose form is damaged among many that are whole: left out, counted,
 * their place noted, and the rest read as without them. The numbers in the
 * rows are the row's own number, so that every value is known.
 */
#include "log_testing.h"

enum { ROWS = 1000, STEP_MS = 10, ROW_BYTES = 64 };

struct text {
    char bytes[ROWS * ROW_BYTES];
    size_t size;
};

/* "12.340,1340.50,7.25": time, and two columns. */
static void put_row(struct text *text, int i, const char *instead)
{
    char row[ROW_BYTES];
    if (instead == NULL) {
        snprintf(row, sizeof(row), "%d.%03d,%d.50,%d.%02d\n",
                 i * STEP_MS / 1000, i * STEP_MS % 1000, i % 650, i % 90,
                 i % 100);
        instead = row;
    }
    const size_t length = strlen(instead);
    assert_true(text->size + length < sizeof(text->bytes));
    memcpy(text->bytes + text->size, instead, length);
    text->size += length;
}

static void make(struct text *text, int at, const char *instead)
{
    text->size = 0;
    put_row(text, 0, "time [s],P [kPa],Q [kPa]\n");
    for (int i = 0; i < ROWS; i++) {
        put_row(text, i, i == at ? instead : NULL);
    }
}

/* Every row but `without` is there with its values. */
static void rest_is_read(const struct table *t, int without)
{
    size_t at = 0;
    for (int i = 0; i < ROWS; i++) {
        if (i == without) {
            continue;
        }
        assert_int_equal(t->time_ns[at], (int64_t)i * STEP_MS * 1000000);
        assert_true(t->value[0][at] == i % 650 + 0.5);
        assert_true(fabs(t->value[1][at] - (i % 90 + (i % 100) / 100.0)) <
                    1e-9);
        assert_int_equal(t->part[at], 0);
        at++;
    }
    assert_int_equal(t->rows, at);
}

struct broken {
    int at;
    const char *row, *code;
};

static void a_broken_row_decides_nothing(void **state)
{
    (void)state;
    /* In the rows that decide the shape, and behind them. */
    static const struct broken rows[] = {
        {120, "171720\n", "short-row"},
        {700, "171720\n", "short-row"},
        {120, "1.200,12\n", "short-row"},
        {700, "7.000,70.50\n", "short-row"},
        {700, "7.0\n", "short-row"},
        {120, "1.2,120.50,30.20\n", "bad-row"},
        {700, "7,50.50,70.00\n", "bad-row"},
        {700, "7.000.000,50.50,70.00\n", "bad-row"}};
    static struct text text;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        make(&text, rows[i].at, rows[i].row);
        struct table t = table_memory(text.bytes, text.size, NULL);
        assert_int_equal(t.status, BL_OK);
        assert_int_equal(table_note(&t, rows[i].code), 1);
        assert_int_equal(t.info->bad_rows, 1);
        assert_int_equal(t.info->splits, 0);
        assert_int_equal(t.info->damages, 1);
        const int64_t time_ns = (int64_t)rows[i].at * STEP_MS * 1000000;
        assert_true(t.info->damage[0].at.from_ns < time_ns &&
                    t.info->damage[0].at.until_ns > time_ns);
        rest_is_read(&t, rows[i].at);
        table_finish(&t);
    }
}

static void a_broken_cell_decides_nothing(void **state)
{
    (void)state;
    static const struct broken rows[] = {
        {120, "1.200,651.650.00,30.20\n", "odd-separator"},
        {700, "7.000,651.650.00,70.00\n", "odd-separator"},
        {700, "7.000,651'650,70.00\n", "odd-separator"},
        {700, "7.000,5,70.00\n", "cut-cell"},
        {120, "1.200,120.50,3\n", "cut-cell"},
        {700, "7.000,50.50,7.\n", "cut-cell"}};
    static struct text text;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        make(&text, rows[i].at, rows[i].row);
        struct table t = table_memory(text.bytes, text.size, NULL);
        assert_int_equal(t.status, BL_OK);
        assert_int_equal(table_note(&t, rows[i].code), 1);
        assert_int_equal(t.rows, ROWS);
        assert_int_equal(
            t.info->column[0].not_numbers + t.info->column[1].not_numbers, 1);
        assert_true(t.info->damages > 0);
        assert_string_equal(t.info->decimal, ".");
        for (int k = 0; k < ROWS; k++) {
            assert_true(k == rows[i].at || t.value[0][k] == k % 650 + 0.5);
        }
        table_finish(&t);
    }
}

/* What is no damage: closing cells that are left out in many rows, decimals
   that come and go, a bare 0, thousands in a file that has them. */
static void habits_are_no_damage(void **state)
{
    (void)state;
    static struct text text;
    text.size = 0;
    put_row(&text, 0, "t,P,Q\n");
    for (int i = 0; i < ROWS; i++) {
        char row[ROW_BYTES];
        snprintf(row, sizeof(row), i % 5 != 3 ? "%d,%d.5,%d\n" : "%d,%d.25\n",
                 i * STEP_MS, i % 650, i);
        put_row(&text, i, row);
    }
    struct table t = table_memory(text.bytes, text.size, NULL);
    assert_int_equal(t.rows, ROWS);
    assert_int_equal(t.info->damages, 0);
    assert_int_equal(t.info->bad_rows, 0);
    table_finish(&t);
    text.size = 0;
    put_row(&text, 0, "t;P\n");
    for (int i = 0; i < ROWS; i++) {
        char row[ROW_BYTES];
        /* Closing zeros dropped, as "%g" does: 12.3, 12, 0.25. */
        snprintf(row, sizeof(row), "%d;%g\n", i * STEP_MS, i % 400 * 0.25);
        put_row(&text, i, row);
    }
    t = table_memory(text.bytes, text.size, NULL);
    assert_int_equal(t.rows, ROWS);
    assert_int_equal(t.info->damages, 0);
    table_finish(&t);
    make(&text, 700, "7.000,0,70.00\n");
    t = table_memory(text.bytes, text.size, NULL);
    assert_int_equal(t.info->damages, 0);
    assert_true(t.value[0][700] == 0);
    table_finish(&t);
}

static void thousands_of_the_whole_file_are_read(void **state)
{
    (void)state;
    static struct text text;
    text.size = 0;
    put_row(&text, 0, "t;P\n");
    for (int i = 0; i < ROWS; i++) {
        char row[ROW_BYTES];
        const int p = 600 + i;
        snprintf(row, sizeof(row), p < 1000 ? "%d;%d.5\n" : "%d;%d,%03d.5\n",
                 i * STEP_MS, p < 1000 ? p : p / 1000, p % 1000);
        put_row(&text, i, row);
    }
    /* The first 330 lines hold no thousand: what follows reads one way. */
    struct table t = table_memory(text.bytes, text.size, NULL);
    assert_int_equal(t.rows, ROWS);
    assert_int_equal(t.info->damages, 0);
    for (int i = 0; i < ROWS; i++) {
        assert_true(t.value[0][i] == 600.5 + i);
    }
    table_finish(&t);
}

/* A clock that lost its first digit is one bad stamp: no day passes. */
static void a_cut_clock_is_no_midnight(void **state)
{
    (void)state;
    static struct text text;
    text.size = 0;
    put_row(&text, 0, "time;P\n");
    for (int i = 0; i < ROWS; i++) {
        char row[ROW_BYTES];
        snprintf(row, sizeof(row), "%s:59:%02d.%02d;%d.5\n",
                 i == 700 ? "3" : "23", 40 + i / 100, i % 100, i % 650);
        put_row(&text, i, row);
    }
    struct table t = table_memory(text.bytes, text.size, NULL);
    assert_int_equal(t.status, BL_OK);
    const int64_t day_ns = INT64_C(86400000000000);
    const int64_t last_ns =
        day_ns - 20 * INT64_C(1000000000) + (ROWS - 1) * INT64_C(10000000);
    assert_int_equal(t.time_ns[t.rows - 1], last_ns);
    table_finish(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_broken_row_decides_nothing),
        cmocka_unit_test(a_broken_cell_decides_nothing),
        cmocka_unit_test(habits_are_no_damage),
        cmocka_unit_test(thousands_of_the_whole_file_are_read),
        cmocka_unit_test(a_cut_clock_is_no_midnight),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
