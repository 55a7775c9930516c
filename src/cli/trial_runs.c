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

/* A trial file that names a column which the log lacks is wrong for this log,
   whatever else could be measured. */
static int column_missing(const struct bl_notes *notes)
{
    return bl_notes_find(notes, cli_column_missing) == NULL ? EXIT_DONE
                                                            : EXIT_USAGE;
}

static int say_damage(const struct bl_run_data *data)
{
    int code = column_missing(&data->notes);
    for (size_t i = 0; i < data->recordings; i++) {
        const struct bl_loaded_recording *recording = &data->recording[i];
        code = cli_worse(code, column_missing(&recording->notes));
        if (recording->status != BL_OK) {
            cli_say("%s", recording->failure);
            code = cli_worse(code, cli_exit_code(recording->status));
        } else if (recording->damages > 0) {
            cli_say("%s: damaged in %zu place%s: see the warnings",
                    recording->file[0].path, recording->damages,
                    recording->damages == 1 ? "" : "s");
            code = cli_worse(code, EXIT_INPUT);
        }
        if (recording->spikes > 0) {
            cli_say("%s: %llu spike%s left out: see the warnings",
                    recording->file[0].path,
                    (unsigned long long)recording->spikes,
                    recording->spikes == 1 ? "" : "s");
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

/* Load and tie; what is known so far is told by the caller. */
static enum bl_status load_and_tie(struct cli_run *run,
                                   const struct bl_trial *trial, size_t index,
                                   int *code)
{
    memset(run, 0, sizeof(*run));
    bl_error_clear(&run->error);
    *code = EXIT_DONE;
    enum bl_status status = bl_load_run(&run->data, trial, index, &run->error);
    if (status == BL_OK) {
        *code = say_damage(run->data);
        status = bl_clock_tie_run(&run->clocks, trial, run->data, &run->error);
    }
    return status;
}

int cli_measure_run(struct cli_run *run, const struct bl_trial *trial,
                    size_t index, const struct arguments *arguments)
{
    int code;
    enum bl_status status = load_and_tie(run, trial, index, &code);
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

int cli_load_run(struct cli_run *run, const struct bl_trial *trial,
                 size_t index, const struct arguments *arguments)
{
    int code;
    const enum bl_status status = load_and_tie(run, trial, index, &code);
    if (run->data != NULL) {
        say_run_notes(arguments, trial->run[index].name, run);
    }
    return status == BL_OK ? code : cli_worse(code, cli_fail(&run->error));
}

void cli_run_finish(struct cli_run *run)
{
    bl_run_lag_destroy(run->lag);
    bl_run_clocks_destroy(run->clocks);
    bl_run_data_destroy(run->data);
    memset(run, 0, sizeof(*run));
}

int cli_write_runs(const struct bl_trial *trial, cli_run_work work,
                   const struct arguments *arguments)
{
    struct bl_result *result = NULL;
    struct bl_error error;
    bool any = false;
    bl_error_clear(&error);
    int code = cli_check_runs(arguments->command, trial, arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    if (bl_result_create(&result, trial, &error) != BL_OK) {
        return cli_fail(&error);
    }
    for (size_t i = 0; i < trial->runs; i++) {
        if (cli_run_chosen(trial, i, arguments)) {
            code = cli_worse(code, work(result, trial, i, arguments, &any));
        }
    }
    code = any ? code : cli_worse(code, EXIT_NO_DATA);
    code = cli_write_result(result, arguments, code);
    bl_result_destroy(result);
    return code;
}
