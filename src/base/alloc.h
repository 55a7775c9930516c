/* SPDX-License-Identifier: MIT */
/*
 * All memory of the library comes from here, so that a test can make any
 * single allocation fail. Results are checked everywhere; nothing aborts.
 */
#ifndef BRAKELAG_SRC_BASE_ALLOC_H
#define BRAKELAG_SRC_BASE_ALLOC_H

#include <stddef.h>
#include <stdint.h>

/* Zeroed memory for `count` items of `size` bytes; NULL when it cannot be had
   or the product overflows. count 0 gives a small valid block. */
void *bl_alloc(size_t count, size_t size);
/* Like realloc for `count` items; the old block stays valid on NULL. */
void *bl_realloc(void *old, size_t count, size_t size);
void bl_free(void *memory);
/* Copies of text; NULL when out of memory. bl_strdup(NULL) is NULL. */
char *bl_strdup(const char *text);
char *bl_strndup(const char *text, size_t length);

/*
 * How many allocations this thread was refused so far. The functions of signal
 * have no status and answer "not known" without memory; whoever must not take
 * lack of memory for lack of data compares before and after.
 */
uint64_t bl_alloc_refused(void);

/*
 * Failure injection for tests: the `number`th allocation from now (1 = the
 * next) fails, once; 0 switches it off. bl_alloc_count counts since the last
 * call. Not thread-safe by intent: tests that inject run on one thread.
 */
void bl_alloc_fail_at(uint64_t number);
uint64_t bl_alloc_count(void);
/* Blocks that are held now, by all threads. A test that takes it before and
   after sees what was left behind, without a search of all memory. */
int64_t bl_alloc_live(void);

#endif
