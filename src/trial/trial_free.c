/* SPDX-License-Identifier: MIT */
/* Freeing a trial, whole or half built. */
#include "base/alloc.h"
#include "brakelag/trial.h"

#include <string.h>

static void free_words(char **word, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        bl_free(word[i]);
    }
    bl_free(word);
}

static void free_input(struct bl_trial_input *input)
{
    bl_free(input->text);
    bl_free(input->label);
}

static void free_pairs(struct bl_trial_pair *pair, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        bl_free(pair[i].key);
        bl_free(pair[i].value);
    }
    bl_free(pair);
}

static void free_unit(struct bl_trial_unit *unit)
{
    free_input(&unit->command);
    free_input(&unit->control);
    free_input(&unit->control_b);
    free_input(&unit->control_out);
    free_input(&unit->reservoir);
    free_input(&unit->voltage);
    for (size_t i = 0; i < unit->outputs; i++) {
        free_input(&unit->output[i]);
    }
    bl_free(unit->output);
    free_pairs(unit->label, unit->labels);
    bl_free(unit->id);
    bl_free(unit->name);
    bl_free(unit->bus);
    bl_free(unit->chambers);
}

static void free_channel(struct bl_trial_channel *channel)
{
    bl_free(channel->name);
    bl_free(channel->log);
    bl_free(channel->column);
    bl_free(channel->measured_in);
    bl_free(channel->calibrated);
    bl_free(channel->instrument);
}

static void free_clock(struct bl_trial_clock *clock)
{
    bl_free(clock->same_as);
    bl_free(clock->channel);
    bl_free(clock->signal);
}

static void free_runs(struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->recordings; i++) {
        struct bl_trial_recording *recording = &trial->recording[i];
        bl_free(recording->name);
        bl_free(recording->bus);
        free_words(recording->file, recording->files);
        free_clock(&recording->clock);
    }
    for (size_t i = 0; i < trial->runs; i++) {
        struct bl_trial_run *run = &trial->run[i];
        bl_free(run->name);
        bl_free(run->condition);
        bl_free(run->block);
        free_clock(&run->clock);
        for (size_t k = 0; k < run->exclusions; k++) {
            bl_free(run->exclude[k].why);
        }
        bl_free(run->exclude);
    }
    bl_free(trial->recording);
    bl_free(trial->run);
}

/* The options' text is const to readers of logs; it is the trial's own. */
static void free_option(const char *text)
{
    char *own;
    memcpy(&own, &text, sizeof(own));
    bl_free(own);
}

static void free_log(struct bl_trial_log *log)
{
    const struct bl_log_options *options = &log->options;
    bl_free(log->name);
    free_option(options->delimiter);
    free_option(options->decimal);
    free_option(options->encoding);
    free_option(options->time);
    free_option(options->time_form);
    free_option(options->date);
    free_option(options->timezone);
    free_option(options->layout);
}

static void free_others(struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->characteristics; i++) {
        bl_free(trial->characteristic[i].name);
        free_words(trial->characteristic[i].when,
                   trial->characteristic[i].whens);
    }
    for (size_t i = 0; i < trial->limits; i++) {
        bl_free(trial->limit[i].name);
    }
    for (size_t i = 0; i < trial->logs; i++) {
        free_log(&trial->log[i]);
    }
    bl_free(trial->characteristic);
    bl_free(trial->limit);
    bl_free(trial->log);
    free_pairs(trial->record, trial->records);
}

void bl_trial_destroy(struct bl_trial *trial)
{
    if (trial == NULL) {
        return;
    }
    for (size_t i = 0; i < trial->units; i++) {
        free_unit(&trial->unit[i]);
    }
    for (size_t i = 0; i < trial->channels; i++) {
        free_channel(&trial->channel[i]);
    }
    bl_free(trial->unit);
    bl_free(trial->channel);
    free_runs(trial);
    free_others(trial);
    free_words(trial->table, trial->table_count);
    bl_tables_destroy(trial->tables);
    bl_notes_finish(&trial->notes);
    bl_free(trial->speed_kmh);
    bl_free(trial->level_kpa);
    bl_free(trial->path);
    bl_free(trial->folder);
    bl_free(trial->name);
    bl_free(trial->date);
    bl_free(trial->place);
    bl_free(trial);
}
