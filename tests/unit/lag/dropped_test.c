/* SPDX-License-Identifier: MIT */
/*
 * A slow recorder that loses rows: its stamps are as good as before, so figures
 * keep their uncertainty, and truth lies inside. A recorder whose stamps are
 * rounded to its own interval leaves steps of the same lengths: there the
 * rounding stays in the uncertainty. Outside reference: the traces are
 * formulas, drawn here without the library, and every time is worked out from
 * them; that 95 % lie inside k = 2 is JCGM 100:2008, G.1.3.
 */
#include "testing.h"

#include "brakelag/brakelag.h"

#include "base/number.h"
#include "base/random.h"
#include "lag/summary.h"

#include <math.h>
#include <unistd.h>

enum { APPLICATIONS = 12, LAST_S = 10 * APPLICATIONS + 4, MOST = 20000 };
enum { RESPONSE, APPLY_75, RELEASE_10, KINDS };

static const enum bl_figure_name name[KINDS] = {
    BL_FIGURE_RESPONSE, BL_FIGURE_APPLY_75, BL_FIGURE_RELEASE_10};
static const double rise_s = 0.15, fall_s = 0.1;
static const double hold_kpa = 600;

/* The pedal is a line up and down; the output, late, an exponential. */
struct train {
    double press_s[APPLICATIONS], let_go_s[APPLICATIONS];
    double lag_s, fills_s, keeps_s, empties_s;
};

struct recorder {
    double interval_s;
    double digit_s; /* of its stamps */
    double lost;    /* share of its rows, at random */
};

struct tally {
    size_t count, inside, off;
    double u[MOST];
};

static double between(struct bl_random *dice, double low, double high)
{
    return low + (high - low) * bl_random_uniform(dice);
}

static void draw(struct train *t, struct bl_random *dice)
{
    for (int a = 0; a < APPLICATIONS; a++) {
        t->press_s[a] = 10 * a + between(dice, 4, 5);
        t->let_go_s[a] = t->press_s[a] + between(dice, 3.5, 4);
    }
    t->lag_s = between(dice, 0.03, 0.2);
    t->fills_s = between(dice, 0.06, 0.15);
    t->keeps_s = between(dice, 0.03, 0.1);
    t->empties_s = between(dice, 0.08, 0.2);
}

static int application_at(double s)
{
    const int a = (int)floor(s / 10);
    return a < 0 ? 0 : a < APPLICATIONS ? a : APPLICATIONS - 1;
}

static double pedal(const struct train *t, double s)
{
    const int a = application_at(s);
    const double up = (s - t->press_s[a]) / rise_s;
    const double down = 1 - (s - t->let_go_s[a]) / fall_s;
    return hold_kpa * fmax(0, fmin(1, fmin(up, down)));
}

static double output(const struct train *t, double s)
{
    const int a = application_at(s);
    const double up = s - t->press_s[a] - t->lag_s;
    const double down = s - t->let_go_s[a] - t->keeps_s;
    const double full = hold_kpa * (1 - exp(-fmax(0, up) / t->fills_s));
    return full * exp(-fmax(0, down) / t->empties_s);
}

/* The definitions of docs/methods/figures.md, solved for these formulas:
   command_at and response_at are 20 kPa, a command is let go where it passes
   90 % of what it fell from. */
static double truth(const struct train *t, int kind)
{
    const double command_s = rise_s * 20 / hold_kpa;
    const double release_s = fall_s * 0.1;
    switch (kind) {
    case RESPONSE:
        return t->lag_s - t->fills_s * log(1 - 20 / hold_kpa) - command_s;
    case APPLY_75:
        return t->lag_s + t->fills_s * log(4) - command_s;
    default:
        return t->keeps_s + t->empties_s * log(10) - release_s;
    }
}

static void write_log(const char *path, const struct train *t,
                      const struct recorder *r, struct bl_random *dice)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fprintf(file, "time_s,treadle,output\n");
    const double first_s = between(dice, 0, r->digit_s);
    const bool rounded = r->interval_s != r->digit_s;
    for (int i = 0; i * r->interval_s < LAST_S; i++) {
        const double stamp_s = i * r->interval_s;
        const double s = rounded ? first_s + stamp_s : stamp_s;
        const double p = pedal(t, s) + bl_random_normal(dice);
        const double q = output(t, s) + bl_random_normal(dice);
        if (bl_random_uniform(dice) >= r->lost) {
            fprintf(file, "%.3f,%.2f,%.2f\n",
                    round(s / r->digit_s) * r->digit_s, p, q);
        }
    }
    assert_int_equal(fclose(file), 0);
}

static void write_trial(const char *path)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs("[trial]\nname = dropped\n"
          "[unit 0]\ncommand = treadle\ncommand_kind = treadle-pressure\n"
          "command_at = 20 kPa\n"
          "[unit 1]\noutput = output\n"
          "[channel treadle]\nquantity = pressure\nmeasured_in = kPa\n"
          "[channel output]\nquantity = pressure\nmeasured_in = kPa\n"
          "[run A]\ncondition = powered\nlogs = log.csv\n",
          file);
    assert_int_equal(fclose(file), 0);
}

static void must(enum bl_status status, const struct bl_error *error)
{
    if (status != BL_OK) {
        char line[700];
        fail_msg("%s", bl_error_line(error, line, sizeof(line)));
    }
}

static void count(struct tally *tally, const struct bl_run_lag *lag,
                  const struct train *train)
{
    assert_int_equal(lag->applications, APPLICATIONS);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_unit_lag *unit = NULL;
        for (size_t u = 0; u < lag->application[a].units; u++) {
            if (lag->application[a].unit[u].output >= 0) {
                unit = &lag->application[a].unit[u];
            }
        }
        assert_non_null(unit);
        for (int k = 0; k < KINDS; k++) {
            const struct bl_figure *f = bl_unit_figure(unit, name[k], 0);
            struct tally *into = &tally[k];
            assert_true(f->known);
            const double error = fabs(f->s - truth(train, k));
            into->inside += error <= 2 * f->u_s;
            into->off += error > 4 * f->u_s;
            into->u[into->count++] = f->u_s;
        }
    }
}

static void measure(struct tally *tally, const char *folder,
                    const struct train *train)
{
    char path[400];
    snprintf(path, sizeof(path), "%s/trial.ini", folder);
    struct bl_error error;
    struct bl_trial *trial;
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct bl_run_lag *lag;
    must(bl_trial_read_file(&trial, path, NULL, &error), &error);
    must(bl_load_run(&data, trial, 0, &error), &error);
    must(bl_clock_tie_run(&clocks, trial, data, &error), &error);
    must(bl_measure_run(&lag, trial, data, clocks, &error), &error);
    count(tally, lag, train);
    bl_run_lag_destroy(lag);
    bl_run_clocks_destroy(clocks);
    bl_run_data_destroy(data);
    bl_trial_destroy(trial);
}

/* Median u of every kind of figure, in *median; `least` lie inside k = 2. */
static void cover(const struct recorder *recorder, double least, double *median)
{
    const char *wanted = getenv("BL_ACCURACY_SEEDS");
    const unsigned seeds =
        wanted == NULL ? 10 : (unsigned)strtoul(wanted, NULL, 10);
    struct tally *tally = calloc(KINDS, sizeof(*tally));
    char folder[300];
    char log[400];
    char trial[400];
    test_folder_name(folder, sizeof(folder), "dropped");
    assert_non_null(mkdtemp(folder));
    snprintf(log, sizeof(log), "%s/log.csv", folder);
    snprintf(trial, sizeof(trial), "%s/trial.ini", folder);
    write_trial(trial);
    for (unsigned seed = 1; seed <= seeds; seed++) {
        struct bl_random dice;
        struct train train;
        bl_random_seed(&dice, seed);
        draw(&train, &dice);
        write_log(log, &train, recorder, &dice);
        measure(tally, folder, &train);
    }
    for (int k = 0; k < KINDS; k++) {
        struct tally *t = &tally[k];
        const double share = (double)t->inside / (double)t->count;
        median[k] = bl_median(t->u, t->count);
        printf("%g ms, stamps of %g ms, %g %% lost: %s: %zu, %.1f %% inside "
               "k = 2, median u %.2f ms\n",
               1e3 * recorder->interval_s, 1e3 * recorder->digit_s,
               100 * recorder->lost, bl_figure_name_text(name[k]), t->count,
               100 * share, 1e3 * median[k]);
        assert_true(share >= least);
        assert_int_equal(t->off, 0);
    }
    unlink(log);
    unlink(trial);
    rmdir(folder);
    free(tally);
}

static void lost_rows_do_not_coarsen_the_stamps(void **state)
{
    (void)state;
    static const double rates[] = {0.01, 0.002};
    for (size_t i = 0; i < COUNT_OF(rates); i++) {
        double whole[KINDS];
        double some[KINDS];
        double more[KINDS];
        cover(&(struct recorder){rates[i], rates[i], 0}, 0.93, whole);
        cover(&(struct recorder){rates[i], rates[i], 0.02}, 0.93, some);
        cover(&(struct recorder){rates[i], rates[i], 0.1}, 0.93, more);
        for (int k = 0; k < KINDS; k++) {
            /* A row that is lost beside a passage costs its width; rounding of
               two stamps would double these, and more. */
            assert_true(some[k] < 1.1 * whole[k]);
            assert_true(more[k] < 1.5 * whole[k]);
        }
    }
}

/* 10.2 ms in steps of 10 ms: one step of 20 ms in 50, as if 2 % were lost. */
static void rounded_stamps_stay_coarse(void **state)
{
    (void)state;
    static const double interval_s[] = {0.01005, 0.0102, 0.012};
    for (size_t i = 0; i < COUNT_OF(interval_s); i++) {
        double u[KINDS];
        /* 10.05 ms: nearly all passages share their rounding with the command,
           the others are off by a whole step, which is past 2 u. */
        cover(&(struct recorder){interval_s[i], 0.01, 0}, 0.9, u);
        for (int k = 0; k < KINDS; k++) {
            /* Rounding of two stamps: 10 ms / sqrt 12, twice. */
            assert_true(u[k] > 0.010 / sqrt(12) * sqrt(2) * 0.99);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lost_rows_do_not_coarsen_the_stamps),
        cmocka_unit_test(rounded_stamps_stay_coarse),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
