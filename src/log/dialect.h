/* SPDX-License-Identifier: MIT */
/*
 * The shape of a log, decided from its first lines (src/log/head.h) and from
 * what the user states. delimiter.c, headrows.c, timecolumn.c and hints.c each
 * decide their part; dialect.c calls them in order and says the result.
 */
#ifndef BRAKELAG_SRC_LOG_DIALECT_H
#define BRAKELAG_SRC_LOG_DIALECT_H

#include "base/logtime.h"
#include "base/strbuf.h"
#include "brakelag/log.h"
#include "log/head.h"

struct log_dialect {
    char delimiter, decimal;
    char names_delimiter; /* names in fixed-space tables may hold one blank */
    bool transposed;
    size_t columns;     /* of the file, time too */
    size_t least_cells; /* rows with fewer are cut */
    char group;         /* sign between thousands; '\0': none was seen */
    bool ungrouped;     /* four and more digits stand without such a sign */
    /* Line numbers from 1; -1: there is none. */
    int64_t names_row, units_row, factor_row, first_row;
    size_t first_index; /* of the first whole data line in the head */
    size_t first_read;  /* of the first data line, which may be damaged */
    enum log_form form;
    int64_t time_column, date_column; /* -1: none */
    bool month_first;
    bool once; /* only the first row has a time */
    bool unit_guessed;
    bool zone_given, zone_missing; /* of written times */
    int64_t zone_s;
    bool dated; /* date_days counts for clock times */
    int64_t date_days;
    bool absolute;
    double rate_hz;
    int64_t interval_ns, resolution_ns;
};

enum bl_status bl_log_dialect_decide(struct log_dialect *dialect,
                                     const struct log_head *head,
                                     const struct bl_log_options *options,
                                     const char *source,
                                     struct bl_error *error);
void bl_log_dialect_describe(const struct log_dialect *dialect,
                             const struct log_source *source,
                             const struct bl_log_options *options,
                             struct bl_strbuf *text);
const char *bl_log_delimiter_name(char delimiter);

/* delimiter.c */
/* Share of the non-empty cells that are a number, a time or a known word; the
   first `most` cells count. *cells is how many the line has. */
double bl_log_row_quality(const struct log_line *line, char delimiter,
                          size_t *cells);
/* False: no delimiter makes a table. *columns is the usual count of cells. */
bool bl_log_decide_delimiter(const struct log_head *head, char given,
                             char *delimiter, size_t *columns);
char bl_log_decide_decimal(const struct log_head *head,
                           const struct log_dialect *dialect);
bool bl_log_cell_is_time(const struct log_cell *cell);

/* transposed.c */
bool bl_log_is_transposed(const struct log_head *head,
                          const struct log_dialect *dialect);

/* headrows.c */
bool bl_log_decide_rows(const struct log_head *head,
                        const struct bl_log_options *options,
                        struct log_dialect *dialect);
/* Text of a header cell, clean, without quotes doubled. "" where none. */
void bl_log_header_text(const struct log_head *head,
                        const struct log_dialect *dialect, int64_t row,
                        size_t column, char *out, size_t size);
/* The unit of a column: from the units row, or the brackets of its name. */
void bl_log_column_unit(const struct log_head *head,
                        const struct log_dialect *dialect, size_t column,
                        char *out, size_t size);
bool bl_log_unit_in_name(const char *name, size_t *from, size_t *length);

/* timecolumn.c */
enum bl_status bl_log_decide_time(const struct log_head *head,
                                  const struct bl_log_options *options,
                                  struct log_dialect *dialect,
                                  const char *source, struct bl_error *error);
/* The stamp of one row; `date` NULL unless there is a date column. */
bool bl_log_stamp(const struct log_dialect *dialect,
                  const struct log_cell *time, const struct log_cell *date,
                  int64_t *time_ns, int64_t *resolution_ns);
/* timeform.c: which form the numbers of a column are. */
enum log_form bl_log_numeric_form(const char *unit, double first, double last,
                                  double step, bool whole, bool *guessed);
bool bl_log_name_is_time(const char *name);
bool bl_log_name_is_index(const char *name);

/* find.c: how well a header text fits what was asked for: 3 exactly, 2 but for
   case, 1 but for a unit in brackets, 0 not. */
int bl_log_name_fit(const char *name, const char *wanted);
/* Column by header text or "#3"; -1 none, -2 several. */
int64_t bl_log_head_column(const struct log_head *head,
                           const struct log_dialect *dialect,
                           const char *wanted);

/* hints.c: "Rate: 100 Hz" and the like before the data; 0: nothing. */
double bl_log_rate_hint(const struct log_head *head, size_t lines);

#endif
