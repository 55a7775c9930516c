/* SPDX-License-Identifier: MIT */
/*
 * Are the figures right, and is their stated uncertainty worth its name? Many
 * seeds of a simulated train, each through files and the whole way from bytes
 * to figures; every error is compared with twice its standard uncertainty.
 * Outside reference: truth is the definition applied to the noise-free trace,
 * by the simulator; the wanted share inside k = 2 is that of a normal
 * distribution, 95 % (JCGM 100:2008, G.1.3).
 *
 * BL_ACCURACY_SEEDS sets the number of seeds (20 in the quick suite).
 */
#include "testing.h"

#include "brakelag/brakelag.h"
#include "brakelag/simulate.h"

#include "base/number.h"
#include "base/random.h"
#include "lag/summary.h"

#include <dirent.h>
#include <unistd.h>

enum { FIGURES = BL_FIGURES, MOST = 40000 };

/* Errors of one figure so far. */
struct tally {
    size_t count, inside, rectangular;
    size_t missed;   /* truth has it, the result is null */
    size_t invented; /* the result has it, truth has not */
    double sum, sum_square, worst;
    double *u95;
    size_t u95s;
};

/* How the two recorders' clocks are told. Where the command is a frame, every
   lag crosses the tie; else only the arrival of the demand does. */
enum clocks {
    ONE_CLOCK,
    STATED_OFFSET,
    UNKNOWN_CLOCKS,   /* auto: a switch of the pedal on both */
    NAMED_SWITCH,     /* the same switch, named; command on the bus */
    PEDAL_IN_A_FRAME, /* auto: pedal position in a frame, switch on the log */
    DEMAND_ONLY       /* auto: demand against pressure; command on the bus */
};

static bool unknown(enum clocks clocks)
{
    return clocks >= UNKNOWN_CLOCKS;
}

static bool commanded_by_frames(enum clocks clocks)
{
    return clocks >= NAMED_SWITCH;
}

static enum bl_clock_claim expected_claim(enum clocks clocks)
{
    switch (clocks) {
    case UNKNOWN_CLOCKS:
    case PEDAL_IN_A_FRAME:
        return BL_CLAIM_BOUNDED;
    case DEMAND_ONLY:
        return BL_CLAIM_DIFFERENCES_ONLY;
    case ONE_CLOCK:
    case STATED_OFFSET:
    case NAMED_SWITCH:
        break;
    }
    return BL_CLAIM_ABSOLUTE;
}

struct run_of_test {
    enum clocks clocks;
    struct tally figure[FIGURES];
    bool differences_only;  /* the clocks of this run, command on the bus */
    size_t refused_figures; /* null for that */
    size_t applications, seeds;
    /* ties of captures to logs, against the true offset */
    size_t claimed, aligned, within_3u, wrong, refused;
};

static void scenario_text(char *text, size_t size, unsigned seed,
                          enum clocks clocks)
{
    const bool tied = clocks != ONE_CLOCK;
    static const char *const words[] = {
        "shared", "offset",
        "auto",   "sync pedal_switch EBS11.brake_light_switch/link1",
        "auto",   "auto"};
    const char *word = words[clocks];
    const bool demand_only = clocks == DEMAND_ONLY;
    const bool pedal = clocks == PEDAL_IN_A_FRAME;
    struct bl_random random;
    bl_random_seed(&random, 1000 + seed);
    const double tie_ms =
        clocks == STATED_OFFSET ? (2 * bl_random_uniform(&random) - 1) * 2 : 0;
    /* Unknown clocks: offsets to 10 s, drifts to 100 ppm. */
    const double part =
        unknown(clocks) ? 2 * bl_random_uniform(&random) - 1 : 0.125;
    const double offset_s = tied ? 10 * part : 0;
    const double drift_ppm = !tied ? 0
                             : unknown(clocks)
                                 ? 200 * bl_random_uniform(&random) - 100
                                 : -17;
    const double line = 7 + 6 * bl_random_uniform(&random);
    const double crack = 18 + 12 * bl_random_uniform(&random);
    const double noise = 0.3 + 0.9 * bl_random_uniform(&random);
    snprintf(
        text, size,
        "[scenario]\nname = accuracy\nseed = %u\n"
        "tables = iso11992-2, j1939-brakes\nlevels = 65 kPa, 414 kPa\n"
        "quiet_first = 2 s\ncompress = no\ncommand = %s\n"
        "[sensors]\nrate = 1 kHz\nnoise = %.3f kPa\nresolution = 0.25 kPa\n"
        "pedal_switch = %s\n"
        "[clocks]\nlog_offset = %.4f s\ncapture_drift = %.2f ppm\n"
        "tie_error = %.4f ms\ntie_half_width = 2 ms\n"
        "[unit 0]\naddress = 32\nbus = vehicle\n"
        "[unit 1]\naddress = 200\nbus = link1\nline = %.2f m\ncrack = %.2f "
        "kPa\n"
        "control_line = relayed\n"
        "[unit 2]\naddress = 192\nbus = link2\nline = 10 m\n"
        "control_line = relayed\n"
        "[unit 3]\naddress = 184\nbus = link3\nline = 12 m\n"
        "[application full]\npressure = 650 kPa\nhold = 3 s\npause = 4 s\n"
        "[application service]\npressure = 320 kPa\nhold = 3 s\npause = 6.3 "
        "s\nstabs = %d\n"
        "[application light]\npressure = 110 kPa\nhold = 3 s\npause = 5.1 s\n"
        "[application slow]\npressure = 400 kPa\nrise = 1.2 s\nhold = 3 s\n"
        "pause = 4 s\n"
        "[demand]\nmessage = EBS11\n%s"
        "[message brake controller]\nmessage = EBC1\nunits = 0\n"
        "on = vehicle\naddress = 11\n%s"
        "[run P]\ncondition = powered\nclock = %s\n"
        "applications = full, light, full, service, light, slow\n%s%s%s",
        seed, commanded_by_frames(clocks) ? "demand" : "treadle", noise,
        demand_only ? "no" : "yes", offset_s, drift_ppm, tie_ms, line, crack,
        unknown(clocks) && !pedal ? 2 : 0,
        demand_only || pedal ? "" : "set.brake_light_switch = pedal_switch\n",
        demand_only ? ""
        : pedal     ? "set.pedal_position = pedal\n"
                    : "set.brake_switch = pedal_switch\n",
        word,
        commanded_by_frames(clocks)
            ? ""
            : "[run U]\ncondition = unpowered\npower = off\ndata = off\n"
              "applications = full, light, full, service, light, slow\n"
              "clock = ",
        commanded_by_frames(clocks) ? "" : word, "\n");
}

static const struct bl_true_figure *true_figure(const struct bl_true_unit *t,
                                                int figure, size_t level)
{
    if (figure == BL_FIGURE_LEVEL) {
        return &t->level[level];
    }
    return bl_figure_entry((enum bl_figure_name)figure)->side == BL_SIDE_NEITHER
               ? NULL
               : &t->figure[figure];
}

/* Does one rectangular component make over 70 % of the variance? */
static bool is_rectangular(const struct bl_figure *f)
{
    const double parts[] = {f->part.sampling, f->part.clock};
    for (size_t i = 0; i < COUNT_OF(parts); i++) {
        if (!isnan(parts[i]) && parts[i] * parts[i] > 0.7 * f->u_s * f->u_s) {
            return true;
        }
    }
    return false;
}

static void count(struct tally *t, const struct bl_figure *f,
                  const struct bl_true_figure *truth, const char *what,
                  bool step)
{
    if (!f->known || !truth->known) {
        t->missed += truth->known && f->reason != BL_REASON_BELOW_NOISE;
        t->invented += f->known;
        if (f->known != truth->known && getenv("BL_ACCURACY_SHOW") != NULL) {
            printf("%s: found %s, truth %s\n", what,
                   f->known ? "a value" : bl_reason_name(f->reason),
                   truth->known ? "a value" : "none");
        }
        return;
    }
    const double error = f->s - truth->s;
    t->count++;
    t->inside += fabs(error) <= 2 * f->u_s;
    t->rectangular += is_rectangular(f);
    t->sum += error;
    t->sum_square += error * error;
    t->worst = fmax(t->worst, fabs(error));
    if (step && t->u95s < MOST) {
        t->u95[t->u95s++] = 2 * f->u_s;
    }
    if (fabs(error) > 6 * f->u_s && getenv("BL_ACCURACY_SHOW") != NULL) {
        printf("%s: %.6f, truth %.6f, u %.6f\n", what, f->s, truth->s, f->u_s);
    }
}

static void compare_unit(struct run_of_test *r, const struct bl_unit_lag *found,
                         const struct bl_true_unit *truth, const char *where,
                         bool step)
{
    for (int f = 0; f < FIGURES; f++) {
        const size_t levels = f == BL_FIGURE_LEVEL ? 2 : 1;
        for (size_t l = 0; l < levels; l++) {
            const struct bl_true_figure *t = true_figure(truth, f, l);
            const struct bl_figure *figure =
                bl_unit_figure(found, (enum bl_figure_name)f, l);
            if (t == NULL || figure == NULL ||
                figure->reason == BL_REASON_NO_CHANNEL) {
                continue;
            }
            if (commanded_by_frames(r->clocks) &&
                f == BL_FIGURE_DEMAND_ARRIVAL) {
                /* On the command's recorder: its stamps and its rate. */
                assert_near(figure->s, t->s, 10e-6);
                continue;
            }
            if (r->differences_only) {
                assert_false(figure->known);
                r->refused_figures +=
                    figure->reason == BL_REASON_DIFFERENCES_ONLY;
                continue;
            }
            char what[128];
            snprintf(what, sizeof(what), "%s unit %zu %s", where, truth->unit,
                     bl_figure_name_text((enum bl_figure_name)f));
            count(&r->figure[f], figure, t, what, step);
        }
    }
    if (truth->responded != (found->responded == BL_YES)) {
        fail_msg("%s unit %zu: responded is %d, truth %d", where, truth->unit,
                 found->responded, truth->responded);
    }
}

/* Later than the first unit that brakes, by what the trace shows. */
static void compare_stagger(struct run_of_test *r,
                            const struct bl_application *found,
                            const struct bl_true_application *truth,
                            const struct bl_trial *trial, const char *where)
{
    if (found->stagger_from < 0) {
        return;
    }
    const struct bl_true_figure *first = NULL;
    const size_t from = found->unit[found->stagger_from].unit;
    for (size_t u = 0; u < truth->units; u++) {
        const struct bl_true_unit *is = &truth->unit[u];
        if ((int)is->unit == trial->unit[from].number) {
            first = &is->figure[BL_FIGURE_RESPONSE];
        }
    }
    assert_non_null(first);
    for (size_t k = 0; k < found->units; k++) {
        const struct bl_unit_lag *unit = &found->unit[k];
        const int number = trial->unit[unit->unit].number;
        for (size_t u = 0; u < truth->units; u++) {
            const struct bl_true_unit *is = &truth->unit[u];
            if ((int)is->unit != number ||
                &is->figure[BL_FIGURE_RESPONSE] == first || unit->output < 0) {
                continue;
            }
            const struct bl_true_figure later = {
                is->figure[BL_FIGURE_RESPONSE].known && first->known,
                is->figure[BL_FIGURE_RESPONSE].s - first->s};
            count(&r->figure[BL_FIGURE_STAGGER],
                  &unit->figure[BL_FIGURE_STAGGER], &later, where,
                  truth->shape == BL_SHAPE_STEP);
        }
    }
}

static void compare_run(struct run_of_test *r, const struct bl_trial *trial,
                        const struct bl_run_lag *lag,
                        const struct bl_simulated_run *truth, unsigned seed)
{
    assert_int_equal(lag->applications, truth->applications);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *found = &lag->application[a];
        const struct bl_true_application *t = &truth->application[a];
        assert_int_equal(found->kind, t->kind);
        assert_int_equal(found->shape, t->shape);
        r->applications++;
        for (size_t u = 0; u < t->units; u++) {
            char where[96];
            snprintf(where, sizeof(where), "seed %u run %s application %zu",
                     seed, truth->name, a + 1);
            for (size_t k = 0; k < found->units; k++) {
                const size_t index = found->unit[k].unit;
                if (trial->unit[index].number == (int)t->unit[u].unit) {
                    compare_unit(r, &found->unit[k], &t->unit[u], where,
                                 t->shape == BL_SHAPE_STEP);
                }
            }
        }
        char where[96];
        snprintf(where, sizeof(where), "seed %u run %s application %zu stagger",
                 seed, truth->name, a + 1);
        compare_stagger(r, found, t, trial, where);
    }
}

/* The tie found for the capture against the offset that it truly has. */
static void check_ties(struct run_of_test *r, const struct bl_run_data *data,
                       const struct bl_run_clocks *clocks,
                       const struct bl_simulated_run *truth)
{
    for (size_t i = 0; i < data->recordings; i++) {
        const struct bl_clock_tie *tie = &clocks->tie[i];
        if (data->recording[i].kind != BL_RECORDING_CAPTURE) {
            continue;
        }
        if (tie->claim == BL_CLAIM_NONE || tie->claim == BL_CLAIM_AMBIGUOUS) {
            r->refused++;
            continue;
        }
        r->claimed += tie->claim == expected_claim(r->clocks);
        r->differences_only = commanded_by_frames(r->clocks) &&
                              tie->claim == BL_CLAIM_DIFFERENCES_ONLY;
        if (tie->claim == BL_CLAIM_DIFFERENCES_ONLY) {
            r->aligned++;
            r->within_3u++; /* its offset claims nothing */
            continue;
        }
        const double error = fabs(tie->offset_s - truth->offset_s);
        const double u = hypot(tie->u_offset_s, tie->u_bias_s);
        r->aligned++;
        r->within_3u += error <= 3 * u;
        r->wrong += error > fmax(5 * u, 0.020);
        if (error > 3 * u && getenv("BL_ACCURACY_SHOW") != NULL) {
            printf("%s, %s: offset %.4f, truth %.4f, u %.4f, %zu pairs\n",
                   truth->name, tie->method, tie->offset_s, truth->offset_s, u,
                   tie->pairs);
        }
    }
}

static void must(enum bl_status status, const struct bl_error *error)
{
    if (status != BL_OK) {
        char line[700];
        fail_msg("%s", bl_error_line(error, line, sizeof(line)));
    }
}

static void measure_folder(struct run_of_test *r, const char *folder,
                           const struct bl_simulation *simulation,
                           unsigned seed)
{
    char path[400];
    snprintf(path, sizeof(path), "%s/trial.ini", folder);
    struct bl_error error;
    struct bl_trial *trial;
    must(bl_trial_read_file(&trial, path, NULL, &error), &error);
    for (size_t i = 0; i < trial->runs; i++) {
        struct bl_run_data *data;
        struct bl_run_clocks *clocks;
        struct bl_run_lag *lag;
        must(bl_load_run(&data, trial, i, &error), &error);
        must(bl_clock_tie_run(&clocks, trial, data, &error), &error);
        must(bl_measure_run(&lag, trial, data, clocks, &error), &error);
        check_ties(r, data, clocks, bl_simulation_run(simulation, i));
        compare_run(r, trial, lag, bl_simulation_run(simulation, i), seed);
        bl_run_lag_destroy(lag);
        bl_run_clocks_destroy(clocks);
        bl_run_data_destroy(data);
    }
    bl_trial_destroy(trial);
}

static void remove_folder(const char *folder)
{
    DIR *open = opendir(folder);
    for (struct dirent *e; open != NULL && (e = readdir(open)) != NULL;) {
        char path[600];
        snprintf(path, sizeof(path), "%s/%s", folder, e->d_name);
        unlink(path);
    }
    closedir(open);
    rmdir(folder);
}

static void one_seed(struct run_of_test *r, unsigned seed, enum clocks clocks)
{
    char text[4096];
    scenario_text(text, sizeof(text), seed, clocks);
    char folder[300];
    test_folder_name(folder, sizeof(folder), "accuracy");
    assert_non_null(mkdtemp(folder));
    struct bl_error error;
    struct bl_bytes *source;
    struct bl_scenario *scenario;
    struct bl_simulation *simulation;
    must(bl_bytes_open_memory(&source, "accuracy.ini", text, strlen(text),
                              &error),
         &error);
    must(bl_scenario_read(&scenario, source, NULL, NULL, &error), &error);
    bl_bytes_close(source);
    must(bl_simulate(&simulation, scenario, &error), &error);
    must(bl_simulation_write(simulation, folder, &error), &error);
    measure_folder(r, folder, simulation, seed);
    bl_simulation_destroy(simulation);
    bl_scenario_destroy(scenario);
    remove_folder(folder);
    r->seeds++;
}

static void print_table(const struct run_of_test *r, const char *title)
{
    printf("%s: %zu seeds, %zu applications\n", title, r->seeds,
           r->applications);
    printf("%-15s %7s %8s %9s %9s %9s %10s %6s %8s\n", "figure", "values",
           "in k=2", "bias ms", "sd ms", "worst ms", "median U", "missed",
           "invented");
    for (int f = 0; f < FIGURES; f++) {
        const struct tally *t = &r->figure[f];
        if (t->count == 0) {
            continue;
        }
        const double n = (double)t->count;
        const double mean = t->sum / n;
        printf("%-15s %7zu %7.2f%% %9.3f %9.3f %9.3f %7.2f ms %6zu %8zu\n",
               bl_figure_name_text((enum bl_figure_name)f), t->count,
               100.0 * (double)t->inside / n, mean * 1e3,
               1e3 * sqrt(fmax(0, t->sum_square / n - mean * mean)),
               t->worst * 1e3, 1e3 * bl_median(t->u95, t->u95s), t->missed,
               t->invented);
    }
}

static void check(const struct run_of_test *r, double low, double high)
{
    for (int f = 0; f < FIGURES; f++) {
        const struct tally *t = &r->figure[f];
        if (t->count == 0) {
            continue;
        }
        const double n = (double)t->count;
        const double share = (double)t->inside / n;
        const bool rectangular = (double)t->rectangular > 0.5 * n;
        if (share < low || (!rectangular && share > high)) {
            fail_msg("%s: %.2f %% inside k = 2",
                     bl_figure_name_text((enum bl_figure_name)f), 100 * share);
        }
        if ((double)t->missed > 0.01 * n || (double)t->invented > 0.01 * n) {
            fail_msg("%s: %zu missed, %zu invented",
                     bl_figure_name_text((enum bl_figure_name)f), t->missed,
                     t->invented);
        }
    }
    /* step applications at 1 kHz: the median U of the response; a frame every
       100 ms ties to some 60 ms only */
    if (r->clocks < PEDAL_IN_A_FRAME) {
        const struct tally *response = &r->figure[BL_FIGURE_RESPONSE];
        assert_true(response->count > 0);
        assert_true(bl_median(response->u95, response->u95s) <= 0.010);
    }
    assert_true(r->figure[BL_FIGURE_STAGGER].count > 0);
    assert_true(r->clocks != DEMAND_ONLY || r->refused_figures > 0);
}

static void cover(enum clocks clocks, const char *title)
{
    const char *wanted = getenv("BL_ACCURACY_SEEDS");
    unsigned seeds = 20;
    if (wanted != NULL) {
        seeds = (unsigned)strtoul(wanted, NULL, 10);
    } else if (clocks != ONE_CLOCK) {
        seeds = 6; /* the long suite asks for all */
    }
    struct run_of_test r = {.clocks = clocks};
    for (int f = 0; f < FIGURES; f++) {
        r.figure[f].u95 = calloc(MOST, sizeof(double));
    }
    for (unsigned seed = 1; seed <= seeds; seed++) {
        one_seed(&r, seed, clocks);
    }
    print_table(&r, title);
    printf("clocks, claim %s: %zu aligned, %zu of them within 3 u, %zu wrong, "
           "%zu refused; %zu lags refused\n",
           bl_clock_claim_name(expected_claim(clocks)), r.aligned, r.within_3u,
           r.wrong, r.refused, r.refused_figures);
    assert_true(r.wrong == 0);
    assert_true((double)r.within_3u >= 0.99 * (double)r.aligned);
    assert_true((double)r.aligned >= 0.9 * (double)(r.aligned + r.refused));
    assert_true((double)r.claimed >= 0.9 * (double)(r.aligned + r.refused));
    if (seeds >= 200) {
        check(&r, 0.93, 0.992);
    } else {
        /* Few seeds: the errors of a transducer are shared by all values of
           its seed, so the share scatters by some percent. */
        check(&r, seeds >= 20 ? 0.88 : 0.80, 1.0);
    }
    for (int f = 0; f < FIGURES; f++) {
        free(r.figure[f].u95);
    }
}

static void figures_cover_the_truth_on_one_clock(void **state)
{
    (void)state;
    cover(ONE_CLOCK, "one clock");
}

static void figures_cover_the_truth_across_a_stated_offset(void **state)
{
    (void)state;
    cover(STATED_OFFSET, "stated offset, half-width 2 ms");
}

static void figures_cover_the_truth_with_clocks_unknown(void **state)
{
    (void)state;
    cover(UNKNOWN_CLOCKS, "clocks unknown, tied by the pedal");
}

static void figures_cover_the_truth_by_a_named_switch(void **state)
{
    (void)state;
    cover(NAMED_SWITCH, "command on the bus, tied by a switch on both, named");
}

static void figures_cover_the_truth_by_a_pedal_frame(void **state)
{
    (void)state;
    cover(PEDAL_IN_A_FRAME, "command on the bus, tied by a pedal frame");
}

static void differences_cover_the_truth_by_the_demand(void **state)
{
    (void)state;
    cover(DEMAND_ONLY, "command on the bus, tied by demand and pressure");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_cover_the_truth_on_one_clock),
        cmocka_unit_test(figures_cover_the_truth_across_a_stated_offset),
        cmocka_unit_test(figures_cover_the_truth_with_clocks_unknown),
        cmocka_unit_test(figures_cover_the_truth_by_a_named_switch),
        cmocka_unit_test(figures_cover_the_truth_by_a_pedal_frame),
        cmocka_unit_test(differences_cover_the_truth_by_the_demand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
