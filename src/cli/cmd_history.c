/* SPDX-License-Identifier: MIT */
/* history: units over visits, kept in one file of the user's. */
#include "cli.h"

#include "brakelag/words.h"

#include <string.h>

/* A result begins with a brace; a trial file never does. */
static int is_json(bool *out, struct bl_bytes *source)
{
    const uint8_t *data = NULL;
    size_t available = 0;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_bytes_peek(source, BL_PEEK_MAX, &data, &available, &error) !=
        BL_OK) {
        return cli_fail(&error);
    }
    const char *name = bl_bytes_name(source);
    const size_t length = strlen(name);
    size_t at = 0;
    while (at < available && strchr(" \t\r\n", data[at]) != NULL) {
        at++;
    }
    *out = (at < available && data[at] == '{') || strcmp(name, "-") == 0 ||
           (length > 5 && strcmp(name + length - 5, ".json") == 0);
    return EXIT_DONE;
}

static int add_trial(struct bl_history *history, const char *path,
                     struct bl_history_added *added,
                     const struct arguments *arguments)
{
    static const struct cli_task task = {.parts = 0};
    static const struct bl_report_options options = {.only = BL_REPORT_RUNS};
    struct bl_trial *trial = NULL;
    struct bl_assessment *found = NULL;
    struct bl_result *result = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_read_trial(&trial, path, arguments);
    if (code == EXIT_DONE) {
        code = cli_assess(&found, trial, &task, arguments);
    }
    if (found != NULL) {
        enum bl_status status =
            bl_result_create_assessed(&result, found, &options, &error);
        if (status == BL_OK) {
            status = bl_history_add(history, result, added, &error);
        }
        if (status != BL_OK) {
            code = cli_worse(code, cli_fail(&error));
            added->visit = 0;
        }
    }
    bl_result_destroy(result);
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
    return code;
}

static int add_json(struct bl_history *history, struct bl_bytes *source,
                    struct bl_history_added *added)
{
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_history_add_json(history, source, added, &error) != BL_OK) {
        added->visit = 0;
        return cli_fail(&error);
    }
    return EXIT_DONE;
}

static int add_one(struct bl_history *history, const char *path,
                   struct bl_output *output, const struct arguments *arguments)
{
    static const char *const changes[] = {
        [BL_HISTORY_ADDED] = "added as",
        [BL_HISTORY_SAME] = "already there, nothing changed:",
        [BL_HISTORY_REPLACED] = "replaces what was there, as"};
    struct bl_history_added added = {.visit = 0};
    struct bl_bytes *source = NULL;
    struct bl_error error;
    bool json = false;
    bl_error_clear(&error);
    int code = cli_refuse_folder(path);
    if (code != EXIT_DONE) {
        return code;
    }
    if (bl_bytes_open(&source, path, &error) != BL_OK) {
        return cli_fail(&error);
    }
    code = is_json(&json, source);
    if (code == EXIT_DONE && json) {
        code = add_json(history, source, &added);
    }
    bl_bytes_close(source);
    if (code == EXIT_DONE && !json) {
        code = add_trial(history, path, &added, arguments);
    }
    if (added.visit != 0) {
        cli_say_notes(arguments, path, &added.notes);
        bl_output_format(output, "%s: %s visit %lld", path,
                         changes[added.change], (long long)added.visit);
        if (added.change != BL_HISTORY_SAME) {
            bl_output_format(output, " (%zu unit%s, %zu figures)", added.units,
                             added.units == 1 ? "" : "s", added.figures);
        }
        bl_output_text(output, "\n");
    }
    bl_history_added_finish(&added);
    return code;
}

static int add(const struct arguments *arguments)
{
    struct bl_history *history = NULL;
    struct bl_output *output = NULL;
    int code = EXIT_DONE;
    for (size_t i = 1; code == EXIT_DONE && i < arguments->words; i++) {
        code = cli_spare(arguments->word[i], arguments);
    }
    if (code == EXIT_DONE) {
        code = cli_open_history(&history, BL_HISTORY_WRITE, arguments);
    }
    if (code == EXIT_DONE) {
        code = cli_open(&output, arguments);
    }
    if (code == EXIT_DONE) {
        bl_output_plain(output);
        for (size_t i = 1; i < arguments->words; i++) {
            code = cli_worse(
                code, add_one(history, arguments->word[i], output, arguments));
        }
        code = cli_close(output, code);
    }
    bl_history_close(history);
    return code;
}

/* "12"; 0 for what is no number of a visit. */
static int64_t visit_from(const char *text)
{
    int64_t number = 0;
    size_t digits = 0;
    for (; *text >= '0' && *text <= '9' && digits < 15; text++, digits++) {
        number = 10 * number + (*text - '0');
    }
    return *text == '\0' ? number : 0;
}

static int take_out(const struct arguments *arguments)
{
    struct bl_history *history = NULL;
    int code = cli_open_history(&history, BL_HISTORY_READ, arguments);
    bl_history_close(history);
    if (code == EXIT_DONE) { /* a history to remove from is never begun */
        code = cli_open_history(&history, BL_HISTORY_WRITE, arguments);
    }
    for (size_t i = 1; history != NULL && i < arguments->words; i++) {
        struct bl_error error;
        bl_error_clear(&error);
        const int64_t number = visit_from(arguments->word[i]);
        if (number < 1) {
            code = cli_misuse(arguments->command,
                              "history remove: expected the number of a visit, "
                              "found '%s'",
                              arguments->word[i]);
        } else if (bl_history_remove(history, number, &error) != BL_OK) {
            code = cli_worse(code, cli_fail(&error));
        }
    }
    bl_history_close(history);
    return code;
}

static enum bl_result_form form_of(const struct arguments *arguments)
{
    return has_option(arguments, OPTION_JSON)  ? BL_RESULT_JSON
           : has_option(arguments, OPTION_CSV) ? BL_RESULT_CSV
                                               : BL_RESULT_TEXT;
}

static enum bl_status write_list(struct bl_history *history,
                                 struct bl_output *output,
                                 const struct arguments *arguments,
                                 struct bl_error *error)
{
    struct bl_history_list_options options = bl_history_list_options_default();
    options.form = form_of(arguments);
    options.columns = cli_columns(arguments);
    options.visits = strcmp(arguments->word[0], "visits") == 0;
    struct bl_history_list *list = NULL;
    enum bl_status status = bl_history_list_create(
        &list, history, arguments->words > 1 ? arguments->word[1] : NULL,
        error);
    if (status == BL_OK) {
        status = bl_history_list_write(list, output, &options, error);
    }
    bl_history_list_destroy(list);
    return status;
}

static enum bl_status write_unit(struct bl_history *history,
                                 struct bl_output *output,
                                 const struct arguments *arguments,
                                 struct bl_error *error)
{
    struct bl_history_life *life = NULL;
    enum bl_status status =
        bl_history_life_create(&life, history, arguments->word[1], error);
    if (status == BL_OK) {
        status = bl_history_life_write(life, output, form_of(arguments),
                                       cli_columns(arguments), error);
    }
    bl_history_life_destroy(life);
    return status;
}

static enum bl_status write_export(struct bl_history *history,
                                   struct bl_output *output,
                                   const struct arguments *arguments,
                                   struct bl_error *error)
{
    return bl_history_export(history,
                             arguments->words > 1 ? arguments->word[1] : NULL,
                             output, error);
}

/* What only reads. */
static int show(const struct arguments *arguments,
                enum bl_status (*write)(struct bl_history *, struct bl_output *,
                                        const struct arguments *,
                                        struct bl_error *))
{
    struct bl_history *history = NULL;
    struct bl_output *output = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_open_history(&history, BL_HISTORY_READ, arguments);
    if (code == EXIT_DONE) {
        code = cli_open(&output, arguments);
    }
    if (code == EXIT_DONE) {
        const enum bl_status status = write(history, output, arguments, &error);
        code = cli_close_written(output, status, &error, code);
    }
    bl_history_close(history);
    return code;
}

static int do_list(const struct arguments *arguments)
{
    return show(arguments, write_list);
}

static int do_unit(const struct arguments *arguments)
{
    return show(arguments, write_unit);
}

static int do_export(const struct arguments *arguments)
{
    return has_option(arguments, OPTION_JSON)
               ? cli_misuse(arguments->command,
                            "history export writes CSV, not JSON")
               : show(arguments, write_export);
}

static const struct {
    const char *name, *expected;
    size_t least, most; /* words after it */
    int (*run)(const struct arguments *arguments);
} verbs[] = {
    {"add", "results (JSON) or trial files", 1, (size_t)-1, add},
    {"list", "no word after it", 0, 0, do_list},
    {"unit", "the id of a unit", 1, 1, do_unit},
    {"visits", "at most the id of a unit", 0, 1, do_list},
    {"remove", "numbers of visits", 1, (size_t)-1, take_out},
    {"export", "at most the id of a unit", 0, 1, do_export},
};

int cmd_history(const struct arguments *arguments)
{
    const char *verb = arguments->word[0];
    const size_t words = arguments->words - 1;
    struct bl_nearest nearest = {.wanted = verb};
    for (size_t i = 0; i < sizeof(verbs) / sizeof(verbs[0]); i++) {
        if (strcmp(verb, verbs[i].name) != 0) {
            bl_nearest_offer(&nearest, verbs[i].name);
        } else if (words < verbs[i].least || words > verbs[i].most) {
            return cli_misuse(arguments->command, "history %s: expected %s",
                              verb, verbs[i].expected);
        } else {
            return verbs[i].run(arguments);
        }
    }
    const char *near = bl_nearest_word(&nearest);
    return cli_misuse(arguments->command,
                      "expected add, list, unit, visits, remove or export, "
                      "found '%s'%s%s%s",
                      verb, near == NULL ? "" : "; did you mean '",
                      near == NULL ? "" : near, near == NULL ? "" : "'?");
}
