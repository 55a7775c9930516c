/* SPDX-License-Identifier: MIT */
/*
 * Runs of few applications as two recorders see them: presses and releases, the
 * one at the air by a common delay later, some missing, stabs that only one
 * has, recorders that start and end at different times. Truth is known.
 */
#ifndef BRAKELAG_TESTS_UNIT_CLOCK_SIGNED_PLANT_H
#define BRAKELAG_TESTS_UNIT_CLOCK_SIGNED_PLANT_H

#include "testing.h"

#include "base/random.h"
#include "clock/signed.h"

enum { FEW_MOST = 10 };

struct few_events {
    double on_a[FEW_MOST], off_a[FEW_MOST], on_b[FEW_MOST], off_b[FEW_MOST];
    struct bl_signed_events a, b;
    double offset, drift; /* b = a + offset + drift a */
    double scatter;
};

/* `even`: pauses alike within this, seconds, and holds within 0.2 s; 0: each
   pause is at least 0.1 s apart from every other. */
struct few_wanted {
    size_t applications;
    double even, missing, stabs;
};

struct few_found {
    size_t runs, tied, wrong, within_2u;
};

static inline double few_between(struct bl_random *random, double low,
                                 double high)
{
    return low + (high - low) * bl_random_uniform(random);
}

static inline int few_ascending(const void *left, const void *right)
{
    const double *a = left;
    const double *b = right;
    return (*a > *b) - (*a < *b);
}

static inline double few_pause(struct bl_random *random,
                               const struct few_wanted *wanted,
                               const double *before, size_t n, double usual)
{
    if (wanted->even > 0) {
        return usual + few_between(random, -wanted->even, wanted->even);
    }
    for (;;) {
        const double pause = few_between(random, 5, 20);
        bool apart = true;
        for (size_t i = 0; i < n; i++) {
            apart = apart && fabs(before[i] - pause) >= 0.1;
        }
        if (apart) {
            return pause;
        }
    }
}

static inline void few_stab(struct bl_random *random,
                            struct bl_signed_events *side, double *on,
                            double *off)
{
    const double at = few_between(random, side->from_s, side->to_s - 1);
    on[side->ons++] = at;
    off[side->offs++] = at + few_between(random, 0.2, 0.9);
}

static inline void few_make(struct few_events *e, struct bl_random *random,
                            const struct few_wanted *wanted)
{
    double pause[FEW_MOST];
    *e = (struct few_events){.offset = few_between(random, -30, 30),
                             .drift = few_between(random, -100e-6, 100e-6),
                             .scatter = few_between(random, 0.001, 0.005)};
    e->a.on = e->on_a;
    e->a.off = e->off_a;
    e->b.on = e->on_b;
    e->b.off = e->off_b;
    const double later = few_between(random, 0, 0.8);
    const double usual = few_between(random, 6, 15);
    double t = 0;
    for (size_t i = 0; i < wanted->applications; i++) {
        const double end =
            t + (wanted->even > 0 ? 3 + few_between(random, -0.1, 0.1)
                                  : few_between(random, 1.5, 4));
        const double b = t + e->offset + e->drift * t +
                         e->scatter * bl_random_normal(random);
        const double back = end + e->offset + e->drift * end + later +
                            0.010 * bl_random_normal(random);
        if (bl_random_uniform(random) >= wanted->missing) {
            e->on_a[e->a.ons++] = t;
            e->off_a[e->a.offs++] = end;
        }
        if (bl_random_uniform(random) >= wanted->missing) {
            e->on_b[e->b.ons++] = b;
            e->off_b[e->b.offs++] = back;
        }
        pause[i] = few_pause(random, wanted, pause, i, usual);
        t += pause[i];
    }
    e->a.from_s = -few_between(random, 2, 30);
    e->a.to_s = t + few_between(random, 0, 20);
    e->b.from_s = e->offset - few_between(random, 2, 30);
    e->b.to_s = e->offset + t + few_between(random, 0, 20);
    if (bl_random_uniform(random) < wanted->stabs) {
        few_stab(random, &e->a, e->on_a, e->off_a);
    }
    if (bl_random_uniform(random) < wanted->stabs) {
        few_stab(random, &e->b, e->on_b, e->off_b);
    }
    qsort(e->on_a, e->a.ons, sizeof(*e->on_a), few_ascending);
    qsort(e->off_a, e->a.offs, sizeof(*e->off_a), few_ascending);
    qsort(e->on_b, e->b.ons, sizeof(*e->on_b), few_ascending);
    qsort(e->off_b, e->b.offs, sizeof(*e->off_b), few_ascending);
}

/* Wrong: off by more than 5 u and 20 ms anywhere between the outermost
   presses; within: by 2 u at most, at both ends and in the middle. */
static inline struct few_found few_runs(size_t runs, uint64_t seed,
                                        const struct few_wanted *wanted)
{
    struct bl_random random;
    struct few_found found = {0};
    bl_random_seed(&random, seed);
    for (size_t i = 0; i < runs; i++) {
        struct few_events e;
        struct bl_pair_result r;
        few_make(&e, &random, wanted);
        struct bl_pair_options o = bl_pair_defaults();
        o.u_event_s = 0.003;
        assert_int_equal(bl_clock_pair_signed(&e.a, &e.b, &o, &r, NULL), BL_OK);
        found.runs++;
        if (r.outcome != BL_PAIR_TIED) {
            continue;
        }
        found.tied++;
        bool wrong = false;
        const double at[] = {r.first_s, r.centre_s, r.last_s};
        size_t within = 0;
        for (size_t k = 0; k < COUNT_OF(at); k++) {
            const double error = fabs(r.offset_s - e.offset - e.drift * at[k]);
            const double u =
                hypot(r.u_offset_s, r.u_drift * (at[k] - r.centre_s));
            wrong = wrong || error > fmax(5 * u, 0.020);
            within += error <= 2 * u;
        }
        found.wrong += wrong;
        found.within_2u += within == COUNT_OF(at);
    }
    print_message("%zu applications, pauses %s, missing %.2f, stabs %.2f: %zu "
                  "runs, %zu tied, %zu wrong, %zu within 2 u\n",
                  wanted->applications,
                  wanted->even > 0 ? "nearly even" : "0.1 s apart or more",
                  wanted->missing, wanted->stabs, found.runs, found.tied,
                  found.wrong, found.within_2u);
    return found;
}

#endif
