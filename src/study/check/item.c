/* SPDX-License-Identifier: MIT */
/* One more item of what is ready and what is not. */
#include "study/check/check.h"

#include "base/array.h"
#include "base/limits.h"

#include <stdarg.h>
#include <stdio.h>

void bl_check_add(struct bl_checking *c, const char *code,
                  enum bl_check_state state, const char *next,
                  const char *format, ...)
{
    struct bl_check *into = c->into;
    if (!bl_grow(&into->item, &into->capacity, into->items + 1,
                 sizeof(*into->item), BL_LIMIT_APPLICATIONS)) {
        c->failed = true;
        return;
    }
    struct bl_check_item *item = &into->item[into->items++];
    *item = (struct bl_check_item){.code = code, .state = state, .next = next};
    va_list list;
    va_start(list, format);
    vsnprintf(item->text, sizeof(item->text), format, list);
    va_end(list);
}
