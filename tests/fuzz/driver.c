/* SPDX-License-Identifier: MIT */
/*
 * Replays a corpus through a fuzz target as an ordinary test: every file
 * whole, cut at 32 places, and with single bytes changed at 32 places, so that
 * a build without libFuzzer meets damage too. Same input, same order, no
 * randomness. Output is TAP, one line per file.
 */
#include <dirent.h>
#include <errno.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { PLACES = 32, MOST_BYTES = 1 << 20 };

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Names of the plain files of a folder, sorted; false: could not be read. */
static int list(const char *folder, char ***names, size_t *count)
{
    DIR *dir = opendir(folder);
    if (dir == NULL) {
        return 0;
    }
    struct dirent *entry;
    while ((entry = readdir(dir)) != NULL) {
        if (entry->d_name[0] == '.') {
            continue;
        }
        const size_t room = strlen(folder) + strlen(entry->d_name) + 2;
        char *path = malloc(room);
        char **more = realloc(*names, (*count + 1) * sizeof(**names));
        if (path == NULL || more == NULL) {
            exit(1);
        }
        snprintf(path, room, "%s/%s", folder, entry->d_name);
        *names = more;
        (*names)[(*count)++] = path;
    }
    closedir(dir);
    if (*count > 0) {
        qsort(*names, *count, sizeof(**names), by_name);
    }
    return 1;
}

static uint8_t *load(const char *path, size_t *size)
{
    FILE *file = fopen(path, "rb");
    uint8_t *data = malloc(MOST_BYTES);
    if (file == NULL || data == NULL) {
        free(data);
        if (file != NULL) {
            fclose(file);
        }
        return NULL;
    }
    *size = fread(data, 1, MOST_BYTES, file);
    fclose(file);
    return data;
}

static void replay(uint8_t *data, size_t size)
{
    (void)LLVMFuzzerTestOneInput(data, size);
    for (size_t i = 0; i < PLACES && i < size; i++) {
        const size_t place = size * i / (size < PLACES ? size : PLACES);
        (void)LLVMFuzzerTestOneInput(data, place);
        const uint8_t kept = data[place];
        data[place] = (uint8_t)(kept ^ (1u << (i % 8)));
        (void)LLVMFuzzerTestOneInput(data, size);
        data[place] = 0xFF;
        (void)LLVMFuzzerTestOneInput(data, size);
        data[place] = kept;
    }
}

int main(int argc, char **argv)
{
    char **names = NULL;
    size_t count = 0;
    if (argc != 2 || !list(argv[1], &names, &count) || count == 0) {
        fprintf(stderr, "usage: replay CORPUS-FOLDER, which holds files\n");
        return 1;
    }
    int failed = 0;
    printf("TAP version 13\n1..%zu\n", count);
    for (size_t i = 0; i < count; i++) {
        size_t size = 0;
        uint8_t *data = load(names[i], &size);
        if (data == NULL) {
            printf("not ok %zu - %s: %s\n", i + 1, names[i], strerror(errno));
            failed = 1;
        } else {
            replay(data, size);
            printf("ok %zu - %s\n", i + 1, strrchr(names[i], '/') + 1);
        }
        fflush(stdout);
        free(data);
        free(names[i]);
    }
    free(names);
    return failed;
}
