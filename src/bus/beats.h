/* SPDX-License-Identifier: MIT */
/*
 * The pace of a capture. A bus has none of its own, its cyclic identifiers
 * have: a step of the recorder's clock shows in all of them at once and by the
 * same, and leaves no stamp within it; a sender's own gap shows in its
 * identifiers only. A clock that stands still shows as identifiers that seem to
 * repeat faster than any bus could carry them (docs/methods/time.md).
 *
 * Whoever counts the frames of an identifier keeps its band; nearly all
 * intervals lie in it, and only others come here.
 */
#ifndef BRAKELAG_SRC_BUS_BEATS_H
#define BRAKELAG_SRC_BUS_BEATS_H

#include "base/pace.h"
#include "brakelag/bus.h"

/* Intervals from `low_ns` up to `wide_ns` more are as usual. */
struct bl_beat_band {
    int64_t low_ns;
    uint64_t wide_ns;
};
/* Nothing is known yet: every interval is to be given. */
#define BL_BEAT_BAND_NONE ((struct bl_beat_band){INT64_MAX, 0})

static inline bool bl_beat_usual(const struct bl_beat_band *band,
                                 int64_t interval_ns)
{
    return (uint64_t)interval_ns - (uint64_t)band->low_ns <= band->wide_ns;
}

struct bl_beat;
struct bl_beat_group;
struct bl_beat_member;
enum { BL_BEAT_SILENCES = 256 };

/* Zero-initialise; bl_beats_finish or bl_beats_free ends it. */
struct bl_beats {
    int64_t
        resolution_ns; /* of the stamps, set by the owner when it is known */
    struct bl_beat *item;
    size_t count, capacity;
    /* The latest times without a frame of any bus, those over `silent_ns`: as
       short as a step of the clock could be. A ring. */
    struct bl_time_place silence[BL_BEAT_SILENCES];
    size_t silences;
    int64_t silent_ns;
    int64_t last_ns;
    uint16_t part;
    bool any;
    /* What may be places, and who says so. */
    struct bl_beat_group *group;
    size_t groups, group_capacity;
    struct bl_beat_member *member;
    size_t members, member_capacity;
    size_t close; /* the group of close stamps that still grows, plus one */
};

/* One interval of an identifier that is not usual. */
struct bl_beat_odd {
    size_t id;
    int64_t from_ns, until_ns;
    uint16_t part;
};

/* A new identifier; its number is *id. Errors: NOMEM. */
enum bl_status bl_beats_add(struct bl_beats *beats, size_t *id);
/* All frames, in time order within a part: `count` of one part. */
void bl_beats_frames(struct bl_beats *beats, const struct bl_frame *frame,
                     size_t count);
/* An interval out of the band, which may become another. Errors: NOMEM. */
enum bl_status bl_beats_odd(struct bl_beats *beats, struct bl_beat_band *band,
                            const struct bl_beat_odd *odd);
/* The identifier's part ended, or all frames did. */
void bl_beats_until(struct bl_beats *beats, size_t id, int64_t last_ns);
/* The last frame was given: what is damage joins `into`, but where a place is
   already. Ends `beats`. Errors: NOMEM. */
enum bl_status bl_beats_finish(struct bl_beats *beats,
                               struct bl_time_places *into);
void bl_beats_free(struct bl_beats *beats);

#endif
