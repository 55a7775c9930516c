/* SPDX-License-Identifier: MIT */
/*
 * An analog log to samples: only the columns that the trial's channels name,
 * in canonical units, one time array for all of them.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* A trial's channel as found in this log. */
struct taken {
    size_t channel;
    size_t column; /* index into bl_log_info.column */
    size_t group;  /* of it */
    struct bl_conversion conversion;
    struct bl_seen_build seen;
    struct bl_spikes spikes;
    struct bl_range range;
    struct bl_held held; /* of a switch */
    double written_ratio;
};

struct bl_log_build {
    const struct bl_trial *trial;
    const struct bl_trial_recording *recording;
    struct bl_loaded_recording *into;
    struct bl_log_samples *samples;
    struct taken *taken;
    size_t count;
    uint16_t part_base;
    int64_t shift_ns;       /* see place_part */
    int64_t *part_shift_ns; /* of each part of the present file */
    size_t part_shifts, part_shift_capacity;
    struct bl_log_keep keep;
    size_t whole_bytes;
    size_t damages; /* of the present file, that were taken */
    bool damaged;   /* rows behind the latest one could not be read */
};

/* How a written number becomes the canonical unit. */
static enum bl_status scaling(const struct bl_log_build *b,
                              const struct bl_trial_channel *channel,
                              const struct bl_log_column *column,
                              struct taken *t, struct bl_error *error)
{
    struct bl_conversion *out = &t->conversion;
    bl_conversion_start(out);
    t->written_ratio =
        fmax(t->written_ratio,
             bl_log_note_contradiction(&b->into->notes, channel, column));
    if (!isnan(channel->scale)) {
        out->scale = channel->scale;
        out->zero = isnan(channel->zero) ? 0 : channel->zero;
        return BL_OK;
    }
    if (channel->quantity == BL_QUANTITY_SWITCH ||
        channel->quantity == BL_QUANTITY_NONE) {
        return BL_OK;
    }
    const char *name =
        channel->measured_in != NULL ? channel->measured_in : column->unit;
    const struct bl_measurement_unit *unit =
        name == NULL ? NULL : bl_measurement_unit_find(name);
    if (unit == NULL || unit->quantity != channel->quantity) {
        return bl_fail_line(
            error, BL_TRIAL, b->trial->path, channel->line,
            "channel '%s': expected a unit of %s for column '%s', found %s%s%s;"
            " add 'measured_in'",
            channel->name, bl_quantity_name(channel->quantity), column->name,
            name == NULL ? "none in the log" : "'", name == NULL ? "" : name,
            name == NULL ? "" : "'");
    }
    out->scale = unit->factor;
    out->zero = unit->shift + (isnan(channel->zero) ? 0 : channel->zero);
    return BL_OK;
}

static enum bl_status find_columns(struct bl_log_build *b,
                                   const struct bl_log_info *info,
                                   struct bl_error *error)
{
    const bool only_log = bl_logs_of_run(b->trial, b->recording->run) == 1;
    b->taken = bl_alloc(b->trial->channels, sizeof(*b->taken));
    if (b->taken == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < b->trial->channels; i++) {
        const struct bl_trial_channel *channel = &b->trial->channel[i];
        const bool named =
            channel->log != NULL && bl_trial_channel_in(channel, b->recording);
        if (channel->log != NULL && !named && !only_log) {
            continue;
        }
        const char *wanted =
            channel->column != NULL ? channel->column : channel->name;
        const long column = bl_log_find(info, wanted);
        if (column == -2) {
            return bl_fail_line(error, BL_TRIAL, b->trial->path, channel->line,
                                "channel '%s': expected one column '%s' in %s, "
                                "found several; use '#3' to count columns",
                                channel->name, wanted, b->recording->file[0]);
        }
        if (column < 0) {
            if ((named ||
                 (only_log && !bl_trial_channel_elsewhere(
                                  b->trial, channel, b->recording->run))) &&
                bl_log_note_missing(&b->into->notes, b->trial, channel,
                                    b->recording->file[0], info) != BL_OK) {
                return bl_fail_memory(error);
            }
            continue;
        }
        struct taken *t = &b->taken[b->count];
        *t = (struct taken){.channel = i,
                            .column = (size_t)column,
                            .group = info->column[column].group};
        bl_seen_start(&t->seen);
        bl_spikes_start(&t->spikes, channel->quantity);
        bl_range_start(&t->range, channel);
        bl_held_start(&t->held);
        const enum bl_status status =
            scaling(b, channel, &info->column[column], t, error);
        if (status != BL_OK) {
            return status;
        }
        b->count++;
    }
    return BL_OK;
}

/* A later file is read by its own names and units, as far as it has any. */
static enum bl_status find_again(struct bl_log_build *b,
                                 const struct bl_log_info *info,
                                 const char *file, struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (size_t c = 0; c < b->count && status == BL_OK; c++) {
        struct taken *t = &b->taken[c];
        const struct bl_trial_channel *channel = &b->trial->channel[t->channel];
        const char *wanted =
            channel->column != NULL ? channel->column : channel->name;
        const long found = bl_log_find(info, wanted);
        if (found < 0 && !(t->column < info->columns &&
                           info->column[t->column].name[0] == '\0')) {
            return bl_fail(error, BL_FORMAT, file,
                           "expected column '%s' as in the file before, found "
                           "%s; state it as '#3' to count columns",
                           wanted, found == -2 ? "several" : "none");
        }
        t->column = found < 0 ? t->column : (size_t)found;
        t->group = info->column[t->column].group;
        if (info->column[t->column].unit != NULL) {
            status = scaling(b, channel, &info->column[t->column], t, error);
        }
    }
    return status;
}

static enum bl_status make_arrays(struct bl_log_build *b,
                                  struct bl_error *error)
{
    struct bl_log_samples *s = b->samples;
    s->value = bl_alloc(b->count, sizeof(*s->value));
    s->value_capacity = bl_alloc(b->count, sizeof(*s->value_capacity));
    s->group = bl_alloc(b->count, sizeof(*s->group));
    s->values = b->count;
    if (s->value == NULL || s->value_capacity == NULL || s->group == NULL) {
        s->values = 0;
        return bl_fail_memory(error);
    }
    if (bl_quiet_start(&s->quiet, b->count) != BL_OK ||
        bl_keep_start(&b->keep, b->trial, b->count, b->whole_bytes) != BL_OK) {
        return bl_fail_memory(error);
    }
    for (size_t c = 0; c < b->count; c++) {
        bl_keep_channel(&b->keep, c, b->taken[c].channel);
        s->group[c] = b->taken[c].group;
    }
    return BL_OK;
}

static enum bl_status room_for(struct bl_log_samples *s, size_t rows)
{
    if (!bl_grow(&s->time_ns, &s->time_capacity, s->count + rows,
                 sizeof(*s->time_ns), BL_LIMIT_SAMPLES)) {
        return BL_NOMEM;
    }
    for (size_t c = 0; c < s->values; c++) {
        if (!bl_grow(&s->value[c], &s->value_capacity[c], s->count + rows,
                     sizeof(**s->value), BL_LIMIT_SAMPLES)) {
            return BL_NOMEM;
        }
    }
    return BL_OK;
}

static enum bl_status mark_part(struct bl_log_samples *s, uint16_t part)
{
    while (s->parts < (size_t)part + 1) {
        if (!bl_grow(&s->part_start, &s->part_capacity, s->parts + 1,
                     sizeof(*s->part_start), 1u << 20)) {
            return BL_NOMEM;
        }
        s->part_start[s->parts++] = s->count;
    }
    return BL_OK;
}

/* After a jump back, later stamps would lie among earlier ones. They are moved
   to one second after the jump; nothing is measured from one part to
   another. */
static void place_part(struct bl_log_build *b, const struct bl_log_block *block,
                       size_t first)
{
    const struct bl_log_samples *s = b->samples;
    const size_t part = (size_t)block->part + b->part_base;
    if (s->count == 0 || part < s->parts) {
        return;
    }
    const int64_t last = s->time_ns[s->count - 1];
    if (block->time_ns[first] <= last - b->shift_ns) {
        b->shift_ns = last + 1000000000 - block->time_ns[first];
        (void)bl_note(&b->into->notes, "part-moved", -1, -1,
                      "time jumps back: what follows is placed behind it, and "
                      "no figure spans the jump");
    }
}

/* The rows whose times can be reckoned with: first and end. Rows outside are
   counted and left out. */
static enum bl_status usable_rows(struct bl_log_build *b,
                                  const struct bl_log_block *block,
                                  int64_t shift_ns, size_t *first, size_t *end)
{
    const int64_t most = BL_LIMIT_TIME_NS;
    const size_t from = *first;
    const size_t to = *end;
    while (*first < *end && block->time_ns[*first] < -most) {
        (*first)++;
    }
    while (*end > *first && block->time_ns[*end - 1] > most - shift_ns) {
        (*end)--;
    }
    enum bl_status status = BL_OK;
    for (size_t i = (*first - from) + (to - *end); i > 0 && status == BL_OK;
         i--) {
        status = bl_note(&b->into->notes, "impossible-time", -1, -1,
                         "expected times within 146 years of 0, found others; "
                         "these rows are left out");
    }
    return status;
}

/* Without spikes, as far as what follows is known. */
static void settle(struct bl_log_build *b, bool last)
{
    struct bl_log_samples *s = b->samples;
    const size_t from = s->settled;
    const size_t to = bl_spikes_until(s, last);
    if (to <= from) {
        return;
    }
    for (size_t c = 0; c < b->count; c++) {
        struct taken *t = &b->taken[c];
        bl_spikes_remove(&t->spikes, s, c, to, t->seen.seen.step);
        bl_seen_feed(&t->seen, s->value[c] + from, to - from);
        bl_range_feed(&t->range, s->value[c] + from, to - from);
        if (b->trial->channel[t->channel].quantity == BL_QUANTITY_SWITCH) {
            bl_held_feed(&t->held, s->value[c] + from, to - from);
            bl_held_take(&t->held, &t->conversion);
        }
    }
    s->settled = to;
}

static enum bl_status take_block(struct bl_log_build *b,
                                 const struct bl_log_block *block)
{
    struct bl_log_samples *s = b->samples;
    size_t first = 0;
    size_t end = block->rows;
    enum bl_status status = usable_rows(b, block, 0, &first, &end);
    if (status == BL_OK && first < end) {
        place_part(b, block, first);
        status = usable_rows(b, block, b->shift_ns, &first, &end);
    }
    if (status != BL_OK || first == end) {
        return status;
    }
    const size_t rows = end - first;
    if (room_for(s, rows) != BL_OK ||
        mark_part(s, (uint16_t)(block->part + b->part_base)) != BL_OK) {
        return BL_NOMEM;
    }
    for (size_t c = 0; c < b->count; c++) {
        struct taken *t = &b->taken[c];
        float *into = s->value[c] + s->count;
        bl_convert(&t->conversion, into, block->value[t->column] + first, rows);
    }
    for (size_t i = 0; i < rows; i++) {
        const int64_t t = block->time_ns[first + i] + b->shift_ns;
        s->time_ns[s->count + i] = t;
        if (b->into->rows == 0 || t < b->into->first_ns) {
            b->into->first_ns = t;
        }
        if (b->into->rows == 0 || t > b->into->last_ns) {
            b->into->last_ns = t;
        }
        b->into->rows++;
    }
    s->count += rows;
    settle(b, false);
    return bl_keep_rows(&b->keep, s);
}

/* By how much each part of the file was moved. */
static enum bl_status keep_shift(struct bl_log_build *b, uint16_t part)
{
    while (b->part_shifts <= part) {
        if (!bl_grow(&b->part_shift_ns, &b->part_shift_capacity,
                     b->part_shifts + 1, sizeof(*b->part_shift_ns), 1u << 20)) {
            return BL_NOMEM;
        }
        b->part_shift_ns[b->part_shifts++] = b->shift_ns;
    }
    return BL_OK;
}

/* What comes after `before_ns` in the next file of the same recording: is
   anything missing between? */
static enum bl_status between_files(struct bl_log_build *b, int64_t before_ns,
                                    int64_t behind_ns)
{
    const struct bl_time_places *times = &b->into->times;
    const int64_t usual_ns = times->interval_ns;
    if (before_ns == INT64_MIN || behind_ns < before_ns || usual_ns == 0 ||
        behind_ns - before_ns <=
            usual_ns + usual_ns / 2 + 5 * times->jitter_ns) {
        return BL_OK;
    }
    const struct bl_time_place place = {
        .kind = BL_TIME_LONG,
        .from_ns = before_ns,
        .until_ns = behind_ns,
        .off_ns = behind_ns - before_ns - usual_ns,
        .step_ns = behind_ns - before_ns - usual_ns};
    return bl_times_add(b->into, &place);
}

static enum bl_status read_blocks(struct bl_log_build *b,
                                  struct bl_log_reader *reader,
                                  struct bl_error *error)
{
    for (;;) {
        struct bl_log_block block = {0};
        const enum bl_status status = bl_log_next(reader, &block, error);
        if (status != BL_OK || block.rows == 0) {
            return status;
        }
        const struct bl_log_samples *s = b->samples;
        if (s->count > 0 && s->parts > 0 && b->part_base > 0 &&
            block.part == 0 &&
            block.time_ns[0] >= s->time_ns[s->count - 1] - b->shift_ns) {
            /* The next file goes on where the one before stopped. */
            b->part_base = (uint16_t)(s->parts - 1);
        }
        const int64_t before_ns =
            b->into->rows > 0 ? b->into->last_ns : INT64_MIN;
        const bool first = b->part_shifts == 0;
        if (take_block(b, &block) != BL_OK ||
            keep_shift(b, block.part) != BL_OK ||
            (first && between_files(b, before_ns,
                                    block.time_ns[0] + b->shift_ns) != BL_OK) ||
            bl_damage_take(b->into, bl_log_info(reader), &b->damages,
                           block.part, before_ns, b->shift_ns) != BL_OK) {
            return bl_fail_memory(error);
        }
        if (b->damaged && b->into->rows > 0) {
            b->damaged = false;
            if (bl_damage_add(b->into, before_ns,
                              block.time_ns[0] + b->shift_ns) != BL_OK) {
                return bl_fail_memory(error);
            }
        }
    }
}

/* Only what the trial names is turned into numbers. */
static enum bl_status select_taken(const struct bl_log_build *b,
                                   struct bl_log_reader *reader,
                                   struct bl_error *error)
{
    size_t *column = bl_alloc(b->count, sizeof(*column));
    if (column == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t c = 0; c < b->count; c++) {
        column[c] = b->taken[c].column;
    }
    const enum bl_status status =
        bl_log_select(reader, column, b->count, error);
    bl_free(column);
    return status;
}

static enum bl_status read_open_log(struct bl_log_build *b,
                                    struct bl_log_reader *reader, size_t file,
                                    struct bl_error *error)
{
    const struct bl_log_info *info = bl_log_info(reader);
    enum bl_status status = BL_OK;
    if (file == 0) {
        status = find_columns(b, info, error);
        if (status == BL_OK) {
            status = make_arrays(b, error);
        }
        b->into->absolute_time = info->absolute_time;
    } else {
        status = find_again(b, info, b->recording->file[file], error);
    }
    if (status != BL_OK) {
        return status;
    }
    status = select_taken(b, reader, error);
    if (status == BL_OK) {
        status = read_blocks(b, reader, error);
    }
    if (bl_times_take(b->into, &info->times, b->part_shift_ns, b->part_shifts,
                      0) != BL_OK) {
        status = bl_fail_memory(error);
    }
    b->part_shifts = 0;
    b->damaged = b->damaged || info->after_damage || status != BL_OK;
    b->into->resolution_ns = info->resolution_ns;
    if (bl_notes_append(&b->into->notes, &info->notes) != BL_OK) {
        status = bl_fail_memory(error);
    }
    return status;
}

static enum bl_status read_log_file(struct bl_log_build *b, size_t file,
                                    struct bl_error *error)
{
    struct bl_bytes *source = NULL;
    struct bl_log_reader *reader = NULL;
    enum bl_status status =
        bl_bytes_open(&source, b->recording->file[file], error);
    if (status != BL_OK) {
        return status;
    }
    const struct bl_trial_log *stated =
        bl_trial_log_for(b->trial, b->recording);
    status = bl_log_open(&reader, source,
                         stated == NULL ? NULL : &stated->options, error);
    if (status == BL_OK) {
        status = read_open_log(b, reader, file, error);
    }
    if (bl_damage_packed(b->into, source, status) != BL_OK) {
        status = bl_fail_memory(error);
    }
    bl_log_close(reader);
    struct bl_error second;
    const enum bl_status finished = bl_bytes_drain(
        source, &b->into->file[file].stored, status == BL_OK ? error : &second);
    bl_bytes_close(source);
    return status != BL_OK ? status : finished;
}

static enum bl_status keep_channels(struct bl_run_store *store,
                                    struct bl_log_build *b, size_t index,
                                    struct bl_error *error)
{
    struct bl_run_data *data = &store->data;
    struct bl_log_samples *s = b->samples;
    for (size_t c = 0; c < b->count; c++) {
        const struct taken *t = &b->taken[c];
        const struct bl_trial_channel *channel = &b->trial->channel[t->channel];
        if (!bl_grow(&data->channel, &store->channel_capacity,
                     data->channels + 1, sizeof(*data->channel),
                     (size_t)BL_LIMIT_TRIAL_ITEMS * 16)) {
            return bl_fail_memory(error);
        }
        struct bl_channel_series *series = &data->channel[data->channels];
        *series = (struct bl_channel_series){
            .channel = t->channel,
            .recording = index,
            .missing = t->conversion.missing,
            .at_range_end = bl_range_met(&t->range, &t->seen.seen),
            .spikes = t->spikes.count,
            .written_ratio = t->written_ratio,
            .seen = t->seen.seen,
            .quiet_rows = s->quiet.rows,
            .quiet = s->quiet.value[c],
            .quiets = s->quiet.count};
        series->samples = (struct bl_samples){
            .time_ns = s->time_ns,
            .value = s->value[c],
            .count = s->count,
            .part_start = s->part_start,
            .parts = s->parts,
            .is_switch = channel->quantity == BL_QUANTITY_SWITCH,
        };
        if (series->samples.is_switch) {
            bl_switch_series(series, channel, &t->conversion, s, c);
        }
        if (bl_apart_take(s, c, &series->samples) != BL_OK ||
            (!series->samples.is_switch &&
             bl_frozen_remove(series, s->value[c],
                              &store->data.recording[index],
                              channel->name) != BL_OK)) {
            return bl_fail_memory(error);
        }
        const enum bl_status status =
            bl_samples_describe(&series->samples, t->seen.seen.step, error);
        if (status != BL_OK) {
            return status;
        }
        if (!isnan(channel->resolution)) {
            series->samples.resolution = channel->resolution;
        }
        data->channels++;
    }
    return BL_OK;
}

enum bl_status bl_log_read(struct bl_log_build **out,
                           struct bl_run_store *store,
                           const struct bl_trial *trial, size_t index,
                           struct bl_error *error)
{
    struct bl_loaded_recording *into = &store->data.recording[index];
    struct bl_log_build *b = bl_alloc(1, sizeof(*b));
    *out = b;
    if (b == NULL) {
        return bl_fail_memory(error);
    }
    b->trial = trial;
    b->recording = &trial->recording[into->recording];
    b->into = into;
    b->samples = &store->log[index];
    b->whole_bytes = store->whole_bytes;
    for (size_t i = 0; i < b->recording->files; i++) {
        struct bl_error local;
        bl_error_clear(&local);
        b->part_base = (uint16_t)b->samples->parts;
        b->damages = 0;
        const enum bl_status read = read_log_file(b, i, &local);
        if (read == BL_NOMEM || read == BL_TRIAL) {
            if (error != NULL) {
                *error = local;
            }
            return read;
        }
        if (read != BL_OK) {
            b->damaged = true;
            bl_loaded_failed(into, &local);
        }
    }
    settle(b, true);
    for (size_t c = 0; c < b->count; c++) {
        const struct bl_trial_channel *channel =
            &trial->channel[b->taken[c].channel];
        if (bl_spikes_note(&b->taken[c].spikes, into, channel->name,
                           bl_quantity_unit(channel->quantity)) != BL_OK) {
            return bl_fail_memory(error);
        }
    }
    if (b->damaged &&
        (into->rows > 0 ? bl_damage_add(into, into->last_ns, INT64_MAX)
                        : bl_loaded_unusable(into)) != BL_OK) {
        return bl_fail_memory(error);
    }
    return bl_keep_last(&b->keep, b->samples) == BL_OK ? BL_OK
                                                       : bl_fail_memory(error);
}

enum bl_status bl_log_keep(struct bl_run_store *store, struct bl_log_build *b,
                           size_t index, struct bl_error *error)
{
    return keep_channels(store, b, index, error);
}

void bl_log_build_free(struct bl_log_build *b)
{
    if (b != NULL) {
        bl_keep_finish(&b->keep);
        bl_free(b->taken);
        bl_free(b->part_shift_ns);
        bl_free(b);
    }
}
