/* SPDX-License-Identifier: MIT */
/* How the tool and its commands are used; the text comes from the tables of
   commands and options, so that the two cannot drift apart. */
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

static const struct {
    const char *command, *line;
} examples[] = {
    {"measure", "brakelag measure captures-demo/trial.ini"},
    {"characteristic", "brakelag characteristic captures-demo/trial.ini"},
    {"check", "brakelag check captures-demo/trial.ini --run P1"},
    {"compare", "brakelag compare captures-demo/trial.ini --reference "
                "reference"},
    {"reach", "brakelag reach captures-demo/trial.ini --run P1"},
    {"causes", "brakelag causes captures-demo/trial.ini"},
    {"history", "brakelag history unit BT-0417"},
    {"predict", "brakelag predict captures-demo/trial.ini"},
    {"report", "brakelag report captures-demo/trial.ini -o report.html"},
    {"survey", "brakelag survey captures-demo/P1.pcapng.gz "
               "captures-demo/P1.csv.gz --write-trial -o draft.ini"},
    {"tables", "brakelag tables show iso11992-2"},
    {"explain", "brakelag explain 0C02C820#F0FFFF4038FFFFFF"},
    {"simulate", "brakelag simulate captures-demo/scenario.ini --directory ."},
    {"help", "brakelag help measure"},
};

const char *cli_example(const char *command)
{
    for (size_t i = 0; i < sizeof(examples) / sizeof(examples[0]); i++) {
        if (strcmp(examples[i].command, command) == 0) {
            return examples[i].line;
        }
    }
    return NULL;
}

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

/* A line of the shell; a long one goes on behind a backslash. */
static void write_example(FILE *file, const char *line)
{
    size_t column = 0;
    while (*line != '\0') {
        const size_t word = strcspn(line, " ");
        if (column == 0) {
            fputs("  ", file);
            column = 2;
        } else if (column + 1 + word + 2 > HELP_WIDTH) {
            fputs(" \\\n      ", file);
            column = 6;
        } else {
            fputc(' ', file);
            column++;
        }
        fwrite(line, 1, word, file);
        column += word;
        line += word;
        line += strspn(line, " ");
    }
    fputc('\n', file);
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
        const bool demo = strstr(example, "captures-demo") != NULL;
        fprintf(file, "\nExample%s:\n",
                demo ? " (captures-demo is installed in share/doc/brakelag)"
                     : "");
        write_example(file, example);
    }
}

static void write_tool(FILE *file, const struct command *commands)
{
    fputs("usage: brakelag COMMAND [OPTION]... [WORD]...\n\n", file);
    wrap(file, cli_about, 0, 0);
    fputs("\nCommands:\n", file);
    for (const struct command *c = commands; c->name != NULL; c++) {
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

void cli_write_help(FILE *file, const struct command *commands,
                    const struct command *command)
{
    if (command == NULL) {
        write_tool(file, commands);
    } else {
        write_command(file, command);
    }
}
