/* SPDX-License-Identifier: MIT */
/*
 * Loaded in front of the C library by tests/cli: system calls that
 * fail on demand, as disks and networks do.
 *
 *   FAIL_CALL   read, write, close, fsync, rename (any way in which a file
 *               gets its name), open: which one
 *   FAIL_AT     its which call, from 1; "short": every read or write moves a
 *               few bytes only; "again": every other one is interrupted
 *   FAIL_ERRNO  the number that the failing call gives
 *   FAIL_SIGNAL instead of failing, the call sends this signal to its program
 *               and goes on
 *   FAIL_TELL   a file that gets one byte for each failure made
 *
 * Reads count on regular files named .pcapng, .csv, .log, .gz or .ini only,
 * writes, fsync and close on what was opened for writing, and on standard
 * output.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { FILES = 1024 };
static atomic_bool input[FILES], output[FILES];
static atomic_long calls;

static void *next(const char *name)
{
    return dlsym(RTLD_NEXT, name);
}

static bool is(const char *variable, const char *value)
{
    const char *set = getenv(variable);
    return set != NULL && strcmp(set, value) == 0;
}

static void tell(void)
{
    int (*real_open)(const char *, int, ...) =
        (int (*)(const char *, int, ...))next("open");
    ssize_t (*real_write)(int, const void *, size_t) =
        (ssize_t(*)(int, const void *, size_t))next("write");
    int (*real_close)(int) = (int (*)(int))next("close");
    const char *path = getenv("FAIL_TELL");
    const int kept = errno;
    const int fd = path == NULL
                       ? -1
                       : real_open(path, O_WRONLY | O_CREAT | O_APPEND, 0600);
    if (fd >= 0) {
        (void)!real_write(fd, "x", 1);
        (void)real_close(fd);
    }
    errno = kept;
}

/* Is this the call that has to fail? Then errno is set. */
static bool fails(const char *call)
{
    if (!is("FAIL_CALL", call)) {
        return false;
    }
    const long number = atomic_fetch_add(&calls, 1) + 1;
    const char *at = getenv("FAIL_AT");
    if (is("FAIL_AT", "again")) {
        errno = EINTR;
        if (number % 2 == 1) {
            tell();
        }
        return number % 2 == 1;
    }
    if (at == NULL || number != atol(at)) {
        return false;
    }
    const char *code = getenv("FAIL_ERRNO");
    const char *signal = getenv("FAIL_SIGNAL");
    tell();
    if (signal != NULL) { /* the call is interrupted at its most, and goes on */
        (void)kill(getpid(), atoi(signal));
        return false;
    }
    errno = code == NULL ? EIO : atoi(code);
    return true;
}

static size_t shortened(const char *call, size_t size)
{
    if (!is("FAIL_CALL", call) || !is("FAIL_AT", "short") || size == 0) {
        return size;
    }
    const long number = atomic_fetch_add(&calls, 1);
    const size_t few = (size_t)(number * 7 % 13) + 1;
    tell();
    return few < size ? few : size;
}

static bool ends(const char *path, const char *end)
{
    const size_t length = strlen(path);
    const size_t wanted = strlen(end);
    return length >= wanted && strcmp(path + length - wanted, end) == 0;
}

static int open_at(int folder, const char *path, int flags, int mode)
{
    int (*real)(int, const char *, int, ...) =
        (int (*)(int, const char *, int, ...))next("openat");
    const bool writes = (flags & (O_WRONLY | O_RDWR)) != 0;
    if (writes && fails("open")) {
        return -1;
    }
    const int fd = real(folder, path, flags, mode);
    if (fd >= 0 && fd < FILES) {
        output[fd] = writes;
        input[fd] = !writes && (ends(path, ".pcapng") || ends(path, ".csv") ||
                                ends(path, ".log") || ends(path, ".gz") ||
                                ends(path, ".ini"));
    }
    return fd;
}

int open(const char *path, int flags, ...)
{
    va_list rest;
    va_start(rest, flags);
    const int mode = (flags & O_CREAT) != 0 ? va_arg(rest, int) : 0;
    va_end(rest);
    return open_at(AT_FDCWD, path, flags, mode);
}

int openat(int folder, const char *path, int flags, ...)
{
    va_list rest;
    va_start(rest, flags);
    const int mode = (flags & O_CREAT) != 0 ? va_arg(rest, int) : 0;
    va_end(rest);
    return open_at(folder, path, flags, mode);
}

int openat64(int folder, const char *path, int flags, ...)
{
    va_list rest;
    va_start(rest, flags);
    const int mode = (flags & O_CREAT) != 0 ? va_arg(rest, int) : 0;
    va_end(rest);
    return open_at(folder, path, flags, mode);
}

int open64(const char *path, int flags, ...)
{
    va_list rest;
    va_start(rest, flags);
    const int mode = (flags & O_CREAT) != 0 ? va_arg(rest, int) : 0;
    va_end(rest);
    return open(path, flags, mode);
}

ssize_t read(int fd, void *data, size_t size)
{
    ssize_t (*real)(int, void *, size_t) =
        (ssize_t(*)(int, void *, size_t))next("read");
    if (fd >= 0 && fd < FILES && input[fd]) {
        if (fails("read")) {
            return -1;
        }
        size = shortened("read", size);
    }
    return real(fd, data, size);
}

static bool is_output(int fd)
{
    return fd == STDOUT_FILENO || (fd > 2 && fd < FILES && output[fd]);
}

ssize_t write(int fd, const void *data, size_t size)
{
    ssize_t (*real)(int, const void *, size_t) =
        (ssize_t(*)(int, const void *, size_t))next("write");
    if (is_output(fd)) {
        if (fails("write")) {
            return -1;
        }
        size = shortened("write", size);
    }
    return real(fd, data, size);
}

int fsync(int fd)
{
    int (*real)(int) = (int (*)(int))next("fsync");
    return is_output(fd) && fails("fsync") ? -1 : real(fd);
}

int close(int fd)
{
    int (*real)(int) = (int (*)(int))next("close");
    const bool failing = is_output(fd) && fails("close");
    if (fd >= 0 && fd < FILES) {
        input[fd] = output[fd] = false;
    }
    const int kept = errno;
    const int code = real(fd);
    if (failing) {
        errno = kept;
        return -1;
    }
    return code;
}

int rename(const char *from, const char *to)
{
    int (*real)(const char *, const char *) =
        (int (*)(const char *, const char *))next("rename");
    return fails("rename") ? -1 : real(from, to);
}

int renameat(int from_folder, const char *from, int to_folder, const char *to)
{
    int (*real)(int, const char *, int, const char *) =
        (int (*)(int, const char *, int, const char *))next("renameat");
    return fails("rename") ? -1 : real(from_folder, from, to_folder, to);
}

int linkat(int from_folder, const char *from, int to_folder, const char *to,
           int flags)
{
    int (*real)(int, const char *, int, const char *, int) =
        (int (*)(int, const char *, int, const char *, int))next("linkat");
    return fails("rename") ? -1 : real(from_folder, from, to_folder, to, flags);
}
