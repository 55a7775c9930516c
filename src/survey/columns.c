/* SPDX-License-Identifier: MIT */
/*
 * One analog log: what its columns hold. A single pass; of each column some
 * thousand values are kept, evenly thinned, for the quantiles. Stair-steps are
 * seen in the rises: where large changes come every so many rows only.
 */
#include "survey/internal.h"
#include "survey/movement.h"

#include <math.h>
#include <string.h>

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"
#include "base/pace.h"

enum { KEPT_MOST = 4096, KEPT_LEAST = 64, KEPT_ALL = 4 << 20, RUNS = 256 };

struct running {
    uint64_t seen, stride; /* values so far; every so many is kept */
    size_t kept;
    double last;         /* value before; NaN: none */
    double second_value; /* another value than the first one, NaN: none */
    double first_value;
    uint64_t hash;         /* of all values in order */
    uint64_t run, top_run; /* rows since the value changed; at the top now */
    bool after_large;      /* the last change was large */
    uint32_t runs[RUNS];   /* lengths of runs between two large changes */
    uint32_t large;        /* such runs */
};

struct reading {
    struct bl_survey_file *file;
    struct running *running;
    struct bl_movement *movement;
    double *value, *change; /* kept: columns times `kept_room` */
    size_t kept_room;
    const char *pressure_unit;
    int64_t last_ns;
    uint64_t impossible; /* rows whose time is not reckoned with */
};

static void feed_run(struct running *running, struct bl_survey_column *column,
                     double value)
{
    const double change = fabs(value - running->last);
    const double range = column->largest - column->smallest;
    /* Of several steps, unless the steps themselves are as coarse as that. */
    const bool large = change >= 0.02 * range && (change >= 3 * column->step ||
                                                  column->step >= 0.01 * range);
    if (change == 0) {
        running->run++;
        return;
    }
    if (large && running->after_large && running->run < RUNS) {
        running->runs[running->run]++;
        running->large++;
    }
    running->after_large = large;
    running->run = 1;
}

static void feed_value(struct running *running, struct bl_survey_column *column,
                       double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof(bits));
    /* FNV-1a over 64-bit words. */
    running->hash = (running->hash ^ bits) * 0x100000001b3U;
    if (isnan(running->first_value)) {
        running->first_value = value;
        column->distinct = 1;
    } else if (value != running->first_value) {
        if (isnan(running->second_value)) {
            running->second_value = value;
            column->distinct = 2;
        } else if (value != running->second_value) {
            column->distinct = 3;
        }
    }
    if (!isnan(running->last) && value != running->last) {
        const double step = fabs(value - running->last);
        if (column->step == 0 || step < column->step) {
            column->step = step;
        }
    }
    if (!(value <= column->largest)) {
        column->largest = value;
        running->top_run = 0;
        column->longest_at_top = 0;
    }
    running->top_run = value == column->largest ? running->top_run + 1 : 0;
    if (running->top_run > column->longest_at_top) {
        column->longest_at_top = running->top_run;
    }
    if (!(value >= column->smallest)) {
        column->smallest = value;
    }
    if (!isnan(running->last)) {
        feed_run(running, column, value);
    }
    running->last = value;
}

/* Every second kept value goes, and from now on every second one comes. By
   column: where groups have rates of their own, rows without a value lie
   between. */
static void thin(struct reading *reading, size_t c)
{
    struct running *running = &reading->running[c];
    double *value = reading->value + c * reading->kept_room;
    double *change = reading->change + c * reading->kept_room;
    for (size_t i = 0; i < running->kept / 2; i++) {
        value[i] = value[2 * i];
        change[i] = change[2 * i];
    }
    running->kept /= 2;
    running->stride *= 2;
}

static void keep_value(struct reading *reading, size_t c, double value)
{
    struct running *running = &reading->running[c];
    if (running->seen++ % running->stride != 0) {
        return;
    }
    if (running->kept == reading->kept_room) {
        thin(reading, c);
    }
    const size_t at = c * reading->kept_room + running->kept++;
    reading->value[at] = value;
    reading->change[at] = fabs(value - running->last);
}

static bool feed_row(struct reading *reading, const struct bl_log_block *block,
                     size_t row)
{
    bool enough = true;
    for (size_t c = 0; c < reading->file->columns; c++) {
        const double value = block->value[c][row];
        if (!isnan(value)) {
            keep_value(reading, c, value);
            feed_value(&reading->running[c], &reading->file->column[c], value);
        }
        enough = enough && bl_movement_feed(&reading->movement[c],
                                            block->time_ns[row], value);
    }
    return enough;
}

/* Quantile of `count` values in ascending order. */
static double quantile(const double *sorted, size_t count, double share)
{
    return sorted[(size_t)((double)(count - 1) * share + 0.5)];
}

static size_t pack(double *value, size_t count)
{
    size_t used = 0;
    for (size_t i = 0; i < count; i++) {
        if (!isnan(value[i])) {
            value[used++] = value[i];
        }
    }
    return used;
}

static void find_stairs(struct bl_survey_column *column,
                        const struct running *running, int64_t interval_ns)
{
    size_t most = 1;
    for (size_t r = 2; r < RUNS; r++) {
        most = running->runs[r] > running->runs[most] ? r : most;
    }
    if (most >= 2 && running->large >= 8 &&
        running->runs[most] > running->large / 2) {
        column->stair_ns = (int64_t)most * interval_ns;
        column->oddities |= BL_ODDITY_STAIR_STEPS;
    }
}

static enum bl_status finish_columns(struct reading *reading,
                                     struct bl_error *error)
{
    struct bl_survey_file *file = reading->file;
    for (size_t c = 0; c < file->columns; c++) {
        struct bl_survey_column *column = &file->column[c];
        double *value = reading->value + c * reading->kept_room;
        double *change = reading->change + c * reading->kept_room;
        const size_t values = pack(value, reading->running[c].kept);
        const size_t changes = pack(change, reading->running[c].kept);
        if (values > 0) {
            (void)bl_median(value, values); /* sorts */
            column->low = quantile(value, values, 0.05);
            column->high = quantile(value, values, 0.99);
        }
        if (changes > 0) {
            column->noise = 1.4826 * bl_median(change, changes) / sqrt(2);
        }
        find_stairs(column, &reading->running[c], file->interval_ns);
        for (size_t d = 0; d < c && column->distinct > 2; d++) {
            if (file->column[d].values == column->values &&
                reading->running[d].hash == reading->running[c].hash) {
                column->identical_to = (long)d;
                column->oddities |= BL_ODDITY_IDENTICAL;
                break;
            }
        }
        if (bl_movement_rises(&reading->movement[c], column) != BL_OK) {
            return bl_fail_memory(error);
        }
        bl_survey_judge(column, reading->pressure_unit);
    }
    return BL_OK;
}

static enum bl_status begin(struct reading *reading,
                            const struct bl_log_info *info,
                            struct bl_error *error)
{
    struct bl_survey_file *file = reading->file;
    const size_t count = info->columns;
    reading->kept_room = count == 0 ? 1 : KEPT_ALL / count;
    if (reading->kept_room > KEPT_MOST) {
        reading->kept_room = KEPT_MOST;
    } else if (reading->kept_room < KEPT_LEAST) {
        reading->kept_room = KEPT_LEAST;
    }
    file->column = bl_alloc(count, sizeof(*file->column));
    reading->running = bl_alloc(count, sizeof(*reading->running));
    reading->movement = bl_alloc(count, sizeof(*reading->movement));
    reading->value = bl_alloc(count * reading->kept_room, sizeof(double));
    reading->change = bl_alloc(count * reading->kept_room, sizeof(double));
    if (file->column == NULL || reading->running == NULL ||
        reading->movement == NULL || reading->value == NULL ||
        reading->change == NULL) {
        return bl_fail_memory(error);
    }
    file->columns = count;
    for (size_t c = 0; c < count; c++) {
        struct bl_survey_column *column = &file->column[c];
        const struct bl_log_column *from = &info->column[c];
        column->index = from->index;
        column->identical_to = -1;
        column->smallest = NAN;
        column->largest = NAN;
        column->low = NAN;
        column->high = NAN;
        column->noise = NAN;
        reading->running[c].stride = 1;
        reading->running[c].last = NAN;
        reading->running[c].first_value = NAN;
        reading->running[c].second_value = NAN;
        reading->running[c].hash = 0xcbf29ce484222325U;
        column->name = bl_strdup(from->name == NULL ? "" : from->name);
        column->unit = bl_strdup(from->unit);
        column->states = from->states;
        if (column->name == NULL ||
            (from->unit != NULL && column->unit == NULL)) {
            return bl_fail_memory(error);
        }
    }
    return BL_OK;
}

static enum bl_status take_info(struct bl_survey_file *file,
                                const struct bl_log_info *info,
                                struct bl_error *error)
{
    file->format = info->format;
    file->rows = info->rows;
    file->late = info->late_rows;
    file->splits = info->splits;
    file->strays = info->strays;
    for (size_t i = 0; i < info->times.places; i++) {
        if (bl_time_places_add(&file->times, &info->times.place[i]) != BL_OK) {
            return bl_fail_memory(error);
        }
    }
    file->times.more = info->times.more;
    file->times.interval_ns = info->times.interval_ns;
    file->times.jitter_ns = info->times.jitter_ns;
    file->damages = info->damages + info->after_damage;
    file->first_ns = info->first_ns;
    file->last_ns = info->last_ns;
    file->interval_ns = info->interval_ns;
    file->resolution_ns = info->resolution_ns;
    file->absolute_time = info->absolute_time;
    file->decided = bl_strdup(info->decided);
    if ((info->decided != NULL && file->decided == NULL) ||
        bl_notes_append(&file->notes, &info->notes) != BL_OK) {
        return bl_fail_memory(error);
    }
    for (size_t c = 0; c < file->columns && c < info->columns; c++) {
        file->column[c].values = info->column[c].values;
        file->column[c].missing = info->column[c].missing;
        file->column[c].not_numbers = info->column[c].not_numbers;
        file->column[c].overflows = info->column[c].overflows;
        file->column[c].repeats = info->column[c].repeats;
    }
    return BL_OK;
}

static enum bl_status read_rows(struct reading *reading,
                                struct bl_log_reader *reader,
                                struct bl_error *error)
{
    for (;;) {
        struct bl_log_block block;
        struct bl_error failure;
        bl_error_clear(&failure);
        const enum bl_status status = bl_log_next(reader, &block, &failure);
        if (status != BL_OK) {
            return bl_survey_keep(reading->file, status, &failure, error);
        }
        if (block.rows == 0) {
            return BL_OK;
        }
        for (size_t row = 0; row < block.rows; row++) {
            if (!bl_survey_reckoned(block.time_ns[row])) {
                reading->impossible++;
            } else if (!feed_row(reading, &block, row)) {
                return bl_fail_memory(error);
            }
        }
    }
}

enum bl_status bl_survey_read_log(struct bl_survey_file *file,
                                  struct bl_bytes *source,
                                  const struct bl_log_options *options,
                                  const char *pressure_unit,
                                  struct bl_error *error)
{
    struct bl_log_reader *reader = NULL;
    struct reading reading = {.file = file, .pressure_unit = pressure_unit};
    enum bl_status status = bl_log_open(&reader, source, options, error);
    if (status != BL_OK) {
        return status;
    }
    status = begin(&reading, bl_log_info(reader), error);
    if (status == BL_OK) {
        status = read_rows(&reading, reader, error);
    }
    if (status == BL_OK) {
        status = take_info(file, bl_log_info(reader), error);
    }
    if (status == BL_OK &&
        bl_survey_note_times(file, reading.impossible, "rows") != BL_OK) {
        status = bl_fail_memory(error);
    }
    if (status == BL_OK) {
        status = finish_columns(&reading, error);
    }
    bl_log_close(reader);
    for (size_t c = 0; reading.movement != NULL && c < file->columns; c++) {
        bl_movement_finish(&reading.movement[c]);
    }
    bl_free(reading.movement);
    bl_free(reading.running);
    bl_free(reading.value);
    bl_free(reading.change);
    return status;
}
