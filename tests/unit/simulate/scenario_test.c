/* SPDX-License-Identifier: MIT */
#include "simulate/scenario.h"
#include "small.h"

#include "base/alloc.h"

static void reads_a_small_train(void **state)
{
    (void)state;
    struct bl_scenario *scenario;
    assert_int_equal(small_read(&scenario, SMALL, NULL, NULL), BL_OK);
    bl_scenario_destroy(scenario);
}

/* Every mistake is told, with the line where it stands; a text after the
   small train, whose lines are counted here. */
struct mistake {
    const char *text, *says;
};
static const struct mistake mistakes[] = {
    {"[unit 5]\n", "expected [unit 4] next, found '5'"},
    {"[fault x]\ncode = slow-fil\nunit = 1\n", "unknown fault 'slow-fil'"},
    {"[fault x]\ncode = inlet\nunit = 9\n", "there is no unit 9"},
    {"[fault x]\ncode = channels-swapped\nunit = 1\n", "needs a key 'other'"},
    {"[fault x]\nunit = 1\n", "expected a key 'code' in [fault]"},
    {"[run Q]\napplications = 2 x fll\n", "expected 'N x NAME'"},
    {"[run Q]\napplications = full\npower = maybe\n", "one of off|on"},
    {"[run Q]\napplications = full\nclock = sundial\n", "clock: expected"},
    {"[message m]\nmessage = NOSUCH\n", "no table has a message 'NOSUCH'"},
    {"[message m]\nmessage = EBS22\nset.nosuch = 1\n", "no signal 'nosuch'"},
    {"[message m]\nmessage = EBS22\nset.abs_active = pedall\n",
     "expected a number or a source"},
    {"[unit 4]\naddress = 176\nbus = b\nline = 8\n", "a length from"},
    {"[unit 4]\naddress = 176\nbus = b\nline = 8 kPa\n", "a length from"},
    {"[unit 4]\naddress = 176\nbus = b\nline = 8 m\nline = 9 m\n",
     "found it again: first on line"},
    {"[unit 4]\naddress = 176\nbus = b\nlien = 8 m\n", "found 'lien'"},
    {"[run a/b]\napplications = full\n", "in a run's name, found 'a/b'"},
    {"[run P]\napplications = full\n", "is given again, first in line"},
    {"[run Q]\ncondition = caf\xE9\n", "expected UTF-8"},
    {"[nosuch]\n", "expected a known section"},
    {"[run]\napplications = full\n", "expected [run NAME]"},
    {"[application a\n", "expected a section such as '[unit 0]'"},
    {"[sensors]\nnoise\n", "expected 'key = value'"},
};

static void names_each_mistake(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(mistakes); i++) {
        char text[8192];
        struct bl_scenario *scenario = NULL;
        struct bl_error error;
        struct bl_notes notes = {0};
        snprintf(text, sizeof(text), "%s%s", SMALL, mistakes[i].text);
        assert_int_equal(small_read(&scenario, text, &notes, &error), BL_TRIAL);
        if (strstr(error.message, mistakes[i].says) == NULL) {
            fail_msg("'%s' does not say '%s'", error.message, mistakes[i].says);
        }
        assert_true(error.line > 40); /* the small train has as many lines */
        assert_true(notes.count >= 1);
        assert_null(scenario);
        bl_notes_finish(&notes);
    }
}

static void tells_all_mistakes_of_a_file(void **state)
{
    (void)state;
    struct bl_scenario *scenario = NULL;
    struct bl_notes notes = {0};
    assert_int_equal(small_read(&scenario,
                                SMALL
                                "[run Q]\napplications = 1 x no\nspeed = 3\n"
                                "[fault x]\ncode = none\nunit = 0\n",
                                &notes, NULL),
                     BL_TRIAL);
    assert_int_equal(notes.count, 3);
    bl_notes_finish(&notes);
}

/* Any single allocation may fail; nothing is lost or kept then. */
static void survives_lack_of_memory(void **state)
{
    (void)state;
    struct bl_scenario *scenario = NULL;
    enum bl_status status = BL_NOMEM;
    for (uint64_t at = 1; status != BL_OK; at++) {
        bl_alloc_fail_at(at);
        status = small_read(&scenario, SMALL, NULL, NULL);
        bl_alloc_fail_at(0);
        if (status != BL_OK && status != BL_NOMEM) {
            fail_msg("allocation %llu fails: status %d", (unsigned long long)at,
                     (int)status);
        }
    }
    bl_scenario_destroy(scenario);
}

/* Fixtures that are named after their defect. */
static void refuses_broken_files(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        long line; /* -1: of no one line */
        const char *says;
    } files[] = {
        {"application-unknown", 11, "an [application NAME], found '3 x ful'"},
        {"applications-a-million", 11, "found '1000000 x full'"},
        {"empty-file", -1, "expected [unit 0] and at least [unit 1]"},
        {"fault-unknown", 11, "unknown fault 'slow-fil'"},
        {"key-before-section", 1,
         "expected a section such as '[scenario]' first"},
        {"key-given-twice", 8,
         "'address' once in [unit 1], found it again: first on line 7"},
        {"key-needed", 11, "expected a key 'applications' in [run]"},
        {"key-unknown", 7, "expected a key of [unit], found 'adress'"},
        {"key-without-value", 8,
         "expected 'key = value' or a section in brackets, found 'bus'"},
        {"message-unknown", 9, "no table has a message 'NOSUCH'"},
        {"no-runs", -1, "expected at least one [run NAME]"},
        {"not-utf8", 8, "expected UTF-8 text without control characters"},
        {"number-bad", 10, "found '6oo kPa'"},
        {"number-out-of-range", 10, "from 5 to 1500 kPa, found '600000 kPa'"},
        {"pressure-in-metres", 10, "expected a pressure from 5 to 1500 kPa"},
        {"run-name-with-a-slash", 11, "found 'P/../../P'"},
        {"run-twice", 13, "[run P] is given again, first in line 11"},
        {"section-not-closed", 11,
         "expected a section such as '[unit 0]', found '[run P'"},
        {"section-unknown", 9, "found [aplication full]"},
        {"table-missing", 3, "no mapping table 'nosuch'"},
        {"unit-out-of-order", 1, "expected [unit 0] next, found '1'"},
        {"unit-without-bus", 8, "no table has a message 'EBS11'"},
        {"zero-byte", 2, "expected UTF-8 text without control characters"},
    };
    for (size_t i = 0; i < COUNT_OF(files); i++) {
        char name[128];
        char path[1024];
        struct bl_scenario *scenario = NULL;
        struct bl_error error;
        snprintf(name, sizeof(name), "simulate/%s.ini", files[i].name);
        assert_int_equal(
            bl_scenario_read_file(
                &scenario, test_data(name, path, sizeof(path)), NULL, &error),
            BL_TRIAL);
        assert_null(scenario);
        assert_int_equal(error.line, files[i].line);
        if (strstr(error.message, files[i].says) == NULL) {
            fail_msg("%s: %s", name, error.message);
        }
    }
}

static void faults_have_names(void **state)
{
    (void)state;
    struct bl_fault_info info;
    size_t count = 0;
    for (; bl_fault_at(count, &info); count++) {
        assert_true(info.code[0] != '\0' && info.meaning[0] != '\0');
    }
    assert_true(count > 30);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_a_small_train),
        cmocka_unit_test(names_each_mistake),
        cmocka_unit_test(tells_all_mistakes_of_a_file),
        cmocka_unit_test(survives_lack_of_memory),
        cmocka_unit_test(refuses_broken_files),
        cmocka_unit_test(faults_have_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
