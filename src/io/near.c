/* SPDX-License-Identifier: MIT */
/*
 * Looks at the names beside a file that is not there.
 */
#include "io/near.h"

#include "brakelag/words.h"

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

/* A yard's folder has tens of files; of very many nothing is said. */
enum { LOOKED_AT_MAX = 4096, FOLDER_MAX = 4096 };

static bool is_plain(const char *name)
{
    for (const char *c = name; *c != '\0'; c++) {
        if ((unsigned char)*c < 0x20 || *c == 0x7F) {
            return false;
        }
    }
    return name[0] != '.';
}

const char *bl_near_file(const char *path, char *text, size_t size)
{
    const char *slash = strrchr(path, '/');
    const char *wanted = slash == NULL ? path : slash + 1;
    char folder[FOLDER_MAX] = ".";
    text[0] = '\0';
    if (slash != NULL) {
        /* "/name" lies in the root. */
        const size_t length = slash == path ? 1 : (size_t)(slash - path);
        if (length >= sizeof(folder)) {
            return text;
        }
        memcpy(folder, path, length);
        folder[length] = '\0';
    }
    DIR *listing = opendir(folder);
    if (listing == NULL) {
        if (errno == ENOENT) {
            snprintf(text, size, "; its folder is not there either");
        }
        return text;
    }
    struct bl_nearest nearest = {.wanted = wanted,
                                 .letters = strcspn(wanted, ".")};
    size_t seen = 0;
    for (const struct dirent *entry = readdir(listing);
         entry != NULL && seen < LOOKED_AT_MAX;
         entry = readdir(listing), seen++) {
        if (is_plain(entry->d_name)) {
            bl_nearest_offer(&nearest, entry->d_name);
        }
    }
    (void)closedir(listing);
    const char *near = bl_nearest_word(&nearest);
    if (near != NULL && seen < LOOKED_AT_MAX) {
        snprintf(text, size, "; did you mean '%s'?", near);
    }
    return text;
}
