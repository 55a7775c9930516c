/* SPDX-License-Identifier: MIT */
#include "base/number.h"

#include "base/alloc.h"
#include "base/digits.h"

#include <limits.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Powers of ten that a double holds exactly. */
static const double exact_power[] = {
    1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* The slow and always right way: strtod on a copy that carries the locale's
   own decimal sign. */
static double by_library(const char *text, size_t length, char decimal)
{
    char small[128];
    char *copy = length < sizeof(small) - 8 ? small : bl_alloc(length + 8, 1);
    if (copy == NULL) {
        return NAN;
    }
    const char *point = localeconv()->decimal_point;
    const size_t point_length = strnlen(point, 7);
    size_t at = 0;
    for (size_t i = 0; i < length; i++) {
        if (text[i] == decimal) {
            memcpy(copy + at, point, point_length);
            at += point_length;
        } else {
            copy[at++] = text[i];
        }
    }
    copy[at] = '\0';
    const double value = strtod(copy, NULL);
    if (copy != small) {
        bl_free(copy);
    }
    return value;
}

/* Digits taken apart; `mantissa` holds the first 19 significant ones. */
struct digits {
    uint64_t mantissa;
    unsigned significant;
    bool dropped; /* a digit other than 0 did not fit */
    long exponent;
    bool any;
};

static size_t scan_digits(const char *text, size_t length, size_t at,
                          bool fraction, struct digits *d)
{
    for (; at < length && is_digit(text[at]); at++) {
        const unsigned digit = (unsigned)(text[at] - '0');
        d->any = true;
        if (d->significant < 19) {
            d->mantissa = d->mantissa * 10 + digit;
            d->significant += d->mantissa != 0;
            d->exponent -= fraction;
        } else {
            d->dropped = d->dropped || digit != 0;
            d->exponent += !fraction;
        }
    }
    return at;
}

static size_t scan_exponent(const char *text, size_t length, size_t at,
                            long *exponent)
{
    if (at >= length || (text[at] != 'e' && text[at] != 'E')) {
        return at;
    }
    size_t next = at + 1;
    bool negative = false;
    if (next < length && (text[next] == '+' || text[next] == '-')) {
        negative = text[next] == '-';
        next++;
    }
    if (next >= length || !is_digit(text[next])) {
        return at;
    }
    long value = 0;
    for (; next < length && is_digit(text[next]); next++) {
        if (value < 100000) {
            value = value * 10 + (text[next] - '0');
        }
    }
    *exponent += negative ? -value : value;
    return next;
}

const char *bl_number_plain(const char *text, const char *end, char decimal,
                            double *value)
{
    const char *at = text;
    const bool negative = at < end && *at == '-';
    at += negative;
    const char *const first = at;
    uint64_t mantissa = 0;
    while (at < end && is_digit(*at)) {
        mantissa = mantissa * 10 + (unsigned)(*at++ - '0');
    }
    if (at == first) {
        return NULL;
    }
    ptrdiff_t places = 0;
    if (at < end && *at == decimal) {
        const char *const point = at++;
        while (at < end && is_digit(*at)) {
            mantissa = mantissa * 10 + (unsigned)(*at++ - '0');
        }
        places = at - point - 1;
    }
    /* Up to 18 digits cannot have run over. */
    if (at - first > 18 || mantissa >= UINT64_C(1) << 53) {
        return NULL;
    }
    const double x = (double)mantissa / exact_power[places];
    *value = negative ? -x : x;
    return at;
}

const char *bl_number_short(const char *text, const char *end, char decimal,
                            double *value)
{
    const bool negative = text < end && *text == '-';
    const char *const at = text + negative;
    const uint64_t others = bl_digits_others(bl_digits_word(at));
    if (others == 0 || end - at < BL_DIGITS_SLACK) {
        return bl_number_plain(text, end, decimal, value);
    }
    const size_t point = bl_digits_first(others);
    size_t stop = point;
    if (stop == 0) {
        return NULL;
    }
    if (at[point] == decimal) {
        const uint64_t behind = others & (others - 1);
        if (behind == 0) {
            return bl_number_plain(text, end, decimal, value);
        }
        stop = bl_digits_first(behind);
    }
    const double x = bl_digits_decimal(at, point, stop);
    *value = negative ? -x : x;
    return at + stop;
}

bool bl_number_scan(const char *text, size_t length, char decimal,
                    double *value, size_t *used)
{
    const char *const end = text + length;
    const char *const plain = length > BL_DIGITS_SLACK
                                  ? bl_number_short(text, end, decimal, value)
                                  : bl_number_plain(text, end, decimal, value);
    if (plain == end) {
        *used = length;
        return true;
    }
    size_t at = 0;
    bool negative = false;
    if (at < length && (text[at] == '-' || text[at] == '+')) {
        negative = text[at] == '-';
        at++;
    }
    struct digits d = {0};
    at = scan_digits(text, length, at, false, &d);
    if (at < length && text[at] == decimal) {
        const size_t after = scan_digits(text, length, at + 1, true, &d);
        /* "5." is a number, a lone decimal sign is not. */
        at = d.any ? after : at;
    }
    if (!d.any) {
        return false;
    }
    long exponent = d.exponent;
    at = scan_exponent(text, length, at, &exponent);
    *used = at;
    /* Exact when mantissa and power of ten are both exact doubles: one
       correctly rounded operation. */
    if (!d.dropped && d.mantissa < (UINT64_C(1) << 53) && exponent >= -22 &&
        exponent <= 22) {
        const double m = (double)d.mantissa;
        const double x = exponent < 0 ? m / exact_power[-exponent]
                                      : m * exact_power[exponent];
        *value = negative ? -x : x;
        return true;
    }
    *value = by_library(text, at, decimal);
    return true;
}

static void trim(const char **text, size_t *length)
{
    while (*length > 0 && (**text == ' ' || **text == '\t')) {
        (*text)++;
        (*length)--;
    }
    while (*length > 0 &&
           ((*text)[*length - 1] == ' ' || (*text)[*length - 1] == '\t')) {
        (*length)--;
    }
}

bool bl_number_parse(const char *text, size_t length, double *value)
{
    trim(&text, &length);
    double found;
    size_t used;
    if (!bl_number_scan(text, length, '.', &found, &used) || used != length) {
        return false;
    }
    *value = found;
    return true;
}

static int hex_digit(char c)
{
    if (is_digit(c)) {
        return c - '0';
    }
    if (c >= 'a' && c <= 'f') {
        return c - 'a' + 10;
    }
    if (c >= 'A' && c <= 'F') {
        return c - 'A' + 10;
    }
    return -1;
}

bool bl_unsigned_parse(const char *text, size_t length, uint64_t *value)
{
    trim(&text, &length);
    unsigned base = 10;
    if (length > 2 && text[0] == '0' && (text[1] == 'x' || text[1] == 'X')) {
        base = 16;
        text += 2;
        length -= 2;
    }
    if (length == 0) {
        return false;
    }
    uint64_t sum = 0;
    for (size_t i = 0; i < length; i++) {
        const int digit = hex_digit(text[i]);
        if (digit < 0 || (unsigned)digit >= base ||
            sum > (UINT64_MAX - (unsigned)digit) / base) {
            return false;
        }
        sum = sum * base + (unsigned)digit;
    }
    *value = sum;
    return true;
}

bool bl_integer_parse(const char *text, size_t length, int64_t *value)
{
    trim(&text, &length);
    const bool negative = length > 0 && text[0] == '-';
    const bool sign = negative || (length > 0 && text[0] == '+');
    uint64_t size;
    if (!bl_unsigned_parse(text + sign, length - sign, &size) ||
        (sign && length > 1 && (text[1] == ' ' || text[1] == '\t'))) {
        return false;
    }
    if (negative) {
        if (size > (uint64_t)INT64_MAX + 1) {
            return false;
        }
        *value = size == (uint64_t)INT64_MAX + 1 ? INT64_MIN : -(int64_t)size;
        return true;
    }
    if (size > (uint64_t)INT64_MAX) {
        return false;
    }
    *value = (int64_t)size;
    return true;
}

bool bl_seconds_parse(const char *text, size_t length, int64_t *time_ns,
                      unsigned *digits)
{
    size_t at = 0;
    const bool negative = length > 0 && text[0] == '-';
    at += negative;
    int64_t seconds = 0;
    const size_t first = at;
    for (; at < length && is_digit(text[at]); at++) {
        if (seconds > INT64_MAX / 1000000000 / 10) {
            return false;
        }
        seconds = seconds * 10 + (text[at] - '0');
    }
    if (at == first || seconds > INT64_MAX / 1000000000 - 1) {
        return false;
    }
    int64_t fraction = 0;
    unsigned count = 0;
    bool up = false;
    if (at < length && text[at] == '.') {
        for (at++; at < length && is_digit(text[at]); at++, count++) {
            if (count < 9) {
                fraction = fraction * 10 + (text[at] - '0');
            } else if (count == 9) {
                up = text[at] >= '5';
            }
        }
    }
    if (at != length) {
        return false;
    }
    for (unsigned i = count; i < 9; i++) {
        fraction *= 10;
    }
    const int64_t total = seconds * 1000000000 + fraction + up;
    *time_ns = negative ? -total : total;
    *digits = count;
    return true;
}

const char *bl_number_format(double value, unsigned digits, char *text,
                             size_t size)
{
    if (isnan(value)) {
        (void)snprintf(text, size, "nan");
        return text;
    }
    (void)snprintf(text, size, "%.*g", (int)digits, value);
    const char *point = localeconv()->decimal_point;
    char *found = point[0] == '.' ? NULL : strstr(text, point);
    if (found != NULL) {
        const size_t length = strlen(point);
        *found = '.';
        memmove(found + 1, found + length, strlen(found + length) + 1);
    }
    return text;
}
