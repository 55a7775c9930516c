/* SPDX-License-Identifier: MIT */
/*
 * The middle of any number of whole numbers in bounded memory. They are counted
 * in bins of equal relative width, which are made wider where there are too
 * many; the outcome does not depend on the order. A bin that holds one value
 * only keeps it, so that the median of a few different values is exact; else it
 * is interpolated inside its bin. Error: half a bin at most, which is 0.013 %
 * of the median as long as BL_INTERVALS_BINS bins do for all values.
 *
 * Of twice BL_INTERVALS_EXACT numbers on blocks of BL_INTERVALS_WAITING that
 * follow one another are drawn by dice. A rank is then right within 1 % of all
 * (0.5 / sqrt(n) of n draws, of which there are 8192 and more).
 */
#ifndef BRAKELAG_SRC_BASE_INTERVALS_H
#define BRAKELAG_SRC_BASE_INTERVALS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    BL_INTERVALS_BITS = 12,
    BL_INTERVALS_BINS = 4096,
    BL_INTERVALS_WAITING = 32,
    BL_INTERVALS_EXACT = 8192
};

struct bl_interval_bin {
    int64_t value; /* of all in it; -1: they differ */
    uint32_t key;  /* + 1; 0: free */
    uint32_t count;
};

/* Zero-initialise; bl_intervals_finish frees. */
struct bl_intervals {
    /* Not counted yet: many at a time cost half of one by one. */
    size_t waitings;
    uint32_t waiting[BL_INTERVALS_WAITING];
    struct bl_interval_bin *bin; /* open addressing, at most half full */
    size_t room, bins;
    unsigned coarser; /* so many bits less than BL_INTERVALS_BITS */
    uint64_t count;   /* all */
    uint64_t counted; /* by those that were drawn */
    uint32_t dice;
};

/* Count what waits. False: out of memory. */
bool bl_intervals_take(struct bl_intervals *all);
/* One that does not fit in with those that wait. False: out of memory. */
bool bl_intervals_odd(struct bl_intervals *all, int64_t value);
/* Values below 0 count as 0. False: out of memory. */
static inline bool bl_intervals_add(struct bl_intervals *all, int64_t value)
{
    if (all->waitings == BL_INTERVALS_WAITING && !bl_intervals_take(all)) {
        return false;
    }
    if ((uint64_t)value > UINT32_MAX) {
        return bl_intervals_odd(all, value);
    }
    all->waiting[all->waitings++] = (uint32_t)value;
    return true;
}
/* The last one was added: `count` counts them all, and questions may be asked.
   False: out of memory. */
bool bl_intervals_end(struct bl_intervals *all);
/* The mean of the two middle ones where their number is even; 0 for none. */
int64_t bl_intervals_median(const struct bl_intervals *all);
/* The one of rank `rank`, the smallest being 0; 0 where there are not so many.
 */
int64_t bl_intervals_ranked(const struct bl_intervals *all, uint64_t rank);
/* How many are no greater than `most`; of a bin that holds different ones, its
   share up to there. */
uint64_t bl_intervals_up_to(const struct bl_intervals *all, int64_t most);
void bl_intervals_finish(struct bl_intervals *all);

#endif
