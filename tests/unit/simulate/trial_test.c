/* SPDX-License-Identifier: MIT */
#include "simulate/files.h"
#include "small.h"

#include "brakelag/trial.h"

typedef enum bl_status (*writer)(const struct bl_simulation *simulation,
                                 struct bl_output *output,
                                 struct bl_error *error);

static struct bl_output *written(const struct small *s, writer write,
                                 const char **text, size_t *size)
{
    struct bl_output *output;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    assert_int_equal(write(s->simulation, output, NULL), BL_OK);
    *text = bl_output_memory(output, size);
    assert_non_null(*text);
    return output;
}

/* The trial file is one without a mistake, and says what the scenario says. */
static void trial_reads_back(void **state)
{
    (void)state;
    static const char *const commands[] = {"treadle", "demand", "pedal-switch"};
    for (size_t i = 0; i < COUNT_OF(commands); i++) {
        char scenario[8192];
        snprintf(scenario, sizeof(scenario), "[scenario]\ncommand = %s\n%s",
                 commands[i], strchr(SMALL, '\n') + 1);
        struct small s = small_run(scenario, 0);
        const char *text;
        size_t size;
        struct bl_bytes *source;
        struct bl_trial *trial = NULL;
        struct bl_error error;
        char line[1024];
        struct bl_output *output =
            written(&s, bl_simulation_trial, &text, &size);
        assert_int_equal(
            bl_bytes_open_memory(&source, "trial.ini", text, size, NULL),
            BL_OK);
        if (bl_trial_read(&trial, source, ".", NULL, &error) != BL_OK) {
            fail_msg("%s", bl_error_line(&error, line, sizeof(line)));
        }
        assert_int_equal(trial->units, 4);
        assert_int_equal(trial->runs, 2);
        assert_int_equal(trial->control_line, BL_CONTROL_LINE_RELAYED);
        assert_near(trial->unit[3].pipe_m, 12, 1e-9);
        assert_int_equal(trial->run[UNPOWERED].power, BL_STATED_OFF);
        assert_int_equal(trial->run[POWERED].clock.kind, BL_CLOCK_OFFSET);
        assert_near(trial->run[POWERED].clock.offset_s,
                    bl_simulation_run(s.simulation, POWERED)->offset_s, 1e-4);
        bl_trial_destroy(trial);
        bl_bytes_close(source);
        bl_output_discard(output);
        small_end(&s);
    }
}

/* What joins trials is passed on as written; what a trial file would refuse is
   a mistake of the scenario. */
static void identity_is_passed_on(void **state)
{
    (void)state;
    static const struct {
        const char *key, *words; /* of the mistake; NULL: none */
    } cases[] = {
        {"date = 2026-03-01T14:30\nplace = mill; yard\n", NULL},
        {"date = 2026-02-30\n", "date: expected a day of the calendar"},
        {"date = yesterday\n", "date: expected a day of the calendar"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char scenario[8192];
        struct bl_scenario *read = NULL;
        struct bl_bytes *source;
        struct bl_error error;
        char line[1024];
        snprintf(scenario, sizeof(scenario), "[scenario]\n%s%s", cases[i].key,
                 strchr(SMALL, '\n') + 1);
        assert_int_equal(bl_bytes_open_memory(&source, "s.ini", scenario,
                                              strlen(scenario), NULL),
                         BL_OK);
        const enum bl_status status =
            bl_scenario_read(&read, source, NULL, NULL, &error);
        assert_int_equal(status, cases[i].words == NULL ? BL_OK : BL_TRIAL);
        if (cases[i].words != NULL) {
            assert_non_null(strstr(bl_error_line(&error, line, sizeof(line)),
                                   cases[i].words));
        }
        bl_scenario_destroy(read);
        bl_bytes_close(source);
    }
}

/* The trial that is shipped with the demo. */
static void demo_trial_reads(void **state)
{
    (void)state;
    char path[1024];
    struct bl_trial *trial = NULL;
    struct bl_notes mistakes = {0};
    snprintf(path, sizeof(path), "%s/captures-demo/trial.ini",
             getenv("BL_SOURCE_ROOT"));
    assert_int_equal(bl_trial_read_file(&trial, path, &mistakes, NULL), BL_OK);
    assert_int_equal(mistakes.count, 0);
    assert_int_equal(trial->units, 6);
    assert_int_equal(trial->runs, 7);
    assert_string_equal(trial->date, "2024-06-01");
    assert_string_equal(trial->place, "mill yard");
    assert_near(trial->supply_kpa, 800, 1e-9);
    for (size_t i = 0; i < trial->units; i++) {
        assert_non_null(trial->unit[i].id);
        assert_string_equal(trial->unit[i].output[0].label,
                            i == 0 ? "drive" : "rear");
    }
    bl_trial_destroy(trial);
    bl_notes_finish(&mistakes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trial_reads_back),
        cmocka_unit_test(identity_is_passed_on),
        cmocka_unit_test(demo_trial_reads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
