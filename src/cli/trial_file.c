/* SPDX-License-Identifier: MIT */
/* Reads the trial file for a command, and says what is wrong with it. */
#include "cli.h"

#include <unistd.h>

/* Read what may be a trial file; *code other than EXIT_DONE: it is plainly
   something else, which was said. */
static enum bl_status read_file(struct bl_trial **out, const char *path,
                                struct bl_notes *mistakes, int *code,
                                struct bl_error *error)
{
    struct bl_bytes *source = NULL;
    enum bl_status status = bl_bytes_open(&source, path, error);
    if (status == BL_OK) {
        *code = cli_refuse_other(path, source);
    }
    if (status == BL_OK && *code == EXIT_DONE) {
        status = bl_trial_read(out, source, NULL, mistakes, error);
    }
    bl_bytes_close(source);
    return status;
}

int cli_read_trial(struct bl_trial **out, const char *path,
                   const struct arguments *arguments)
{
    *out = NULL;
    struct bl_error error;
    struct bl_notes mistakes = {0};
    bl_error_clear(&error);
    enum bl_status status = BL_OK;
    int code = cli_refuse_folder(path);
    if (code == EXIT_DONE) {
        status = read_file(out, path, &mistakes, &code, &error);
    }
    if (code != EXIT_DONE) {
        return code;
    }
    if (status == BL_OK) {
        cli_say_notes(arguments, path, &(*out)->notes);
        code = cli_spare_trial(*out, arguments);
    } else if (mistakes.count > 0) {
        cli_say_mistakes(path, &mistakes);
        cli_say("%s is not used; docs/trial-file.md explains every key, "
                "`brakelag survey --write-trial` drafts such a file",
                path);
        code = EXIT_USAGE;
    } else {
        code = cli_fail(&error);
        /* The trial file is no recording: what is wrong with it is misuse. */
        code = code == EXIT_INPUT ? EXIT_USAGE : code;
        if (access(path, F_OK) != 0) {
            cli_say("TRIAL is the file that says what was tried and how it was "
                    "wired; `brakelag survey RECORDING... --write-trial` "
                    "drafts one");
        }
    }
    bl_notes_finish(&mistakes);
    if (code != EXIT_DONE && status == BL_OK) {
        bl_trial_destroy(*out);
    }
    if (code != EXIT_DONE) {
        *out = NULL;
    }
    return code;
}
