/* SPDX-License-Identifier: MIT */
#include "report/wrap.h"

#include <ctype.h>
#include <stdbool.h>
#include <string.h>

/* How much deeper a line goes on. */
enum { HANG = 2 };

static bool is_plus_minus(const char *at, size_t left)
{
    static const char sign[] = "\xC2\xB1";
    return left >= 2 && memcmp(at, sign, 2) == 0;
}

/* Does a unit of a number begin here? */
static bool is_unit(const char *at, size_t left)
{
    static const char *const units[] = {"%",   "s",   "ms",    "m",
                                        "kPa", "bar", "psi",   "km/h",
                                        "ppm", "kN",  "kbit/s"};
    for (size_t i = 0; i < sizeof(units) / sizeof(units[0]); i++) {
        const size_t length = strlen(units[i]);
        if (left >= length && memcmp(at, units[i], length) == 0 &&
            (left == length || isalnum((unsigned char)at[length]) == 0)) {
            return true;
        }
    }
    return false;
}

/* May a line end before the blank at text[i]? Not within a value with its
   uncertainty and its unit. */
static bool may_part(const char *text, size_t size, size_t i)
{
    return text[i] == ' ' && i > 0 && text[i - 1] != ' ' &&
           !(i >= 2 && is_plus_minus(text + i - 2, 2)) &&
           !is_plus_minus(text + i + 1, size - i - 1) &&
           !(isdigit((unsigned char)text[i - 1]) != 0 &&
             is_unit(text + i + 1, size - i - 1));
}

size_t bl_wrap_length(const char *text, size_t size, size_t columns)
{
    size_t width = 0;
    size_t fits = 0;
    for (size_t i = 0; i < size; i++) {
        if (may_part(text, size, i)) {
            if (width > columns && fits > 0) {
                return fits;
            }
            fits = i;
        }
        width += ((unsigned char)text[i] & 0xC0) != 0x80;
    }
    return width > columns && fits > 0 ? fits : size;
}

static void write_line(struct bl_output *output, const char *text, size_t size,
                       size_t columns)
{
    size_t indent = 0;
    while (indent < size && text[indent] == ' ') {
        indent++;
    }
    text += indent;
    size -= indent;
    size_t deeper = indent == 0 ? 0 : indent + HANG;
    for (bool first = true; first || size > 0; first = false) {
        const size_t in = first ? indent : deeper;
        const size_t length =
            bl_wrap_length(text, size, in < columns ? columns - in : 0);
        bl_output_format(output, "%*s", (int)(length > 0 ? in : 0), "");
        bl_output_write(output, text, length);
        bl_output_text(output, "\n");
        text += length;
        size -= length;
        while (size > 0 && text[0] == ' ') {
            text++;
            size--;
        }
    }
}

void bl_wrap_write(struct bl_output *output, const char *text, size_t columns)
{
    while (*text != '\0') {
        const size_t length = strcspn(text, "\n");
        write_line(output, text, length, columns);
        text += length + (text[length] == '\n');
    }
}
