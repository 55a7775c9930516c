/* SPDX-License-Identifier: MIT */
/* Section headers, interface descriptions and time stamps of pcapng. */
#include "bus/packet.h"
#include "bus/pcapng.h"

#include "base/array.h"
#include "base/limits.h"

#include <inttypes.h>
#include <string.h>

enum {
    OPTION_END = 0,
    OPTION_NAME = 2,
    OPTION_RESOLUTION = 9,
    OPTION_OFFSET = 14,
    OPTION_HEADER = 4,
    RESOLUTION_BINARY = 0x80,
    MAX_DECIMAL = 19, /* 10^19 still fits 64 bits */
    MAX_BINARY = 63,
    KEPT_BINARY = 34, /* 2^34 units times 10^9 fit 64 bits */
    NANO = 9
};

uint16_t bl_ng_16(const struct bl_ng_reader *reader, const uint8_t *data)
{
    return reader->big ? (uint16_t)(data[0] << 8 | data[1])
                       : (uint16_t)(data[1] << 8 | data[0]);
}

uint32_t bl_ng_32(const struct bl_ng_reader *reader, const uint8_t *data)
{
    const uint32_t big = (uint32_t)data[0] << 24 | (uint32_t)data[1] << 16 |
                         (uint32_t)data[2] << 8 | data[3];
    const uint32_t little = (uint32_t)data[3] << 24 | (uint32_t)data[2] << 16 |
                            (uint32_t)data[1] << 8 | data[0];
    return reader->big ? big : little;
}

bool bl_ng_byte_order(const uint8_t *data, bool *big)
{
    *big = memcmp(data, "\x1A\x2B\x3C\x4D", 4) == 0;
    return *big || memcmp(data, "\x4D\x3C\x2B\x1A", 4) == 0;
}

struct option {
    unsigned code;
    const uint8_t *value;
    size_t length;
};

enum step { STEP_OPTION, STEP_END, STEP_BAD };

/* The option at *at, which moves on. */
static enum step next_option(const struct bl_ng_reader *reader,
                             const uint8_t *data, size_t size, size_t *at,
                             struct option *option)
{
    if (*at == size) {
        return STEP_END;
    }
    if (size - *at < OPTION_HEADER) {
        return STEP_BAD;
    }
    option->code = bl_ng_16(reader, data + *at);
    option->length = bl_ng_16(reader, data + *at + 2);
    option->value = data + *at + OPTION_HEADER;
    const size_t padded = (option->length + 3) & ~(size_t)3;
    if (padded > size - *at - OPTION_HEADER) {
        return STEP_BAD;
    }
    *at += OPTION_HEADER + padded;
    if (option->code == OPTION_END) {
        return option->length == 0 ? STEP_END : STEP_BAD;
    }
    return STEP_OPTION;
}

bool bl_ng_options_fit(const struct bl_ng_reader *reader, const uint8_t *data,
                       size_t size)
{
    size_t at = 0;
    struct option option;
    enum step step;
    do {
        step = next_option(reader, data, size, &at, &option);
    } while (step == STEP_OPTION);
    return step == STEP_END;
}

static enum bl_status note_option(struct bl_ng_reader *reader, int64_t place)
{
    return bl_note(&reader->context->info.notes, "bad-option", -1, place,
                   "a pcapng option does not fit its block; it and those "
                   "behind it are not read");
}

enum bl_status bl_ng_read_section(struct bl_ng_reader *reader,
                                  const uint8_t *block, size_t size,
                                  int64_t place, struct bl_error *error)
{
    const char *name = bl_bytes_name(reader->context->source);
    const unsigned major = bl_ng_16(reader, block + 12);
    const unsigned minor = bl_ng_16(reader, block + 14);
    /* Minor 2 differs in nothing that matters (the draft, section 4.1). */
    if (major != 1 || (minor != 0 && minor != 2)) {
        return bl_fail_offset(error, BL_UNSUPPORTED, name, place + 12,
                              "expected pcapng version 1.0, found %u.%u", major,
                              minor);
    }
    reader->interfaces = 0;
    reader->read_on = false;
    return bl_ng_options_fit(reader, block + 24, size - 24 - 4)
               ? BL_OK
               : note_option(reader, place);
}

static bool set_resolution(struct bl_ng_interface *interface, uint8_t code)
{
    interface->binary = (code & RESOLUTION_BINARY) != 0;
    interface->exponent = code & (RESOLUTION_BINARY - 1u);
    if (interface->exponent > (interface->binary ? MAX_BINARY : MAX_DECIMAL)) {
        return false;
    }
    interface->units_per_s = 1;
    for (unsigned i = 0; i < interface->exponent; i++) {
        interface->units_per_s *= interface->binary ? 2 : 10;
    }
    return true;
}

static int64_t read_offset(const struct bl_ng_reader *reader,
                           const uint8_t *value)
{
    const uint64_t first = bl_ng_32(reader, value);
    const uint64_t second = bl_ng_32(reader, value + 4);
    const uint64_t bits =
        reader->big ? first << 32 | second : second << 32 | first;
    int64_t offset_s;
    memcpy(&offset_s, &bits, sizeof(offset_s));
    return offset_s;
}

/* Which of the options that may stand once were seen. */
struct seen {
    bool resolution, offset;
};

/* What a wrong option of time would do to every stamp is worse than reading
   nothing: these are errors. */
static enum bl_status take_option(struct bl_ng_reader *reader,
                                  struct bl_ng_interface *interface,
                                  const struct option *option,
                                  struct seen *seen, int64_t place,
                                  struct bl_error *error)
{
    const char *name = bl_bytes_name(reader->context->source);
    const char *what = NULL;
    if (option->code == OPTION_NAME) {
        const size_t length = option->length < BL_BUS_NAME_MAX - 1
                                  ? option->length
                                  : BL_BUS_NAME_MAX - 1;
        memcpy(interface->name, option->value, length);
        interface->name[length] = '\0';
    } else if (option->code == OPTION_RESOLUTION) {
        if (seen->resolution) {
            what = "if_tsresol once, found it twice";
        } else if (option->length != 1) {
            what = "if_tsresol of one byte, found another length";
        } else if (!set_resolution(interface, option->value[0])) {
            what = "a resolution of time down to 10^-19 or 2^-63 s, found a "
                   "finer one";
        }
        seen->resolution = true;
    } else if (option->code == OPTION_OFFSET) {
        if (seen->offset) {
            what = "if_tsoffset once, found it twice";
        } else if (option->length != 8) {
            what = "if_tsoffset of eight bytes, found another length";
        } else {
            interface->offset_s = read_offset(reader, option->value);
        }
        seen->offset = true;
    }
    if (what != NULL) {
        return bl_fail_offset(error, BL_FORMAT, name, place, "expected %s",
                              what);
    }
    return BL_OK;
}

static void note_resolution(struct bl_bus_info *info,
                            const struct bl_ng_interface *interface)
{
    const uint64_t second_ns = 1000000000;
    uint64_t unit_ns = second_ns / interface->units_per_s;
    unit_ns = unit_ns == 0 ? 1 : unit_ns;
    if (interface->can && (int64_t)unit_ns > info->resolution_ns) {
        info->resolution_ns = (int64_t)unit_ns;
    }
}

/* Times of either sign up to here are read. */
static const int64_t most_s = BL_BUS_TIME_MAX / 1000000000 - 1;

static void find_usual(const struct bl_ng_reader *reader,
                       struct bl_ng_interface *interface)
{
    const bool whole_ns = !interface->binary && interface->exponent <= NANO;
    interface->usual_unit_ns = 0;
    if (whole_ns && interface->offset_s == 0 &&
        bl_packet_may_be_usual(reader->context, interface->link_type)) {
        interface->usual_unit_ns =
            UINT64_C(1000000000) / interface->units_per_s;
        interface->usual_most = (uint64_t)most_s * interface->units_per_s;
    }
}

/* What is to be said of an interface, and its bus. */
static enum bl_status enter_interface(struct bl_ng_reader *reader,
                                      struct bl_ng_interface *interface,
                                      int64_t place, struct bl_error *error)
{
    struct bl_bus_context *context = reader->context;
    interface->can = bl_packet_known(interface->link_type);
    note_resolution(&context->info, interface);
    if (!interface->can) {
        return bl_note(&context->info.notes, "other-link-type", -1, place,
                       "interface %zu has link type %d, which is not CAN: its "
                       "packets are counted and skipped",
                       reader->interfaces, interface->link_type);
    }
    /* A cooked interface may carry no CAN at all: its bus is entered with the
       first frame. */
    if (interface->link_type == BL_LINK_CAN) {
        interface->has_bus = true;
        find_usual(reader, interface);
        return bl_bus_index(context, interface->name, strlen(interface->name),
                            (uint32_t)reader->interfaces, &interface->bus,
                            error);
    }
    return BL_OK;
}

enum bl_status bl_ng_read_interface(struct bl_ng_reader *reader,
                                    const uint8_t *block, size_t size,
                                    int64_t place, struct bl_error *error)
{
    const char *name = bl_bytes_name(reader->context->source);
    if (size < BL_NG_INTERFACE_MIN) {
        return bl_fail_offset(error, BL_FORMAT, name, place + 4,
                              "expected an interface block of 20 bytes or "
                              "more, found %zu",
                              size);
    }
    if (reader->interfaces >= BL_LIMIT_INTERFACES) {
        return bl_fail_offset(error, BL_LIMIT, name, place,
                              "expected at most %u interfaces, found another",
                              BL_LIMIT_INTERFACES);
    }
    struct bl_ng_interface interface = {.link_type =
                                            bl_ng_16(reader, block + 8)};
    (void)set_resolution(&interface, 6);
    struct seen seen = {.resolution = false};
    size_t at = 0;
    for (;;) {
        struct option option;
        const enum step step =
            next_option(reader, block + 16, size - 16 - 4, &at, &option);
        if (step == STEP_END) {
            break;
        }
        const enum bl_status status =
            step == STEP_BAD
                ? note_option(reader, place)
                : take_option(reader, &interface, &option, &seen, place, error);
        if (status != BL_OK) {
            return status;
        }
        if (step == STEP_BAD) {
            break;
        }
    }
    const enum bl_status status =
        enter_interface(reader, &interface, place, error);
    if (status != BL_OK) {
        return status;
    }
    if (!bl_grow(&reader->interface, &reader->capacity, reader->interfaces + 1,
                 sizeof(interface), BL_LIMIT_INTERFACES)) {
        return bl_fail_memory(error);
    }
    reader->interface[reader->interfaces++] = interface;
    return BL_OK;
}

/* The part below a second, in nanoseconds. */
static int64_t fraction_ns(const struct bl_ng_interface *interface,
                           uint64_t units)
{
    uint64_t per_s = interface->units_per_s;
    if (interface->binary) {
        unsigned exponent = interface->exponent;
        if (exponent > KEPT_BINARY) {
            units >>= exponent - KEPT_BINARY;
            exponent = KEPT_BINARY;
        }
        return (int64_t)(units * UINT64_C(1000000000) >> exponent);
    }
    if (interface->exponent <= NANO) {
        return (int64_t)(units * (UINT64_C(1000000000) / per_s));
    }
    return (int64_t)(units / (per_s / UINT64_C(1000000000)));
}

bool bl_ng_time(const struct bl_ng_interface *interface, uint64_t stamp,
                int64_t *time_ns)
{
    const uint64_t seconds = stamp / interface->units_per_s;
    if (seconds > (uint64_t)most_s || interface->offset_s > most_s ||
        interface->offset_s < -most_s) {
        return false;
    }
    const int64_t total_s = (int64_t)seconds + interface->offset_s;
    if (total_s > most_s || total_s < -most_s) {
        return false;
    }
    *time_ns = total_s * 1000000000 +
               fraction_ns(interface, stamp % interface->units_per_s);
    return true;
}
