/* SPDX-License-Identifier: MIT */
/*
 * Transport reassembly on any traffic. Input: records of 13 bytes, each the
 * wait before it in units of 16 ms, form and length, source, destination, bus
 * and eight data bytes. Delivered bytes are read whole, as trouble codes.
 */
#include "brakelag/j1939.h"

#include <stdlib.h>
#include <string.h>

enum { RECORD = 13 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const uint32_t form[4] = {0x1CEC0000, 0x1CEB0000, 0x1CC80000,
                                     0x1CC70000};
    struct bl_transport *transport;
    if (bl_transport_create(&transport, 4096, NULL) != BL_OK) {
        return 0;
    }
    int64_t now_ns = 0;
    for (; size >= RECORD; data += RECORD, size -= RECORD) {
        now_ns += data[0] * INT64_C(16000000);
        const size_t length = data[1] >> 2 > 8 ? 8 : data[1] >> 2;
        uint8_t *bytes = malloc(length == 0 ? 1 : length);
        if (bytes == NULL) {
            break;
        }
        memcpy(bytes, data + 5, length);
        const uint32_t id =
            form[data[1] & 3] | (uint32_t)data[3] << 8 | data[2];
        bool done;
        struct bl_transport_message message;
        const enum bl_status status =
            bl_transport_feed(transport,
                              &(const struct bl_transport_frame){
                                  now_ns, data[4] & 1, id, bytes, length},
                              &done, &message);
        free(bytes);
        if (status != BL_OK) {
            break;
        }
        if (done) {
            struct bl_trouble code[4];
            size_t count;
            if (bl_trouble_read(message.data, message.size, code, 4, &count) ==
                    BL_OK &&
                count > message.size / 4) {
                abort();
            }
        }
    }
    bl_transport_flush(transport);
    bl_transport_destroy(transport);
    return 0;
}
