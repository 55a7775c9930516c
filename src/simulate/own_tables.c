/* SPDX-License-Identifier: MIT */
/* Mapping tables of one's own go with the trial: a path that is right for the
   scenario leads nowhere from another folder. */
#include "simulate/files.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/alloc.h"
#include "base/strbuf.h"

static const char blanks[] = ", \t";

/* Is this file name one that a run, the trial or the truth takes? */
static bool is_taken(const struct bl_scenario *s, const char *name)
{
    if (strcasecmp(name, "trial.ini") == 0 ||
        strcasecmp(name, "truth.json") == 0) {
        return true;
    }
    for (size_t i = 0; i < s->runs; i++) {
        const size_t length = strlen(s->run[i].name);
        if (strncasecmp(name, s->run[i].name, length) == 0 &&
            name[length] == '.') {
            return true;
        }
    }
    return false;
}

/* Is `name` one of the words? */
static bool is_word(const char *words, const char *name)
{
    const size_t wanted = strlen(name);
    for (;;) {
        words += strspn(words, blanks);
        const size_t length = strcspn(words, blanks);
        if (length == 0) {
            return false;
        }
        if (length == wanted && strncasecmp(words, name, length) == 0) {
            return true;
        }
        words += length;
    }
}

/* The file name of a path, with a number where it is taken. */
static void name_own(struct bl_strbuf *name, const struct bl_scenario *s,
                     const char *path, const char *words)
{
    const char *slash = strrchr(path, '/');
    const char *file = slash == NULL ? path : slash + 1;
    const char *dot = strrchr(file, '.');
    const size_t stem = dot == NULL ? strlen(file) : (size_t)(dot - file);
    bl_strbuf_text(name, file);
    for (unsigned i = 2; !name->failed && (is_taken(s, bl_strbuf_get(name)) ||
                                           is_word(words, bl_strbuf_get(name)));
         i++) {
        name->length = 0;
        bl_strbuf_add(name, file, stem);
        bl_strbuf_format(name, "-%u%s", i, dot == NULL ? "" : dot);
    }
}

char *bl_sim_table_words(const struct bl_scenario *scenario)
{
    struct bl_strbuf words = {0};
    const char *at = scenario->table_words;
    for (;;) {
        at += strspn(at, blanks);
        const size_t length = strcspn(at, blanks);
        if (length == 0) {
            break;
        }
        char *word = bl_strndup(at, length);
        struct bl_strbuf name = {0};
        if (word == NULL) {
            words.failed = true;
            break;
        }
        if (bl_tables_is_path(word)) {
            name_own(&name, scenario, word, bl_strbuf_get(&words));
        } else {
            bl_strbuf_text(&name, word);
        }
        /* A name without ".csv" is a file where a path leads to it. */
        const bool bare =
            bl_tables_is_path(word) && !bl_tables_is_path(bl_strbuf_get(&name));
        bl_strbuf_format(&words, "%s%s%s", words.length > 0 ? ", " : "",
                         bare ? "./" : "", bl_strbuf_get(&name));
        words.failed = words.failed || name.failed;
        bl_strbuf_finish(&name);
        bl_free(word);
        at += length;
    }
    char *copy = words.failed ? NULL : bl_strdup(bl_strbuf_get(&words));
    bl_strbuf_finish(&words);
    return copy;
}

static enum bl_status copy_bytes(struct bl_output *output,
                                 const struct bl_table_info *info,
                                 struct bl_error *error)
{
    struct bl_bytes *source = NULL;
    struct bl_stored stored;
    unsigned char data[16384];
    size_t got = 0;
    enum bl_status status = bl_bytes_open(&source, info->file, error);
    if (status != BL_OK) {
        return status;
    }
    do {
        status = bl_bytes_read(source, data, sizeof(data), &got, error);
        bl_output_write(output, data, got);
    } while (status == BL_OK && got > 0);
    if (status == BL_OK) {
        status = bl_bytes_drain(source, &stored, error);
    }
    if (status == BL_OK && strcmp(stored.sha256, info->sha256) != 0) {
        status = bl_fail(error, BL_IO, info->file, "changed since it was read");
    }
    bl_bytes_close(source);
    return status;
}

/* Is the very table already what lies at that place? */
static bool lies_there(const char *path, const char *name,
                       const struct bl_table_info *info)
{
    struct bl_strbuf place = {0};
    struct bl_bytes *source = NULL;
    struct bl_stored stored;
    bool same = false;
    bl_strbuf_format(&place, "%s/%s", path, name);
    if (!place.failed &&
        bl_bytes_open(&source, bl_strbuf_get(&place), NULL) == BL_OK) {
        same = bl_bytes_drain(source, &stored, NULL) == BL_OK &&
               strcmp(stored.sha256, info->sha256) == 0;
        bl_bytes_close(source);
    }
    bl_strbuf_finish(&place);
    return same;
}

static enum bl_status copy_table(const struct bl_table_info *info,
                                 const char *name, struct bl_folder *folder,
                                 struct bl_error *error)
{
    struct bl_output *output = NULL;
    enum bl_status status = bl_folder_add(folder, name, false, &output, error);
    if (status != BL_OK) {
        return status;
    }
    status = copy_bytes(output, info, error);
    if (status != BL_OK) {
        bl_output_discard(output);
        return status;
    }
    return bl_folder_keep(folder, output, error);
}

enum bl_status bl_sim_copy_tables(const struct bl_scenario *scenario,
                                  struct bl_folder *folder, const char *path,
                                  struct bl_error *error)
{
    char *words = bl_sim_table_words(scenario);
    enum bl_status status = words == NULL ? bl_fail_memory(error) : BL_OK;
    const char *at = words;
    for (size_t i = 0; status == BL_OK && i < bl_tables_count(scenario->tables);
         i++) {
        at += strspn(at, blanks);
        const size_t length = strcspn(at, blanks);
        char *word = bl_strndup(at, length);
        if (word == NULL) {
            status = bl_fail_memory(error);
        } else if (bl_tables_is_path(word)) {
            const char *name = strncmp(word, "./", 2) == 0 ? word + 2 : word;
            const struct bl_table_info *info =
                bl_tables_info(scenario->tables, i);
            status = lies_there(path, name, info)
                         ? BL_OK
                         : copy_table(info, name, folder, error);
        }
        bl_free(word);
        at += length;
    }
    bl_free(words);
    return status;
}
