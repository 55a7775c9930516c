/* SPDX-License-Identifier: MIT */
/*
 * A folder to hand over: the result in every form, the trial file and the
 * mapping tables as they were read, and a list of the SHA-256 of each, in the
 * form that sha256sum -c takes. All files are written beside their places
 * first; only when every one of them is whole do they take their names, so a
 * failure leaves an older bundle as it was.
 */
#include "cli.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { PATH_BYTES = 4096, COPY_MAX = 16 << 20 };

struct bundle {
    const char *folder;
    struct bl_output **file; /* written, not yet in place */
    size_t files, room;
    struct bl_output *manifest;
    struct bl_error error;
};

static bool path_in(const struct bundle *to, const char *name,
                    char path[PATH_BYTES])
{
    const int length = snprintf(path, PATH_BYTES, "%s/%s", to->folder, name);
    return length > 0 && length < PATH_BYTES;
}

static bool is_folder(const char *path)
{
    struct stat facts;
    return stat(path, &facts) == 0 && S_ISDIR(facts.st_mode);
}

/* An output for a file of the folder, kept until all are whole. */
static int open_file(struct bundle *to, const char *name,
                     struct bl_output **output)
{
    char path[PATH_BYTES];
    if (!path_in(to, name, path)) {
        cli_say("--bundle: the name of the folder is too long");
        return EXIT_USAGE;
    }
    if (is_folder(path)) {
        cli_say("%s: expected a file or nothing, found a folder", path);
        return EXIT_SYSTEM;
    }
    if (bl_output_open(output, path, &to->error) != BL_OK) {
        (void)cli_fail(&to->error);
        return EXIT_SYSTEM;
    }
    to->file[to->files++] = *output;
    return EXIT_DONE;
}

/* Write bytes as a file of the folder and enter it in the list. */
static int put_file(struct bundle *to, const char *name, const void *data,
                    size_t size)
{
    char hash[BL_SHA256_HEX];
    struct bl_output *output = NULL;
    if (bl_sha256(data, size, hash, &to->error) != BL_OK) {
        return cli_fail(&to->error);
    }
    const int code = open_file(to, name, &output);
    if (code == EXIT_DONE) {
        bl_output_write(output, data, size);
        bl_output_format(to->manifest, "%s  %s\n", hash, name);
    }
    return code;
}

static int put_form(struct bundle *to, const struct bl_result *result,
                    enum bl_result_form form, const char *name,
                    const struct bl_unit *pressure)
{
    const struct bl_result_options options = {form, pressure};
    struct bl_output *memory = NULL;
    if (bl_output_open(&memory, NULL, &to->error) != BL_OK) {
        return cli_fail(&to->error);
    }
    const enum bl_status status =
        bl_result_write(result, memory, &options, &to->error);
    size_t size = 0;
    const char *data = bl_output_memory(memory, &size);
    int code = EXIT_DONE;
    if (status != BL_OK) {
        code = cli_fail(&to->error);
    } else if (data == NULL) {
        cli_say("out of memory");
        code = EXIT_SYSTEM;
    } else {
        code = put_file(to, name, data, size);
    }
    bl_output_discard(memory);
    return code;
}

/* A copy of a file that steers the analysis, byte for byte as stored. What is
   there now must still be what was read. */
static int put_copy(struct bundle *to, const char *path, const char *name,
                    const char *sha256)
{
    FILE *file = fopen(path, "rb");
    unsigned char *data = NULL;
    int code = EXIT_SYSTEM;
    char hash[BL_SHA256_HEX];
    if (file == NULL) {
        cli_say("%s: %s", path, strerror(errno));
        return EXIT_SYSTEM;
    }
    data = malloc(COPY_MAX);
    if (data == NULL) {
        cli_say("out of memory");
        goto out;
    }
    const size_t size = fread(data, 1, COPY_MAX, file);
    if (ferror(file) != 0 || fgetc(file) != EOF) {
        cli_say("%s: expected to read it whole, up to 16 MiB", path);
        goto out;
    }
    if (bl_sha256(data, size, hash, &to->error) != BL_OK) {
        code = cli_fail(&to->error);
        goto out;
    }
    if (strcmp(hash, sha256) != 0) {
        cli_say("%s: changed since it was read; the copy is what it is now",
                path);
    }
    code = put_file(to, name, data, size);
out:
    free(data);
    fclose(file);
    return code;
}

static int put_tables(struct bundle *to, const struct bl_trial *trial)
{
    int code = EXIT_DONE;
    const size_t count =
        trial->tables == NULL ? 0 : bl_tables_count(trial->tables);
    for (size_t i = 0; i < count; i++) {
        const struct bl_table_info *info = bl_tables_info(trial->tables, i);
        char name[PATH_BYTES];
        snprintf(name, sizeof(name), "table-%.200s.csv", info->name);
        for (char *c = name; *c != '\0'; c++) {
            *c = *c == '/' || *c == '\n' || *c == '\\' ? '_' : *c;
        }
        code = cli_worse(code, put_copy(to, info->file, name, info->sha256));
    }
    return code;
}

static int put_all(struct bundle *to, const struct bl_result *result,
                   const struct bl_trial *trial, const struct bl_unit *pressure)
{
    static const struct {
        enum bl_result_form form;
        const char *name;
    } forms[] = {{BL_RESULT_PAGE, "report.html"},
                 {BL_RESULT_TEXT, "report.txt"},
                 {BL_RESULT_JSON, "result.json"},
                 {BL_RESULT_FIGURES, "figures.csv"},
                 {BL_RESULT_DIFFERENCES, "differences.csv"},
                 {BL_RESULT_FINDINGS, "findings.csv"},
                 {BL_RESULT_REACH, "reach.csv"},
                 {BL_RESULT_LIMITS, "limits.csv"},
                 {BL_RESULT_DYNAMICS, "dynamics.csv"},
                 {BL_RESULT_PREDICTION, "predict.csv"}};
    int code = EXIT_DONE;
    for (size_t i = 0; i < sizeof(forms) / sizeof(forms[0]); i++) {
        code = cli_worse(
            code, put_form(to, result, forms[i].form, forms[i].name, pressure));
    }
    code =
        cli_worse(code, put_copy(to, trial->path, "trial.ini", trial->sha256));
    return cli_worse(code, put_tables(to, trial));
}

/* All of them take their names, the list last; or none does. */
static int finish(struct bundle *to, int code)
{
    for (size_t i = 0; i < to->files && code == EXIT_DONE; i++) {
        if (bl_output_flush(to->file[i], &to->error) != BL_OK) {
            code = cli_fail(&to->error); /* a full disk: none takes its name */
        }
    }
    for (size_t i = 0; i < to->files; i++) {
        if (code != EXIT_DONE) {
            bl_output_discard(to->file[i]);
        } else if (bl_output_commit(to->file[i], &to->error) != BL_OK) {
            code = cli_fail(&to->error);
        }
    }
    if (code != EXIT_DONE) {
        cli_say("%s: the bundle is not complete, its list was not written",
                to->folder);
    }
    free(to->file);
    return code;
}

static int put_manifest(struct bundle *to)
{
    struct bl_output *output = NULL;
    size_t size = 0;
    const char *text = bl_output_memory(to->manifest, &size);
    if (text == NULL) {
        cli_say("out of memory");
        return EXIT_SYSTEM;
    }
    const int code = open_file(to, "SHA256SUMS", &output);
    if (code == EXIT_DONE) {
        bl_output_write(output, text, size);
    }
    return code;
}

static int start(struct bundle *to, const struct bl_trial *trial)
{
    if (mkdir(to->folder, 0777) != 0 && errno != EEXIST) {
        cli_say("%s: %s", to->folder, strerror(errno));
        return EXIT_SYSTEM;
    }
    to->room =
        16 + (trial->tables == NULL ? 0 : bl_tables_count(trial->tables));
    to->file = calloc(to->room, sizeof(struct bl_output *));
    if (to->file == NULL) {
        cli_say("out of memory");
        return EXIT_SYSTEM;
    }
    if (bl_output_open(&to->manifest, NULL, &to->error) != BL_OK) {
        return cli_fail(&to->error);
    }
    return EXIT_DONE;
}

int cli_write_bundle(const struct bl_result *result,
                     const struct bl_trial *trial,
                     const struct arguments *arguments, int code)
{
    struct bundle to = {.folder = option_text(arguments, OPTION_BUNDLE, ".")};
    bl_error_clear(&to.error);
    cli_hold_signals();
    int made = start(&to, trial);
    if (made == EXIT_DONE) {
        made = put_all(
            &to, result, trial,
            bl_unit_find(option_text(arguments, OPTION_PRESSURE_UNIT, "kPa")));
    }
    if (made == EXIT_DONE) {
        made = put_manifest(&to);
    }
    made = finish(&to, made);
    bl_output_discard(to.manifest);
    cli_let_signals();
    return cli_worse(code, made);
}
