/* SPDX-License-Identifier: MIT */
/* Mistakes in a scenario: the first one is the status, all of them are kept. */
#include "simulate/read.h"

#include <stdarg.h>
#include <stdio.h>

void bl_sim_mistake(struct sim_reading *r, int line, const char *format, ...)
{
    char text[BL_NOTE_TEXT_MAX];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof(text), format, arguments);
    va_end(arguments);
    if (r->status == BL_OK) {
        r->status = bl_fail_line(r->error, BL_TRIAL, r->scenario->source,
                                 line > 0 ? line : -1, "%s", text);
    }
    if (r->mistakes != NULL &&
        bl_note_each(r->mistakes, "scenario", line, "%s", text) != BL_OK) {
        bl_sim_no_memory(r);
    }
}

void bl_sim_no_memory(struct sim_reading *r)
{
    r->status = bl_fail_memory(r->error);
}

int bl_sim_line_of(const struct sim_reading *r, const char *key)
{
    return r->given[bl_sim_key_find(SIM_SCENARIO, key) - bl_sim_key_at(0)];
}
