/* SPDX-License-Identifier: MIT */
/*
 * When does a channel move? One pass over blocks of its samples, forwards. Used
 * to decide which samples of a long recording are kept, so it errs towards
 * "moves".
 */
#ifndef BRAKELAG_SRC_SIGNAL_ACTIVITY_H
#define BRAKELAG_SRC_SIGNAL_ACTIVITY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { BL_ACTIVITY_BLOCKS = 40 };

/* What one block of samples is like, missing ones left out. */
struct bl_block_look {
    size_t count;
    double mean, deviation; /* standard deviation */
    double low, high;
};
struct bl_block_look bl_block_look(const float *value, size_t count);

struct bl_activity {
    double floor, ceiling; /* bounds of what counts as leaving rest */
    /* Quiet blocks of the last ten seconds, by turns. */
    double mean[BL_ACTIVITY_BLOCKS], deviation[BL_ACTIVITY_BLOCKS];
    size_t blocks, next;
    double rest, noise; /* their means */
    double anchor;      /* rest when it was last taken anew */
    bool beyond;        /* so was the last sample */
    /* While it moves: since when its block means keep together. */
    bool level;
    int64_t level_from_ns;
    double level_low, level_high;
};

/*
 * Leaving rest is being further from it than 5 times its noise, not less than
 * `floor` and not more than `ceiling` (INFINITY: as the noise is). `rest` and
 * `noise` are those of the quietest block of the first seconds.
 */
void bl_activity_start(struct bl_activity *a, double floor, double ceiling,
                       const struct bl_block_look *rest);
/*
 * The next block, of a quarter of a second or eight samples. True: in it the
 * signal is away from rest (two samples in a row; one is a spike). Rest follows
 * quiet blocks, but not further than twice the distance that counts as leaving
 * it; it is taken anew where the signal has stood level for 60 s.
 */
bool bl_activity_block(struct bl_activity *a, const int64_t *time_ns,
                       const float *value, size_t count);

#endif
