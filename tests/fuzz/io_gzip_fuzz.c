/* SPDX-License-Identifier: MIT */
/* Any bytes as a source: read by blocks and by lines; both must agree on the
   number of bytes, and the hash must come to its end. */
#include "io/lines.h"

#include <stdlib.h>
#include <string.h>

static struct bl_bytes *open_copy(const uint8_t *copy, size_t size)
{
    struct bl_bytes *source = NULL;
    if (bl_bytes_open_memory(&source, "fuzz", copy, size, NULL) != BL_OK) {
        return NULL;
    }
    return source;
}

static void finish(struct bl_bytes *source, size_t size)
{
    struct bl_stored stored;
    if (bl_bytes_drain(source, &stored, NULL) != BL_OK ||
        stored.bytes != size || strlen(stored.sha256) != 64) {
        abort();
    }
    bl_bytes_close(source);
}

static int64_t read_blocks(const uint8_t *copy, size_t size)
{
    struct bl_bytes *source = open_copy(copy, size);
    if (source == NULL) {
        return -1;
    }
    uint8_t buffer[1000];
    size_t got;
    while (bl_bytes_read(source, buffer, sizeof(buffer), &got, NULL) == BL_OK &&
           got > 0) {
    }
    const int64_t bytes = bl_bytes_offset(source);
    finish(source, size);
    return bytes;
}

static void read_lines(const uint8_t *copy, size_t size, int64_t bytes)
{
    struct bl_bytes *source = open_copy(copy, size);
    if (source == NULL) {
        return;
    }
    struct bl_lines lines;
    bl_lines_start(&lines, source, true);
    struct bl_text_line line;
    int64_t last = 0;
    for (;;) {
        const enum bl_status status = bl_lines_next(&lines, &line, NULL);
        if (status == BL_LIMIT) {
            continue;
        }
        if (status != BL_OK || line.text == NULL) {
            break;
        }
        if (line.offset < last || line.number != lines.number) {
            abort();
        }
        last = line.offset + (int64_t)line.length;
    }
    if (bl_bytes_offset(source) != bytes) {
        abort();
    }
    finish(source, size);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    uint8_t *copy = malloc(size == 0 ? 1 : size);
    if (copy == NULL) {
        return 0;
    }
    if (size > 0) {
        memcpy(copy, data, size);
    }
    const int64_t bytes = read_blocks(copy, size);
    read_lines(copy, size, bytes);
    free(copy);
    return 0;
}
