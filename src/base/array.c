/* SPDX-License-Identifier: MIT */
#include "base/array.h"

#include "base/alloc.h"

#include <string.h>

bool bl_grow(void *items, size_t *capacity, size_t wanted, size_t item_size,
             size_t limit)
{
    if (wanted <= *capacity) {
        return true;
    }
    if (wanted > limit) {
        return false;
    }
    size_t next = *capacity + *capacity / 2;
    if (next < 8) {
        next = 8;
    }
    if (next < wanted) {
        next = wanted;
    }
    if (next > limit) {
        next = limit;
    }
    /* The caller's pointer may have any type: it is copied as bytes, since
       reading it through void ** would break the aliasing rules. */
    void *old;
    memcpy(&old, items, sizeof(old));
    void *grown = bl_realloc(old, next, item_size);
    if (grown == NULL) {
        return false;
    }
    memcpy(items, &grown, sizeof(grown));
    *capacity = next;
    return true;
}
