/* SPDX-License-Identifier: MIT */
/*
 * Which line holds the names, the units, scale factors and the first data.
 * Read from the data upwards: the rows directly above it that have as many
 * cells belong to it, whatever free text stands before them.
 */
#include "log/dialect.h"

#include "brakelag/units.h"

#include <string.h>
#include <strings.h>

enum { TEXT_MAX = 512 };

void bl_log_header_text(const struct log_head *head,
                        const struct log_dialect *dialect, int64_t row,
                        size_t column, char *out, size_t size)
{
    struct log_cell cell;
    out[0] = '\0';
    const char delimiter = row == dialect->names_row ? dialect->names_delimiter
                                                     : dialect->delimiter;
    if (row < 1 || (size_t)row > head->count ||
        !bl_log_head_cell(head, (size_t)row - 1, delimiter, column, &cell)) {
        return;
    }
    const char *text = cell.text;
    size_t length = cell.length;
    if (column == 0 && length > 1 && (text[0] == '#' || text[0] == '%')) {
        text++; /* a comment sign in front of the names */
        length--;
    }
    while (length > 0 && text[0] == ' ') {
        text++;
        length--;
    }
    bl_log_clean(text, length, out, size);
    char *to = out;
    for (const char *from = out; *from != '\0'; from++) {
        *to++ = *from;
        from += cell.quoted && from[0] == '"' && from[1] == '"';
    }
    while (to > out && to[-1] == ' ') {
        to--;
    }
    *to = '\0';
}

bool bl_log_unit_in_name(const char *name, size_t *from, size_t *length)
{
    const size_t end = strlen(name);
    if (end < 3 || (name[end - 1] != ']' && name[end - 1] != ')')) {
        return false;
    }
    const char opening = name[end - 1] == ']' ? '[' : '(';
    const char *open = strrchr(name, opening);
    if (open == NULL || open + 2 == name + end) {
        return false;
    }
    *from = (size_t)(open - name) + 1;
    *length = end - 1 - *from;
    return true;
}

void bl_log_column_unit(const struct log_head *head,
                        const struct log_dialect *dialect, size_t column,
                        char *out, size_t size)
{
    char text[TEXT_MAX];
    size_t from;
    size_t length;
    if (dialect->units_row > 0) {
        bl_log_header_text(head, dialect, dialect->units_row, column, text,
                           sizeof(text));
        length = strlen(text);
        /* The whole cell in brackets: "[bar]". */
        from = bl_log_unit_in_name(text, &from, &length) && from == 1 ? 1 : 0;
        length = from == 1 ? length : strlen(text);
        bl_log_clean(text + from, length, out, size);
        if (out[0] != '\0') {
            return;
        }
    }
    bl_log_header_text(head, dialect, dialect->names_row, column, text,
                       sizeof(text));
    out[0] = '\0';
    if (bl_log_unit_in_name(text, &from, &length)) {
        bl_log_clean(text + from, length, out, size);
    }
}

static bool is_unit(const char *text, size_t length)
{
    static const char *const other[] = {"s",
                                        "sec",
                                        "ms",
                                        "us",
                                        "\xC2\xB5s",
                                        "ns",
                                        "min",
                                        "h",
                                        "d",
                                        "day",
                                        "hz",
                                        "%",
                                        "degc",
                                        "\xC2\xB0"
                                        "C",
                                        "c",
                                        "1",
                                        "-",
                                        "rpm",
                                        "1/min",
                                        "l/min",
                                        "bool",
                                        "raw",
                                        "bara",
                                        "barg",
                                        "kpa g",
                                        "hh:mm:ss",
                                        "counts",
                                        NULL};
    char name[32];
    if (length == 0 || length >= sizeof(name)) {
        return false;
    }
    memcpy(name, text, length);
    name[length] = '\0';
    const char last = name[length - 1];
    if ((name[0] == '[' && last == ']') || (name[0] == '(' && last == ')')) {
        return true;
    }
    for (size_t i = 0; other[i] != NULL; i++) {
        if (strcasecmp(name, other[i]) == 0) {
            return true;
        }
    }
    return bl_measurement_unit_find(name) != NULL;
}

/* Shares of a header row's filled cells. */
struct row_look {
    size_t cells, filled, units, numbers, factors;
};

static struct row_look look_at(const struct log_head *head, size_t index,
                               char delimiter)
{
    struct row_look look = {0};
    const struct log_line line = bl_log_head_line(head, index);
    struct log_cursor cursor;
    struct log_cell cell;
    bl_log_cursor_start(&cursor, line.text, line.length, delimiter);
    size_t count = 0;
    while (bl_log_cell_next(&cursor, &cell)) {
        count++;
        if (cell.length == 0) {
            continue;
        }
        look.cells = count; /* without closing empty ones */
        look.filled++;
        look.units += is_unit(cell.text, cell.length);
        look.numbers += bl_log_looks_number(cell.text, cell.length);
        size_t digits = 0;
        for (size_t i = 0; i < cell.length; i++) {
            digits += cell.text[i] >= '0' && cell.text[i] <= '9';
        }
        look.factors +=
            digits * 2 > cell.length ||
            (cell.length >= 5 && (strncasecmp(cell.text, "scale", 5) == 0 ||
                                  strncasecmp(cell.text, "offse", 5) == 0));
    }
    return look;
}

static bool fits(const struct row_look *look, size_t columns)
{
    return look->cells + 1 >= columns && look->cells <= columns + 1 &&
           look->filled * 2 >= columns && look->filled > 0;
}

static bool starts_data(const struct log_head *head, size_t index,
                        char delimiter, size_t columns)
{
    const struct log_line line = bl_log_head_line(head, index);
    size_t cells;
    return bl_log_row_quality(&line, delimiter, &cells) > 0.5 &&
           cells == columns;
}

/* Two data rows one behind the other, or the last line there is. */
static bool find_data(const struct log_head *head, struct log_dialect *dialect,
                      size_t columns)
{
    for (size_t i = 0; i < head->count; i++) {
        if (!starts_data(head, i, dialect->delimiter, columns)) {
            continue;
        }
        size_t next = i + 1;
        while (next < head->count && bl_log_head_blank(head, next)) {
            next++;
        }
        const struct log_line line = next < head->count
                                         ? bl_log_head_line(head, next)
                                         : bl_log_head_line(head, i);
        size_t cells;
        if (next == head->count ||
            bl_log_row_quality(&line, dialect->delimiter, &cells) > 0.5 ||
            (next + 1 < head->count &&
             starts_data(head, next + 1, dialect->delimiter, columns) &&
             i > 0)) {
            dialect->first_index = i;
            return true;
        }
    }
    return false;
}

/* Time cell of a line as a number; never NaN; false when it is not a number. */
static bool first_number(const struct log_head *head, size_t index,
                         char delimiter, double *value)
{
    struct log_cell cell;
    return bl_log_head_cell(head, index, delimiter, 0, &cell) &&
           cell.length > 0 && bl_log_value(&cell, '.', value) <= LOG_GROUPED;
}

/*
 * A row of scale factors below the units is all numbers too. What gives it
 * away is its first cell: empty, or out of step with the times that follow,
 * namely above them, or the factor 1 long before them. A first row that is
 * only early (recorders pause behind it) is data.
 */
static bool first_is_factors(const struct log_head *head,
                             const struct log_dialect *dialect)
{
    const size_t i = dialect->first_index;
    const char delimiter = dialect->delimiter;
    double t[4];
    if (i == 0 || i + 4 > head->count) {
        return false;
    }
    const struct row_look look = look_at(head, i - 1, delimiter);
    struct log_cell cell;
    if (look.units * 2 <= look.filled ||
        !bl_log_head_cell(head, i, delimiter, 0, &cell)) {
        return false;
    }
    for (size_t k = 1; k < 4; k++) {
        if (!first_number(head, i + k, delimiter, &t[k])) {
            return false;
        }
    }
    if (cell.length == 0) {
        return true;
    }
    const double step = t[3] - t[2];
    return first_number(head, i, delimiter, &t[0]) && step > 0 &&
           t[2] - t[1] > 0 && t[2] - t[1] < 3 * step &&
           (t[1] < t[0] || (t[0] == 1 && t[1] - t[0] > 20 * step));
}

/* Numbers of another width just above the data: a damaged row of it. A row of
   scale factors has as many cells, one more or less at most, and does not begin
   with a time just before the others (within 20 of their steps, as above). */
static bool is_damaged_row(const struct log_head *head,
                           const struct log_dialect *dialect, size_t index)
{
    const char delimiter = dialect->delimiter;
    const struct log_line line = bl_log_head_line(head, index);
    size_t cells;
    double t[3];
    if (bl_log_row_quality(&line, delimiter, &cells) <= 0.5 ||
        cells == dialect->columns) {
        return false;
    }
    const size_t first = dialect->first_index;
    if (cells + 1 < dialect->columns || cells > dialect->columns + 1 ||
        !first_number(head, index, delimiter, &t[0]) ||
        first + 2 > head->count ||
        !first_number(head, first, delimiter, &t[1]) ||
        !first_number(head, first + 1, delimiter, &t[2])) {
        return true;
    }
    return t[0] < t[1] && t[1] - t[0] < 20 * (t[2] - t[1]);
}

/* A header is text: what is not text, though its cells are too few or too
   many, is read as data, where it is left out and counted. */
static void take_damaged_rows(const struct log_head *head,
                              struct log_dialect *dialect)
{
    for (size_t i = dialect->first_index; i > 0; i--) {
        if (bl_log_head_blank(head, i - 1)) {
            continue;
        }
        if (!is_damaged_row(head, dialect, i - 1)) {
            break;
        }
        dialect->first_read = i - 1;
    }
}

/* A names row of a fixed-space table may hold single blanks in its names. */
static bool name_row_fits(const struct log_head *head,
                          struct log_dialect *dialect, size_t index,
                          size_t columns)
{
    struct row_look look = look_at(head, index, dialect->delimiter);
    dialect->names_delimiter = dialect->delimiter;
    if (dialect->delimiter == ' ' && look.cells != columns) {
        const struct row_look wide = look_at(head, index, LOG_WIDE_BLANKS);
        if (wide.cells == columns) {
            dialect->names_delimiter = LOG_WIDE_BLANKS;
            return true;
        }
        return false;
    }
    return fits(&look, columns) && look.numbers * 2 < look.filled + 1;
}

static int64_t above(const struct log_head *head, int64_t row)
{
    while (row > 0 && bl_log_head_blank(head, (size_t)row - 1)) {
        row--;
    }
    return row > 0 ? row : -1;
}

static void find_header(const struct log_head *head,
                        struct log_dialect *dialect, size_t columns)
{
    int64_t row = above(head, (int64_t)dialect->first_read);
    if (row > 1 && dialect->factor_row < 0) {
        const struct row_look look =
            look_at(head, (size_t)row - 1, dialect->delimiter);
        struct log_dialect copy = *dialect;
        const int64_t next = above(head, row - 1);
        if (fits(&look, columns) && look.factors * 2 > look.filled &&
            look.units * 2 < look.filled && next > 0 &&
            name_row_fits(head, &copy, (size_t)next - 1, columns)) {
            dialect->factor_row = row;
            row = next;
        }
    }
    if (row < 1) {
        return;
    }
    const struct row_look look =
        look_at(head, (size_t)row - 1, dialect->delimiter);
    const int64_t next = above(head, row - 1);
    if (look.units * 2 > look.filled && look.filled > 0 &&
        look.cells <= columns + 1 && next > 0 &&
        name_row_fits(head, dialect, (size_t)next - 1, columns)) {
        dialect->units_row = row;
        dialect->names_row = next;
    } else if (name_row_fits(head, dialect, (size_t)row - 1, columns)) {
        dialect->names_row = row;
    }
}

/* A delimiter behind the last cell of every row makes no column. */
static bool last_is_empty(const struct log_head *head,
                          const struct log_dialect *dialect, size_t columns)
{
    if (columns < 2) {
        return false;
    }
    for (size_t i = dialect->first_index; i < head->count; i++) {
        struct log_cell cell;
        if (bl_log_head_cell(head, i, dialect->delimiter, columns - 1, &cell) &&
            cell.length > 0) {
            return false;
        }
    }
    char name[TEXT_MAX];
    bl_log_header_text(head, dialect, dialect->names_row, columns - 1, name,
                       sizeof(name));
    return name[0] == '\0';
}

static void apply_options(const struct bl_log_options *options,
                          struct log_dialect *dialect)
{
    if (options->names_row != 0) {
        dialect->names_row = options->names_row;
    } else if (options->header_row > 0) {
        dialect->names_row = options->header_row + 1;
    }
    if (options->units_row != 0) {
        dialect->units_row = options->units_row;
    }
}

/* Names may reach further than the data, whose closing cells are empty. */
static size_t count_columns(const struct log_head *head,
                            const struct log_dialect *dialect)
{
    size_t columns = dialect->columns;
    if (last_is_empty(head, dialect, columns)) {
        columns--;
    }
    if (dialect->names_row > 0 && (size_t)dialect->names_row <= head->count) {
        const struct row_look look = look_at(
            head, (size_t)dialect->names_row - 1, dialect->names_delimiter);
        columns = look.cells > columns ? look.cells : columns;
    }
    return columns;
}

bool bl_log_decide_rows(const struct log_head *head,
                        const struct bl_log_options *options,
                        struct log_dialect *dialect)
{
    dialect->names_row = dialect->units_row = dialect->factor_row = -1;
    dialect->names_delimiter = dialect->delimiter;
    const size_t stated = (size_t)options->first_row;
    if (options->first_row > 0 && stated > head->count) {
        return false;
    }
    if (!find_data(head, dialect, dialect->columns)) {
        if (options->first_row <= 0) {
            return false;
        }
        dialect->first_index = stated - 1;
    }
    const bool factors = first_is_factors(head, dialect);
    dialect->first_read = dialect->first_index;
    if (factors) {
        dialect->factor_row = (int64_t)dialect->first_index + 1;
    } else {
        take_damaged_rows(head, dialect);
    }
    find_header(head, dialect, dialect->columns);
    dialect->first_index += factors;
    dialect->first_read += factors;
    if (options->first_row > 0) {
        dialect->first_index = dialect->first_read = stated - 1;
    }
    apply_options(options, dialect);
    dialect->columns = count_columns(head, dialect);
    dialect->first_row = (int64_t)dialect->first_read + 1;
    return true;
}
