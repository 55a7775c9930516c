/* SPDX-License-Identifier: MIT */
/* The shape of a log, part by part, and in words. */
#include "log/form.h"

#include <string.h>
#include <strings.h>

const char *bl_log_delimiter_name(char delimiter)
{
    return delimiter == '\t'  ? "tab"
           : delimiter == ';' ? ";"
           : delimiter == ',' ? ","
                              : "space";
}

static enum bl_status wrong(struct bl_error *error, const char *source,
                            const char *option, const char *values,
                            const char *found)
{
    return bl_fail(error, BL_ARG, source, "expected %s for %s, found '%s'",
                   values, option, found);
}

static enum bl_status check_options(const struct bl_log_options *options,
                                    const char *source, char *delimiter,
                                    struct bl_error *error)
{
    static const char *const delimiters[] = {",", ";", "tab", "space"};
    const char *given = options->delimiter;
    *delimiter = '\0';
    for (size_t i = 0; given != NULL && i < 4; i++) {
        if (strcmp(given, delimiters[i]) == 0) {
            *delimiter = ",;\t "[i];
        }
    }
    if (given != NULL && *delimiter == '\0') {
        return wrong(error, source, "delimiter", "',', ';', tab or space",
                     given);
    }
    given = options->decimal;
    if (given != NULL && strcmp(given, ".") != 0 && strcmp(given, ",") != 0) {
        return wrong(error, source, "decimal", "'.' or ','", given);
    }
    given = options->time_form;
    if (given != NULL && bl_log_form_by_name(given) == LOG_FORM_UNKNOWN) {
        return wrong(error, source, "time_form",
                     "s, ms, us, ns, epoch-s, epoch-ms, epoch-us, epoch-ns, "
                     "clock, iso, day-fraction or index",
                     given);
    }
    int64_t zone_s;
    given = options->timezone;
    if (given != NULL && !bl_log_time_zone(given, strlen(given), &zone_s)) {
        return wrong(error, source, "timezone", "'Z' or '+hh:mm'", given);
    }
    given = options->layout;
    if (given != NULL && strcmp(given, "columns") != 0 &&
        strcmp(given, "rows") != 0) {
        return wrong(error, source, "layout", "columns or rows", given);
    }
    if (options->rate_hz != 0 && !(options->rate_hz >= LOG_RATE_LEAST_HZ &&
                                   options->rate_hz <= LOG_RATE_MOST_HZ)) {
        return bl_fail(error, BL_ARG, source,
                       "expected a rate of %g to %g Hz, found %g",
                       LOG_RATE_LEAST_HZ, LOG_RATE_MOST_HZ, options->rate_hz);
    }
    return BL_OK;
}

/* Why nothing in the first lines is a table. */
static enum bl_status no_table(const struct log_head *head, const char *source,
                               struct bl_error *error)
{
    if (head->count == 0) {
        return bl_fail(error, BL_FORMAT, source,
                       "expected a table, found an empty file");
    }
    for (size_t i = 0; i < head->count; i++) {
        const struct log_line line = bl_log_head_line(head, i);
        if (line.too_long) {
            return bl_fail_line(error, BL_LIMIT, source, line.number,
                                "expected lines of at most 1 MiB, found a "
                                "longer one and no table");
        }
        if (memchr(line.text, '\0', line.length) != NULL) {
            return bl_fail_line(error, BL_FORMAT, source, line.number,
                                "expected a table of text, found NUL bytes: "
                                "is it a bus recording?");
        }
    }
    return bl_fail(error, BL_FORMAT, source,
                   "expected a table, found none: tab, ';', ',' and blanks "
                   "were tried between cells of the first %zu line%s",
                   head->count, head->count == 1 ? "" : "s");
}

enum bl_status bl_log_dialect_decide(struct log_dialect *dialect,
                                     const struct log_head *head,
                                     const struct bl_log_options *options,
                                     const char *source, struct bl_error *error)
{
    char given;
    enum bl_status status = check_options(options, source, &given, error);
    if (status != BL_OK) {
        return status;
    }
    if (!bl_log_decide_delimiter(head, given, &dialect->delimiter,
                                 &dialect->columns)) {
        return no_table(head, source, error);
    }
    dialect->names_delimiter = dialect->delimiter;
    dialect->names_row = dialect->units_row = dialect->factor_row = -1;
    dialect->transposed = options->layout != NULL
                              ? strcmp(options->layout, "rows") == 0
                              : bl_log_is_transposed(head, dialect);
    if (!dialect->transposed && !bl_log_decide_rows(head, options, dialect)) {
        return no_table(head, source, error);
    }
    dialect->decimal = options->decimal != NULL
                           ? options->decimal[0]
                           : bl_log_decide_decimal(head, dialect);
    dialect->time_column = -1;
    bl_log_decide_groups(head, dialect);
    dialect->rate_hz = options->rate_hz > 0
                           ? options->rate_hz
                           : bl_log_rate_hint(head, dialect->first_index);
    if (dialect->transposed) {
        return BL_OK;
    }
    dialect->least_cells = bl_log_least_cells(head, dialect);
    status = bl_log_decide_time(head, options, dialect, source, error);
    /* Stamps of many digits say nothing of how values are written. */
    bl_log_decide_groups(head, dialect);
    return status;
}

static const char *stated(const void *option)
{
    return option != NULL ? " (stated)" : "";
}

static void describe_rows(const struct log_dialect *d, struct bl_strbuf *text)
{
    if (d->names_row > 0) {
        bl_strbuf_format(text, "names in row %lld", (long long)d->names_row);
    } else {
        bl_strbuf_text(text, "no row of names");
    }
    if (d->units_row > 0) {
        bl_strbuf_format(text, ", units in row %lld", (long long)d->units_row);
    }
    if (d->factor_row > 0) {
        bl_strbuf_format(text,
                         ", factors or offsets in row %lld (shown, not "
                         "applied)",
                         (long long)d->factor_row);
    }
    bl_strbuf_format(text, ", data from row %lld; ", (long long)d->first_row);
}

static void describe_time(const struct log_dialect *d,
                          const struct bl_log_options *options,
                          struct bl_strbuf *text)
{
    static const char *const words[LOG_FORMS] = {"unknown",
                                                 "seconds",
                                                 "milliseconds",
                                                 "microseconds",
                                                 "nanoseconds",
                                                 "seconds since 1970",
                                                 "milliseconds since 1970",
                                                 "microseconds since 1970",
                                                 "nanoseconds since 1970",
                                                 "clock times",
                                                 "dates with clock times",
                                                 "fractions of a day",
                                                 "sample numbers"};
    if (d->time_column < 0) {
        bl_strbuf_format(text, "no column of times: rows are counted at %g Hz",
                         d->rate_hz);
    } else {
        bl_strbuf_format(text, "time in %s %lld%s as %s%s",
                         d->transposed ? "row" : "column",
                         (long long)d->time_column + 1, stated(options->time),
                         words[d->form], stated(options->time_form));
        if (d->unit_guessed && options->time_form == NULL) {
            bl_strbuf_text(text, " (no unit is written: judged by the step)");
        }
        if (d->once) {
            bl_strbuf_format(text, ", only in the first row, then %g Hz",
                             d->rate_hz);
        } else if (d->form == LOG_FORM_INDEX) {
            bl_strbuf_format(text, " at %g Hz", d->rate_hz);
        }
    }
    if (d->date_column >= 0) {
        bl_strbuf_format(text, ", date in column %lld",
                         (long long)d->date_column + 1);
    }
    if (d->month_first) {
        bl_strbuf_text(text, ", months before days");
    }
    if (d->zone_missing) {
        bl_strbuf_text(text, ", taken as UTC as no zone is written");
    } else if (d->zone_given) {
        bl_strbuf_format(text, ", zone %s (stated)", options->timezone);
    }
}

void bl_log_dialect_describe(const struct log_dialect *dialect,
                             const struct log_source *source,
                             const struct bl_log_options *options,
                             struct bl_strbuf *text)
{
    const struct log_dialect *d = dialect;
    bl_strbuf_format(
        text, "%s text%s%s; cells separated by %s%s%s%s, ",
        bl_log_encoding_name(source->encoding),
        source->marked ? " with byte order mark" : "",
        stated(options->encoding),
        strlen(bl_log_delimiter_name(d->delimiter)) == 1 ? "'" : "",
        bl_log_delimiter_name(d->delimiter),
        strlen(bl_log_delimiter_name(d->delimiter)) == 1 ? "'" : "",
        stated(options->delimiter));
    bl_strbuf_format(text, "decimal sign '%c'%s; ", d->decimal,
                     stated(options->decimal));
    if (d->transposed) {
        bl_strbuf_format(text, "each channel is one long row%s; ",
                         stated(options->layout));
    } else {
        describe_rows(d, text);
    }
    describe_time(d, options, text);
}
