/* SPDX-License-Identifier: MIT */
/* Where a table is looked for that a trial file names. */
#include "decoder/tables.h"

#include "base/strbuf.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

const char *const *bl_tables_shipped(void)
{
    static const char *const names[] = {"iso11992-2", "j1939-brakes",
                                        "j1939-vehicle", NULL};
    return names;
}

bool bl_tables_is_path(const char *word)
{
    const size_t length = strlen(word);
    return strchr(word, '/') != NULL ||
           (length > 4 && strcmp(word + length - 4, ".csv") == 0);
}

/* File name without folder and ".csv", into `name`. */
static void name_of_path(struct bl_strbuf *name, const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *file = slash == NULL ? path : slash + 1;
    size_t length = strlen(file);
    if (length > 4 && strcmp(file + length - 4, ".csv") == 0) {
        length -= 4;
    }
    bl_strbuf_add(name, file, length);
}

static enum bl_status add_path(struct bl_tables *tables, const char *path,
                               const char *name, struct bl_notes *mistakes,
                               struct bl_error *error)
{
    struct bl_bytes *source;
    enum bl_status status = bl_bytes_open(&source, path, error);
    if (status == BL_OK) {
        status = bl_tables_add(tables, source, name, mistakes, error);
        bl_bytes_close(source);
    }
    return status;
}

static enum bl_status add_file(struct bl_tables *tables, const char *word,
                               const char *folder, struct bl_notes *mistakes,
                               struct bl_error *error)
{
    struct bl_strbuf path = {0}, name = {0};
    if (word[0] != '/' && folder != NULL && folder[0] != '\0') {
        bl_strbuf_format(&path, "%s/", folder);
    }
    bl_strbuf_text(&path, word);
    name_of_path(&name, word);
    enum bl_status status;
    if (path.failed || name.failed) {
        status = bl_fail_memory(error);
    } else {
        status = add_path(tables, bl_strbuf_get(&path), bl_strbuf_get(&name),
                          mistakes, error);
    }
    bl_strbuf_finish(&path);
    bl_strbuf_finish(&name);
    return status;
}

enum bl_status bl_tables_add_named(struct bl_tables *tables, const char *name,
                                   const char *folder,
                                   struct bl_notes *mistakes,
                                   struct bl_error *error)
{
    if (bl_tables_is_path(name)) {
        return add_file(tables, name, folder, mistakes, error);
    }
    const char *const place[] = {getenv("BRAKELAG_TABLES"), BL_TABLES_DIR};
    struct bl_strbuf tried = {0};
    for (size_t i = 0; i < sizeof(place) / sizeof(place[0]); i++) {
        if (place[i] == NULL || place[i][0] == '\0') {
            continue;
        }
        struct bl_strbuf path = {0};
        bl_strbuf_format(&path, "%s/%s.csv", place[i], name);
        if (path.failed) {
            bl_strbuf_finish(&path);
            bl_strbuf_finish(&tried);
            return bl_fail_memory(error);
        }
        const bool there = access(bl_strbuf_get(&path), F_OK) == 0;
        enum bl_status status = BL_OK;
        if (there) {
            status =
                add_path(tables, bl_strbuf_get(&path), name, mistakes, error);
        }
        bl_strbuf_finish(&path);
        if (there) {
            bl_strbuf_finish(&tried);
            return status;
        }
        bl_strbuf_format(&tried, "%s%s", tried.length > 0 ? ", " : "",
                         place[i]);
    }
    const enum bl_status status =
        bl_fail(error, BL_TRIAL, "",
                "no mapping table '%s' in %s; BRAKELAG_TABLES may name their "
                "folder",
                name, bl_strbuf_get(&tried));
    bl_strbuf_finish(&tried);
    return status;
}
