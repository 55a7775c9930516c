/* SPDX-License-Identifier: MIT */
/*
 * Method: docs/methods/time.md, "Captures". What is usual of an identifier is
 * learned from its first intervals: their median and scatter. An interval out
 * of that is put to a group: a long one to the longest time without any frame
 * that lies in it, a short one to the others that are short at the same time.
 * At the end the identifiers that could have seen a step of that size vote.
 */
#include "bus/beats_own.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <stdlib.h>

/* Intervals to learn from (own choice: 0.6 s of what is sent every 10 ms);
   groups and members kept. */
enum { LEARN = 64, GROUPS = 16384, MEMBERS = 65536 };
/* How often an identifier is tried (own choice). */
enum { ATTEMPTS = 4 };
/* Groups that one more interval may belong to: what is learned late tells of
   long ago. */
enum { LATEST = 256 };
/* After so many odd ones it is decided on the way whether they are its habit.
 */
enum { ASKED_NO_MORE = 1024 };
/* Two frames of one identifier within less than the shortest frame there is:
   47 bits, and 30 of them at 1 Mbit/s where the rest goes faster (CAN FD). */
static const int64_t CARRIED_NS = 30000;
/* Slow identifiers too see a step of this size (own choice: half the interval
   of what demands braking is sent with, ISO 11992-2 10 ms). */
static const int64_t STEP_NS = 5000000;
enum bl_status bl_beats_add(struct bl_beats *beats, size_t *id)
{
    if (!bl_grow(&beats->item, &beats->capacity, beats->count + 1,
                 sizeof(*beats->item), BL_LIMIT_IDENTIFIERS)) {
        return BL_NOMEM;
    }
    beats->item[beats->count] = (struct bl_beat){.last_ns = INT64_MIN};
    *id = beats->count++;
    return BL_OK;
}

enum bl_status bl_beats_silence(struct bl_beats *beats,
                                const struct bl_beat_silence *silence)
{
    if (beats->silence == NULL) {
        beats->silence = bl_alloc(BL_BEAT_SILENCES, sizeof(*beats->silence));
        if (beats->silence == NULL) {
            return BL_NOMEM;
        }
    }
    beats->silence[beats->silences++ % BL_BEAT_SILENCES] = *silence;
    return BL_OK;
}

static int64_t least_odd(const struct bl_beats *beats, const struct bl_beat *b)
{
    const int64_t half_ns = b->interval_ns / 2 + 1;
    return bl_beat_later(
        half_ns < STEP_NS ? half_ns : STEP_NS,
        bl_beat_later(b->scatter_ns, 2 * beats->resolution_ns));
}

static void set_band(struct bl_beat_band *band, const struct bl_beat *b)
{
    if (!b->cyclic) {
        *band = (struct bl_beat_band){0, UINT64_MAX / 2};
    } else if (b->state != AS_USUAL) {
        *band = BL_BEAT_BAND_NONE;
    } else {
        band->low_ns = bl_beat_later(b->interval_ns - b->tolerance_ns, 0);
        band->wide_ns =
            (uint64_t)(b->interval_ns + b->tolerance_ns - band->low_ns);
    }
}

static const struct bl_beat_silence *silence_at(const struct bl_beats *beats,
                                                size_t number)
{
    return &beats->silence[number % BL_BEAT_SILENCES];
}

/* How many silences end before or at the beginning of an interval, of those
   that are kept: from there on they may lie in it. */
static size_t first_silence(const struct bl_beats *beats,
                            const struct bl_beat_odd *odd)
{
    size_t low = beats->silences > BL_BEAT_SILENCES
                     ? beats->silences - BL_BEAT_SILENCES
                     : 0;
    size_t high = beats->silences;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const struct bl_beat_silence *s = silence_at(beats, middle);
        if (s->part < odd->part ||
            (s->part == odd->part && s->until_ns <= odd->from_ns)) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

/* The longest time without a frame within an interval; NULL: none that could
   hold a step of `off_ns`. */
static const struct bl_beat_silence *find_silence(const struct bl_beats *beats,
                                                  const struct bl_beat_odd *odd,
                                                  int64_t off_ns)
{
    const struct bl_beat_silence *found = NULL;
    for (size_t i = first_silence(beats, odd); i < beats->silences; i++) {
        const struct bl_beat_silence *s = silence_at(beats, i);
        if (s->part != odd->part || s->until_ns > odd->until_ns) {
            break;
        }
        if (s->from_ns >= odd->from_ns && s->until_ns - s->from_ns >= off_ns &&
            (found == NULL ||
             s->until_ns - s->from_ns > found->until_ns - found->from_ns)) {
            found = s;
        }
    }
    return found;
}

/* False: there is no more room, and what comes is not kept. */
static bool add_group(struct bl_beats *beats, const struct bl_beat_group *group,
                      enum bl_status *status)
{
    if (beats->groups >= GROUPS) {
        return false;
    }
    if (!bl_grow(&beats->group, &beats->group_capacity, beats->groups + 1,
                 sizeof(*beats->group), GROUPS)) {
        *status = BL_NOMEM;
        return false;
    }
    beats->group[beats->groups++] = *group;
    return true;
}

static bool add_member(struct bl_beats *beats, size_t group,
                       const struct bl_beat_odd *odd, int64_t off_ns,
                       enum bl_status *status)
{
    if (beats->members >= MEMBERS) {
        return false;
    }
    if (!bl_grow(&beats->member, &beats->member_capacity, beats->members + 1,
                 sizeof(*beats->member), MEMBERS)) {
        *status = BL_NOMEM;
        return false;
    }
    beats->member[beats->members++] =
        (struct bl_beat_member){.off_ns = off_ns,
                                .group = (uint32_t)group,
                                .id = (uint32_t)odd->id,
                                .rows = 1};
    beats->group[group].members++;
    beats->item[odd->id].member = beats->members;
    return true;
}

/* One of the latest groups that an odd interval belongs to; SIZE_MAX: none yet.
   A long one to its time without frames, a close one (`silence` NULL) to those
   that were close up to half an interval before or behind. */
static size_t find_group(const struct bl_beats *beats,
                         const struct bl_beat_odd *odd,
                         const struct bl_beat_silence *silence)
{
    const int64_t beside_ns = beats->item[odd->id].interval_ns / 2;
    for (size_t i = beats->groups; i > 0 && beats->groups - i < LATEST; i--) {
        const struct bl_beat_group *g = &beats->group[i - 1];
        if (g->close != (silence == NULL) || g->part != odd->part) {
            continue;
        }
        if (g->close ? odd->until_ns >= g->from_ns - beside_ns &&
                           odd->until_ns <= g->until_ns + beside_ns
                     : g->from_ns == silence->from_ns) {
            return i - 1;
        }
    }
    return SIZE_MAX;
}

static enum bl_status was_long(struct bl_beats *beats,
                               const struct bl_beat_odd *odd, int64_t off_ns)
{
    struct bl_beat *b = &beats->item[odd->id];
    enum bl_status status = BL_OK;
    b->state = WAS_LONG;
    b->debt_ns = off_ns;
    b->member = 0;
    const struct bl_beat_silence *silence =
        find_silence(beats, odd, off_ns - bl_beat_agreement(beats, b));
    if (silence == NULL) {
        return BL_OK; /* others were sending: its sender's own */
    }
    size_t group = find_group(beats, odd, silence);
    if (group == SIZE_MAX) {
        const struct bl_beat_group made = {.from_ns = silence->from_ns,
                                           .until_ns = silence->until_ns,
                                           .part = odd->part};
        if (!add_group(beats, &made, &status)) {
            return status;
        }
        group = beats->groups - 1;
    }
    (void)add_member(beats, group, odd, off_ns, &status);
    return status;
}

/* A group of close stamps that nobody else joined is one sender's own. */
static void drop_lonely(struct bl_beats *beats)
{
    if (beats->groups == 0 || beats->members == 0) {
        return;
    }
    const struct bl_beat_group *g = &beats->group[beats->groups - 1];
    const struct bl_beat_member *m = &beats->member[beats->members - 1];
    struct bl_beat *b = &beats->item[m->id];
    if (g->close && g->members == 1 && m->group + 1 == beats->groups &&
        !m->impossible && b->member != beats->members) {
        beats->members--;
        beats->groups--;
    }
}

static bool can_carry(const struct bl_beats *beats, int64_t interval_ns)
{
    return interval_ns > bl_beat_later(CARRIED_NS, beats->resolution_ns);
}

static enum bl_status was_close(struct bl_beats *beats,
                                const struct bl_beat_odd *odd, int64_t off_ns)
{
    struct bl_beat *b = &beats->item[odd->id];
    enum bl_status status = BL_OK;
    b->state = WAS_CLOSE;
    b->member = 0;
    size_t group = find_group(beats, odd, NULL);
    if (group == SIZE_MAX) {
        const struct bl_beat_group made = {.from_ns = odd->from_ns,
                                           .until_ns = odd->until_ns,
                                           .part = odd->part,
                                           .close = true};
        drop_lonely(beats);
        if (!add_group(beats, &made, &status)) {
            return status;
        }
        group = beats->groups - 1;
    }
    struct bl_beat_group *g = &beats->group[group];
    if (!can_carry(beats, odd->until_ns - odd->from_ns)) {
        g->from_ns = odd->from_ns < g->from_ns ? odd->from_ns : g->from_ns;
        g->until_ns = bl_beat_later(g->until_ns, odd->until_ns);
    }
    (void)add_member(beats, group, odd, off_ns, &status);
    return status;
}

/* What follows an interval that was too long: what had waited comes at once,
   as after a bus that was taken, and time is where it was. */
static bool pays_back(struct bl_beats *beats, struct bl_beat *b, int64_t off_ns)
{
    if (off_ns >= -bl_beat_agreement(beats, b) ||
        b->debt_ns <= bl_beat_agreement(beats, b)) {
        return false;
    }
    b->debt_ns += off_ns;
    if (b->member > 0) {
        beats->member[b->member - 1].undone = true;
    }
    return true;
}

/* One more interval of a run that is too close; the one behind it, of which a
   part may be missing, belongs to it. */
static bool goes_on(struct bl_beats *beats, struct bl_beat *b,
                    const struct bl_beat_odd *odd, int64_t off_ns)
{
    if (off_ns >= -bl_beat_agreement(beats, b)) {
        return false;
    }
    if (b->member > 0) {
        struct bl_beat_member *m = &beats->member[b->member - 1];
        struct bl_beat_group *g = &beats->group[m->group];
        m->off_ns -= off_ns;
        m->rows++;
        g->until_ns = bl_beat_later(g->until_ns, odd->until_ns);
    }
    if (off_ns >= -b->tolerance_ns) {
        b->state = AS_USUAL;
        b->member = 0;
    }
    return true;
}

static enum bl_status judge(struct bl_beats *beats,
                            const struct bl_beat_odd *odd)
{
    struct bl_beat *b = &beats->item[odd->id];
    const int64_t ns = odd->until_ns - odd->from_ns;
    const int64_t off_ns = ns - b->interval_ns;
    const bool possible = can_carry(beats, ns);
    enum bl_status status = BL_OK;
    if ((b->state == WAS_LONG && possible && pays_back(beats, b, off_ns)) ||
        (b->state == WAS_CLOSE && goes_on(beats, b, odd, off_ns))) {
        /* of the odd one before it */
    } else if (off_ns > b->tolerance_ns) {
        b->odd++;
        status = was_long(beats, odd, off_ns);
    } else if (off_ns < -b->tolerance_ns) {
        b->odd++;
        status = was_close(beats, odd, -off_ns);
    } else {
        b->state = AS_USUAL;
        b->member = 0;
    }
    if (b->state == WAS_CLOSE && b->member > 0 && !possible) {
        beats->member[b->member - 1].impossible = true;
    }
    return status;
}

static int ascending(const void *left, const void *right)
{
    const int64_t a = *(const int64_t *)left;
    const int64_t b = *(const int64_t *)right;
    return (a > b) - (a < b);
}

/* Five times the standard deviation as 95 % of the intervals keep to it (1.96),
   and as the median tells it (1.4826), whichever is more. Half of the interval
   and more is no scatter but damage, or bursts. */
static int64_t scatter_of(int64_t *interval, size_t n, int64_t usual_ns)
{
    for (size_t i = 0; i < n; i++) {
        interval[i] = interval[i] < usual_ns ? usual_ns - interval[i]
                                             : interval[i] - usual_ns;
    }
    qsort(interval, n, sizeof(*interval), ascending);
    const size_t half = n / 2;
    const double middle = 1.4826 * (double)interval[half];
    const int64_t most_ns = interval[n - 1 - n / 20];
    const double most = most_ns < usual_ns / 2 ? (double)most_ns / 1.96 : 0;
    return (int64_t)fmin(5 * fmax(middle, most), 1e18);
}

/* Half of the interval and more is no scatter that a step could be told from:
   such an identifier is not cyclic. */
static void learn(struct bl_beats *beats, struct bl_beat *b)
{
    int64_t interval[LEARN];
    for (size_t i = 0; i < LEARN; i++) {
        interval[i] = b->learn[i + 1] - b->learn[i];
    }
    qsort(interval, LEARN, sizeof(*interval), ascending);
    b->interval_ns = interval[LEARN / 2];
    b->scatter_ns = scatter_of(interval, LEARN, b->interval_ns);
    b->tolerance_ns = least_odd(beats, b);
    b->cyclic = b->interval_ns > 2 * BL_BEAT_WAIT_NS &&
                b->interval_ns < 10000 * STEP_NS &&
                b->scatter_ns <= b->interval_ns / 2;
    if (b->cyclic) {
        const int64_t least_ns =
            bl_beat_later(b->tolerance_ns - BL_BEAT_WAIT_NS, BL_BEAT_WAIT_NS);
        if (beats->silent_ns == 0 || least_ns < beats->silent_ns) {
            beats->silent_ns = least_ns;
        }
    }
}

static enum bl_status judge_learned(struct bl_beats *beats, size_t id)
{
    struct bl_beat *b = &beats->item[id];
    const struct bl_beat_silence *oldest =
        beats->silences <= BL_BEAT_SILENCES
            ? NULL
            : silence_at(beats, beats->silences);
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < LEARN && status == BL_OK && b->cyclic; i++) {
        if (oldest != NULL && oldest->from_ns > b->learn[i]) {
            b->first_ns = b->learn[i + 1];
            continue;
        }
        const int64_t ns = b->learn[i + 1] - b->learn[i];
        const int64_t off_ns = ns - b->interval_ns;
        if (b->state != AS_USUAL || off_ns > b->tolerance_ns ||
            off_ns < -b->tolerance_ns) {
            const struct bl_beat_odd odd = {id, b->learn[i], b->learn[i + 1],
                                            b->part};
            status = judge(beats, &odd);
        }
    }
    bl_free(b->learn);
    b->learn = NULL;
    return status;
}

/* Stamps until there are enough; those of a part that ended too soon say
   nothing. */
static enum bl_status take_learned(struct bl_beats *beats,
                                   const struct bl_beat_odd *odd)
{
    struct bl_beat *b = &beats->item[odd->id];
    if (b->learned > 0 &&
        (b->part != odd->part || b->learn[b->learned - 1] != odd->from_ns)) {
        b->learned = 0;
    }
    size_t capacity = b->learn_capacity;
    if (!bl_grow(&b->learn, &capacity, (size_t)b->learned + 2,
                 sizeof(*b->learn), (size_t)2 * LEARN)) {
        return BL_NOMEM;
    }
    b->learn_capacity = (uint32_t)capacity;
    if (b->learned == 0) {
        b->learn[b->learned++] = odd->from_ns;
        b->first_ns = odd->from_ns;
        b->part = odd->part;
    }
    b->learn[b->learned++] = odd->until_ns;
    if (b->learned <= LEARN) {
        return BL_OK;
    }
    learn(beats, b);
    if (!b->cyclic && ++b->attempts < ATTEMPTS) {
        b->learned = 0; /* a recording may begin with damage */
        return BL_OK;
    }
    return judge_learned(beats, odd->id);
}

enum bl_status bl_beats_odd(struct bl_beats *beats, struct bl_beat_band *band,
                            const struct bl_beat_odd *odd)
{
    struct bl_beat *b = &beats->item[odd->id];
    enum bl_status status = BL_OK;
    if (b->learned <= LEARN) {
        status = take_learned(beats, odd);
        if (b->learned <= LEARN) {
            return status;
        }
    } else if (b->cyclic) {
        status = judge(beats, odd);
        b->last_ns = bl_beat_later(b->last_ns, odd->until_ns);
        if (b->odd >= ASKED_NO_MORE && bl_beat_is_habit(b)) {
            b->cyclic = false;
        }
    }
    set_band(band, b);
    return status;
}

bool bl_beats_has_learned(const struct bl_beats *beats, size_t id)
{
    return beats->item[id].learned > LEARN;
}

void bl_beats_until(struct bl_beats *beats, size_t id, int64_t last_ns)
{
    if (id >= beats->count) {
        return; /* there was no memory for it */
    }
    struct bl_beat *b = &beats->item[id];
    b->last_ns = bl_beat_later(b->last_ns, last_ns);
    b->state = AS_USUAL;
    b->member = 0;
}

void bl_beats_free(struct bl_beats *beats)
{
    for (size_t i = 0; i < beats->count; i++) {
        bl_free(beats->item[i].learn);
    }
    bl_free(beats->silence);
    bl_free(beats->item);
    bl_free(beats->group);
    bl_free(beats->member);
    *beats = (struct bl_beats){0};
}
