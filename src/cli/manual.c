/* SPDX-License-Identifier: MIT */
/* Manual pages (roff, man macros), of the tool and of every command, from the
   tables that also drive parsing and --help. */
#include "cli.h"

#include <ctype.h>
#include <string.h>

/* roff text: hyphens are hyphens, and no line is taken for a request. */
static void roff(FILE *file, const char *text)
{
    if (*text == '.' || *text == '\'') {
        fputs("\\&", file);
    }
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

/* A sentence of the tables, which stand without their full stop. */
static void sentence(FILE *file, const char *text)
{
    roff(file, text);
    fputs(".\n", file);
}

static void write_title(FILE *file, const char *command)
{
    fputs(".TH BRAKELAG", file);
    if (command != NULL) {
        fputs("\\-", file);
        for (const char *at = command; *at != '\0'; at++) {
            fputc(toupper((unsigned char)*at), file);
        }
    }
    fprintf(file, " 1 \"\" \"brakelag %s\"\n.SH NAME\nbrakelag", bl_version());
    if (command != NULL) {
        fprintf(file, "\\-%s", command);
    }
    fputs(" \\- ", file);
}

static void write_option(FILE *file, enum option_id id)
{
    char words[96];
    cli_option_words(option_spec(id), words, sizeof(words));
    fputs(".TP\n.B ", file);
    roff(file, words + strspn(words, " "));
    fputc('\n', file);
    sentence(file, option_spec(id)->help);
}

static void write_exits(FILE *file)
{
    fputs(".SH EXIT STATUS\nWhere several apply, the first of 2, 5, 3, 4, 1 "
          "counts.\n",
          file);
    for (const struct cli_exit_meaning *e = cli_exits; e->meaning; e++) {
        fprintf(file, ".TP\n.B %d\n", e->code);
        sentence(file, e->meaning);
    }
}

/* Every page but `own`, the tool's own being NULL. */
static void write_see_also(FILE *file, const struct command *commands,
                           const char *own)
{
    fputs(".SH SEE ALSO\n", file);
    if (own != NULL) {
        fputs(".BR brakelag (1)", file);
    }
    bool first = own == NULL;
    for (const struct command *c = commands; c->name != NULL; c++) {
        if (own == NULL || strcmp(c->name, own) != 0) {
            fprintf(file, "%s.BR brakelag\\-%s (1)", first ? "" : ",\n",
                    c->name);
            first = false;
        }
    }
    fputs("\n.PP\nThe guide, the reference of the trial file and the methods "
          "are installed in share/doc/brakelag/docs, a trial to try things on "
          "in share/doc/brakelag/captures-demo.\n",
          file);
}

static void write_rest(FILE *file)
{
    fputs(".SH ENVIRONMENT\n.TP\n.B BRAKELAG_TABLES\nFolder of the shipped "
          "mapping tables, where it is not the installed one. Not set: a "
          "folder decoders beside the program, if there is one.\n.TP\n.B "
          "COLUMNS\nWidth to use for a terminal that does not report its own. "
          "Text has lines of 80 columns, longer ones only on a wider "
          "terminal.\n.SH CAUTIONS\nStanding tests: level ground, every unit "
          "chocked, nobody under, between or touching wheels. Air stores "
          "energy: drain reservoirs before a tee is fitted or removed. Figures "
          "are indicative, not a certification; local codes, the maker's "
          "instructions and licensed practice come first.\n",
          file);
}

static void write_tool(FILE *file, const struct command *commands)
{
    write_title(file, NULL);
    fputs("which unit brakes late, by how much and why\n"
          ".SH SYNOPSIS\n.B brakelag\n.I COMMAND\n[OPTION]... [WORD]...\n"
          ".SH DESCRIPTION\n",
          file);
    roff(file, cli_about);
    fputs("\nResults go to standard output, messages to standard error. A file "
          "named \\- is standard input. Each command has a page of its own.\n"
          ".SH COMMANDS\n",
          file);
    for (const struct command *c = commands; c->name != NULL; c++) {
        fputs(".TP\n.B ", file);
        roff(file, c->name);
        fputc(' ', file);
        roff(file, c->words);
        fputc('\n', file);
        sentence(file, c->summary);
    }
    fputs(".SH OPTIONS\nNo command takes all of them; its own page says "
          "which.\n",
          file);
    for (size_t i = 0; i < OPTIONS; i++) {
        write_option(file, (enum option_id)i);
    }
    write_exits(file);
    write_rest(file);
    write_see_also(file, commands, NULL);
}

static void write_command(FILE *file, const struct command *commands,
                          const struct command *command)
{
    write_title(file, command->name);
    roff(file, command->summary);
    fprintf(file, "\n.SH SYNOPSIS\n.B brakelag %s\n[OPTION]...\n",
            command->name);
    roff(file, command->words);
    fputs(command->words[0] == '\0' ? "" : "\n", file);
    if (command->text[0] != '\0') {
        fputs(".SH DESCRIPTION\n", file);
        roff(file, command->text);
        fputc('\n', file);
    }
    fputs(".SH OPTIONS\n", file);
    for (const enum option_id *id = command->option; *id != OPTION_END; id++) {
        write_option(file, *id);
    }
    const char *example = cli_example(command->name);
    if (example != NULL) {
        fputs(".SH EXAMPLE\n.nf\n", file);
        roff(file, example);
        fputs("\n.fi\n", file);
    }
    write_exits(file);
    write_rest(file);
    write_see_also(file, commands, command->name);
}

void cli_write_manual(FILE *file, const struct command *commands,
                      const struct command *command)
{
    if (command == NULL) {
        write_tool(file, commands);
    } else {
        write_command(file, commands, command);
    }
}
