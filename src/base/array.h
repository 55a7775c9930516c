/* SPDX-License-Identifier: MIT */
/*
 * Bounded growable arrays over plain struct members:
 *
 *     struct thing *item; size_t count; size_t capacity;
 *     if (!bl_grow((void **)&x->item, &x->capacity, x->count + 1,
 *                  sizeof(*x->item), BL_LIMIT_THINGS)) { ... }
 */
#ifndef BRAKELAG_SRC_BASE_ARRAY_H
#define BRAKELAG_SRC_BASE_ARRAY_H

#include <stdbool.h>
#include <stddef.h>

/* Make room for `wanted` items, at most `limit`. Grows by half, at least to
   8. False: over the limit, or out of memory; nothing has changed then. New
   items are not zeroed. `items` is the address of the array's pointer. */
bool bl_grow(void *items, size_t *capacity, size_t wanted, size_t item_size,
             size_t limit);

#endif
