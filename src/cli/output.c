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

int cli_write_form(const struct bl_result *result, enum bl_result_form form,
                   const struct arguments *arguments, int code)
{
    struct bl_output *output = NULL;
    const int opened = cli_open(&output, arguments);
    if (opened != EXIT_DONE) {
        return cli_worse(code, opened);
    }
    const struct bl_result_options options = {
        form,
        bl_unit_find(option_text(arguments, OPTION_PRESSURE_UNIT, "kPa"))};
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_result_write(result, output, &options, &error) != BL_OK) {
        bl_output_discard(output);
        cli_let_signals();
        return cli_worse(code, cli_fail(&error));
    }
    return cli_close(output, code);
}

static enum bl_result_form csv_part(const struct arguments *arguments)
{
    const char *part = option_text(arguments, OPTION_PART, "");
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
    return cli_write_form(result, form, arguments, code);
}
