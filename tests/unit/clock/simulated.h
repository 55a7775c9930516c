/* SPDX-License-Identifier: MIT */
/*
 * Pairs of event lists with known truth, as two recorders of one trial would
 * have them: what one driver did, seen by both with scatter, some of it
 * missing on either side, some of it false. Figures of clocks and recorders
 * are common practice (20 to 100 ppm between crystals, milliseconds between
 * edges).
 */
#ifndef BRAKELAG_TESTS_UNIT_CLOCK_SIMULATED_H
#define BRAKELAG_TESTS_UNIT_CLOCK_SIMULATED_H

#include "testing.h"

#include "base/random.h"
#include "clock/pair.h"

enum { MOST = 120 };

struct simulated {
    double a[MOST], b[MOST];
    size_t na, nb;
    double offset, drift; /* b = a + offset + drift a */
    size_t true_pairs;    /* events that both lists hold */
    bool periodic;
};

static inline double between(struct bl_random *random, double low, double high)
{
    return low + (high - low) * bl_random_uniform(random);
}

static inline int ascending(const void *left, const void *right)
{
    const double *a = left;
    const double *b = right;
    return (*a > *b) - (*a < *b);
}

/* What the driver did: applications with irregular pauses, now and then a
   stab or two before the next. */
static inline size_t driver(struct bl_random *random, double *t, bool *stab,
                            bool periodic)
{
    const size_t wanted = 2 + (size_t)bl_random_below(random, 24);
    const double pause = between(random, 2, 25);
    const double stabs = between(random, 0, 0.3);
    double now = between(random, 0, 30);
    size_t n = 0;
    for (size_t i = 0; i < wanted; i++) {
        stab[n] = false;
        t[n++] = now;
        now +=
            periodic ? pause : pause * (0.3 + 1.4 * bl_random_uniform(random));
        while (!periodic && bl_random_uniform(random) < stabs && n < 60) {
            stab[n] = true;
            t[n++] = now;
            now += between(random, 0.3, 2.5);
        }
    }
    return n;
}

static inline void add_false(struct bl_random *random, double *list, size_t *n,
                             double share)
{
    const double first = list[0];
    const double last = list[*n - 1];
    const size_t real = *n;
    for (size_t i = 0; i < real && *n < MOST; i++) {
        if (bl_random_uniform(random) < share) {
            list[(*n)++] = between(random, first - 5, last + 5);
        }
    }
    qsort(list, *n, sizeof(*list), ascending);
}

static inline void simulate(struct simulated *s, struct bl_random *random)
{
    double t[MOST];
    bool stab[MOST];
    *s = (struct simulated){0};
    s->periodic = bl_random_below(random, 12) == 0;
    s->offset = between(random, -10, 10);
    s->drift = between(random, -100e-6, 100e-6);
    const size_t n = driver(random, t, stab, s->periodic);
    const double noise = between(random, 0.001, 0.005);
    const double missing_a = between(random, 0, 0.35);
    const double missing_b = between(random, 0, 0.35);
    const size_t late_a = bl_random_below(random, 3) == 0
                              ? (size_t)bl_random_below(random, 4)
                              : 0;
    const size_t late_b = bl_random_below(random, 3) == 0
                              ? (size_t)bl_random_below(random, 4)
                              : 0;
    for (size_t i = 0; i < n; i++) {
        const bool in_a = i >= late_a && bl_random_uniform(random) >= missing_a;
        /* A stab often does not get as far as the air. */
        const double lost = stab[i] ? 0.5 : missing_b;
        const bool in_b = i >= late_b && bl_random_uniform(random) >= lost;
        if (in_a) {
            s->a[s->na++] = t[i];
        }
        if (in_b) {
            s->b[s->nb++] = t[i] + s->offset + s->drift * t[i] +
                            noise * bl_random_normal(random);
        }
        s->true_pairs += in_a && in_b;
    }
    if (s->na > 0) {
        add_false(random, s->a, &s->na, between(random, 0, 0.5));
    }
    if (s->nb > 0) {
        qsort(s->b, s->nb, sizeof(*s->b), ascending);
        add_false(random, s->b, &s->nb, between(random, 0, 0.5));
    }
}

struct tally {
    int cases, aligned, within_3u, wrong, refused, few, chance, ambiguous;
    int good, good_aligned; /* four or more true pairs, not periodic */
};

/* The worst of the mapping's errors at start, middle and end of the list. */
static inline void judge_case(const struct simulated *s,
                              const struct bl_pair_result *r,
                              struct tally *tally)
{
    const bool good = s->true_pairs >= 4 && !s->periodic;
    tally->cases++;
    tally->good += good;
    if (r->outcome != BL_PAIR_TIED) {
        tally->refused++;
        tally->few += r->outcome == BL_PAIR_TOO_FEW;
        tally->chance += r->outcome == BL_PAIR_CHANCE;
        tally->ambiguous += r->outcome == BL_PAIR_AMBIGUOUS;
        return;
    }
    const double at[] = {s->a[0], 0.5 * (s->a[0] + s->a[s->na - 1]),
                         s->a[s->na - 1]};
    bool within = true;
    bool wrong = false;
    for (size_t i = 0; i < COUNT_OF(at); i++) {
        const double dx = at[i] - r->centre_s;
        const double error =
            fabs(r->offset_s + r->drift * dx - s->offset - s->drift * at[i]);
        const double u = hypot(r->u_offset_s, r->u_drift * dx);
        within = within && error <= 3 * u;
        wrong = wrong || error > fmax(5 * u, 0.020);
    }
    tally->aligned++;
    tally->good_aligned += good;
    tally->within_3u += within;
    tally->wrong += wrong;
}

/* A driver who counts: presses 7 s apart, give or take `spread`; some not seen
   on either side. What fits one press further on is wrong by 7 s. */
static inline void simulate_nearly_even(struct simulated *s,
                                        struct bl_random *random, double spread)
{
    *s = (struct simulated){.offset = between(random, -10, 10),
                            .drift = between(random, -100e-6, 100e-6)};
    const size_t n = 6 + (size_t)bl_random_below(random, 8);
    const size_t late_a = (size_t)bl_random_below(random, 3);
    const size_t late_b = (size_t)bl_random_below(random, 3);
    const double noise = between(random, 0.001, 0.005);
    double t = 5;
    for (size_t i = 0; i < n; i++) {
        const bool in_a = i >= late_a && bl_random_uniform(random) >= 0.15;
        const bool in_b = i >= late_b && bl_random_uniform(random) >= 0.15;
        if (in_a) {
            s->a[s->na++] = t;
        }
        if (in_b) {
            s->b[s->nb++] =
                t + s->offset + s->drift * t + noise * bl_random_normal(random);
        }
        s->true_pairs += in_a && in_b;
        t += 7 + between(random, -spread, spread);
    }
}

static inline struct tally run_nearly_even(int cases, double spread,
                                           uint64_t seed)
{
    struct bl_random random;
    bl_random_seed(&random, seed);
    const struct bl_pair_options options = bl_pair_defaults();
    struct tally tally = {0};
    for (int i = 0; i < cases; i++) {
        struct simulated s;
        struct bl_pair_result r;
        simulate_nearly_even(&s, &random, spread);
        assert_int_equal(bl_clock_pair(&(struct bl_moments){s.a, s.na},
                                       &(struct bl_moments){s.b, s.nb},
                                       &options, &r, NULL),
                         BL_OK);
        judge_case(&s, &r, &tally);
    }
    print_message("pauses of 7 s +- %.2f s: %d pairs of lists, %d aligned (%d "
                  "within 3 u), %d refused, %d wrong; of %d with four or more "
                  "pairs in common %d aligned\n",
                  spread, tally.cases, tally.aligned, tally.within_3u,
                  tally.refused, tally.wrong, tally.good, tally.good_aligned);
    return tally;
}

static inline void check_nearly_even(int cases)
{
    static const double spreads[] = {0.01, 0.02, 0.03, 0.05, 0.1};
    for (size_t i = 0; i < COUNT_OF(spreads); i++) {
        const struct tally t = run_nearly_even(cases, spreads[i], 31 + i);
        assert_true(t.within_3u >= 0.98 * t.aligned);
        assert_int_equal(t.wrong, 0);
    }
    /* What a driver without a watch does is not even. */
    const struct tally t = run_nearly_even(cases, 0.3, 30);
    assert_true(t.within_3u >= 0.99 * t.aligned);
    assert_int_equal(t.wrong, 0);
    assert_true(t.good_aligned >= 0.9 * t.good);
}

static inline struct tally run_simulated(int cases, uint64_t seed)
{
    struct bl_random random;
    bl_random_seed(&random, seed);
    const struct bl_pair_options options = bl_pair_defaults();
    struct tally tally = {0};
    for (int i = 0; i < cases; i++) {
        struct simulated s;
        struct bl_pair_result r;
        simulate(&s, &random);
        assert_int_equal(bl_clock_pair(&(struct bl_moments){s.a, s.na},
                                       &(struct bl_moments){s.b, s.nb},
                                       &options, &r, NULL),
                         BL_OK);
        judge_case(&s, &r, &tally);
    }
    print_message("%d pairs of lists: %d aligned (%d within 3 u), %d refused "
                  "(%d too few, %d by chance, %d ambiguous), %d wrong; of %d "
                  "with four or more pairs in common %d aligned\n",
                  tally.cases, tally.aligned, tally.within_3u, tally.refused,
                  tally.few, tally.chance, tally.ambiguous, tally.wrong,
                  tally.good, tally.good_aligned);
    return tally;
}

/* What is promised (docs/methods/clocks.md). */
static inline void check_tally(const struct tally *tally)
{
    assert_true(tally->within_3u >= 0.99 * tally->aligned);
    assert_int_equal(tally->wrong, 0);
    assert_true(tally->good_aligned >= 0.9 * tally->good);
    assert_true(tally->good > tally->cases / 2);
}

#endif
