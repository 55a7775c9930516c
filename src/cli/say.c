/* SPDX-License-Identifier: MIT */
/* Messages to standard error, and the exit codes that go with them. */
#include "cli.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

int cli_worse(int a, int b)
{
    static const int order[] = {EXIT_USAGE, EXIT_SYSTEM, EXIT_INPUT,
                                EXIT_NO_DATA, EXIT_VERDICT};
    for (size_t i = 0; i < sizeof(order) / sizeof(order[0]); i++) {
        if (a == order[i] || b == order[i]) {
            return order[i];
        }
    }
    return EXIT_DONE;
}

int cli_exit_code(enum bl_status status)
{
    switch (status) {
    case BL_OK:
        return EXIT_DONE;
    case BL_IO:
    case BL_TRUNCATED:
    case BL_FORMAT:
    case BL_UNSUPPORTED:
    case BL_LIMIT:
        return EXIT_INPUT;
    case BL_NODATA:
        return EXIT_NO_DATA;
    case BL_ARG:
    case BL_TRIAL:
        return EXIT_USAGE;
    case BL_NOMEM:
    case BL_SYSTEM:
        break;
    }
    return EXIT_SYSTEM;
}

enum { MESSAGE_MAX = 4096 };

static void say(const char *format, va_list list)
{
    cli_progress_end();
    /* Names from files are in it: one line, and nothing for the terminal. */
    char text[MESSAGE_MAX];
    char line[MESSAGE_MAX];
    vsnprintf(text, sizeof(text), format, list);
    fprintf(stderr, "brakelag: %s\n", bl_plain_line(text, line, sizeof(line)));
}

void cli_say(const char *format, ...)
{
    va_list list;
    va_start(list, format);
    say(format, list);
    va_end(list);
}

int cli_no_memory(void)
{
    static bool said = false; /* it rarely fails once only */
    if (!said) {
        cli_say("out of memory");
    }
    said = true;
    return EXIT_SYSTEM;
}

int cli_fail(const struct bl_error *error)
{
    if (error->status == BL_NOMEM) {
        return cli_no_memory();
    }
    char text[BL_SOURCE_MAX + BL_MESSAGE_MAX + 64];
    cli_say("%s", bl_error_line(error, text, sizeof(text)));
    return cli_exit_code(error->status);
}

int cli_misuse(const struct command *command, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    say(format, list);
    va_end(list);
    if (command == NULL) {
        fputs("`brakelag help` lists the commands\n", stderr);
    } else {
        fprintf(stderr,
                "usage: brakelag %s [OPTION]...%s%s\n"
                "`brakelag help %s` tells more\n",
                command->name, command->words[0] == '\0' ? "" : " ",
                command->words, command->name);
    }
    return EXIT_USAGE;
}

const char *const cli_column_missing = "column-missing";

void cli_say_notes(const struct arguments *arguments, const char *name,
                   const struct bl_notes *notes)
{
    const bool quiet = has_option(arguments, OPTION_QUIET);
    for (size_t i = 0; i < notes->count; i++) {
        const struct bl_note *note = &notes->item[i];
        char place[32] = "";
        if (strcmp(note->code, cli_column_missing) == 0) {
            cli_say("%s", note->text); /* a mistake in the trial file */
            continue;
        }
        if (quiet) {
            continue;
        }
        if (note->first_line > 0) {
            snprintf(place, sizeof(place), ":%lld",
                     (long long)note->first_line);
        }
        if (note->count > 1) {
            cli_say("%s%s: %s (%llu times)", name, place, note->text,
                    (unsigned long long)note->count);
        } else {
            cli_say("%s%s: %s", name, place, note->text);
        }
    }
}

/* One screen of them: who mends the first reads the rest next time, and a log
   handed over as a table has one in every row (own choice). */
enum { MISTAKES_SHOWN = 40 };

void cli_say_mistakes(const char *file, const struct bl_notes *mistakes)
{
    for (size_t i = 0; i < mistakes->count; i++) {
        if (i == MISTAKES_SHOWN) {
            cli_say("%s: %zu more mistakes", file, mistakes->count - i);
            return;
        }
        const struct bl_note *note = &mistakes->item[i];
        if (note->first_line > 0) {
            cli_say("%s:%lld: %s", file, (long long)note->first_line,
                    note->text);
        } else {
            cli_say("%s: %s", file, note->text);
        }
    }
}

int cli_flush(void)
{
    errno = 0;
    if (fflush(stdout) != 0 || ferror(stdout)) {
        cli_say("standard output: %s",
                errno == 0 ? "cannot be written" : strerror(errno));
        return EXIT_SYSTEM;
    }
    return EXIT_DONE;
}
