/* SPDX-License-Identifier: MIT */
/* help and version; the text comes from the tables of commands and options, so
   that the two cannot drift apart. */
#include "cli.h"

#include <string.h>

static const struct {
    int code;
    const char *meaning;
} exits[] = {
    {EXIT_DONE, "done"},
    {EXIT_VERDICT, "an [expect] or [limit] failed or could not be shown"},
    {EXIT_USAGE, "the command line, the trial file or a table is wrong"},
    {EXIT_INPUT,
     "a recording is unreadable or damaged inside; what could be read is used"},
    {EXIT_NO_DATA, "not enough data to answer"},
    {EXIT_SYSTEM, "the system failed: memory, disk, a closed pipe"},
};
enum { EXITS = sizeof(exits) / sizeof(exits[0]), HELP_WIDTH = 78 };

static const char about[] =
    "brakelag reads recordings of a brake trial on a combination of vehicles "
    "and says which unit brakes late, by how much and why.";

/* Text broken at blanks to the width, each line indented; starts in column
   `column`. */
static void wrap(FILE *file, const char *text, size_t indent, size_t column)
{
    while (*text != '\0') {
        const size_t word = strcspn(text, " ");
        if (column > indent && column + 1 + word > HELP_WIDTH) {
            fprintf(file, "\n%*s", (int)indent, "");
            column = indent;
        } else if (column > indent) {
            fputc(' ', file);
            column++;
        }
        fwrite(text, 1, word, file);
        column += word;
        text += word;
        text += strspn(text, " ");
    }
    fputc('\n', file);
}

static void option_words(const struct option_spec *spec, char *text,
                         size_t size)
{
    char letter[8] = "    ";
    if (spec->letter != 0) {
        snprintf(letter, sizeof(letter), "-%c, ", spec->letter);
    }
    const char *value = spec->choices != NULL ? spec->choices : spec->value;
    snprintf(text, size, "%s--%s%s%s", letter, spec->name,
             value == NULL ? "" : " ", value == NULL ? "" : value);
}

static void write_option(FILE *file, enum option_id id)
{
    enum { COLUMN = 30 };
    char words[96];
    option_words(option_spec(id), words, sizeof(words));
    const size_t length = strlen(words) + 2;
    fprintf(file, "  %s", words);
    if (length + 1 >= COLUMN) {
        fprintf(file, "\n%*s", COLUMN, "");
    } else {
        fprintf(file, "%*s", (int)(COLUMN - length), "");
    }
    wrap(file, option_spec(id)->help, COLUMN, COLUMN);
}

static void write_command(FILE *file, const struct command *command)
{
    fprintf(file, "usage: brakelag %s [OPTION]...%s%s\n\n", command->name,
            command->words[0] == '\0' ? "" : " ", command->words);
    fprintf(file, "%s: %s.\n", command->name, command->summary);
    if (command->text[0] != '\0') {
        fputc('\n', file);
        wrap(file, command->text, 0, 0);
    }
    fputs("\nOptions:\n", file);
    for (const enum option_id *id = command->option; *id != OPTION_END; id++) {
        write_option(file, *id);
    }
}

static void write_tool(FILE *file)
{
    fputs("usage: brakelag COMMAND [OPTION]... [WORD]...\n\n", file);
    wrap(file, about, 0, 0);
    fputs("\nCommands:\n", file);
    for (const struct command *c = cli_commands; c->name != NULL; c++) {
        fprintf(file, "  %-16s", c->name);
        wrap(file, c->summary, 18, 18);
    }
    fputs("\n`brakelag COMMAND --help` tells more. A file named - is standard "
          "input.\n\nExit codes:\n",
          file);
    for (size_t i = 0; i < EXITS; i++) {
        fprintf(file, "  %d  ", exits[i].code);
        wrap(file, exits[i].meaning, 5, 5);
    }
}

void cli_write_help(FILE *file, const struct command *command)
{
    if (command == NULL) {
        write_tool(file);
    } else {
        write_command(file, command);
    }
}

/* roff text: no line starts with a dot, hyphens are hyphens. */
static void roff(FILE *file, const char *text)
{
    for (; *text != '\0'; text++) {
        if (*text == '-') {
            fputs("\\-", file);
        } else if (*text == '\\') {
            fputs("\\e", file);
        } else {
            fputc(*text, file);
        }
    }
}

static void manual_option(FILE *file, enum option_id id)
{
    char words[96];
    option_words(option_spec(id), words, sizeof(words));
    fputs(".TP\n.B ", file);
    roff(file, words + strspn(words, " "));
    fputc('\n', file);
    roff(file, option_spec(id)->help);
    fputs(".\n", file);
}

static void manual_commands(FILE *file)
{
    fputs(".SH COMMANDS\n", file);
    for (const struct command *c = cli_commands; c->name != NULL; c++) {
        fputs(".SS ", file);
        roff(file, c->name);
        fputc(' ', file);
        roff(file, c->words);
        fputc('\n', file);
        roff(file, c->summary);
        fputs(".\n", file);
        roff(file, c->text);
        fputs("\n.PP\nOptions:", file);
        for (const enum option_id *id = c->option; *id != OPTION_END; id++) {
            fputs(id == c->option ? " " : ", ", file);
            roff(file, "--");
            roff(file, option_spec(*id)->name);
        }
        fputs(".\n", file);
    }
}

void cli_write_manual(FILE *file)
{
    fprintf(file, ".TH BRAKELAG 1 \"\" \"brakelag %s\"\n", bl_version());
    fputs(".SH NAME\nbrakelag \\- which unit brakes late, by how much and why\n"
          ".SH SYNOPSIS\n.B brakelag\n.I COMMAND\n[OPTION]... [WORD]...\n"
          ".SH DESCRIPTION\n",
          file);
    roff(file, about);
    fputs("\nResults go to standard output, messages to standard error. A file "
          "named \\- is standard input.\n",
          file);
    manual_commands(file);
    fputs(".SH OPTIONS\n", file);
    for (size_t i = 0; i < OPTIONS; i++) {
        manual_option(file, (enum option_id)i);
    }
    fputs(".SH EXIT STATUS\nThe most serious one of a run counts, in the order "
          "2, 5, 3, 4, 1.\n",
          file);
    for (size_t i = 0; i < EXITS; i++) {
        fprintf(file, ".TP\n.B %d\n", exits[i].code);
        roff(file, exits[i].meaning);
        fputs(".\n", file);
    }
    fputs(".SH ENVIRONMENT\n.TP\n.B BRAKELAG_TABLES\nFolder of the shipped "
          "mapping tables, where it is not the installed one.\n"
          ".SH CAUTIONS\nFigures are indicative, not a certification.\n",
          file);
}

int cmd_help(const struct arguments *arguments)
{
    if (has_option(arguments, OPTION_MANUAL)) {
        cli_write_manual(stdout);
        return EXIT_DONE;
    }
    const struct command *command = NULL;
    if (arguments->words > 0) {
        command = cli_command(arguments->word[0]);
        if (command == NULL) {
            return cli_misuse(NULL, "no command '%s'", arguments->word[0]);
        }
    }
    cli_write_help(stdout, command);
    return EXIT_DONE;
}

int cmd_version(const struct arguments *arguments)
{
    (void)arguments;
    printf("brakelag %s\n", bl_version());
    return EXIT_DONE;
}
