/* SPDX-License-Identifier: MIT */
/* From a trial to what was found in it: which runs take part, and what is said
   of each while the library works. */
#include "cli.h"

#include <string.h>

enum { RUNS_TEXT = 200 };

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

static int check_runs(const struct command *command,
                      const struct bl_trial *trial,
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
                          const struct bl_assessed_run *assessed)
{
    for (size_t i = 0; i < assessed->data->recordings; i++) {
        const struct bl_loaded_recording *recording =
            &assessed->data->recording[i];
        cli_say_notes(arguments,
                      recording->files > 0 ? recording->file[0].path : run,
                      &recording->notes);
    }
    cli_say_notes(arguments, run, &assessed->data->notes);
    if (assessed->clocks != NULL) {
        cli_say_notes(arguments, run, &assessed->clocks->notes);
    }
    if (assessed->lag != NULL) {
        cli_say_notes(arguments, run, &assessed->lag->notes);
    }
}

/* A run without an application, or without a command. */
static int say_unmeasured(const struct cli_task *task,
                          const struct bl_assessment *a, size_t index)
{
    const struct bl_assessed_run *run = &a->run[index];
    const char *name = a->trial->run[index].name;
    if (run->lag == NULL && run->clocks != NULL &&
        task->needs == CLI_NEEDS_FRAMES) {
        char line[1024];
        cli_say("run %s: %s", name,
                bl_error_line(&run->why, line, sizeof(line)));
        return run->why.status == BL_TRIAL ? EXIT_USAGE : EXIT_DONE;
    }
    if (run->lag == NULL) {
        return cli_fail(&run->why);
    }
    if (run->lag->applications > 0 || task->needs == CLI_NEEDS_FRAMES) {
        return EXIT_DONE;
    }
    const bool hint = task->needs != CLI_NEEDS_READY;
    cli_say("run %s: no application was found%s%s%s", name,
            hint ? "; `brakelag check " : "", hint ? a->trial->path : "",
            hint ? "` says what to look at" : "");
    return EXIT_NO_DATA;
}

struct working {
    const struct cli_task *task;
    const struct arguments *arguments;
    int code;
};

static void begin(void *user, const struct bl_trial *trial, size_t run)
{
    const struct working *w = user;
    cli_progress(w->arguments, run, trial->runs, trial->run[run].name);
}

static void done(void *user, const struct bl_assessment *so_far, size_t index)
{
    struct working *w = user;
    const struct bl_assessed_run *run = &so_far->run[index];
    int code = EXIT_DONE;
    if (run->data != NULL) {
        code = say_damage(run->data);
        say_run_notes(w->arguments, so_far->trial->run[index].name, run);
    }
    code = cli_worse(code, say_unmeasured(w->task, so_far, index));
    if (code == EXIT_NO_DATA && w->task->needs == CLI_NEEDS_RAMPS) {
        code = EXIT_DONE; /* a slow ramp need not be an application */
    }
    if (run->failed.status != BL_OK) {
        code = cli_worse(code, cli_fail(&run->failed));
    }
    w->code = cli_worse(w->code, code);
}

int cli_assess(struct bl_assessment **out, const struct bl_trial *trial,
               const struct cli_task *task, const struct arguments *arguments)
{
    const struct option_values *wanted = &arguments->option[OPTION_RUN];
    struct cli_visits visits = {.arguments = arguments};
    const bool beside = has_option(arguments, OPTION_HISTORY) &&
                        (task->parts & BL_ASSESS_CAUSES) != 0;
    const struct bl_assess_options options = {.parts = task->parts,
                                              .run = wanted->item,
                                              .runs = wanted->count,
                                              .compare = task->compare,
                                              .topics = task->topics,
                                              .budget = task->budget,
                                              .visits = beside ? cli_visits_find
                                                               : NULL,
                                              .visits_user = &visits};
    struct working w = {task, arguments, EXIT_DONE};
    const struct bl_assess_progress progress = {begin, done, &w};
    struct bl_error error;
    bl_error_clear(&error);
    *out = NULL;
    const int code = check_runs(arguments->command, trial, arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    const enum bl_status status =
        bl_assess(out, trial, &options, &progress, &error);
    cli_progress_end();
    bl_history_visits_destroy(visits.found);
    if (visits.code != EXIT_DONE) {
        bl_assessment_destroy(*out);
        *out = NULL;
        return cli_worse(w.code, visits.code);
    }
    if (status != BL_OK) {
        return cli_worse(w.code, cli_fail(&error));
    }
    /* What several runs together show may change what one alone did. */
    for (size_t i = 0; task->judge != NULL && i < (*out)->runs; i++) {
        if ((*out)->run[i].taken) {
            w.code = cli_worse(w.code, task->judge(arguments, *out, i));
        }
    }
    return (*out)->failed.status == BL_OK
               ? w.code
               : cli_worse(w.code, cli_fail(&(*out)->failed));
}

int cli_write_assessed(const struct bl_assessment *assessment,
                       const struct bl_report_options *options,
                       const struct arguments *arguments, int code)
{
    struct bl_result *result = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_result_create_assessed(&result, assessment, options, &error) !=
        BL_OK) {
        return cli_worse(code, cli_fail(&error));
    }
    const int beside = cli_beside_history(result, assessment, arguments);
    code = beside == EXIT_DONE ? cli_write_result(result, arguments, code)
                               : cli_worse(code, beside);
    bl_result_destroy(result);
    return code;
}

int cli_run_task(const struct cli_task *task, unsigned only,
                 cli_task_answered answered, const struct arguments *arguments)
{
    const struct bl_report_options options = {.only = only};
    struct bl_trial *trial = NULL;
    struct bl_assessment *found = NULL;
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = cli_assess(&found, trial, task, arguments);
    }
    if (found != NULL) {
        if (answered != NULL && !answered(found)) {
            code = cli_worse(code, EXIT_NO_DATA);
        }
        code = cli_write_assessed(found, &options, arguments, code);
    }
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
    return code;
}
