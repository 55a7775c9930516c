/* SPDX-License-Identifier: MIT */
/*
 * What a history keeps of the results that are put into it, and that it keeps
 * it once. The header's fields are at the places that the file format of SQLite
 * states (sqlite.org/fileformat2.html, 1.3; from memory).
 */
#include "made_result.h"

#include "../report/sample.h"

static void new_file_says_what_it_is(void **state)
{
    (void)state;
    char path[300];
    unsigned char head[100];
    struct bl_history *history =
        made_open(made_path("new", path, sizeof(path)));
    bl_history_close(history);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    assert_int_equal(fread(head, 1, sizeof(head), file), sizeof(head));
    fclose(file);
    assert_memory_equal(head, "SQLite format 3", 16);
    assert_int_equal(head[18], 2); /* write-ahead log */
    assert_int_equal(head[19], 2);
    assert_memory_equal(head + 60, "\0\0\0\1", 4); /* user version */
    assert_memory_equal(head + 68, "BrLg", 4);     /* application id */
    (void)unlink(path);
}

static void adding_twice_changes_nothing(void **state)
{
    (void)state;
    char path[300];
    const struct made_visit visit = made_plain('1');
    struct bl_history *history =
        made_open(made_path("twice", path, sizeof(path)));
    const int64_t number = made_add(history, &visit, BL_HISTORY_ADDED);
    const int written = sqlite3_total_changes(history->db);
    assert_int_equal(made_add(history, &visit, BL_HISTORY_SAME), number);
    assert_int_equal(sqlite3_total_changes(history->db), written);
    assert_int_equal(made_rows(history, "visit"), 1);
    /* One unit with an id; four applications of ten figures each. */
    assert_int_equal(made_rows(history, "member"), 1);
    assert_int_equal(made_rows(history, "application"), 4);
    size_t figures = 0;
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        figures += bl_figure_of_unit(i);
    }
    assert_int_equal(made_rows(history, "figure"), 4 * figures);
    bl_history_close(history);
    (void)unlink(path);
}

static void newer_result_replaces_the_older(void **state)
{
    (void)state;
    char path[300];
    struct made_visit visit = made_plain('1');
    const struct made_visit other = made_plain('5');
    struct bl_history *history =
        made_open(made_path("newer", path, sizeof(path)));
    const int64_t number = made_add(history, &visit, BL_HISTORY_ADDED);
    (void)made_add(history, &other, BL_HISTORY_ADDED);
    visit.value[1][0] = 0.5;
    assert_int_equal(made_add(history, &visit, BL_HISTORY_REPLACED), number);
    assert_int_equal(made_rows(history, "visit"), 2);
    assert_int_equal(made_rows(history, "recording"), 4);
    assert_int_equal(made_rows(history, "figure WHERE value = 0.5"), 1);
    assert_int_equal(made_rows(history, "figure WHERE value = 0.44"), 1);
    bl_history_close(history);
    (void)unlink(path);
}

/* A whole trial takes the place of one of its runs; never the other way. */
static void parts_do_not_replace_the_whole(void **state)
{
    (void)state;
    char path[300];
    struct made_visit whole = made_plain('1');
    struct made_visit part = made_plain('1');
    struct bl_history_added added;
    struct bl_error error;
    part.runs = 1;
    struct bl_history *history =
        made_open(made_path("parts", path, sizeof(path)));
    const int64_t number = made_add(history, &part, BL_HISTORY_ADDED);
    assert_int_equal(made_rows(history, "application"), 2);
    assert_int_equal(made_add(history, &whole, BL_HISTORY_REPLACED), number);
    assert_int_equal(made_rows(history, "application"), 4);
    char *json = made_json(&part);
    assert_int_equal(made_add_text(history, json, &added, &error), BL_ARG);
    assert_non_null(strstr(error.message, "shares recordings with visit 1"));
    assert_int_equal(made_rows(history, "application"), 4);
    bl_free(json);
    bl_history_added_finish(&added);
    bl_history_close(history);
    (void)unlink(path);
}

static void removed_visit_leaves_nothing(void **state)
{
    (void)state;
    static const char *const tables[] = {"visit", "recording",   "member",
                                         "label", "application", "figure"};
    char path[300];
    struct bl_error error;
    const struct made_visit visit = made_plain('1');
    struct bl_history *history =
        made_open(made_path("removed", path, sizeof(path)));
    const int64_t number = made_add(history, &visit, BL_HISTORY_ADDED);
    assert_int_equal(bl_history_remove(history, number + 1, &error), BL_NODATA);
    assert_int_equal(bl_history_remove(history, number, &error), BL_OK);
    for (size_t i = 0; i < COUNT_OF(tables); i++) {
        assert_int_equal(made_rows(history, tables[i]), 0);
    }
    bl_history_close(history);
    (void)unlink(path);
}

/* Foreign text stays text, wherever it goes to or comes from. */
static void text_is_no_command(void **state)
{
    (void)state;
    static const char odd[] = "'); DROP TABLE figure; -- \"%s\\ \xC3\xA4";
    char path[300];
    struct bl_error error;
    struct bl_history_list *list = NULL;
    struct made_visit visit = made_plain('1');
    visit.id = odd;
    struct bl_history *history =
        made_open(made_path("odd;drop", path, sizeof(path)));
    (void)made_add(history, &visit, BL_HISTORY_ADDED);
    assert_int_equal(bl_history_list_create(&list, history, odd, &error),
                     BL_OK);
    assert_int_equal(list->units, 1);
    assert_string_equal(list->unit[0].id, odd);
    assert_string_equal(list->unit[0].name, "trailer");
    assert_string_equal(list->visit[0].place, "works");
    bl_history_list_destroy(list);
    assert_int_equal(
        bl_history_list_create(&list, history, "' OR 1 --", &error), BL_NODATA);
    bl_history_close(history);
    (void)unlink(path);
}

/* A trial itself and the JSON of its result say the same. */
static void trial_and_its_json_are_one(void **state)
{
    (void)state;
    char path[300];
    struct sample s;
    struct bl_result *result = NULL;
    struct bl_output *output = NULL;
    struct bl_error error;
    struct bl_history_added added = {.visit = 0};
    sample_make(&s);
    s.trial.date = (char *)"2026-03-01";
    s.unit[1].id = (char *)"BT-1";
    assert_int_equal(sample_result(&result, &s, &error), BL_OK);
    struct bl_history *history =
        made_open(made_path("one", path, sizeof(path)));
    assert_int_equal(bl_history_add(history, result, &added, &error), BL_OK);
    assert_int_equal(added.change, BL_HISTORY_ADDED);
    assert_int_equal(added.units, 1);
    /* Two units without an id, and one output without a label. */
    assert_int_equal(added.notes.count, 3);
    bl_history_added_finish(&added);
    const struct bl_result_options options = {.form = BL_RESULT_JSON};
    assert_int_equal(bl_output_open(&output, NULL, &error), BL_OK);
    assert_int_equal(bl_result_write(result, output, &options, &error), BL_OK);
    size_t size;
    assert_int_equal(
        made_add_text(history, bl_output_memory(output, &size), &added, &error),
        BL_OK);
    assert_int_equal(added.change, BL_HISTORY_SAME);
    bl_history_added_finish(&added);
    bl_output_discard(output);
    bl_result_destroy(result);
    bl_history_close(history);
    (void)unlink(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(new_file_says_what_it_is),
        cmocka_unit_test(adding_twice_changes_nothing),
        cmocka_unit_test(newer_result_replaces_the_older),
        cmocka_unit_test(parts_do_not_replace_the_whole),
        cmocka_unit_test(removed_visit_leaves_nothing),
        cmocka_unit_test(text_is_no_command),
        cmocka_unit_test(trial_and_its_json_are_one)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
