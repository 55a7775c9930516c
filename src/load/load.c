/* SPDX-License-Identifier: MIT */
/*
 * A run's recordings into one store of series.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/limits.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

static enum bl_status start_recording(struct bl_loaded_recording *into,
                                      const struct bl_trial *trial,
                                      size_t index, struct bl_error *error)
{
    const struct bl_trial_recording *recording = &trial->recording[index];
    into->recording = index;
    into->kind = recording->kind;
    into->file = bl_alloc(recording->files, sizeof(*into->file));
    if (into->file == NULL) {
        return bl_fail_memory(error);
    }
    into->files = recording->files;
    for (size_t i = 0; i < recording->files; i++) {
        into->file[i].path = recording->file[i];
    }
    return BL_OK;
}

static enum bl_status list_recordings(struct bl_run_store *store,
                                      const struct bl_trial *trial, size_t run,
                                      struct bl_error *error)
{
    struct bl_run_data *data = &store->data;
    for (size_t i = 0; i < trial->recordings; i++) {
        if (trial->recording[i].run != run) {
            continue;
        }
        const enum bl_status status = start_recording(
            &data->recording[data->recordings], trial, i, error);
        if (status != BL_OK) {
            return status;
        }
        data->recordings++;
        store->logs++;
    }
    return BL_OK;
}

/* A channel must mean one column of one log. */
static enum bl_status no_channel_twice(const struct bl_run_data *data,
                                       const struct bl_trial *trial,
                                       struct bl_error *error)
{
    for (size_t i = 0; i < data->channels; i++) {
        const struct bl_channel_series *first =
            bl_run_channel(data, (long)data->channel[i].channel);
        if (first == &data->channel[i]) {
            continue;
        }
        const struct bl_trial_channel *channel =
            &trial->channel[data->channel[i].channel];
        return bl_fail_line(
            error, BL_TRIAL, trial->path, channel->line,
            "channel '%s': expected one log that has it, found %s and %s; add "
            "'log = ...'",
            channel->name, data->recording[first->recording].file[0].path,
            data->recording[data->channel[i].recording].file[0].path);
    }
    return BL_OK;
}

static bool logs_were_read(const struct bl_run_data *data)
{
    size_t logs = 0;
    for (size_t i = 0; i < data->recordings; i++) {
        const struct bl_loaded_recording *r = &data->recording[i];
        if (r->kind == BL_RECORDING_LOG) {
            if (r->status != BL_OK) {
                return false;
            }
            logs++;
        }
    }
    return logs > 1;
}

/* Of several logs, a channel that names none may be in any; one that is in none
   of them is missing. */
static enum bl_status note_in_no_log(struct bl_run_data *data,
                                     const struct bl_trial *trial)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; logs_were_read(data) && i < trial->channels; i++) {
        const struct bl_trial_channel *channel = &trial->channel[i];
        if (channel->log == NULL && bl_run_channel(data, (long)i) == NULL &&
            status == BL_OK) {
            status = bl_note_each(
                &data->notes, "column-missing", -1,
                "%s:%lld: channel '%s': there is no column '%s' in any log of "
                "run '%s'",
                trial->path, (long long)channel->line, channel->name,
                channel->column != NULL ? channel->column : channel->name,
                trial->run[data->run].name);
        }
    }
    return status;
}

/* Nothing at all could be read: then the first failure is the answer. */
static enum bl_status any_read(const struct bl_run_data *data,
                               const struct bl_trial *trial,
                               struct bl_error *error)
{
    const struct bl_loaded_recording *failed = NULL;
    for (size_t i = 0; i < data->recordings; i++) {
        const struct bl_loaded_recording *r = &data->recording[i];
        if (r->frames > 0 || r->rows > 0) {
            return BL_OK;
        }
        if (r->status != BL_OK && failed == NULL) {
            failed = r;
        }
    }
    if (failed != NULL) {
        return bl_fail(error, failed->status, "", "%s", failed->failure);
    }
    return bl_fail(error, BL_NODATA, "",
                   "run '%s': the recordings hold no frame and no row",
                   trial->run[data->run].name);
}

/* One capture in which buses have no names may hold any of them. */
static bool may_hold(const struct bl_run_data *data, const char *bus)
{
    bool captures = false;
    for (size_t i = 0; i < data->recordings; i++) {
        const struct bl_loaded_recording *r = &data->recording[i];
        for (size_t k = 0; k < r->buses; k++) {
            captures = true;
            if (r->bus[k][0] == '\0' || strcmp(r->bus[k], bus) == 0) {
                return true;
            }
        }
    }
    return !captures;
}

/* The units on the bus of unit `index`; is that the first of them? */
static bool first_on(const struct bl_trial *trial, size_t index, bool *on)
{
    size_t first = trial->units;
    for (size_t i = trial->units; i-- > 0;) {
        on[i] = trial->unit[i].bus != NULL &&
                strcmp(trial->unit[i].bus, trial->unit[index].bus) == 0;
        first = on[i] ? i : first;
    }
    return first == index;
}

/* A link that was not recorded, or whose name is misspelt in the trial: the
   unit's figures of the demand are then missing for that reason only. */
static enum bl_status note_unrecorded(struct bl_run_data *data,
                                      const struct bl_trial *trial)
{
    const struct bl_trial_run *run = &trial->run[data->run];
    if (run->power == BL_STATED_OFF || run->data == BL_STATED_OFF) {
        return BL_OK;
    }
    bool *on = bl_alloc(trial->units + 1, sizeof(*on));
    enum bl_status status = on == NULL ? BL_NOMEM : BL_OK;
    for (size_t i = 0; status == BL_OK && i < trial->units; i++) {
        const char *bus = trial->unit[i].bus;
        if (bus != NULL && first_on(trial, i, on) && !may_hold(data, bus)) {
            char names[BL_UNIT_CALLED];
            status = bl_note_each(
                &data->notes, "bus-not-recorded", -1,
                "%s: no recording of this run has the bus '%s'; `brakelag "
                "survey` on a capture lists the buses it has",
                bl_trial_units_called(trial, on, names, sizeof(names)), bus);
        }
    }
    bl_free(on);
    return status;
}

enum bl_status bl_load_run(struct bl_run_data **out,
                           const struct bl_trial *trial, size_t run,
                           struct bl_error *error)
{
    const long cores = sysconf(_SC_NPROCESSORS_ONLN);
    return bl_load_run_with(out, trial, run, cores < 1 ? 1 : (size_t)cores,
                            BL_LIMIT_LOG_WHOLE, error);
}

enum bl_status bl_load_run_with(struct bl_run_data **out,
                                const struct bl_trial *trial, size_t run,
                                size_t threads, size_t whole_bytes,
                                struct bl_error *error)
{
    *out = NULL;
    if (run >= trial->runs) {
        return bl_fail(error, BL_ARG, "", "there is no run number %zu", run);
    }
    const uint64_t refused = bl_alloc_refused();
    struct bl_run_store *store = bl_alloc(1, sizeof(*store));
    if (store == NULL) {
        return bl_fail_memory(error);
    }
    struct bl_run_data *data = &store->data;
    data->run = run;
    store->whole_bytes = whole_bytes;
    data->recording = bl_alloc(trial->recordings, sizeof(*data->recording));
    store->log = bl_alloc(trial->recordings, sizeof(*store->log));
    enum bl_status status = BL_OK;
    if (data->recording == NULL || store->log == NULL) {
        status = bl_fail_memory(error);
    }
    if (status == BL_OK) {
        status = list_recordings(store, trial, run, error);
    }
    if (status == BL_OK) {
        status = bl_load_recordings(store, trial, threads, error);
    }
    bl_damage_finish(data);
    if (bl_times_finish(data) != BL_OK && status == BL_OK) {
        status = bl_fail_memory(error);
    }
    if (status == BL_OK) {
        status = no_channel_twice(data, trial, error);
    }
    if (status == BL_OK) {
        status = any_read(data, trial, error);
    }
    if (status == BL_OK) {
        status = note_unrecorded(data, trial);
    }
    if (status == BL_OK) {
        status = note_in_no_log(data, trial);
    }
    if (status == BL_NOMEM ||
        (status == BL_OK && bl_alloc_refused() != refused)) {
        status = bl_fail_memory(error);
    }
    if (status != BL_OK) {
        bl_run_data_destroy(data);
        return status;
    }
    *out = data;
    return BL_OK;
}

static void finish_log(struct bl_log_samples *s)
{
    bl_free(s->time_ns);
    bl_free(s->part_start);
    for (size_t c = 0; c < s->values; c++) {
        bl_free(s->value[c]);
    }
    bl_free(s->value);
    bl_free(s->value_capacity);
    bl_quiet_finish(&s->quiet);
    bl_apart_finish(s);
}

void bl_run_data_drop_series(struct bl_run_data *data)
{
    if (data == NULL) {
        return;
    }
    struct bl_run_store *store = (struct bl_run_store *)data;
    for (size_t i = 0; i < store->logs; i++) {
        finish_log(&store->log[i]);
    }
    for (size_t i = 0; i < data->series_count; i++) {
        bl_free(store->segments[i]);
    }
    store->logs = data->channels = data->series_count = 0;
}

void bl_run_data_destroy(struct bl_run_data *data)
{
    if (data == NULL) {
        return;
    }
    struct bl_run_store *store = (struct bl_run_store *)data;
    bl_run_data_drop_series(data);
    for (size_t i = 0; i < data->recordings; i++) {
        bl_free(data->recording[i].file);
        bl_free(data->recording[i].bus);
        bl_free(data->recording[i].damage);
        bl_free(data->recording[i].times.place);
        bl_notes_finish(&data->recording[i].notes);
    }
    bl_links_destroy(&data->links);
    bl_free(store->segments);
    bl_free(store->log);
    bl_free(data->recording);
    bl_free(data->channel);
    bl_free(data->series);
    bl_notes_finish(&data->notes);
    bl_free(store);
}

const struct bl_channel_series *bl_run_channel(const struct bl_run_data *data,
                                               long channel)
{
    for (size_t i = 0; i < data->channels; i++) {
        if ((long)data->channel[i].channel == channel) {
            return &data->channel[i];
        }
    }
    return NULL;
}
