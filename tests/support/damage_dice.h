/* SPDX-License-Identifier: MIT */
/*
 * Damage to a file as it happens to recordings, by the dice: a stretch of bytes
 * overwritten, zeroed, lost, put in between, cut off, a block of a disk that
 * holds older data, one bit. The same seed gives the same damages.
 */
#ifndef BRAKELAG_TESTS_DAMAGE_DICE_H
#define BRAKELAG_TESTS_DAMAGE_DICE_H

#include "testing.h"

#include "base/random.h"

enum { DISK_BLOCK = 512, LONGEST_DAMAGE = 6000 };

enum kind { NOISE, ZEROS, ONES, LOST, BETWEEN, BIT, DISK, STALE, CUT, KINDS };

struct damage {
    enum kind kind;
    size_t from, size; /* of the whole file */
};

static inline const char *damage_kind(enum kind kind)
{
    static const char *const names[] = {"noise",
                                        "zeros",
                                        "ones",
                                        "lost",
                                        "put in between",
                                        "one bit",
                                        "zeroed disk block",
                                        "older disk block",
                                        "cut"};
    return names[kind];
}

/* How often the dice are thrown: BL_DAMAGES, or 40. */
static inline size_t how_many_damages(void)
{
    const char *given = getenv("BL_DAMAGES");
    return given == NULL ? 40 : (size_t)strtoul(given, NULL, 10);
}

/* Other dice with BL_DICE, a number. */
static inline void seed_dice(struct bl_random *dice, uint64_t seed)
{
    const char *given = getenv("BL_DICE");
    bl_random_seed(
        dice, seed + (given == NULL ? 0 : strtoull(given, NULL, 10) * 1000));
}

static inline size_t below(struct bl_random *dice, size_t most)
{
    return (size_t)bl_random_below(dice, most);
}

/* Sizes as likely to be of one byte as of thousands. */
static inline size_t damage_size(struct bl_random *dice)
{
    size_t size = 1;
    while (size < LONGEST_DAMAGE && below(dice, 5) > 0) {
        size = size * 2 + below(dice, 2);
    }
    return size > LONGEST_DAMAGE ? LONGEST_DAMAGE : size;
}

/* A damage between two places of a file. Disk blocks are where a disk has
   them, unless the file ends before. */
static inline struct damage throw_dice(struct bl_random *dice, size_t from,
                                       size_t until)
{
    struct damage d = {.kind = (enum kind)below(dice, KINDS),
                       .size = damage_size(dice)};
    d.from = from + below(dice, until - from);
    if (d.kind == DISK || d.kind == STALE) {
        d.from = (d.from + DISK_BLOCK - 1) / DISK_BLOCK * DISK_BLOCK;
        d.size = DISK_BLOCK;
    } else if (d.kind == BIT) {
        d.size = 1;
    } else if (d.kind == CUT) {
        d.size = until;
    }
    if (d.from >= until) {
        d.from = until - 1;
    }
    if (d.size > until - d.from) {
        d.size = until - d.from;
    }
    return d;
}

static inline void noise_at(uint8_t *at, size_t size, struct bl_random *dice)
{
    for (size_t i = 0; i < size; i++) {
        at[i] = (uint8_t)below(dice, 256);
    }
}

/* How many bytes of the file as it was are no longer what they were. */
static inline size_t damage_reach(const struct damage *d)
{
    return d->kind == BETWEEN ? 1 : d->size;
}

/* `data` comes from malloc and may move. */
static inline void do_damage(uint8_t **data, size_t *size,
                             const struct damage *d, struct bl_random *dice)
{
    uint8_t *at = *data + d->from;
    switch (d->kind) {
    case NOISE:
        noise_at(at, d->size, dice);
        break;
    case ZEROS:
    case DISK:
        memset(at, 0, d->size);
        break;
    case ONES:
        memset(at, 0xFF, d->size);
        break;
    case STALE:
        memmove(at, *data + d->from / DISK_BLOCK / 2 * DISK_BLOCK, d->size);
        break;
    case BIT:
        *at ^= (uint8_t)(1u << below(dice, 8));
        break;
    case LOST:
    case CUT:
        memmove(at, at + d->size, *size - d->from - d->size);
        *size -= d->size;
        break;
    case BETWEEN:
        *data = realloc(*data, *size + d->size);
        assert_non_null(*data);
        at = *data + d->from;
        memmove(at + d->size, at, *size - d->from);
        noise_at(at, d->size, dice);
        *size += d->size;
        break;
    case KINDS:
        fail();
    }
}

#endif
