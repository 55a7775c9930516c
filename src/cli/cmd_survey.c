/* SPDX-License-Identifier: MIT */
/* survey: what is in recordings, and a draft of a trial file from them. */
#include "mapping.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { TRIAL_FILE_MOST = 4 << 20, PATH_BYTES = 4096 };

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

/* What the options say that recordings do not tell. */
struct stated {
    struct bl_bus_options bus;
    struct bl_log_options log;
    struct bl_draft_options draft;
    struct bl_trial *trial; /* of --more-of */
    char *text;             /* of its file */
    const char **run;
    char *folder;
};

static void stated_finish(struct stated *stated)
{
    bl_trial_destroy(stated->trial);
    free(stated->text);
    free(stated->run);
    free(stated->folder);
}

/* "200 Hz", "0.2 kHz". */
static int read_rate(const struct arguments *arguments, double *rate_hz)
{
    const char *text = option_text(arguments, OPTION_RATE, NULL);
    if (text == NULL) {
        return EXIT_DONE;
    }
    if (!bl_quantity_read(text, BL_QUANTITY_FREQUENCY, rate_hz) ||
        !(*rate_hz > 0) || *rate_hz > 1e7) {
        return cli_misuse(arguments->command,
                          "--rate: expected rows per second such as '200 Hz', "
                          "found '%s'",
                          text);
    }
    return EXIT_DONE;
}

/* The length of the folder of a path, with its '/'. */
static size_t folder_length(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash == NULL ? 0 : (size_t)(slash - path) + 1;
}

/* Relative names count from the draft's folder: where that is another one than
   this, they begin with the way to this one. */
static int read_folder(const struct arguments *arguments, struct stated *stated)
{
    const char *path = option_text(arguments, OPTION_OUTPUT, "-");
    if (strcmp(path, "-") == 0 || folder_length(path) == 0 ||
        strncmp(path, "./", folder_length(path)) == 0) {
        return EXIT_DONE;
    }
    char here[PATH_BYTES];
    if (getcwd(here, sizeof(here)) == NULL) {
        cli_say("this folder: %s", strerror(errno));
        return EXIT_SYSTEM;
    }
    const size_t size = strlen(here) + 2;
    stated->folder = malloc(size);
    if (stated->folder != NULL) {
        (void)snprintf(stated->folder, size, "%s/", here);
    }
    stated->draft.folder = stated->folder;
    return stated->folder == NULL ? cli_no_memory() : EXIT_DONE;
}

/* The file was read as a trial just now; here it is text. */
static int read_text(const char *path, struct stated *stated)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        cli_say("%s: %s", path, strerror(errno));
        return EXIT_SYSTEM;
    }
    stated->text = malloc(TRIAL_FILE_MOST);
    const size_t count = stated->text == NULL
                             ? 0
                             : fread(stated->text, 1, TRIAL_FILE_MOST, file);
    const bool whole =
        stated->text != NULL && !ferror(file) && count < TRIAL_FILE_MOST;
    (void)fclose(file);
    if (stated->text == NULL) {
        return cli_no_memory();
    }
    if (!whole) {
        cli_say("%s: expected at most %d bytes that can be read", path,
                TRIAL_FILE_MOST);
        return EXIT_INPUT;
    }
    stated->draft.earlier = stated->text;
    stated->draft.earlier_length = count;
    return EXIT_DONE;
}

/* The earlier trial file has to be right, and the new one to lie beside it:
   its names of files count from there. */
static int read_earlier(const struct arguments *arguments,
                        struct stated *stated)
{
    const char *path = option_text(arguments, OPTION_MORE_OF, NULL);
    if (path == NULL) {
        return EXIT_DONE;
    }
    const char *output = option_text(arguments, OPTION_OUTPUT, "-");
    const size_t length = folder_length(path);
    if (strcmp(output, "-") != 0 && (folder_length(output) != length ||
                                     strncmp(output, path, length) != 0)) {
        return cli_misuse(arguments->command,
                          "--output: expected a file beside %s, since names "
                          "of recordings count from there; found %s",
                          path, output);
    }
    int code = cli_read_trial(&stated->trial, path, arguments);
    if (code == EXIT_DONE) {
        code = read_text(path, stated);
    }
    if (code != EXIT_DONE) {
        return code;
    }
    const size_t runs = stated->trial->runs;
    stated->run = malloc((runs + 1) * sizeof(*stated->run));
    if (stated->run == NULL) {
        return cli_no_memory();
    }
    for (size_t i = 0; i < runs; i++) {
        stated->run[i] = stated->trial->run[i].name;
    }
    stated->draft.run = stated->run;
    stated->draft.runs = runs;
    return EXIT_DONE;
}

static int read_stated(const struct arguments *arguments,
                       struct bl_survey *survey, struct stated *stated)
{
    struct bl_error error;
    bl_error_clear(&error);
    stated->bus = bl_bus_options_default();
    stated->log = bl_log_options_default();
    stated->draft = bl_draft_options_default();
    const char *order = option_text(arguments, OPTION_ID_ORDER, NULL);
    if (order != NULL) {
        stated->bus.can_id_order =
            strcmp(order, "big") == 0 ? BL_ID_ORDER_BIG : BL_ID_ORDER_LITTLE;
    }
    stated->draft.id_order = order;
    stated->log.time = option_text(arguments, OPTION_TIME, NULL);
    stated->draft.time = stated->log.time;
    stated->draft.rate = option_text(arguments, OPTION_RATE, NULL);
    const char *unit = option_text(arguments, OPTION_MEASURED_IN, NULL);
    if (unit != NULL &&
        bl_survey_pressure_unit(survey, unit, &error) != BL_OK) {
        return cli_misuse(arguments->command,
                          "--measured-in: expected a unit of pressure such as "
                          "bar, found '%s'",
                          unit);
    }
    int code = read_rate(arguments, &stated->log.rate_hz);
    if (code == EXIT_DONE) {
        code = read_earlier(arguments, stated);
    }
    if (code == EXIT_DONE && stated->draft.earlier == NULL) {
        code = read_folder(arguments, stated);
    }
    return code;
}

static int say_damage(const struct bl_survey_file *file)
{
    if (file->status != BL_OK) {
        cli_say("%s", file->failure);
        say_if_trial(file->path);
        return cli_exit_code(file->status);
    }
    if (file->damages > 0) {
        cli_say("%s: damaged in %llu place%s: see the notes", file->path,
                (unsigned long long)file->damages,
                file->damages == 1 ? "" : "s");
        return EXIT_INPUT;
    }
    return EXIT_DONE;
}

static int add_file(struct bl_survey *survey, const char *path,
                    const struct stated *stated)
{
    struct bl_bytes *source = NULL;
    struct bl_error error;
    const size_t first = survey->files;
    int code = EXIT_DONE;
    bl_error_clear(&error);
    enum bl_status status = bl_bytes_open(&source, path, &error);
    if (status == BL_OK) {
        status = bl_survey_add(survey, source, path, &stated->bus, &stated->log,
                               &error);
    }
    bl_bytes_close(source);
    if (status != BL_OK) {
        code = cli_fail(&error);
        say_if_trial(path);
        return code;
    }
    /* A measurement file may be listed as bus and as log. */
    for (size_t i = first; i < survey->files && code == EXIT_DONE; i++) {
        code = say_damage(&survey->file[i]);
    }
    return code;
}

static bool drafts(const struct arguments *arguments)
{
    return has_option(arguments, OPTION_WRITE_TRIAL) ||
           has_option(arguments, OPTION_MORE_OF);
}

/* A draft was made to be edited: an older one may hold a day's work. */
static int spare_draft(const struct arguments *arguments)
{
    const char *path = option_text(arguments, OPTION_OUTPUT, "-");
    struct stat facts;
    if (drafts(arguments) && strcmp(path, "-") != 0 &&
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
                        const struct bl_survey *survey,
                        const struct stated *stated, int code)
{
    struct bl_output *output = NULL;
    const int opened = cli_open(&output, arguments);
    if (opened != EXIT_DONE) {
        return opened;
    }
    struct bl_error error;
    enum bl_status status = BL_OK;
    bl_error_clear(&error);
    if (drafts(arguments)) {
        status = bl_survey_draft(survey, &stated->draft, output, &error);
    } else if (has_option(arguments, OPTION_JSON)) {
        status = bl_report_survey_json(survey, output, &error);
    } else {
        status = bl_report_survey_text(survey, output, cli_columns(arguments),
                                       &error);
    }
    return cli_close_written(output, status, &error, code);
}

int cmd_survey(const struct arguments *arguments)
{
    struct bl_tables *tables = NULL;
    struct bl_survey *survey = NULL;
    struct stated stated = {0};
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
    if (code != EXIT_DONE || (code = spare_draft(arguments)) != EXIT_DONE ||
        (code = read_stated(arguments, survey, &stated)) != EXIT_DONE) {
        goto out;
    }
    for (size_t i = 0; i < arguments->words; i++) {
        code = cli_worse(code, add_file(survey, arguments->word[i], &stated));
    }
    /* Of nothing there is no draft. */
    if (code != EXIT_SYSTEM && (survey->files > 0 || !drafts(arguments))) {
        code = write_result(arguments, survey, &stated, code);
    }
out:
    stated_finish(&stated);
    bl_survey_destroy(survey);
    bl_tables_destroy(tables);
    return code;
}
