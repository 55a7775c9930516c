/* SPDX-License-Identifier: MIT */
/* Inputs made from a corpus by the dice, where no fuzzing compiler is. */
#ifndef BRAKELAG_TESTS_FUZZ_MUTATE_H
#define BRAKELAG_TESTS_FUZZ_MUTATE_H

#include "base/random.h"

#include <stddef.h>

enum { MOST_BYTES = 1 << 20 };

struct input {
    uint8_t *data;
    size_t size;
};

struct inputs {
    struct input *item;
    size_t count;
};

/* The words of a libFuzzer dictionary: a quoted one per line, \xNN and \\ and
   \" inside. Ends the program where the file cannot be read. */
void read_words(struct inputs *words, const char *path);

/* One of `corpus` with one to eight changes: bits, bytes, numbers at their
   limits, words, stretches lost, repeated or taken from another input. `into`
   holds MOST_BYTES; the size is returned. */
size_t mutate(uint8_t *into, const struct inputs *corpus,
              const struct inputs *words, struct bl_random *dice);

#endif
