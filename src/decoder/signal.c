/* SPDX-License-Identifier: MIT */
/*
 * A signal out of a payload and into one. Multi-byte fields are little-endian:
 * bit 1 of a byte is its least significant, and a field that crosses a byte's
 * end goes on at bit 1 of the next.
 */
#include "brakelag/decoder.h"

#include <math.h>

static bool lies_within(const struct bl_signal *signal, size_t size)
{
    return signal->bits > 0 && signal->bits <= 64 &&
           ((size_t)signal->start_bit + signal->bits + 7) / 8 <= size;
}

static uint64_t raw_get(const struct bl_signal *signal, const uint8_t *data)
{
    uint64_t raw = 0;
    unsigned done = 0;
    while (done < signal->bits) {
        const unsigned at = signal->start_bit + done;
        const unsigned shift = at % 8;
        unsigned take = 8 - shift;
        if (take > signal->bits - done) {
            take = signal->bits - done;
        }
        const uint64_t part = (data[at / 8] >> shift) & ((1u << take) - 1);
        raw |= part << done;
        done += take;
    }
    return raw;
}

/* The same from a field inside the first eight bytes, which are all there. */
static uint64_t raw_of_first_eight(const struct bl_signal *signal,
                                   const uint8_t *data)
{
    const uint64_t word = (uint64_t)data[0] | (uint64_t)data[1] << 8 |
                          (uint64_t)data[2] << 16 | (uint64_t)data[3] << 24 |
                          (uint64_t)data[4] << 32 | (uint64_t)data[5] << 40 |
                          (uint64_t)data[6] << 48 | (uint64_t)data[7] << 56;
    return word >> signal->start_bit & UINT64_MAX >> (64 - signal->bits);
}

static void raw_put(const struct bl_signal *signal, uint64_t raw, uint8_t *data)
{
    unsigned done = 0;
    while (done < signal->bits) {
        const unsigned at = signal->start_bit + done;
        const unsigned shift = at % 8;
        unsigned take = 8 - shift;
        if (take > signal->bits - done) {
            take = signal->bits - done;
        }
        const unsigned mask = ((1u << take) - 1) << shift;
        const unsigned part = (unsigned)(raw >> done) << shift & mask;
        data[at / 8] = (uint8_t)((data[at / 8] & ~mask) | part);
        done += take;
    }
}

/* Text has no value; its state tells whether it is there. */
static struct bl_value text_state(const struct bl_signal *signal,
                                  const uint8_t *data, size_t size)
{
    struct bl_value out = {.value = NAN, .state = BL_VALUE_ABSENT};
    const size_t first = signal->start_bit / 8;
    const size_t end = signal->bits == 0 ? size : first + signal->bits / 8;
    if (end > size || first >= end) {
        return out;
    }
    out.state = BL_VALUE_NOT_AVAILABLE;
    for (size_t i = first; i < end; i++) {
        if (data[i] != 0xFF) {
            out.state = BL_VALUE_VALID;
            out.in_range = true;
        }
    }
    return out;
}

/* Half a step of slack: limits are written in decimal. */
static bool in_range(const struct bl_signal *signal, double value)
{
    const double slack = fabs(signal->scale) / 2;
    return value >= signal->low - slack && value <= signal->high + slack;
}

struct bl_value bl_signal_decode(const struct bl_signal *signal,
                                 const uint8_t *data, size_t size)
{
    if (signal->kind == BL_SIGNAL_TEXT) {
        return text_state(signal, data, size);
    }
    struct bl_value out = {.value = NAN, .state = BL_VALUE_ABSENT};
    if (!lies_within(signal, size)) {
        return out;
    }
    out.raw = size >= 8 && signal->start_bit + signal->bits <= 64
                  ? raw_of_first_eight(signal, data)
                  : raw_get(signal, data);
    out.state = bl_value_range(out.raw, signal->bits);
    if (out.state == BL_VALUE_VALID) {
        out.value = (double)out.raw * signal->scale + signal->offset;
        out.in_range = in_range(signal, out.value);
    }
    return out;
}

enum bl_status bl_signal_encode_raw(const struct bl_signal *signal,
                                    uint64_t raw, uint8_t *data, size_t size)
{
    if (signal->kind == BL_SIGNAL_TEXT || !lies_within(signal, size) ||
        (signal->bits < 64 && raw >> signal->bits != 0)) {
        return BL_ARG;
    }
    raw_put(signal, raw, data);
    return BL_OK;
}

enum bl_status bl_signal_encode(const struct bl_signal *signal, double value,
                                uint8_t *data, size_t size)
{
    if (signal->kind == BL_SIGNAL_TEXT || !lies_within(signal, size) ||
        isnan(value) || !in_range(signal, value)) {
        return BL_ARG;
    }
    const double steps = nearbyint((value - signal->offset) / signal->scale);
    if (steps < 0 || steps >= ldexp(1, (int)signal->bits)) {
        return BL_ARG;
    }
    const uint64_t raw = (uint64_t)steps;
    if (bl_value_range(raw, signal->bits) != BL_VALUE_VALID) {
        return BL_ARG;
    }
    raw_put(signal, raw, data);
    return BL_OK;
}
