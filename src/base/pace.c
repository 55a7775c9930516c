/* SPDX-License-Identifier: MIT */
/*
 * Method: docs/methods/time.md. The usual interval is the median over spans of
 * many rows, so that neither coarse stamps nor rows that come in bursts bend
 * it; the scatter is 1.4826 times the median distance of single intervals from
 * it (Rousseeuw and Croux 1993 on the constant).
 */
#include "base/pace.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <stdlib.h>

/* Intervals of one look; rows of a span; fewer stamps say nothing, or
   nothing of the spread. */
enum { LEARN = 2048, SPAN = 64, LEAST = 8, LEAST_SPREAD = 100 };
/* So many of a kind and size, and one row in so many, are a habit. */
enum { HABIT_LEAST = 16, HABIT_ROWS = 100 };

const char *bl_time_kind_name(enum bl_time_kind kind)
{
    static const char *const names[] = {"long-interval", "close-stamps",
                                        "sorted-in", "jump-back"};
    return names[kind];
}

static int64_t difference(int64_t a, int64_t b)
{
    /* Stamps may lie anywhere in the range of int64. */
    const uint64_t by = (uint64_t)a - (uint64_t)b;
    if (a < b) {
        return (uint64_t)b - (uint64_t)a > (uint64_t)INT64_MAX
                   ? -INT64_MAX
                   : -(int64_t)((uint64_t)b - (uint64_t)a);
    }
    return by > (uint64_t)INT64_MAX ? INT64_MAX : (int64_t)by;
}

static int64_t sum(int64_t a, int64_t b)
{
    return a > INT64_MAX - b ? INT64_MAX : a + b; /* neither is negative */
}

/* Size in steps of a factor of root 2, of one half of the interval on. */
static size_t size_of(const struct bl_pace *p, int64_t off_ns)
{
    const double ratio =
        p->interval_ns > 0 ? (double)off_ns / (double)p->interval_ns : 1;
    const double step = 2 * log2(ratio) + 2;
    if (!(step > 0)) {
        return 0;
    }
    return step >= BL_PACE_SIZES - 1 ? BL_PACE_SIZES - 1 : (size_t)step;
}

/* Does the recorder do this throughout? What is larger counts too. */
static bool is_habit(const struct bl_pace *p, const struct bl_time_place *place)
{
    if (place->kind == BL_TIME_BACK) {
        return false;
    }
    const size_t size = size_of(p, place->off_ns);
    uint64_t count = 0;
    for (size_t i = size > 0 ? size - 1 : 0; i < BL_PACE_SIZES; i++) {
        count += p->size[place->kind][i];
    }
    return count >= HABIT_LEAST && count >= p->rows / HABIT_ROWS;
}

static void drop_habits(struct bl_pace *p)
{
    size_t kept = 0;
    for (size_t i = 0; i < p->found.places; i++) {
        if (!is_habit(p, &p->found.place[i])) {
            p->found.place[kept++] = p->found.place[i];
        }
    }
    p->found.places = kept;
}

enum bl_status bl_time_places_add(struct bl_time_places *places,
                                  const struct bl_time_place *place)
{
    if (places->places >= BL_LIMIT_DAMAGES) {
        struct bl_time_place *last = &places->place[places->places - 1];
        places->more++;
        last->until_ns = INT64_MAX;
        last->rows += place->rows;
        last->off_ns = sum(last->off_ns, place->off_ns);
        return BL_OK;
    }
    if (!bl_grow(&places->place, &places->capacity, places->places + 1,
                 sizeof(*places->place), BL_LIMIT_DAMAGES)) {
        return BL_NOMEM;
    }
    places->place[places->places++] = *place;
    return BL_OK;
}

static void add(struct bl_pace *p, const struct bl_time_place *place)
{
    p->size[place->kind][size_of(p, place->off_ns)]++;
    if (p->found.places >= BL_LIMIT_DAMAGES) {
        drop_habits(p);
    }
    if (bl_time_places_add(&p->found, place) != BL_OK) {
        p->failed = true;
    }
}

/* So many intervals of rows that the text's damage left out may be off by one:
   with a line end two rows become one line. */
static const double ONE_ROW = 1.5;

/* By how much `gone_ns` is more than so many rows take. */
static int64_t step_of(const struct bl_pace *p, int64_t gone_ns, uint64_t rows,
                       bool skipped)
{
    const double step = (double)gone_ns - (double)rows * (double)p->interval_ns;
    const bool explained =
        skipped && fabs(step) <= ONE_ROW * (double)p->interval_ns;
    return explained ? 0 : (int64_t)fmax(fmin(step, 9e18), -9e18);
}

static void close_place(struct bl_pace *p)
{
    if (p->open &&
        (p->now.kind == BL_TIME_SORTED || p->now.off_ns > p->tolerance_ns)) {
        add(p, &p->now);
    }
    p->open = false;
}

static void open_place(struct bl_pace *p)
{
    p->open = true;
    p->open_ns = p->last_ns;
    p->open_rows = 0;
}

/* The stamp is behind the one before it in the file. */
static void step_back(struct bl_pace *p, int64_t time_ns, int64_t step_ns)
{
    if (!p->open || p->now.kind != BL_TIME_SORTED) {
        close_place(p);
        open_place(p);
        p->now = (struct bl_time_place){.kind = BL_TIME_SORTED,
                                        .from_ns = time_ns,
                                        .until_ns = p->newest_ns,
                                        .part = p->part};
    }
    p->now.from_ns = time_ns < p->now.from_ns ? time_ns : p->now.from_ns;
    p->now.off_ns = sum(p->now.off_ns, sum(p->interval_ns, -step_ns));
    p->now.rows++;
}

static void close_stamp(struct bl_pace *p, int64_t time_ns, int64_t step_ns)
{
    if (!p->open) {
        open_place(p);
        p->now = (struct bl_time_place){.kind = BL_TIME_CLOSE,
                                        .from_ns = p->last_ns,
                                        .rows = 1,
                                        .part = p->part};
    }
    p->now.until_ns = time_ns;
    p->now.off_ns = sum(p->now.off_ns, p->interval_ns - step_ns);
    p->now.rows++;
}

static void judge(struct bl_pace *p, int64_t time_ns, uint32_t skipped)
{
    p->rows++;
    if (!p->any) {
        p->any = true;
        p->last_ns = p->newest_ns = time_ns;
        return;
    }
    const int64_t step_ns = difference(time_ns, p->last_ns);
    const bool back = step_ns < 0;
    const bool close = !back && step_ns < p->interval_ns - step_ns;
    const bool apart = step_ns - p->interval_ns > p->tolerance_ns;
    p->block_rows++;
    p->block_odd += back || close || apart;
    p->open_rows += (uint64_t)skipped + 1;
    if (back) {
        step_back(p, time_ns, step_ns);
        p->open_rows = p->open_rows > 0 ? p->open_rows : (uint64_t)skipped + 1;
    } else if (p->open && p->now.kind == BL_TIME_SORTED) {
        if (time_ns > p->newest_ns) {
            /* That it is far from the one before is its return. */
            p->now.step_ns = step_of(p, difference(time_ns, p->open_ns),
                                     p->open_rows, skipped > 0);
            close_place(p);
        } else {
            p->now.rows++;
        }
    } else if (close) {
        close_stamp(p, time_ns, step_ns);
    } else {
        p->now.step_ns = -p->now.off_ns;
        close_place(p);
        if (apart) {
            const struct bl_time_place place = {
                .kind = BL_TIME_LONG,
                .from_ns = p->last_ns,
                .until_ns = time_ns,
                .off_ns = step_ns - p->interval_ns,
                .step_ns =
                    step_of(p, step_ns, (uint64_t)skipped + 1, skipped > 0),
                .part = p->part};
            add(p, &place);
        }
    }
    p->last_ns = time_ns;
    p->newest_ns = time_ns > p->newest_ns ? time_ns : p->newest_ns;
}

static int by_size(const void *left, const void *right)
{
    const double a = *(const double *)left;
    const double b = *(const double *)right;
    return (a > b) - (a < b);
}

/* Coarse stamps put most distances on few values, and the median on one that
   may be far too small: then what 95 % keep to (1.96 standard deviations) says
   more. Half an interval and more is no scatter but damage, or bursts. */
static double scatter(double *distance, size_t n, double interval)
{
    const double middle = 1.4826 * bl_median(distance, n);
    qsort(distance, n, sizeof(*distance), by_size);
    const double most = distance[n - 1 - n / 20];
    return n < LEAST_SPREAD || most >= interval / 2 ? middle
                                                    : fmax(middle, most / 1.96);
}

/* Root mean square of the distances that are less than the interval: what is
   more is damage. Where the steps of the stamps hide the scatter of most rows,
   the few that are off by a step still tell of it, and a percentile does not.
 */
static double spread_of(const double *distance, size_t n, double interval)
{
    double sum_of = 0;
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        if (distance[i] < interval) {
            sum_of += distance[i] * distance[i];
            count++;
        }
    }
    return count > 0 ? sqrt(sum_of / (double)count) : 0;
}

/* Usual interval and scatter of the stamps that were kept. False: they tell
   none. */
static bool learn(struct bl_pace *p)
{
    const size_t n = p->learned;
    const size_t span = n / 8 < SPAN ? (n / 8 > 0 ? n / 8 : 1) : SPAN;
    double *step = n < LEAST ? NULL : bl_alloc(n, sizeof(*step));
    if (step == NULL) {
        p->failed = p->failed || n >= LEAST;
        return false;
    }
    for (size_t i = span; i < n; i++) {
        step[i - span] =
            (double)difference(p->learn[i], p->learn[i - span]) / (double)span;
    }
    const double interval = bl_median(step, n - span);
    for (size_t i = 1; i < n; i++) {
        step[i - 1] =
            fabs((double)difference(p->learn[i], p->learn[i - 1]) - interval);
    }
    const double spread = spread_of(step, n - 1, interval);
    const double jitter = scatter(step, n - 1, interval);
    bl_free(step);
    if (!(interval >= 1) || interval > 1e17) {
        return false;
    }
    p->known = true;
    p->interval_ns = (int64_t)llround(interval);
    p->jitter_ns = (int64_t)llround(fmin(jitter, 1e16));
    /* Without a pace of its own (values written on change, rows in bursts) a
       recorder has intervals of any length: of 20,000 exponential ones the
       longest is ten times the mean. */
    const double scatters = jitter > 0.4 * interval ? 12 : 5;
    /* Two stamps that were rounded apart, and what they scatter beside. */
    const double written = 5 * spread + 1.5 * (double)p->resolution_ns;
    p->tolerance_ns = (int64_t)fmax(
        interval / 2, fmax(scatters * (double)p->jitter_ns, written));
    return true;
}

static void judge_learned(struct bl_pace *p)
{
    const size_t n = p->learned;
    p->learned = 0;
    for (size_t i = 0; i < n; i++) {
        judge(p, p->learn[i], p->learn_skipped[i]);
    }
    p->block_rows = p->block_odd = 0;
}

/* The buffer is full, or no more stamps will come. What tells no interval even
   so (one and the same stamp throughout) is judged by the one before. */
static void take_learned(struct bl_pace *p)
{
    if (learn(p) || p->known) {
        judge_learned(p);
    }
    p->learned = 0;
}

static void feed(struct bl_pace *p, int64_t time_ns)
{
    const uint32_t skipped = p->skipped;
    p->skipped = 0;
    if (p->known && p->learned == 0 && p->block_rows < LEARN) {
        judge(p, time_ns, skipped);
        return;
    }
    if (p->learned == 0 && p->known && 2 * p->block_odd <= p->block_rows) {
        p->block_rows = p->block_odd = 0;
        judge(p, time_ns, skipped);
        return;
    }
    /* Not known yet, or most of the last block was off: another pace. */
    if (p->learn == NULL) {
        p->learn = bl_alloc(LEARN, sizeof(*p->learn));
        p->learn_skipped = bl_alloc(LEARN, sizeof(*p->learn_skipped));
        if (p->learn == NULL || p->learn_skipped == NULL) {
            bl_free(p->learn);
            bl_free(p->learn_skipped);
            p->learn = NULL;
            p->learn_skipped = NULL;
            p->failed = true;
            return;
        }
    }
    if (p->learned == 0) {
        close_place(p);
    }
    p->learn_skipped[p->learned] = skipped;
    p->learn[p->learned++] = time_ns;
    if (p->learned == LEARN) {
        take_learned(p);
    }
}

void bl_pace_skip(struct bl_pace *pace, uint64_t rows)
{
    const uint64_t all = pace->skipped + rows;
    pace->skipped = all > UINT32_MAX ? UINT32_MAX : (uint32_t)all;
}

/* How many from the first on follow each other as expected: nearly all do. */
static size_t in_step(struct bl_pace *pace, const int64_t *time_ns,
                      size_t count)
{
    if (!pace->known || !pace->any || pace->open || pace->learned > 0) {
        return 0;
    }
    const uint64_t least = ((uint64_t)pace->interval_ns + 1) / 2;
    const uint64_t most =
        (uint64_t)pace->interval_ns + (uint64_t)pace->tolerance_ns;
    const uint64_t room =
        pace->block_rows < LEARN ? LEARN - pace->block_rows : 0;
    int64_t last_ns = pace->last_ns;
    int64_t newest_ns = pace->newest_ns;
    size_t n = 0;
    for (; n < count && n < room; n++) {
        /* Unsigned, as stamps may lie anywhere. */
        const uint64_t step = (uint64_t)time_ns[n] - (uint64_t)last_ns;
        if (time_ns[n] <= newest_ns || step < least || step > most) {
            break;
        }
        last_ns = newest_ns = time_ns[n];
    }
    pace->rows += n;
    pace->block_rows += n;
    pace->last_ns = last_ns;
    pace->newest_ns = newest_ns;
    return n;
}

void bl_pace_feed(struct bl_pace *pace, const int64_t *time_ns, size_t count)
{
    size_t i = 0;
    if (pace->skipped > 0 && count > 0) {
        feed(pace, time_ns[i++]);
    }
    while (i < count) {
        i += in_step(pace, time_ns + i, count - i);
        if (i < count) {
            feed(pace, time_ns[i++]);
        }
    }
}

void bl_pace_part(struct bl_pace *pace, int64_t time_ns)
{
    if (pace->learned > 0) {
        take_learned(pace);
    }
    close_place(pace);
    if (pace->any) {
        const struct bl_time_place place = {
            .kind = BL_TIME_BACK,
            .from_ns = pace->newest_ns,
            .until_ns = time_ns,
            .off_ns = sum(difference(pace->newest_ns, time_ns) > 0
                              ? difference(pace->newest_ns, time_ns)
                              : 0,
                          pace->interval_ns),
            .step_ns = difference(time_ns, pace->newest_ns),
            .rows = 1,
            .part = pace->part};
        add(pace, &place);
    }
    pace->any = false;
    pace->part += pace->part < UINT16_MAX;
}

static int by_time(const void *left, const void *right)
{
    const struct bl_time_place *a = left;
    const struct bl_time_place *b = right;
    if (a->from_ns != b->from_ns) {
        return a->from_ns > b->from_ns ? 1 : -1;
    }
    return (a->until_ns > b->until_ns) - (a->until_ns < b->until_ns);
}

/* Rows that were written late, or stamps that were written wrong, leave and
   come back: places so near to each other are one event (own choice: as many
   rows as a stray stamp may take to be undone). */
enum { TOGETHER_ROWS = 16 };

static int64_t magnitude(int64_t ns)
{
    return ns < 0 ? (ns < -INT64_MAX ? INT64_MAX : -ns) : ns;
}

/* What the steps of places that lie together leave of each other; the first of
   them carries it. */
static void find_moves(struct bl_time_places *places)
{
    const int64_t near_ns = places->interval_ns > INT64_MAX / TOGETHER_ROWS
                                ? INT64_MAX
                                : TOGETHER_ROWS * places->interval_ns;
    for (size_t i = 0; i < places->places;) {
        struct bl_time_place *first = &places->place[i];
        int64_t until_ns = first->until_ns;
        double step = (double)first->step_ns;
        double most = fabs(step);
        size_t k = i + 1;
        while (k < places->places && first->kind != BL_TIME_BACK &&
               places->place[k].kind != BL_TIME_BACK &&
               places->place[k].part == first->part &&
               difference(places->place[k].from_ns, until_ns) <= near_ns) {
            struct bl_time_place *p = &places->place[k++];
            step += (double)p->step_ns;
            most = fmax(most, fabs((double)p->step_ns));
            until_ns = p->until_ns > until_ns ? p->until_ns : until_ns;
            p->moved_ns = 0;
        }
        const bool undone = most > fabs(step) &&
                            fabs(step) <= ONE_ROW * (double)places->interval_ns;
        first->moved_ns =
            undone ? 0 : magnitude((int64_t)fmax(fmin(step, 9e18), -9e18));
        i = k;
    }
}

void bl_time_places_sort(struct bl_time_places *places)
{
    if (places->places > 1) {
        qsort(places->place, places->places, sizeof(*places->place), by_time);
    }
    find_moves(places);
    int64_t reach_ns = INT64_MIN;
    for (size_t i = 0; i < places->places; i++) {
        const int64_t until_ns = places->place[i].until_ns;
        reach_ns = until_ns > reach_ns ? until_ns : reach_ns;
        places->place[i].reach_ns = reach_ns;
    }
}

enum bl_status bl_pace_finish(struct bl_pace *pace, struct bl_time_places *out)
{
    if (pace->learned > 0) {
        take_learned(pace);
    }
    close_place(pace);
    drop_habits(pace);
    pace->found.interval_ns = pace->interval_ns;
    pace->found.jitter_ns = pace->jitter_ns;
    *out = pace->found;
    pace->found = (struct bl_time_places){0};
    const bool failed = pace->failed;
    bl_pace_free(pace);
    return failed ? BL_NOMEM : BL_OK;
}

void bl_pace_free(struct bl_pace *pace)
{
    bl_free(pace->learn);
    bl_free(pace->learn_skipped);
    bl_free(pace->found.place);
    pace->learn = NULL;
    pace->learn_skipped = NULL;
    pace->learned = 0;
    pace->found = (struct bl_time_places){0};
}
