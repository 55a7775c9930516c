/* SPDX-License-Identifier: MIT */
/* compare: how two conditions differ, or two units in the same applications. */
#include "cli.h"

#include <math.h>
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
static int no_such_unit(const struct bl_trial *trial, const char *name,
                        const struct arguments *arguments)
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
    return cli_misuse(arguments->command,
                      "--units: %s has no unit '%s', it has %s", trial->path,
                      name, known);
}

static int read_units(struct bl_compare_options *options,
                      const struct bl_trial *trial,
                      const struct arguments *arguments)
{
    const struct command *command = arguments->command;
    const char *text = option_text(arguments, OPTION_UNITS, NULL);
    if (text == NULL) {
        return EXIT_DONE;
    }
    if (has_option(arguments, OPTION_AGAINST)) {
        return cli_misuse(
            command,
            "--units compares units in the same applications: --against cannot "
            "be given with it");
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
    const long base = unit_from(trial, first);
    const long against = unit_from(trial, comma + 1);
    if (base < 0 || against < 0) {
        return no_such_unit(trial, base < 0 ? first : comma + 1, arguments);
    }
    options->mode = BL_COMPARE_UNITS;
    options->unit_base = (size_t)base;
    options->unit_against = (size_t)against;
    if (base == against) {
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
        return cli_misuse(arguments->command,
                          "--confidence: expected 50 to 99.9 percent, found "
                          "'%s'",
                          text);
    }
    options->confidence = percent / 100;
    return EXIT_DONE;
}

/* "10 ms" or "0.01 s"; a plain number would be taken for either. */
static int read_time(double *out, enum option_id id, const char *name,
                     const struct arguments *arguments)
{
    const char *text = option_text(arguments, id, NULL);
    if (text == NULL) {
        return EXIT_DONE;
    }
    char number[32];
    const size_t length = strspn(text, "0123456789.");
    const char *unit = text + length + strspn(text + length, " ");
    const bool milli = strcmp(unit, "ms") == 0;
    *out = NAN;
    if (length > 0 && length < sizeof(number) &&
        (milli || strcmp(unit, "s") == 0)) {
        memcpy(number, text, length);
        number[length] = '\0';
        *out = percent_from(number) / (milli ? 1000 : 1);
    }
    if (!(*out >= 0.0005 && *out <= 10)) {
        return cli_misuse(arguments->command,
                          "--%s: expected a time from 0.5 ms to 10 s such as "
                          "'10 ms', found '%s'",
                          name, text);
    }
    return EXIT_DONE;
}

/* Rows that say something: of the conditions, or of these runs with the
   confidence that was asked for. */
static size_t rows_answered(const struct bl_comparison *comparison)
{
    size_t answered = 0;
    for (size_t i = 0; i < comparison->rows; i++) {
        const struct bl_comparison_row *row = &comparison->row[i];
        const bool refused = row->verdict == BL_VERDICT_NO_VALUES ||
                             row->verdict == BL_VERDICT_COMMAND_DIFFERS;
        answered += !refused && row->confidence > comparison->confidence - 1e-9;
    }
    return answered;
}

static int compare(const struct bl_trial *trial,
                   const struct bl_compare_options *options,
                   const struct arguments *arguments)
{
    const struct cli_task task = {.parts =
                                      BL_ASSESS_COMPARISON | BL_ASSESS_ANSWER,
                                  .topics = BL_ANSWER_OF_COMPARISON,
                                  .compare = options};
    const struct bl_report_options parts = {
        .only = BL_REPORT_RUNS | BL_ASSESS_COMPARISON | BL_ASSESS_ANSWER};
    struct bl_assessment *found = NULL;
    int code = cli_assess(&found, trial, &task, arguments);
    if (found != NULL && found->comparison != NULL) {
        if (rows_answered(found->comparison) == 0) {
            cli_say("too few values on both sides to say anything surely");
            code = cli_worse(code, EXIT_NO_DATA);
        }
        code = cli_write_assessed(found, &parts, arguments, code);
    }
    bl_assessment_destroy(found);
    return code;
}

/* --with EARLIER.json: this trial's units against what they did then. */
static int write_beside(const struct bl_assessment *found,
                        const struct bl_life_options *options,
                        const struct arguments *arguments, int code)
{
    static const struct bl_report_options parts = {.only = BL_REPORT_RUNS |
                                                           BL_ASSESS_ANSWER};
    struct bl_result *result = NULL;
    struct bl_bytes *earlier = NULL;
    size_t answered = 0;
    struct bl_error error;
    bl_error_clear(&error);
    enum bl_status status =
        bl_result_create_assessed(&result, found, &parts, &error);
    if (status == BL_OK) {
        status = bl_bytes_open(&earlier,
                               option_text(arguments, OPTION_WITH, ""), &error);
    }
    if (status == BL_OK) {
        status = bl_history_compare(earlier, result, result, options, &answered,
                                    &error);
    }
    if (status == BL_OK && answered == 0) {
        cli_say("these two visits do not show whether any figure changed");
        code = cli_worse(code, EXIT_NO_DATA);
    }
    code = status == BL_OK ? cli_write_result(result, arguments, code)
                           : cli_worse(code, cli_fail(&error));
    bl_bytes_close(earlier);
    bl_result_destroy(result);
    return code;
}

static int compare_with(const struct bl_trial *trial,
                        const struct bl_compare_options *given,
                        const struct arguments *arguments)
{
    static const struct cli_task task = {.parts = 0};
    static const enum option_id apart[] = {OPTION_BASE, OPTION_AGAINST,
                                           OPTION_UNITS, OPTION_REFERENCE,
                                           OPTION_AIM};
    struct bl_life_options options = bl_life_options_default();
    struct bl_assessment *found = NULL;
    options.confidence = given->confidence;
    if (given->same_within_s > 0) {
        options.least_s = given->same_within_s;
    }
    for (size_t i = 0; i < sizeof(apart) / sizeof(apart[0]); i++) {
        if (has_option(arguments, apart[i])) {
            return cli_misuse(
                arguments->command,
                "--with compares two visits: --%s cannot be given with it",
                option_spec(apart[i])->name);
        }
    }
    int code = cli_spare(option_text(arguments, OPTION_WITH, ""), arguments);
    if (code == EXIT_DONE) {
        code = cli_assess(&found, trial, &task, arguments);
    }
    if (found != NULL) {
        code = write_beside(found, &options, arguments, code);
    }
    bl_assessment_destroy(found);
    return code;
}

int cmd_compare(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    struct bl_compare_options options = {
        .base = option_text(arguments, OPTION_BASE, NULL),
        .against = option_text(arguments, OPTION_AGAINST, NULL),
        .reference = option_text(arguments, OPTION_REFERENCE, NULL)};
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = read_units(&options, trial, arguments);
    }
    if (code == EXIT_DONE) {
        code = read_confidence(&options, arguments);
    }
    if (code == EXIT_DONE) {
        code = read_time(&options.aim_s, OPTION_AIM, "aim", arguments);
    }
    if (code == EXIT_DONE) {
        code = read_time(&options.same_within_s, OPTION_SAME_WITHIN,
                         "same-within", arguments);
    }
    if (code == EXIT_DONE) {
        code = has_option(arguments, OPTION_WITH)
                   ? compare_with(trial, &options, arguments)
                   : compare(trial, &options, arguments);
    }
    bl_trial_destroy(trial);
    return code;
}
