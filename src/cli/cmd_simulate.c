/* SPDX-License-Identifier: MIT */
/* simulate: a scenario to recordings, trial file and truth in a folder. */
#include "cli.h"

#include "brakelag/simulate.h"

/* Digits only; false when there is something else or too many. */
static bool seed_from(const char *text, uint64_t *seed)
{
    *seed = 0;
    for (const char *c = text; *c != '\0'; c++) {
        const uint64_t digit = (uint64_t)(*c - '0');
        if (*c < '0' || *c > '9' || *seed > (UINT64_MAX - digit) / 10) {
            return false;
        }
        *seed = *seed * 10 + digit;
    }
    return text[0] != '\0';
}

static int write_all(const struct bl_scenario *scenario,
                     const struct arguments *arguments, const char *folder)
{
    struct bl_simulation *simulation;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_simulate(&simulation, scenario, &error) != BL_OK) {
        return cli_fail(&error);
    }
    int code = EXIT_DONE;
    cli_hold_signals();
    const enum bl_status written =
        bl_simulation_write(simulation, folder, &error);
    cli_let_signals();
    if (written != BL_OK) {
        code = cli_fail(&error);
        if (code == EXIT_USAGE) {
            cli_say("--directory: simulate replaces nothing; name another "
                    "folder, or take away what lies there");
        } else {
            code = EXIT_SYSTEM;
        }
    }
    if (code == EXIT_DONE && !has_option(arguments, OPTION_QUIET)) {
        size_t applications = 0;
        for (size_t i = 0; i < bl_simulation_runs(simulation); i++) {
            applications += bl_simulation_run(simulation, i)->applications;
        }
        printf("%s/trial.ini: runs %zu, applications %zu\n"
               "%s/truth.json: what an analysis should find\n",
               folder, bl_simulation_runs(simulation), applications, folder);
    }
    bl_simulation_destroy(simulation);
    return code;
}

int cmd_simulate(const struct arguments *arguments)
{
    struct bl_scenario *scenario;
    struct bl_notes mistakes = {0};
    struct bl_error error;
    uint64_t seed = 0;
    const char *file = arguments->word[0];
    const char *folder = option_text(arguments, OPTION_DIRECTORY, NULL);
    const char *text = option_text(arguments, OPTION_SEED, NULL);
    const struct command *command = arguments->command;
    if (folder == NULL) {
        return cli_misuse(command, "--directory FOLDER says where to write");
    }
    if (text != NULL && !seed_from(text, &seed)) {
        return cli_misuse(command,
                          "--seed: expected a whole number, found "
                          "'%s'",
                          text);
    }
    bl_error_clear(&error);
    const enum bl_status status =
        bl_scenario_read_file(&scenario, file, &mistakes, &error);
    if (status != BL_OK) {
        int code = EXIT_USAGE;
        if (status == BL_TRIAL && mistakes.count > 0) {
            cli_say_mistakes(file, &mistakes);
        } else {
            code = cli_fail(&error);
        }
        bl_notes_finish(&mistakes);
        return code;
    }
    if (text != NULL) {
        bl_scenario_set_seed(scenario, seed);
    }
    const int code = write_all(scenario, arguments, folder);
    bl_scenario_destroy(scenario);
    bl_notes_finish(&mistakes);
    return code;
}
