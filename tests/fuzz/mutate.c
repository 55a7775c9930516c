/* SPDX-License-Identifier: MIT */
/*
 * Blind mutation: no coverage steers it, so that it needs no compiler but the
 * one there is. What it lacks in aim, corpus and words make up in part; the
 * long run fuzzes with libFuzzer.
 */
#include "mutate.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_CHANGES = 8, MOST_STRETCH = 4096 };

static size_t below(struct bl_random *dice, size_t most)
{
    return (size_t)bl_random_below(dice, most);
}

static int digit(char c)
{
    static const char digits[] = "0123456789abcdef";
    const char *at = c == '\0' ? NULL : strchr(digits, c | ('A' ^ 'a'));
    return at == NULL ? 0 : (int)(at - digits);
}

/* Bytes between the quotes of a line; 0: none. */
static size_t unquote(uint8_t *into, const char *line)
{
    size_t size = 0;
    const char *at = strchr(line, '"');
    for (at = at == NULL ? "" : at + 1; *at != '\0' && *at != '"'; at++) {
        if (at[0] == '\\' && at[1] == 'x' && at[2] != '\0' && at[3] != '\0') {
            into[size++] = (uint8_t)(digit(at[2]) << 4 | digit(at[3]));
            at += 3;
        } else {
            at += at[0] == '\\' && at[1] != '\0';
            into[size++] = (uint8_t)*at;
        }
    }
    return size;
}

static void add_word(struct inputs *words, const uint8_t *data, size_t size)
{
    struct input *more =
        realloc(words->item, (words->count + 1) * sizeof(*words->item));
    uint8_t *copy = malloc(size);
    if (more == NULL || copy == NULL) {
        exit(1);
    }
    memcpy(copy, data, size);
    words->item = more;
    words->item[words->count++] = (struct input){copy, size};
}

void read_words(struct inputs *words, const char *path)
{
    char line[1024];
    uint8_t word[sizeof(line)];
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        fprintf(stderr, "%s cannot be read\n", path);
        exit(1);
    }
    while (fgets(line, sizeof(line), file) != NULL) {
        const size_t size = line[0] == '#' ? 0 : unquote(word, line);
        if (size > 0) {
            add_word(words, word, size);
        }
    }
    fclose(file);
}

/* Makes room for `more` bytes at `at`, as far as there is any. */
static size_t open_gap(uint8_t *data, size_t *size, size_t at, size_t more)
{
    more = more > MOST_BYTES - *size ? MOST_BYTES - *size : more;
    memmove(data + at + more, data + at, *size - at);
    *size += more;
    return more;
}

static void put_in(uint8_t *data, size_t *size, const struct input *what,
                   struct bl_random *dice)
{
    const size_t at = below(dice, *size + 1);
    size_t length = what->size;
    if (below(dice, 2) == 0) { /* over what is there */
        length = length > *size - at ? *size - at : length;
    } else {
        length = open_gap(data, size, at, length);
    }
    memcpy(data + at, what->data, length);
}

/* A number of 1, 2, 4 or 8 bytes at one of its limits, in either order. */
static void put_number(uint8_t *data, size_t size, struct bl_random *dice)
{
    static const uint64_t limits[] = {0,
                                      1,
                                      4,
                                      8,
                                      16,
                                      0x7F,
                                      0x80,
                                      0xFF,
                                      0x7FFF,
                                      0x8000,
                                      0xFFFF,
                                      0x10000,
                                      0x7FFFFFFF,
                                      0x80000000,
                                      0xFFFFFFFF,
                                      INT64_MAX,
                                      (uint64_t)INT64_MIN,
                                      UINT64_MAX};
    const uint64_t value =
        limits[below(dice, sizeof(limits) / sizeof(limits[0]))];
    const size_t width = (size_t)1 << below(dice, 4);
    const int big = below(dice, 2) == 0;
    if (size < width) {
        return;
    }
    uint8_t *at = data + below(dice, size - width + 1);
    for (size_t i = 0; i < width; i++) {
        at[i] = (uint8_t)(value >> 8 * (big ? width - 1 - i : i));
    }
}

static struct input stretch(const uint8_t *data, size_t size,
                            struct bl_random *dice, uint8_t *room)
{
    const size_t at = below(dice, size);
    size_t length = (size_t)1 << below(dice, 13);
    length = length > size - at ? size - at : length;
    length = length > MOST_STRETCH ? MOST_STRETCH : length;
    memcpy(room, data + at, length);
    return (struct input){room, length};
}

static void change(uint8_t *data, size_t *size, const struct inputs *corpus,
                   const struct inputs *words, struct bl_random *dice)
{
    uint8_t room[MOST_STRETCH];
    const size_t at = below(dice, *size);
    const struct input *other = &corpus->item[below(dice, corpus->count)];
    struct input some;
    switch (below(dice, 8)) {
    case 0:
        data[at] ^= (uint8_t)(1u << below(dice, 8));
        break;
    case 1:
        data[at] = (uint8_t)below(dice, 256);
        break;
    case 2:
        put_number(data, *size, dice);
        break;
    case 3: /* lost */
        some = stretch(data + at, *size - at, dice, room);
        memmove(data + at, data + at + some.size, *size - at - some.size);
        *size -= some.size;
        break;
    case 4: /* again */
        some = stretch(data, *size, dice, room);
        put_in(data, size, &some, dice);
        break;
    case 5:
        if (other->size > 0) {
            some = stretch(other->data, other->size, dice, room);
            put_in(data, size, &some, dice);
        }
        break;
    default:
        put_in(data, size, &words->item[below(dice, words->count)], dice);
        break;
    }
}

size_t mutate(uint8_t *into, const struct inputs *corpus,
              const struct inputs *words, struct bl_random *dice)
{
    const struct input *seed = &corpus->item[below(dice, corpus->count)];
    size_t size = seed->size;
    memcpy(into, seed->data, size);
    for (size_t n = 1 + below(dice, MOST_CHANGES); n > 0 && size > 0; n--) {
        change(into, &size, corpus, words, dice);
    }
    return size;
}
