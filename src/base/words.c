/* SPDX-License-Identifier: MIT */
/* How far words are from one another: the distance over bytes of
   V. I. Levenshtein, Soviet Physics Doklady 10, 1966, with the swap of two
   neighbours as one slip (F. J. Damerau, Communications of the ACM 7, 1964; no
   letter takes part in two slips). */
#include "base/words.h"

#include <stdio.h>
#include <string.h>

static unsigned char lower(char c)
{
    return (unsigned char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

size_t bl_word_distance(const char *a, const char *b)
{
    /* This row, the one above and the one above that. */
    size_t row[3][BL_WORD_MAX + 1];
    const size_t height = strlen(a);
    const size_t width = strlen(b);
    if (height > BL_WORD_MAX || width > BL_WORD_MAX) {
        return SIZE_MAX;
    }
    for (size_t i = 0; i <= height; i++) {
        size_t *now = row[i % 3];
        const size_t *above = row[(i + 2) % 3];
        const size_t *second = row[(i + 1) % 3];
        now[0] = i;
        for (size_t k = 1; k <= width; k++) {
            if (i == 0) {
                now[k] = k;
                continue;
            }
            const bool same = lower(a[i - 1]) == lower(b[k - 1]);
            now[k] =
                least(above[k - 1] + !same, least(above[k], now[k - 1]) + 1);
            if (i > 1 && k > 1 && lower(a[i - 1]) == lower(b[k - 2]) &&
                lower(a[i - 2]) == lower(b[k - 1])) {
                now[k] = least(now[k], second[k - 2] + 1);
            }
        }
    }
    return row[height % 3][width];
}

/* "P1.csv.gz" where "P1.csv" was written. */
static bool is_longer(const char *name, const char *start)
{
    const size_t length = strlen(start);
    return length > 0 && strncmp(name, start, length) == 0 &&
           name[length] == '.';
}

void bl_nearest_offer(struct bl_nearest *nearest, const char *candidate)
{
    const char *wanted = nearest->wanted;
    if (wanted == NULL || strlen(candidate) >= sizeof(nearest->best)) {
        return;
    }
    const size_t distance =
        is_longer(candidate, wanted) || is_longer(wanted, candidate)
            ? 1
            : bl_word_distance(wanted, candidate);
    const bool first = nearest->best[0] == '\0';
    if (distance == SIZE_MAX || (!first && distance > nearest->distance)) {
        return;
    }
    if (!first && distance == nearest->distance) {
        nearest->alone =
            nearest->alone && strcmp(nearest->best, candidate) == 0;
        return;
    }
    nearest->distance = distance;
    nearest->alone = true;
    memcpy(nearest->best, candidate, strlen(candidate) + 1);
}

const char *bl_nearest_word(const struct bl_nearest *nearest)
{
    const char *wanted = nearest->wanted;
    const char *best = nearest->best;
    if (best[0] == '\0' || !nearest->alone || strcmp(best, wanted) == 0) {
        return NULL;
    }
    const size_t length = strlen(wanted);
    const size_t letters = nearest->letters > 0 ? nearest->letters : length;
    const bool near = nearest->distance <= (letters < 3 ? 1 : letters / 3) &&
                      nearest->distance < strlen(best);
    const bool beginning = length >= 3 && strncmp(wanted, best, length) == 0;
    return near || beginning ? best : NULL;
}
