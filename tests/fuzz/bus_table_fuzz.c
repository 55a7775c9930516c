/* SPDX-License-Identifier: MIT */
#include "bus_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    read_as(data, size, "table");
    return 0;
}
