/* SPDX-License-Identifier: MIT */
/*
 * Two recorders whose clocks nobody knows, through files: recordings of a
 * simulated train are written, the head of one is cut off as if its recorder
 * had been armed late, both are loaded and tied. Truth is what the simulator
 * put between the clocks. Offsets to 10 s, drifts to 100 ppm (usual crystals:
 * 20 to 50 ppm, common practice), noise, stabs at the pedal, missing first
 * events, one in eight with nearly even pauses.
 *
 * What is demanded: at least 99 % of the ties within 3 of their own u, none
 * wrong by more than 5 u and 20 ms, at least 90 % tied where four or more
 * events with uneven pauses are on both. A tie for differences only does not
 * claim its offset: the lag of its events hides in it. It must lie within the
 * lags that these events truly had.
 *
 * BL_CLOCK_PAIRS sets the number of pairs (20 in the quick suite).
 */
#include "testing.h"

#include "brakelag/brakelag.h"
#include "brakelag/simulate.h"

#include "base/random.h"

#include <unistd.h>

enum { PROFILES = 6, MOST_APPLICATIONS = 12, FEWEST_PAIRS = 4 };

/* What both recorders see of the pedal. */
enum common {
    SWITCH_10_MS,      /* a switch on the log, its state in a fast message */
    SWITCH_100_MS,     /* the same in a slow one */
    DEMAND_AND_SWITCH, /* differences only */
    DEMAND_AND_PRESSURE,
    COMMONS
};

struct drawn {
    enum common common;
    double offset_s, drift_ppm;
    bool even;
    size_t applications;
    double pressure[PROFILES], rise_s[PROFILES], pause_s[PROFILES];
    int stabs[PROFILES];
    size_t profile[MOST_APPLICATIONS];
    bool cut_log, cut_capture;
    size_t missed; /* first applications that the late recorder misses */
    double noise_kpa;
};

struct tally {
    size_t pairs, aligned, refused, within, wrong;
    size_t good, good_aligned; /* four or more in common, uneven pauses */
    size_t even, even_aligned;
    size_t of[COMMONS], aligned_of[COMMONS];
    double worst_s;
};

static double between(struct bl_random *random, double low, double high)
{
    return low + (high - low) * bl_random_uniform(random);
}

static void draw(struct drawn *d, struct bl_random *random)
{
    *d = (struct drawn){.common = (enum common)bl_random_below(random, COMMONS),
                        .offset_s = between(random, -10, 10),
                        .drift_ppm = between(random, -100, 100),
                        .even = bl_random_below(random, 8) == 0,
                        .noise_kpa = between(random, 0.2, 1.5)};
    const double pause = between(random, 1.5, 7);
    for (size_t i = 0; i < PROFILES; i++) {
        d->pressure[i] = between(random, 90, 650);
        d->rise_s[i] = between(random, 0.1, 0.4);
        d->pause_s[i] = d->even ? pause : between(random, 1.2, 7);
        d->stabs[i] = !d->even && bl_random_below(random, 3) == 0
                          ? 1 + (int)bl_random_below(random, 2)
                          : 0;
    }
    d->applications = 5 + (size_t)bl_random_below(random, 8);
    for (size_t i = 0; i < d->applications; i++) {
        d->profile[i] = (size_t)bl_random_below(random, PROFILES);
    }
    d->cut_log = bl_random_below(random, 3) == 0;
    d->cut_capture = !d->cut_log && bl_random_below(random, 2) == 0;
    d->missed = 1 + (size_t)bl_random_below(random, 3);
}

/* Appends; the text has room. */
static void say(char *text, size_t size, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    const size_t used = strlen(text);
    vsnprintf(text + used, size - used, format, arguments);
    va_end(arguments);
}

static void scenario_text(char *text, size_t size, const struct drawn *d,
                          unsigned seed)
{
    text[0] = '\0';
    say(text, size,
        "[scenario]\nname = pairs\nseed = %u\n"
        "tables = iso11992-2, j1939-brakes\nquiet_first = 2 s\n"
        "compress = no\ncapture_format = textlog\nstep = 2 ms\n"
        "[sensors]\nrate = 500 Hz\nnoise = %.3f kPa\nresolution = 0.25 kPa\n"
        "control = no\npedal_switch = %s\n"
        "[clocks]\nlog_offset = %.4f s\ncapture_drift = %.2f ppm\n"
        "[unit 0]\naddress = 32\nbus = vehicle\n"
        "[unit 1]\naddress = 200\nbus = link1\nline = 8 m\n"
        "[demand]\nmessage = EBS11\n%s",
        seed, d->noise_kpa, d->common == DEMAND_AND_PRESSURE ? "no" : "yes",
        d->offset_s, d->drift_ppm,
        d->common == SWITCH_10_MS ? "set.brake_light_switch = pedal_switch\n"
                                  : "");
    if (d->common == SWITCH_100_MS) {
        say(text, size,
            "[message brake controller]\nmessage = EBC1\nunits = 0\n"
            "on = vehicle\naddress = 11\nset.brake_switch = pedal_switch\n");
    }
    for (size_t i = 0; i < PROFILES; i++) {
        say(text, size,
            "[application p%zu]\npressure = %.1f kPa\nrise = %.3f s\n"
            "hold = 0.5 s\npause = %.3f s\nstabs = %d\n",
            i, d->pressure[i], d->rise_s[i], d->pause_s[i], d->stabs[i]);
    }
    say(text, size, "[run P]\ncondition = powered\nclock = auto\napplications");
    for (size_t i = 0; i < d->applications; i++) {
        say(text, size, "%sp%zu", i == 0 ? " = " : ", ", d->profile[i]);
    }
    say(text, size, "\n");
}

static void must(enum bl_status status, const struct bl_error *error)
{
    if (status != BL_OK) {
        char line[700];
        fail_msg("%s", bl_error_line(error, line, sizeof(line)));
    }
}

/* Keep the lines of a file whose stamp, behind `skip` characters, is `from_s`
   at least; and the first `heads` lines. */
static void cut_head(const char *path, size_t skip, size_t heads, double from_s)
{
    char kept[420];
    char line[1024];
    snprintf(kept, sizeof(kept), "%s.kept", path);
    FILE *in = fopen(path, "r");
    FILE *out = fopen(kept, "w");
    assert_non_null(in);
    assert_non_null(out);
    for (size_t n = 0; fgets(line, sizeof(line), in) != NULL; n++) {
        if (n < heads || strtod(line + skip, NULL) >= from_s) {
            fputs(line, out);
        }
    }
    fclose(in);
    assert_int_equal(fclose(out), 0);
    assert_int_equal(rename(kept, path), 0);
}

/* A recorder is armed between the last application that it misses and the
   next one. */
static void arm_late(const char *folder, const struct drawn *d,
                     const struct bl_simulated_run *truth)
{
    char path[400];
    const struct bl_true_application *a = truth->application;
    if (d->missed >= truth->applications) {
        return;
    }
    const double log_s =
        0.5e-9 * (double)(a[d->missed - 1].apply_ns + a[d->missed].apply_ns);
    if (d->cut_log) {
        snprintf(path, sizeof(path), "%s/P.csv", folder);
        cut_head(path, 0, 1, log_s);
    } else if (d->cut_capture) {
        snprintf(path, sizeof(path), "%s/P.txt", folder);
        cut_head(path, 1, 0, log_s - truth->offset_s);
    }
}

/* True log stamp less bus stamp at a bus stamp. */
static double true_shift(const struct bl_simulated_run *truth, int64_t bus_ns)
{
    return truth->offset_s + truth->drift_ppm * 1e-15 *
                                 (double)(bus_ns - truth->frame[0].time_ns);
}

/* When the pedal's smooth rise 3 x^2 - 2 x^3 to `top` passes `kpa`. */
static double passes_after(double kpa, double top, double rise_s)
{
    double low = 0;
    double high = 1;
    for (int i = 0; i < 50; i++) {
        const double x = 0.5 * (low + high);
        if (top * x * x * (3 - 2 * x) < kpa) {
            low = x;
        } else {
            high = x;
        }
    }
    return low * rise_s;
}

/* From the bus event to the log event, truly, in one application: what hides
   in an offset for differences only. The event of a frame is taken half an
   interval before its stamp, so it scatters by half an interval. */
static void hidden_lag(const struct drawn *d, const char *method, size_t p,
                       double demand_arrival_s, double *least, double *most)
{
    const double half = 0.005;    /* of the demand's interval, 10 ms */
    const double frame = 0.0011;  /* on the wire */
    const double sensor = 0.0015; /* delay of a transducer, 1 ms +- 0.3 ms */
    /* From the switch (3 kPa) to the demand's level, at the pedal. */
    const double touch = passes_after(20, d->pressure[p], d->rise_s[p]) -
                         passes_after(3, d->pressure[p], d->rise_s[p]);
    *least = 0;
    *most = 0;
    if (strcmp(method, "demand-pressure") == 0) {
        *least = half - demand_arrival_s;
        *most = *least + sensor;
    } else if (strcmp(method, "demand") == 0) {
        *least = -touch - frame - half;
        *most = -touch - frame + half;
    } else { /* the bus's switch against pressure */
        const double slow = d->common == SWITCH_100_MS ? 0.05 : half;
        *least = touch - demand_arrival_s - slow;
        *most = touch - demand_arrival_s + 2 * half + sensor + slow;
    }
}

static void hidden_lags(const struct drawn *d, const char *method,
                        const struct bl_simulated_run *truth, double *low,
                        double *high)
{
    *low = (double)INFINITY;
    *high = -(double)INFINITY;
    for (size_t i = 0; i < truth->applications; i++) {
        double least;
        double most;
        hidden_lag(
            d, method, d->profile[i],
            truth->application[i].unit[1].figure[BL_FIGURE_DEMAND_ARRIVAL].s,
            &least, &most);
        *low = fmin(*low, least);
        *high = fmax(*high, most);
    }
}

static size_t in_common(const struct bl_run_data *data, size_t log,
                        size_t capture, const struct bl_simulated_run *truth)
{
    const struct bl_loaded_recording *l = &data->recording[log];
    const struct bl_loaded_recording *c = &data->recording[capture];
    size_t n = 0;
    for (size_t i = 0; i < truth->applications; i++) {
        const int64_t at = truth->application[i].apply_ns;
        const int64_t bus = at - (int64_t)llround(truth->offset_s * 1e9);
        n += at > l->first_ns && at < l->last_ns && bus > c->first_ns &&
             bus < c->last_ns;
    }
    return n;
}

static void judge(struct tally *t, const struct drawn *d, unsigned pair,
                  const struct bl_run_data *data,
                  const struct bl_run_clocks *clocks,
                  const struct bl_simulated_run *truth)
{
    const size_t capture =
        data->recording[0].kind == BL_RECORDING_CAPTURE ? 0 : 1;
    const struct bl_clock_tie *tie = &clocks->tie[capture];
    const struct bl_loaded_recording *r = &data->recording[capture];
    const bool tied = tie->claim == BL_CLAIM_BOUNDED ||
                      tie->claim == BL_CLAIM_ABSOLUTE ||
                      tie->claim == BL_CLAIM_DIFFERENCES_ONLY;
    const size_t common = in_common(data, 1 - capture, capture, truth);
    const bool good = common >= FEWEST_PAIRS && !d->even;
    t->pairs++;
    t->of[d->common]++;
    t->good += good;
    t->even += d->even;
    if (!tied) {
        t->refused++;
        if (good && getenv("BL_CLOCK_SHOW") != NULL) {
            printf("pair %u: %zu in common, refused: %s\n", pair, common,
                   clocks->notes.count > 0 ? clocks->notes.item[0].text : "");
        }
        return;
    }
    double low = 0;
    double high = 0;
    if (tie->claim == BL_CLAIM_DIFFERENCES_ONLY) {
        hidden_lags(d, tie->method, truth, &low, &high);
    } else {
        assert_true(d->common < DEMAND_AND_SWITCH);
    }
    const int64_t at[] = {r->first_ns, r->first_ns / 2 + r->last_ns / 2,
                          r->last_ns};
    bool within = true;
    bool wrong = false;
    for (size_t i = 0; i < COUNT_OF(at); i++) {
        const double found = 1e-9 * (double)(bl_clock_map(tie, at[i]) - at[i]) -
                             true_shift(truth, at[i]);
        const double error = fmax(fmax(low - found, found - high), 0);
        const double u = bl_clock_u(tie, at[i]);
        within = within && error <= 3 * u;
        wrong = wrong || error > fmax(5 * u, 0.020);
        t->worst_s = fmax(t->worst_s, error);
        if (error > 3 * u && getenv("BL_CLOCK_SHOW") != NULL) {
            printf("pair %u (%s, even %d): error %.4f, u %.4f, %zu pairs of "
                   "%zu\n",
                   pair, tie->method, d->even, error, u, tie->pairs, common);
        }
    }
    t->aligned++;
    t->aligned_of[d->common]++;
    t->good_aligned += good;
    t->even_aligned += d->even;
    t->within += within;
    t->wrong += wrong;
}

static void remove_folder(const char *folder)
{
    static const char *const names[] = {"trial.ini", "truth.json", "P.csv",
                                        "P.txt"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        char path[400];
        snprintf(path, sizeof(path), "%s/%s", folder, names[i]);
        unlink(path);
    }
    assert_int_equal(rmdir(folder), 0);
}

static void one_pair(struct tally *t, unsigned pair)
{
    char text[4096];
    char folder[300];
    char path[400];
    struct bl_random random;
    struct drawn d;
    bl_random_seed(&random, 7000 + pair);
    draw(&d, &random);
    scenario_text(text, sizeof(text), &d, pair);
    test_folder_name(folder, sizeof(folder), "pairs");
    assert_non_null(mkdtemp(folder));
    struct bl_error error;
    struct bl_bytes *source;
    struct bl_scenario *scenario;
    struct bl_simulation *simulation;
    must(bl_bytes_open_memory(&source, "pairs.ini", text, strlen(text), &error),
         &error);
    must(bl_scenario_read(&scenario, source, NULL, NULL, &error), &error);
    bl_bytes_close(source);
    must(bl_simulate(&simulation, scenario, &error), &error);
    must(bl_simulation_write(simulation, folder, &error), &error);
    const struct bl_simulated_run *truth = bl_simulation_run(simulation, 0);
    assert_int_equal(truth->applications, d.applications);
    arm_late(folder, &d, truth);
    struct bl_trial *trial;
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    snprintf(path, sizeof(path), "%s/trial.ini", folder);
    must(bl_trial_read_file(&trial, path, NULL, &error), &error);
    must(bl_load_run(&data, trial, 0, &error), &error);
    must(bl_clock_tie_run(&clocks, trial, data, &error), &error);
    judge(t, &d, pair, data, clocks, truth);
    bl_run_clocks_destroy(clocks);
    bl_run_data_destroy(data);
    bl_trial_destroy(trial);
    bl_simulation_destroy(simulation);
    bl_scenario_destroy(scenario);
    remove_folder(folder);
}

static void recordings_are_tied_right_or_not_at_all(void **state)
{
    (void)state;
    static const char *const names[COMMONS] = {
        "switch and fast frame", "switch and slow frame", "demand and switch",
        "demand and pressure"};
    const char *wanted = getenv("BL_CLOCK_PAIRS");
    const unsigned pairs =
        wanted == NULL ? 20 : (unsigned)strtoul(wanted, NULL, 10);
    struct tally t = {0};
    for (unsigned pair = 1; pair <= pairs; pair++) {
        one_pair(&t, pair);
    }
    print_message("%zu pairs of recordings: %zu aligned (%zu within 3 u, "
                  "worst %.1f ms), %zu refused, %zu wrong; of %zu with four or "
                  "more uneven events in common %zu aligned; of %zu with "
                  "nearly even pauses %zu\n",
                  t.pairs, t.aligned, t.within, 1e3 * t.worst_s, t.refused,
                  t.wrong, t.good, t.good_aligned, t.even, t.even_aligned);
    for (size_t i = 0; i < COMMONS; i++) {
        print_message("  %s: %zu of %zu aligned\n", names[i], t.aligned_of[i],
                      t.of[i]);
    }
    assert_int_equal(t.wrong, 0);
    assert_true((double)t.within >= 0.99 * (double)t.aligned);
    assert_true((double)t.good_aligned >= 0.9 * (double)t.good);
    assert_true(2 * t.good > t.pairs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(recordings_are_tied_right_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
