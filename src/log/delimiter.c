/* SPDX-License-Identifier: MIT */
/*
 * Which sign stands between cells and which one is decimal. Every candidate
 * cuts the first lines; the one under which most cells of equally long rows
 * are numbers, times or known words wins.
 */
#include "log/dialect.h"

#include <string.h>

/* Cells of a line that are looked at: a wide row tells nothing more. */
enum { CELLS_LOOKED_AT = 200, LINES_LOOKED_AT = 300 };

bool bl_log_cell_is_time(const struct log_cell *cell)
{
    int64_t ns;
    int64_t step;
    bool zoned;
    const char *text = cell->text;
    const size_t length = cell->length;
    if (length < 5 || length > 64) {
        return false;
    }
    return bl_log_time_clock(text, length, &ns, &step) ||
           bl_log_time_iso(text, length, false, &ns, &step, &zoned) ||
           bl_log_time_iso(text, length, true, &ns, &step, &zoned) ||
           bl_log_time_date(text, length, false, &ns) ||
           bl_log_time_date(text, length, true, &ns);
}

static bool plausible(const struct log_cell *cell, char delimiter)
{
    if (bl_log_cell_is_time(cell)) {
        return true;
    }
    /* Groups of thousands by blanks do not go with a comma in between. */
    if (delimiter == ',' && memchr(cell->text, ' ', cell->length) != NULL) {
        return false;
    }
    double value;
    return bl_log_looks_number(cell->text, cell->length) ||
           bl_log_value(cell, '.', &value) != LOG_TEXT;
}

double bl_log_row_quality(const struct log_line *line, char delimiter,
                          size_t *cells)
{
    struct log_cursor cursor;
    struct log_cell cell;
    size_t good = 0;
    size_t filled = 0;
    size_t count = 0;
    bl_log_cursor_start(&cursor, line->text, line->length, delimiter);
    while (bl_log_cell_next(&cursor, &cell)) {
        if (count < CELLS_LOOKED_AT && cell.length > 0) {
            filled++;
            good += plausible(&cell, delimiter);
        }
        count++;
    }
    *cells = count;
    return filled == 0 ? 0 : (double)good / (double)filled;
}

struct candidate {
    char delimiter;
    double score;
    size_t columns;
};

/* The usual count of cells and how good its rows are, altogether. */
static void judge(const struct log_head *head, struct candidate *c)
{
    struct {
        size_t cells;
        double sum;
    } kind[32] = {{0, 0}};
    size_t kinds = 0;
    for (size_t i = 0; i < head->count && i < LINES_LOOKED_AT; i++) {
        const struct log_line line = bl_log_head_line(head, i);
        size_t cells;
        const double quality = bl_log_row_quality(&line, c->delimiter, &cells);
        if (quality <= 0.5) {
            continue;
        }
        size_t k = 0;
        while (k < kinds && kind[k].cells != cells) {
            k++;
        }
        if (k == kinds && kinds < sizeof(kind) / sizeof(kind[0])) {
            kind[kinds++].cells = cells;
        }
        if (k < kinds) {
            kind[k].sum += quality;
        }
    }
    for (size_t k = 0; k < kinds; k++) {
        if (kind[k].sum > c->score) {
            c->score = kind[k].sum;
            c->columns = kind[k].cells;
        }
    }
}

bool bl_log_decide_delimiter(const struct log_head *head, char given,
                             char *delimiter, size_t *columns)
{
    static const char tried[] = {'\t', ';', ',', ' '};
    struct candidate best = {0};
    for (size_t i = 0; i < sizeof(tried); i++) {
        struct candidate c = {tried[i], 0, 0};
        if (given != '\0' && given != tried[i]) {
            continue;
        }
        judge(head, &c);
        /* Blanks also part a date from its clock, so they must be better, not
           as good; between the others more columns are the finer cut. */
        const bool finer = c.score >= best.score * 0.99 &&
                           c.columns > best.columns &&
                           (c.delimiter != ' ' || best.columns <= 1);
        const bool better =
            c.score > best.score * 1.01 && (c.columns > 1 || best.columns <= 1);
        if (c.score > 0 && (finer || better)) {
            best = c;
        }
    }
    *delimiter = best.delimiter;
    *columns = best.columns;
    return best.score > 0;
}

/* What one cell says: sure or likely, for '.' or ','. */
struct votes {
    size_t sure[2], likely[2];
};

static void vote(const struct log_cell *cell, struct votes *votes)
{
    size_t count[2] = {0, 0};
    size_t last[2] = {0, 0};
    size_t first_digits = 0;
    for (size_t i = 0; i < cell->length; i++) {
        const char c = cell->text[i];
        if (c == '.' || c == ',') {
            count[c == ','] += 1;
            last[c == ','] = i;
        } else if (count[0] + count[1] == 0 && c >= '0' && c <= '9') {
            first_digits++;
        }
    }
    if (count[0] + count[1] == 0 ||
        !bl_log_looks_number(cell->text, cell->length)) {
        return;
    }
    if (count[0] > 0 && count[1] > 0) {
        votes->sure[last[1] > last[0]] += 1;
        return;
    }
    const int sign = count[1] > 0;
    if (count[sign] > 1) {
        votes->likely[!sign] += 1; /* "1.234.567": groups of thousands */
        return;
    }
    const size_t at = last[sign];
    size_t after = 0;
    while (at + 1 + after < cell->length && cell->text[at + 1 + after] >= '0' &&
           cell->text[at + 1 + after] <= '9') {
        after++;
    }
    const bool zero = first_digits == 0 || first_digits > 3 ||
                      cell->text[at - first_digits] == '0';
    if (after != 3 || zero) {
        votes->sure[sign] += 1;
    } else {
        votes->likely[sign] += 1;
    }
}

char bl_log_decide_decimal(const struct log_head *head,
                           const struct log_dialect *dialect)
{
    struct votes votes = {{0, 0}, {0, 0}};
    for (size_t i = dialect->first_index; i < head->count; i++) {
        const struct log_line line = bl_log_head_line(head, i);
        struct log_cursor cursor;
        struct log_cell cell;
        bl_log_cursor_start(&cursor, line.text, line.length,
                            dialect->delimiter);
        for (int c = 0; c < CELLS_LOOKED_AT && bl_log_cell_next(&cursor, &cell);
             c++) {
            vote(&cell, &votes);
        }
    }
    if (votes.sure[0] != votes.sure[1]) {
        return votes.sure[1] > votes.sure[0] ? ',' : '.';
    }
    return votes.likely[1] > votes.likely[0] ? ',' : '.';
}
