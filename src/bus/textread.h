/* SPDX-License-Identifier: MIT */
/*
 * What all readers of text recordings share: lines, notes of what could not be
 * read, and stamps that count from the line before.
 */
#ifndef BRAKELAG_SRC_BUS_TEXTREAD_H
#define BRAKELAG_SRC_BUS_TEXTREAD_H

#include "bus/format.h"
#include "io/lines.h"

struct bl_textread {
    const struct bl_textread_ways *ways;
    struct bl_bus_context *context;
    struct bl_lines lines;
    unsigned fraction_digits; /* the most that a stamp had */
    bool deltas;              /* stamps are times since the line before */
    int64_t now_ns;           /* then: their sum so far */
    bool ended;               /* there are no more lines */
};

/* A line to a frame; *taken: there is one. */
typedef enum bl_status (*bl_textread_line)(void *state,
                                           const struct bl_text_line *line,
                                           struct bl_frame *frame, bool *taken,
                                           struct bl_error *error);

/* What one of these readers does its own way. Its state, of `size` bytes,
   begins with a struct bl_textread. */
struct bl_textread_ways {
    size_t size;
    /* Before the first line. */
    enum bl_status (*decide)(void *state, struct bl_error *error);
    bl_textread_line read;
};
/* The rest of a struct bl_bus_format. */
enum bl_status bl_textread_open(void **out, const struct bl_textread_ways *ways,
                                struct bl_bus_context *context,
                                struct bl_error *error);
enum bl_status bl_textread_next(void *state, struct bl_frame *frame,
                                size_t room, size_t *count,
                                struct bl_error *error);
void bl_textread_close(void *state);
/* The stamp of one line had so many digits behind the point. */
void bl_textread_resolution(struct bl_textread *text, unsigned digits);
/* A line that is no frame: counted, or the cut last one. `at` counts from 0.
   Errors: FORMAT (its stamp is lost, and all later ones count from it). */
enum bl_status bl_textread_bad(struct bl_textread *text,
                               const struct bl_text_line *line,
                               const char *expected, size_t at,
                               struct bl_error *error);
/* The same where its time is lost, and with it all later ones. */
enum bl_status bl_textread_lost(struct bl_textread *text,
                                const struct bl_text_line *line,
                                struct bl_error *error);
enum bl_status bl_textread_comment(struct bl_textread *text,
                                   const struct bl_text_line *line);
/* A frame from a last line without line end. */
enum bl_status bl_textread_unended(struct bl_textread *text,
                                   const struct bl_text_line *line);
/* One line; a frame is added to *count. */
enum bl_status bl_textread_one(struct bl_textread *text, struct bl_frame *frame,
                               size_t *count, struct bl_error *error);

/* How the stamps of neighbouring lines lie to each other. */
struct bl_stamp_steps {
    size_t stamps, same, up, down; /* same: and not 0 */
    double rise_ns, fall_ns;       /* of all steps */
    int64_t first_ns, last_ns;
};
void bl_stamp_step(struct bl_stamp_steps *steps, int64_t time_ns);
/* Are they times since the line before? */
bool bl_stamps_are_deltas(const struct bl_stamp_steps *steps);
/* Notes that they are, or are said to be. */
enum bl_status bl_textread_deltas(struct bl_textread *text);

/*
 * Stamps since the line before: adds up. False: the sum is out of range.
 * Without them *time_ns stays.
 */
bool bl_textread_time(struct bl_textread *text, int64_t *time_ns);
/* Looks ahead, as far as the peek goes, whether stamps count from the line
   before, and notes it. */
enum bl_status bl_textread_decide(void *state, struct bl_error *error);
/* Without stamps a frame has its place in the file as its time, in ns, so that
   order is kept and nothing takes any time. Notes it. */
enum bl_status bl_textread_untimed(struct bl_textread *text);

/* For probes: the end of the line that starts at `data`; `size` when it has
   none. */
size_t bl_textread_end(const uint8_t *data, size_t size);
/* Bytes of a byte order mark. */
size_t bl_textread_mark(const uint8_t *data, size_t size);

#endif
