/* SPDX-License-Identifier: MIT */
/*
 * The pace of a recorder: its usual interval, its scatter, and every place
 * where its stamps leave it (docs/methods/time.md). Fed in the order of the
 * file, in one pass and bounded memory: a buffer of 2048 stamps to learn from,
 * and up to BL_LIMIT_DAMAGES places.
 */
#ifndef BRAKELAG_SRC_BASE_PACE_H
#define BRAKELAG_SRC_BASE_PACE_H

#include "brakelag/pace.h"

enum { BL_PACE_SIZES = 64, BL_PACE_KINDS = 4 };

/* Zero-initialise; set resolution_ns before the first stamp. */
struct bl_pace {
    struct bl_time_places found; /* candidates, in the order of the file */
    int64_t resolution_ns;
    /* What is usual. */
    int64_t *learn;
    uint32_t *learn_skipped;
    size_t learned;
    bool known;
    int64_t interval_ns, jitter_ns, tolerance_ns;
    /* How many places of each kind and size there were: what comes often is the
       recorder's habit. */
    uint64_t size[BL_PACE_KINDS][BL_PACE_SIZES];
    uint64_t rows;
    uint64_t block_rows, block_odd;
    /* The row before, the latest stamp, and the place that is still open. */
    int64_t last_ns, newest_ns;
    uint16_t part;
    uint32_t skipped; /* rows left out since */
    bool any, open, failed;
    struct bl_time_place now;
    int64_t open_ns;    /* the stamp before the open place */
    uint64_t open_rows; /* rows since, read and left out */
};

/* The next stamps in the order of the file, all of one part. */
void bl_pace_feed(struct bl_pace *pace, const int64_t *time_ns, size_t count);
/* So many rows were left out before the next stamp: they took their time. */
void bl_pace_skip(struct bl_pace *pace, uint64_t rows);
/* The next stamp begins a new part. */
void bl_pace_part(struct bl_pace *pace, int64_t time_ns);
/* The last stamp was given: *out has what is no habit, and is the caller's to
   free (its `place`). Errors: NOMEM. */
BL_MUST_CHECK enum bl_status bl_pace_finish(struct bl_pace *pace,
                                            struct bl_time_places *out);
/* Throw away. */
void bl_pace_free(struct bl_pace *pace);

/* Put places in order of time and fill moved_ns and reach_ns. */
void bl_time_places_sort(struct bl_time_places *places);
/* One more place, unsorted. Over the limit it is counted and the last one
   reaches to its end. Errors: NOMEM. */
enum bl_status bl_time_places_add(struct bl_time_places *places,
                                  const struct bl_time_place *place);

#endif
