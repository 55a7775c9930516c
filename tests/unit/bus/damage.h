/* SPDX-License-Identifier: MIT */
/* A recording of known frames whose places in the file are known, to be
   damaged. */
#ifndef BRAKELAG_TESTS_BUS_DAMAGE_H
#define BRAKELAG_TESTS_BUS_DAMAGE_H

#include "recordings.h"

enum { FRAMES = 600 };

static const char *const damage_names[] = {"can0", "can1"};

struct file {
    uint8_t *data;
    size_t size;
    size_t at[FRAMES + 1]; /* where each frame's block or line starts */
    uint64_t hit;          /* frames that the damage touches */
    size_t first_hit;
};

static inline struct bl_frame frame_of(size_t i)
{
    struct bl_frame frame = {.time_ns = INT64_C(1700000000000000000) +
                                        (int64_t)i * INT64_C(1000000),
                             .bus = (uint16_t)(i % 2),
                             .id = 0x0C02C820u + (uint32_t)i,
                             .flags = BL_FRAME_EXTENDED,
                             .length = 8};
    for (size_t k = 0; k < 8; k++) {
        frame.data[k] = (uint8_t)(i * 7 + k);
    }
    return frame;
}

static inline uint32_t number(const uint8_t *data, bool big)
{
    return big ? (uint32_t)data[0] << 24 | (uint32_t)data[1] << 16 |
                     (uint32_t)data[2] << 8 | data[3]
               : (uint32_t)data[3] << 24 | (uint32_t)data[2] << 16 |
                     (uint32_t)data[1] << 8 | data[0];
}

static inline void find_blocks(struct file *file, bool big)
{
    size_t frame = 0;
    size_t at = 0;
    while (at < file->size) {
        if (number(file->data + at, big) == 6) {
            file->at[frame++] = at;
        }
        at += number(file->data + at + 4, big);
    }
    assert_int_equal(frame, FRAMES);
}

static inline void find_lines(struct file *file)
{
    size_t frame = 0;
    file->at[frame++] = 0;
    for (size_t i = 0; i < file->size; i++) {
        if (file->data[i] == '\n' && i + 1 < file->size) {
            file->at[frame++] = i + 1;
        }
    }
    assert_int_equal(frame, FRAMES);
}

static inline void find_records(struct file *file, bool big)
{
    enum { HEADER = 24, RECORD = 16, CAPTURED = 8 };
    size_t frame = 0;
    for (size_t at = HEADER; at < file->size;
         at += RECORD + number(file->data + at + CAPTURED, big)) {
        file->at[frame++] = at;
    }
    assert_int_equal(frame, FRAMES);
}

static inline struct file make(const char *format, bool big)
{
    struct file file = {.first_hit = FRAMES};
    struct bl_output *output;
    struct bl_bus_writer *writer;
    const struct bl_bus_writer_options options = {
        .format = format,
        .bus = damage_names,
        .buses = strcmp(format, "pcap") == 0 ? 1 : 2,
        .big_endian = big};
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    assert_int_equal(bl_bus_writer_open(&writer, output, &options, NULL),
                     BL_OK);
    for (size_t i = 0; i < FRAMES; i++) {
        struct bl_frame frame = frame_of(i);
        frame.bus = strcmp(format, "pcap") == 0 ? 0 : frame.bus;
        assert_int_equal(bl_bus_writer_put(writer, &frame, NULL), BL_OK);
    }
    assert_int_equal(bl_bus_writer_close(writer, NULL), BL_OK);
    const char *data = bl_output_memory(output, &file.size);
    file.data = malloc(file.size);
    assert_non_null(file.data);
    memcpy(file.data, data, file.size);
    bl_output_discard(output);
    if (strcmp(format, "pcapng") == 0) {
        find_blocks(&file, big);
    } else if (strcmp(format, "pcap") == 0) {
        find_records(&file, big);
    } else {
        find_lines(&file);
    }
    file.at[FRAMES] = file.size;
    return file;
}

/* Which frames the bytes [from, from + size) belong to. */
static inline void mark(struct file *file, size_t from, size_t size)
{
    for (size_t i = 0; i < FRAMES; i++) {
        if (file->at[i] < from + size && file->at[i + 1] > from) {
            file->hit++;
            file->first_hit = i < file->first_hit ? i : file->first_hit;
        }
    }
}

#endif
