/* SPDX-License-Identifier: MIT */
/*
 * The library looks for mapping tables where they were installed. A program
 * that was only built, or is carried on a stick, has them in a folder beside
 * itself. The environment, where it says anything, comes first.
 */
#include "cli.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PROGRAM_MAX = 4096 };

void cli_tables_beside(const char *program)
{
    static const char folder[] = "/decoders";
    char path[PROGRAM_MAX + sizeof(folder)];
    struct stat facts;
    if (getenv("BRAKELAG_TABLES") != NULL) {
        return;
    }
    /* Linux knows where a program lies however it was called; elsewhere the
       word that called it, where it is a path. */
    const ssize_t length = readlink("/proc/self/exe", path, PROGRAM_MAX);
    if (length > 0 && length < PROGRAM_MAX) {
        path[length] = '\0';
    } else if (strlen(program) < PROGRAM_MAX) {
        memcpy(path, program, strlen(program) + 1);
    } else {
        return;
    }
    char *slash = strrchr(path, '/');
    if (slash == NULL) {
        return;
    }
    memcpy(slash, folder, sizeof(folder));
    if (stat(path, &facts) == 0 && S_ISDIR(facts.st_mode)) {
        (void)setenv("BRAKELAG_TABLES", path, 1);
    }
}
