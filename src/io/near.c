/* SPDX-License-Identifier: MIT */
/*
 * Looks at the names beside a file that is not there. Only one that is nearer
 * than all others is named: of P1, P2 and P4 nobody knows which P3 was to be.
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
enum { LOOKED_AT_MAX = 4096, FOLDER_MAX = 4096, NAME_MAX_SHOWN = 256 };

struct nearest {
    char name[NAME_MAX_SHOWN];
    size_t distance;
    bool alone;
};

static bool is_plain(const char *name)
{
    for (const char *c = name; *c != '\0'; c++) {
        if ((unsigned char)*c < 0x20 || *c == 0x7F) {
            return false;
        }
    }
    return name[0] != '.';
}

/* "P1.csv.gz" where "P1.csv" was written. */
static bool is_longer(const char *name, const char *start)
{
    const size_t length = strlen(start);
    return length > 0 && strncmp(name, start, length) == 0 &&
           name[length] == '.';
}

static void look_at(struct nearest *nearest, const char *wanted,
                    const char *name)
{
    const size_t distance = is_longer(name, wanted) || is_longer(wanted, name)
                                ? 1
                                : bl_word_distance(wanted, name);
    if (!is_plain(name) || distance > nearest->distance) {
        return;
    }
    if (distance == nearest->distance) {
        nearest->alone = false;
        return;
    }
    nearest->distance = distance;
    nearest->alone = true;
    snprintf(nearest->name, sizeof(nearest->name), "%s", name);
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
    /* A third of the letters before the first dot may be wrong, at least one.
     */
    struct nearest nearest = {.distance = strcspn(wanted, ".") / 3 + 2};
    size_t seen = 0;
    for (const struct dirent *entry = readdir(listing);
         entry != NULL && seen < LOOKED_AT_MAX;
         entry = readdir(listing), seen++) {
        look_at(&nearest, wanted, entry->d_name);
    }
    (void)closedir(listing);
    if (nearest.alone && seen < LOOKED_AT_MAX) {
        snprintf(text, size, "; did you mean '%s'?", nearest.name);
    }
    return text;
}
