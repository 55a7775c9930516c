/* SPDX-License-Identifier: MIT */
/* How long a line of text may be: 80 columns, or those of a wider terminal.
   What goes to a file or a pipe must not change with the window it was made
   in. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { USUAL = 80, MOST = 1000 }; /* own choice: a wider one is a mistake */

/* What the terminal says of itself; 0: nothing. */
static size_t of_terminal(void)
{
#ifdef TIOCGWINSZ
    struct winsize size;
    memset(&size, 0, sizeof(size));
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0) {
        return size.ws_col;
    }
#endif
    return 0;
}

/* What a shell says of it. */
static size_t of_environment(void)
{
    const char *text = getenv("COLUMNS");
    size_t columns = 0;
    for (; text != NULL && *text >= '0' && *text <= '9' && columns < MOST;
         text++) {
        columns = 10 * columns + (size_t)(*text - '0');
    }
    return text != NULL && *text == '\0' ? columns : 0;
}

size_t cli_columns(const struct arguments *arguments)
{
    if (strcmp(option_text(arguments, OPTION_OUTPUT, "-"), "-") != 0 ||
        isatty(STDOUT_FILENO) == 0) {
        return USUAL;
    }
    size_t columns = of_terminal();
    columns = columns == 0 ? of_environment() : columns;
    return columns < USUAL ? USUAL : columns > MOST ? MOST : columns;
}
