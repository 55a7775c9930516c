/* SPDX-License-Identifier: MIT */
/*
 * What bash and zsh need to complete command lines, from the tables that also
 * drive parsing and --help. A value called FILE or FOLDER completes as such,
 * choices as words, names of runs and conditions from the trial files on the
 * line, anything else (figures, times) not at all.
 */
#include "cli.h"

#include <ctype.h>
#include <string.h>

/* What a value is, by the word that the help has for it. */
enum value_kind {
    VALUE_NONE,
    VALUE_CHOICE,
    VALUE_FILE,
    VALUE_FOLDER,
    VALUE_RUN,
    VALUE_CONDITION,
    VALUE_FREE
};

/* What sed prints of a trial file for them. */
static const char *const named_in_trial[VALUE_FREE + 1] = {
    [VALUE_RUN] = "s/^\\[run  *\\([^]]*\\)\\].*/\\1/p",
    [VALUE_CONDITION] = "s/^condition *= *\\([^;]*[^; ]\\).*/\\1/p",
};

static const struct {
    const char *word;
    enum value_kind kind;
} value_words[] = {
    {"FILE", VALUE_FILE},
    {"FOLDER", VALUE_FOLDER},
    {"NAME", VALUE_RUN},
    {"CONDITION", VALUE_CONDITION},
};

static enum value_kind value_kind(const struct option_spec *spec)
{
    if (spec->choices != NULL) {
        return VALUE_CHOICE;
    }
    if (spec->value == NULL) {
        return VALUE_NONE;
    }
    for (size_t i = 0; i < sizeof(value_words) / sizeof(value_words[0]); i++) {
        if (strcmp(spec->value, value_words[i].word) == 0) {
            return value_words[i].kind;
        }
    }
    return VALUE_FREE;
}

/* "a|b|c" as "a b c". */
static void write_choices(FILE *file, const char *choices)
{
    for (; *choices != '\0'; choices++) {
        fputc(*choices == '|' ? ' ' : *choices, file);
    }
}

/* The words in small letters among "[check FILE... | show TABLE]": what is
   typed as it stands. All commands where a COMMAND is wanted. */
static void write_verbs(FILE *file, const struct command *commands,
                        const struct command *command)
{
    const char *at = command->words;
    while (*at != '\0') {
        const size_t length = strspn(at, "abcdefghijklmnopqrstuvwxyz");
        const size_t other = strcspn(at + length, " []|.#");
        if (length > 0 && other == 0) {
            fprintf(file, " %.*s", (int)length, at);
        }
        at += length + other;
        at += strspn(at, " [].|#");
    }
    if (strstr(command->words, "COMMAND") != NULL) {
        for (const struct command *c = commands; c->name != NULL; c++) {
            fprintf(file, " %s", c->name);
        }
    }
}

static void bash_values(FILE *file)
{
    fputs("    case $before in\n", file);
    for (size_t i = 0; i < OPTIONS; i++) {
        const struct option_spec *spec = option_spec((enum option_id)i);
        const enum value_kind kind = value_kind(spec);
        if (kind == VALUE_NONE) {
            continue;
        }
        fprintf(file, "    --%s", spec->name);
        if (spec->letter != 0) {
            fprintf(file, "|-%c", spec->letter);
        }
        fputs(")\n", file);
        if (kind == VALUE_CHOICE) {
            fputs("        COMPREPLY=($(compgen -W \"", file);
            write_choices(file, spec->choices);
            fputs("\" -- \"$current\"))\n", file);
        } else if (kind == VALUE_FOLDER) {
            fputs("        COMPREPLY=($(compgen -d -- \"$current\"))\n", file);
        } else if (named_in_trial[kind] != NULL) {
            fprintf(file, "        _brakelag_named '%s'\n",
                    named_in_trial[kind]);
        }
        if (kind >= VALUE_RUN) {
            fputs("        compopt +o default 2>/dev/null\n", file);
        }
        fputs("        return\n        ;;\n", file);
    }
    fputs("    esac\n", file);
}

static void bash_commands(FILE *file, const struct command *commands)
{
    fputs("    local options= words=\n    case ${COMP_WORDS[1]} in\n", file);
    for (const struct command *c = commands; c->name != NULL; c++) {
        fprintf(file, "    %s)\n        options=\"", c->name);
        for (const enum option_id *id = c->option; *id != OPTION_END; id++) {
            fprintf(file, "%s--%s", id == c->option ? "" : " ",
                    option_spec(*id)->name);
        }
        fputs("\"\n        words=\"", file);
        write_verbs(file, commands, c);
        fputs("\"\n", file);
        if (strstr(c->words, "show TABLE") != NULL) {
            fputs(
                "        [[ $before != show ]] ||\n"
                "            words=$(\"${COMP_WORDS[0]}\" tables 2>/dev/null |"
                " sed '1d;s/ .*//')\n",
                file);
        }
        fputs("        ;;\n", file);
    }
    fputs("    esac\n", file);
}

void cli_write_bash(FILE *file, const struct command *commands)
{
    fputs("# bash completion for brakelag; written by\n"
          "# `brakelag help --completion bash`.\n"
          "# Names are data: they are compared and quoted, never expanded.\n"
          "_brakelag_named()\n{\n"
          "    local word name\n"
          "    while IFS= read -r name; do\n"
          "        [[ $name != \"$current\"* ]] ||\n"
          "            COMPREPLY+=(\"$(printf %q \"$name\")\")\n"
          "    done < <(for word in \"${COMP_WORDS[@]:2}\"; do\n"
          "        [[ $word != *.ini || ! -f $word ]] ||\n"
          "            sed -n \"$1\" -- \"$word\"\n"
          "    done 2>/dev/null | sort -u)\n"
          "}\n"
          "_brakelag()\n{\n"
          "    local current=${COMP_WORDS[COMP_CWORD]}\n"
          "    local before=${COMP_WORDS[COMP_CWORD - 1]}\n"
          "    COMPREPLY=()\n"
          "    if ((COMP_CWORD == 1)); then\n"
          "        COMPREPLY=($(compgen -W \"",
          file);
    for (const struct command *c = commands; c->name != NULL; c++) {
        fprintf(file, "%s%s", c == commands ? "" : " ", c->name);
    }
    fputs("\" -- \"$current\"))\n"
          "        return\n"
          "    fi\n"
          "    # bash parts --name=value at the sign.\n"
          "    if [[ $current == = ]]; then\n"
          "        current=\n"
          "    elif [[ $before == = ]]; then\n"
          "        before=${COMP_WORDS[COMP_CWORD - 2]}\n"
          "    fi\n",
          file);
    bash_values(file);
    bash_commands(file, commands);
    fputs("    if [[ $current == -* ]]; then\n"
          "        COMPREPLY=($(compgen -W \"$options\" -- \"$current\"))\n"
          "    elif [[ -n $words ]]; then\n"
          "        COMPREPLY=($(compgen -W \"$words\" -- \"$current\"))\n"
          "    fi\n"
          "}\n"
          "complete -o default -F _brakelag brakelag\n",
          file);
}

/* Text inside single quotes; brackets would end a description of zsh. */
static void zsh_text(FILE *file, const char *text)
{
    for (; *text != '\0'; text++) {
        if (*text == '\'') {
            fputs("'\\''", file);
        } else if (strchr("[]:\\", *text) != NULL) {
            fprintf(file, "\\%c", *text);
        } else {
            fputc(*text, file);
        }
    }
}

static void zsh_option(FILE *file, enum option_id id)
{
    const struct option_spec *spec = option_spec(id);
    const enum value_kind kind = value_kind(spec);
    const char *sign = kind == VALUE_NONE ? "" : "=";
    fputs("            ", file);
    if (spec->letter != 0) {
        fprintf(file, "'(-%c --%s)'{-%c,--%s%s}'[", spec->letter, spec->name,
                spec->letter, spec->name, sign);
    } else {
        fprintf(file, "'*--%s%s[", spec->name, sign);
    }
    zsh_text(file, spec->help);
    fputc(']', file);
    if (kind != VALUE_NONE) {
        fprintf(file, ":%s:", spec->value);
    }
    if (kind == VALUE_CHOICE) {
        fputc('(', file);
        write_choices(file, spec->choices);
        fputc(')', file);
    } else if (kind == VALUE_FILE) {
        fputs("_files", file);
    } else if (kind == VALUE_FOLDER) {
        fputs("_files -/", file);
    } else if (kind == VALUE_RUN || kind == VALUE_CONDITION) {
        fprintf(file, "_brakelag_%ss", kind == VALUE_RUN ? "run" : "condition");
    } else if (kind == VALUE_FREE) {
        fputc(' ', file);
    }
    fputs("' \\\n", file);
}

static void zsh_command(FILE *file, const struct command *commands,
                        const struct command *command)
{
    fprintf(file, "    %s)\n        _arguments -S \\\n", command->name);
    for (const enum option_id *id = command->option; *id != OPTION_END; id++) {
        zsh_option(file, *id);
    }
    fputs("            '*:", file);
    zsh_text(file, command->words);
    fputs(":_brakelag_words", file);
    write_verbs(file, commands, command);
    fputs("'\n        ;;\n", file);
}

void cli_write_zsh(FILE *file, const struct command *commands)
{
    fputs("#compdef brakelag\n"
          "# Written by `brakelag help --completion zsh`.\n"
          "_brakelag_words()\n{\n"
          "    if [[ $words[CURRENT-1] == show ]]; then\n"
          "        compadd -- $(brakelag tables 2>/dev/null |"
          " sed '1d;s/ .*//')\n"
          "        return\n"
          "    fi\n"
          "    if (( $# > 0 )); then\n"
          "        compadd -- \"$@\"\n"
          "    fi\n"
          "    _files\n"
          "}\n"
          "_brakelag_named()\n{\n"
          "    local word\n"
          "    local -a found\n"
          "    for word in $words; do\n"
          "        [[ $word != *.ini || ! -f $word ]] ||\n"
          "            found+=(\"${(@f)$(sed -n \"$1\" -- $word)}\")\n"
          "    done\n"
          "    compadd -a found\n"
          "}\n",
          file);
    for (int kind = VALUE_RUN; kind <= VALUE_CONDITION; kind++) {
        fprintf(file, "_brakelag_%ss()\n{\n    _brakelag_named '%s'\n}\n",
                kind == VALUE_RUN ? "run" : "condition", named_in_trial[kind]);
    }
    fputs("_brakelag()\n{\n"
          "    local -a commands\n"
          "    commands=(\n",
          file);
    for (const struct command *c = commands; c->name != NULL; c++) {
        fprintf(file, "        '%s:", c->name);
        zsh_text(file, c->summary);
        fputs("'\n", file);
    }
    fputs("    )\n"
          "    if (( CURRENT == 2 )); then\n"
          "        _describe -t commands command commands\n"
          "        return\n"
          "    fi\n"
          "    shift words\n"
          "    (( CURRENT-- ))\n"
          "    case $words[1] in\n",
          file);
    for (const struct command *c = commands; c->name != NULL; c++) {
        zsh_command(file, commands, c);
    }
    fputs("    esac\n}\n_brakelag \"$@\"\n", file);
}
