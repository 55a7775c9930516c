/* SPDX-License-Identifier: MIT */
/*
 * Outputs. A regular file is written beside its place, in the same folder so
 * that rename stays within one file system, and gets its name by commit. What
 * exists and is no regular file (a pipe, a device) cannot be replaced: it is
 * written to directly, as standard output is.
 */
/* realpath is in POSIX.1-2008, but as an XSI extension. */
#define _XOPEN_SOURCE 700
#include "io/output.h"

#include "base/alloc.h"
#include "base/plain.h"
#include "base/strbuf.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { BUFFER_BYTES = 256 * 1024, NAME_TRIES = 1000 };

struct bl_output {
    char *path;      /* as given, for messages */
    char *place;     /* where the file goes, links followed */
    char *temporary; /* NULL: written directly */
    int fd;          /* -1: memory */
    bool close_fd;
    bool plain; /* foreign text is made plain on the way */
    bool store; /* a file of ours: to the disk before it is called whole */
    uint8_t *buffer;
    size_t filled;
    struct bl_strbuf memory;
    enum bl_status status; /* sticky */
    struct bl_error error;
};

static void fail_system(struct bl_output *output, const char *what)
{
    const int code = errno;
    if (output->status == BL_OK) {
        output->status = bl_fail(&output->error, BL_IO, output->path,
                                 "cannot %s: %s", what, strerror(code));
    }
}

static void write_all(struct bl_output *output, const uint8_t *data,
                      size_t size)
{
    while (size > 0 && output->status == BL_OK) {
        const ssize_t length = write(output->fd, data, size);
        if (length < 0 && errno == EINTR) {
            continue;
        }
        if (length < 0) {
            fail_system(output, "write");
            return;
        }
        data += length;
        size -= (size_t)length;
    }
}

static void flush(struct bl_output *output)
{
    write_all(output, output->buffer, output->filled);
    output->filled = 0;
}

static void write_bytes(struct bl_output *output, const void *data, size_t size)
{
    if (output->fd < 0) {
        bl_strbuf_add(&output->memory, data, size);
        if (output->memory.failed) {
            output->status = bl_fail_memory(&output->error);
        }
        return;
    }
    if (size > BUFFER_BYTES - output->filled) {
        flush(output);
    }
    if (size >= BUFFER_BYTES) {
        write_all(output, data, size);
        return;
    }
    memcpy(output->buffer + output->filled, data, size);
    output->filled += size;
}

void bl_output_plain(struct bl_output *output)
{
    output->plain = true;
}

static bool is_simple(const unsigned char *data, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        if ((data[i] < 0x20 && data[i] != '\n' && data[i] != '\t') ||
            data[i] >= 0x7F) {
            return false;
        }
    }
    return true;
}

/* A piece of text, which never ends within a character. */
static void write_plain(struct bl_output *output, const char *data, size_t size)
{
    struct bl_strbuf text = {0};
    struct bl_strbuf made = {0};
    bl_strbuf_add(&text, data, size);
    char *at = text.text;
    while (!text.failed && *at != '\0') {
        const size_t length = strcspn(at, "\n\t");
        const char end = at[length];
        at[length] = '\0';
        bl_plain_add(&made, at);
        if (end != '\0') {
            bl_strbuf_char(&made, end);
        }
        at += length + (end != '\0');
    }
    if (text.failed || made.failed) {
        output->status = bl_fail_memory(&output->error);
    } else {
        write_bytes(output, bl_strbuf_get(&made), made.length);
    }
    bl_strbuf_finish(&text);
    bl_strbuf_finish(&made);
}

void bl_output_write(struct bl_output *output, const void *data, size_t size)
{
    if (output->status != BL_OK || size == 0) {
        return;
    }
    if (output->plain && !is_simple(data, size)) {
        write_plain(output, data, size);
    } else {
        write_bytes(output, data, size);
    }
}

void bl_output_text(struct bl_output *output, const char *text)
{
    bl_output_write(output, text, strlen(text));
}

static void format_long(struct bl_output *output, size_t size,
                        const char *format, va_list arguments)
{
    char *text = bl_alloc(size, 1);
    if (text == NULL) {
        output->status = bl_fail_memory(&output->error);
        return;
    }
    (void)vsnprintf(text, size, format, arguments);
    bl_output_write(output, text, size - 1);
    bl_free(text);
}

void bl_output_format(struct bl_output *output, const char *format, ...)
{
    if (output->status != BL_OK) {
        return;
    }
    char small[512];
    va_list first;
    va_start(first, format);
    va_list second;
    va_copy(second, first);
    const int length = vsnprintf(small, sizeof(small), format, first);
    va_end(first);
    if (length < 0) {
        output->status = bl_fail(&output->error, BL_SYSTEM, output->path,
                                 "cannot format a text");
    } else if ((size_t)length < sizeof(small)) {
        bl_output_write(output, small, (size_t)length);
    } else {
        format_long(output, (size_t)length + 1, format, second);
    }
    va_end(second);
}

const char *bl_output_memory(struct bl_output *output, size_t *size)
{
    *size = output->memory.length;
    return output->fd < 0 && output->status == BL_OK
               ? bl_strbuf_get(&output->memory)
               : NULL;
}

void bl_output_forget(struct bl_output *output)
{
    output->memory.length = 0;
}

static void free_output(struct bl_output *output)
{
    if (output->close_fd && output->fd >= 0) {
        (void)close(output->fd);
    }
    if (output->temporary != NULL) {
        (void)unlink(output->temporary);
    }
    bl_strbuf_finish(&output->memory);
    bl_free(output->buffer);
    bl_free(output->temporary);
    bl_free(output->place);
    bl_free(output->path);
    bl_free(output);
}

void bl_output_discard(struct bl_output *output)
{
    if (output != NULL) {
        free_output(output);
    }
}

/* The folder's entry is made durable where the system can; a file system that
   cannot has done all it does. */
static void sync_folder(const char *place)
{
    char *folder = bl_strdup(place);
    if (folder == NULL) {
        return;
    }
    char *slash = strrchr(folder, '/');
    if (slash != NULL) {
        slash[slash == folder ? 1 : 0] = '\0';
    }
    const int fd = open(slash == NULL ? "." : folder, O_RDONLY | O_CLOEXEC);
    if (fd >= 0) {
        (void)fsync(fd);
        (void)close(fd);
    }
    bl_free(folder);
}

/* fsync, close, and the name. */
static void settle(struct bl_output *output)
{
    if (output->store && fsync(output->fd) != 0) {
        fail_system(output, "store");
    }
    if (output->close_fd) {
        const int fd = output->fd;
        output->close_fd = false;
        if (close(fd) != 0) {
            fail_system(output, "close");
        }
    }
    if (output->status != BL_OK || output->temporary == NULL) {
        return;
    }
    if (rename(output->temporary, output->place) != 0) {
        fail_system(output, "give the file its name");
        return;
    }
    bl_free(output->temporary);
    output->temporary = NULL;
    sync_folder(output->place);
}

enum bl_status bl_output_commit(struct bl_output *output,
                                struct bl_error *error)
{
    if (output->fd >= 0) {
        flush(output);
        settle(output);
    }
    const enum bl_status status = output->status;
    if (status != BL_OK && error != NULL) {
        *error = output->error;
    }
    free_output(output);
    return status;
}

/* Create a file that did not exist, beside `place`. */
static void create_temporary(struct bl_output *output, mode_t mode)
{
    const char *slash = strrchr(output->place, '/');
    const size_t folder =
        slash == NULL ? 0 : (size_t)(slash - output->place) + 1;
    for (unsigned i = 0; i < NAME_TRIES; i++) {
        struct bl_strbuf name = {.limit = 0};
        bl_strbuf_add(&name, output->place, folder);
        bl_strbuf_format(&name, ".brakelag-%ld-%u.part", (long)getpid(), i);
        if (name.failed) {
            bl_strbuf_finish(&name);
            output->status = bl_fail_memory(&output->error);
            return;
        }
        output->fd =
            open(name.text, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
        if (output->fd >= 0) {
            output->temporary = name.text;
            output->close_fd = true;
            output->store = true;
            return;
        }
        bl_strbuf_finish(&name);
        if (errno != EEXIST && errno != EINTR) {
            break;
        }
    }
    fail_system(output, "create");
}

/* Follow links, so that a link stays one and its target is replaced. */
static void find_place(struct bl_output *output)
{
    output->place = bl_alloc(PATH_MAX, 1);
    if (output->place == NULL) {
        output->status = bl_fail_memory(&output->error);
        return;
    }
    if (realpath(output->path, output->place) == NULL) {
        bl_free(output->place);
        output->place = bl_strdup(output->path);
        if (output->place == NULL) {
            output->status = bl_fail_memory(&output->error);
        }
    }
}

static void open_path(struct bl_output *output)
{
    if (strcmp(output->path, "-") == 0) {
        output->fd = STDOUT_FILENO;
        return;
    }
    find_place(output);
    if (output->status != BL_OK) {
        return;
    }
    struct stat facts;
    const bool exists = stat(output->place, &facts) == 0;
    if (exists && S_ISDIR(facts.st_mode)) {
        errno = EISDIR;
        fail_system(output, "write");
    } else if (exists && !S_ISREG(facts.st_mode)) {
        output->fd = open(output->place, O_WRONLY | O_CLOEXEC);
        output->close_fd = output->fd >= 0;
        if (output->fd < 0) {
            fail_system(output, "open");
        }
    } else {
        create_temporary(output, exists ? facts.st_mode & 0777 : 0666);
    }
}

/* With what every output needs; a path: with room for what is held back. */
static struct bl_output *new_output(const char *path)
{
    struct bl_output *output = bl_alloc(1, sizeof(*output));
    if (output == NULL) {
        return NULL;
    }
    output->fd = -1;
    output->memory.limit = SIZE_MAX / 4;
    if (path != NULL) {
        output->path = bl_strdup(path);
        output->buffer = bl_alloc(BUFFER_BYTES, 1);
        if (output->path == NULL || output->buffer == NULL) {
            free_output(output);
            return NULL;
        }
    }
    return output;
}

enum bl_status bl_output_on_file(struct bl_output **out, int fd,
                                 const char *path, struct bl_error *error)
{
    *out = new_output(path);
    if (*out == NULL) {
        return bl_fail_memory(error);
    }
    (*out)->fd = fd;
    (*out)->close_fd = true;
    (*out)->store = true;
    return BL_OK;
}

enum bl_status bl_output_open(struct bl_output **out, const char *path,
                              struct bl_error *error)
{
    *out = NULL;
    struct bl_output *output = new_output(path);
    if (output == NULL) {
        return bl_fail_memory(error);
    }
    if (path != NULL) {
        open_path(output);
    }
    if (output->status != BL_OK) {
        const enum bl_status status = output->status;
        if (error != NULL) {
            *error = output->error;
        }
        free_output(output);
        return status;
    }
    *out = output;
    return BL_OK;
}
