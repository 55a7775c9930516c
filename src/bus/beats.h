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

/* And none over `most_ns`. */
static inline void bl_beat_narrow(struct bl_beat_band *band, int64_t most_ns)
{
    if (band->low_ns <= most_ns &&
        band->wide_ns > (uint64_t)most_ns - (uint64_t)band->low_ns) {
        band->wide_ns = (uint64_t)most_ns - (uint64_t)band->low_ns;
    }
}

struct bl_beat;
struct bl_beat_group;
struct bl_beat_member;
struct bl_beat_silence {
    int64_t from_ns, until_ns;
    uint16_t part;
};
/* Readers deliver some thousand frames at a time, and silences are given before
   the intervals of a batch. */
enum { BL_BEAT_SILENCES = 8192 };
/* So many odd ones, and one interval in so many, are a habit: as base/pace.c
   has it for rows. */
enum { BL_BEAT_HABIT_LEAST = 16, BL_BEAT_HABIT_INTERVALS = 100 };
/* Before anything is known (own choice: no identifier is so fast that a step of
   the clock shows in it by less). */
#define BL_BEAT_SILENT_NS INT64_C(1000000)

/* Zero-initialise; bl_beats_finish or bl_beats_free ends it. */
struct bl_beats {
    int64_t
        resolution_ns; /* of the stamps, set by the owner when it is known */
    struct bl_beat *item;
    size_t count, capacity;
    /* The latest times without a frame of any bus, those over `silent_ns`: as
       short as a step of the clock could be. A ring; NULL while there is none.
     */
    struct bl_beat_silence *silence;
    size_t silences;
    int64_t silent_ns; /* 0: not known yet */
    /* What may be places, and who says so. */
    struct bl_beat_group *group;
    size_t groups, group_capacity;
    struct bl_beat_member *member;
    size_t members, member_capacity;
};

/* One interval of an identifier that is not usual. */
struct bl_beat_odd {
    size_t id;
    int64_t from_ns, until_ns;
    uint16_t part;
};

/* A new identifier; its number is *id. Errors: NOMEM. */
enum bl_status bl_beats_add(struct bl_beats *beats, size_t *id);
/* A time without any frame is to be given from more than this on. */
static inline int64_t bl_beats_silent(const struct bl_beats *beats)
{
    return beats->silent_ns == 0 ? BL_BEAT_SILENT_NS : beats->silent_ns;
}
/* One such time, between two frames of one part, in time order. Errors: NOMEM.
 */
enum bl_status bl_beats_silence(struct bl_beats *beats,
                                const struct bl_beat_silence *silence);
/* An interval out of the band, which may become another. Errors: NOMEM. */
enum bl_status bl_beats_odd(struct bl_beats *beats, struct bl_beat_band *band,
                            const struct bl_beat_odd *odd);
/* Is its usual interval known, so that an interval may be left out? */
bool bl_beats_has_learned(const struct bl_beats *beats, size_t id);
/* The identifier's part ended, or all frames did. */
void bl_beats_until(struct bl_beats *beats, size_t id, int64_t last_ns);
/* The last frame was given: what is damage joins `into`, but where a place is
   already. Ends `beats`. Errors: NOMEM. */
enum bl_status bl_beats_finish(struct bl_beats *beats,
                               struct bl_time_places *into);
void bl_beats_free(struct bl_beats *beats);

#endif
