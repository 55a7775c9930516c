/* SPDX-License-Identifier: MIT */
/*
 * Which groups of odd intervals are a step of the recorder's clock, or a stand:
 * those that two of three identifiers saw of all that could have seen it
 * (docs/methods/time.md, "Captures").
 */
#include "bus/beats_own.h"

#include "base/alloc.h"

#include <stdlib.h>

/* Who of the cyclic identifiers was there at the time of a group and sends, and
   scatters, so that it must have seen a step of `off_ns`. A stand is of two
   intervals and more; what it took of the interval before it may have passed as
   scatter. */
static bool has_vote(const struct bl_beat *b, const struct bl_beat_group *g,
                     int64_t off_ns)
{
    return b->cyclic && b->first_ns <= g->from_ns &&
           b->last_ns >= g->until_ns && b->tolerance_ns < off_ns &&
           (!g->close || 2 * b->interval_ns <= off_ns + b->tolerance_ns);
}

static size_t count_votes(const struct bl_beats *beats,
                          const struct bl_beat_group *g, int64_t off_ns)
{
    size_t votes = 0;
    for (size_t i = 0; i < beats->count; i++) {
        votes += has_vote(&beats->item[i], g, off_ns);
    }
    return votes;
}

/* Two of three who could see it, and not one of several (own choice: between
   all, which one lost frame would prevent, and half, which one unit of two can
   be). */
static bool is_elected(size_t yes, size_t votes)
{
    return yes > 0 && 3 * yes >= 2 * votes && (yes > 1 || votes == 1);
}

/* A step shows in all by the same; frames that were lost, or late, do not. */
static bool steps_together(const struct bl_beats *beats,
                           const struct bl_beat_group *g,
                           const struct bl_beat_member *m, int64_t off_ns)
{
    size_t yes = 0;
    for (size_t i = 0; i < g->members; i++) {
        const struct bl_beat *b = &beats->item[m[i].id];
        const int64_t by_ns = m[i].off_ns - off_ns;
        const int64_t most_ns = bl_beat_agreement(beats, b);
        yes += !m[i].undone && has_vote(b, g, off_ns) && by_ns <= most_ns &&
               by_ns >= -most_ns;
    }
    return is_elected(yes, count_votes(beats, g, off_ns));
}

static bool stands_together(const struct bl_beats *beats,
                            const struct bl_beat_group *g,
                            const struct bl_beat_member *m, int64_t off_ns)
{
    size_t yes = 0;
    size_t impossible = 0;
    for (size_t i = 0; i < g->members; i++) {
        if (has_vote(&beats->item[m[i].id], g, off_ns) &&
            2 * m[i].off_ns >= off_ns) {
            yes++;
            impossible += m[i].impossible;
        }
    }
    return 2 * impossible >= yes &&
           is_elected(yes, count_votes(beats, g, off_ns));
}

static int by_off(const void *left, const void *right)
{
    const struct bl_beat_member *a = left;
    const struct bl_beat_member *b = right;
    return (a->off_ns < b->off_ns) - (a->off_ns > b->off_ns);
}

/* By how much the clock stepped or stood as the group has it; 0: it did not. */
static int64_t decide(const struct bl_beats *beats,
                      const struct bl_beat_group *g, struct bl_beat_member *m,
                      int64_t fastest_ns)
{
    qsort(m, g->members, sizeof(*m), by_off);
    for (size_t i = 0; i < g->members; i++) {
        if (2 * m[i].off_ns <= fastest_ns) {
            break;
        }
        if (g->close ? stands_together(beats, g, m, m[i].off_ns)
                     : steps_together(beats, g, m, m[i].off_ns)) {
            return m[i].off_ns;
        }
    }
    return 0;
}

static int by_group(const void *left, const void *right)
{
    const struct bl_beat_member *a = left;
    const struct bl_beat_member *b = right;
    return (a->group > b->group) - (a->group < b->group);
}

static bool is_covered(const struct bl_time_places *places, size_t count,
                       const struct bl_time_place *p)
{
    for (size_t i = 0; i < count; i++) {
        const struct bl_time_place *q = &places->place[i];
        if (q->part == p->part && q->from_ns <= p->until_ns &&
            q->until_ns >= p->from_ns) {
            return true;
        }
    }
    return false;
}

/* Places of every group that was elected; `rows` of a stand are all its
   frames. */
static enum bl_status decide_all(struct bl_beats *beats,
                                 struct bl_time_places *into,
                                 int64_t fastest_ns)
{
    enum bl_status status = BL_OK;
    const size_t before = into->places;
    struct bl_beat_member *m = beats->member;
    if (beats->members > 0) {
        qsort(m, beats->members, sizeof(*m), by_group);
    }
    for (size_t i = 0; i < beats->groups && status == BL_OK; i++) {
        const struct bl_beat_group *g = &beats->group[i];
        const int64_t off_ns = decide(beats, g, m, fastest_ns);
        struct bl_time_place place = {
            .kind = g->close ? BL_TIME_CLOSE : BL_TIME_LONG,
            .from_ns = g->from_ns,
            .until_ns = g->until_ns,
            /* Of a stand, what begins and ends it may not be seen. */
            .off_ns = g->close ? off_ns + fastest_ns : off_ns,
            .step_ns = g->close ? -off_ns - fastest_ns : off_ns,
            .part = g->part};
        for (size_t k = 0; k < g->members; k++) {
            place.rows += g->close ? m[k].rows : 0;
        }
        if (off_ns > 0 && !is_covered(into, before, &place)) {
            status = bl_time_places_add(into, &place);
        }
        m += g->members;
    }
    return status;
}

/* What is a habit has no vote. The interval of the fastest that has one; 0:
   nobody has. */
static int64_t fastest_of(struct bl_beats *beats, int64_t *scatter_ns)
{
    int64_t fastest_ns = 0;
    for (size_t i = 0; i < beats->count; i++) {
        struct bl_beat *b = &beats->item[i];
        b->cyclic = b->cyclic && !bl_beat_is_habit(b);
        if (b->cyclic && (fastest_ns == 0 || b->interval_ns < fastest_ns)) {
            fastest_ns = b->interval_ns;
            *scatter_ns = b->scatter_ns / 5;
        }
    }
    return fastest_ns;
}

/* Stamps of different parts may be the same. */
static int by_part(const void *left, const void *right)
{
    const struct bl_time_place *a = left;
    const struct bl_time_place *b = right;
    if (a->part != b->part) {
        return a->part > b->part ? 1 : -1;
    }
    return (a->from_ns > b->from_ns) - (a->from_ns < b->from_ns);
}

enum bl_status bl_beats_finish(struct bl_beats *beats,
                               struct bl_time_places *into)
{
    const int64_t fastest_ns = fastest_of(beats, &into->jitter_ns);
    enum bl_status status = BL_OK;
    if (fastest_ns > 0) {
        into->interval_ns = fastest_ns;
        status = decide_all(beats, into, fastest_ns);
    }
    if (into->places > 1) {
        qsort(into->place, into->places, sizeof(*into->place), by_part);
    }
    bl_beats_free(beats);
    return status;
}
