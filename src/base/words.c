/* SPDX-License-Identifier: MIT */
/* How far words are from one another: the distance over bytes of
   V. I. Levenshtein, Soviet Physics Doklady 10, 1966. */
#include "brakelag/words.h"

#include <string.h>

static unsigned char lower(char c)
{
    return (unsigned char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

size_t bl_word_distance(const char *a, const char *b)
{
    size_t row[BL_WORD_MAX + 1];
    const size_t width = strlen(b);
    if (strlen(a) > BL_WORD_MAX || width > BL_WORD_MAX) {
        return SIZE_MAX;
    }
    for (size_t k = 0; k <= width; k++) {
        row[k] = k;
    }
    for (size_t i = 0; a[i] != '\0'; i++) {
        size_t diagonal = row[0];
        row[0] = i + 1;
        for (size_t k = 0; k < width; k++) {
            const size_t same = diagonal + (lower(a[i]) != lower(b[k]));
            const size_t step = (row[k] < row[k + 1] ? row[k] : row[k + 1]) + 1;
            diagonal = row[k + 1];
            row[k + 1] = same < step ? same : step;
        }
    }
    return row[width];
}
