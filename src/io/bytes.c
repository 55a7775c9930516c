/* SPDX-License-Identifier: MIT */
/*
 * The byte source: a window over the bytes ahead, filled from the bytes as
 * stored or through the inflating layer. What a thread made ahead (ahead.h) is
 * looked at in its place. A failure is kept and given again.
 */
#include "io/bytes.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "io/ahead.h"
#include "io/gzip.h"
#include "io/near.h"
#include "io/raw.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    WINDOW_BYTES = 256 * 1024,
    RAW_BYTES = 128 * 1024,
    SNIFF_BYTES = 4,
    /* Shorter streams are inflated sooner than a thread is made. */
    DIRECT_BYTES = 1 << 20
};

struct bl_bytes {
    char *name;
    struct bl_raw raw;
    struct bl_gzip *gzip;
    struct bl_ahead *ahead; /* NULL: read and inflated here */
    bool no_ahead;          /* a thread could not be had, or is not worth it */
    int64_t file_bytes;     /* 0: no file */
    int64_t inflated;
    const uint8_t *view; /* `buffer`, or a block made ahead */
    size_t at, end;      /* what of the view is not yet taken */
    uint8_t *buffer;
    size_t capacity;
    int64_t offset;
    bool ended;
    enum bl_status status; /* sticky */
    struct bl_error error;
};

/* A thread of its own for what comes ahead, once enough of it is to come. Not
   for a pipe: that may keep a thread waiting for ever. */
static void start_ahead(struct bl_bytes *source)
{
    struct bl_raw *raw = &source->raw;
    if (source->ahead != NULL || source->no_ahead) {
        return;
    }
    if (source->gzip != NULL) {
        if (source->inflated > DIRECT_BYTES) {
            source->ahead = bl_ahead_start(source->gzip, NULL, NULL);
            source->no_ahead = source->ahead == NULL;
        }
    } else if (raw->stored > 0) {
        source->no_ahead = true;
        if (source->file_bytes > (int64_t)raw->stored + DIRECT_BYTES) {
            bl_hash_alone(raw->hash);
            source->ahead = bl_ahead_start(NULL, raw, source->name);
        }
    }
}

/* More bytes into the window, behind those that are there. */
static enum bl_status fill_once(struct bl_bytes *source)
{
    size_t got = 0;
    enum bl_status status;
    uint8_t *to = source->buffer + source->end;
    const size_t room = source->capacity - source->end;
    if (source->gzip != NULL) {
        status = bl_gzip_read(source->gzip, to, room, &got, &source->error);
        source->inflated += (int64_t)got;
    } else {
        status = bl_raw_read(&source->raw, source->name, to, room, &got,
                             &source->error);
    }
    source->end += got;
    source->status = status;
    source->ended = got == 0 && status == BL_OK;
    return status;
}

/* What is not yet taken to the start of `buffer`, with room for `wanted`. */
static enum bl_status make_room(struct bl_bytes *source, size_t wanted)
{
    const bool elsewhere = source->view != source->buffer;
    if (wanted > source->capacity) {
        size_t capacity = source->capacity * 2;
        if (capacity < wanted) {
            capacity = wanted;
        }
        uint8_t *buffer = bl_realloc(source->buffer, capacity, 1);
        if (buffer == NULL) {
            source->status = bl_fail_memory(&source->error);
            return source->status;
        }
        source->buffer = buffer;
        source->view = elsewhere ? source->view : buffer;
        source->capacity = capacity;
    }
    if (source->at > 0 || elsewhere) {
        const size_t left = source->end - source->at;
        if (left > 0) {
            memmove(source->buffer, source->view + source->at, left);
        }
        source->view = source->buffer;
        source->at = 0;
        source->end = left;
    }
    return BL_OK;
}

/* The next block that was made ahead becomes the window, what is left of this
   one in front of it. Where that is too much, all goes into `buffer`. */
static enum bl_status fill_ahead(struct bl_bytes *source)
{
    const size_t left = source->end - source->at;
    const bool in_place = left <= BL_AHEAD_FRONT;
    if (!in_place && make_room(source, left + BL_AHEAD_BLOCK) != BL_OK) {
        return source->status;
    }
    uint8_t *block;
    size_t got;
    source->status =
        bl_ahead_next(source->ahead, source->view + source->at,
                      in_place ? left : 0, &block, &got, &source->error);
    if (in_place) {
        source->view = block - left;
        source->at = 0;
        source->end = left + got;
    } else {
        memcpy(source->buffer + source->end, block, got);
        source->end += got;
    }
    source->ended = got == 0 && source->status == BL_OK;
    return source->status;
}

/* Until `wanted` bytes are ahead, the end, or a failure. */
static void fill(struct bl_bytes *source, size_t wanted)
{
    while (source->end - source->at < wanted && !source->ended &&
           source->status == BL_OK) {
        start_ahead(source);
        if (source->ahead != NULL) {
            (void)fill_ahead(source);
        } else if (make_room(source, wanted) == BL_OK) {
            (void)fill_once(source);
        }
    }
}

static enum bl_status repeat_failure(const struct bl_bytes *source,
                                     struct bl_error *error)
{
    if (error != NULL) {
        *error = source->error;
    }
    return source->status;
}

enum bl_status bl_bytes_window(struct bl_bytes *source, size_t wanted,
                               const uint8_t **data, size_t *available,
                               struct bl_error *error)
{
    if (wanted > BL_WINDOW_MAX) {
        wanted = BL_WINDOW_MAX;
    }
    fill(source, wanted);
    *data = source->view + source->at;
    *available = source->end - source->at;
    if (*available < wanted && source->status != BL_OK) {
        return repeat_failure(source, error);
    }
    return BL_OK;
}

void bl_bytes_take(struct bl_bytes *source, size_t count)
{
    source->at += count;
    source->offset += (int64_t)count;
}

enum bl_status bl_bytes_skip(struct bl_bytes *source, uint64_t count,
                             uint64_t *skipped, struct bl_error *error)
{
    *skipped = 0;
    while (*skipped < count) {
        const uint8_t *data;
        size_t available;
        const enum bl_status status =
            bl_bytes_window(source, 1, &data, &available, error);
        if (available == 0) {
            return status;
        }
        const uint64_t left = count - *skipped;
        const size_t step = available < left ? available : (size_t)left;
        bl_bytes_take(source, step);
        *skipped += step;
    }
    return BL_OK;
}

enum bl_status bl_bytes_peek(struct bl_bytes *source, size_t wanted,
                             const uint8_t **data, size_t *available,
                             struct bl_error *error)
{
    if (wanted > BL_PEEK_MAX) {
        wanted = BL_PEEK_MAX;
    }
    fill(source, wanted);
    *data = source->view + source->at;
    *available = source->end - source->at;
    const bool damage =
        source->status == BL_FORMAT || source->status == BL_TRUNCATED;
    if (*available < wanted && source->status != BL_OK && !damage) {
        return repeat_failure(source, error);
    }
    return BL_OK;
}

enum bl_status bl_bytes_read(struct bl_bytes *source, void *buffer, size_t size,
                             size_t *got, struct bl_error *error)
{
    *got = 0;
    if (size == 0) {
        return BL_OK;
    }
    fill(source, 1);
    const size_t available = source->end - source->at;
    if (available == 0) {
        return source->status == BL_OK ? BL_OK : repeat_failure(source, error);
    }
    *got = available < size ? available : size;
    memcpy(buffer, source->view + source->at, *got);
    bl_bytes_take(source, *got);
    return BL_OK;
}

/* A file that can be read at any place, as stored. */
static bool is_anywhere(const struct bl_bytes *source)
{
    return source->gzip == NULL && source->raw.kind == BL_RAW_FILE &&
           source->raw.close_fd && source->file_bytes > 0;
}

enum bl_status bl_bytes_size(struct bl_bytes *source, uint64_t *size,
                             struct bl_error *error)
{
    *size = 0;
    if (is_anywhere(source)) {
        *size = (uint64_t)source->file_bytes;
        return BL_OK;
    }
    if (source->gzip == NULL && source->raw.kind == BL_RAW_MEMORY) {
        *size = source->raw.memory_size;
        return BL_OK;
    }
    /* The window grows until all is in it. */
    while (!source->ended && source->status == BL_OK) {
        const size_t held = source->end - source->at;
        if (held >= BL_LIMIT_HELD_BYTES) {
            return bl_fail(error, BL_LIMIT, source->name,
                           "expected at most %u bytes of a file that comes "
                           "packed or through a pipe and must be held, found "
                           "more: unpack it into a file",
                           BL_LIMIT_HELD_BYTES);
        }
        fill(source, held + 1);
    }
    *size = source->end - source->at;
    return source->status == BL_OK ? BL_OK : repeat_failure(source, error);
}

static enum bl_status read_at(struct bl_bytes *source, uint64_t offset,
                              void *buffer, size_t size, size_t *got,
                              struct bl_error *error)
{
    while (*got < size) {
        const ssize_t length = pread(source->raw.fd, (uint8_t *)buffer + *got,
                                     size - *got, (off_t)(offset + *got));
        if (length < 0 && errno == EINTR) {
            continue;
        }
        if (length < 0) {
            const int code = errno;
            return bl_fail_offset(error, BL_IO, source->name, (int64_t)offset,
                                  "cannot read on: %s", strerror(code));
        }
        if (length == 0) {
            break;
        }
        *got += (size_t)length;
    }
    return BL_OK;
}

enum bl_status bl_bytes_at(struct bl_bytes *source, uint64_t offset,
                           void *buffer, size_t size, size_t *got,
                           struct bl_error *error)
{
    *got = 0;
    if (is_anywhere(source)) {
        if (offset >= (uint64_t)source->file_bytes) {
            return BL_OK;
        }
        return read_at(source, offset, buffer, size, got, error);
    }
    const bool memory =
        source->gzip == NULL && source->raw.kind == BL_RAW_MEMORY;
    const uint8_t *all =
        memory ? source->raw.memory : source->view + source->at;
    const size_t end =
        memory ? source->raw.memory_size : source->end - source->at;
    if (offset < end) {
        const size_t left = end - (size_t)offset;
        *got = size < left ? size : left;
        memcpy(buffer, all + offset, *got);
    }
    return BL_OK;
}

int64_t bl_bytes_offset(const struct bl_bytes *source)
{
    return source->offset;
}

const char *bl_bytes_name(const struct bl_bytes *source)
{
    return source->name;
}

bool bl_bytes_is_gzip(const struct bl_bytes *source)
{
    return source->gzip != NULL;
}

enum bl_status bl_bytes_drain(struct bl_bytes *source, struct bl_stored *stored,
                              struct bl_error *error)
{
    struct bl_raw *raw = &source->raw;
    memset(stored, 0, sizeof(*stored));
    bl_ahead_stop(source->ahead); /* and the window with it */
    source->ahead = NULL;
    source->no_ahead = true;
    source->view = source->buffer;
    source->at = 0;
    source->end = 0;
    uint8_t *scratch = bl_alloc(RAW_BYTES, 1);
    if (scratch == NULL) {
        return bl_fail_memory(error);
    }
    enum bl_status status = BL_OK;
    while (status == BL_OK && !raw->ended) {
        size_t got;
        status =
            bl_raw_read(raw, source->name, scratch, RAW_BYTES, &got, error);
    }
    bl_free(scratch);
    source->ended = true;
    stored->bytes = raw->stored;
    if (status != BL_OK) {
        return status;
    }
    return bl_hash_hex(raw->hash, stored->sha256, error);
}

void bl_bytes_close(struct bl_bytes *source)
{
    if (source == NULL) {
        return;
    }
    bl_ahead_stop(source->ahead);
    bl_gzip_free(source->gzip);
    bl_raw_close(&source->raw);
    bl_free(source->buffer);
    bl_free(source->name);
    bl_free(source);
}

/* Take the raw bytes over into a new source; closes them on failure. */
static enum bl_status create(struct bl_bytes **out, const char *name,
                             const struct bl_raw *raw, struct bl_error *error)
{
    *out = NULL;
    struct bl_bytes *source = bl_alloc(1, sizeof(*source));
    if (source == NULL) {
        struct bl_raw left = *raw;
        bl_raw_close(&left);
        return bl_fail_memory(error);
    }
    source->raw = *raw;
    bl_error_clear(&source->error);
    source->name = bl_strdup(name);
    source->capacity = WINDOW_BYTES;
    source->buffer = bl_alloc(source->capacity, 1);
    enum bl_status status = BL_OK;
    if (source->name == NULL || source->buffer == NULL) {
        status = bl_fail_memory(error);
    } else {
        source->view = source->buffer;
        status = bl_hash_new(&source->raw.hash, error);
    }
    if (status != BL_OK) {
        bl_bytes_close(source);
        return status;
    }
    *out = source;
    return BL_OK;
}

/* Look at the first bytes as stored; put the inflating layer in if needed. */
static enum bl_status sniff(struct bl_bytes *source, struct bl_error *error)
{
    fill(source, SNIFF_BYTES);
    if (source->status != BL_OK) {
        return repeat_failure(source, error);
    }
    if (!bl_gzip_recognised(source->view, source->end)) {
        return BL_OK;
    }
    uint8_t *fresh = bl_alloc(WINDOW_BYTES, 1);
    if (fresh == NULL) {
        return bl_fail_memory(error);
    }
    const struct bl_gzip_first first = {source->buffer, source->end,
                                        source->capacity};
    source->buffer = fresh;
    source->view = fresh;
    source->capacity = WINDOW_BYTES;
    source->end = 0;
    source->ended = false;
    return bl_gzip_new(&source->gzip, &source->raw, source->name, first, error);
}

static enum bl_status finish_open(struct bl_bytes **out,
                                  struct bl_bytes *source,
                                  struct bl_error *error)
{
    const enum bl_status status = sniff(source, error);
    if (status != BL_OK) {
        bl_bytes_close(source);
        return status;
    }
    *out = source;
    return BL_OK;
}

/* What is opened and cannot be read as a recording. A device is a whole disk,
   or bytes without end; a terminal has one. NULL: nothing against it. */
static const char *no_file(const struct bl_raw *raw, mode_t mode)
{
    if (S_ISDIR(mode)) {
        return "folder";
    }
    const bool device = S_ISBLK(mode) || S_ISCHR(mode);
    return device && raw->close_fd && !isatty(raw->fd) ? "device" : NULL;
}

enum bl_status bl_bytes_open(struct bl_bytes **out, const char *path,
                             struct bl_error *error)
{
    *out = NULL;
    struct bl_raw raw = {.kind = BL_RAW_FILE, .fd = STDIN_FILENO};
    if (strcmp(path, "-") != 0) {
        do {
            raw.fd = open(path, O_RDONLY | O_CLOEXEC);
        } while (raw.fd < 0 && errno == EINTR);
        if (raw.fd < 0) {
            const int code = errno;
            char near[BL_MESSAGE_MAX / 2] = "";
            return bl_fail(
                error, BL_IO, path, "cannot open: %s%s", strerror(code),
                code == ENOENT ? bl_near_file(path, near, sizeof(near)) : "");
        }
        raw.close_fd = true;
    }
    struct stat facts;
    int64_t file_bytes = 0;
    if (fstat(raw.fd, &facts) == 0) {
        const char *other = no_file(&raw, facts.st_mode);
        if (other != NULL) {
            bl_raw_close(&raw);
            return bl_fail(error, BL_IO, path, "expected a file, found a %s",
                           other);
        }
        file_bytes = S_ISREG(facts.st_mode) ? (int64_t)facts.st_size : 0;
    }
    struct bl_bytes *source;
    const enum bl_status status = create(&source, path, &raw, error);
    if (status != BL_OK) {
        return status;
    }
    source->file_bytes = file_bytes;
    return finish_open(out, source, error);
}

enum bl_status bl_bytes_open_memory(struct bl_bytes **out, const char *name,
                                    const void *data, size_t size,
                                    struct bl_error *error)
{
    *out = NULL;
    struct bl_raw raw = {
        .kind = BL_RAW_MEMORY, .memory = data, .memory_size = size};
    struct bl_bytes *source;
    const enum bl_status status = create(&source, name, &raw, error);
    return status != BL_OK ? status : finish_open(out, source, error);
}

enum bl_status bl_bytes_open_function(struct bl_bytes **out, const char *name,
                                      bl_bytes_fill *fill_function,
                                      void *context, struct bl_error *error)
{
    struct bl_raw raw = {
        .kind = BL_RAW_FUNCTION, .fill = fill_function, .context = context};
    return create(out, name, &raw, error);
}
