/* SPDX-License-Identifier: MIT */
/* Any bytes as a scenario file: read, checked, never run. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "brakelag/simulate.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct bl_bytes *source = NULL;
    struct bl_scenario *scenario = NULL;
    struct bl_notes mistakes = {0};
    struct bl_error error;
    uint8_t *copy = malloc(size == 0 ? 1 : size);
    if (copy == NULL) {
        return 0;
    }
    if (size > 0) {
        memcpy(copy, data, size);
    }
    if (bl_bytes_open_memory(&source, "fuzz.ini", copy, size, &error) ==
        BL_OK) {
        if (bl_scenario_read(&scenario, source, NULL, &mistakes, &error) ==
            BL_OK) {
            bl_scenario_destroy(scenario);
        }
        bl_bytes_close(source);
    }
    bl_notes_finish(&mistakes);
    free(copy);
    return 0;
}
