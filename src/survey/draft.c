/* SPDX-License-Identifier: MIT */
/* A draft of a trial file. Guesses are marked, and what only a person knows is
   asked for in comments. */
#include "survey/draft.h"
#include "survey/internal.h"

#include "base/plain.h"

#include <stdio.h>
#include <string.h>

/* The header without a unit in brackets leads there too, where no other column
   is called so. */
static size_t bare_length(const char *name)
{
    size_t length = strcspn(name, "[(");
    while (length > 0 && name[length - 1] == ' ') {
        length--;
    }
    return length == 0 ? strlen(name) : length;
}

static bool bare_is_enough(const struct bl_survey_file *file,
                           const struct bl_survey_column *column)
{
    const size_t length = bare_length(column->name);
    for (size_t i = 0; i < file->columns; i++) {
        const char *other = file->column[i].name;
        if (&file->column[i] != column && bare_length(other) == length &&
            strncmp(other, column->name, length) == 0) {
            return false;
        }
    }
    return true;
}

static void write_column_key(struct bl_drafting *draft,
                             const struct bl_draft_channel *channel,
                             const char *off)
{
    const char *header = channel->column->name;
    const size_t length =
        bare_is_enough(&draft->survey->file[channel->file], channel->column)
            ? bare_length(header)
            : strlen(header);
    if (!channel->by_header) {
        bl_output_format(draft->output, "%scolumn = #%zu\n", off,
                         channel->column->index + 1);
    } else if (strlen(channel->name) != length ||
               strncmp(channel->name, header, length) != 0) {
        bl_output_format(draft->output, "%scolumn = %.*s\n", off, (int)length,
                         header);
    }
}

/* File names count from the draft's folder. */
static const char *path_before(const struct bl_drafting *draft,
                               const char *path)
{
    return draft->options == NULL || draft->options->folder == NULL ||
                   path[0] == '/'
               ? ""
               : draft->options->folder;
}

static void write_channel(struct bl_drafting *draft,
                          const struct bl_draft_channel *channel)
{
    struct bl_output *output = draft->output;
    const struct bl_survey_column *column = channel->column;
    const char *off = channel->described ? "" : "; ";
    char name[80];
    bl_output_format(output, "\n; \"%s\": %s%s\n",
                     bl_survey_clean(column->name, name, sizeof(name)),
                     column->guessed ? "guess: " : "",
                     channel->volts        ? "it moves as a pressure, in volts"
                     : column->why == NULL ? ""
                                           : column->why);
    for (size_t i = 0; bl_oddity_at(i) != 0; i++) {
        if ((column->oddities & bl_oddity_at(i)) != 0) {
            bl_output_format(output, "; look: it %s\n",
                             bl_oddity_meaning(bl_oddity_at(i)));
        }
    }
    bl_output_format(output, "%s[channel %s]\n", off, channel->name);
    if (channel->only_there) {
        const char *path = draft->survey->file[channel->file].path;
        bl_output_format(output, "%slog = %s%s\n", off,
                         path_before(draft, path), path);
    }
    write_column_key(draft, channel, off);
    if (channel->volts) {
        bl_output_text(output, "; quantity = pressure\n; measured_in = V\n"
                               "; scale = write it, such as 250 kPa/V\n"
                               "; zero = write it, such as -125 kPa\n");
        return;
    }
    if (!channel->described) {
        bl_output_text(output,
                       column->states
                           ? "; not measured: no key is needed\n"
                           : "; quantity = pressure, and measured_in\n");
        return;
    }
    bl_output_format(output, "quantity = %s\n",
                     bl_quantity_name(column->quantity));
    if (column->quantity != BL_QUANTITY_SWITCH) {
        bl_output_format(output, "measured_in = %s\n", column->quantity_unit);
    }
}

/* A name that could not be written as it is leads nowhere from the draft. */
static void write_hidden(struct bl_drafting *draft, const char *what,
                         const char *name)
{
    if (!bl_plain_is(name)) {
        bl_output_format(draft->output,
                         "; write a new name: that of this %s holds characters "
                         "that do not show\n",
                         what);
    }
}

/* A capture whose only bus has no name beside others of its run. */
static bool renamed(const struct bl_drafting *draft, size_t file)
{
    return draft->runs.bus_name[file][0] != '\0';
}

static const char *stated_order(const struct bl_drafting *draft)
{
    return draft->options == NULL ? NULL : draft->options->id_order;
}

/* A name that neither the draft nor the earlier file has. */
static void free_name(const struct bl_drafting *draft, const char *name,
                      char out[BL_DRAFT_NAME + 8])
{
    const struct bl_draft_options *options = draft->options;
    (void)snprintf(out, BL_DRAFT_NAME + 8, "%s", name);
    for (size_t n = 2; options != NULL; n++) {
        size_t i = 0;
        while (i < options->runs && strcmp(options->run[i], out) != 0) {
            i++;
        }
        if (i == options->runs) {
            return;
        }
        (void)snprintf(out, BL_DRAFT_NAME + 8, "%s_%zu", name, n);
    }
}

/* All recordings of a run are frames and channels of one file. */
static bool one_file(const struct bl_drafting *draft, size_t number)
{
    const struct bl_survey *survey = draft->survey;
    const struct bl_draft_run *run = &draft->runs.run[number];
    const char *path = NULL;
    for (size_t f = 0; f < survey->files; f++) {
        if (draft->runs.run_of_file[f] == number) {
            if (path != NULL && strcmp(path, survey->file[f].path) != 0) {
                return false;
            }
            path = survey->file[f].path;
        }
    }
    return run->captures > 0 && run->logs > 0;
}

static void write_run(struct bl_drafting *draft, size_t number)
{
    const struct bl_survey *survey = draft->survey;
    const struct bl_draft_run *run = &draft->runs.run[number];
    struct bl_output *output = draft->output;
    char name[BL_DRAFT_NAME + 8];
    const bool brief = run->captures <= 1 && run->logs <= 1 &&
                       (stated_order(draft) == NULL || run->captures == 0);
    free_name(draft, run->name, name);
    bl_output_format(output,
                     "\n[run %s]\ncondition = as recorded  ; write powered, "
                     "unpowered, ...\n"
                     "; power, data and control_air say what was done\n",
                     name);
    for (size_t f = 0; f < survey->files; f++) {
        if (draft->runs.run_of_file[f] == number && survey->file[f].untimed) {
            bl_output_format(output,
                             "; %s%s has no times: what reached which unit can "
                             "be told from it, no lag can\n",
                             path_before(draft, survey->file[f].path),
                             survey->file[f].path);
        }
        if (!brief || draft->runs.run_of_file[f] != number) {
            continue;
        }
        write_hidden(draft, "file", survey->file[f].path);
        bl_output_format(
            output, "%s = %s%s\n",
            survey->file[f].kind == BL_SURVEY_BUS ? "captures" : "logs",
            path_before(draft, survey->file[f].path), survey->file[f].path);
    }
    if (one_file(draft, number)) {
        bl_output_text(output, "; frames and channels are of one file: one "
                               "clock, nothing to align\n");
    } else if (run->captures > 0 && run->logs > 0) {
        bl_output_text(output,
                       "clock = auto  ; better: shared, offset or sync, "
                       "if you know it\n");
    }
    if (run->captures > 1 && run->logs == 0) {
        bl_output_text(output, "; clock = shared  ; write it, if one clock "
                               "made the stamps of all captures\n");
    }
    for (size_t f = 0; f < survey->files; f++) {
        if (brief || draft->runs.run_of_file[f] != number) {
            continue;
        }
        const bool bus = survey->file[f].kind == BL_SURVEY_BUS;
        bl_output_format(output,
                         "\n[recording %s_r%zu]\nrun = %s\nkind = %s\n"
                         "file = %s%s\n",
                         name, f + 1, name, bus ? "capture" : "log",
                         path_before(draft, survey->file[f].path),
                         survey->file[f].path);
        if (bus && stated_order(draft) != NULL) {
            bl_output_format(output, "can_id_order = %s\n",
                             stated_order(draft));
        }
        if (renamed(draft, f)) {
            bl_output_format(output, "bus = %s  ; guess: as its file\n",
                             draft->runs.bus_name[f]);
        }
        write_hidden(draft, "file", survey->file[f].path);
    }
}

static void write_head(struct bl_drafting *draft)
{
    const struct bl_tables *tables = draft->survey->tables;
    struct bl_output *output = draft->output;
    bl_output_text(output,
                   "; Draft of a trial file. Lines with \"guess\" or "
                   "\"likely\" were decided by\n; looking at the recordings: "
                   "check each. Lines with \"write\" need what only\n; you "
                   "know. File names count from the folder of this file.\n\n"
                   "[trial]\nname = draft  ; write what was tried, and where\n"
                   "speeds = 60, 80, 100 km/h\n");
    if (tables != NULL && bl_tables_count(tables) > 0) {
        bl_output_text(output, "tables = ");
        for (size_t i = 0; i < bl_tables_count(tables); i++) {
            bl_output_format(output, "%s%s", i == 0 ? "" : ", ",
                             bl_tables_info(tables, i)->name);
        }
        bl_output_text(output, "\n");
    }
}

static void write_log_options(struct bl_drafting *draft)
{
    const struct bl_draft_options *options = draft->options;
    if (options == NULL || (options->time == NULL && options->rate == NULL)) {
        return;
    }
    bl_output_text(draft->output, "\n[log *]\n");
    if (options->time != NULL) {
        bl_output_format(draft->output, "time = %s\n", options->time);
    }
    if (options->rate != NULL) {
        bl_output_format(draft->output, "rate = %s\n", options->rate);
    }
}

static void write_whole(struct bl_drafting *draft)
{
    write_head(draft);
    bl_draft_units(draft);
    for (size_t i = 0; i < draft->wiring.channels; i++) {
        write_channel(draft, &draft->wiring.channel[i]);
    }
}

static void write_draft(struct bl_drafting *draft)
{
    const struct bl_draft_options *options = draft->options;
    const bool more = options != NULL && options->earlier != NULL;
    if (more) {
        bl_output_write(draft->output, options->earlier,
                        options->earlier_length);
    }
    bl_output_plain(draft->output);
    if (!more) {
        write_whole(draft);
    }
    for (size_t i = 0; i < draft->runs.runs; i++) {
        write_run(draft, i);
    }
    if (!more) {
        write_log_options(draft);
        bl_output_text(draft->output,
                       "\n[record]\n; date = 2026-03-01, the day of the trial\n"
                       "; place = where it was\n");
        bl_output_text(draft->output,
                       "\n; Another run of the same train: one more section "
                       "[run NAME] with its files.\n; `brakelag survey "
                       "--more-of THIS_FILE RECORDING...` writes it.\n");
    }
}

struct bl_draft_options bl_draft_options_default(void)
{
    return (struct bl_draft_options){0};
}

/* A list of files is parted at commas, and a comment begins at a blank and ';'
   (or '#'): such a name would be read as another. */
static bool can_be_written(const char *name)
{
    for (const char *c = name; *c != '\0'; c++) {
        const bool comment = (*c == ';' || *c == '#') &&
                             (c == name || c[-1] == ' ' || c[-1] == '\t');
        if (*c == ',' || comment) {
            return false;
        }
    }
    return name[0] != ' ' && (name[0] == '\0' || name[strlen(name) - 1] != ' ');
}

static enum bl_status check_names(const struct bl_survey *survey,
                                  struct bl_error *error)
{
    for (size_t f = 0; f < survey->files; f++) {
        if (!can_be_written(survey->file[f].path)) {
            return bl_fail(error, BL_ARG, survey->file[f].path,
                           "expected a name that a trial file can hold: "
                           "without a comma, without ';' or '#' behind a "
                           "blank, and without a blank at an end; rename it");
        }
    }
    return BL_OK;
}

enum bl_status bl_survey_draft(const struct bl_survey *survey,
                               const struct bl_draft_options *options,
                               struct bl_output *output, struct bl_error *error)
{
    struct bl_drafting draft = {
        .survey = survey, .options = options, .output = output};
    const bool more = options != NULL && options->earlier != NULL;
    enum bl_status status = check_names(survey, error);
    if (status != BL_OK) {
        return status;
    }
    if (bl_draft_runs_find(survey, more, &draft.runs) != BL_OK) {
        return bl_fail_memory(error);
    }
    status = bl_chain_find(survey, &draft.runs, &draft.chain);
    if (status == BL_OK) {
        status = bl_wiring_find(survey, &draft.runs, draft.chain.units,
                                &draft.wiring);
    }
    if (status == BL_OK) {
        write_draft(&draft);
    }
    bl_wiring_finish(&draft.wiring);
    bl_draft_runs_finish(&draft.runs);
    return status == BL_OK ? BL_OK : bl_fail_memory(error);
}
