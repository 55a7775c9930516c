/* SPDX-License-Identifier: MIT */
/* help and version; the text comes from the tables of commands and options, so
   that the two cannot drift apart. The manual pages are in manual.c, what
   shells complete is in completion.c. */
#include "cli.h"

#include <string.h>

const struct cli_exit_meaning cli_exits[] = {
    {EXIT_DONE, "done"},
    {EXIT_VERDICT, "an [expect] or [limit] failed or could not be shown"},
    {EXIT_USAGE, "the command line, the trial file or a table is wrong"},
    {EXIT_INPUT,
     "a recording is unreadable or damaged inside; what could be read is used"},
    {EXIT_NO_DATA, "not enough data to answer"},
    {EXIT_SYSTEM, "the system failed: memory, disk, a closed pipe"},
    {0, NULL},
};
enum { HELP_WIDTH = 78 };

const char cli_about[] =
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

void cli_option_words(const struct option_spec *spec, char *text, size_t size)
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
    cli_option_words(option_spec(id), words, sizeof(words));
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
    const char *example = cli_example(command->name);
    if (example != NULL) {
        fprintf(file, "\nExample:\n  %s\n", example);
    }
}

static void write_tool(FILE *file)
{
    fputs("usage: brakelag COMMAND [OPTION]... [WORD]...\n\n", file);
    wrap(file, cli_about, 0, 0);
    fputs("\nCommands:\n", file);
    for (const struct command *c = cli_commands; c->name != NULL; c++) {
        fprintf(file, "  %-16s", c->name);
        wrap(file, c->summary, 18, 18);
    }
    fputs("\n`brakelag COMMAND --help` tells more. A file named - is standard "
          "input.\n\nExit codes:\n",
          file);
    for (const struct cli_exit_meaning *e = cli_exits; e->meaning; e++) {
        fprintf(file, "  %d  ", e->code);
        wrap(file, e->meaning, 5, 5);
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

int cmd_help(const struct arguments *arguments)
{
    const struct command *command = NULL;
    if (arguments->words > 0) {
        command = cli_command(arguments->word[0]);
        if (command == NULL) {
            return cli_unknown_command(arguments->word[0]);
        }
    }
    const char *shell = option_text(arguments, OPTION_COMPLETION, "");
    if (strcmp(shell, "bash") == 0) {
        cli_write_bash(stdout);
    } else if (strcmp(shell, "zsh") == 0) {
        cli_write_zsh(stdout);
    } else if (has_option(arguments, OPTION_MANUAL)) {
        cli_write_manual(stdout, command);
    } else {
        cli_write_help(stdout, command);
    }
    return EXIT_DONE;
}

int cmd_version(const struct arguments *arguments)
{
    (void)arguments;
    printf("brakelag %s\n", bl_version());
    return EXIT_DONE;
}
