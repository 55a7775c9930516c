/* SPDX-License-Identifier: MIT */
/*
 * A folder to hand over: the result in every form, the trial file and the
 * mapping tables as they were read, and a list of the SHA-256 of each, in the
 * form that sha256sum -c takes. All files are written beside their places
 * first; only when every one of them is whole do they take their names, so a
 * full disk leaves an older bundle as it was.
 *
 * Of what lies in the folder only files of an older bundle are replaced: those
 * that its list names, with the bytes that it says. The older list goes before
 * the first file changes and the new one comes last, so that a list that is
 * there is true.
 */
#include "cli.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

enum { PATH_BYTES = 4096, COPY_MAX = 16 << 20, OLD_MAX = 1 << 20 };
enum { NAME_BYTES = 256, HASH_CHARS = BL_SHA256_HEX - 1 };

static const char list_name[] = "SHA256SUMS";

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

enum { FORMS = sizeof(forms) / sizeof(forms[0]) };

struct bundle {
    const char *path;
    struct bl_folder *folder;
    struct bl_output *manifest;
    char *old; /* the list of an older bundle; NULL: there is none */
    char (*table)[NAME_BYTES];
    size_t tables;
    struct bl_error error;
};

/* Say why nothing could be written: what is in the way is a matter of usage,
   all else of the system. */
static int fail_writing(const struct bundle *to)
{
    const int code = cli_fail(&to->error);
    if (code == EXIT_USAGE) {
        cli_say("--bundle: only files of an older bundle that nobody changed "
                "are replaced; name another folder");
    }
    return code == EXIT_USAGE ? EXIT_USAGE : EXIT_SYSTEM;
}

/* All of a file, freed by the caller; NULL: it is not there, cannot be read or
   is larger than `most`. */
static char *read_whole(const char *path, size_t most, size_t *size)
{
    FILE *file = fopen(path, "rb");
    char *data = file == NULL ? NULL : malloc(most + 1);
    if (data != NULL) {
        *size = fread(data, 1, most, file);
        data[*size] = '\0';
        if (ferror(file) != 0 || fgetc(file) != EOF) {
            free(data);
            data = NULL;
        }
    }
    if (file != NULL) {
        fclose(file);
    }
    return data;
}

static bool path_in(const struct bundle *to, const char *name,
                    char path[PATH_BYTES])
{
    const int length = snprintf(path, PATH_BYTES, "%s/%s", to->path, name);
    return length > 0 && length < PATH_BYTES;
}

/* A name that this file gives. */
static bool is_ours(const char *name, size_t length)
{
    static const char table[] = "table-";
    static const char trial[] = "trial.ini";
    for (size_t i = 0; i < FORMS; i++) {
        if (strlen(forms[i].name) == length &&
            strncmp(forms[i].name, name, length) == 0) {
            return true;
        }
    }
    return (length == sizeof(trial) - 1 && strncmp(trial, name, length) == 0) ||
           strncmp(table, name, sizeof(table) - 1) == 0;
}

/* The next line of a list, "HASH  NAME"; false: there is none, or it has
   another form. */
static bool next_line(const char **at, const char **name, size_t *length)
{
    const char *line = *at;
    if (strspn(line, "0123456789abcdef") != HASH_CHARS ||
        strncmp(line + HASH_CHARS, "  ", 2) != 0) {
        return false;
    }
    *name = line + HASH_CHARS + 2;
    *length = strcspn(*name, "\n");
    *at = *name + *length + ((*name)[*length] == '\n');
    return true;
}

/* The list of an older bundle. Anybody may keep a list of that name: it is one
   of ours when it names nothing else, and a result among it. */
static void read_old(struct bundle *to)
{
    char path[PATH_BYTES];
    size_t size = 0;
    to->old =
        path_in(to, list_name, path) ? read_whole(path, OLD_MAX, &size) : NULL;
    const char *at = to->old;
    const char *name;
    size_t length;
    bool result = false;
    while (at != NULL && *at != '\0') {
        if (!next_line(&at, &name, &length) || !is_ours(name, length)) {
            at = NULL;
            break;
        }
        result = result || strncmp(name, "result.json\n", 12) == 0;
    }
    if (at == NULL || !result) {
        free(to->old);
        to->old = NULL;
    }
}

/* Has the file this SHA-256? */
static bool has_hash(const char *path, const char *hash)
{
    struct bl_bytes *source = NULL;
    struct bl_stored stored;
    if (bl_bytes_open(&source, path, NULL) != BL_OK) {
        return false;
    }
    const bool same = bl_bytes_drain(source, &stored, NULL) == BL_OK &&
                      strncmp(stored.sha256, hash, HASH_CHARS) == 0;
    bl_bytes_close(source);
    return same;
}

/* Is what lies there as the older list says? */
static bool is_unchanged(const struct bundle *to, const char *wanted)
{
    char path[PATH_BYTES];
    const char *at = to->old;
    const char *name;
    size_t length;
    if (at != NULL && strcmp(wanted, list_name) == 0) {
        return true;
    }
    while (at != NULL && next_line(&at, &name, &length)) {
        if (strlen(wanted) == length && strncmp(wanted, name, length) == 0) {
            return path_in(to, wanted, path) &&
                   has_hash(path, name - 2 - HASH_CHARS);
        }
    }
    return false;
}

/* Write bytes as a file of the folder. */
static int store_file(struct bundle *to, const char *name, const void *data,
                      size_t size)
{
    struct bl_output *output = NULL;
    if (bl_folder_add(to->folder, name, is_unchanged(to, name), &output,
                      &to->error) != BL_OK) {
        return fail_writing(to);
    }
    bl_output_write(output, data, size);
    return bl_folder_keep(to->folder, output, &to->error) == BL_OK
               ? EXIT_DONE
               : fail_writing(to);
}

/* The same, and enter it in the list. */
static int put_file(struct bundle *to, const char *name, const void *data,
                    size_t size)
{
    char hash[BL_SHA256_HEX];
    if (bl_sha256(data, size, hash, &to->error) != BL_OK) {
        return cli_fail(&to->error);
    }
    const int code = store_file(to, name, data, size);
    if (code == EXIT_DONE) {
        bl_output_format(to->manifest, "%s  %s\n", hash, name);
    }
    return code;
}

static int put_form(struct bundle *to, const struct bl_result *result,
                    enum bl_result_form form, const char *name,
                    const struct bl_measurement_unit *pressure)
{
    const struct bl_result_options options = {.form = form,
                                              .pressure = pressure};
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
        code = cli_no_memory();
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
    char hash[BL_SHA256_HEX];
    size_t size = 0;
    errno = 0;
    char *data = read_whole(path, COPY_MAX, &size);
    if (data == NULL) {
        cli_say("%s: %s", path,
                errno == 0 ? "expected to read it whole, up to 16 MiB"
                           : strerror(errno));
        return EXIT_SYSTEM;
    }
    int code = EXIT_DONE;
    if (bl_sha256(data, size, hash, &to->error) != BL_OK) {
        code = cli_fail(&to->error);
    } else {
        if (strcmp(hash, sha256) != 0) {
            cli_say("%s: changed since it was read; the copy is what it is now",
                    path);
        }
        code = put_file(to, name, data, size);
    }
    free(data);
    return code;
}

static bool name_taken(const struct bundle *to, const char *name)
{
    for (size_t i = 0; i < to->tables; i++) {
        /* Memory sticks take capitals for the same letters. */
        if (strcasecmp(to->table[i], name) == 0) {
            return true;
        }
    }
    return false;
}

/* "table-NAME.csv", with a number where another table is called so too. */
static const char *name_table(struct bundle *to, const char *table)
{
    char *name = to->table[to->tables];
    (void)snprintf(name, NAME_BYTES, "table-%.200s.csv", table);
    for (unsigned i = 2; name_taken(to, name); i++) {
        (void)snprintf(name, NAME_BYTES, "table-%.200s-%u.csv", table, i);
    }
    for (char *c = name; *c != '\0'; c++) {
        *c = *c == '/' || *c == '\n' || *c == '\\' ? '_' : *c;
    }
    to->tables++;
    return name;
}

static int put_tables(struct bundle *to, const struct bl_trial *trial)
{
    int code = EXIT_DONE;
    const size_t count =
        trial->tables == NULL ? 0 : bl_tables_count(trial->tables);
    to->table = calloc(count + 1, sizeof(*to->table));
    if (to->table == NULL) {
        return cli_no_memory();
    }
    for (size_t i = 0; i < count; i++) {
        const struct bl_table_info *info = bl_tables_info(trial->tables, i);
        code =
            cli_worse(code, put_copy(to, info->file, name_table(to, info->name),
                                     info->sha256));
    }
    return code;
}

static int put_all(struct bundle *to, const struct bl_result *result,
                   const struct bl_trial *trial,
                   const struct bl_measurement_unit *pressure)
{
    int code = EXIT_DONE;
    for (size_t i = 0; i < FORMS && code == EXIT_DONE; i++) {
        code = put_form(to, result, forms[i].form, forms[i].name, pressure);
    }
    if (code == EXIT_DONE) {
        code = put_copy(to, trial->path, "trial.ini", trial->sha256);
    }
    return code == EXIT_DONE ? put_tables(to, trial) : code;
}

static int put_manifest(struct bundle *to)
{
    size_t size = 0;
    const char *text = bl_output_memory(to->manifest, &size);
    return text == NULL ? cli_no_memory()
                        : store_file(to, list_name, text, size);
}

/* All of them take their names, the list last; or none does. */
static int finish(struct bundle *to, int code)
{
    if (code == EXIT_DONE &&
        bl_folder_commit(to->folder, to->old == NULL ? NULL : list_name,
                         &to->error) != BL_OK) {
        code = fail_writing(to);
    }
    if (code != EXIT_DONE) {
        cli_say("%s: the bundle was not written", to->path);
    }
    bl_folder_close(to->folder);
    bl_output_discard(to->manifest);
    free(to->table);
    free(to->old);
    return code;
}

static int start(struct bundle *to)
{
    if (mkdir(to->path, 0777) != 0 && errno != EEXIST) {
        cli_say("%s: %s", to->path, strerror(errno));
        return EXIT_SYSTEM;
    }
    if (bl_folder_open(&to->folder, to->path, &to->error) != BL_OK) {
        return fail_writing(to);
    }
    read_old(to);
    return bl_output_open(&to->manifest, NULL, &to->error) == BL_OK
               ? EXIT_DONE
               : cli_fail(&to->error);
}

int cli_write_bundle(const struct bl_result *result,
                     const struct bl_trial *trial,
                     const struct arguments *arguments, int code)
{
    struct bundle to = {.path = option_text(arguments, OPTION_BUNDLE, ".")};
    bl_error_clear(&to.error);
    cli_hold_signals();
    int made = start(&to);
    if (made == EXIT_DONE) {
        made = put_all(&to, result, trial,
                       bl_measurement_unit_find(option_text(
                           arguments, OPTION_PRESSURE_UNIT, "kPa")));
    }
    if (made == EXIT_DONE) {
        made = put_manifest(&to);
    }
    made = finish(&to, made);
    cli_let_signals();
    return cli_worse(code, made);
}
