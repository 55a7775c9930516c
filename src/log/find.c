/* SPDX-License-Identifier: MIT */
/* Columns by header text or by number. */
#include "log/dialect.h"

#include "base/number.h"

#include <string.h>
#include <strings.h>

enum { NAME_MAX_BYTES = 512 };

/* Length of a name without " [bar]" or " (bar)". */
static size_t bare_length(const char *name)
{
    size_t from;
    size_t length;
    if (!bl_log_unit_in_name(name, &from, &length)) {
        return strlen(name);
    }
    size_t end = from - 1;
    while (end > 0 && name[end - 1] == ' ') {
        end--;
    }
    return end;
}

int bl_log_name_fit(const char *name, const char *wanted)
{
    if (strcmp(name, wanted) == 0) {
        return 3;
    }
    if (strcasecmp(name, wanted) == 0) {
        return 2;
    }
    const size_t length = bare_length(name);
    return length > 0 && length == bare_length(wanted) &&
                   strncasecmp(name, wanted, length) == 0
               ? 1
               : 0;
}

/* "#3" to 2; -1: not of this form. */
static int64_t by_number(const char *wanted)
{
    uint64_t number;
    if (wanted[0] != '#' ||
        !bl_unsigned_parse(wanted + 1, strlen(wanted + 1), &number) ||
        number == 0 || number > INT32_MAX) {
        return -1;
    }
    return (int64_t)number - 1;
}

/* The best fit so far; `several` says that a second one is as good. */
struct best {
    int fit;
    int64_t at;
    bool several;
};

static void consider(struct best *best, int fit, int64_t at)
{
    if (fit > best->fit) {
        best->fit = fit;
        best->at = at;
        best->several = false;
    } else if (fit > 0 && fit == best->fit) {
        best->several = true;
    }
}

int64_t bl_log_head_column(const struct log_head *head,
                           const struct log_dialect *dialect,
                           const char *wanted)
{
    struct best best = {0, -1, false};
    for (size_t c = 0; c < dialect->columns; c++) {
        char name[NAME_MAX_BYTES];
        bl_log_header_text(head, dialect, dialect->names_row, c, name,
                           sizeof(name));
        consider(&best, bl_log_name_fit(name, wanted), (int64_t)c);
    }
    if (best.fit == 0) {
        const int64_t number = by_number(wanted);
        return number < (int64_t)dialect->columns ? number : -1;
    }
    return best.several ? -2 : best.at;
}

long bl_log_find(const struct bl_log_info *info, const char *column)
{
    struct best best = {0, -1, false};
    for (size_t c = 0; c < info->columns; c++) {
        consider(&best, bl_log_name_fit(info->column[c].name, column),
                 (int64_t)c);
    }
    if (best.fit > 0) {
        return best.several ? -2 : (long)best.at;
    }
    const int64_t number = by_number(column);
    for (size_t c = 0; number >= 0 && c < info->columns; c++) {
        if (info->column[c].index == (size_t)number) {
            return (long)c;
        }
    }
    return -1;
}
