/* SPDX-License-Identifier: MIT */
/*
 * Channels of a measurement file (src/mdf) as rows. Groups of records have
 * stamps of their own on one clock: their records are merged by time, and a row
 * holds the channels of the groups that have this very stamp.
 */
#include "log/reader.h"

#include "base/alloc.h"
#include "base/number.h"
#include "mdf/mdf.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum {
    NAME_BYTES = 512,
    LOOKED_AT = 256, /* records of a group, for its interval */
    LOOKED_AT_ALL = 16384
};

/* One group that makes rows. */
struct group {
    bool wanted;
    int64_t newest_ns;
    bool any;
    struct bl_pace pace;
};

/* One set of data, with the record that comes next. */
struct source {
    struct bl_mdf_cursor cursor;
    struct bl_mdf_record record;
    int64_t time_ns;
    bool open, has;
    bool doubt; /* something in front of the record was left out */
};

struct log_mdf {
    struct bl_mdf *mdf;
    struct group *group;   /* one per group of the file */
    struct source *source; /* one per set */
    int64_t *column_of;    /* by channel; -1: none */
};

static bool makes_rows(const struct bl_mdf_group *group)
{
    return group->holds == BL_MDF_HOLDS_VALUES;
}

/* Stands the name in another group, too? */
static bool name_elsewhere(const struct bl_mdf *mdf, size_t own,
                           const char *name)
{
    for (size_t g = 0; g < mdf->groups; g++) {
        const struct bl_mdf_group *group = &mdf->group[g];
        for (size_t c = 0; g != own && makes_rows(group) && c < group->channels;
             c++) {
            const struct bl_mdf_channel *other =
                &mdf->channel[group->first + c];
            if (other->value && strcmp(other->name, name) == 0) {
                return true;
            }
        }
    }
    return false;
}

/* "Pressure", or "Chassis/Pressure" where another group has one. */
static void column_name(const struct bl_mdf *mdf, size_t g,
                        const struct bl_mdf_channel *channel,
                        char name[NAME_BYTES])
{
    const struct bl_mdf_group *group = &mdf->group[g];
    if (!name_elsewhere(mdf, g, channel->name)) {
        (void)snprintf(name, NAME_BYTES, "%s", channel->name);
    } else if (group->name[0] != '\0') {
        (void)snprintf(name, NAME_BYTES, "%s/%s", group->name, channel->name);
    } else {
        (void)snprintf(name, NAME_BYTES, "group %zu/%s", g + 1, channel->name);
    }
}

static enum bl_status add_columns(struct bl_log_reader *reader,
                                  struct bl_error *error)
{
    struct log_mdf *m = reader->mdf;
    const struct bl_mdf *mdf = m->mdf;
    reader->info.column = bl_alloc(mdf->channels, sizeof(*reader->info.column));
    reader->channel = bl_alloc(mdf->channels, sizeof(*reader->channel));
    m->column_of = bl_alloc(mdf->channels, sizeof(*m->column_of));
    if (reader->info.column == NULL || reader->channel == NULL ||
        m->column_of == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t g = 0; g < mdf->groups; g++) {
        const struct bl_mdf_group *group = &mdf->group[g];
        for (size_t c = group->first; c < group->first + group->channels; c++) {
            const struct bl_mdf_channel *channel = &mdf->channel[c];
            char name[NAME_BYTES];
            m->column_of[c] = -1;
            if (!makes_rows(group) || !channel->value) {
                continue;
            }
            column_name(mdf, g, channel, name);
            const size_t column = reader->info.columns;
            const enum bl_status status =
                bl_log_add_column(reader, name, channel->unit, column, error);
            if (status != BL_OK) {
                return status;
            }
            reader->info.column[column].group = g;
            reader->info.column[column].states = channel->conversion.texts_only;
            m->column_of[c] = (int64_t)column;
        }
    }
    return BL_OK;
}

/* The next record of a set that makes a row, and its time. Records without one
   are left out. */
static enum bl_status advance(struct bl_log_reader *reader,
                              struct source *source, struct bl_error *error)
{
    struct log_mdf *m = reader->mdf;
    source->has = false;
    for (;;) {
        bool got;
        const enum bl_status status =
            bl_mdf_cursor_next(&source->cursor, &source->record, &got, error);
        if (status != BL_OK || !got) {
            return status;
        }
        const size_t g = source->record.group;
        const struct bl_mdf_group *group = &m->mdf->group[g];
        source->doubt = source->doubt || source->record.after_loss;
        if (!makes_rows(group) || !m->group[g].wanted) {
            continue;
        }
        if (bl_mdf_time(m->mdf, &source->record, &source->time_ns)) {
            source->has = true;
            return BL_OK;
        }
        reader->info.bad_rows++;
        source->doubt = true;
        if (bl_note(&reader->info.notes, "impossible-stamp", -1,
                    (int64_t)group->at,
                    "expected times within 73 years of the start, found others "
                    "or none; these records are left out") != BL_OK) {
            return bl_fail_memory(error);
        }
    }
}

static enum bl_status open_sources(struct bl_log_reader *reader,
                                   struct bl_error *error)
{
    struct log_mdf *m = reader->mdf;
    for (size_t g = 0; g < m->mdf->groups; g++) {
        struct source *source = &m->source[m->mdf->group[g].set];
        if (!m->group[g].wanted || source->open) {
            continue;
        }
        source->open = true;
        enum bl_status status = bl_mdf_cursor_open(&source->cursor, m->mdf,
                                                   m->mdf->group[g].set, error);
        if (status == BL_OK) {
            status = advance(reader, source, error);
        }
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

static void close_sources(struct log_mdf *m)
{
    for (size_t s = 0; m->source != NULL && s < m->mdf->sets; s++) {
        if (m->source[s].open) {
            bl_mdf_cursor_close(&m->source[s].cursor);
        }
        memset(&m->source[s], 0, sizeof(m->source[s]));
    }
}

/* Steps between the first records of a group. */
static enum bl_status read_steps(const struct bl_mdf *mdf,
                                 struct bl_mdf_cursor *cursor, size_t group,
                                 double *step, size_t *steps,
                                 struct bl_error *error)
{
    bool any = false;
    int64_t before_ns = 0;
    for (size_t seen = 0; seen < LOOKED_AT_ALL && *steps < LOOKED_AT; seen++) {
        struct bl_mdf_record record;
        int64_t time_ns;
        bool got;
        const enum bl_status status =
            bl_mdf_cursor_next(cursor, &record, &got, error);
        if (status != BL_OK || !got) {
            return status;
        }
        if (record.group != group || !bl_mdf_time(mdf, &record, &time_ns)) {
            continue;
        }
        if (any && time_ns > before_ns) {
            step[(*steps)++] = (double)(time_ns - before_ns);
        }
        any = true;
        before_ns = time_ns;
    }
    return BL_OK;
}

/* Usual interval of the first records of a group; the shortest is that of the
   log. What is damaged there is reported when it is read. */
static enum bl_status find_interval(struct bl_log_reader *reader, size_t group,
                                    struct bl_error *error)
{
    struct bl_mdf *mdf = reader->mdf->mdf;
    struct bl_notes unheard = {0};
    struct bl_notes *const notes = mdf->notes;
    const enum bl_status failed = mdf->failed;
    const struct bl_error failure = mdf->failure;
    struct bl_mdf_cursor cursor;
    double step[LOOKED_AT];
    size_t steps = 0;
    mdf->notes = &unheard;
    enum bl_status status =
        bl_mdf_cursor_open(&cursor, mdf, mdf->group[group].set, error);
    if (status == BL_OK) {
        status = read_steps(mdf, &cursor, group, step, &steps, error);
    }
    bl_mdf_cursor_close(&cursor);
    bl_notes_finish(&unheard);
    mdf->notes = notes;
    mdf->failed = failed;
    mdf->failure = failure;
    const int64_t interval_ns =
        steps == 0 ? 0 : (int64_t)bl_median(step, steps);
    if (interval_ns > 0 && (reader->info.interval_ns == 0 ||
                            interval_ns < reader->info.interval_ns)) {
        reader->info.interval_ns = interval_ns;
    }
    return status;
}

static enum bl_status describe(struct bl_log_reader *reader,
                               struct bl_error *error)
{
    const struct bl_mdf *mdf = reader->mdf->mdf;
    struct bl_log_info *info = &reader->info;
    size_t groups = 0;
    enum bl_status status = BL_OK;
    for (size_t g = 0; g < mdf->groups && status == BL_OK; g++) {
        if (makes_rows(&mdf->group[g])) {
            const int64_t step_ns = bl_mdf_time_step(mdf, &mdf->group[g]);
            info->resolution_ns =
                info->resolution_ns == 0 ||
                        (step_ns > 0 && step_ns < info->resolution_ns)
                    ? step_ns
                    : info->resolution_ns;
            groups++;
            status = find_interval(reader, g, error);
        }
    }
    info->format = "mdf";
    info->delimiter = info->decimal = "";
    info->encoding = "utf-8";
    info->time_form = "s";
    info->layout = "mdf";
    info->names_row = info->units_row = info->first_row = -1;
    info->time_column = -1;
    info->absolute_time = mdf->absolute;
    if (status == BL_OK) {
        char text[160];
        (void)snprintf(text, sizeof(text),
                       "measurement file in MDF %u.%02u, %s; %zu channel "
                       "group%s, %zu value column%s",
                       mdf->version / 100u, mdf->version % 100u,
                       mdf->absolute ? "times since 1970 from its start"
                                     : "times since its start, which it does "
                                       "not tell",
                       groups, groups == 1 ? "" : "s", info->columns,
                       info->columns == 1 ? "" : "s");
        info->decided = bl_strdup(text);
        status = info->decided == NULL ? bl_fail_memory(error) : BL_OK;
    }
    return status;
}

/* What is stated for the text of a log says nothing here. */
static enum bl_status note_options(struct bl_log_reader *reader,
                                   const struct bl_log_options *o,
                                   struct bl_error *error)
{
    const bool any =
        o->delimiter != NULL || o->decimal != NULL || o->encoding != NULL ||
        o->time != NULL || o->time_form != NULL || o->date != NULL ||
        o->layout != NULL || o->header_row != 0 || o->names_row != 0 ||
        o->units_row != 0 || o->first_row != 0 || o->rate_hz != 0;
    return !any || bl_note(&reader->info.notes, "options-not-used", -1, -1,
                           "what is stated of the text of a log (delimiter, "
                           "rows, time) says nothing of a measurement file; "
                           "not used") == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

enum bl_status bl_log_mdf_open(struct bl_log_reader *reader,
                               struct bl_bytes *bytes,
                               const struct bl_log_options *options,
                               struct bl_error *error)
{
    struct log_mdf *m = bl_alloc(1, sizeof(*m));
    reader->mdf = m;
    if (m == NULL) {
        return bl_fail_memory(error);
    }
    reader->source.bytes = bytes;
    enum bl_status status =
        bl_mdf_open(&m->mdf, bytes, &reader->info.notes, error);
    if (status != BL_OK) {
        return status;
    }
    m->group = bl_alloc(m->mdf->groups, sizeof(*m->group));
    m->source = bl_alloc(m->mdf->sets, sizeof(*m->source));
    if (m->group == NULL || m->source == NULL) {
        return bl_fail_memory(error);
    }
    if (!bl_mdf_has_values(m->mdf)) {
        return m->mdf->failed == BL_OK
                   ? bl_fail(error, BL_FORMAT, bl_bytes_name(bytes),
                             "expected channels that hold numbers, found none "
                             "in this measurement file%s",
                             bl_mdf_has_frames(m->mdf)
                                 ? ": it holds bus frames and belongs to "
                                   "'captures'"
                                 : "")
                   : bl_fail_offset(error, m->mdf->failed, bl_bytes_name(bytes),
                                    m->mdf->failure.offset, "%s",
                                    m->mdf->failure.message);
    }
    status = add_columns(reader, error);
    if (status == BL_OK) {
        status = note_options(reader, options, error);
    }
    return status == BL_OK ? describe(reader, error) : status;
}

enum bl_status bl_log_mdf_start(struct bl_log_reader *reader,
                                struct bl_error *error)
{
    struct log_mdf *m = reader->mdf;
    bool any = false;
    for (size_t c = 0; c < reader->info.columns; c++) {
        any = any || reader->channel[c].selected;
    }
    for (size_t g = 0; g < m->mdf->groups; g++) {
        const struct bl_mdf_group *group = &m->mdf->group[g];
        if (makes_rows(group)) {
            m->group[g].pace.resolution_ns = bl_mdf_time_step(m->mdf, group);
        }
        for (size_t c = group->first;
             makes_rows(group) && c < group->first + group->channels; c++) {
            const int64_t column = m->column_of[c];
            m->group[g].wanted =
                m->group[g].wanted ||
                (column >= 0 && (!any || reader->channel[column].selected));
        }
    }
    return open_sources(reader, error);
}

/* Its stamp among those of its group. */
static void pace(struct group *group, int64_t time_ns)
{
    if (group->any && time_ns < group->newest_ns &&
        group->newest_ns - time_ns > LOG_LATE_NS) {
        bl_pace_part(&group->pace, time_ns);
        group->newest_ns = time_ns;
    }
    bl_pace_feed(&group->pace, &time_ns, 1);
    group->newest_ns =
        !group->any || time_ns > group->newest_ns ? time_ns : group->newest_ns;
    group->any = true;
}

/* The values of a record into the row at hand. */
static void put_values(struct bl_log_reader *reader,
                       const struct bl_mdf_record *record)
{
    const struct log_mdf *m = reader->mdf;
    const struct bl_mdf_group *group = &m->mdf->group[record->group];
    for (size_t c = group->first; c < group->first + group->channels; c++) {
        const int64_t column = m->column_of[c];
        if (column < 0 || !reader->channel[column].selected) {
            continue;
        }
        struct log_channel *channel = &reader->channel[column];
        bool text = false;
        const bool invalid =
            bl_mdf_invalid(group, &m->mdf->channel[c], record->data);
        const double value =
            invalid ? NAN
                    : bl_mdf_value(&m->mdf->channel[c], record->data,
                                   record->number, &text);
        channel->values[reader->count] = isinf(value) ? NAN : value;
        channel->kind = text           ? LOG_TEXT
                        : isinf(value) ? LOG_OVERFLOW
                        : isnan(value) ? LOG_MISSING
                                       : LOG_NUMBER;
    }
}

enum bl_status bl_log_mdf_row(struct bl_log_reader *reader, int64_t *time_ns,
                              bool *got, struct bl_error *error)
{
    struct log_mdf *m = reader->mdf;
    const struct source *first = NULL;
    enum bl_status status = BL_OK;
    *got = false;
    for (size_t s = 0; s < m->mdf->sets; s++) {
        const struct source *source = &m->source[s];
        if (source->has &&
            (first == NULL || source->time_ns < first->time_ns)) {
            first = source;
        }
    }
    if (first == NULL) {
        return BL_OK;
    }
    *time_ns = first->time_ns;
    *got = true;
    for (size_t c = 0; c < reader->info.columns; c++) {
        if (reader->channel[c].selected) {
            reader->channel[c].values[reader->count] = NAN;
            reader->channel[c].kind = LOG_COUNTED;
        }
    }
    for (size_t s = 0; s < m->mdf->sets && status == BL_OK; s++) {
        struct source *source = &m->source[s];
        if (source->has && source->time_ns == *time_ns) {
            reader->info.after_damage =
                reader->info.after_damage || source->doubt;
            source->doubt = false;
            pace(&m->group[source->record.group], *time_ns);
            put_values(reader, &source->record);
            status = advance(reader, source, error);
        }
    }
    return status;
}

enum bl_status bl_log_mdf_ended(struct bl_log_reader *reader)
{
    struct log_mdf *m = reader->mdf;
    struct bl_time_places *times = &reader->info.times;
    enum bl_status status = BL_OK;
    for (size_t g = 0; g < m->mdf->groups && status == BL_OK; g++) {
        struct bl_time_places found = {0};
        if (!m->group[g].any) {
            continue;
        }
        status = bl_pace_finish(&m->group[g].pace, &found);
        for (size_t i = 0; i < found.places && status == BL_OK; i++) {
            status = bl_time_places_add(times, &found.place[i]);
        }
        times->more += found.more;
        if (times->interval_ns == 0 ||
            (found.interval_ns > 0 && found.interval_ns < times->interval_ns)) {
            times->interval_ns = found.interval_ns;
            times->jitter_ns = found.jitter_ns;
        }
        bl_free(found.place);
    }
    if (status == BL_OK) {
        bl_time_places_sort(times);
    }
    for (size_t s = 0; s < m->mdf->sets; s++) {
        reader->info.after_damage =
            reader->info.after_damage ||
            (m->source[s].open &&
             (m->source[s].cursor.lost || m->source[s].doubt));
    }
    reader->source.failed = m->mdf->failed;
    reader->source.failure = m->mdf->failure;
    return status;
}

void bl_log_mdf_finish(struct bl_log_reader *reader)
{
    struct log_mdf *m = reader->mdf;
    if (m == NULL) {
        return;
    }
    close_sources(m);
    for (size_t g = 0; m->group != NULL && g < m->mdf->groups; g++) {
        bl_pace_free(&m->group[g].pace);
    }
    bl_free(m->group);
    bl_free(m->source);
    bl_free(m->column_of);
    bl_mdf_close(m->mdf);
    bl_free(m);
}
