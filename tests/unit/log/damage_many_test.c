/* SPDX-License-Identifier: MIT */
/*
 * Logs with a stretch of bytes damaged by the dice, behind the rows by which
 * the shape of the file is decided: overwritten, zeroed, lost, put in between,
 * cut off, one bit. Nothing may crash; every row whose line is whole comes out,
 * once, with its time and values to the digit; what comes out besides is no
 * more than the damage touched; a row that is lost is told.
 * BL_DAMAGES damages per shape of file (40 without it), the same ones each time
 * unless BL_DICE gives another number.
 *
 * A line is whole when its own bytes and the end of the line before are. A
 * digit that became another digit cannot be seen.
 */
#include "damage_dice.h"
#include "log_testing.h"

enum { ROWS = 3000, DECIDING = 1200, STEP_MS = 10 };

/* Numbers as yard loggers write them. */
static const struct shape {
    const char *name, *head, *row; /* s, ms, integer and fraction twice */
} shapes[] = {
    {"commas", "time [s],P [kPa],Q [kPa]\n", "%d.%03d,%d.%02d,%d.%02d\n"},
    {"decimal commas", "time [s];P [kPa];Q [kPa]\r\n",
     "%d,%03d;%d,%02d;%d,%02d\r\n"},
    {"quoted", "\"time [s]\",\"P [kPa]\",\"Q [kPa]\"\n",
     "\"%d.%03d\",\"%d.%02d\",\"%d.%02d\"\n"},
    {"tabs", "time [s]\tP [kPa]\tQ [kPa]\n", "%d.%03d\t%d.%02d\t%d.%02d\n"}};

struct log {
    uint8_t *data;
    size_t size;
    size_t at[ROWS + 1];
    size_t hit, first_hit;
};

static int p_of(size_t row)
{
    return (int)(row * 37 % 90000); /* hundredths of a kPa */
}

static int q_of(size_t row)
{
    return (int)((row * 53 + 7) % 70000);
}

static struct log make(const struct shape *shape)
{
    const size_t room = (size_t)ROWS * 48 + 100;
    struct log log = {.data = malloc(room), .first_hit = ROWS};
    assert_non_null(log.data);
    char *text = (char *)log.data;
    log.size = (size_t)snprintf(text, room, "%s", shape->head);
    for (size_t i = 0; i < ROWS; i++) {
        const int ms = (int)i * STEP_MS;
        log.at[i] = log.size;
        log.size += (size_t)snprintf(
            text + log.size, room - log.size, shape->row, ms / 1000, ms % 1000,
            p_of(i) / 100, p_of(i) % 100, q_of(i) / 100, q_of(i) % 100);
    }
    log.at[ROWS] = log.size;
    return log;
}

/* Which rows the bytes belong to, and the row behind a lost end of line. */
static void mark(struct log *log, size_t from, size_t size)
{
    for (size_t i = 0; i < ROWS; i++) {
        const size_t begins = i == 0 ? 0 : log->at[i] - 1;
        if (begins < from + size && log->at[i + 1] > from) {
            log->hit++;
            log->first_hit = i < log->first_hit ? i : log->first_hit;
        }
    }
}

/* Which row of the log came out as it was? ROWS: none. */
static size_t original(const struct table *t, size_t row)
{
    const int64_t step_ns = INT64_C(1000000) * STEP_MS;
    if (t->time_ns[row] < 0 || t->time_ns[row] % step_ns != 0 ||
        t->time_ns[row] / step_ns >= ROWS) {
        return ROWS;
    }
    const size_t i = (size_t)(t->time_ns[row] / step_ns);
    const bool same = fabs(t->value[0][row] - p_of(i) / 100.0) < 1e-9 &&
                      fabs(t->value[1][row] - q_of(i) / 100.0) < 1e-9;
    return same ? i : ROWS;
}

static void judge(const struct shape *shape, const struct damage *d,
                  const struct log *log, size_t number)
{
    char what[200];
    static bool seen[ROWS];
    snprintf(what, sizeof(what), "%s, damage %zu: %s, %zu bytes from %zu",
             shape->name, number, damage_kind(d->kind), d->size, d->from);
    struct table t = table_memory(log->data, log->size, NULL);
    if (t.status != BL_OK) {
        fail_msg("%s: %s", what, t.error.message);
    }
    memset(seen, 0, sizeof(seen));
    size_t other = 0;
    for (size_t row = 0; row < t.rows; row++) {
        const size_t i = original(&t, row);
        /* An older block of the disk holds whole rows again. */
        other += i == ROWS || (seen[i] && d->kind != STALE);
        if (i < ROWS) {
            seen[i] = true;
        }
    }
    size_t lost = 0;
    for (size_t i = 0; i < ROWS; i++) {
        const bool touched =
            i >= log->first_hit && i < log->first_hit + log->hit;
        if (!seen[i] && !touched) {
            fail_msg("%s: row %zu is whole and missing (%zu hit from %zu)",
                     what, i, log->hit, log->first_hit);
        }
        lost += !seen[i];
    }
    if (other > log->hit + 1) {
        fail_msg("%s: %zu rows out of nothing, %zu hit", what, other, log->hit);
    }
    /* A row less without a row instead: some note, or a place of damage. Where
       bytes are gone, whole lines may be gone with them. */
    if (lost > other && t.info->damages == 0 && !t.info->after_damage &&
        t.info->notes.count == 0 && d->kind != LOST && d->kind != CUT) {
        fail_msg("%s: %zu rows are lost and nothing is told", what, lost);
    }
    table_finish(&t);
}

static void logs_damaged(void **state)
{
    (void)state;
    struct bl_random dice;
    for (size_t k = 0; k < COUNT_OF(shapes); k++) {
        seed_dice(&dice, 21 + k);
        const struct log good = make(&shapes[k]);
        for (size_t i = 0; i < how_many_damages(); i++) {
            struct log log = good;
            log.data = malloc(good.size);
            assert_non_null(log.data);
            memcpy(log.data, good.data, good.size);
            const struct damage d =
                throw_dice(&dice, good.at[DECIDING], good.size);
            mark(&log, d.from, damage_reach(&d));
            do_damage(&log.data, &log.size, &d, &dice);
            judge(&shapes[k], &d, &log, i);
            free(log.data);
        }
        free(good.data);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(logs_damaged)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
