/* SPDX-License-Identifier: MIT */
/* Draws are seeded: a run of the demo by air, read by one and by four threads
   and predicted each time, gives the same bands, stages, fits and ladder, bit
   for bit. Outside reference: the definition that the number of threads may not
   show. And what is left where no bands are wanted is the same as with them. */
#include "testing.h"

#include "brakelag/brakelag.h"
#include "load/build.h"

#include <math.h>

enum { WHOLE = 1 << 26 };

struct predicted {
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct bl_run_lag *lag;
    struct bl_predict *result;
};

static void predict(struct predicted *to, const struct bl_trial *trial,
                    size_t run, size_t threads)
{
    struct bl_error error;
    assert_int_equal(
        bl_load_run_with(&to->data, trial, run, threads, WHOLE, &error), BL_OK);
    assert_int_equal(bl_clock_tie_run(&to->clocks, trial, to->data, &error),
                     BL_OK);
    assert_int_equal(
        bl_measure_run(&to->lag, trial, to->data, to->clocks, &error), BL_OK);
    assert_int_equal(bl_predict_run(&to->result, trial, to->data, to->clocks,
                                    to->lag, &error),
                     BL_OK);
}

static void finish(struct predicted *it)
{
    bl_predict_destroy(it->result);
    bl_run_lag_destroy(it->lag);
    bl_run_clocks_destroy(it->clocks);
    bl_run_data_destroy(it->data);
}

static void same(double a, double b)
{
    assert_memory_equal(&a, &b, sizeof(a));
}

static void same_stage(const struct bl_stage *a, const struct bl_stage *b)
{
    assert_int_equal(a->known, b->known);
    assert_int_equal(a->late, b->late);
    same(a->s, b->s);
    same(a->limit_s, b->limit_s);
}

static void same_fit(const struct bl_stage_fit *a, const struct bl_stage_fit *b)
{
    assert_int_equal(a->known, b->known);
    assert_int_equal(a->cause, b->cause);
    same(a->friction, b->friction);
    same(a->delay_s, b->delay_s);
}

static void same_ladder(const struct bl_ladder *a, const struct bl_ladder *b)
{
    assert_int_equal(a->known, b->known);
    same(a->low_kpa, b->low_kpa);
    same(a->high_kpa, b->high_kpa);
}

static void same_unit(const struct bl_predict_unit *a,
                      const struct bl_predict_unit *b)
{
    assert_int_equal(a->rows, b->rows);
    for (size_t i = 0; i < a->rows; i++) {
        assert_int_equal(a->row[i].verdict, b->row[i].verdict);
        assert_int_equal(a->row[i].points, b->row[i].points);
        for (size_t k = 0; k < a->row[i].points; k++) {
            same(a->row[i].point[k].low_s, b->row[i].point[k].low_s);
            same(a->row[i].point[k].middle_s, b->row[i].point[k].middle_s);
            same(a->row[i].point[k].high_s, b->row[i].point[k].high_s);
            same(a->row[i].point[k].latest_s, b->row[i].point[k].latest_s);
        }
    }
    for (size_t k = 0; k < BL_STAGES; k++) {
        same_stage(&a->stage[k], &b->stage[k]);
        same_fit(&a->stage[k].fit, &b->stage[k].fit);
    }
    same_ladder(&a->ladder, &b->ladder);
}

static struct bl_trial *read_demo(size_t *run)
{
    struct bl_trial *trial;
    struct bl_notes mistakes = {0};
    char path[4096];
    test_path("BL_SOURCE_ROOT", "captures-demo/trial.ini", path, sizeof(path));
    assert_int_equal(bl_trial_read_file(&trial, path, &mistakes, NULL), BL_OK);
    *run = 0;
    while (strcmp(trial->run[*run].name, "U1") != 0) {
        (*run)++;
    }
    bl_notes_finish(&mistakes);
    return trial;
}

static void any_number_of_threads(void **state)
{
    static const size_t threads[] = {4};
    struct predicted one;
    size_t run;
    (void)state;
    struct bl_trial *trial = read_demo(&run);
    predict(&one, trial, run, 1);
    assert_true(one.result->unit[5].rows > 0 &&
                one.result->unit[5].stage[0].fit.known);
    for (size_t i = 0; i < COUNT_OF(threads); i++) {
        struct predicted other;
        predict(&other, trial, run, threads[i]);
        for (size_t u = 0; u < one.result->units; u++) {
            same_unit(&one.result->unit[u], &other.result->unit[u]);
        }
        finish(&other);
    }
    finish(&one);
    bl_trial_destroy(trial);
}

/* Rows without a band and their figures, stages and ladder. */
static void same_without_bands(const struct bl_predict_unit *with,
                               const struct bl_predict_unit *without)
{
    assert_int_equal(with->reason, without->reason);
    assert_int_equal(with->rows, without->rows);
    for (size_t i = 0; i < with->rows; i++) {
        const struct bl_predict_row *row = &without->row[i];
        assert_int_equal(with->row[i].points, row->points);
        assert_int_equal(row->verdict, BL_PREDICT_NOT_DECIDED);
        assert_true(isnan(row->low_s) && isnan(row->high_s));
        for (size_t k = 0; k < row->points; k++) {
            same(with->row[i].point[k].s, row->point[k].s);
            same(with->row[i].point[k].u_s, row->point[k].u_s);
        }
    }
    for (size_t k = 0; k < BL_STAGES; k++) {
        same_stage(&with->stage[k], &without->stage[k]);
    }
    same_ladder(&with->ladder, &without->ladder);
}

/* As it is no stage of the demo is late, so none need be fitted; with the pipe
   to unit 2 stated as 4 m and not 15, hers is late by its length. */
static void without_bands(void **state)
{
    size_t run;
    (void)state;
    struct bl_trial *trial = read_demo(&run);
    for (int late = 0; late < 2; late++) {
        struct predicted it;
        struct bl_predict *without;
        trial->unit[2].pipe_m = late ? 4 : 15;
        predict(&it, trial, run, 1);
        assert_int_equal(bl_predict_run_without_bands(&without, trial, it.data,
                                                      it.clocks, it.lag, NULL),
                         BL_OK);
        assert_int_equal(it.result->unit[2].stage[0].late, late);
        for (size_t u = 0; u < without->units; u++) {
            same_without_bands(&it.result->unit[u], &without->unit[u]);
            if (late) {
                same_fit(&it.result->unit[u].stage[0].fit,
                         &without->unit[u].stage[0].fit);
            } else {
                assert_false(without->unit[u].stage[0].fit.known);
            }
        }
        bl_predict_destroy(without);
        finish(&it);
    }
    bl_trial_destroy(trial);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_number_of_threads),
        cmocka_unit_test(without_bands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
