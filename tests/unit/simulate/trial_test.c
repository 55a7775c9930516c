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
        assert_int_equal(trial->control_line, BL_LINE_RELAYED);
        assert_near(trial->unit[3].line_m, 12, 1e-9);
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
    bl_trial_destroy(trial);
    bl_notes_finish(&mistakes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trial_reads_back),
        cmocka_unit_test(demo_trial_reads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
