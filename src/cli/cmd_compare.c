/* SPDX-License-Identifier: MIT */
/* compare: how two conditions differ, or two units in the same applications. */
#include "cli.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* "A.2" or "2". */
static long unit_from(const struct bl_trial *trial, const char *text)
{
    char combination = 'A';
    if (text[0] >= 'A' && text[0] <= 'Z' && text[1] == '.') {
        combination = text[0];
        text += 2;
    }
    int number = 0;
    size_t digits = 0;
    for (; *text >= '0' && *text <= '9' && digits < 4; text++, digits++) {
        number = 10 * number + (*text - '0');
    }
    return digits > 0 && *text == '\0'
               ? bl_trial_unit_index(trial, combination, number)
               : -1;
}

/* --units A.2,B.2: base unit first. */
static int no_such_unit(const struct bl_trial *trial, const char *name)
{
    char known[200] = "";
    size_t length = 0;
    for (size_t i = 0; i < trial->units; i++) {
        char label[32];
        const int more = snprintf(
            known + length, sizeof(known) - length, "%s%s", i == 0 ? "" : ", ",
            bl_trial_unit_label(&trial->unit[i], label, sizeof(label)));
        if (more < 0 || length + (size_t)more + 8 > sizeof(known)) {
            snprintf(known + length, sizeof(known) - length, ", ...");
            break;
        }
        length += (size_t)more;
    }
    return cli_misuse(cli_command("compare"),
                      "--units: %s has no unit '%s', it has %s", trial->path,
                      name, known);
}

static int read_units(struct bl_compare_options *options,
                      const struct bl_trial *trial,
                      const struct arguments *arguments)
{
    const struct command *command = cli_command("compare");
    const char *text = option_text(arguments, OPTION_UNITS, NULL);
    if (text == NULL) {
        return EXIT_DONE;
    }
    if (has_option(arguments, OPTION_AGAINST)) {
        return cli_misuse(command,
                          "--units compares units in the same applications: "
                          "--against has no place beside it");
    }
    char first[64];
    const char *comma = strchr(text, ',');
    const size_t length = comma == NULL ? 0 : (size_t)(comma - text);
    if (length == 0 || length >= sizeof(first)) {
        return cli_misuse(command,
                          "--units: expected two units such as A.2,B.2, found "
                          "'%s'",
                          text);
    }
    memcpy(first, text, length);
    first[length] = '\0';
    options->unit_base = unit_from(trial, first);
    options->unit_against = unit_from(trial, comma + 1);
    if (options->unit_base < 0 || options->unit_against < 0) {
        return no_such_unit(trial, options->unit_base < 0 ? first : comma + 1);
    }
    if (options->unit_base == options->unit_against) {
        return cli_misuse(
            command, "--units: expected two different units, found '%s'", text);
    }
    return EXIT_DONE;
}

/* "95" or "99.5 %": whatever the locale, with a point. NaN for else. */
static double percent_from(const char *text)
{
    double value = 0;
    double place = 0;
    size_t digits = 0;
    for (; (*text >= '0' && *text <= '9') || (*text == '.' && place == 0);
         text++) {
        if (*text == '.') {
            place = 1;
        } else if (digits++ < 9) {
            value = 10 * value + (*text - '0');
            place *= 10;
        }
    }
    while (*text == ' ' || *text == '%') {
        text++;
    }
    if (*text != '\0' || digits == 0) {
        return NAN;
    }
    return place > 0 ? value / place : value;
}

/* In percent, because 0.95 would be taken for little. */
static int read_confidence(struct bl_compare_options *options,
                           const struct arguments *arguments)
{
    const char *text = option_text(arguments, OPTION_CONFIDENCE, "95");
    const double percent = percent_from(text);
    if (!(percent >= 50 && percent <= 99.9)) {
        return cli_misuse(cli_command("compare"),
                          "--confidence: expected 50 to 99.9 percent, found "
                          "'%s'",
                          text);
    }
    options->confidence = percent / 100;
    return EXIT_DONE;
}

static int measure_all(struct cli_run *runs, struct bl_run_lag **lag,
                       struct bl_result *result, const struct bl_trial *trial,
                       const struct arguments *arguments)
{
    int code = EXIT_DONE;
    for (size_t i = 0; i < trial->runs; i++) {
        struct bl_error error;
        bl_error_clear(&error);
        code = cli_worse(code, cli_measure_run(&runs[i], trial, i, arguments));
        lag[i] = runs[i].lag;
        if (bl_result_add_run(result, trial, i, runs[i].data, runs[i].clocks,
                              runs[i].lag, &runs[i].error, &error) != BL_OK) {
            code = cli_worse(code, cli_fail(&error));
        }
        /* Only the figures are needed from here on. */
        bl_run_clocks_destroy(runs[i].clocks);
        bl_run_data_destroy(runs[i].data);
        runs[i].clocks = NULL;
        runs[i].data = NULL;
    }
    return code;
}

static int compare(struct bl_result *result, const struct bl_trial *trial,
                   const struct bl_compare_options *options,
                   const struct arguments *arguments)
{
    struct cli_run *runs = calloc(trial->runs + 1, sizeof(*runs));
    struct bl_run_lag **lag = calloc(trial->runs + 1, sizeof(*lag));
    struct bl_comparison *comparison = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    int code;
    if (runs == NULL || lag == NULL) {
        code = cli_no_memory();
        goto out;
    }
    code = measure_all(runs, lag, result, trial, arguments);
    enum bl_status status =
        bl_compare(&comparison, trial, lag, options, &error);
    if (status == BL_OK) {
        status = bl_result_add_comparison(result, trial, comparison, &error);
    }
    if (status != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
        goto out;
    }
    size_t answered = 0;
    for (size_t i = 0; i < comparison->rows; i++) {
        answered += comparison->row[i].verdict != BL_VERDICT_NO_VALUES &&
                    comparison->row[i].verdict != BL_VERDICT_RUN_MORE;
    }
    if (answered == 0) {
        cli_say("too few values on both sides to say anything surely");
        code = cli_worse(code, EXIT_NO_DATA);
    }
    code = cli_write_result(result, arguments, code);
out:
    for (size_t i = 0; runs != NULL && i < trial->runs; i++) {
        cli_run_finish(&runs[i]);
    }
    bl_comparison_destroy(comparison);
    free(runs);
    free(lag);
    return code;
}

int cmd_compare(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    struct bl_result *result = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    struct bl_compare_options options = {
        .base = option_text(arguments, OPTION_BASE, NULL),
        .against = option_text(arguments, OPTION_AGAINST, NULL),
        .reference = option_text(arguments, OPTION_REFERENCE, NULL),
        .unit_base = -1,
        .unit_against = -1};
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = read_units(&options, trial, arguments);
    }
    if (code == EXIT_DONE) {
        code = read_confidence(&options, arguments);
    }
    if (code == EXIT_DONE &&
        bl_result_create(&result, trial, &error) != BL_OK) {
        code = cli_fail(&error);
    }
    if (code == EXIT_DONE) {
        code = compare(result, trial, &options, arguments);
    }
    bl_result_destroy(result);
    bl_trial_destroy(trial);
    return code;
}
