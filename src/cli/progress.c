/* SPDX-License-Identifier: MIT */
/* One line on standard error that says how far long work is; only where a
   person looks at it. */
#include "cli.h"

#include <unistd.h>

static bool shown(const struct arguments *arguments)
{
    return !has_option(arguments, OPTION_QUIET) && isatty(STDERR_FILENO) != 0;
}

void cli_progress(const struct arguments *arguments, size_t done, size_t all,
                  const char *what)
{
    if (shown(arguments)) {
        /* Back to the start of the line, and clear it. */
        fprintf(stderr, "\r\033[K%zu of %zu: %.60s", done + 1, all, what);
        fflush(stderr);
    }
}

void cli_progress_end(const struct arguments *arguments)
{
    if (shown(arguments)) {
        fputs("\r\033[K", stderr);
    }
}
