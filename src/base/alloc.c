/* SPDX-License-Identifier: MIT */
#include "base/alloc.h"

#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

/* The one piece of process-wide state, and it belongs to the tests: nothing
   else looks at it. */
static _Atomic uint64_t fail_at;
static _Atomic uint64_t counted;
static _Atomic int64_t live;
static _Thread_local uint64_t refused;

uint64_t bl_alloc_refused(void)
{
    return refused;
}

static void *told(void *memory)
{
    refused += memory == NULL;
    return memory;
}

/* A block more: `memory` was had anew. */
static void *had(void *memory)
{
    if (memory != NULL) {
        atomic_fetch_add_explicit(&live, 1, memory_order_relaxed);
    }
    return told(memory);
}

int64_t bl_alloc_live(void)
{
    return atomic_load(&live);
}

void bl_alloc_fail_at(uint64_t number)
{
    atomic_store(&counted, 0);
    atomic_store(&fail_at, number);
}

uint64_t bl_alloc_count(void)
{
    return atomic_load(&counted);
}

static int must_fail(void)
{
    const uint64_t now =
        atomic_fetch_add_explicit(&counted, 1, memory_order_relaxed) + 1;
    const uint64_t at = atomic_load_explicit(&fail_at, memory_order_relaxed);
    return at != 0 && now == at;
}

void *bl_alloc(size_t count, size_t size)
{
    if (must_fail()) {
        return told(NULL);
    }
    if (count == 0 || size == 0) {
        return had(calloc(1, 1));
    }
    return had(calloc(count, size));
}

void *bl_realloc(void *old, size_t count, size_t size)
{
    if (must_fail() || (size != 0 && count > SIZE_MAX / size)) {
        return told(NULL);
    }
    const size_t bytes = count * size;
    void *memory = realloc(old, bytes == 0 ? 1 : bytes);
    return old == NULL ? had(memory) : told(memory);
}

void bl_free(void *memory)
{
    if (memory != NULL) {
        atomic_fetch_sub_explicit(&live, 1, memory_order_relaxed);
    }
    free(memory);
}

char *bl_strndup(const char *text, size_t length)
{
    char *copy = bl_alloc(length + 1, 1);
    if (copy != NULL && length > 0) {
        memcpy(copy, text, length);
    }
    return copy;
}

char *bl_strdup(const char *text)
{
    return text == NULL ? NULL : bl_strndup(text, strlen(text));
}
