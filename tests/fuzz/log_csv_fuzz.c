/* SPDX-License-Identifier: MIT */
/*
 * An analog log of any bytes: opened, read to its end, every stamp in order
 * within a part, every count in agreement. The first byte picks what is stated
 * instead of looked for.
 */
#include "brakelag/log.h"

#include <stdlib.h>
#include <string.h>

static void demand(int truth)
{
    if (!truth) {
        abort();
    }
}

static void check_block(const struct bl_log_info *info,
                        const struct bl_log_block *block)
{
    volatile double sum = 0;
    for (size_t row = 0; row < block->rows; row++) {
        demand(row == 0 || block->time_ns[row - 1] <= block->time_ns[row]);
        for (size_t c = 0; c < info->columns; c++) {
            if (block->value[c] != NULL) {
                sum += block->value[c][row];
            }
        }
    }
}

static void read_all(struct bl_log_reader *reader)
{
    const struct bl_log_info *info = bl_log_info(reader);
    struct bl_log_block block;
    uint64_t rows = 0;
    do {
        if (bl_log_next(reader, &block, NULL) != BL_OK) {
            break;
        }
        check_block(info, &block);
        rows += block.rows;
    } while (block.rows > 0);
    demand(rows == info->rows);
    for (size_t c = 0; c < info->columns; c++) {
        const struct bl_log_column *column = &info->column[c];
        demand(column->name != NULL);
        demand(column->values == 0 || column->smallest <= column->largest);
        (void)bl_log_find(info, column->name);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct bl_log_options stated[] = {
        {0},
        {.layout = "rows"},
        {.time = "none", .rate_hz = 100},
        {.time = "#1", .time_form = "clock", .date = "2025-01-18"},
        {.delimiter = "space", .decimal = ",", .first_row = 2},
        {.encoding = "utf-16le", .names_row = 1, .units_row = 2},
        {.time_form = "day-fraction", .timezone = "-03:30"},
        {.delimiter = ",", .encoding = "latin-1", .names_row = -1},
    };
    if (size == 0) {
        return 0;
    }
    const uint8_t pick = data[0] & 7;
    uint8_t *copy = malloc(size - 1 == 0 ? 1 : size - 1);
    if (copy == NULL) {
        return 0;
    }
    memcpy(copy, data + 1, size - 1);
    struct bl_bytes *bytes;
    struct bl_log_reader *reader;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_bytes_open_memory(&bytes, "fuzz.csv", copy, size - 1, NULL) ==
        BL_OK) {
        if (bl_log_open(&reader, bytes, &stated[pick], &error) == BL_OK) {
            read_all(reader);
            bl_log_close(reader);
        } else {
            demand(error.message[0] != '\0');
        }
        bl_bytes_close(bytes);
    }
    free(copy);
    return 0;
}
