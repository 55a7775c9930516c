/* SPDX-License-Identifier: MIT */
/* The form that all rows of a log share, decided by most of them. */
#include "log/form.h"

#include "base/number.h"

#include <string.h>

enum { ROWS_LOOKED_AT = 250, CELLS_LOOKED_AT = 200, ROWS_NEEDED = 20 };
enum { PLACES_MOST = 15, SIGNS = 4 };
static const char signs[SIGNS + 1] = ".,' ";

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

struct kind {
    size_t cells, rows;
};

/* Rows by their number of cells. */
static size_t count_kinds(const struct log_head *head,
                          const struct log_dialect *d, struct kind *kind,
                          size_t most, size_t *rows)
{
    size_t kinds = 0;
    *rows = 0;
    for (size_t i = d->first_index; i < head->count && *rows < ROWS_LOOKED_AT;
         i++) {
        if (bl_log_head_blank(head, i) || !head->line[i].ended) {
            continue;
        }
        const size_t cells = bl_log_head_cells(head, i, d->delimiter);
        size_t k = 0;
        while (k < kinds && kind[k].cells != cells) {
            k++;
        }
        if (k == kinds && kinds < most) {
            kind[kinds++] = (struct kind){cells, 0};
        }
        if (k < kinds) {
            kind[k].rows++;
        }
        (*rows)++;
    }
    return kinds;
}

size_t bl_log_least_cells(const struct log_head *head,
                          const struct log_dialect *dialect)
{
    struct kind kind[32];
    size_t rows;
    const size_t kinds =
        count_kinds(head, dialect, kind, sizeof(kind) / sizeof(*kind), &rows);
    size_t most = 0;
    size_t least = dialect->columns;
    for (size_t k = 0; k < kinds; k++) {
        if (kind[k].rows > most) {
            most = kind[k].rows;
            least = kind[k].cells;
        }
    }
    for (size_t k = 0; k < kinds; k++) {
        /* One row in ten is a habit. */
        if (kind[k].cells < least && kind[k].rows >= 3 &&
            kind[k].rows * 10 >= rows) {
            least = kind[k].cells;
        }
    }
    return least < dialect->columns ? least : dialect->columns;
}

/* The first sign behind digits that is no decimal point of a plain number: an
   index into `signs`, no-break blanks as blanks; SIGNS: none. */
static size_t first_sign(const struct log_cell *cell)
{
    size_t i = 0;
    while (i < cell->length && (is_digit(cell->text[i]) ||
                                (i == 0 && strchr("+-", cell->text[i])))) {
        i++;
    }
    if (i == cell->length) {
        return SIGNS;
    }
    const char c = cell->text[i];
    const char *sign = c == '\0' ? NULL : strchr(signs, (unsigned char)c);
    if (sign != NULL) {
        return (size_t)(sign - signs);
    }
    return c == '\xC2' || c == '\xE2' ? SIGNS - 1 : (size_t)SIGNS;
}

/* Digits at the start of a number, behind its sign. */
static size_t leading_digits(const struct log_cell *cell)
{
    const size_t sign = cell->length > 0 && strchr("+-", cell->text[0]) != NULL;
    size_t i = sign;
    while (i < cell->length && is_digit(cell->text[i])) {
        i++;
    }
    return i - sign;
}

struct tally {
    unsigned group[SIGNS], plain;
};

static void tally_cell(struct tally *t, const struct log_cell *cell,
                       char decimal)
{
    double value;
    const enum log_kind kind = bl_log_value(cell, decimal, &value);
    if (kind == LOG_NUMBER) {
        t->plain += leading_digits(cell) > 3;
    } else if (kind == LOG_GROUPED) {
        const size_t sign = first_sign(cell);
        if (sign < SIGNS) {
            t->group[sign]++;
        }
    }
}

void bl_log_decide_groups(const struct log_head *head,
                          struct log_dialect *dialect)
{
    struct tally tally[CELLS_LOOKED_AT] = {{{0}, 0}};
    for (size_t i = dialect->first_index; i < head->count; i++) {
        const struct log_line line = bl_log_head_line(head, i);
        struct log_cursor cursor;
        struct log_cell cell;
        bl_log_cursor_start(&cursor, line.text, line.length,
                            dialect->delimiter);
        for (size_t c = 0;
             c < CELLS_LOOKED_AT && bl_log_cell_next(&cursor, &cell); c++) {
            tally_cell(&tally[c], &cell, dialect->decimal);
        }
    }
    unsigned most = 0;
    dialect->group = '\0';
    dialect->ungrouped = false;
    for (size_t s = 0; s < SIGNS; s++) {
        unsigned sum = 0;
        for (size_t c = 0; c < CELLS_LOOKED_AT; c++) {
            const unsigned n = tally[c].group[s];
            sum += n >= 2 && n > tally[c].plain ? n : 0;
        }
        if (sum > most) {
            most = sum;
            dialect->group = signs[s];
        }
    }
    for (size_t c = 0; c < CELLS_LOOKED_AT; c++) {
        dialect->ungrouped =
            dialect->ungrouped ||
            ((int64_t)c != dialect->time_column && tally[c].plain > 0);
    }
}

bool bl_log_group_fits(const struct log_dialect *dialect,
                       const struct log_cell *cell, unsigned places)
{
    const size_t sign = first_sign(cell);
    if (sign == SIGNS ||
        (places > 0 &&
         (cell->length <= places ||
          cell->text[cell->length - places - 1] != dialect->decimal))) {
        return false;
    }
    if (dialect->group != '\0') {
        return signs[sign] == dialect->group;
    }
    /* Not yet seen in this file: only what reads in no other way. */
    return !dialect->ungrouped && signs[sign] != dialect->decimal &&
           (sign >= 2 ||
            memchr(cell->text, dialect->decimal, cell->length) != NULL);
}

/* Digits behind the decimal sign of a number without exponent; -1: another
   cell. */
static int places_of(const struct log_cell *cell, char decimal)
{
    const size_t sign = cell->length > 0 && strchr("+-", cell->text[0]) != NULL;
    int places = -1;
    size_t digits = 0;
    for (size_t i = sign; i < cell->length; i++) {
        if (is_digit(cell->text[i])) {
            digits++;
            places += places >= 0;
        } else if (cell->text[i] == decimal && places < 0) {
            places = 0;
        } else {
            return -1;
        }
    }
    return digits == 0 ? -1 : places < 0 ? 0 : places;
}

unsigned bl_log_column_places(const struct log_head *head,
                              const struct log_dialect *dialect, size_t column)
{
    size_t place_of[PLACES_MOST + 1] = {0};
    size_t zeros[PLACES_MOST + 1] = {0};
    size_t numbers = 0;
    if (dialect->group == dialect->decimal) {
        return 0;
    }
    for (size_t i = dialect->first_index;
         i < head->count && numbers < ROWS_LOOKED_AT; i++) {
        struct log_cell cell;
        if (bl_log_head_blank(head, i) ||
            !bl_log_head_cell(head, i, dialect->delimiter, column, &cell)) {
            continue;
        }
        const int places = places_of(&cell, dialect->decimal);
        if (places < 0 || places > PLACES_MOST) {
            continue;
        }
        numbers++;
        place_of[places]++;
        zeros[places] += cell.text[cell.length - 1] == '0';
    }
    for (unsigned p = 1; p <= PLACES_MOST; p++) {
        /* A closing zero is written by a fixed form only. */
        if (numbers >= ROWS_NEEDED && place_of[p] * 100 >= numbers * 95 &&
            zeros[p] >= 2) {
            return p;
        }
    }
    return 0;
}

bool bl_log_cut_short(const struct log_cell *cell, char decimal,
                      unsigned places)
{
    const int has = places_of(cell, decimal);
    return has >= 0 && has < (int)places &&
           !(cell->length == 1 && cell->text[0] == '0');
}
