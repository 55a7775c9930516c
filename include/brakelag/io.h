/* SPDX-License-Identifier: MIT */
/*
 * Bytes in and bytes out.
 *
 * A byte source hides whether bytes come from a file, standard input or
 * memory, and whether they are stored as gzip (recognised by content, several
 * members in a row are one stream). It keeps a SHA-256 over the bytes as
 * stored, so that evidence can be tied to a file.
 *
 * An output appears whole or not at all: a file is written beside its place
 * and renamed by commit; what is discarded leaves an older file untouched.
 */
#ifndef BRAKELAG_IO_H
#define BRAKELAG_IO_H

#include "brakelag/status.h"

struct bl_bytes;

enum { BL_PEEK_MAX = 65536, BL_SHA256_HEX = 65 };

/* Open a file; "-" is standard input. Source: created, close with
   bl_bytes_close. Errors: IO (cannot open, is a folder), FORMAT (starts as
   gzip but the header is broken), NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_bytes_open(struct bl_bytes **out, const char *path, struct bl_error *error);

/* Read from memory that stays valid until close; `name` is used in messages
   and copied. gzip is inflated here too. */
BL_API BL_MUST_CHECK enum bl_status
bl_bytes_open_memory(struct bl_bytes **out, const char *name, const void *data,
                     size_t size, struct bl_error *error);

/*
 * Read up to `size` bytes. *got is 0 only at the end. A gzip stream that is
 * damaged or cut delivers all that could be inflated, then FORMAT or
 * TRUNCATED; reading again repeats that status.
 */
BL_API BL_MUST_CHECK enum bl_status bl_bytes_read(struct bl_bytes *source,
                                                  void *buffer, size_t size,
                                                  size_t *got,
                                                  struct bl_error *error);

/*
 * Look at the bytes ahead without taking them: at least `wanted` (at most
 * BL_PEEK_MAX) unless the stream ends sooner. *data is valid until the next
 * call on this source. A damaged gzip stream peeks short, without error.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_bytes_peek(struct bl_bytes *source, size_t wanted, const uint8_t **data,
              size_t *available, struct bl_error *error);

/* Bytes taken so far (after inflating). */
BL_API int64_t bl_bytes_offset(const struct bl_bytes *source);
/* Valid until close. */
BL_API const char *bl_bytes_name(const struct bl_bytes *source);
BL_API bool bl_bytes_is_gzip(const struct bl_bytes *source);

/* What a file was, as stored: set by bl_bytes_drain. */
struct bl_stored {
    char sha256[BL_SHA256_HEX]; /* lower-case hex, "" when not yet known */
    uint64_t bytes;             /* as stored, before inflating */
};

/* Read what is left as stored, to the end, and give hash and size. Works after
   any parse error; call at most once, before close. */
BL_API BL_MUST_CHECK enum bl_status bl_bytes_drain(struct bl_bytes *source,
                                                   struct bl_stored *stored,
                                                   struct bl_error *error);
BL_API void bl_bytes_close(struct bl_bytes *source);

/* SHA-256 of memory, as lower-case hex. Errors: SYSTEM, NOMEM. */
BL_API BL_MUST_CHECK enum bl_status bl_sha256(const void *data, size_t size,
                                              char hex[BL_SHA256_HEX],
                                              struct bl_error *error);

struct bl_output;

/* "-" is standard output (flushed by commit, which reports a full disk or a
   closed pipe); NULL path: memory only. Errors: IO, NOMEM. */
BL_API BL_MUST_CHECK enum bl_status bl_output_open(struct bl_output **out,
                                                   const char *path,
                                                   struct bl_error *error);

/* Write. The first failure sticks: later writes do nothing and commit
   reports it, so a writer may check once at the end. */
BL_API void bl_output_write(struct bl_output *output, const void *data,
                            size_t size);
BL_API void bl_output_text(struct bl_output *output, const char *text);
BL_API void bl_output_format(struct bl_output *output, const char *format, ...)
    BL_PRINTF(2, 3);

/* From now on what is written is text for a person: characters that control a
   terminal, turn the text around them or show nothing are written out as their
   number, U+202E as "202E" between single guillemets. Line ends and tabs stay.
 */
BL_API void bl_output_plain(struct bl_output *output);

/* Memory outputs: what was written so far, NUL-terminated; valid until the
   next write. NULL for others, and when memory ran out on the way. */
BL_API const char *bl_output_memory(struct bl_output *output, size_t *size);

/* The file gets its name (after fsync) and the output is freed. On failure
   nothing has changed at the path. */
BL_API BL_MUST_CHECK enum bl_status bl_output_commit(struct bl_output *output,
                                                     struct bl_error *error);
/* Throw away and free; NULL is fine. */
BL_API void bl_output_discard(struct bl_output *output);

/*
 * Files of one folder that belong together. Each is written beside its place,
 * and none takes its name before all of them are whole and stored. Nothing that
 * lies in the folder is replaced unless the caller says so for that name, and
 * no link in it is followed: what is replaced is a regular file, never what a
 * link leads to.
 */
struct bl_folder;

/* The folder must exist. Errors: IO, NOMEM. */
BL_API BL_MUST_CHECK enum bl_status bl_folder_open(struct bl_folder **out,
                                                   const char *path,
                                                   struct bl_error *error);
/* Begin a file. Errors: ARG (a file of that name is there and `replace` is
   false, or what is there is no regular file), IO, NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_folder_add(struct bl_folder *folder, const char *name, bool replace,
              struct bl_output **out, struct bl_error *error);
/* The file that was begun last is whole: it is stored, and `output` freed. */
BL_API BL_MUST_CHECK enum bl_status bl_folder_keep(struct bl_folder *folder,
                                                   struct bl_output *output,
                                                   struct bl_error *error);
/*
 * All files take their names, in the order in which they were begun. `first`
 * (may be NULL) is removed before that: a list of what lies there that would no
 * longer be true. On failure new files are gone again; what was replaced before
 * the failure stays. Call once; then close. Errors: ARG, IO.
 */
BL_API BL_MUST_CHECK enum bl_status bl_folder_commit(struct bl_folder *folder,
                                                     const char *first,
                                                     struct bl_error *error);
/* Free; what did not get its name is gone. NULL is fine. */
BL_API void bl_folder_close(struct bl_folder *folder);

/* A place where a recording is damaged: the stamps of what was read before and
   behind it. INT64_MIN, INT64_MAX: nothing was. */
struct bl_damage {
    int64_t from_ns, until_ns;
};

#endif
