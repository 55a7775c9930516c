/* SPDX-License-Identifier: MIT */
/*
 * One unit's rows as series of its life: means and uncertainties worked out by
 * hand, and what is left out. And that memory that ends at any place loses
 * nothing.
 */
#include "made_result.h"

#include "history/tell.h"
#include "report/result.h"

static struct bl_history_life *life_of(struct bl_history *history,
                                       const char *id)
{
    struct bl_history_life *life = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_history_life_create(&life, history, id, &error) != BL_OK) {
        print_error("%s\n", error.message);
    }
    assert_non_null(life);
    return life;
}

static void value_is_the_mean_of_runs(void **state)
{
    (void)state;
    char path[300];
    struct made_visit visit = made_plain('1');
    struct bl_history *history =
        made_open(made_path("mean", path, sizeof(path)));
    (void)made_add(history, &visit, BL_HISTORY_ADDED);
    struct bl_history_life *found = life_of(history, "BT-0417");
    const struct bl_life *life = &found->life;
    assert_int_equal(life->visits, 1);
    /* 2026-03-01 is day 20513: 56 years of 365 days, 14 leap days, 59. */
    assert_near(life->visit[0].day, 56 * 365 + 14 + 59, 0);
    assert_near(life->visit[0].supply_kpa, 800, 0);
    assert_near(life->visit[0].temperature_c, 20, 0);
    assert_near(life->visit[0].units_in_front, 1, 0);
    assert_string_equal(life->visit[0].kinds_in_front, "unit relayed");
    assert_string_equal(life->visit[0].command, "treadle-pressure at 20 kPa");
    assert_int_equal(life->series_count, 1);
    const struct bl_life_series *series = &life->series[0];
    assert_int_equal(series->key.figure, BL_FIGURE_APPLY_75);
    assert_int_equal(series->key.kind, BL_KIND_FULL);
    assert_int_equal(series->key.shape, BL_SHAPE_STEP);
    assert_string_equal(series->key.condition, "powered");
    assert_false(series->by_air);
    assert_int_equal(series->values, 1);
    const struct bl_life_value *value = &series->value[0];
    /* Runs 0.41 and 0.45. Two runs: the scatter of 0.40, 0.42, 0.44, 0.46,
       squares 0.002, / 3 / 4; the clock's 1 ms. */
    assert_near(value->value, 0.43, 1e-12);
    assert_near(value->u_random, sqrt(0.002 / 12 + 1e-6), 1e-12);
    assert_near(value->u_systematic, 0.002, 1e-12);
    assert_near(value->command_rise_s, 0.12, 1e-12);
    assert_string_equal(value->position, "rear");
    assert_string_equal(value->transducer, "T-7; T-1");
    bl_history_life_destroy(found);
    bl_history_close(history);
    (void)unlink(path);
}

/* Equal values do not make a mean surer than its parts: 5 ms / root of 4. */
static void stated_part_is_the_least(void **state)
{
    (void)state;
    char path[300];
    struct made_visit visit = made_plain('1');
    for (int i = 0; i < 4; i++) {
        visit.value[i / 2][i % 2] = 0.4;
    }
    struct bl_history *history =
        made_open(made_path("least", path, sizeof(path)));
    (void)made_add(history, &visit, BL_HISTORY_ADDED);
    struct bl_history_life *found = life_of(history, "BT-0417");
    assert_near(found->life.series[0].value[0].u_random,
                sqrt(0.0025 * 0.0025 + 1e-6), 1e-12);
    bl_history_life_destroy(found);
    bl_history_close(history);
    (void)unlink(path);
}

/* Visits stand by their day, whenever they were added; a day may have two. */
static void visits_stand_by_day(void **state)
{
    (void)state;
    static const char *const dates[] = {"2026-03-01", "2025-03-01T14:30",
                                        "2024-03-01", "2025-03-01T08:00"};
    static const int order[] = {2, 3, 1, 0};
    char path[300];
    struct bl_history *history =
        made_open(made_path("days", path, sizeof(path)));
    for (int i = 0; i < 4; i++) {
        struct made_visit visit = made_plain((char)('1' + 2 * i));
        visit.date = dates[i];
        visit.value[0][0] = visit.value[0][1] = visit.value[1][0] =
            visit.value[1][1] = 0.1 * (i + 1);
        (void)made_add(history, &visit, BL_HISTORY_ADDED);
    }
    struct bl_history_life *found = life_of(history, "BT-0417");
    assert_int_equal(found->life.visits, 4);
    for (size_t i = 0; i < 4; i++) {
        const struct bl_life_value *value = &found->life.series[0].value[i];
        assert_string_equal(found->list->visit[i].date, dates[order[i]]);
        assert_int_equal(value->visit, i);
        assert_near(value->value, 0.1 * (order[i] + 1), 1e-12);
    }
    /* 6.5 hours. */
    assert_near(found->life.visit[2].day - found->life.visit[1].day, 6.5 / 24,
                1e-9);
    struct bl_lives *lives = bl_life_create(&found->life, NULL, NULL);
    assert_non_null(lives);
    bl_life_destroy(lives);
    bl_history_life_destroy(found);
    bl_history_close(history);
    (void)unlink(path);
}

/* What was not recorded is not known, and not the same as something. */
static void unstated_is_unknown(void **state)
{
    (void)state;
    char path[300];
    struct made_visit visit = made_plain('1');
    visit.label = NULL;
    struct bl_history *history =
        made_open(made_path("unstated", path, sizeof(path)));
    char *json = made_json(&visit);
    char *place = strstr(json, "\"T-1\"");
    assert_non_null(place);
    memcpy(place, "null ", 5);
    place = strstr(json, "800");
    memcpy(place, "  0", 3);
    struct bl_history_added added;
    struct bl_error error;
    assert_int_equal(made_add_text(history, json, &added, &error), BL_OK);
    assert_non_null(bl_notes_find(&added.notes, "output-without-label"));
    assert_non_null(bl_notes_find(&added.notes, "unit-without-id"));
    struct bl_history_life *found = life_of(history, "BT-0417");
    assert_null(found->life.series[0].value[0].position);
    assert_null(found->life.series[0].value[0].transducer);
    bl_history_life_destroy(found);
    bl_history_added_finish(&added);
    bl_free(json);
    bl_history_close(history);
    (void)unlink(path);
}

/* A sentence of the answer; NULL: nothing of that topic. */
static const char *told(const json_t *life, const char *topic)
{
    size_t i;
    const json_t *one;
    json_array_foreach(json_object_get(life, "answer"), i, one)
    {
        if (strcmp(bl_tree_get_text(one, "topic"), topic) == 0) {
            return bl_tree_get_text(one, "text");
        }
    }
    return NULL;
}

/* Five visits at 0.40 s, and at the sixth the output never answers. */
static void newest_visit_without_value_is_said(void **state)
{
    (void)state;
    char path[300];
    char date[] = "2020-03-01";
    struct bl_tree tree = {.failed = false};
    struct bl_history *history =
        made_open(made_path("newest", path, sizeof(path)));
    for (int i = 0; i < 6; i++) {
        struct made_visit visit = made_plain('1');
        const double value = i < 5 ? 0.4 + 0.001 * (i % 2) : NAN;
        date[3] = (char)('0' + i);
        visit.date = date;
        visit.hash = "02468a"[i];
        visit.value[0][0] = visit.value[0][1] = value;
        visit.value[1][0] = visit.value[1][1] = value;
        struct bl_history_life *life = NULL;
        (void)made_add(history, &visit, BL_HISTORY_ADDED);
        life = life_of(history, "BT-0417");
        json_t *model = bl_history_model_life(&tree, life);
        if (i == 4) {
            assert_non_null(told(model, "steady"));
            assert_null(told(model, "silent"));
            /* Figures that no visit has are not left out. */
            assert_int_equal(life->left_out, 0);
        } else if (i == 5) {
            assert_string_equal(told(model, "silent"),
                                "75 % of settled, full, powered: no value on "
                                "2025-03-01, though it was tested; 0.40 s on "
                                "2024-03-01.");
            /* It is no figure that has not changed. */
            assert_null(told(model, "steady"));
            assert_null(told(model, "no-value"));
            assert_int_equal(life->left_out, 4);
        }
        json_decref(model);
        bl_history_life_destroy(life);
    }
    bl_history_close(history);
    (void)unlink(path);
}

/* A crossing close to the settled pressure: a gain error of the transducer
   moves it by more than the time itself. The same transducer at all visits
   makes that drop out of every difference, and yet the times are worth nothing.
 */
static void larger_uncertainty_than_value_is_no_trend(void **state)
{
    (void)state;
    static const double u_gain[] = {0.3, 2.0};
    for (size_t k = 0; k < COUNT_OF(u_gain); k++) {
        char path[300];
        char date[] = "2020-03-01";
        struct bl_tree tree = {.failed = false};
        struct bl_history *history =
            made_open(made_path("larger", path, sizeof(path)));
        for (int i = 0; i < 6; i++) {
            struct made_visit visit = made_plain('1');
            date[3] = (char)('0' + i);
            visit.date = date;
            visit.hash = "02468a"[i];
            visit.u_gain = u_gain[k];
            for (int n = 0; n < 4; n++) {
                visit.value[n / 2][n % 2] = 0.4 + 0.2 * i;
            }
            (void)made_add(history, &visit, BL_HISTORY_ADDED);
        }
        struct bl_history_life *life = life_of(history, "BT-0417");
        json_t *model = bl_history_model_life(&tree, life);
        assert_int_equal(told(model, "changed") != NULL, k == 0);
        assert_int_equal(life->left_out, k == 0 ? 0 : 24);
        assert_null(told(model, "steady"));
        json_decref(model);
        bl_history_life_destroy(life);
        bl_history_close(history);
        (void)unlink(path);
    }
}

/* Two visits, then one that is empty: nothing but a difference is said, and
   of which days. */
static void difference_before_the_newest_is_dated(void **state)
{
    (void)state;
    static const char *const dates[] = {"2023-03-01", "2024-03-01",
                                        "2025-03-01"};
    char path[300];
    struct bl_tree tree = {.failed = false};
    struct bl_history *history =
        made_open(made_path("dated", path, sizeof(path)));
    for (int i = 0; i < 3; i++) {
        struct made_visit visit = made_plain((char)('1' + 2 * i));
        visit.date = dates[i];
        for (int k = 0; k < 4; k++) {
            visit.value[k / 2][k % 2] = i == 2 ? NAN : 0.4 + 0.2 * i;
        }
        (void)made_add(history, &visit, BL_HISTORY_ADDED);
    }
    struct bl_history_life *life = life_of(history, "BT-0417");
    json_t *model = bl_history_model_life(&tree, life);
    assert_non_null(told(model, "before"));
    assert_non_null(strstr(told(model, "before"),
                           " on 2024-03-01 than at the visit before "
                           "(2023-03-01)."));
    assert_non_null(told(model, "silent"));
    json_decref(model);
    bl_history_life_destroy(life);
    bl_history_close(history);
    (void)unlink(path);
}

/* Visits of 700 and 800 kPa, and a writer that adds an older one of 600 kPa
   between the questions. */
struct between {
    struct bl_history *other;
    bool done;
};

static void add_supply(struct bl_history *history, char hash, const char *date,
                       const char *supply)
{
    struct made_visit visit = made_plain(hash);
    struct bl_history_added added;
    struct bl_error error;
    visit.date = date;
    char *json = made_json(&visit);
    memcpy(strstr(json, "800"), supply, 3);
    assert_int_equal(made_add_text(history, json, &added, &error), BL_OK);
    bl_history_added_finish(&added);
    bl_free(json);
}

static int add_between(unsigned event, void *context, void *statement,
                       void *text)
{
    struct between *between = context;
    (void)event;
    (void)statement;
    if (!between->done && strstr(text, "supply_kpa") != NULL) {
        between->done = true;
        add_supply(between->other, '5', "2024-03-01", "600");
    }
    return 0;
}

static void writer_between_shifts_nothing(void **state)
{
    (void)state;
    char path[300];
    struct bl_history *history =
        made_open(made_path("between", path, sizeof(path)));
    add_supply(history, '1', "2025-03-01", "700");
    add_supply(history, '3', "2026-03-01", "800");
    struct between between = {.other = made_open(path)};
    assert_int_equal(
        sqlite3_trace_v2(history->db, SQLITE_TRACE_STMT, add_between, &between),
        SQLITE_OK);
    struct bl_history_life *found = life_of(history, "BT-0417");
    assert_true(between.done);
    assert_int_equal(found->life.visits, 2);
    assert_near(found->life.visit[0].supply_kpa, 700, 0);
    assert_near(found->life.visit[1].supply_kpa, 800, 0);
    assert_int_equal(found->life.series[0].values, 2);
    bl_history_life_destroy(found);
    /* The transaction is over: the next question sees all three. */
    found = life_of(history, "BT-0417");
    assert_int_equal(found->life.visits, 3);
    assert_near(found->life.visit[0].supply_kpa, 600, 0);
    bl_history_life_destroy(found);
    bl_history_close(between.other);
    bl_history_close(history);
    (void)unlink(path);
}

static int64_t reads_only(struct bl_history *history)
{
    int64_t number = -1;
    assert_int_equal(
        bl_store_number(history, "PRAGMA query_only", &number, NULL), BL_OK);
    return number;
}

/* A trial beside its history leaves the connection as it was, whether it works
   or fails. */
static void beside_leaves_the_mode(void **state)
{
    (void)state;
    char path[300];
    struct made_visit visit = made_plain('1');
    char *json = made_json(&visit);
    struct bl_history *history =
        made_open(made_path("mode", path, sizeof(path)));
    (void)made_add(history, &visit, BL_HISTORY_ADDED);
    for (int mode = 0; mode < 2; mode++) {
        if (mode == 1) {
            bl_history_close(history);
            assert_int_equal(
                bl_history_open(&history, path, BL_HISTORY_READ, NULL), BL_OK);
        }
        for (int bad = 0; bad < 2; bad++) {
            struct bl_result result = {.in_front = false};
            struct bl_error error;
            bl_error_clear(&error);
            result.root = json_loads(json, 0, NULL);
            assert_non_null(result.root);
            if (bad) {
                json_object_set_new(json_object_get(result.root, "trial"),
                                    "date", json_null());
            }
            const enum bl_status status =
                bl_history_tell_result(history, &result, &result, &error);
            assert_int_equal(status == BL_OK, !bad);
            assert_int_equal(reads_only(history), mode);
            assert_int_equal(made_rows(history, "visit"), 1);
            json_decref(result.root);
        }
    }
    bl_free(json);
    bl_history_close(history);
    (void)unlink(path);
}

static void memory_may_end_anywhere(void **state)
{
    (void)state;
    char path[300];
    const struct made_visit visit = made_plain('1');
    char *json = made_json(&visit);
    struct bl_history *history =
        made_open(made_path("memory", path, sizeof(path)));
    const int64_t held = bl_alloc_live();
    size_t refused = 0;
    enum bl_status status = BL_NOMEM;
    for (uint64_t n = 1; status != BL_OK; n++) {
        struct bl_history_added added = {.visit = 0};
        struct bl_history_life *life = NULL;
        struct bl_bytes *source = NULL;
        struct bl_error error;
        assert_int_equal(
            bl_bytes_open_memory(&source, "r.json", json, strlen(json), &error),
            BL_OK);
        bl_alloc_fail_at(n);
        status = bl_history_add_json(history, source, &added, &error);
        if (status == BL_OK) {
            status = bl_history_life_create(&life, history, "BT-0417", &error);
        } else {
            assert_int_equal(made_rows(history, "visit"), 0);
        }
        const bool failed = bl_alloc_count() >= n;
        bl_alloc_fail_at(0);
        assert_true(failed || status == BL_OK);
        if (status != BL_OK) {
            assert_true(status == BL_NOMEM || status == BL_LIMIT);
            refused++;
        }
        bl_bytes_close(source);
        bl_history_life_destroy(life);
        bl_history_added_finish(&added);
        assert_int_equal(bl_alloc_live(), held);
    }
    assert_true(refused > 10);
    bl_history_close(history);
    bl_free(json);
    (void)unlink(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(value_is_the_mean_of_runs),
        cmocka_unit_test(stated_part_is_the_least),
        cmocka_unit_test(visits_stand_by_day),
        cmocka_unit_test(unstated_is_unknown),
        cmocka_unit_test(newest_visit_without_value_is_said),
        cmocka_unit_test(larger_uncertainty_than_value_is_no_trend),
        cmocka_unit_test(difference_before_the_newest_is_dated),
        cmocka_unit_test(writer_between_shifts_nothing),
        cmocka_unit_test(beside_leaves_the_mode),
        cmocka_unit_test(memory_may_end_anywhere)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
