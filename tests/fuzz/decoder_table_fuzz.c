/* SPDX-License-Identifier: MIT */
/*
 * A mapping table of any bytes. What loads must keep its promises: every
 * signal decodes from any payload without reading past it, and what decodes
 * as valid and within range encodes back to the same raw value.
 */
#include "brakelag/decoder.h"

#include <stdlib.h>
#include <string.h>

static void use(const struct bl_signal *signal, const uint8_t *payload)
{
    char text[64];
    for (size_t size = 0; size <= 8; size++) {
        uint8_t *data = malloc(size == 0 ? 1 : size);
        if (data == NULL) {
            return;
        }
        memcpy(data, payload, size);
        const struct bl_value value = bl_signal_decode(signal, data, size);
        (void)bl_signal_state_text(signal, value.raw, text, sizeof(text));
        /* A double holds 53 bits. */
        if (value.state == BL_VALUE_VALID && value.in_range &&
            signal->kind != BL_SIGNAL_TEXT && signal->bits <= 32 &&
            signal->kind != BL_SIGNAL_NUMBER) {
            if (bl_signal_encode(signal, value.value, data, size) != BL_OK ||
                bl_signal_decode(signal, data, size).raw != value.raw) {
                abort();
            }
        }
        if (bl_signal_encode(signal, 1, data, size) == BL_OK &&
            bl_signal_decode(signal, data, size).state != BL_VALUE_VALID) {
            abort();
        }
        if (bl_signal_encode_raw(signal, value.raw, data, size) == BL_OK &&
            bl_signal_decode(signal, data, size).raw != value.raw) {
            abort();
        }
        free(data);
    }
}

static void use_all(const struct bl_tables *tables)
{
    static const uint8_t payload[8] = {0x12, 0xE4, 0x00, 0x82,
                                       0xFE, 0x1B, 0x7D, 0xFF};
    const struct bl_message *found[4];
    for (size_t i = 0; i < bl_tables_messages(tables); i++) {
        const struct bl_message *message = bl_tables_message(tables, i);
        for (size_t k = 0; k < message->signals; k++) {
            if (message->signal[k].message != message) {
                abort();
            }
            use(&message->signal[k], payload);
        }
        (void)bl_tables_match(tables, message->pgn << 8 | 0xC8, true, NULL,
                              found, 4);
        (void)bl_tables_match(tables, message->id, message->id > 0x7FF, NULL,
                              found, 4);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    uint8_t *copy = malloc(size == 0 ? 1 : size);
    struct bl_tables *tables = NULL;
    struct bl_bytes *source;
    struct bl_notes mistakes = {0};
    struct bl_error error;
    if (copy == NULL) {
        return 0;
    }
    if (size > 0) {
        memcpy(copy, data, size);
    }
    if (bl_bytes_open_memory(&source, "table", copy, size, &error) == BL_OK) {
        if (bl_tables_create(&tables, &error) == BL_OK) {
            const enum bl_status status =
                bl_tables_add(tables, source, "table", &mistakes, &error);
            if ((status == BL_TRIAL) != (mistakes.count > 0)) {
                /* A limit or damage may come after a mistake. */
                if (status == BL_OK || mistakes.count == 0) {
                    abort();
                }
            }
            use_all(tables);
            bl_tables_destroy(tables);
        }
        bl_bytes_close(source);
    }
    bl_notes_finish(&mistakes);
    free(copy);
    return 0;
}
