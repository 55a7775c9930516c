/* SPDX-License-Identifier: MIT */
/* Cells of a line and what they say. */
#include "log/cell.h"

#include "base/number.h"

#include <math.h>
#include <string.h>
#include <strings.h>

enum { NUMBER_MOST = 64 }; /* characters of a number */

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool by_blanks(char delimiter)
{
    return delimiter == ' ' || delimiter == LOG_WIDE_BLANKS;
}

bool bl_log_blank_line(const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (!is_blank(text[i])) {
            return false;
        }
    }
    return true;
}

void bl_log_cursor_start(struct log_cursor *cursor, const char *text,
                         size_t length, char delimiter)
{
    cursor->at = text;
    cursor->end = text + length;
    cursor->delimiter = delimiter;
    cursor->more = true;
    if (by_blanks(delimiter)) {
        while (cursor->end > cursor->at && is_blank(cursor->end[-1])) {
            cursor->end--;
        }
        while (cursor->at < cursor->end && is_blank(*cursor->at)) {
            cursor->at++;
        }
        cursor->more = cursor->at < cursor->end;
    }
}

/* Behind the cell that ends at `stop`. */
static void advance(struct log_cursor *cursor, const char *stop)
{
    if (stop >= cursor->end) {
        cursor->at = cursor->end;
        cursor->more = false;
        return;
    }
    cursor->at = stop + 1;
    if (by_blanks(cursor->delimiter)) {
        while (cursor->at < cursor->end && is_blank(*cursor->at)) {
            cursor->at++;
        }
    }
}

static const char *cell_end(const struct log_cursor *cursor, const char *from)
{
    const char *end = cursor->end;
    if (!by_blanks(cursor->delimiter)) {
        /* Cells are short: a plain loop beats a call. */
        const char delimiter = cursor->delimiter;
        while (from < end && *from != delimiter) {
            from++;
        }
        return from;
    }
    for (; from < end; from++) {
        if (*from == '\t' ||
            (*from == ' ' && (cursor->delimiter == ' ' || is_blank(from[1])))) {
            return from; /* from[1] is inside: the line ends without blanks */
        }
    }
    return end;
}

static void quoted_cell(struct log_cursor *cursor, struct log_cell *cell)
{
    const char *at = cursor->at + 1;
    cell->text = at;
    cell->quoted = true;
    while (at < cursor->end) {
        if (*at == '"' && at + 1 < cursor->end && at[1] == '"') {
            at += 2;
            continue;
        }
        if (*at == '"') {
            break;
        }
        at++;
    }
    cell->unbalanced = at >= cursor->end;
    cell->length = (size_t)(at - cell->text);
    const char *stop = cell->unbalanced ? at : cell_end(cursor, at + 1);
    for (at++; at < stop; at++) {
        cell->trailing = cell->trailing || !is_blank(*at);
    }
    advance(cursor, stop);
}

bool bl_log_cell_next(struct log_cursor *cursor, struct log_cell *cell)
{
    if (!cursor->more) {
        return false;
    }
    cell->quoted = false;
    cell->unbalanced = false;
    cell->trailing = false;
    const char *at = cursor->at;
    while (at < cursor->end && is_blank(*at) && *at != cursor->delimiter) {
        at++;
    }
    cursor->at = at;
    if (at < cursor->end && *at == '"') {
        quoted_cell(cursor, cell);
        return true;
    }
    const char *stop = cell_end(cursor, at);
    cell->text = at;
    cell->length = (size_t)(stop - at);
    while (cell->length > 0 && is_blank(at[cell->length - 1])) {
        cell->length--;
    }
    advance(cursor, stop);
    return true;
}

size_t bl_log_cell_count(const char *text, size_t length, char delimiter)
{
    struct log_cursor cursor;
    struct log_cell cell;
    size_t count = 0;
    bl_log_cursor_start(&cursor, text, length, delimiter);
    while (bl_log_cell_next(&cursor, &cell)) {
        count++;
    }
    return count;
}

/* Length of a thousands separator at `at`: . , ' blank, or a no-break space in
   UTF-8 (U+00A0, U+202F). */
static size_t separator(const char *text, size_t length, size_t at)
{
    if (strchr(".,' ", text[at]) != NULL && text[at] != '\0') {
        return 1;
    }
    if (length - at >= 2 && memcmp(text + at, "\xC2\xA0", 2) == 0) {
        return 2;
    }
    return length - at >= 3 && memcmp(text + at, "\xE2\x80\xAF", 3) == 0 ? 3
                                                                         : 0;
}

static bool three_digits(const char *text, size_t length, size_t at)
{
    return at + 3 <= length && is_digit(text[at]) && is_digit(text[at + 1]) &&
           is_digit(text[at + 2]) &&
           (at + 3 == length || !is_digit(text[at + 3]));
}

bool bl_log_ungroup(const char *text, size_t length, char decimal, char *out,
                    size_t *out_length)
{
    if (length >= 64) {
        return false;
    }
    /* Some writers use one sign for both: then the last one is decimal. */
    size_t last = length;
    for (size_t i = 0; i < length; i++) {
        last = text[i] == decimal ? i : last;
    }
    size_t at = 0;
    size_t made = 0;
    bool grouped = false;
    size_t digits = 0;
    while (at < length) {
        const size_t step = at == last || (at > last && last < length)
                                ? 0
                                : separator(text, length, at);
        if (step == 0) {
            digits += is_digit(text[at]);
            out[made++] = text[at++];
            continue;
        }
        /* "0.123.456" and "1234.567.890" are not groups of thousands. */
        const bool first = !grouped && (digits > 3 || text[at - digits] == '0');
        if (digits == 0 || first || !three_digits(text, length, at + step)) {
            return false;
        }
        grouped = true;
        at += step;
    }
    *out_length = made;
    return grouped;
}

bool bl_log_looks_number(const char *text, size_t length)
{
    double value;
    size_t used;
    if (length == 0 || length >= NUMBER_MOST) {
        return false;
    }
    for (int i = 0; i < 2; i++) {
        const char decimal = ".,"[i];
        char plain[NUMBER_MOST];
        size_t made;
        if (bl_number_scan(text, length, decimal, &value, &used) &&
            used == length) {
            return true;
        }
        if (bl_log_ungroup(text, length, decimal, plain, &made) &&
            bl_number_scan(plain, made, decimal, &value, &used) &&
            used == made) {
            return true;
        }
    }
    return false;
}

static bool one_of(const struct log_cell *cell, const char *const *word)
{
    for (; *word != NULL; word++) {
        if (strlen(*word) == cell->length &&
            strncasecmp(*word, cell->text, cell->length) == 0) {
            return true;
        }
    }
    return false;
}

static enum log_kind word_value(const struct log_cell *cell, double *value)
{
    static const char *const on[] = {"on", "open", "true", "high", NULL};
    static const char *const off[] = {"off", "closed", "false", "low", NULL};
    static const char *const missing[] = {
        "nan",  "-",    "--",   "---",  "----",    "n/a", "na",
        "#n/a", "null", "none", "-nan", "1.#qnan", "?",   NULL};
    static const char *const overflow[] = {
        "overflow",  "ovfl",      "ovl",       "ol",      "over",
        "+over",     "-over",     "+ol",       "-ol",     "inf",
        "+inf",      "-inf",      "1.#inf",    "-1.#inf", "overrange",
        "+overflow", "-overflow", "underflow", NULL};
    *value = NAN;
    if (one_of(cell, on)) {
        *value = 1;
        return LOG_SWITCH;
    }
    if (one_of(cell, off)) {
        *value = 0;
        return LOG_SWITCH;
    }
    return one_of(cell, missing)    ? LOG_MISSING
           : one_of(cell, overflow) ? LOG_OVERFLOW
                                    : LOG_TEXT;
}

enum log_kind bl_log_value(const struct log_cell *cell, char decimal,
                           double *value)
{
    size_t used;
    if (cell->length == 0) {
        *value = NAN;
        return LOG_MISSING;
    }
    /* No logger writes a number so long: rows that have run together. */
    if (cell->length >= NUMBER_MOST) {
        *value = NAN;
        return LOG_TEXT;
    }
    bool number =
        bl_number_scan(cell->text, cell->length, decimal, value, &used) &&
        used == cell->length;
    const bool grouped = !number;
    if (!number) {
        char plain[NUMBER_MOST];
        size_t made;
        number =
            bl_log_ungroup(cell->text, cell->length, decimal, plain, &made) &&
            bl_number_scan(plain, made, decimal, value, &used) && used == made;
    }
    if (!number) {
        return word_value(cell, value);
    }
    if (isinf(*value)) {
        *value = NAN;
        return LOG_OVERFLOW;
    }
    return grouped ? LOG_GROUPED : LOG_NUMBER;
}
