/* SPDX-License-Identifier: MIT */
#include "base/intervals.h"

#include "base/alloc.h"

#include <stdlib.h>

enum { FIRST_ROOM = 16 };

static unsigned highest_bit(uint64_t value)
{
    unsigned bit = 0;
    for (unsigned step = 32; step > 0; step /= 2) {
        if (value >> step != 0) {
            value >>= step;
            bit += step;
        }
    }
    return bit;
}

/* Small values stand for themselves; above, `bits` bits behind the highest. */
static uint32_t key_of(uint64_t value, unsigned bits)
{
    const uint64_t exact = UINT64_C(1) << bits;
    if (value < exact) {
        return (uint32_t)value;
    }
    const unsigned shift = highest_bit(value) - bits;
    return (uint32_t)((shift + 1) << bits | ((value >> shift) - exact));
}

static uint64_t least_of(uint32_t key, unsigned bits)
{
    const uint64_t exact = UINT64_C(1) << bits;
    if (key < exact) {
        return key;
    }
    const unsigned shift = (unsigned)(key >> bits) - 1;
    return ((key & (exact - 1)) + exact) << shift;
}

static struct bl_interval_bin *find(struct bl_interval_bin *bin, size_t room,
                                    uint32_t key)
{
    size_t at = (size_t)(key * UINT32_C(2654435769) >> 7) & (room - 1);
    while (bin[at].key != 0 && bin[at].key != key + 1) {
        at = (at + 1) & (room - 1);
    }
    return &bin[at];
}

/* True: a new bin was taken. */
static bool count(struct bl_interval_bin *bin, int64_t value, uint32_t key,
                  uint32_t times)
{
    if (bin->key == 0) {
        *bin = (struct bl_interval_bin){value, key + 1, times};
        return true;
    }
    bin->value = bin->value == value ? value : -1;
    bin->count =
        bin->count > UINT32_MAX - times ? UINT32_MAX : bin->count + times;
    return false;
}

/* Into a table of `room`, with bins that are `coarser`. */
static bool move(struct bl_intervals *all, size_t room, unsigned coarser)
{
    struct bl_interval_bin *bin = bl_alloc(room, sizeof(*bin));
    if (bin == NULL) {
        return false;
    }
    const unsigned before = BL_INTERVALS_BITS - all->coarser;
    all->bins = 0;
    for (size_t i = 0; i < all->room; i++) {
        const struct bl_interval_bin *from = &all->bin[i];
        if (from->key != 0) {
            const uint32_t key = key_of(least_of(from->key - 1, before),
                                        BL_INTERVALS_BITS - coarser);
            all->bins +=
                count(find(bin, room, key), from->value, key, from->count);
        }
    }
    bl_free(all->bin);
    all->bin = bin;
    all->room = room;
    all->coarser = coarser;
    return true;
}

bool bl_intervals_add(struct bl_intervals *all, int64_t value)
{
    if (2 * (all->bins + 1) > all->room &&
        !move(all, all->room == 0 ? FIRST_ROOM : 2 * all->room, all->coarser)) {
        return false;
    }
    value = value < 0 ? 0 : value;
    const uint32_t key =
        key_of((uint64_t)value, BL_INTERVALS_BITS - all->coarser);
    all->bins += count(find(all->bin, all->room, key), value, key, 1);
    all->count++;
    while (all->bins > BL_INTERVALS_BINS && all->coarser < BL_INTERVALS_BITS) {
        if (!move(all, all->room, all->coarser + 1)) {
            return false;
        }
    }
    return true;
}

static int by_key(const void *a, const void *b)
{
    const uint32_t x = ((const struct bl_interval_bin *)a)->key;
    const uint32_t y = ((const struct bl_interval_bin *)b)->key;
    return (x > y) - (x < y);
}

/* From a table to a list by size. */
static void put_in_order(struct bl_intervals *all)
{
    if (all->in_order || all->bin == NULL) {
        return;
    }
    size_t kept = 0;
    for (size_t i = 0; i < all->room; i++) {
        if (all->bin[i].key != 0) {
            all->bin[kept++] = all->bin[i];
        }
    }
    qsort(all->bin, kept, sizeof(*all->bin), by_key);
    all->in_order = true;
}

static double ranked(struct bl_intervals *all, uint64_t rank)
{
    uint64_t before = 0;
    const unsigned bits = BL_INTERVALS_BITS - all->coarser;
    put_in_order(all);
    for (size_t i = 0; i < all->bins; i++) {
        const struct bl_interval_bin *bin = &all->bin[i];
        if (rank >= before + bin->count) {
            before += bin->count;
            continue;
        }
        const double low = (double)least_of(bin->key - 1, bits);
        const double high = (double)least_of(bin->key, bits);
        const double part =
            ((double)(rank - before) + 0.5) / (double)bin->count;
        return bin->value >= 0 ? (double)bin->value : low + part * (high - low);
    }
    return 0;
}

static int64_t whole(double value)
{
    value += 0.5;
    return value < 9.2e18 ? (int64_t)value : INT64_MAX;
}

int64_t bl_intervals_median(struct bl_intervals *all)
{
    if (all->count == 0) {
        return 0;
    }
    const double low = ranked(all, (all->count - 1) / 2);
    const double high = ranked(all, all->count / 2);
    return whole(low + (high - low) / 2);
}

int64_t bl_intervals_ranked(struct bl_intervals *all, uint64_t rank)
{
    return whole(ranked(all, rank));
}

uint64_t bl_intervals_up_to(struct bl_intervals *all, int64_t most)
{
    uint64_t found = 0;
    const unsigned bits = BL_INTERVALS_BITS - all->coarser;
    put_in_order(all);
    for (size_t i = 0; i < all->bins; i++) {
        const struct bl_interval_bin *bin = &all->bin[i];
        const double low = (double)least_of(bin->key - 1, bits);
        const double high = (double)least_of(bin->key, bits);
        if (bin->value >= 0 ? bin->value <= most : high <= (double)most) {
            found += bin->count;
        } else if (bin->value < 0 && low <= (double)most) {
            found += (uint64_t)((double)bin->count * ((double)most - low) /
                                (high - low));
        }
    }
    return found;
}

void bl_intervals_finish(struct bl_intervals *all)
{
    bl_free(all->bin);
    *all = (struct bl_intervals){0};
}
