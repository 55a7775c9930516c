/* SPDX-License-Identifier: MIT */
/* Reading a whole log from memory, for the tests of this room. */
#ifndef BRAKELAG_TESTS_UNIT_LOG_LOG_TESTING_H
#define BRAKELAG_TESTS_UNIT_LOG_LOG_TESTING_H

#include "testing.h"

#include "brakelag/log.h"

enum { TABLE_ROWS = 40000, TABLE_COLUMNS = 12 };

/* All rows of a log. */
struct table {
    struct bl_bytes *bytes;
    struct bl_log_reader *reader;
    const struct bl_log_info *info;
    struct bl_error error;
    enum bl_status status;
    size_t rows;
    int64_t *time_ns;
    double *value[TABLE_COLUMNS];
    uint16_t *part;
};

static inline void table_take(struct table *table,
                              const struct bl_log_block *block)
{
    for (size_t r = 0; r < block->rows; r++, table->rows++) {
        assert_true(table->rows < TABLE_ROWS);
        table->time_ns[table->rows] = block->time_ns[r];
        table->part[table->rows] = block->part;
        for (size_t c = 0; c < table->info->columns && c < TABLE_COLUMNS; c++) {
            table->value[c][table->rows] =
                block->value[c] == NULL ? NAN : block->value[c][r];
        }
    }
}

static inline void table_read(struct table *table,
                              const struct bl_log_options *options)
{
    table->status =
        bl_log_open(&table->reader, table->bytes, options, &table->error);
    if (table->status != BL_OK) {
        assert_null(table->reader);
        return;
    }
    table->info = bl_log_info(table->reader);
    table->time_ns = malloc(TABLE_ROWS * sizeof(*table->time_ns));
    table->part = malloc(TABLE_ROWS * sizeof(*table->part));
    for (size_t c = 0; c < TABLE_COLUMNS; c++) {
        table->value[c] = malloc(TABLE_ROWS * sizeof(double));
    }
    struct bl_log_block block;
    do {
        table->status = bl_log_next(table->reader, &block, &table->error);
        table_take(table, &block);
    } while (table->status == BL_OK && block.rows > 0);
}

static inline struct table table_memory(const void *data, size_t size,
                                        const struct bl_log_options *options)
{
    struct table table = {0};
    bl_error_clear(&table.error);
    assert_int_equal(bl_bytes_open_memory(&table.bytes, "yard.csv", data, size,
                                          &table.error),
                     BL_OK);
    table_read(&table, options);
    return table;
}

static inline struct table table_file(const char *path,
                                      const struct bl_log_options *options)
{
    struct table table = {0};
    bl_error_clear(&table.error);
    assert_int_equal(bl_bytes_open(&table.bytes, path, &table.error), BL_OK);
    table_read(&table, options);
    return table;
}

static inline uint64_t table_note(const struct table *table, const char *code)
{
    const struct bl_note *note = bl_notes_find(&table->info->notes, code);
    return note == NULL ? 0 : note->count;
}

static inline void table_finish(struct table *table)
{
    bl_log_close(table->reader);
    bl_bytes_close(table->bytes);
    free(table->time_ns);
    free(table->part);
    for (size_t c = 0; c < TABLE_COLUMNS; c++) {
        free(table->value[c]);
    }
}

#endif
