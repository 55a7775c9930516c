/* SPDX-License-Identifier: MIT */
/*
 * Where results go. An interrupt during the short time in which a file is
 * written waits until the file is whole and has its name: what lies at the path
 * is the older file or the new one, and nothing is left beside it.
 */
#include "cli.h"

#include <errno.h>
#include <signal.h>
#include <string.h>
#include <sys/stat.h>

static const int waiting_signals[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT};

static void change_signals(int how)
{
    sigset_t set;
    (void)sigemptyset(&set);
    for (size_t i = 0; i < sizeof(waiting_signals) / sizeof(int); i++) {
        (void)sigaddset(&set, waiting_signals[i]);
    }
    (void)sigprocmask(how, &set, NULL);
}

void cli_hold_signals(void)
{
    change_signals(SIG_BLOCK);
}

void cli_let_signals(void)
{
    change_signals(SIG_UNBLOCK);
}

/* Pipes and devices may keep a writer waiting for ever: there, signals are not
   held. */
static bool is_file(const char *path)
{
    struct stat facts;
    return strcmp(path, "-") != 0 &&
           (stat(path, &facts) != 0 || S_ISREG(facts.st_mode));
}

static bool same_file(const char *a, const char *b)
{
    struct stat info;
    struct stat other;
    return stat(a, &info) == 0 && stat(b, &other) == 0 &&
           info.st_dev == other.st_dev && info.st_ino == other.st_ino;
}

/* The folder that a file lies in. */
static bool lies_in(const char *file, const char *folder)
{
    char path[4096];
    const char *slash = strrchr(file, '/');
    const size_t length = slash == NULL   ? 0
                          : slash == file ? 1
                                          : (size_t)(slash - file);
    if (length >= sizeof(path)) {
        return false;
    }
    memcpy(path, file, length);
    path[length] = '\0';
    return same_file(length == 0 ? "." : path, folder);
}

int cli_spare(const char *input, const struct arguments *arguments)
{
    const char *output = option_text(arguments, OPTION_OUTPUT, "-");
    const char *bundle = option_text(arguments, OPTION_BUNDLE, NULL);
    if (strcmp(input, "-") == 0) {
        return EXIT_DONE;
    }
    if (strcmp(output, "-") != 0 && is_file(output) &&
        same_file(input, output)) {
        cli_say("--output: %s is what this command reads; name another file",
                output);
        return EXIT_USAGE;
    }
    if (bundle != NULL && lies_in(input, bundle)) {
        cli_say("--bundle: %s lies in that folder; name a folder of its own, "
                "so that nothing is written over",
                input);
        return EXIT_USAGE;
    }
    return EXIT_DONE;
}

int cli_spare_trial(const struct bl_trial *trial,
                    const struct arguments *arguments)
{
    int code = cli_spare(trial->path, arguments);
    for (size_t i = 0; code == EXIT_DONE && i < trial->recordings; i++) {
        const struct bl_trial_recording *r = &trial->recording[i];
        for (size_t k = 0; code == EXIT_DONE && k < r->files; k++) {
            code = cli_spare(r->file[k], arguments);
        }
    }
    const size_t tables =
        trial->tables == NULL ? 0 : bl_tables_count(trial->tables);
    for (size_t i = 0; code == EXIT_DONE && i < tables; i++) {
        code = cli_spare(bl_tables_info(trial->tables, i)->file, arguments);
    }
    return code;
}

int cli_open(struct bl_output **out, const struct arguments *arguments)
{
    struct bl_error error;
    bl_error_clear(&error);
    const char *path = option_text(arguments, OPTION_OUTPUT, "-");
    if (is_file(path)) {
        cli_hold_signals();
    }
    errno = 0;
    if (bl_output_open(out, path, &error) == BL_OK) {
        return EXIT_DONE;
    }
    const bool no_folder = errno == ENOENT;
    cli_let_signals();
    (void)cli_fail(&error);
    if (no_folder) {
        cli_say("the folder of --output must exist");
    }
    return EXIT_SYSTEM;
}

int cli_close(struct bl_output *output, int code)
{
    struct bl_error error;
    bl_error_clear(&error);
    const enum bl_status status = bl_output_commit(output, &error);
    cli_let_signals();
    if (status == BL_OK) {
        return code;
    }
    (void)cli_fail(&error);
    return cli_worse(code, EXIT_SYSTEM);
}

int cli_close_written(struct bl_output *output, enum bl_status status,
                      const struct bl_error *error, int code)
{
    if (status == BL_OK) {
        return cli_close(output, code);
    }
    bl_output_discard(output);
    cli_let_signals();
    return cli_worse(code, cli_fail(error));
}

int cli_write_form(const struct bl_result *result, enum bl_result_form form,
                   const struct arguments *arguments, int code)
{
    struct bl_output *output = NULL;
    const int opened = cli_open(&output, arguments);
    if (opened != EXIT_DONE) {
        return cli_worse(code, opened);
    }
    const struct bl_result_options options = {
        .form = form,
        .pressure = bl_measurement_unit_find(
            option_text(arguments, OPTION_PRESSURE_UNIT, "kPa")),
        .brief = has_option(arguments, OPTION_BRIEF),
        .columns = cli_columns(arguments)};
    struct bl_error error;
    bl_error_clear(&error);
    const enum bl_status status =
        bl_result_write(result, output, &options, &error);
    return cli_close_written(output, status, &error, code);
}

static enum bl_result_form csv_part(const struct arguments *arguments)
{
    const char *part = option_text(arguments, OPTION_PART, "");
    if (has_option(arguments, OPTION_LONG)) {
        return BL_RESULT_LONG;
    }
    return strcmp(part, "limits") == 0     ? BL_RESULT_LIMITS
           : strcmp(part, "dynamics") == 0 ? BL_RESULT_DYNAMICS
                                           : BL_RESULT_CSV;
}

int cli_write_result(const struct bl_result *result,
                     const struct arguments *arguments, int code)
{
    const enum bl_result_form form =
        has_option(arguments, OPTION_JSON)  ? BL_RESULT_JSON
        : has_option(arguments, OPTION_CSV) ? csv_part(arguments)
                                            : BL_RESULT_TEXT;
    if (form != BL_RESULT_TEXT && has_option(arguments, OPTION_BRIEF)) {
        return cli_misuse(arguments->command,
                          "--brief is a form of text: give it without --json "
                          "and --csv");
    }
    return cli_write_form(result, form, arguments, code);
}
