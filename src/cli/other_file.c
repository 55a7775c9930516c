/* SPDX-License-Identifier: MIT */
/*
 * What was given where a trial file belongs, if it is plainly something else: a
 * folder, a recording, a result. Looking at a log as a trial file would be
 * hundreds of mistakes that say nothing of the one that was made.
 */
#include "cli.h"

#include <dirent.h>
#include <string.h>
#include <sys/stat.h>

enum {
    /* Own choice: a folder of more is no folder of a trial. */
    LOOKED_AT_MOST = 5000,
    /* Own choice: fewer lines with cells may be notes. */
    ROWS_LEAST = 2,
    /* Own choice: lines of a table for each line of a trial file that stands
       above it; some recorders write such a head. */
    ROWS_PER_ENTRY = 4,
    NAME_BYTES = 512
};

/* Do these bytes read as a section of a trial file does: "[unit 0]"? */
static bool is_heading(const char *line, size_t length)
{
    return length > 2 && line[0] == '[' && memchr(line, ']', length) != NULL &&
           memchr(line, ',', length) == NULL;
}

/* What the beginning of a text holds: lines as trial files have them, lines of
   cells, and others. */
struct looks {
    size_t entries, rows, others;
};

static void look_at_line(struct looks *seen, const char *line, size_t length)
{
    while (length > 0 && (line[0] == ' ' || line[0] == '\t')) {
        line++;
        length--;
    }
    if (length == 0 || line[0] == '#' || line[0] == ';' || line[0] == '\r') {
        return;
    }
    const char *cell = memchr(line, ',', length);
    cell = cell == NULL ? memchr(line, ';', length) : cell;
    cell = cell == NULL ? memchr(line, '\t', length) : cell;
    const char *equals = memchr(line, '=', length);
    if (is_heading(line, length) ||
        (equals != NULL && (cell == NULL || equals < cell))) {
        seen->entries++;
    } else if (cell != NULL || strchr("0123456789.+-", line[0]) != NULL) {
        seen->rows++;
    } else {
        seen->others++;
    }
}

static void look_at_text(struct looks *seen, const char *text, size_t length)
{
    while (length > 0) {
        const char *end = memchr(text, '\n', length);
        const size_t line = end == NULL ? length : (size_t)(end - text);
        look_at_line(seen, text, line);
        const size_t taken = end == NULL ? line : line + 1;
        text += taken;
        length -= taken;
    }
}

static const char no_sections[] = "text";

/* "a log", or no_sections; NULL: it may be a trial file. */
static const char *kind_of(struct bl_bytes *source)
{
    const uint8_t *data = NULL;
    size_t length = 0;
    struct looks seen = {0};
    if (bl_bytes_peek(source, BL_PEEK_MAX, &data, &length, NULL) != BL_OK) {
        return NULL; /* reading it says why */
    }
    const bool binary = memchr(data, '\0', length) != NULL;
    look_at_text(&seen, (const char *)data, length);
    if (!binary && seen.entries * ROWS_PER_ENTRY > seen.rows + seen.others) {
        return NULL;
    }
    if (bl_bus_recognised(source)) {
        return "a capture";
    }
    if (binary || seen.rows + seen.others == 0) {
        return NULL; /* UTF-16, or empty: reading it says so */
    }
    return seen.rows >= ROWS_LEAST && seen.rows > seen.others ? "a log"
                                                              : no_sections;
}

/* A result of ours: measure --json. */
static bool is_result(struct bl_bytes *source)
{
    static const char schema[] = "{\"schema\":\"brakelag-result/";
    const uint8_t *data = NULL;
    size_t length = 0;
    size_t fits = 0;
    if (bl_bytes_peek(source, BL_PEEK_MAX, &data, &length, NULL) != BL_OK) {
        return false;
    }
    for (size_t i = 0; i < length && fits < sizeof(schema) - 1; i++) {
        if (data[i] == (uint8_t)schema[fits]) {
            fits++;
        } else if (strchr(" \t\r\n", data[i]) == NULL) {
            return false;
        }
    }
    return fits == sizeof(schema) - 1;
}

/* Of the folder: "trial.ini", else the one file that is called as trial files
   are; false: none, or several. */
static bool find_trial(const char *folder, char *name, size_t size)
{
    DIR *listing = opendir(folder);
    size_t found = 0;
    if (listing == NULL) {
        return false;
    }
    const struct dirent *entry;
    for (size_t i = 0; i < LOOKED_AT_MOST && (entry = readdir(listing)) != NULL;
         i++) {
        const char *end = strrchr(entry->d_name, '.');
        if (end != NULL && strcmp(end, ".ini") == 0) {
            (void)snprintf(name, size, "%s", entry->d_name);
            found++;
        }
        if (strcmp(entry->d_name, "trial.ini") == 0) {
            found = 1;
            break;
        }
    }
    (void)closedir(listing);
    return found == 1;
}

int cli_refuse_folder(const char *path)
{
    struct stat facts;
    char name[NAME_BYTES];
    if (strcmp(path, "-") == 0 || stat(path, &facts) != 0 ||
        !S_ISDIR(facts.st_mode)) {
        return EXIT_DONE;
    }
    const size_t length = strlen(path);
    const char *slash = length > 0 && path[length - 1] == '/' ? "" : "/";
    if (find_trial(path, name, sizeof(name))) {
        cli_say("%s is a folder, not a trial file; did you mean '%s%s%s'?",
                path, path, slash, name);
    } else {
        cli_say("%s is a folder, not a trial file; `brakelag survey "
                "RECORDING... --write-trial -o trial.ini` drafts one from the "
                "recordings in it",
                path);
    }
    return EXIT_USAGE;
}

int cli_refuse_other(const char *path, struct bl_bytes *source)
{
    const char *kind = is_result(source) ? "a result" : kind_of(source);
    const bool here = strcmp(path, "-") != 0;
    const char *quote = strchr(path, ' ') != NULL ? "'" : "";
    if (kind == NULL) {
        return EXIT_DONE;
    }
    if (kind == no_sections) {
        cli_say("%s is not a trial file, since it has no section such as "
                "[trial]; `brakelag survey RECORDING... --write-trial -o "
                "trial.ini` drafts one",
                path);
    } else if (is_result(source)) {
        cli_say("%s is a result, not a trial file; `brakelag history add` and "
                "`brakelag compare TRIAL --with` take results",
                path);
    } else {
        cli_say("%s is a recording (%s), not a trial file; `brakelag survey "
                "%s%s%s --write-trial -o trial.ini` drafts one (name every "
                "recording of the run)",
                path, kind, quote, here ? path : "RECORDING...", quote);
    }
    return EXIT_USAGE;
}
