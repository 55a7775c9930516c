/* SPDX-License-Identifier: MIT */
/*
 * What the columns of the logs are: by their names, and where those say
 * nothing by the order in which they rise. A name is written into the draft; an
 * order is only proposed in a comment, since a slow unit, which is what people
 * look for, stands at the wrong place in it.
 */
#include "survey/draft.h"
#include "survey/internal.h"
#include "survey/movement.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/alloc.h"
#include "base/plain.h"

enum { WORDS = 16, WORD = 16, COLUMN_TEXT_MOST = 120 };
/* Own choice: what rises within this of the first one may be the command. */
static const double FIRST_S = 0.05;
/* A transducer in volts gives 0 to 5 or 0 to 10 V (common practice). */
static const double TRANSDUCER_MOST_V = 10.5;

struct words {
    char word[WORDS][WORD];
    size_t count;
};

/* Letters in lower case, digits, each run of them a word. */
static void split(const char *name, struct words *words)
{
    words->count = 0;
    while (*name != '\0' && words->count < WORDS) {
        const unsigned char first = (unsigned char)*name;
        size_t used = 0;
        if (!isalnum(first)) {
            name++;
            continue;
        }
        char *word = words->word[words->count++];
        while (isalnum((unsigned char)*name) &&
               isdigit((unsigned char)*name) == isdigit(first)) {
            if (used + 1 < WORD) {
                word[used++] = (char)tolower((unsigned char)*name);
            }
            name++;
        }
        word[used] = '\0';
    }
}

static const struct {
    const char *word;
    enum bl_wired wired;
} meanings[] = {
    {"treadle", BL_WIRED_COMMAND},     {"pedal", BL_WIRED_COMMAND},
    {"foot", BL_WIRED_COMMAND},        {"control", BL_WIRED_CONTROL},
    {"ctrl", BL_WIRED_CONTROL},        {"coupling", BL_WIRED_CONTROL},
    {"yellow", BL_WIRED_CONTROL},      {"output", BL_WIRED_OUTPUT},
    {"out", BL_WIRED_OUTPUT},          {"chamber", BL_WIRED_OUTPUT},
    {"chambers", BL_WIRED_OUTPUT},     {"cylinder", BL_WIRED_OUTPUT},
    {"cyl", BL_WIRED_OUTPUT},          {"actuator", BL_WIRED_OUTPUT},
    {"reservoir", BL_WIRED_RESERVOIR}, {"tank", BL_WIRED_RESERVOIR},
    {"supply", BL_WIRED_RESERVOIR},    {"red", BL_WIRED_RESERVOIR},
    {"emergency", BL_WIRED_RESERVOIR}, {"volt", BL_WIRED_VOLTAGE},
    {"volts", BL_WIRED_VOLTAGE},       {"voltage", BL_WIRED_VOLTAGE},
};

/* Words for the towing vehicle, and those that stand before the number of a
   towed unit. */
static const char *const towing_words[] = {"pm",    "prime",   "mover", "truck",
                                           "horse", "tractor", "towing"};
static const char *const towed_words[] = {"trailer", "unit", "t", "u", "tr"};

static bool among(const char *word, const char *const *list, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(word, list[i]) == 0) {
            return true;
        }
    }
    return false;
}

static int number(const char *word)
{
    int value = 0;
    if (!isdigit((unsigned char)word[0]) || strlen(word) > 2) {
        return -1;
    }
    for (; *word != '\0'; word++) {
        value = 10 * value + (*word - '0');
    }
    return value;
}

/* The unit that a name tells, or -1. A number after a role's word counts as
   the unit's only where the name has no other number. */
static int unit_told(const struct words *words, bool has_role)
{
    int told = -1;
    size_t numbers = 0;
    for (size_t i = 0; i < words->count; i++) {
        const char *word = words->word[i];
        if (among(word, towing_words,
                  sizeof(towing_words) / sizeof(towing_words[0]))) {
            return 0;
        }
        const bool before =
            i > 0 && among(words->word[i - 1], towed_words,
                           sizeof(towed_words) / sizeof(towed_words[0]));
        if (before && number(word) >= 0) {
            return number(word);
        }
        if (before && strcmp(words->word[i - 1], "trailer") == 0 &&
            word[0] >= 'a' && word[0] <= 'h' && word[1] == '\0') {
            return word[0] - 'a' + 1;
        }
        if (number(word) >= 0) {
            numbers++;
            told = number(word);
        }
    }
    return has_role && numbers == 1 ? told : -1;
}

static void by_name(struct bl_draft_channel *channel)
{
    struct words words;
    split(channel->column->name, &words);
    for (size_t i = 0; i < words.count && channel->wired == BL_WIRED_NOTHING;
         i++) {
        for (size_t m = 0; m < sizeof(meanings) / sizeof(meanings[0]); m++) {
            if (strcmp(words.word[i], meanings[m].word) == 0) {
                channel->wired = meanings[m].wired;
                break;
            }
        }
    }
    channel->unit = unit_told(&words, channel->wired != BL_WIRED_NOTHING);
    if (channel->wired == BL_WIRED_NOTHING && channel->unit >= 0) {
        channel->wired = BL_WIRED_OUTPUT;
    }
    channel->certain = channel->unit >= 0 && channel->unit < BL_DRAFT_UNITS;
    (void)snprintf(channel->why, sizeof(channel->why), "by its name");
}

/* Header text that leads to this column alone, and can be written. */
static bool by_header(const struct bl_survey_file *file,
                      const struct bl_survey_column *column)
{
    const char *name = column->name;
    const size_t length = strlen(name);
    if (length == 0 || length > COLUMN_TEXT_MOST || name[0] == '#' ||
        name[0] == ' ' || name[length - 1] == ' ' || !bl_plain_is(name) ||
        strpbrk(name, ";\"\r\n\t") != NULL || strstr(name, " #") != NULL) {
        return false;
    }
    for (size_t i = 0; i < file->columns; i++) {
        if (&file->column[i] != column &&
            strcmp(file->column[i].name, name) == 0) {
            return false;
        }
    }
    return true;
}

static bool name_taken(const struct bl_wiring *wiring, const char *name)
{
    for (size_t i = 0; i < wiring->channels; i++) {
        if (strcmp(wiring->channel[i].name, name) == 0) {
            return true;
        }
    }
    return false;
}

/* The header without a unit in brackets at its end. */
static void name_channel(const struct bl_wiring *wiring,
                         struct bl_draft_channel *channel)
{
    char text[COLUMN_TEXT_MOST + 1];
    char name[BL_DRAFT_NAME];
    (void)snprintf(text, sizeof(text), "%s", channel->column->name);
    char *bracket = strpbrk(text, "[(");
    if (bracket != NULL && bracket > text) {
        *bracket = '\0';
    }
    bl_draft_name(text, name);
    if (name[0] == '\0') {
        (void)snprintf(name, sizeof(name), "c%zu", channel->column->index + 1);
    }
    (void)snprintf(channel->name, sizeof(channel->name), "%s", name);
    for (size_t n = 2; name_taken(wiring, channel->name); n++) {
        (void)snprintf(channel->name, sizeof(channel->name), "%s_%zu", name, n);
    }
}

/* Volts that go up and down again from near 0: a transducer, not a supply. */
static bool moves_in_volts(const struct bl_survey_column *column)
{
    return column->quantity == BL_QUANTITY_VOLTAGE && column->rises > 0 &&
           column->distinct > 2 && column->high <= TRANSDUCER_MOST_V &&
           column->low < 0.5 * column->high;
}

static const struct bl_survey_column *
column_named(const struct bl_survey_file *file, const char *name)
{
    for (size_t i = 0; i < file->columns; i++) {
        if (strcmp(file->column[i].name, name) == 0) {
            return &file->column[i];
        }
    }
    return NULL;
}

/* A column of the same header in the log of another run is the same channel;
   two logs of one run are two recorders. */
static bool known(struct bl_wiring *wiring, const struct bl_survey *survey,
                  const struct bl_draft_runs *runs, size_t file,
                  const struct bl_survey_column *column)
{
    for (size_t i = 0; i < wiring->channels; i++) {
        const struct bl_draft_channel *channel = &wiring->channel[i];
        if (channel->file != file && channel->by_header &&
            runs->run[runs->run_of_file[file]].logs == 1 &&
            runs->run[runs->run_of_file[channel->file]].logs == 1 &&
            strcmp(channel->column->name, column->name) == 0 &&
            by_header(&survey->file[file], column)) {
            return true;
        }
    }
    return false;
}

/* Is there a log that lacks the channel's column? Then it has to name its. */
static bool lacking(const struct bl_survey *survey,
                    const struct bl_draft_runs *runs,
                    const struct bl_draft_channel *channel)
{
    for (size_t f = 0; f < survey->files; f++) {
        const struct bl_survey_file *file = &survey->file[f];
        if (file->kind != BL_SURVEY_LOG || f == channel->file) {
            continue;
        }
        if (!channel->by_header || runs->run[runs->run_of_file[f]].logs > 1 ||
            column_named(file, channel->column->name) == NULL) {
            return true;
        }
    }
    return false;
}

static bool pressure_like(const struct bl_draft_channel *channel)
{
    return channel->volts || channel->column->quantity == BL_QUANTITY_PRESSURE;
}

/* Can a column of its quantity be what its name says? */
static bool fits(const struct bl_draft_channel *channel)
{
    const enum bl_quantity quantity = channel->column->quantity;
    switch (channel->wired) {
    case BL_WIRED_COMMAND:
        return pressure_like(channel) || quantity == BL_QUANTITY_SWITCH ||
               quantity == BL_QUANTITY_RATIO;
    case BL_WIRED_CONTROL:
    case BL_WIRED_RESERVOIR:
        return pressure_like(channel);
    case BL_WIRED_OUTPUT:
        return pressure_like(channel) || quantity == BL_QUANTITY_SWITCH;
    case BL_WIRED_VOLTAGE:
        return quantity == BL_QUANTITY_VOLTAGE && !channel->volts;
    case BL_WIRED_NOTHING:
        break;
    }
    return true;
}

static void add_channel(struct bl_wiring *wiring,
                        const struct bl_survey *survey, size_t file,
                        const struct bl_survey_column *column)
{
    struct bl_draft_channel *channel = &wiring->channel[wiring->channels];
    *channel = (struct bl_draft_channel){
        .file = file,
        .column = column,
        .by_header = by_header(&survey->file[file], column),
        .described = column->quantity == BL_QUANTITY_SWITCH ||
                     (column->quantity != BL_QUANTITY_NONE &&
                      column->quantity_unit != NULL),
        .volts = moves_in_volts(column),
        .unit = -1,
        .behind_s = NAN};
    channel->described = channel->described && !channel->volts;
    name_channel(wiring, channel);
    by_name(channel);
    if (!fits(channel)) {
        channel->wired = BL_WIRED_NOTHING;
        channel->unit = -1;
    }
    wiring->channels++;
}

/* Later than `from` where both are in one log; NaN else. */
static double behind_s(const struct bl_draft_channel *channel,
                       const struct bl_draft_channel *from)
{
    return channel->file == from->file
               ? bl_movement_behind_s(channel->column, from->column)
               : NAN;
}

static double full_kpa(const struct bl_draft_channel *channel)
{
    const struct bl_measurement_unit *unit =
        channel->column->quantity_unit == NULL
            ? NULL
            : bl_measurement_unit_find(channel->column->quantity_unit);
    return channel->column->high * (unit == NULL ? 1 : unit->factor);
}

/* A pressure whose name says so; else one that no name gives to a unit, that
   nothing else precedes, and that settles highest of those that rise with it.
 */
static void find_command(struct bl_wiring *wiring)
{
    wiring->command = -1;
    for (size_t i = 0; i < wiring->channels && wiring->command < 0; i++) {
        const struct bl_draft_channel *channel = &wiring->channel[i];
        if (channel->wired == BL_WIRED_COMMAND && pressure_like(channel) &&
            channel->column->rises > 0) {
            wiring->command = (long)i;
        }
    }
    double highest = 0;
    for (size_t i = 0; wiring->command < 0 && i < wiring->channels; i++) {
        const struct bl_draft_channel *channel = &wiring->channel[i];
        if (channel->wired != BL_WIRED_NOTHING || !channel->described ||
            !pressure_like(channel) || channel->column->rises == 0) {
            continue;
        }
        size_t others = 0;
        bool first = true;
        for (size_t j = 0; j < wiring->channels; j++) {
            const double behind = behind_s(&wiring->channel[j], channel);
            if (j != i && !isnan(behind)) {
                others++;
                first = first && behind >= -FIRST_S;
            }
        }
        if (first && others > 0 && full_kpa(channel) > highest) {
            highest = full_kpa(channel);
            wiring->command = (long)i;
        }
    }
    if (wiring->command >= 0) {
        struct bl_draft_channel *channel = &wiring->channel[wiring->command];
        if (channel->wired != BL_WIRED_COMMAND) {
            (void)snprintf(channel->why, sizeof(channel->why),
                           "it moves first and settles highest");
        }
        channel->wired = BL_WIRED_COMMAND;
        channel->unit = 0;
        channel->certain = channel->described;
    }
}

static const char *ordinal(size_t n)
{
    return n % 100 / 10 == 1 ? "th"
           : n % 10 == 1     ? "st"
           : n % 10 == 2     ? "nd"
           : n % 10 == 3     ? "rd"
                             : "th";
}

/* Pressures that no name gives to a unit: in the order in which they rise. */
static void by_order(struct bl_wiring *wiring, size_t units)
{
    const struct bl_draft_channel *command =
        wiring->command < 0 ? NULL : &wiring->channel[wiring->command];
    size_t free_channels = 0;
    bool named = false;
    for (size_t i = 0; command != NULL && i < wiring->channels; i++) {
        struct bl_draft_channel *channel = &wiring->channel[i];
        channel->behind_s = behind_s(channel, command);
        if (channel->unit >= 0) {
            named = named || channel->wired == BL_WIRED_OUTPUT;
            continue;
        }
        free_channels += pressure_like(channel) && !isnan(channel->behind_s);
    }
    /* A part of them by name says that the rest is something else. */
    if (command == NULL || named || free_channels == 0) {
        return;
    }
    for (size_t i = 0; i < wiring->channels; i++) {
        struct bl_draft_channel *channel = &wiring->channel[i];
        size_t place = 1;
        if (channel->unit >= 0 || !pressure_like(channel) ||
            isnan(channel->behind_s)) {
            continue;
        }
        for (size_t j = 0; j < wiring->channels; j++) {
            const struct bl_draft_channel *other = &wiring->channel[j];
            place += other != channel && other->unit < 0 &&
                     pressure_like(other) &&
                     (other->behind_s < channel->behind_s ||
                      (other->behind_s == channel->behind_s && j < i));
        }
        channel->wired = BL_WIRED_OUTPUT;
        /* As many as towed units: the towing vehicle's was not wired. */
        channel->unit = -2 - (int)(free_channels == units ? place : place - 1);
        (void)snprintf(channel->why, sizeof(channel->why),
                       "%zu%s to rise, %.3f s after the command", place,
                       ordinal(place), channel->behind_s);
    }
    for (size_t i = 0; i < wiring->channels; i++) {
        struct bl_draft_channel *channel = &wiring->channel[i];
        channel->unit =
            channel->unit <= -2 ? -2 - channel->unit : channel->unit;
    }
}

enum bl_status bl_wiring_find(const struct bl_survey *survey,
                              const struct bl_draft_runs *runs, size_t towed,
                              struct bl_wiring *out)
{
    size_t columns = 0;
    for (size_t f = 0; f < survey->files; f++) {
        columns += survey->file[f].columns;
    }
    *out =
        (struct bl_wiring){.channel = bl_alloc(columns, sizeof(*out->channel)),
                           .command = -1,
                           .units = -1};
    if (out->channel == NULL) {
        return BL_NOMEM;
    }
    for (size_t f = 0; f < survey->files; f++) {
        const struct bl_survey_file *file = &survey->file[f];
        for (size_t c = 0; c < file->columns; c++) {
            if (!known(out, survey, runs, f, &file->column[c])) {
                add_channel(out, survey, f, &file->column[c]);
            }
        }
    }
    find_command(out);
    by_order(out, towed);
    for (size_t i = 0; i < out->channels; i++) {
        struct bl_draft_channel *channel = &out->channel[i];
        channel->only_there = lacking(survey, runs, channel);
        if (channel->certain && channel->unit > out->units &&
            channel->wired != BL_WIRED_NOTHING) {
            out->units = channel->unit;
        }
    }
    return BL_OK;
}

void bl_wiring_finish(struct bl_wiring *wiring)
{
    bl_free(wiring->channel);
}
