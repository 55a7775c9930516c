/* SPDX-License-Identifier: MIT */
/*
 * The result's tree and its writers against numbers made by hand (sample.h).
 * Outside references: RFC 8259 (no NaN in JSON, text is UTF-8), ISO 8859-1 for
 * foreign bytes, RFC 4180 for CSV, GUM (JCGM 100) 6.2 and 7.2 for k = 2 and for
 * rounding, 1 bar = 100 kPa.
 */
#include "testing.h"

#include "base/alloc.h"
#include "report/result.h"
#include "report/table.h"
#include "report/text.h"
#include "sample.h"

static struct bl_result *make(struct sample *s)
{
    struct bl_error error;
    struct bl_result *result = NULL;
    sample_make(s);
    assert_int_equal(sample_result(&result, s, &error), BL_OK);
    return result;
}

static char *written(const struct bl_result *result, enum bl_result_form form,
                     const char *pressure)
{
    struct bl_output *output;
    struct bl_error error;
    const struct bl_result_options options = {
        .form = form,
        .pressure = bl_measurement_unit_find(pressure),
        .columns = 500};
    assert_int_equal(bl_output_open(&output, NULL, &error), BL_OK);
    assert_int_equal(bl_result_write(result, output, &options, &error), BL_OK);
    size_t size;
    const char *text = bl_output_memory(output, &size);
    assert_non_null(text);
    assert_int_equal(strlen(text), size);
    char *copy = bl_strdup(text);
    bl_output_discard(output);
    return copy;
}

static json_t *parsed(const struct bl_result *result)
{
    char *text = written(result, BL_RESULT_JSON, "kPa");
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    bl_free(text);
    assert_non_null(root);
    return root;
}

static json_t *unit_of(json_t *root, size_t unit)
{
    json_t *run = json_array_get(json_object_get(root, "runs"), 0);
    json_t *application =
        json_array_get(json_object_get(run, "applications"), 0);
    return json_array_get(json_object_get(application, "units"), unit);
}

static void known_figure_is_given(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    json_t *root = parsed(result);
    json_t *figure = json_object_get(unit_of(root, 0), "response");
    assert_near(json_number_value(json_object_get(figure, "s")), 0.5, 0);
    assert_near(json_number_value(json_object_get(figure, "u_s")), 0.002, 0);
    assert_null(json_object_get(figure, "reason"));
    json_t *parts = json_object_get(figure, "u_parts");
    assert_near(json_number_value(json_object_get(parts, "crossing")), 0.002,
                0);
    assert_true(json_is_null(json_object_get(parts, "gain")));
    json_t *level =
        json_array_get(json_object_get(unit_of(root, 0), "levels"), 0);
    assert_near(json_number_value(json_object_get(level, "kpa")), 65, 0);
    assert_near(json_number_value(json_object_get(level, "s")), 0.375, 0);
    json_decref(root);
    bl_result_destroy(result);
}

static void missing_figure_is_null_with_reason(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    json_t *root = parsed(result);
    json_t *unit = unit_of(root, 2);
    json_t *figure = json_object_get(unit, "response");
    assert_true(json_is_null(json_object_get(figure, "s")));
    assert_true(json_is_null(json_object_get(figure, "u_s")));
    assert_string_equal(bl_tree_get_text(figure, "reason"), "did-not-respond");
    assert_true(json_is_false(json_object_get(unit, "responded")));
    json_t *hold = json_object_get(unit, "hold");
    assert_true(json_is_null(json_object_get(hold, "value")));
    assert_string_equal(bl_tree_get_text(hold, "reason"), "did-not-respond");
    json_decref(root);
    bl_result_destroy(result);
}

static void number_that_is_none_becomes_null(void **state)
{
    (void)state;
    struct sample s;
    sample_make(&s);
    s.unit_lag[0].figure[BL_FIGURE_RESPONSE].s = NAN;
    s.unit_lag[0].figure[BL_FIGURE_RESPONSE].u_s = INFINITY;
    struct bl_result *result = NULL;
    struct bl_error error;
    assert_int_equal(sample_result(&result, &s, &error), BL_OK);
    json_t *root = parsed(result);
    json_t *figure = json_object_get(unit_of(root, 0), "response");
    assert_true(json_is_null(json_object_get(figure, "s")));
    assert_true(json_is_null(json_object_get(figure, "u_s")));
    json_decref(root);
    bl_result_destroy(result);
}

static void time_keeps_every_nanosecond(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    json_t *root = parsed(result);
    json_t *run = json_array_get(json_object_get(root, "runs"), 0);
    assert_string_equal(bl_tree_get_text(run, "t0_ns"), "1701364099986950001");
    json_decref(root);
    bl_result_destroy(result);
}

static void foreign_bytes_become_utf8(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    json_t *root = parsed(result);
    /* E4 is a umlaut in ISO 8859-1, U+00E4, C3 A4 in UTF-8. */
    assert_string_equal(bl_tree_get_text(unit_of(root, 1), "name"),
                        "J\xC3\xA4rn, \"A\"");
    json_decref(root);
    bl_result_destroy(result);
}

static void utf8_stays_and_its_abuses_are_converted(void **state)
{
    (void)state;
    /* RFC 3629, section 4 and 10: overlong slash, surrogate, beyond
       U+10FFFF, cut sequence are not UTF-8. */
    static const struct {
        const char *in, *out;
    } cases[] = {
        {"\xC3\xA4\xE2\x82\xAC\xF0\x9F\x9A\x9B",
         "\xC3\xA4\xE2\x82\xAC\xF0\x9F\x9A\x9B"},
        {"\xC0\xAF", "\xC3\x80\xC2\xAF"},
        {"\xED\xA0\x80", "\xC3\xAD\xC2\xA0\xC2\x80"},
        {"\xF4\x90\x80\x80", "\xC3\xB4\xC2\x90\xC2\x80\xC2\x80"},
        {"a\xE2\x82", "a\xC3\xA2\xC2\x82"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct bl_tree tree = {false};
        json_t *object = bl_tree_object(&tree);
        bl_tree_text(&tree, object, "x", cases[i].in);
        assert_false(tree.failed);
        assert_string_equal(bl_tree_get_text(object, "x"), cases[i].out);
        json_decref(object);
    }
}

static void failed_run_is_in_the_result(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    json_t *root = parsed(result);
    json_t *run = json_array_get(json_object_get(root, "runs"), 1);
    assert_string_equal(bl_tree_get_text(run, "name"), "U1");
    assert_string_equal(
        bl_tree_get_text(json_object_get(run, "failure"), "status"), "NODATA");
    assert_int_equal(json_array_size(json_object_get(run, "applications")), 0);
    json_decref(root);
    bl_result_destroy(result);
}

static void refused_tie_gives_no_offset(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    json_t *root = parsed(result);
    json_t *all = json_object_get(root, "recordings");
    json_t *good = json_object_get(json_array_get(all, 0), "clock");
    json_t *bad = json_object_get(json_array_get(all, 1), "clock");
    assert_near(bl_tree_get_number(good, "offset_s"), 1.25, 0);
    assert_true(json_is_null(json_object_get(bad, "offset_s")));
    json_t *more = json_object_get(json_array_get(all, 1), "more_files");
    assert_string_equal(bl_tree_get_text(json_array_get(more, 0), "file"),
                        "p1-more.csv");
    json_decref(root);
    bl_result_destroy(result);
}

static void has(const char *text, const char *part)
{
    if (strstr(text, part) == NULL) {
        print_error("not found: %s\nin:\n%s\n", part, text);
        fail();
    }
}

static void text_tells_a_technician(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    char *text = written(result, BL_RESULT_TEXT, "kPa");
    has(text, "Run P1, condition powered, power on, control air open\n");
    has(text, "Application 1: full, step\n");
    /* k = 2: u 0.002 is printed as 0.004, u 1.5 kPa as 3.0. */
    has(text, "0.500 \xC2\xB1 0.004");
    has(text, "650.0 \xC2\xB1 3.0 kPa");
    has(text, "2 bin trailer  did not respond: output peaked at 3.0 \xC2\xB1 "
              "2.0 kPa while its control pressure reached 640.0 \xC2\xB1 4.0 "
              "kPa\n");
    /* 0.5 against 0.25, each with u 0.002. */
    has(text, "late: prime mover gets its first air 0.250 s after J\xC3\xA4rn, "
              "\"A\", which is behind it\n");
    has(text, "late: prime mover reaches 75 % of settled 0.250 s after "
              "J\xC3\xA4rn, "
              "\"A\", which is behind it\n");
    has(text, "prime mover: the pressure did not settle\n");
    has(text, "  Units 0 and 1: gain, zero\n");
    has(text, "not measured: u1.csv: no command was found\n");
    has(text, "damaged: p1-more.csv:7: x");
    has(text, "lags can be measured");
    has(text, "refused");
    has(text, "indicative, not a certification");
    assert_null(strstr(text, "Spread"));
    bl_free(text);
    bl_result_destroy(result);
}

static void text_converts_pressures(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    char *text = written(result, BL_RESULT_TEXT, "bar");
    has(text, "6.500 \xC2\xB1 0.030 bar");
    has(text, "0.65 bar"); /* the stated level of 65 kPa */
    bl_free(text);
    bl_result_destroy(result);
}

static void units_within_uncertainty_are_not_called_late(void **state)
{
    (void)state;
    struct sample s;
    sample_make(&s);
    /* 6 ms apart, U of the difference is 2 sqrt(2) 2.5 ms = 7.1 ms. */
    s.unit_lag[0].figure[BL_FIGURE_RESPONSE] = sample_known(0.256, 0.0025);
    s.unit_lag[1].figure[BL_FIGURE_RESPONSE] = sample_known(0.25, 0.0025);
    s.unit_lag[1].figure[BL_FIGURE_APPLY_75] =
        s.unit_lag[0].figure[BL_FIGURE_APPLY_75];
    struct bl_result *result = NULL;
    struct bl_error error;
    assert_int_equal(sample_result(&result, &s, &error), BL_OK);
    char *text = written(result, BL_RESULT_TEXT, "kPa");
    assert_null(strstr(text, "late:"));
    bl_free(text);
    bl_result_destroy(result);
}

static void csv_has_a_row_per_figure(void **state)
{
    (void)state;
    struct sample s;
    struct bl_result *result = make(&s);
    char *text = written(result, BL_RESULT_CSV, "kPa");
    has(text, "P1,powered,1,A,full,step,no,0,prime mover,response,,0.5,s,0.002,"
              ",,,,first air (20 kPa),,,\n");
    /* RFC 4180: a cell with comma and quotes is quoted, quotes doubled. */
    has(text, "no,1,\"J\xC3\xA4rn, \"\"A\"\"\",level,65,0.375,s,0.002,,,,,"
              "stated pressure,,,\n");
    has(text, "no,2,bin trailer,response,,,s,,did-not-respond,,,,"
              "first air (20 kPa),,,\n");
    has(text, "no,0,prime mover,hold,,650,kPa,1.5,,,,,"
              "settled pressure,,,\n");
    size_t rows = 0;
    for (const char *at = text; *at != '\0'; at++) {
        rows += *at == '\n';
    }
    /* Header, and 10 figures, 1 level and 4 pressures of 3 units. */
    assert_int_equal(rows, 1 + 3 * (10 + 1 + 4));
    bl_free(text);
    bl_result_destroy(result);
}

/* An output that still rose at the release: null, and later than a bound. */
static void a_bound_is_shown_and_no_figure(void **state)
{
    (void)state;
    struct sample s;
    struct bl_error error;
    struct bl_result *result = NULL;
    sample_make(&s);
    struct bl_figure *f = &s.unit_lag[1].figure[BL_FIGURE_APPLY_75];
    *f = sample_missing(BL_REASON_HOLD_LONGER);
    f->bounded = true;
    f->later_than_s = 1.53;
    f->u_later_s = 0.002;
    f->flags = BL_FLAG_NEAR_DAMAGE | BL_FLAG_RAMP;
    assert_int_equal(sample_result(&result, &s, &error), BL_OK);
    json_t *root = parsed(result);
    json_t *figure = json_object_get(unit_of(root, 1), "apply_75");
    assert_true(json_is_null(json_object_get(figure, "s")));
    assert_true(json_is_null(json_object_get(figure, "u_s")));
    assert_near(bl_tree_get_number(figure, "later_than_s"), 1.53, 1e-12);
    assert_near(bl_tree_get_number(figure, "u_later_s"), 0.002, 1e-12);
    assert_int_equal(json_array_size(json_object_get(figure, "flags")), 2);
    json_decref(root);
    char *text = written(result, BL_RESULT_TEXT, "kPa");
    has(text, "later than 1.530 \xC2\xB1 0.004");
    has(text, "not known: 75 % of settled (later than 1.530 \xC2\xB1 0.004 s): "
              "the output had "
              "not settled when the command was let go: hold longer");
    bl_free(text);
    text = written(result, BL_RESULT_CSV, "kPa");
    has(text, "apply_75,,,s,,hold-longer,ramp near-damage,1.53,"
              "0.002,75 % of settled,,,\n");
    bl_free(text);
    bl_result_destroy(result);
}

static void numbers_are_rounded_for_people(void **state)
{
    (void)state;
    char text[BL_TEXT_CELL];
    assert_string_equal(bl_text_value(0.1824, 0.0021, 3, text),
                        "0.182 \xC2\xB1 0.005");
    assert_string_equal(bl_text_value(0.1824, 0.0020, 3, text),
                        "0.182 \xC2\xB1 0.004");
    assert_string_equal(bl_text_value(-0.0004, 1e-6, 3, text),
                        "0.000 \xC2\xB1 0.001");
    assert_string_equal(bl_text_value(-1.5, NAN, 1, text), "-1.5");
    assert_string_equal(bl_text_value(NAN, 1, 1, text), "-");
    assert_string_equal(bl_text_fixed(999.9996, 3, text), "1000.000");
    assert_string_equal(bl_text_fixed(1e30, 3, text), "out of range");
}

static void columns_line_up_by_characters(void **state)
{
    (void)state;
    struct bl_output *output;
    struct bl_error error;
    assert_int_equal(bl_output_open(&output, NULL, &error), BL_OK);
    struct bl_table table = {0};
    table.right[1] = true;
    bl_table_cell(&table, "\xC3\xA4");
    bl_table_cell(&table, "1");
    bl_table_row(&table);
    bl_table_cell(&table, "bb");
    bl_table_cell(&table, "\xC2\xB1 10");
    bl_table_row(&table);
    bl_table_cell(&table, "c");
    bl_table_span(&table, "a long remark");
    bl_table_row(&table);
    assert_true(bl_table_write(&table, output, 1, 80));
    size_t size;
    assert_string_equal(bl_output_memory(output, &size),
                        " \xC3\xA4      1\n"
                        " bb  \xC2\xB1 10\n"
                        " c   a long remark\n");
    bl_output_discard(output);
}

static void no_memory_is_told(void **state)
{
    (void)state;
    struct sample s;
    struct bl_error error;
    struct bl_result *result = NULL;
    sample_make(&s);
    bl_alloc_fail_at(1);
    assert_int_equal(bl_result_create(&result, &s.trial, &error), BL_NOMEM);
    assert_null(result);
    bl_alloc_fail_at(0);
    result = make(&s);
    for (uint64_t at = 1; at < 400; at += 7) {
        struct bl_output *output;
        assert_int_equal(bl_output_open(&output, NULL, &error), BL_OK);
        bl_alloc_fail_at(at);
        enum bl_status status = bl_result_write(result, output, NULL, &error);
        if (status == BL_OK) {
            /* The output itself may have been the one that failed. */
            status = bl_output_commit(output, &error);
        } else {
            bl_output_discard(output);
        }
        assert_true(status == BL_OK || status == BL_NOMEM);
        bl_alloc_fail_at(0);
    }
    bl_result_destroy(result);
}

static void misuse_is_refused(void **state)
{
    (void)state;
    struct sample s;
    struct bl_error error;
    struct bl_result *result = make(&s);
    assert_int_equal(
        bl_result_add_run(
            result, &s.trial,
            &(const struct bl_result_run){2, NULL, NULL, NULL, NULL}, &error),
        BL_ARG);
    struct bl_output *output;
    const struct bl_result_options options = {
        .form = BL_RESULT_TEXT, .pressure = bl_measurement_unit_find("km/h")};
    assert_int_equal(bl_output_open(&output, NULL, &error), BL_OK);
    assert_int_equal(bl_result_write(result, output, &options, &error), BL_ARG);
    bl_output_discard(output);
    bl_result_destroy(result);
    bl_result_destroy(NULL);
}

/* 1 psi = 6.894757 kPa (NIST SP 811, B.8), 1 bar = 100 kPa. */
static void sentences_take_the_unit_asked_for(void **state)
{
    (void)state;
    static const struct {
        const char *unit, *from, *to;
    } cases[] = {
        {"psi", "it fell from 640 to 571 kPa", "it fell from 92.8 to 82.8 psi"},
        {"psi", "at 35.0 \xC2\xB1 0.7 kPa of", "at 5.08 \xC2\xB1 0.10 psi of"},
        {"bar", "rests at 12.3 kPa (-4.0 kPa before)",
         "rests at 0.123 bar (-0.040 bar before)"},
        {"psi", "-14 to 5 kPa, 20 kPa/s", "-2.0 to 0.7 psi, 2.9 psi/s"},
        {"psi", "kN/kPa; to 7 kPa", "kN/kPa; to 1.0 psi"},
        {"psi", "no kPa, nor . kPa", "no kPa, nor . kPa"},
        {"psi", "2 to kPa", "2 to kPa"},
        {"kPa", "rests at 12.3 kPa", "rests at 12.3 kPa"}};
    char text[BL_TEXT_SENTENCE];
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        assert_string_equal(
            bl_text_pressures(bl_measurement_unit_find(cases[i].unit),
                              cases[i].from, text, sizeof(text)),
            cases[i].to);
    }
    /* What does not fit stays as it was. */
    assert_string_equal(
        bl_text_pressures(bl_measurement_unit_find("psi"), "571 kPa", text, 8),
        "571 kPa");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sentences_take_the_unit_asked_for),
        cmocka_unit_test(known_figure_is_given),
        cmocka_unit_test(missing_figure_is_null_with_reason),
        cmocka_unit_test(a_bound_is_shown_and_no_figure),
        cmocka_unit_test(number_that_is_none_becomes_null),
        cmocka_unit_test(time_keeps_every_nanosecond),
        cmocka_unit_test(foreign_bytes_become_utf8),
        cmocka_unit_test(utf8_stays_and_its_abuses_are_converted),
        cmocka_unit_test(failed_run_is_in_the_result),
        cmocka_unit_test(refused_tie_gives_no_offset),
        cmocka_unit_test(text_tells_a_technician),
        cmocka_unit_test(text_converts_pressures),
        cmocka_unit_test(units_within_uncertainty_are_not_called_late),
        cmocka_unit_test(csv_has_a_row_per_figure),
        cmocka_unit_test(numbers_are_rounded_for_people),
        cmocka_unit_test(columns_line_up_by_characters),
        cmocka_unit_test(no_memory_is_told),
        cmocka_unit_test(misuse_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
