/* SPDX-License-Identifier: MIT */
/*
 * A signal out of a payload and into one. Multi-byte fields are little-endian:
 * bit 1 of a byte is its least significant, and a field that crosses a byte's
 * end goes on at bit 1 of the next. Big-endian ones run downwards from their
 * most significant bit and go on at bit 8 of the next byte, as the start bit of
 * public descriptions of message databases is meant ("Motorola").
 */
#include "decoder/tables.h"

#include <math.h>

static bool lies_within(const struct bl_signal *signal, size_t size)
{
    return signal->bits > 0 && signal->bits <= 64 &&
           bl_signal_end(signal) <= size;
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

/* The most significant bit first. */
static uint64_t raw_get_big(const struct bl_signal *signal, const uint8_t *data)
{
    uint64_t raw = 0;
    size_t byte = signal->start_bit / 8;
    unsigned top = signal->start_bit % 8 + 1;
    for (unsigned left = signal->bits; left > 0; byte++, top = 8) {
        const unsigned take = top < left ? top : left;
        raw = raw << take |
              ((unsigned)data[byte] >> (top - take) & ((1u << take) - 1));
        left -= take;
    }
    return raw;
}

static void raw_put_big(const struct bl_signal *signal, uint64_t raw,
                        uint8_t *data)
{
    size_t byte = signal->start_bit / 8;
    unsigned top = signal->start_bit % 8 + 1;
    for (unsigned left = signal->bits; left > 0; byte++, top = 8) {
        const unsigned take = top < left ? top : left;
        const unsigned mask = ((1u << take) - 1) << (top - take);
        const unsigned part =
            (unsigned)(raw >> (left - take) & 0xFF) << (top - take) & mask;
        data[byte] = (uint8_t)((data[byte] & ~mask) | part);
        left -= take;
    }
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

/* Two's complement: the highest bit counts as less than nothing. */
static double number_of(const struct bl_signal *signal, uint64_t raw)
{
    const uint64_t sign = UINT64_C(1) << (signal->bits - 1);
    return !signal->is_signed || (raw & sign) == 0
               ? (double)raw
               : -(double)(sign - (raw ^ sign));
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
    if (signal->big_endian) {
        out.raw = raw_get_big(signal, data);
    } else {
        out.raw = size >= 8 && signal->start_bit + signal->bits <= 64
                      ? raw_of_first_eight(signal, data)
                      : raw_get(signal, data);
    }
    out.state = signal->is_signed ? BL_VALUE_VALID
                                  : bl_value_range(out.raw, signal->bits);
    if (out.state == BL_VALUE_VALID) {
        out.value = number_of(signal, out.raw) * signal->scale + signal->offset;
        out.in_range = in_range(signal, out.value);
    }
    return out;
}

static void put(const struct bl_signal *signal, uint64_t raw, uint8_t *data)
{
    if (signal->big_endian) {
        raw_put_big(signal, raw, data);
    } else {
        raw_put(signal, raw, data);
    }
}

enum bl_status bl_signal_encode_raw(const struct bl_signal *signal,
                                    uint64_t raw, uint8_t *data, size_t size)
{
    if (signal->kind == BL_SIGNAL_TEXT || !lies_within(signal, size) ||
        (signal->bits < 64 && raw >> signal->bits != 0)) {
        return BL_ARG;
    }
    put(signal, raw, data);
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
    const double half = ldexp(1, (int)signal->bits - 1);
    if (signal->is_signed ? steps < -half || steps >= half
                          : steps < 0 || steps >= 2 * half) {
        return BL_ARG;
    }
    const uint64_t raw =
        (steps < 0 ? (uint64_t)(int64_t)steps : (uint64_t)steps) &
        UINT64_MAX >> (64 - signal->bits);
    if (!signal->is_signed &&
        bl_value_range(raw, signal->bits) != BL_VALUE_VALID) {
        return BL_ARG;
    }
    put(signal, raw, data);
    return BL_OK;
}
