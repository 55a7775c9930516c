/* SPDX-License-Identifier: MIT */
/* From a trial to measured runs: what measure and the commands that build on it
   share. */
#include "cli.h"

#include <string.h>

enum { RUNS_TEXT = 200 };

bool cli_run_chosen(const struct bl_trial *trial, size_t index,
                    const struct arguments *arguments)
{
    const struct option_values *wanted = &arguments->option[OPTION_RUN];
    for (size_t i = 0; i < wanted->count; i++) {
        if (strcmp(wanted->item[i], trial->run[index].name) == 0) {
            return true;
        }
    }
    return wanted->count == 0;
}

/* "P1, U1, ...", as many as fit. */
static const char *run_names(const struct bl_trial *trial, char *text,
                             size_t size)
{
    size_t length = 0;
    text[0] = '\0';
    for (size_t i = 0; i < trial->runs; i++) {
        const int more = snprintf(text + length, size - length, "%s%s",
                                  i == 0 ? "" : ", ", trial->run[i].name);
        if (more < 0 || (size_t)more + length + sizeof(", ...") > size) {
            snprintf(text + length, size - length, "%s",
                     i == 0 ? "..." : ", ...");
            break;
        }
        length += (size_t)more;
    }
    return text;
}

int cli_check_runs(const struct command *command, const struct bl_trial *trial,
                   const struct arguments *arguments)
{
    const struct option_values *wanted = &arguments->option[OPTION_RUN];
    for (size_t i = 0; i < wanted->count; i++) {
        if (bl_trial_run_index(trial, wanted->item[i]) < 0) {
            char names[RUNS_TEXT];
            return cli_misuse(command, "--run: %s has no run '%s', it has %s",
                              trial->path, wanted->item[i],
                              run_names(trial, names, sizeof(names)));
        }
    }
    return EXIT_DONE;
}

static int say_damage(const struct bl_run_data *data)
{
    int code = EXIT_DONE;
    for (size_t i = 0; i < data->recordings; i++) {
        const struct bl_loaded_recording *recording = &data->recording[i];
        if (recording->status != BL_OK) {
            cli_say("%s", recording->failure);
            code = cli_worse(code, cli_exit_code(recording->status));
        } else if (recording->damages > 0) {
            cli_say("%s: damaged in %zu place%s: see the warnings",
                    recording->file[0].path, recording->damages,
                    recording->damages == 1 ? "" : "s");
            code = cli_worse(code, EXIT_INPUT);
        }
    }
    return code;
}

static void say_run_notes(const struct arguments *arguments, const char *run,
                          const struct cli_run *is)
{
    for (size_t i = 0; i < is->data->recordings; i++) {
        const struct bl_loaded_recording *recording = &is->data->recording[i];
        cli_say_notes(arguments,
                      recording->files > 0 ? recording->file[0].path : run,
                      &recording->notes);
    }
    cli_say_notes(arguments, run, &is->data->notes);
    if (is->clocks != NULL) {
        cli_say_notes(arguments, run, &is->clocks->notes);
    }
    if (is->lag != NULL) {
        cli_say_notes(arguments, run, &is->lag->notes);
    }
}

int cli_measure_run(struct cli_run *run, const struct bl_trial *trial,
                    size_t index, const struct arguments *arguments)
{
    memset(run, 0, sizeof(*run));
    bl_error_clear(&run->error);
    int code = EXIT_DONE;
    enum bl_status status = bl_load_run(&run->data, trial, index, &run->error);
    if (status == BL_OK) {
        code = say_damage(run->data);
        status = bl_clock_tie_run(&run->clocks, trial, run->data, &run->error);
    }
    if (status == BL_OK) {
        status = bl_measure_run(&run->lag, trial, run->data, run->clocks,
                                &run->error);
    }
    if (run->data != NULL) {
        say_run_notes(arguments, trial->run[index].name, run);
    }
    if (status != BL_OK) {
        return cli_worse(code, cli_fail(&run->error));
    }
    if (run->lag->applications == 0) {
        const bool checks = arguments->command->run == cmd_check;
        cli_say("run %s: no application was found%s%s%s",
                trial->run[index].name, checks ? "" : "; `brakelag check ",
                checks ? "" : trial->path,
                checks ? "" : "` says what to look at");
        code = cli_worse(code, EXIT_NO_DATA);
    }
    return code;
}

void cli_run_finish(struct cli_run *run)
{
    bl_run_lag_destroy(run->lag);
    bl_run_clocks_destroy(run->clocks);
    bl_run_data_destroy(run->data);
    memset(run, 0, sizeof(*run));
}

int cli_load_run(struct cli_run *run, const struct bl_trial *trial,
                 size_t index, const struct arguments *arguments)
{
    memset(run, 0, sizeof(*run));
    bl_error_clear(&run->error);
    int code = EXIT_DONE;
    enum bl_status status = bl_load_run(&run->data, trial, index, &run->error);
    if (status == BL_OK) {
        code = say_damage(run->data);
        status = bl_clock_tie_run(&run->clocks, trial, run->data, &run->error);
    }
    if (run->data != NULL) {
        say_run_notes(arguments, trial->run[index].name, run);
    }
    return status == BL_OK ? code : cli_worse(code, cli_fail(&run->error));
}
