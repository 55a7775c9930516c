/* SPDX-License-Identifier: MIT */
/* What is odd about the columns that a trial names, in words. */
#include "load/build.h"

#include "brakelag/words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* The log says one unit, the trial file another: the trial file counts, but one
   of them is wrong, and all pressures with it. */
double bl_log_note_contradiction(struct bl_notes *notes,
                                 const struct bl_trial_channel *channel,
                                 const struct bl_log_column *column)
{
    const struct bl_measurement_unit *stated =
        channel->measured_in == NULL
            ? NULL
            : bl_measurement_unit_find(channel->measured_in);
    const struct bl_measurement_unit *written =
        column->unit == NULL ? NULL : bl_measurement_unit_find(column->unit);
    if (stated == NULL || written == NULL ||
        (stated->quantity == written->quantity &&
         fabs(stated->factor / written->factor - 1) < 1e-9)) {
        return 0;
    }
    (void)bl_note_each(
        notes, "unit-contradicts", -1,
        "channel '%s': the trial file has the column in %s, the log in %s; "
        "the trial file counts: check 'measured_in'",
        channel->name, channel->measured_in, column->unit);
    return stated->quantity == BL_QUANTITY_PRESSURE &&
                   written->quantity == BL_QUANTITY_PRESSURE &&
                   isnan(channel->scale)
               ? written->factor / stated->factor
               : 0;
}

size_t bl_logs_of_run(const struct bl_trial *trial, size_t run)
{
    size_t count = 0;
    for (size_t i = 0; i < trial->recordings; i++) {
        count += trial->recording[i].run == run &&
                 trial->recording[i].kind == BL_RECORDING_LOG;
    }
    return count;
}

enum { NAME_BYTES = 256, HINT_BYTES = 96 };

/* A name without the unit in brackets behind it. */
static void bare_name(const char *name, char *out)
{
    (void)snprintf(out, NAME_BYTES, "%s", name);
    char *bracket =
        strrchr(out, out[0] != '\0' && out[strlen(out) - 1] == ')' ? '(' : '[');
    if (bracket != NULL && bracket > out) {
        while (bracket > out && bracket[-1] == ' ') {
            bracket--;
        }
        *bracket = '\0';
    }
}

/* " (did you mean 'P 1'?)" or "". */
static const char *near_column(const struct bl_log_info *info,
                               const char *wanted, char hint[HINT_BYTES])
{
    struct bl_nearest nearest = {.wanted = wanted};
    for (size_t i = 0; i < info->columns; i++) {
        char name[NAME_BYTES];
        bare_name(info->column[i].name, name);
        bl_nearest_offer(&nearest, name);
    }
    const char *word = bl_nearest_word(&nearest);
    hint[0] = '\0';
    if (word != NULL) {
        (void)snprintf(hint, HINT_BYTES, " (did you mean '%s'?)", word);
    }
    return hint;
}

enum bl_status bl_log_note_missing(struct bl_notes *notes,
                                   const struct bl_trial *trial,
                                   const struct bl_trial_channel *channel,
                                   const char *file,
                                   const struct bl_log_info *info)
{
    const char *wanted =
        channel->column != NULL ? channel->column : channel->name;
    char names[COLUMNS_TEXT];
    char hint[HINT_BYTES];
    return bl_note_each(
        notes, "column-missing", -1,
        "%s:%lld: channel '%s': there is no column '%s' in %s%s, which has %s",
        trial->path, (long long)channel->line, channel->name, wanted, file,
        near_column(info, wanted, hint),
        bl_log_columns_text(info, names, sizeof(names)));
}

const char *bl_log_columns_text(const struct bl_log_info *info, char *text,
                                size_t size)
{
    static const char more[] = ", ...";
    size_t length = 0;
    text[0] = '\0';
    for (size_t i = 0; i < info->columns; i++) {
        const char *name = info->column[i].name;
        const char *between = i == 0 ? "" : ", ";
        if (length + strlen(between) + strlen(name) + sizeof(more) > size) {
            (void)snprintf(text + length, size - length, "%s",
                           i == 0 ? "others" : more);
            break;
        }
        length += (size_t)snprintf(text + length, size - length, "%s%s",
                                   between, name);
    }
    return text;
}
