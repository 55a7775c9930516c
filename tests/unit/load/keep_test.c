/* SPDX-License-Identifier: MIT */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
/* A log that is thinned while it is read, against the same log kept whole and
   against what was written into it. Outside references: the times at which the
   made log moves, and the definition of what is kept (design: activity
   windows). */
#include "testing.h"

#include "base/limits.h"
#include "brakelag/brakelag.h"
#include "load/build.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { HZ = 100, MINUTES = 12, ROWS = HZ * 60 * MINUTES };

/* Seconds at which the treadle moves: three steps of 3 s, a pressure that
   creeps in at 0.4 kPa/s, a hold of two minutes. */
static const double steps_at[] = {60, 200, 203};
static const double creep_at = 320, creep_s = 60, hold_at = 480, hold_s = 120;

static double treadle(double t)
{
    for (size_t i = 0; i < COUNT_OF(steps_at); i++) {
        if (t >= steps_at[i] && t < steps_at[i] + 2) {
            return 300;
        }
    }
    if (t >= creep_at && t < creep_at + creep_s) {
        return 0.4 * (t - creep_at);
    }
    return t >= hold_at && t < hold_at + hold_s ? 200 : 0;
}

static const char trial_text[] =
    "[trial]\nname = kept\n"
    "[unit 0]\ncommand = treadle\ncommand_kind = treadle-pressure\n"
    "command_at = 20 kPa\noutput = out\nreservoir = tank\n"
    "[channel treadle]\nquantity = pressure\n"
    "[channel out]\nquantity = pressure\n"
    "[channel lamp]\nquantity = switch\n"
    "[channel tank]\nquantity = pressure\n"
    "[run A]\nlogs = kept.csv\n";

struct made {
    char folder[256], log[300];
    struct bl_trial *trial;
};

static double noise(uint64_t *state)
{
    *state = *state * UINT64_C(6364136223846793005) + 1442695040888963407u;
    return (double)(*state >> 40) / 16777216.0 - 0.5;
}

static void write_log(const char *path)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs("time [s],treadle [kPa],out [kPa],lamp,tank [kPa]\n", file);
    uint64_t state = 7;
    for (int i = 0; i < ROWS; i++) {
        const double t = (double)i / HZ;
        /* One wild sample far from any braking is no braking. */
        const double wild = i == 150 * HZ ? 90 : 0;
        fprintf(file, "%.2f,%.3f,%.3f,%d,%.3f\n", t,
                treadle(t) + wild + noise(&state),
                0.9 * treadle(t - 0.2) + noise(&state), t > 270 && t < 272,
                800 + 60 * sin(t / 50) + noise(&state));
    }
    assert_int_equal(fclose(file), 0);
}

static int make(void **state)
{
    struct made *m = calloc(1, sizeof(*m));
    (void)test_folder_name(m->folder, sizeof(m->folder), "keep");
    if (mkdtemp(m->folder) == NULL) {
        return -1;
    }
    snprintf(m->log, sizeof(m->log), "%s/kept.csv", m->folder);
    write_log(m->log);
    struct bl_bytes *source;
    struct bl_error error;
    assert_int_equal(bl_bytes_open_memory(&source, "trial.ini", trial_text,
                                          sizeof(trial_text) - 1, &error),
                     BL_OK);
    assert_int_equal(bl_trial_read(&m->trial, source, m->folder, NULL, &error),
                     BL_OK);
    bl_bytes_close(source);
    *state = m;
    return 0;
}

static int unmake(void **state)
{
    struct made *m = *state;
    bl_trial_destroy(m->trial);
    (void)unlink(m->log);
    (void)rmdir(m->folder);
    free(m);
    return 0;
}

static struct bl_run_data *load(const struct made *m, size_t whole)
{
    struct bl_run_data *data;
    struct bl_error error;
    assert_int_equal(bl_load_run_with(&data, m->trial, 0, 2, whole, &error),
                     BL_OK);
    assert_int_equal(data->channels, 4);
    assert_int_equal(data->recording[0].rows, ROWS);
    return data;
}

/* Is every row of [from, to] seconds there, as it is in the whole log? */
static void all_there(const struct bl_samples *some,
                      const struct bl_samples *all, double from, double to)
{
    size_t i = 0;
    for (size_t k = 0; k < all->count; k++) {
        const double t = (double)all->time_ns[k] * 1e-9;
        if (t < from || t > to) {
            continue;
        }
        while (i < some->count && some->time_ns[i] < all->time_ns[k]) {
            i++;
        }
        assert_true(i < some->count);
        assert_int_equal(some->time_ns[i], all->time_ns[k]);
        assert_true(some->value[i] == all->value[k]);
    }
}

static void activity_is_kept_sample_by_sample(void **state)
{
    const struct made *m = *state;
    struct bl_run_data *whole = load(m, SIZE_MAX);
    struct bl_run_data *thin = load(m, 0);
    assert_int_equal(whole->channel[0].samples.count, ROWS);
    assert_int_equal(whole->channel[0].quiets, 0);
    for (size_t c = 0; c < 4; c++) {
        const struct bl_samples *some = &thin->channel[c].samples;
        const struct bl_samples *all = &whole->channel[c].samples;
        all_there(some, all, 0, 2);
        all_there(some, all, (double)ROWS / HZ - 2, (double)ROWS / HZ);
        for (size_t i = 0; i < COUNT_OF(steps_at); i++) {
            all_there(some, all, steps_at[i] - 11.5, steps_at[i] + 4);
        }
        /* The switch opens a window as well. */
        all_there(some, all, 270 - 11.5, 273.9);
        /* The creep is 10 kPa away from where rest was after 25 s. */
        all_there(some, all, creep_at + 26 - 11.5, creep_at + creep_s + 1.9);
        all_there(some, all, hold_at - 11.5, hold_at + 60);
        all_there(some, all, hold_at + hold_s - 11.5, hold_at + hold_s + 1.9);
        assert_int_equal(some->interval_ns, all->interval_ns);
        assert_true(some->resolution == all->resolution);
        assert_int_equal(some->regular, all->regular);
    }
    /* Windows of 17, 20 and 16 s; 46 s of the creep, 12 before and the minute
       after which rest, that has followed it a little, is taken anew; of the
       hold its first minute and that after its end, 12 s before each; 4 s at
       the ends: 319 s of 720. */
    assert_true(thin->channel[0].samples.count <= (size_t)319 * HZ);
    bl_run_data_destroy(whole);
    bl_run_data_destroy(thin);
}

/* Every row is kept or in exactly one block, and the blocks tell the truth. */
static void nothing_is_lost(void **state)
{
    const struct made *m = *state;
    struct bl_run_data *whole = load(m, SIZE_MAX);
    struct bl_run_data *thin = load(m, 0);
    for (size_t c = 0; c < 4; c++) {
        const struct bl_channel_series *s = &thin->channel[c];
        const struct bl_samples *all = &whole->channel[c].samples;
        uint64_t rows = s->samples.count;
        size_t k = 0;
        assert_true(s->quiets > 10);
        for (size_t i = 0; i < s->quiets; i++) {
            const struct bl_quiet_rows *q = &s->quiet_rows[i];
            rows += q->rows;
            while (all->time_ns[k] < q->first_ns) {
                k++;
            }
            assert_int_equal(all->time_ns[k], q->first_ns);
            float low = INFINITY, high = -INFINITY;
            double sum = 0;
            double values = 0;
            for (size_t n = 0; n < q->rows; n++, k++) {
                if (isnan(all->value[k])) {
                    continue;
                }
                low = fminf(low, all->value[k]);
                high = fmaxf(high, all->value[k]);
                sum += all->value[k];
                values++;
            }
            assert_int_equal(all->time_ns[k - 1], q->last_ns);
            assert_true(s->quiet[i].smallest == low);
            assert_true(s->quiet[i].largest == high);
            assert_true(fabs(s->quiet[i].mean - sum / values) <= 1e-3);
        }
        assert_int_equal(rows, ROWS);
        const struct bl_seen a = bl_channel_seen(s);
        const struct bl_seen b = bl_channel_seen(&whole->channel[c]);
        /* The wild one is a spike, and left out. */
        assert_int_equal(s->spikes, c == 0);
        assert_int_equal(a.count, ROWS - s->spikes);
        assert_true(a.smallest == b.smallest && a.largest == b.largest);
        assert_int_equal(a.changes, b.changes);
    }
    /* The wild sample shows in what was seen, and in its block. */
    assert_true(bl_channel_seen(&thin->channel[0]).largest > 295);
    bl_run_data_destroy(whole);
    bl_run_data_destroy(thin);
}

static void a_single_wild_sample_opens_nothing(void **state)
{
    const struct made *m = *state;
    struct bl_run_data *thin = load(m, 0);
    const struct bl_samples *s = &thin->channel[0].samples;
    for (size_t i = 0; i < s->count; i++) {
        const double t = (double)s->time_ns[i] * 1e-9;
        assert_false(t > 100 && t < 185);
    }
    bl_run_data_destroy(thin);
}

/* Figures from the windows are those from the whole log, to the bit: all that
   a figure looks at lies inside. Only the lowest rest of all, from where the
   search for an application begins, may differ by its noise; a pressure that
   creeps shows that in its time. */
static void figures_are_the_same(void **state)
{
    const struct made *m = *state;
    struct bl_run_data *data[2] = {load(m, SIZE_MAX), load(m, 0)};
    struct bl_run_clocks *clocks[2];
    struct bl_run_lag *lag[2];
    struct bl_error error;
    for (size_t i = 0; i < 2; i++) {
        assert_int_equal(
            bl_clock_tie_run(&clocks[i], m->trial, data[i], &error), BL_OK);
        assert_int_equal(
            bl_measure_run(&lag[i], m->trial, data[i], clocks[i], &error),
            BL_OK);
    }
    /* The three steps, the creep and the hold. */
    assert_int_equal(lag[0]->applications, 5);
    assert_int_equal(lag[1]->applications, 5);
    for (size_t a = 0; a < 5; a++) {
        const struct bl_application *x = &lag[0]->application[a];
        const struct bl_application *y = &lag[1]->application[a];
        if (a == 3) {
            /* Noise of 0.5 kPa either side over 0.4 kPa/s. */
            assert_true(llabs(x->apply_ns - y->apply_ns) < 2500000000);
            continue;
        }
        assert_int_equal(x->apply_ns, y->apply_ns);
        /* The middle of a hold of two minutes is not kept: its median, and the
           90 % of it, may differ by noise. */
        assert_true(llabs(x->release_ns - y->release_ns) <=
                    (a == 4 ? 1000 : 0));
        const struct bl_figure *p = &x->unit[0].figure[BL_FIGURE_RESPONSE];
        const struct bl_figure *q = &y->unit[0].figure[BL_FIGURE_RESPONSE];
        assert_int_equal(p->known, q->known);
        if (p->known) {
            assert_true(p->s == q->s && p->u_s == q->u_s);
        }
    }
    for (size_t i = 0; i < 2; i++) {
        bl_run_lag_destroy(lag[i]);
        bl_run_clocks_destroy(clocks[i]);
        bl_run_data_destroy(data[i]);
    }
}

/* As many blocks as there is room for, and then longer ones. */
static void blocks_are_bounded(void **state)
{
    (void)state;
    enum { COUNT = 1024 };
    static int64_t time_ns[COUNT];
    static float value[COUNT];
    float *values[] = {value};
    const struct bl_log_samples s = {
        .time_ns = time_ns, .count = COUNT, .value = values, .values = 1};
    struct bl_quiet_build q = {0};
    assert_int_equal(bl_quiet_start(&q, 1), BL_OK);
    uint64_t rows = 0;
    double sum = 0;
    int64_t t = 0;
    for (size_t turn = 0; turn < 20000; turn++) {
        for (size_t i = 0; i < COUNT; i++) {
            time_ns[i] = t++;
            value[i] = (float)(turn % 1000);
        }
        sum += (double)COUNT * (double)(turn % 1000);
        q.stretch = (uint32_t)(turn / 7000);
        assert_int_equal(bl_quiet_add(&q, &s, 0, COUNT), BL_OK);
        assert_true(q.count <= BL_LIMIT_QUIET_BLOCKS);
    }
    double kept = 0;
    int64_t last = -1;
    for (size_t i = 0; i < q.count; i++) {
        assert_int_equal(q.rows[i].first_ns, last + 1);
        last = q.rows[i].last_ns;
        rows += q.rows[i].rows;
        kept += (double)q.rows[i].rows * (double)q.value[0][i].mean;
        /* Blocks never join across stretches. */
        assert_int_equal(q.rows[i].stretch,
                         (uint32_t)(q.rows[i].first_ns / COUNT / 7000));
        assert_int_equal(q.rows[i].stretch,
                         (uint32_t)(q.rows[i].last_ns / COUNT / 7000));
    }
    assert_int_equal(rows, UINT64_C(20000) * COUNT);
    assert_true(fabs(kept - sum) <= 1e-4 * sum);
    bl_quiet_finish(&q);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(activity_is_kept_sample_by_sample),
        cmocka_unit_test(nothing_is_lost),
        cmocka_unit_test(a_single_wild_sample_opens_nothing),
        cmocka_unit_test(figures_are_the_same),
        cmocka_unit_test(blocks_are_bounded),
    };
    return cmocka_run_group_tests(tests, make, unmake);
}
