/* SPDX-License-Identifier: MIT */
/* Mistakes of a mapping table, each with its line. */
#include "decoder/tables.h"

#include <stdarg.h>
#include <stdio.h>

void bl_loader_mistake(struct bl_loader *loader, int64_t line,
                       const char *format, ...)
{
    char text[BL_MESSAGE_MAX];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof(text), format, arguments);
    va_end(arguments);
    if (loader->status == BL_OK) {
        loader->status = bl_fail_line(loader->error, BL_TRIAL, loader->source,
                                      line, "%s", text);
    }
    if (loader->mistakes != NULL &&
        bl_note_each(loader->mistakes, "table-mistake", line, "%s", text) !=
            BL_OK) {
        bl_loader_memory(loader);
    }
}

void bl_loader_memory(struct bl_loader *loader)
{
    loader->status = bl_fail_memory(loader->error);
}
