/* SPDX-License-Identifier: MIT */
/*
 * Status codes, the error object and counted notes: what every other public
 * header builds on.
 *
 * Rules that hold in the whole library
 *  - A function that can fail returns enum bl_status (0 or negative), or, where
 *    it says so, a small positive result such as "1: a batch was delivered".
 *    A positive result never means failure.
 *  - The caller passes a struct bl_error, or NULL when the sentence is of no
 *    interest. On failure it is filled once, by whoever saw the failure first;
 *    on success it is left alone. There is no "last error" anywhere.
 *  - What was noticed but did not stop the work (a cut last record, a cell that
 *    is no number) is a note: counted per code in the object that it concerns.
 */
#ifndef BRAKELAG_STATUS_H
#define BRAKELAG_STATUS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
#define BL_EXTERN extern "C"
#else
#define BL_EXTERN
#endif

#if defined(__GNUC__)
#define BL_API BL_EXTERN __attribute__((visibility("default")))
#define BL_PRINTF(format_index, first_index)                                   \
    __attribute__((format(printf, format_index, first_index)))
#define BL_MUST_CHECK __attribute__((warn_unused_result))
#else
#define BL_API BL_EXTERN
#define BL_PRINTF(format_index, first_index)
#define BL_MUST_CHECK
#endif

/* X(name, value, sentence). Values are never renumbered. */
#define BL_STATUS_LIST(X)                                                      \
    X(OK, 0, "done")                                                           \
    X(NOMEM, -1, "out of memory")                                              \
    X(IO, -2, "the operating system refused to read or write")                 \
    X(TRUNCATED, -3, "the input ends in the middle of something")              \
    X(FORMAT, -4, "the input is damaged or not of the expected form")          \
    X(UNSUPPORTED, -5, "the input is of a kind that is not read")              \
    X(LIMIT, -6, "a stated limit was reached")                                 \
    X(NODATA, -7, "there is not enough data to answer")                        \
    X(ARG, -8, "an argument is wrong")                                         \
    X(TRIAL, -9, "the trial file, or another file that steers, is wrong")      \
    X(SYSTEM, -10, "something else failed in the system")

enum bl_status {
#define BL_STATUS_ENUM(name, value, sentence) BL_##name = value,
    BL_STATUS_LIST(BL_STATUS_ENUM)
#undef BL_STATUS_ENUM
};

/* Version of the library, "0.2.0-dev". */
BL_API const char *bl_version(void);

/* Symbolic name of a status, "TRUNCATED"; never NULL. */
BL_API const char *bl_status_name(enum bl_status status);

enum { BL_SOURCE_MAX = 256, BL_MESSAGE_MAX = 512 };

/*
 * Where and why something failed. `source` is a file name (or "-", or a name
 * given to memory), `line` counts from 1, `offset` is a byte offset from 0;
 * a line or offset that does not apply is -1. `message` is one line of UTF-8
 * without a full stop: what was expected, what was found.
 */
struct bl_error {
    enum bl_status status;
    int64_t line;
    int64_t offset;
    char source[BL_SOURCE_MAX];
    char message[BL_MESSAGE_MAX];
};

/* Sets every field to "no error". */
BL_API void bl_error_clear(struct bl_error *error);

/*
 * Fill `error` (NULL is fine) and return `status`, so that a failing function
 * ends in one line. Text that is too long is cut at a character's border.
 * bl_fail: no place. bl_fail_line, bl_fail_offset: with one.
 */
BL_API enum bl_status bl_fail(struct bl_error *error, enum bl_status status,
                              const char *source, const char *format, ...)
    BL_PRINTF(4, 5);
BL_API enum bl_status bl_fail_line(struct bl_error *error,
                                   enum bl_status status, const char *source,
                                   int64_t line, const char *format, ...)
    BL_PRINTF(5, 6);
BL_API enum bl_status bl_fail_offset(struct bl_error *error,
                                     enum bl_status status, const char *source,
                                     int64_t offset, const char *format, ...)
    BL_PRINTF(5, 6);

/* The usual "out of memory" failure. */
BL_API enum bl_status bl_fail_memory(struct bl_error *error);

/*
 * One line for a person: "yard.csv:12: expected a number, found 'abc'", or
 * "yard.pcap: byte 40: ...". Cut to `size`, always terminated. Returns `text`.
 */
BL_API const char *bl_error_line(const struct bl_error *error, char *text,
                                 size_t size);

/*
 * Foreign text (names, cells, file names) fit to be shown in one line: what
 * controls a terminal, turns the text around it or shows nothing stands as its
 * number, U+202E as "202E" between single guillemets. Returns `text` itself
 * where nothing of that is in it, else `line`, cut to `size`.
 */
BL_API const char *bl_plain_line(const char *text, char *line, size_t size);

enum { BL_NOTE_CODE_MAX = 40, BL_NOTE_TEXT_MAX = 256 };

/* Something noticed: a short code, the first occurrence in words, how often.
   `first_line` and `first_offset` as in struct bl_error, -1 when not given. */
struct bl_note {
    char code[BL_NOTE_CODE_MAX];
    char text[BL_NOTE_TEXT_MAX];
    uint64_t count;
    int64_t first_line;
    int64_t first_offset;
};

/* A list of notes, at most one per code. Zero-initialise; finish frees. */
struct bl_notes {
    struct bl_note *item;
    size_t count;
    size_t capacity;
};

/*
 * Count one more occurrence of `code`; the text is kept from the first one.
 * Out of memory is remembered as a status so that no note is lost silently.
 */
BL_API enum bl_status bl_note(struct bl_notes *notes, const char *code,
                              int64_t line, int64_t offset, const char *format,
                              ...) BL_PRINTF(5, 6);
/* The same, but a note of its own every time: for lists of mistakes. */
BL_API enum bl_status bl_note_each(struct bl_notes *notes, const char *code,
                                   int64_t line, const char *format, ...)
    BL_PRINTF(4, 5);
/* The note of that code; NULL. It stays where it is until the list grows. */
BL_API const struct bl_note *bl_notes_find(const struct bl_notes *notes,
                                           const char *code);
BL_API enum bl_status bl_notes_append(struct bl_notes *to,
                                      const struct bl_notes *from);
BL_API void bl_notes_finish(struct bl_notes *notes);

#endif
