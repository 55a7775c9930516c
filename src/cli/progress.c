/* SPDX-License-Identifier: MIT */
/* One line on standard error that says how far long work is; only where a
   person looks at it. Messages take its place and stay. */
#include "cli.h"

#include <unistd.h>

static bool on_line; /* something of it is to be seen */

void cli_progress(const struct arguments *arguments, size_t done, size_t all,
                  const char *what)
{
    char plain[256];
    if (has_option(arguments, OPTION_QUIET) || isatty(STDERR_FILENO) == 0) {
        return;
    }
    /* Back to the start of the line, and clear it. */
    fprintf(stderr, "\r\033[K%zu of %zu: %.60s", done + 1, all,
            bl_plain_line(what, plain, sizeof(plain)));
    fflush(stderr);
    on_line = true;
}

void cli_progress_end(void)
{
    if (on_line) {
        fputs("\r\033[K", stderr);
        on_line = false;
    }
}
