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

int cli_beside_history(struct bl_result *into,
                       const struct bl_assessment *found,
                       const struct arguments *arguments)
{
    static const struct bl_report_options options = {.only = BL_REPORT_RUNS};
    struct bl_history *history = NULL;
    struct bl_result *measured = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (!has_option(arguments, OPTION_HISTORY)) {
        return EXIT_DONE;
    }
    int code = cli_open_history(&history, BL_HISTORY_READ, arguments);
    if (code == EXIT_DONE) {
        enum bl_status status =
            bl_result_create_assessed(&measured, found, &options, &error);
        if (status == BL_OK) {
            status = bl_history_tell_result(history, measured, into, &error);
        }
        code = status == BL_OK ? EXIT_DONE : cli_fail(&error);
    }
    bl_result_destroy(measured);
    bl_history_close(history);
    return code;
}
