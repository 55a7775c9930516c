/* SPDX-License-Identifier: MIT */
/*
 * A measurement file of any bytes, read as a bus recording and as a log: frames
 * and rows as promised, every count in agreement.
 */
#include "bus_fuzz.h"

#include "brakelag/log.h"

static void demand(int truth)
{
    if (!truth) {
        abort();
    }
}

static void read_rows(struct bl_log_reader *reader)
{
    const struct bl_log_info *info = bl_log_info(reader);
    struct bl_log_block block;
    uint64_t rows = 0;
    volatile double sum = 0;
    do {
        if (bl_log_next(reader, &block, NULL) != BL_OK) {
            break;
        }
        for (size_t row = 0; row < block.rows; row++) {
            demand(row == 0 || block.time_ns[row - 1] <= block.time_ns[row]);
            for (size_t c = 0; c < info->columns; c++) {
                if (block.value[c] != NULL) {
                    sum += block.value[c][row];
                }
            }
        }
        rows += block.rows;
    } while (block.rows > 0);
    demand(rows == info->rows);
    for (size_t c = 0; c < info->columns; c++) {
        const struct bl_log_column *column = &info->column[c];
        demand(column->values == 0 || column->smallest <= column->largest);
        (void)bl_log_find(info, column->name);
    }
}

/* All channels, or every second one: then whole groups may be passed over. */
static void read_log(const uint8_t *data, size_t size, size_t stride)
{
    struct bl_bytes *bytes = NULL;
    struct bl_log_reader *reader = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_bytes_open_memory(&bytes, "fuzz.mf4", data, size, NULL) != BL_OK) {
        return;
    }
    if (bl_log_open(&reader, bytes, NULL, &error) == BL_OK) {
        size_t chosen[64];
        size_t count = 0;
        for (size_t c = 0; c < bl_log_info(reader)->columns && count < 64;
             c += stride) {
            chosen[count++] = c;
        }
        demand(stride == 1 ||
               bl_log_select(reader, chosen, count, &error) == BL_OK);
        read_rows(reader);
    } else {
        demand(error.message[0] != '\0');
    }
    bl_log_close(reader);
    bl_bytes_close(bytes);
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
    const struct bl_bus_options options = {.format = "mdf"};
    read_recording(copy, size, &options);
    read_log(copy, size, 1);
    read_log(copy, size, 2);
    free(copy);
    return 0;
}
