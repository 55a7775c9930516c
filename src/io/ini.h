/* SPDX-License-Identifier: MIT */
/*
 * INI files, read in one way: trial files and scenarios. A line that starts
 * with ';' or '#' is a comment, and so is what follows a blank and ';' on any
 * line. Lines may be indented; without its comment a line has at most 197
 * bytes, a heading 49.
 */
#ifndef BRAKELAG_SRC_IO_INI_H
#define BRAKELAG_SRC_IO_INI_H

#include "brakelag/io.h"

/* What the reader meets, in the order of the file. A false result stops it. */
struct bl_ini_events {
    bool (*section)(void *user, const char *heading, int line);
    /* A key that the section has not had yet, with a value that is not "". */
    bool (*entry)(void *user, const char *key, const char *value, int line);
    /* One line that is left out, in words. `code` is line-form, not-text,
       limit, repeated-key, wrong-value, or binary: the whole file is left out.
       Entries behind a heading that is left out go with it, in silence. */
    bool (*mistake)(void *user, const char *code, int line, const char *text);
    const char *what;    /* "trial file", for messages */
    const char *first;   /* "[trial]", the section to begin with */
    const char *example; /* "[unit 0]" */
};

/*
 * To the end of the source, which stays open. A file of other bytes than text
 * is one mistake. Errors: those of the source, NOMEM. A mistake is no error.
 */
enum bl_status bl_ini_read(struct bl_bytes *source,
                           const struct bl_ini_events *events, void *user,
                           struct bl_error *error);

#endif
