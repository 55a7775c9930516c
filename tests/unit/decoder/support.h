/* SPDX-License-Identifier: MIT */
/* Tables for tests. */
#ifndef BRAKELAG_TESTS_UNIT_DECODER_SUPPORT_H
#define BRAKELAG_TESTS_UNIT_DECODER_SUPPORT_H

#include "testing.h"

#include "brakelag/decoder.h"

#define TABLE_HEADER                                                           \
    "message,pgn,sender,direction,period_ms,signal,start,bits,scale,offset,"   \
    "unit,low,high,kind,role,states,source,confidence\n"

static inline enum bl_status add_text(struct bl_tables *tables,
                                      const char *name, const char *text,
                                      struct bl_notes *mistakes,
                                      struct bl_error *error)
{
    struct bl_bytes *source;
    enum bl_status status =
        bl_bytes_open_memory(&source, name, text, strlen(text), error);
    if (status == BL_OK) {
        status = bl_tables_add(tables, source, name, mistakes, error);
        bl_bytes_close(source);
    }
    return status;
}

static inline struct bl_tables *table_of(const char *rows)
{
    struct bl_tables *tables;
    char text[8192];
    snprintf(text, sizeof(text), "%s%s", TABLE_HEADER, rows);
    assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
    struct bl_error error;
    bl_error_clear(&error);
    if (add_text(tables, "own", text, NULL, &error) != BL_OK) {
        fail_msg("line %d: %s", (int)error.line, error.message);
    }
    return tables;
}

static inline struct bl_tables *shipped(void)
{
    struct bl_tables *tables;
    assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
    const char *const *name = bl_tables_shipped();
    for (; *name != NULL; name++) {
        struct bl_error error;
        bl_error_clear(&error);
        if (bl_tables_add_named(tables, *name, "", NULL, &error) != BL_OK) {
            fail_msg("%s:%d: %s", *name, (int)error.line, error.message);
        }
    }
    return tables;
}

static inline const struct bl_signal *signal_of(const struct bl_tables *tables,
                                                const char *text)
{
    struct bl_signal_ref ref;
    struct bl_error error;
    if (bl_signal_ref_parse(tables, text, &ref, &error) != BL_OK) {
        fail_msg("%s", error.message);
    }
    return ref.signal;
}

#endif
