/* SPDX-License-Identifier: MIT */
/*
 * The one file that needs a GNU extension: fopencookie is the way to hand
 * libpcap bytes that are no file.
 */
#ifndef _GNU_SOURCE
#define _GNU_SOURCE
#endif
#include "io/stdio_bridge.h"

#include "base/alloc.h"

#include <errno.h>
#include <stdio_ext.h>

enum { BRIDGE_BYTES = 256 * 1024 };

static ssize_t read_source(void *cookie, char *buffer, size_t size)
{
    struct bl_stdio *bridge = cookie;
    size_t got;
    const enum bl_status status =
        bl_bytes_read(bridge->source, buffer, size, &got, &bridge->error);
    if (status != BL_OK) {
        bridge->status = status;
        errno = EIO;
        return -1;
    }
    return (ssize_t)got;
}

enum bl_status bl_stdio_open_source(struct bl_stdio *bridge,
                                    struct bl_bytes *source,
                                    struct bl_error *error)
{
    *bridge = (struct bl_stdio){.source = source};
    bl_error_clear(&bridge->error);
    bridge->buffer = bl_alloc(BRIDGE_BYTES, 1);
    if (bridge->buffer == NULL) {
        return bl_fail_memory(error);
    }
    bridge->file =
        fopencookie(bridge, "rb", (cookie_io_functions_t){.read = read_source});
    if (bridge->file == NULL) {
        bl_stdio_close(bridge);
        return bl_fail_memory(error);
    }
    if (setvbuf(bridge->file, bridge->buffer, _IOFBF, BRIDGE_BYTES) != 0) {
        bl_stdio_close(bridge);
        return bl_fail(error, BL_SYSTEM, NULL, "cannot set a file's buffer");
    }
    (void)__fsetlocking(bridge->file, FSETLOCKING_BYCALLER);
    return BL_OK;
}

void bl_stdio_close(struct bl_stdio *bridge)
{
    if (bridge->file != NULL) {
        (void)fclose(bridge->file);
        bridge->file = NULL;
    }
    bl_free(bridge->buffer);
    bridge->buffer = NULL;
}
