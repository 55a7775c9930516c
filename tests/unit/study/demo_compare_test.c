/* SPDX-License-Identifier: MIT */
/*
 * The demonstration trial against the truth that simulate wrote beside it:
 * every unit's change from unpowered to powered lies in the stated interval.
 * The truth is what the simulated outputs did, before any recorder.
 */
#include "testing.h"

#include "brakelag/compare.h"

#include <jansson.h>
#include <math.h>

static const struct {
    enum bl_figure_name figure;
    const char *name;
} checked[] = {{BL_FIGURE_RESPONSE, "response"},
               {BL_FIGURE_APPLY_10, "apply_10"},
               {BL_FIGURE_APPLY_75, "apply_75"},
               {BL_FIGURE_RELEASE_START, "release_start"},
               {BL_FIGURE_RELEASE_10, "release_10"},
               {BL_FIGURE_RELEASE_END, "release_end"}};

/* Mean of a true figure over the applications of a kind in a condition; NaN
   where it does not happen, as for the rear at light demand by air. */
static double true_mean(const json_t *truth, const char *condition,
                        const char *kind, long unit, const char *figure)
{
    double sum = 0;
    size_t count = 0;
    size_t r;
    size_t a;
    json_t *run;
    json_t *application;
    json_array_foreach(json_object_get(truth, "runs"), r, run)
    {
        if (strcmp(json_string_value(json_object_get(run, "condition")),
                   condition) != 0) {
            continue;
        }
        json_array_foreach(json_object_get(run, "applications"), a, application)
        {
            const json_t *units = json_object_get(application, "units");
            const json_t *is = json_array_get(units, (size_t)unit);
            if (strcmp(json_string_value(json_object_get(application, "kind")),
                       kind) != 0) {
                continue;
            }
            const json_t *value = json_object_get(is, figure);
            sum += json_is_number(value) ? json_number_value(value) : NAN;
            count++;
        }
    }
    assert_true(count > 0);
    return sum / (double)count;
}

static struct bl_run_lag *measured(const struct bl_trial *trial, size_t run)
{
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct bl_run_lag *lag;
    assert_int_equal(bl_load_run(&data, trial, run, NULL), BL_OK);
    assert_int_equal(bl_clock_tie_run(&clocks, trial, data, NULL), BL_OK);
    assert_int_equal(bl_measure_run(&lag, trial, data, clocks, NULL), BL_OK);
    bl_run_clocks_destroy(clocks);
    bl_run_data_destroy(data);
    return lag;
}

static const struct bl_comparison_row *row_of(const struct bl_comparison *c,
                                              size_t unit,
                                              enum bl_application_kind kind,
                                              enum bl_figure_name figure)
{
    for (size_t i = 0; i < c->rows; i++) {
        if (c->row[i].unit == unit && c->row[i].kind == kind &&
            c->row[i].shape == BL_SHAPE_STEP && c->row[i].figure == figure) {
            return &c->row[i];
        }
    }
    return NULL;
}

static void check_unit(const struct bl_comparison *c,
                       const struct bl_trial *trial, const json_t *truth,
                       size_t unit, size_t *intervals)
{
    static const struct {
        enum bl_application_kind kind;
        const char *name;
    } kinds[] = {{BL_KIND_LIGHT, "light"}, {BL_KIND_FULL, "full"}};
    for (size_t i = 0; i < COUNT_OF(kinds) * COUNT_OF(checked); i++) {
        const size_t k = i % COUNT_OF(kinds);
        const size_t f = i / COUNT_OF(kinds);
        const struct bl_comparison_row *row =
            row_of(c, unit, kinds[k].kind, checked[f].figure);
        const double expected = true_mean(truth, "powered", kinds[k].name,
                                          (long)unit, checked[f].name) -
                                true_mean(truth, "unpowered", kinds[k].name,
                                          (long)unit, checked[f].name);
        const bool given = row != NULL && row->confidence > 0;
        if (isnan(expected)) {
            assert_int_equal(kinds[k].kind, BL_KIND_LIGHT);
            assert_false(given);
            continue;
        }
        if (!given && kinds[k].kind == BL_KIND_LIGHT) {
            continue; /* within noise, of a unit that holds next to nothing */
        }
        assert_true(given && row->confidence >= 0.95);
        (*intervals)++;
        if (!(row->low_s <= expected && expected <= row->high_s)) {
            fail_msg("unit %d, %s, %s: true %.5f s, interval %.5f to %.5f s",
                     trial->unit[unit].number, kinds[k].name, checked[f].name,
                     expected, row->low_s, row->high_s);
        }
    }
}

static void the_truth_lies_in_every_interval(void **state)
{
    (void)state;
    char path[1024];
    struct bl_trial *trial;
    struct bl_run_lag *lag[8] = {NULL};
    struct bl_comparison *c;
    snprintf(path, sizeof(path), "%s/captures-demo/truth.json",
             getenv("BL_SOURCE_ROOT"));
    json_t *truth = json_load_file(path, 0, NULL);
    assert_non_null(truth);
    snprintf(path, sizeof(path), "%s/captures-demo/trial.ini",
             getenv("BL_SOURCE_ROOT"));
    assert_int_equal(bl_trial_read_file(&trial, path, NULL, NULL), BL_OK);
    assert_true(trial->runs <= COUNT_OF(lag));
    for (size_t i = 0; i < trial->runs; i++) {
        lag[i] = measured(trial, i);
    }
    const struct bl_compare_options options = {.reference = "reference"};
    assert_int_equal(bl_compare(&c, trial, lag, &options, NULL), BL_OK);
    /* ABBABA: with three runs a side no order has equal mean positions. */
    assert_false(c->order_balanced);
    assert_int_equal(c->runs_reference, 1);
    size_t intervals = 0;
    for (size_t u = 0; u < trial->units; u++) {
        check_unit(c, trial, truth, u, &intervals);
    }
    /* All full ones, and light ones of the three units that brake by air. */
    assert_true(intervals >= trial->units * COUNT_OF(checked) + 6);
    bl_comparison_destroy(c);
    for (size_t i = 0; i < trial->runs; i++) {
        bl_run_lag_destroy(lag[i]);
    }
    bl_trial_destroy(trial);
    json_decref(truth);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_truth_lies_in_every_interval)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
