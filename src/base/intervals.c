/* SPDX-License-Identifier: MIT */
#include "base/intervals.h"

#include "base/alloc.h"

#include <stdlib.h>
#include <string.h>

enum { FIRST_ROOM = 16 };

/* A double's exponent, where it holds the value exactly: asked of every frame.
 */
static unsigned highest_bit(uint64_t value)
{
    const unsigned above = value >> 53 != 0 ? 32 : 0;
    const double held = (double)(int64_t)(value >> above);
    uint64_t bits;
    memcpy(&bits, &held, sizeof(bits));
    return (unsigned)(bits >> 52) - 1023 + above;
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
    if (bin->value >= 0 && bin->value != value) {
        bin->value = -1;
    }
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

static bool make_coarser(struct bl_intervals *all)
{
    while (all->bins > BL_INTERVALS_BINS && all->coarser < BL_INTERVALS_BITS) {
        if (!move(all, all->room, all->coarser + 1)) {
            return false;
        }
    }
    return true;
}

/* How many times a block counts: once as long as there are few; of twice as
   many every second one, twice, and so on. 0: it does not. Dice and not turns
   decide, so that no habit of the sender falls in step with it. */
static uint32_t weight(struct bl_intervals *all)
{
    uint32_t times = 1;
    for (uint64_t many = all->count / BL_INTERVALS_EXACT; many > 1; many /= 2) {
        times *= 2;
    }
    if (times > 1) { /* xorshift of Marsaglia 2003, full period in 32 bits */
        uint32_t dice = all->dice == 0 ? UINT32_C(2463534242) : all->dice;
        dice ^= dice << 13;
        dice ^= dice >> 17;
        dice ^= dice << 5;
        all->dice = dice;
        return (dice >> 3) % times == 0 ? times : 0;
    }
    return times;
}

/* Room for so many more bins. */
static bool make_room(struct bl_intervals *all, size_t more)
{
    size_t room = all->room == 0 ? FIRST_ROOM : all->room;
    while (2 * (all->bins + more) > room) {
        room *= 2;
    }
    return room == all->room || move(all, room, all->coarser);
}

bool bl_intervals_take(struct bl_intervals *all)
{
    const uint32_t times = weight(all);
    const size_t waitings = all->waitings;
    all->count += waitings;
    all->waitings = 0;
    if (times == 0) {
        return true;
    }
    if (!make_room(all, waitings)) {
        return false;
    }
    struct bl_interval_bin *bin = all->bin;
    const size_t room = all->room;
    const unsigned bits = BL_INTERVALS_BITS - all->coarser;
    size_t bins = all->bins;
    for (size_t i = 0; i < waitings; i++) {
        const uint32_t key = key_of(all->waiting[i], bits);
        bins +=
            count(find(bin, room, key), (int64_t)all->waiting[i], key, times);
    }
    all->bins = bins;
    all->counted += times * (uint64_t)waitings;
    return make_coarser(all);
}

bool bl_intervals_odd(struct bl_intervals *all, int64_t value)
{
    if (!make_room(all, 1)) {
        return false;
    }
    value = value < 0 ? 0 : value;
    const uint32_t key =
        key_of((uint64_t)value, BL_INTERVALS_BITS - all->coarser);
    all->bins += count(find(all->bin, all->room, key), value, key, 1);
    all->count++;
    all->counted++;
    return make_coarser(all);
}

static int by_key(const void *a, const void *b)
{
    const uint32_t x = ((const struct bl_interval_bin *)a)->key;
    const uint32_t y = ((const struct bl_interval_bin *)b)->key;
    return (x > y) - (x < y);
}

bool bl_intervals_end(struct bl_intervals *all)
{
    size_t kept = 0;
    if (!bl_intervals_take(all)) {
        return false;
    }
    for (size_t i = 0; i < all->room; i++) {
        if (all->bin[i].key != 0) {
            all->bin[kept++] = all->bin[i];
        }
    }
    if (kept > 0) {
        qsort(all->bin, kept, sizeof(*all->bin), by_key);
    }
    return true;
}

/* Blocks that did not count leave gaps between ranks. */
static double ranked(const struct bl_intervals *all, uint64_t rank)
{
    uint64_t before = 0;
    if (all->counted != all->count && all->count > 0) {
        rank = (uint64_t)(((double)rank + 0.5) * (double)all->counted /
                          (double)all->count);
    }
    const unsigned bits = BL_INTERVALS_BITS - all->coarser;
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

int64_t bl_intervals_median(const struct bl_intervals *all)
{
    if (all->count == 0) {
        return 0;
    }
    const double low = ranked(all, (all->count - 1) / 2);
    const double high = ranked(all, all->count / 2);
    return whole(low + (high - low) / 2);
}

int64_t bl_intervals_ranked(const struct bl_intervals *all, uint64_t rank)
{
    return whole(ranked(all, rank));
}

uint64_t bl_intervals_up_to(const struct bl_intervals *all, int64_t most)
{
    uint64_t found = 0;
    const unsigned bits = BL_INTERVALS_BITS - all->coarser;
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
    return all->counted == all->count || all->counted == 0
               ? found
               : (uint64_t)((double)found * (double)all->count /
                            (double)all->counted);
}

void bl_intervals_finish(struct bl_intervals *all)
{
    bl_free(all->bin);
    *all = (struct bl_intervals){0};
}
