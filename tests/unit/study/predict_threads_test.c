/* SPDX-License-Identifier: MIT */
/* Draws are seeded: a run of the demo by air, read by one and by four threads
   and predicted each time, gives the same bands, stages, fits and ladder, bit
   for bit. Outside reference: the definition that the number of threads may not
   show. */
#include "testing.h"

#include "brakelag/brakelag.h"
#include "load/build.h"

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
        assert_int_equal(a->stage[k].known, b->stage[k].known);
        same(a->stage[k].s, b->stage[k].s);
        same(a->stage[k].limit_s, b->stage[k].limit_s);
        same(a->stage[k].fit.friction, b->stage[k].fit.friction);
        same(a->stage[k].fit.delay_s, b->stage[k].fit.delay_s);
    }
    assert_int_equal(a->ladder.known, b->ladder.known);
    same(a->ladder.low_kpa, b->ladder.low_kpa);
    same(a->ladder.high_kpa, b->ladder.high_kpa);
}

static void any_number_of_threads(void **state)
{
    static const size_t threads[] = {4};
    struct bl_trial *trial;
    struct bl_notes mistakes = {0};
    struct predicted one;
    char path[4096];
    size_t run = 0;
    (void)state;
    test_path("BL_SOURCE_ROOT", "captures-demo/trial.ini", path, sizeof(path));
    assert_int_equal(bl_trial_read_file(&trial, path, &mistakes, NULL), BL_OK);
    while (strcmp(trial->run[run].name, "U1") != 0) {
        run++;
    }
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
    bl_notes_finish(&mistakes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_number_of_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
