/* SPDX-License-Identifier: MIT */
#include "bus/format.h"

#include "base/utf8.h"

#include <string.h>

/* A name as it may be printed, cut at a character's border. */
static void clean_name(char *to, const char *from, size_t length)
{
    size_t out = 0;
    size_t at = 0;
    while (at < length && from[at] != '\0') {
        const size_t many = bl_utf8_length(from + at, length - at);
        const size_t step = many == 0 ? 1 : many;
        if (out + step >= BL_BUS_NAME_MAX) {
            break;
        }
        if (many > 1) {
            memcpy(to + out, from + at, many);
        } else {
            to[out] = from[at] >= ' ' && from[at] < 0x7F ? from[at] : '?';
        }
        out += step;
        at += step;
    }
    to[out] = '\0';
}

enum bl_status bl_bus_index(struct bl_bus_context *context, const char *name,
                            size_t length, uint32_t key, uint16_t *index,
                            struct bl_error *error)
{
    char clean[BL_BUS_NAME_MAX];
    clean_name(clean, name, length);
    const bool named = clean[0] != '\0';
    const char *wanted = named ? clean : context->default_name;
    struct bl_bus_info *info = &context->info;
    for (size_t i = 0; i < info->buses; i++) {
        if (strcmp(info->bus[i].name, wanted) == 0 &&
            (named || context->bus_key[i] == key)) {
            *index = (uint16_t)i;
            return BL_OK;
        }
    }
    if (info->buses == BL_BUS_MAX) {
        return bl_fail(error, BL_LIMIT, bl_bytes_name(context->source),
                       "expected at most %d buses, found another one, '%s'",
                       BL_BUS_MAX, wanted);
    }
    struct bl_bus_stats *bus = &info->bus[info->buses];
    memset(bus, 0, sizeof(*bus));
    memcpy(bus->name, wanted, strlen(wanted) + 1);
    context->bus_key[info->buses] = key;
    *index = (uint16_t)info->buses++;
    return BL_OK;
}
