/* SPDX-License-Identifier: MIT */
/*
 * A FILE over a byte source, for libraries that want one. The
 * buffer is large and the caller does the locking (there is one thread), which
 * halves the cost of libpcap's small reads.
 */
#ifndef BRAKELAG_SRC_IO_STDIO_BRIDGE_H
#define BRAKELAG_SRC_IO_STDIO_BRIDGE_H

#include "brakelag/io.h"

#include <stdio.h>

/* Must not move while the FILE is open. */
struct bl_stdio {
    FILE *file; /* the library may close it; then set it to NULL */
    struct bl_bytes *source;
    char *buffer;
    enum bl_status status; /* of the source: why the FILE has an error */
    struct bl_error error;
};

/* The source stays the caller's. Errors: NOMEM, SYSTEM. */
enum bl_status bl_stdio_open_source(struct bl_stdio *bridge,
                                    struct bl_bytes *source,
                                    struct bl_error *error);
/* Closes the FILE unless it is NULL, and frees. */
void bl_stdio_close(struct bl_stdio *bridge);

#endif
