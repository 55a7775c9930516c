/* SPDX-License-Identifier: MIT */
/* tables: which mapping tables there are, what one holds, and what is wrong
   with one. */
#include "mapping.h"

#include "brakelag/words.h"

#include <string.h>

static void list_text(struct bl_output *output, const struct bl_tables *tables)
{
    bl_output_plain(output);
    bl_output_format(output, "%-20s %8s %8s %10s %14s %12s\n", "table",
                     "messages", "signals", "confirmed", "single-source",
                     "from-memory");
    for (size_t i = 0; i < bl_tables_count(tables); i++) {
        const struct bl_table_info *info = bl_tables_info(tables, i);
        bl_output_format(output, "%-20s %8zu %8zu %10zu %14zu %12zu\n",
                         info->name, info->messages, info->signals,
                         info->by_confidence[BL_CONFIRMED],
                         info->by_confidence[BL_SINGLE_SOURCE],
                         info->by_confidence[BL_FROM_MEMORY]);
    }
}

static int list(const struct arguments *arguments)
{
    struct bl_tables *tables = NULL;
    struct bl_output *output = NULL;
    int code = load_tables(&tables, arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    code = cli_open(&output, arguments);
    if (code == EXIT_DONE) {
        struct bl_error error;
        enum bl_status status = BL_OK;
        bl_error_clear(&error);
        if (has_option(arguments, OPTION_JSON)) {
            status = bl_report_tables_json(output, tables, &error);
        } else {
            list_text(output, tables);
        }
        cli_say_notes(arguments, "tables", bl_tables_notes(tables));
        code = cli_close_written(output, status, &error, code);
    }
    bl_tables_destroy(tables);
    return code;
}

/* Load one table alone. */
static int load_one(struct bl_tables **out, const char *name)
{
    struct bl_error error;
    bl_error_clear(&error);
    *out = NULL;
    if (bl_tables_create(out, &error) != BL_OK) {
        return cli_fail(&error);
    }
    const int code = add_table(*out, name);
    if (code != EXIT_DONE) {
        bl_tables_destroy(*out);
        *out = NULL;
    }
    return code;
}

static int check(const struct arguments *arguments)
{
    struct bl_output *output = NULL;
    int code = cli_open(&output, arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    bl_output_plain(output);
    for (size_t i = 1; i < arguments->words; i++) {
        struct bl_tables *tables = NULL;
        const int one = load_one(&tables, arguments->word[i]);
        if (one == EXIT_DONE) {
            const struct bl_table_info *info = bl_tables_info(tables, 0);
            bl_output_format(output, "%s: %zu messages, %zu signals, sound\n",
                             arguments->word[i], info->messages, info->signals);
        }
        bl_tables_destroy(tables);
        code = cli_worse(code, one);
    }
    return cli_close(output, code);
}

static void show_message(struct bl_output *output,
                         const struct bl_message *message)
{
    bl_output_format(output, "%s: ", message->name);
    write_message_line(output, message);
    for (size_t i = 0; i < message->signals; i++) {
        write_signal(output, &message->signal[i]);
    }
}

static int show(const struct arguments *arguments)
{
    const char *name = arguments->words > 2 ? arguments->word[2] : NULL;
    struct bl_tables *tables = NULL;
    struct bl_output *output = NULL;
    int code = load_one(&tables, arguments->word[1]);
    if (code != EXIT_DONE) {
        return code;
    }
    if (name != NULL && bl_tables_message_named(tables, name) == NULL) {
        cli_say("%s has no message '%s'", arguments->word[1], name);
        bl_tables_destroy(tables);
        return EXIT_USAGE;
    }
    code = cli_open(&output, arguments);
    if (code == EXIT_DONE) {
        bl_output_plain(output);
        for (size_t i = 0; i < bl_tables_messages(tables); i++) {
            const struct bl_message *message = bl_tables_message(tables, i);
            if (name == NULL || strcmp(name, message->name) == 0) {
                show_message(output, message);
            }
        }
        code = cli_close(output, code);
    }
    bl_tables_destroy(tables);
    return code;
}

int cmd_tables(const struct arguments *arguments)
{
    const struct command *self = arguments->command;
    if (arguments->words == 0) {
        return list(arguments);
    }
    const char *verb = arguments->word[0];
    if (has_option(arguments, OPTION_JSON)) {
        return cli_misuse(self, "--json goes with the list of tables; explain "
                                "--json tells about one message");
    }
    for (size_t i = 1; i < arguments->words; i++) {
        if (cli_spare(arguments->word[i], arguments) != EXIT_DONE) {
            return EXIT_USAGE;
        }
    }
    if (strcmp(verb, "check") == 0) {
        return arguments->words < 2
                   ? cli_misuse(self, "tables check: expected a file")
                   : check(arguments);
    }
    if (strcmp(verb, "show") == 0) {
        return arguments->words < 2 || arguments->words > 3
                   ? cli_misuse(self, "tables show: expected a table, and at "
                                      "most one message")
                   : show(arguments);
    }
    struct bl_nearest nearest = {.wanted = verb};
    bl_nearest_offer(&nearest, "check");
    bl_nearest_offer(&nearest, "show");
    const char *near = bl_nearest_word(&nearest);
    return near == NULL
               ? cli_misuse(self, "expected check or show, found '%s'", verb)
               : cli_misuse(self,
                            "expected check or show, found '%s'; did you mean "
                            "'%s'?",
                            verb, near);
}
