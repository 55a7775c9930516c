/* SPDX-License-Identifier: MIT */
/*
 * Analog logs: CSV in every shape that yard recorders write, and channels of
 * measurement files (ASAM MDF 4), to blocks of samples with one time stamp per
 * row. What was decided by looking (delimiter,
 * decimal sign, rows, time column and its form) is said in words and can be
 * overridden.
 */
#ifndef BRAKELAG_LOG_H
#define BRAKELAG_LOG_H

#include "brakelag/io.h"
#include "brakelag/pace.h"
#include "brakelag/status.h"

/*
 * Every field may be left at zero or NULL: "decide by looking". Text points to
 * the caller's storage and must outlive the reader.
 */
struct bl_log_options {
    const char *delimiter; /* "," ";" "tab" "space" */
    const char *decimal;   /* "." or "," */
    const char *encoding;  /* utf-8, latin-1, utf-16le, utf-16be */
    int header_row;        /* last row of free text before names; 0: look */
    int names_row;         /* rows count from 1; -1: there is none */
    int units_row;         /* -1: there is none */
    int first_row;         /* first row of data */
    const char *time;      /* header text or "#3"; "none": rows are counted */
    /* s, ms, us, ns, epoch-s, epoch-ms, epoch-us, epoch-ns, clock
       (hh:mm:ss.f), iso, day-fraction, index */
    const char *time_form;
    /* For index time, 0.001 to 1e7; 0: of the header, or refuse. */
    double rate_hz;
    const char *date;     /* YYYY-MM-DD, or the column that holds the date */
    const char *timezone; /* "+10:00", "Z"; for times written without zone;
                             NULL: taken as UTC, and said */
    const char *layout;   /* "columns" (default by looking) or "rows": each
                             channel is one long row */
};
BL_API struct bl_log_options bl_log_options_default(void);

struct bl_log_column {
    char *name;   /* UTF-8, "" where the file has none */
    char *unit;   /* as written, from a units row or from "[bar]"; NULL: none */
    char *factor; /* as written in a row of scale factors or offsets between
                     names and data; never applied here; NULL: none */
    size_t index; /* counts from 0 over all columns of the file, time too; over
                     the channels of a measurement file */
    size_t group; /* those of one group share their stamps; 0 in text */
    bool states;  /* of a measurement file: every number stands for a text */
    double smallest, largest; /* of all numbers read so far */
    double step; /* smallest difference between two different neighbouring
                    values so far: the resolution as written; 0: unknown */
    uint64_t values, missing, not_numbers, overflows, repeats; /* counts */
};

struct bl_log_damage {
    struct bl_damage at;
    uint16_t part;
};

struct bl_log_info {
    const char *format; /* "csv", or "mdf": then what follows is empty */
    const char *delimiter, *decimal, *encoding, *time_form, *layout;
    int names_row, units_row, first_row; /* -1: none */
    int64_t time_column;                 /* -1: rows are counted */
    double scale_hint;  /* the one number of the row of factors; 0: none, or
                           they differ (column[].factor) */
    double rate_hz;     /* as stated or as the header says; 0: nothing */
    bool absolute_time; /* stamps count from 1970; else they are as written:
                           clocks from midnight of the first day, counted rows
                           from the first */
    struct bl_log_column *column; /* value columns, time column(s) left out */
    size_t columns;
    uint64_t repeated_rows; /* stood there before, word for word: dropped */
    uint64_t rows, bad_rows, late_rows, splits, strays;
    int64_t first_ns, last_ns;
    int64_t interval_ns;   /* median row interval of the first rows */
    int64_t resolution_ns; /* of the time column as written */
    char *decided;         /* what was decided by looking, in one paragraph */
    /* Where rows were left out: the times of the rows around, and the part of
       the row behind. Grows as rows are read. */
    struct bl_log_damage *damage;
    size_t damages;
    /* Where stamps are not to be relied on, known after the last block. */
    struct bl_time_places times;
    bool after_damage; /* what was read last was left out; after the last block:
                          no row stands behind it */
    struct bl_notes notes;
};

struct bl_log_reader;

/* `source` is borrowed. Errors: FORMAT (no table found, names what was tried),
   LIMIT, IO, NOMEM, ARG (an option's text is not one of its values). */
BL_API BL_MUST_CHECK enum bl_status
bl_log_open(struct bl_log_reader **out, struct bl_bytes *source,
            const struct bl_log_options *options, struct bl_error *error);
/* Belongs to the reader; grows with every call of bl_log_next. */
BL_API const struct bl_log_info *bl_log_info(const struct bl_log_reader *r);

/*
 * Read only these value columns (indices into bl_log_info.column); the others
 * are passed over, not counted, and NULL in every block. All are read unless
 * this is called, once, before the first bl_log_next. Errors: ARG (no such
 * column, or reading has begun).
 */
BL_API BL_MUST_CHECK enum bl_status bl_log_select(struct bl_log_reader *reader,
                                                  const size_t *columns,
                                                  size_t count,
                                                  struct bl_error *error);

/* Rows of values; NaN where a cell is missing or no number (counted). value[c]
   is the array of column c (index into bl_log_info.column). All arrays are
   valid until the next call. `part` counts up where time jumps back. */
struct bl_log_block {
    size_t rows;
    const int64_t *time_ns;
    const double *const *value;
    uint16_t part;
};

/* block->rows == 0 only at the end. A row that is damaged inside is a note and
   a count; a cut last row is the note "cut-last-row". Rows that come late by up
   to 200 ms are sorted in. A byte source that breaks off first delivers what it
   gave, then its error. */
BL_API BL_MUST_CHECK enum bl_status bl_log_next(struct bl_log_reader *reader,
                                                struct bl_log_block *block,
                                                struct bl_error *error);
BL_API void bl_log_close(struct bl_log_reader *reader);

/* Find a value column by header text (exact, then ignoring case and a unit in
   brackets) or by "#3" (counted from 1 over all columns of the file). Returns
   -1 when there is none and -2 when several fit. */
BL_API long bl_log_find(const struct bl_log_info *info, const char *column);

#endif
