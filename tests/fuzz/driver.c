/* SPDX-License-Identifier: MIT */
/*
 * Replays a corpus through a fuzz target as an ordinary test: every file
 * whole, cut at 32 places, and with single bytes changed at 32 places, so that
 * a build without libFuzzer meets damage too. Then mutants of the corpus for
 * some seconds of processor time (BL_FUZZ_SECONDS, 3 without it), from the same
 * dice each time unless BL_DICE gives another number. What is being tried lies
 * in `fuzz-NAME-tried` of the folder it runs in, and stays there after a crash.
 * Output is TAP, one line per file and one for the mutants.
 */
#include "mutate.h"

#include <dirent.h>
#include <errno.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <time.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { PLACES = 32, SECONDS = 3 };

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

/* Shared with a file, so that the input survives the program. */
static uint8_t *tried(const char *name)
{
    FILE *file = fopen(name, "w+b");
    if (file == NULL || ftruncate(fileno(file), MOST_BYTES) != 0) {
        exit(1);
    }
    uint8_t *data = mmap(NULL, MOST_BYTES, PROT_READ | PROT_WRITE, MAP_SHARED,
                         fileno(file), 0);
    fclose(file);
    if (data == MAP_FAILED) {
        exit(1);
    }
    return data;
}

static void try_mutants(const struct inputs *corpus, const char *folder,
                        const char *dictionary, size_t number)
{
    const char *seconds = getenv("BL_FUZZ_SECONDS");
    const char *given = getenv("BL_DICE");
    const uint64_t seed = given == NULL ? 1 : strtoull(given, NULL, 10);
    const double until = (double)clock() / CLOCKS_PER_SEC +
                         (seconds == NULL ? SECONDS : strtod(seconds, NULL));
    const char *last = strrchr(folder, '/');
    char name[128];
    struct inputs words = {NULL, 0};
    struct bl_random dice;
    uint64_t mutants = 0;
    snprintf(name, sizeof(name), "fuzz-%s-tried",
             last == NULL ? folder : last + 1);
    uint8_t *data = tried(name);
    read_words(&words, dictionary);
    bl_random_seed(&dice, seed);
    while ((double)clock() / CLOCKS_PER_SEC < until) {
        const size_t size = mutate(data, corpus, &words, &dice);
        /* Exactly as large as the input: what reads past it is seen. */
        uint8_t *input = malloc(size == 0 ? 1 : size);
        if (input == NULL) {
            exit(1);
        }
        memcpy(input, data, size);
        (void)LLVMFuzzerTestOneInput(input, size);
        free(input);
        mutants++;
    }
    printf("ok %zu - %llu mutants, dice %llu\n", number,
           (unsigned long long)mutants, (unsigned long long)seed);
    (void)unlink(name);
    (void)munmap(data, MOST_BYTES);
    for (size_t i = 0; i < words.count; i++) {
        free(words.item[i].data);
    }
    free(words.item);
}

int main(int argc, char **argv)
{
    char **names = NULL;
    size_t count = 0;
    if (argc != 3 || !list(argv[1], &names, &count) || count == 0) {
        fprintf(stderr, "usage: replay CORPUS-FOLDER DICTIONARY\n");
        return 1;
    }
    int failed = 0;
    struct inputs corpus = {calloc(count, sizeof(struct input)), 0};
    if (corpus.item == NULL) {
        return 1;
    }
    printf("TAP version 13\n1..%zu\n", count + 1);
    for (size_t i = 0; i < count; i++) {
        struct input *input = &corpus.item[corpus.count];
        input->data = load(names[i], &input->size);
        if (input->data == NULL) {
            printf("not ok %zu - %s: %s\n", i + 1, names[i], strerror(errno));
            failed = 1;
        } else {
            corpus.count++;
            replay(input->data, input->size);
            printf("ok %zu - %s\n", i + 1, strrchr(names[i], '/') + 1);
        }
        fflush(stdout);
        free(names[i]);
    }
    free(names);
    if (corpus.count > 0) {
        try_mutants(&corpus, argv[1], argv[2], count + 1);
    }
    for (size_t i = 0; i < corpus.count; i++) {
        free(corpus.item[i].data);
    }
    free(corpus.item);
    return failed;
}
