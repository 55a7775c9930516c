/* SPDX-License-Identifier: MIT */
/* Reads a command line by the tables of commands and options. Every failure
   names the word that was found and what was expected instead. */
#include "cli.h"

#include "brakelag/words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

const struct command *cli_command(const struct command *commands,
                                  const char *name)
{
    for (const struct command *c = commands; c->name != NULL; c++) {
        if (strcmp(c->name, name) == 0) {
            return c;
        }
    }
    return NULL;
}

int cli_unknown_command(const struct command *commands, const char *name)
{
    struct bl_nearest nearest = {.wanted = name};
    for (const struct command *c = commands; c->name != NULL; c++) {
        bl_nearest_offer(&nearest, c->name);
    }
    const char *near = bl_nearest_word(&nearest);
    if (near != NULL) {
        return cli_misuse(NULL, "no command '%s'; did you mean '%s'?", name,
                          near);
    }
    if (access(name, F_OK) == 0) {
        return cli_misuse(NULL,
                          "no command '%s'; a command comes before a file, as "
                          "in `brakelag measure %s` for a trial file or "
                          "`brakelag survey %s` for a recording",
                          name, name, name);
    }
    return cli_misuse(NULL, "no command '%s'", name);
}

/* Append `value`; the arrays are small, so growth by one is fine. */
static bool append(const char ***items, size_t *count, const char *value)
{
    const char **more = realloc(*items, (*count + 1) * sizeof(**items));
    if (more == NULL) {
        return false;
    }
    more[(*count)++] = value;
    *items = more;
    return true;
}

/* Is `value` one of the words of "a|b|c"? */
static bool is_choice(const char *choices, const char *value)
{
    const size_t length = strlen(value);
    for (const char *at = choices; at != NULL;) {
        const char *end = strchr(at, '|');
        const size_t size = end == NULL ? strlen(at) : (size_t)(end - at);
        if (size == length && strncmp(at, value, size) == 0) {
            return true;
        }
        at = end == NULL ? NULL : end + 1;
    }
    return false;
}

static int unknown_option(const struct command *command, const char *word)
{
    char plain[64];
    snprintf(plain, sizeof(plain), "%.*s", (int)strcspn(word, "="), word);
    struct bl_nearest nearest = {.wanted = plain + strspn(plain, "-")};
    for (const enum option_id *id = command->option; *id != OPTION_END; id++) {
        bl_nearest_offer(&nearest, option_spec(*id)->name);
    }
    const char *near = bl_nearest_word(&nearest);
    if (near != NULL && strncmp(word, "--", 2) == 0) {
        return cli_misuse(command, "no option '%s'; did you mean '--%s'?",
                          plain, near);
    }
    return cli_misuse(command, "no option '%s'", plain);
}

/* The option that `word` names; OPTION_END: none. *value is what follows '='
   or the letter, NULL when nothing does. */
static enum option_id find(const struct command *command, const char *word,
                           const char **value)
{
    *value = NULL;
    for (const enum option_id *id = command->option; *id != OPTION_END; id++) {
        const struct option_spec *spec = option_spec(*id);
        if (word[1] != '-') {
            if (spec->letter != 0 && word[1] == spec->letter) {
                *value = word[2] == '\0' ? NULL : word + 2;
                return *id;
            }
            continue;
        }
        const size_t length = strlen(spec->name);
        if (strncmp(word + 2, spec->name, length) == 0 &&
            (word[2 + length] == '\0' || word[2 + length] == '=')) {
            *value = word[2 + length] == '=' ? word + 3 + length : NULL;
            return *id;
        }
    }
    return OPTION_END;
}

/* One option at argv[*at]; moves *at over its value. */
static int take_option(struct arguments *arguments,
                       const struct command *command, int argc, char **argv,
                       int *at)
{
    const char *word = argv[*at];
    const char *value;
    const enum option_id id = find(command, word, &value);
    if (id == OPTION_END) {
        return unknown_option(command, word);
    }
    const struct option_spec *spec = option_spec(id);
    if (spec->value == NULL && value != NULL) {
        return cli_misuse(command, "--%s takes no value, found '%s'",
                          spec->name, value);
    }
    if (spec->value != NULL && value == NULL) {
        if (*at + 1 >= argc) {
            return cli_misuse(command, "--%s needs a value: %s", spec->name,
                              spec->value);
        }
        value = argv[++*at];
    }
    if (spec->choices != NULL && !is_choice(spec->choices, value)) {
        return cli_misuse(command, "--%s: expected %s, found '%s'", spec->name,
                          spec->choices, value);
    }
    struct option_values *values = &arguments->option[id];
    return append(&values->item, &values->count, value == NULL ? "" : value)
               ? EXIT_DONE
               : cli_no_memory();
}

/* Is help asked for anywhere before "--"? Whoever asks does not know yet how
   the rest of the line is written. */
static bool asks_help(const struct command *command, int argc, char **argv)
{
    for (int i = 0; i < argc && strcmp(argv[i], "--") != 0; i++) {
        if (argv[i][0] != '-' || argv[i][1] == '\0') {
            continue;
        }
        const char *value;
        const enum option_id id = find(command, argv[i], &value);
        if (id == OPTION_HELP && value == NULL) {
            return true;
        }
        if (id != OPTION_END && option_spec(id)->value != NULL &&
            value == NULL) {
            i++; /* its value */
        }
    }
    return false;
}

static const char *words_mean(const char *words)
{
    return strcmp(words, "TRIAL") == 0
               ? ": TRIAL is the file that says what was tried and how it was "
                 "wired"
           : strcmp(words, "FILE...") == 0
               ? ": FILE is a recording, a capture of a bus or a log"
           : strcmp(words, "SCENARIO") == 0
               ? ": docs/scenario-file.md explains the scenario"
               : "";
}

int arguments_read(struct arguments *arguments, const struct command *command,
                   int argc, char **argv)
{
    memset(arguments, 0, sizeof(*arguments));
    arguments->command = command;
    if (asks_help(command, argc, argv)) {
        struct option_values *help = &arguments->option[OPTION_HELP];
        return append(&help->item, &help->count, "") ? EXIT_DONE
                                                     : cli_no_memory();
    }
    bool options_end = false;
    for (int i = 0; i < argc; i++) {
        if (!options_end && strcmp(argv[i], "--") == 0) {
            options_end = true;
        } else if (!options_end && argv[i][0] == '-' && argv[i][1] != '\0') {
            const int code = take_option(arguments, command, argc, argv, &i);
            if (code != EXIT_DONE) {
                return code;
            }
        } else if (!append(&arguments->word, &arguments->words, argv[i])) {
            return cli_no_memory();
        }
    }
    if (has_option(arguments, OPTION_JSON) &&
        has_option(arguments, OPTION_CSV)) {
        return cli_misuse(command, "--json and --csv exclude each other");
    }
    for (size_t i = 0; i < arguments->words; i++) {
        if (arguments->word[i][0] == '\0') {
            return cli_misuse(command, "expected %s, found an empty word",
                              command->words);
        }
    }
    if (arguments->words < (size_t)command->least) {
        return cli_misuse(command, "expected %s, found nothing%s",
                          command->words, words_mean(command->words));
    }
    if (command->most >= 0 && arguments->words > (size_t)command->most) {
        return cli_misuse(command, "one word too many: '%s'",
                          arguments->word[command->most]);
    }
    return EXIT_DONE;
}
