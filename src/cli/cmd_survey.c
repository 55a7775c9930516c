/* SPDX-License-Identifier: MIT */
/* survey: what is in recordings, and a draft of a trial file from them. */
#include "mapping.h"

#include <string.h>
#include <sys/stat.h>

/* A file that is no recording, but called like a trial file. */
static void say_if_trial(const char *path)
{
    const char *end = strrchr(path, '.');
    if (end != NULL && strcmp(end, ".ini") == 0) {
        cli_say("survey takes recordings; is this a trial file? `brakelag "
                "check %s` takes one",
                path);
    }
}

static int add_file(struct bl_survey *survey, const char *path)
{
    struct bl_bytes *source = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    enum bl_status status = bl_bytes_open(&source, path, &error);
    if (status == BL_OK) {
        status = bl_survey_add(survey, source, path, NULL, NULL, &error);
    }
    bl_bytes_close(source);
    if (status != BL_OK) {
        const int code = cli_fail(&error);
        say_if_trial(path);
        return code;
    }
    const struct bl_survey_file *file = &survey->file[survey->files - 1];
    if (file->status != BL_OK) {
        cli_say("%s", file->failure);
        say_if_trial(path);
        return cli_exit_code(file->status);
    }
    if (file->damages > 0) {
        cli_say("%s: damaged in %llu place%s: see the notes", path,
                (unsigned long long)file->damages,
                file->damages == 1 ? "" : "s");
        return EXIT_INPUT;
    }
    return EXIT_DONE;
}

/* A draft was made to be edited: an older one may hold a day's work. */
static int spare_draft(const struct arguments *arguments)
{
    const char *path = option_text(arguments, OPTION_OUTPUT, "-");
    struct stat facts;
    if (has_option(arguments, OPTION_WRITE_TRIAL) && strcmp(path, "-") != 0 &&
        stat(path, &facts) == 0 && S_ISREG(facts.st_mode) &&
        facts.st_size > 0) {
        cli_say("--output: %s is there already, and a draft never replaces it; "
                "name another file",
                path);
        return EXIT_USAGE;
    }
    return EXIT_DONE;
}

static int write_result(const struct arguments *arguments,
                        const struct bl_survey *survey, int code)
{
    struct bl_output *output = NULL;
    const int opened = cli_open(&output, arguments);
    if (opened != EXIT_DONE) {
        return opened;
    }
    struct bl_error error;
    enum bl_status status = BL_OK;
    bl_error_clear(&error);
    if (has_option(arguments, OPTION_WRITE_TRIAL)) {
        bl_survey_draft(survey, output);
    } else if (has_option(arguments, OPTION_JSON)) {
        status = bl_report_survey_json(survey, output, &error);
    } else {
        bl_report_survey_text(survey, output);
    }
    return cli_close_written(output, status, &error, code);
}

int cmd_survey(const struct arguments *arguments)
{
    struct bl_tables *tables = NULL;
    struct bl_survey *survey = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    int code = load_tables(&tables, arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    if (bl_survey_create(&survey, tables, &error) != BL_OK) {
        code = cli_fail(&error);
        goto out;
    }
    for (size_t i = 0; code == EXIT_DONE && i < arguments->words; i++) {
        code = cli_spare(arguments->word[i], arguments);
    }
    if (code != EXIT_DONE || (code = spare_draft(arguments)) != EXIT_DONE) {
        goto out;
    }
    for (size_t i = 0; i < arguments->words; i++) {
        code = cli_worse(code, add_file(survey, arguments->word[i]));
    }
    if (code != EXIT_SYSTEM) {
        code = write_result(arguments, survey, code);
    }
out:
    bl_survey_destroy(survey);
    bl_tables_destroy(tables);
    return code;
}
