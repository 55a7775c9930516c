/* SPDX-License-Identifier: MIT */
/*
 * Rows as most loggers write them: one delimiter, a numeric time, plain
 * numbers, in order. They are read in one pass from the text at hand, without
 * finding the line first. Whatever is anything else (a missing or quoted cell,
 * a word, a step back in time, too many cells) is left to bl_log_parse_row,
 * which reads and names it; so nothing is decided here.
 */
#include "log/reader.h"

#include "base/alloc.h"
#include "base/digits.h"
#include "base/number.h"

static const int64_t power_of_ten[] = {
    1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000, 1000000000};

static bool power_of(enum log_form form, int *power)
{
    switch (form) {
    case LOG_FORM_S:
    case LOG_FORM_EPOCH_S:
        *power = 9;
        return true;
    case LOG_FORM_MS:
    case LOG_FORM_EPOCH_MS:
        *power = 6;
        return true;
    case LOG_FORM_US:
    case LOG_FORM_EPOCH_US:
        *power = 3;
        return true;
    case LOG_FORM_NS:
    case LOG_FORM_EPOCH_NS:
        *power = 0;
        return true;
    case LOG_FORM_UNKNOWN:
    case LOG_FORM_CLOCK:
    case LOG_FORM_ISO:
    case LOG_FORM_DAY:
    case LOG_FORM_INDEX:
    case LOG_FORMS:
        break;
    }
    return false;
}

enum bl_status bl_log_fast_start(struct bl_log_reader *reader)
{
    const struct log_dialect *d = &reader->dialect;
    struct log_fast *fast = &reader->fast;
    if (d->transposed || d->delimiter == ' ' ||
        d->delimiter == LOG_WIDE_BLANKS || d->delimiter == d->decimal ||
        d->time_column < 0 || d->date_column >= 0 || d->once ||
        !power_of(d->form, &fast->power) || reader->source.line_end != '\n') {
        return BL_OK;
    }
    fast->values = bl_alloc(d->columns, sizeof(*fast->values));
    fast->kind = bl_alloc(d->columns, sizeof(*fast->kind));
    if (fast->values == NULL || fast->kind == NULL) {
        return BL_NOMEM;
    }
    for (size_t c = 0; c < d->columns; c++) {
        const int64_t channel = reader->channel_of[c];
        if ((int64_t)c == d->time_column) {
            fast->kind[c] = LOG_FAST_TIME;
        } else if (channel >= 0 && reader->channel[channel].selected) {
            fast->kind[c] = LOG_FAST_VALUE;
            fast->values[c] = reader->channel[channel].values;
        }
    }
    return BL_OK;
}

void bl_log_fast_finish(struct bl_log_reader *reader)
{
    bl_free((void *)reader->fast.values);
    bl_free(reader->fast.kind);
}

/* "12.345" or "1717200000123": where it ends; NULL: another form, or out of
   what 64 bits hold. Twice BL_DIGITS_SLACK and more must lie before `end`. */
static const char *read_time(const char *at, char decimal, int power,
                             unsigned least, int64_t *time_ns)
{
    const char *const first = at;
    uint64_t sum = 0;
    at = bl_digits_run(at, &sum);
    if (at == first) {
        return NULL;
    }
    size_t places = 0;
    if (*at == decimal) {
        const char *const point = at;
        at = bl_digits_run(at + 1, &sum);
        places = (size_t)(at - point - 1);
    }
    /* Up to 18 characters cannot have run over. */
    if (at - first > 18 || places > (size_t)power || places < least) {
        return NULL;
    }
    const int64_t scale = power_of_ten[(size_t)power - places];
    if (sum > (uint64_t)(INT64_MAX / scale)) {
        return NULL;
    }
    *time_ns = (int64_t)sum * scale;
    return at;
}

/*
 * Where the text has anything but digits, 64 characters at a time. So the ends
 * of cells are found before and apart from their values, and many cells are
 * under way in the processor at once.
 */
struct marks {
    const char *base, *end; /* at least 64 characters stand from base to end */
    uint64_t bits;          /* of those at base, that were not given */
};

static void marks_start(struct marks *m, const char *at, const char *end)
{
    *m = (struct marks){at, end, bl_digits_marks(at)};
}

/* NULL: fewer than 64 characters are left. */
static inline const char *next_mark(struct marks *m)
{
    while (m->bits == 0) {
        if (m->end - m->base < 128) {
            return NULL;
        }
        m->base += 64;
        m->bits = bl_digits_marks(m->base);
    }
    const char *at = m->base + bl_digits_lowest(m->bits);
    m->bits &= m->bits - 1;
    return at;
}

/* A number with at least so many decimals; where it ends, or NULL. */
static inline const char *read_value(struct marks *m, const char *at,
                                     char decimal, unsigned least,
                                     double *value)
{
    const char *const cell = at;
    const char *point = next_mark(m);
    const bool negative = point == at && *at == '-';
    if (negative) {
        at++;
        point = next_mark(m);
    }
    if (point == NULL || point == at) {
        return NULL;
    }
    const char *const stop = *point == decimal ? next_mark(m) : point;
    if (stop == NULL || stop - point < (least > 0 ? (ptrdiff_t)least + 1 : 0)) {
        return NULL;
    }
    if (stop - at > BL_DIGITS_SLACK) {
        return bl_number_plain(cell, stop, decimal, value) == stop ? stop
                                                                   : NULL;
    }
    const double x =
        bl_digits_decimal(at, (size_t)(point - at), (size_t)(stop - at));
    *value = negative ? -x : x;
    return stop;
}

/* Behind a cell that nobody wants; NULL where that is not plain. */
static const char *skip_cell(struct marks *m, char delimiter)
{
    const char *at = next_mark(m);
    while (at != NULL && *at != delimiter && *at != '\n') {
        at = *at == '"' ? NULL : next_mark(m);
    }
    return at;
}

/* The cell of the time, its end found twice: by its own reader and by marks. */
static const char *take_time(struct marks *m, const char *at,
                             const struct bl_log_reader *reader,
                             int64_t *time_ns)
{
    /* A time has at most 18 characters and two words are read from its last. */
    enum { TIME_MOST = 64 };
    const struct log_dialect *d = &reader->dialect;
    const char decimal = d->decimal;
    const char *stop = next_mark(m);
    if (stop != NULL && *stop == decimal) {
        stop = next_mark(m);
    }
    if (stop == NULL || m->end - at < TIME_MOST) {
        return NULL;
    }
    return read_time(at, decimal, reader->fast.power,
                     reader->places[d->time_column], time_ns) == stop
               ? stop
               : NULL;
}

/* One row at `at` into place `row`; behind its line end, or NULL. */
static const char *read_row(const struct bl_log_reader *reader, struct marks *m,
                            const char *at, size_t row, int64_t *time_ns)
{
    const struct log_dialect *d = &reader->dialect;
    const struct log_fast *fast = &reader->fast;
    const char delimiter = d->delimiter;
    const char decimal = d->decimal;
    const size_t columns = d->columns;
    for (size_t c = 0; c < columns; c++) {
        if (fast->kind[c] == LOG_FAST_VALUE) {
            at = read_value(m, at, decimal, reader->places[c],
                            &fast->values[c][row]);
        } else if (fast->kind[c] == LOG_FAST_TIME) {
            at = take_time(m, at, reader, time_ns);
        } else {
            at = skip_cell(m, delimiter);
        }
        if (at == NULL) {
            return NULL;
        }
        if (c + 1 < columns) {
            if (*at++ != delimiter) {
                return NULL;
            }
        }
    }
    if (*at == '\r') {
        const char *const behind = next_mark(m);
        at = behind == at + 1 ? behind : at;
    }
    return *at == '\n' ? at + 1 : NULL;
}

void bl_log_fast_rows(struct bl_log_reader *reader)
{
    struct log_source *source = &reader->source;
    /* A row behind damage is placed by bl_log_place, which notes where. */
    if (reader->fast.kind == NULL || !reader->any || source->skipping ||
        reader->info.after_damage || reader->doubtful > 0 ||
        reader->head_at < reader->head.count) {
        return;
    }
    const char *at = source->buffer + source->start;
    const char *const end = source->buffer + source->end;
    const size_t first = reader->count;
    size_t count = first;
    int64_t newest_ns = reader->newest_ns;
    struct marks marks;
    if (end - at < 64) {
        return;
    }
    marks_start(&marks, at, end);
    while (count < reader->capacity) {
        int64_t time_ns = 0;
        const char *next = read_row(reader, &marks, at, count, &time_ns);
        /* An equal stamp may be the same row again. */
        if (next == NULL || time_ns < newest_ns ||
            (time_ns == newest_ns && !reader->again.coarse) ||
            log_is_far(reader, newest_ns, time_ns)) {
            break;
        }
        reader->time_ns[count++] = newest_ns = time_ns;
        bl_log_again_add(&reader->again, at, (size_t)(next - 1 - at), time_ns);
        at = next;
    }
    if (count == first) {
        return;
    }
    source->start = source->scanned = (size_t)(at - source->buffer);
    source->line += (int64_t)(count - first);
    reader->index += (int64_t)(count - first);
    bl_log_pace(reader, first, count);
    reader->newest_ns = newest_ns;
    reader->count = count;
    for (size_t i = 0; i < reader->info.columns; i++) {
        struct log_channel *channel = &reader->channel[i];
        if (channel->selected) {
            bl_log_count_numbers(&reader->info.column[i], channel,
                                 channel->values + first, count - first);
            channel->kind = LOG_NUMBER;
        }
    }
}
