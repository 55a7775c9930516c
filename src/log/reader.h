/* SPDX-License-Identifier: MIT */
/*
 * The reader behind include/brakelag/log.h: csv.c opens and steps, rowparse.c
 * turns a line into a row, order.c keeps rows in time, transposed.c reads the
 * layout with one channel per line, columns.c builds the description.
 */
#ifndef BRAKELAG_SRC_LOG_READER_H
#define BRAKELAG_SRC_LOG_READER_H

#include "base/pace.h"
#include "log/again.h"
#include "log/dialect.h"

/* A late row up to this much behind the newest is sorted in. */
#define LOG_LATE_NS (LOG_SECOND_NS / 5)
/* A stamp is far off from so many intervals on, and by more than the above; one
   that the next rows undo is a stray. */
enum { LOG_FAR_INTERVALS = 4, LOG_STRAY_ROWS = 16 };

struct log_channel {
    double *values; /* NULL: not selected */
    double last;
    bool has_last, selected;
    enum log_kind kind; /* of the cell in the row at hand */
    unsigned same_name; /* highest number given to its name; 0: none */
};

/* More than twice BL_LIMIT_LOG_COLUMNS. */
enum { LOG_NAME_SLOTS = 1 << 15 };

/* What each column of a plain row is, in file order. */
enum log_fast_kind { LOG_FAST_SKIP, LOG_FAST_TIME, LOG_FAST_VALUE };
struct log_fast {
    enum log_fast_kind *kind; /* NULL: this log has no plain rows */
    double **values;          /* of columns of kind VALUE */
    int power;                /* a unit of time is 10^power ns */
};

struct bl_log_reader {
    struct log_source source;
    struct log_head head;
    size_t head_at; /* next line of the head to be read as data */
    struct log_dialect dialect;
    struct bl_log_info info;
    struct log_channel *channel; /* one per info.column */
    uint32_t *name_at;           /* columns by name: place + 1; 0: free */
    int64_t *channel_of;         /* by column of the file; -1: time or date */
    uint8_t *places;             /* by column: bl_log_column_places */
    double *matrix;
    const double **value; /* what a block shows */
    int64_t *time_ns;
    size_t capacity, count, delivered;
    bool started, ended;
    /* Order. */
    uint16_t part;
    size_t next_rows; /* rows held last that belong to the next part */
    size_t doubtful;  /* rows held last whose stamps are far off: strays if the
                         next ones undo that */
    int64_t doubtful_line; /* of the first of them */
    int64_t far_ns;        /* how far is far */
    bool any;              /* in this part */
    int64_t newest_ns, delivered_ns;
    bool has_delivered; /* in this part */
    size_t damage_capacity;
    struct bl_pace pace;
    uint64_t paced_bad_rows; /* of bad_rows, those that pace knows of */
    bool paced;              /* info.times is complete */
    bool text_row; /* the row at hand holds text where a number should be */
    /* Times that wrap or count. */
    int64_t wrap_ns, last_clock_ns, base_ns, index;
    bool has_clock, has_base;
    unsigned rows_of_day; /* since midnight was passed last */
    /* Transposed. */
    double **row;
    int64_t *row_ns;
    bool *row_good;
    bool *
        row_doubt; /* a cell there was damaged: the next row stands behind it */
    size_t rows, cells, cell_at;
    /* Fast rows. */
    struct log_fast fast;
    struct log_again again;
    struct log_mdf *mdf; /* NULL: text */
};

enum log_row { LOG_ROW_GOOD, LOG_ROW_SKIPPED, LOG_ROW_FAILED };

/* rowparse.c: fills place `reader->count` of the arrays. FAILED: no memory. */
enum log_row bl_log_parse_row(struct bl_log_reader *reader,
                              const struct log_line *line, int64_t *time_ns);
/* Count what the row at place `at` holds. */
void bl_log_count_row(struct bl_log_reader *reader, size_t at);
enum bl_status bl_log_note_text(struct bl_log_reader *reader,
                                const struct log_cell *cell, size_t channel,
                                int64_t line);

/* rowparse.c: from the head, then from the source. */
enum bl_status bl_log_next_line(struct bl_log_reader *reader,
                                struct log_line *line, bool *got,
                                struct bl_error *error);

/* fastrow.c: rows of nothing but plain numbers, straight from the text at hand.
   Stops in front of the first row that is anything else. */
enum bl_status bl_log_fast_start(struct bl_log_reader *reader);
void bl_log_fast_rows(struct bl_log_reader *reader);
void bl_log_fast_finish(struct bl_log_reader *reader);
/* rowparse.c: count `rows` numbers of a column. */
void bl_log_count_numbers(struct bl_log_column *column,
                          struct log_channel *channel, const double *value,
                          size_t rows);

/* order.c */
/* Unsigned, because stamps may lie anywhere in the range of int64. */
static inline bool log_is_far(const struct bl_log_reader *reader,
                              int64_t from_ns, int64_t to_ns)
{
    return (uint64_t)to_ns - (uint64_t)from_ns > (uint64_t)reader->far_ns;
}
/* Rows first..end-1 of those held are in the order of the file. */
void bl_log_pace(struct bl_log_reader *reader, size_t first, size_t end);
enum bl_status bl_log_place(struct bl_log_reader *reader, int64_t time_ns,
                            int64_t line);
/* How many of the rows held may be shown now. */
size_t bl_log_ready(const struct bl_log_reader *reader);
/* No more rows will come, or there is no room for more: doubtful ones are
   what they say. */
enum bl_status bl_log_place_doubtful(struct bl_log_reader *reader);
void bl_log_drop_delivered(struct bl_log_reader *reader);

/* columns.c */
enum bl_status bl_log_build_columns(struct bl_log_reader *reader,
                                    const char *source, struct bl_error *error);
enum bl_status bl_log_add_column(struct bl_log_reader *reader, const char *name,
                                 const char *unit, size_t index,
                                 struct bl_error *error);

/* mdf.c: channels of a measurement file, from records instead of lines. The
   end hands over what is known of stamps and damage. */
enum bl_status bl_log_mdf_open(struct bl_log_reader *reader,
                               struct bl_bytes *bytes,
                               const struct bl_log_options *options,
                               struct bl_error *error);
enum bl_status bl_log_mdf_start(struct bl_log_reader *reader,
                                struct bl_error *error);
enum bl_status bl_log_mdf_row(struct bl_log_reader *reader, int64_t *time_ns,
                              bool *got, struct bl_error *error);
enum bl_status bl_log_mdf_ended(struct bl_log_reader *reader);
void bl_log_mdf_finish(struct bl_log_reader *reader);

/* transposed.c */
enum bl_status bl_log_transposed_open(struct bl_log_reader *reader,
                                      const struct bl_log_options *options,
                                      struct bl_error *error);
/* The next row into place; false: there is none. */
bool bl_log_transposed_row(struct bl_log_reader *reader, int64_t *time_ns);
void bl_log_transposed_finish(struct bl_log_reader *reader);

#endif
