/* SPDX-License-Identifier: MIT */
/*
 * Logs whose step is larger than their noise: 0.05 bar, 1 psi, 0.1 bar. Rises
 * and falls are drawn here, rounded, and read as the lag room reads them; the
 * time at which the curve itself passes the true share is found by halving.
 */
#include "testing.h"

#include "trace.h"

enum { FIGURES = 5, MOST = 8000 };

/* A chamber that fills through a hose; where `shelf_s` > 0 it stays at
   `shelf_kpa` for so long. */
struct press {
    double rest, hold, rise_tau_s, fall_tau_s, shelf_kpa, shelf_s;
};

static const double RELEASE_S = 4, END_S = 6.4;

static double rising_part(const struct press *p, double t)
{
    const double height = p->hold - p->rest;
    const double until = p->shelf_s > 0
                             ? -p->rise_tau_s * log(1 - p->shelf_kpa / height)
                             : INFINITY;
    if (t > until) {
        t = fmax(until, t - p->shelf_s);
    }
    return t > 0 ? height * (1 - exp(-t / p->rise_tau_s)) : 0;
}

static double falling_part(const struct press *p, double t)
{
    const double height = p->hold - p->rest;
    const double until =
        p->shelf_s > 0 ? p->fall_tau_s * log(height / p->shelf_kpa) : INFINITY;
    if (t > until) {
        t = fmax(until, t - p->shelf_s);
    }
    return height * exp(-fmax(t, 0) / p->fall_tau_s);
}

static double pressure(const struct press *p, double t)
{
    return p->rest +
           (t < RELEASE_S ? rising_part(p, t) : falling_part(p, t - RELEASE_S));
}

/* When the curve passes `level` between two times. */
static double passes(const struct press *p, double level, double from_s,
                     double to_s, bool up)
{
    for (unsigned i = 0; i < 60; i++) {
        const double middle = (from_s + to_s) / 2;
        *((pressure(p, middle) < level) == up ? &from_s : &to_s) = middle;
    }
    return to_s;
}

/* What is asked of each press. */
static const struct {
    const char *name;
    double share, height; /* of the hold; else above rest */
    bool up;
} asked[FIGURES] = {
    {"20 kPa", NAN, 20, true},       {"75 %", 0.75, 0, true},
    {"90 %", 0.9, 0, true},          {"90 % falling", 0.9, 0, false},
    {"10 % falling", 0.1, 0, false},
};

struct tally {
    size_t runs, covered, wrong;
    double worst, sum_u_s;
};

struct recorded {
    int64_t time_ns[MOST];
    float value[MOST];
    struct bl_samples samples;
};

static void record(struct recorded *to, const struct press *p,
                   struct recorder by, struct noise *noise)
{
    const double start_s = -1.5;
    size_t n = 0;
    for (double t = start_s + by.phase / by.rate; t < END_S && n < MOST;
         t += 1 / by.rate) {
        const double v = pressure(p, t) + by.sigma * noise_normal(noise);
        to->time_ns[n] = llround((t - start_s) * 1e9);
        to->value[n++] = (float)(by.step * floor(v / by.step + 0.5));
    }
    to->samples = (struct bl_samples){.time_ns = to->time_ns,
                                      .value = to->value,
                                      .count = n,
                                      .interval_ns = llround(1e9 / by.rate),
                                      .resolution = by.step};
}

static double between(struct noise *noise, double low, double high)
{
    return low * pow(high / low, noise_uniform(noise));
}

static struct press draw(struct noise *noise, bool light, bool shelf)
{
    struct press p = {
        .rest = 4 * noise_uniform(noise) - 2,
        .hold = light ? between(noise, 90, 200) : between(noise, 500, 850),
        .rise_tau_s = between(noise, 0.05, 0.4),
        .fall_tau_s = between(noise, 0.05, 0.4),
    };
    if (shelf) {
        p.shelf_kpa = between(noise, 15, light ? 70 : 120);
        p.shelf_s = between(noise, 0.02, 0.4);
    }
    return p;
}

/* As docs/methods/uncertainty.md adds them up. */
static double u_of(const struct bl_crossing *at, double u_rest, double u_hold,
                   double share)
{
    const double f = isnan(share) ? 0 : share;
    return sqrt(
        at->u_noise_s * at->u_noise_s + at->u_sampling_s * at->u_sampling_s +
        at->u_resolution_s * at->u_resolution_s +
        ((1 - f) * (1 - f) * u_rest * u_rest + f * f * u_hold * u_hold) /
            (at->slope * at->slope));
}

static void read_one(const struct recorded *log, const struct press *p,
                     struct tally tally[FIGURES])
{
    const struct bl_samples *s = &log->samples;
    const int64_t zero_ns = 1500000000; /* the press */
    const int64_t release_ns = zero_ns + llround(RELEASE_S * 1e9);
    const struct bl_rest rest = bl_rest_before(
        s, 0, zero_ns - 100000000, 300000000, INT64_C(10000000000), 1);
    if (!rest.known) {
        return; /* it lies between two steps */
    }
    const struct bl_hold hold =
        bl_hold_settled(s, zero_ns, release_ns, rest.value, rest.noise);
    if (!hold.settled) {
        return;
    }
    const double band = fmax(5 * rest.noise, 2 * s->resolution);
    const double full = hold.value - rest.value;
    for (size_t i = 0; i < FIGURES; i++) {
        const double share = asked[i].share;
        const double height = isnan(share) ? asked[i].height : share * full;
        /* Too near to rest or hold: the lag room gives no figure. */
        if (height < fmax(5 * rest.noise, 3 * s->resolution) ||
            full - height < 2.5 * rest.noise) {
            continue;
        }
        const bool up = asked[i].up;
        const struct bl_crossing at =
            up ? bl_rising(s, zero_ns - 500000000, INT64_MAX,
                           rest.value + height, rest.noise, band)
               : bl_last_falling(s, release_ns - 500000000, INT64_MAX,
                                 rest.value + height, rest.noise, band);
        assert_true(at.found);
        const double true_height =
            isnan(share) ? height : share * (p->hold - p->rest);
        const double true_s =
            up ? passes(p, p->rest + true_height, 0, RELEASE_S, true)
               : passes(p, p->rest + true_height, RELEASE_S, 9, false);
        const double error = 1e-9 * (double)(at.time_ns - zero_ns) - true_s;
        const double u = u_of(&at, rest.u, hold.u, share);
        tally[i].runs++;
        tally[i].covered += fabs(error) <= 2 * u;
        tally[i].wrong += fabs(error) > 4 * u;
        tally[i].worst = fmax(tally[i].worst, fabs(error) / u);
        tally[i].sum_u_s += u;
    }
}

static void run(bool light, bool shelf)
{
    enum { EACH = 10 };
    static const double steps[] = {5, 6.894757, 10};
    static const double shares[] = {0, 0.05, 0.15, 0.3}; /* noise of a step */
    static const double rates[] = {50, 100, 200, 500, 1000};
    static struct recorded log;
    struct noise noise = {20261129};
    size_t all = 0;
    size_t wrong = 0;
    for (size_t k = 0; k < COUNT_OF(steps); k++) {
        struct tally tally[FIGURES] = {{0}};
        for (size_t i = 0; i < COUNT_OF(shares) * COUNT_OF(rates) * EACH; i++) {
            const struct press p = draw(&noise, light, shelf);
            const struct recorder by = {
                .rate = rates[i % COUNT_OF(rates)],
                .phase = noise_uniform(&noise),
                .sigma = steps[k] * shares[i / EACH % COUNT_OF(shares)],
                .step = steps[k]};
            record(&log, &p, by, &noise);
            read_one(&log, &p, tally);
        }
        for (size_t i = 0; i < FIGURES; i++) {
            const struct tally *t = &tally[i];
            if (t->runs == 0) {
                continue;
            }
            print_message("%-5s %-6s %4.1f kPa %-12s %4zu: u %5.1f ms, inside "
                          "%5.1f %%, beyond 4 u %zu, worst %.1f u\n",
                          light ? "light" : "full", shelf ? "shelf" : "",
                          steps[k], asked[i].name, t->runs,
                          1e3 * t->sum_u_s / (double)t->runs,
                          100.0 * (double)t->covered / (double)t->runs,
                          t->wrong, t->worst);
            assert_true((double)t->covered >= 0.93 * (double)t->runs);
            /* A shelf between two samples shows on none of them. */
            assert_true(t->wrong * 100 <= t->runs);
            all += t->runs;
            wrong += t->wrong;
        }
    }
    assert_true(wrong * 200 <= all);
}

static void test_light(void **state)
{
    (void)state;
    run(true, false);
}

static void test_full(void **state)
{
    (void)state;
    run(false, false);
}

static void test_shelves(void **state)
{
    (void)state;
    run(true, true);
    run(false, true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_light),
        cmocka_unit_test(test_full),
        cmocka_unit_test(test_shelves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
