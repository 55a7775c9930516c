/* SPDX-License-Identifier: MIT */
/*
 * The onset of a rise against its definition: the last moment before the
 * noise-free signal is 1 kPa above rest, found here by halving on the curve
 * itself. The curves share nothing with one another nor with the simulator.
 */
#include "testing.h"

#include "trace.h"

struct curve {
    double a, b, c, d; /* what the family makes of them */
};
typedef double (*family)(const struct curve *curve, double t);

static double straight(const struct curve *k, double t)
{
    return fmin(k->a * t, 600);
}

static double fills(const struct curve *k, double t)
{
    return 600 * (1 - exp(-t / k->a));
}

static double fills_twice(const struct curve *k, double t)
{
    return 600 * (1 - (1 + t / k->a) * exp(-t / k->a));
}

static double quadratic(const struct curve *k, double t)
{
    return fmin(20 * (t / k->a) * (t / k->a), 600);
}

static double sigmoid(const struct curve *k, double t)
{
    return 600 / (1 + exp(-(t - 0.3) / k->a));
}

static double cosine(const struct curve *k, double t)
{
    return t >= k->a ? 600 : 300 * (1 - cos(3.141592653589793 * t / k->a));
}

/* Up to the push-out pressure, held there while the chambers fill, then on. */
static double shelf(const struct curve *k, double t)
{
    const double rise_s = k->b / k->a;
    if (t < rise_s) {
        return k->a * t;
    }
    if (t < rise_s + k->c) {
        return k->b;
    }
    return k->b + (600 - k->b) * (1 - exp(-(t - rise_s - k->c) / k->d));
}

static double soft_shelf(const struct curve *k, double t)
{
    return k->b * (1 - exp(-t * k->a / k->b)) +
           (t < k->c ? 0 : 50 / k->d * (t - k->c) * (t - k->c) / k->d);
}

/* A valve that opens at some pressure of a slow pedal, and fills behind it: a
   step and a ramp through a first-order lag. */
static double creeping(const struct curve *k, double t)
{
    const double lag = k->b * (1 - exp(-t / k->b));
    return fmin(k->a * (lag / k->b) + k->c * (t - lag), 60);
}

/* A value between two, evenly on a logarithmic scale. */
static double between(struct noise *noise, double low, double high)
{
    return low * pow(high / low, noise_uniform(noise));
}

static struct curve draw(family is, struct noise *noise)
{
    struct curve k = {0};
    if (is == straight) {
        k.a = between(noise, 200, 6000);
    } else if (is == fills) {
        k.a = between(noise, 0.03, 0.5);
    } else if (is == fills_twice) {
        k.a = between(noise, 0.01, 0.1);
    } else if (is == quadratic) {
        k.a = between(noise, 0.005, 0.06);
    } else if (is == sigmoid) {
        k.a = between(noise, 0.004, 0.03);
    } else if (is == cosine) {
        k.a = between(noise, 0.05, 0.6);
    } else if (is == creeping) {
        k.a = between(noise, 2, 15);
        k.b = between(noise, 0.03, 0.15);
        k.c = between(noise, 60, 300);
    } else {
        k.a = between(noise, 500, 4000);
        k.b = between(noise, 6, 40);
        k.c = between(noise, 0.02, 0.4);
        k.d = between(noise, 0.05, 0.3);
    }
    return k;
}

static double height(family is, const struct curve *k, double t)
{
    return is == sigmoid || t > 0 ? is(k, t) : 0;
}

/* The last moment before 1 kPa: all these curves climb. */
static double onset(family is, const struct curve *k)
{
    double low = -1;
    double high = 2;
    for (unsigned i = 0; i < 60; i++) {
        const double middle = (low + high) / 2;
        *(height(is, k, middle) < 1 ? &low : &high) = middle;
    }
    return high;
}

static int by_size(const void *left, const void *right)
{
    const double a = *(const double *)left;
    const double b = *(const double *)right;
    return (a > b) - (a < b);
}

/* What is left of a short press before: from `from_s` on it vents. */
struct tail {
    double kpa, from_s, tau_s;
};

static double left_over(const struct tail *tail, double t)
{
    return tail == NULL || t < tail->from_s
               ? 0
               : tail->kpa * exp(-(t - tail->from_s) / tail->tau_s);
}

struct tally {
    size_t runs, covered, late, wrong;
    double *u;
    const struct tail *tail;
};

static void one(family is, double rate, double sigma, struct noise *noise,
                struct tally *tally, double *error)
{
    enum { COUNT = 2500 };
    const struct curve k = draw(is, noise);
    const double start_s = 1.1 + noise_uniform(noise) / 10;
    const double phase = noise_uniform(noise);
    int64_t time_ns[COUNT];
    float value[COUNT];
    for (size_t i = 0; i < COUNT; i++) {
        const double t = ((double)i + phase) / rate;
        time_ns[i] = llround(t * 1e9);
        value[i] =
            (float)(7 + height(is, &k, t - start_s) +
                    left_over(tally->tail, t) + sigma * noise_normal(noise));
    }
    const struct bl_samples samples = {.time_ns = time_ns,
                                       .value = value,
                                       .count = COUNT,
                                       .interval_ns = llround(1e9 / rate)};
    const struct bl_rest rest = bl_rest_before(
        &samples, 0, tally->tail != NULL ? 500000000 : 1000000000, 300000000,
        INT64_C(10000000000), 1);
    assert_true(rest.known);
    const struct bl_crossing response =
        bl_rising(&samples, 1000000000, INT64_MAX, rest.value + 20, rest.noise,
                  5 * rest.noise);
    assert_true(response.found);
    const struct bl_foot foot =
        bl_rise_foot(&samples, 600000000, INT64_MAX, &rest,
                     is == creeping ? 67 : 607, response.time_ns);
    assert_true(foot.found);
    *error = (double)foot.time_ns * 1e-9 - start_s - onset(is, &k);
    tally->covered += fabs(*error) <= 2 * foot.u_s;
    tally->late += foot.time_ns > response.time_ns;
    tally->wrong += fabs(*error) > 4 * foot.u_s && fabs(*error) > 0.002;
    tally->u[tally->runs++] = 2e3 * foot.u_s;
}

static const struct {
    const char *name;
    family is;
} families[] = {
    {"straight", straight},
    {"fills", fills},
    {"fills twice", fills_twice},
    {"quadratic", quadratic},
    {"sigmoid", sigmoid},
    {"cosine", cosine},
    {"shelf", shelf},
    {"soft shelf", soft_shelf},
};

static void test_onsets(void **state)
{
    (void)state;
    enum { EACH = 400 };
    double u[COUNT_OF(families) * EACH];
    struct tally all = {.u = u};
    struct noise noise = {20240617};
    for (size_t f = 0; f < COUNT_OF(families); f++) {
        double own[EACH];
        struct tally tally = {.u = own};
        double sum = 0;
        double squares = 0;
        for (size_t i = 0; i < EACH; i++) {
            double error = 0;
            one(families[f].is, 500, 1, &noise, &tally, &error);
            sum += error;
            squares += error * error;
            u[all.runs++] = own[i];
        }
        all.covered += tally.covered;
        all.late += tally.late;
        qsort(own, EACH, sizeof(*own), by_size);
        print_message("%-12s bias %6.2f ms, rms %5.2f ms, U median %5.2f ms, "
                      "inside %5.1f %%\n",
                      families[f].name, 1e3 * sum / EACH,
                      1e3 * sqrt(squares / EACH), own[EACH / 2],
                      100.0 * (double)tally.covered / EACH);
        /* No kind of curve is far from what is claimed for all. */
        if (getenv("ONSET_ALL") == NULL) {
            assert_true((double)tally.covered >= 0.90 * EACH);
        }
    }
    qsort(u, all.runs, sizeof(*u), by_size);
    const double inside = (double)all.covered / (double)all.runs;
    print_message("%zu onsets: U median %.2f ms, inside %.1f %%\n", all.runs,
                  u[all.runs / 2], 100 * inside);
    assert_true(inside >= 0.93 && inside <= 0.98);
    assert_true(u[all.runs / 2] < 4);
    assert_int_equal(all.late, 0);
}

/* Slow rises at high rates: many samples lie on the foot, and make a curve that
   is not the true one sure of itself. What is wrong without a word, by more
   than 4 u and 2 ms, is at most 1 in 1000 (normal: 1 in 16,000). */
static void test_slow_rises(void **state)
{
    (void)state;
    enum { EACH = 400 };
    static const struct {
        double rate, sigma;
    } kind[] = {{200, 1.5},  {500, 1},  {500, 1.5},
                {1000, 0.5}, {1000, 1}, {1000, 1.5}};
    struct noise noise = {20240618};
    size_t covered = 0;
    size_t wrong = 0;
    for (size_t n = 0; n < COUNT_OF(kind); n++) {
        double own[EACH];
        struct tally tally = {.u = own};
        for (size_t i = 0; i < EACH; i++) {
            double error = 0;
            one(creeping, kind[n].rate, kind[n].sigma, &noise, &tally, &error);
        }
        wrong += tally.wrong;
        covered += tally.covered;
        print_message("creeping, %4g Hz, %g kPa: inside %5.1f %%\n",
                      kind[n].rate, kind[n].sigma,
                      100.0 * (double)tally.covered / EACH);
        assert_true((double)tally.covered >= 0.90 * EACH);
    }
    print_message("%zu slow onsets: %zu wrong\n", COUNT_OF(kind) * EACH, wrong);
    assert_true((double)covered >= 0.93 * EACH * COUNT_OF(kind));
    assert_true(wrong * 1000 <= EACH * COUNT_OF(kind));
}

/* A second press soon after a short one, whose tail still vents where the onset
   is looked for: the tail is no beginning of the rise. */
static void test_tail_before(void **state)
{
    (void)state;
    enum { EACH = 200 };
    static const struct {
        double rate, sigma;
    } kind[] = {{100, 0.5}, {200, 0.2}, {500, 1}, {1000, 0.2}, {1000, 1.5}};
    struct noise noise = {20240619};
    for (size_t n = 0; n < COUNT_OF(kind); n++) {
        double own[EACH];
        struct tally tally = {.u = own};
        for (size_t i = 0; i < EACH; i++) {
            const struct tail tail = {between(&noise, 5, 60), 0.58,
                                      between(&noise, 0.02, 0.08)};
            double error = 0;
            tally.tail = &tail;
            one(fills, kind[n].rate, kind[n].sigma, &noise, &tally, &error);
        }
        print_message("behind a tail, %4g Hz, %g kPa: inside %5.1f %%, wrong "
                      "%zu\n",
                      kind[n].rate, kind[n].sigma,
                      100.0 * (double)tally.covered / EACH, tally.wrong);
        assert_true((double)tally.covered >= 0.90 * EACH);
        assert_int_equal(tally.wrong, 0);
    }
}

/* Coarse recordings: the whole rise lies between a few samples, and what bends
   there no sample shows. The onset, the response and 75 % are compared with the
   curve itself. Wrong is what lies off by more than 4 u and 2 ms: at most 1 in
   100 here (it was up to 1,333 of 3,200), as a shelf between two samples that
   shows on no sample stays possible. */
struct coarse {
    size_t runs, covered, wrong;
    double worst; /* error over u */
};

static double passes(family is, const struct curve *k, double level)
{
    double low = -1;
    double high = 4;
    for (unsigned i = 0; i < 60; i++) {
        const double middle = (low + high) / 2;
        *(height(is, k, middle) < level ? &low : &high) = middle;
    }
    return high;
}

static void count(struct coarse *to, double error, double u)
{
    to->runs++;
    to->covered += fabs(error) <= 2 * u;
    to->wrong += fabs(error) > 4 * u && fabs(error) > 0.002;
    to->worst = fmax(to->worst, fabs(error) / u);
}

static void one_coarse(family is, double rate, double sigma,
                       struct noise *noise, struct coarse to[3])
{
    enum { COUNT = 2000 };
    const struct curve k = draw(is, noise);
    const double start_s = 5 + noise_uniform(noise);
    int64_t time_ns[COUNT];
    float value[COUNT];
    for (size_t i = 0; i < COUNT; i++) {
        const double t = (double)i / rate;
        time_ns[i] = llround(t * 1e9);
        value[i] = (float)(7 + height(is, &k, t - start_s) +
                           sigma * noise_normal(noise));
    }
    const struct bl_samples samples = {.time_ns = time_ns,
                                       .value = value,
                                       .count = COUNT,
                                       .interval_ns = llround(1e9 / rate)};
    const struct bl_rest rest = bl_rest_before(
        &samples, 0, INT64_C(4500000000), 300000000, INT64_C(10000000000), 1);
    assert_true(rest.known);
    const double asked[] = {1, 20, 450};
    struct bl_crossing response = {0};
    for (size_t j = 1; j < COUNT_OF(asked); j++) {
        const struct bl_crossing at =
            bl_rising(&samples, INT64_C(4500000000), INT64_MAX,
                      rest.value + asked[j], rest.noise, 5 * rest.noise);
        assert_true(at.found);
        const double u = hypot(hypot(at.u_noise_s, at.u_sampling_s),
                               rest.u / fabs(at.slope));
        count(&to[j],
              (double)at.time_ns * 1e-9 - start_s - passes(is, &k, asked[j]),
              u);
        response = j == 1 ? at : response;
    }
    const struct bl_foot foot = bl_rise_foot(
        &samples, INT64_C(4500000000), INT64_MAX, &rest, 607, response.time_ns);
    if (foot.found) {
        count(&to[0], (double)foot.time_ns * 1e-9 - start_s - onset(is, &k),
              foot.u_s);
    }
}

static void print_coarse(const char *what, const struct coarse *counted)
{
    print_message("%-22s %4zu: inside %5.1f %%, %zu wrong, worst %.1f u\n",
                  what, counted->runs,
                  100.0 * (double)counted->covered / (double)counted->runs,
                  counted->wrong, counted->worst);
}

static void test_coarse(void **state)
{
    (void)state;
    enum { EACH = 200 };
    static const double rates[] = {10, 20, 50, 200};
    static const double sigmas[] = {0.05, 1};
    static const char *const names[] = {"onset", "response", "75 %"};
    struct noise noise = {20240620};
    for (size_t n = 0; n < COUNT_OF(rates); n++) {
        struct coarse all[COUNT_OF(names)] = {{0}, {0}, {0}};
        for (size_t f = 0; f < COUNT_OF(families); f++) {
            for (size_t i = 0; i < EACH; i++) {
                one_coarse(families[f].is, rates[n], sigmas[i % 2], &noise,
                           all);
            }
        }
        for (size_t j = 0; j < COUNT_OF(names); j++) {
            char what[32];
            snprintf(what, sizeof(what), "%s at %g Hz", names[j], rates[n]);
            print_coarse(what, &all[j]);
            assert_true((double)all[j].covered >= 0.93 * (double)all[j].runs);
            assert_true(all[j].wrong * 100 <= all[j].runs);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_onsets),
        cmocka_unit_test(test_slow_rises),
        cmocka_unit_test(test_tail_before),
        cmocka_unit_test(test_coarse),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
