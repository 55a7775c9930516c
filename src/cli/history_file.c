/* SPDX-License-Identifier: MIT */
/* Where the history lies, and a trial beside it. */
#include "cli.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { PATH_SIZE = 4096 };

/* Folders on the way to `path`, which only their owner reads. */
static bool make_folders(char *path)
{
    for (char *at = path + 1; *at != '\0'; at++) {
        if (*at == '/') {
            *at = '\0';
            const bool made = mkdir(path, 0700) == 0 || errno == EEXIST;
            *at = '/';
            if (!made) {
                return false;
            }
        }
    }
    return true;
}

/* --history FILE, else a file in the user's data folder (XDG Base Directory
   Specification: an absolute XDG_DATA_HOME, else ~/.local/share). */
static int find_file(char path[PATH_SIZE], bool make,
                     const struct arguments *arguments)
{
    static const char own[] = "brakelag/history.sqlite";
    const char *given = option_text(arguments, OPTION_HISTORY, NULL);
    const char *data = getenv("XDG_DATA_HOME");
    const char *home = getenv("HOME");
    int length;
    if (given != NULL) {
        length = snprintf(path, PATH_SIZE, "%s", given);
    } else if (data != NULL && data[0] == '/') {
        length = snprintf(path, PATH_SIZE, "%s/%s", data, own);
    } else if (home != NULL && home[0] == '/') {
        length = snprintf(path, PATH_SIZE, "%s/.local/share/%s", home, own);
    } else {
        return cli_misuse(arguments->command,
                          "there is no home folder to keep a history in: give "
                          "--history FILE");
    }
    if (length < 0 || length >= PATH_SIZE) {
        return cli_misuse(arguments->command,
                          "the name of the history is too long");
    }
    if (given == NULL && make && !make_folders(path)) {
        cli_say("%s: its folder cannot be made: %s", path, strerror(errno));
        return EXIT_SYSTEM;
    }
    return EXIT_DONE;
}

int cli_open_history(struct bl_history **out, enum bl_history_mode mode,
                     const struct arguments *arguments)
{
    char path[PATH_SIZE];
    struct bl_error error;
    bl_error_clear(&error);
    *out = NULL;
    int code = find_file(path, mode == BL_HISTORY_WRITE, arguments);
    if (code == EXIT_DONE) {
        code = cli_spare(path, arguments);
    }
    if (code == EXIT_DONE &&
        bl_history_open(out, path, mode, &error) != BL_OK) {
        code = cli_fail(&error);
    }
    return code;
}

/* As a result: what the history takes of it. */
static enum bl_status figures_of(struct bl_result **out,
                                 const struct bl_assessment *found,
                                 struct bl_error *error)
{
    static const struct bl_report_options options = {.only = BL_REPORT_RUNS};
    return bl_result_create_assessed(out, found, &options, error);
}

enum bl_status cli_visits_find(const struct bl_visits **out, void *user,
                               const struct bl_assessment *so_far,
                               struct bl_error *error)
{
    struct cli_visits *visits = user;
    struct bl_history *history = NULL;
    struct bl_result *measured = NULL;
    *out = NULL;
    visits->code =
        cli_open_history(&history, BL_HISTORY_READ, visits->arguments);
    if (visits->code != EXIT_DONE) {
        return BL_OK; /* it was said; nothing will be written */
    }
    enum bl_status status = figures_of(&measured, so_far, error);
    if (status == BL_OK) {
        status =
            bl_history_visits_create(&visits->found, history, measured, error);
    }
    if (status != BL_OK && status != BL_NOMEM) {
        visits->code = cli_fail(error);
        bl_error_clear(error);
        status = BL_OK;
    }
    bl_result_destroy(measured);
    bl_history_close(history);
    *out = bl_history_visits_all(visits->found);
    return status;
}

int cli_beside_history(struct bl_result *into,
                       const struct bl_assessment *found,
                       const struct arguments *arguments)
{
    struct bl_history *history = NULL;
    struct bl_result *measured = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (!has_option(arguments, OPTION_HISTORY)) {
        return EXIT_DONE;
    }
    int code = cli_open_history(&history, BL_HISTORY_READ, arguments);
    if (code == EXIT_DONE) {
        enum bl_status status = figures_of(&measured, found, &error);
        if (status == BL_OK) {
            status = bl_history_tell_result(history, measured, into, &error);
        }
        code = status == BL_OK ? EXIT_DONE : cli_fail(&error);
    }
    bl_result_destroy(measured);
    bl_history_close(history);
    return code;
}
