/* SPDX-License-Identifier: MIT */
/*
 * Time stamps as text. Sources: ISO 8601 (calendar date, clock and zone forms);
 * the proleptic Gregorian calendar; spreadsheet serial days count from
 * 1899-12-30, so that 1970-01-01 is 25569 (common practice).
 */
#include "base/logtime.h"

#include "base/number.h"

#include <math.h>
#include <string.h>
#include <strings.h>

static const char *const names[LOG_FORMS] = {
    "unknown",  "s",        "ms",       "us",    "ns",  "epoch-s",
    "epoch-ms", "epoch-us", "epoch-ns", "clock", "iso", "day-fraction",
    "index"};

/* One unit is factor * 10^power ns. */
static const struct {
    uint64_t factor;
    int power;
} weight[LOG_FORMS] = {
    [LOG_FORM_S] = {1, 9},        [LOG_FORM_MS] = {1, 6},
    [LOG_FORM_US] = {1, 3},       [LOG_FORM_NS] = {1, 0},
    [LOG_FORM_EPOCH_S] = {1, 9},  [LOG_FORM_EPOCH_MS] = {1, 6},
    [LOG_FORM_EPOCH_US] = {1, 3}, [LOG_FORM_EPOCH_NS] = {1, 0},
    [LOG_FORM_DAY] = {864, 11},
};

enum { SERIAL_1970 = 25569 };

const char *bl_log_form_name(enum log_form form)
{
    return names[form];
}

enum log_form bl_log_form_by_name(const char *name)
{
    for (int i = 1; i < LOG_FORMS; i++) {
        if (strcasecmp(name, names[i]) == 0) {
            return (enum log_form)i;
        }
    }
    return LOG_FORM_UNKNOWN;
}

bool bl_log_form_is_numeric(enum log_form form)
{
    return weight[form].factor > 0;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Sign, digits and power of ten of a written number; digits that no
   nanosecond can show (after the 19th) are left out. */
struct decimal {
    bool negative;
    uint64_t digits;
    int power;
};

static bool read_power(const char *text, size_t length, size_t at, int *power)
{
    bool negative = false;
    if (at < length && (text[at] == '+' || text[at] == '-')) {
        negative = text[at++] == '-';
    }
    int value = 0;
    if (at == length) {
        return false;
    }
    for (; at < length; at++) {
        if (!is_digit(text[at]) || value > 1000) {
            return false;
        }
        value = value * 10 + (text[at] - '0');
    }
    *power += negative ? -value : value;
    return true;
}

static bool read_decimal(const char *text, size_t length, char decimal,
                         struct decimal *d)
{
    size_t at = 0;
    d->digits = 0;
    d->power = 0;
    d->negative = length > 0 && text[0] == '-';
    at += length > 0 && (text[0] == '-' || text[0] == '+');
    bool fraction = false;
    bool any = false;
    for (; at < length; at++) {
        if (text[at] == decimal && !fraction) {
            fraction = true;
            continue;
        }
        if (!is_digit(text[at])) {
            break;
        }
        any = true;
        if (d->digits < UINT64_C(1000000000000000000)) {
            d->digits = d->digits * 10 + (uint64_t)(text[at] - '0');
            d->power -= fraction;
        } else if (!fraction) {
            return false;
        }
    }
    if (!any) {
        return false;
    }
    if (at == length) {
        return true;
    }
    return (text[at] == 'e' || text[at] == 'E') &&
           read_power(text, length, at + 1, &d->power);
}

/* digits * factor * 10^power, rounded to the nearest; false: out of range. */
static bool scale(uint64_t digits, uint64_t factor, int power, int64_t *out)
{
    const uint64_t most = (uint64_t)INT64_MAX;
    for (; power < 0 && digits > 0 && power < -15; power++) {
        digits /= 10; /* far below a nanosecond */
    }
    if (digits == 0) {
        *out = 0;
        return true;
    }
    uint64_t divisor = 1;
    for (; power < 0; power++) {
        divisor *= 10;
    }
    const uint64_t whole = digits / divisor;
    const uint64_t rest = (digits % divisor * factor + divisor / 2) / divisor;
    if (whole > (most - rest) / factor) {
        return false;
    }
    uint64_t sum = whole * factor + rest;
    for (; power > 0; power--) {
        if (sum > most / 10) {
            return false;
        }
        sum *= 10;
    }
    *out = (int64_t)sum;
    return true;
}

bool bl_log_time_number(const char *text, size_t length, char decimal,
                        enum log_form form, int64_t *time_ns,
                        int64_t *resolution_ns)
{
    struct decimal d;
    if (!read_decimal(text, length, decimal, &d) ||
        !scale(d.digits, weight[form].factor, d.power + weight[form].power,
               time_ns)) {
        return false;
    }
    if (d.negative) {
        *time_ns = -*time_ns;
    }
    int power = d.power;
    uint64_t digits = d.digits;
    while (power < 0 && digits % 10 == 0) {
        digits /= 10;
        power++;
    }
    if (!scale(1, weight[form].factor,
               (power > 0 ? 0 : power) + weight[form].power, resolution_ns) ||
        *resolution_ns == 0) {
        *resolution_ns = 1;
    }
    if (form == LOG_FORM_DAY && *time_ns >= 20000 * LOG_DAY_NS) {
        *time_ns -= SERIAL_1970 * LOG_DAY_NS;
    }
    return true;
}

bool bl_log_time_index(const char *text, size_t length, char decimal,
                       int64_t *index)
{
    struct decimal d;
    if (!read_decimal(text, length, decimal, &d)) {
        return false;
    }
    while (d.power < 0 && d.digits % 10 == 0 && d.digits > 0) {
        d.digits /= 10;
        d.power++;
    }
    if (d.digits == 0) {
        d.power = 0;
    }
    if (d.power < 0 || !scale(d.digits, 1, d.power, index)) {
        return false;
    }
    *index = d.negative ? -*index : *index;
    return true;
}

bool bl_log_index_ns(int64_t index, double rate_hz, int64_t *time_ns)
{
    /* Rates as written have few digits: counted in thousandths of a hertz the
       division is exact. */
    const double thousandths = rate_hz * 1000;
    const double whole = floor(thousandths + 0.5);
    if (!(whole >= 1) || whole > 1e9 ||
        fabs(whole - thousandths) > 1e-9 * whole) {
        const double ns = (double)index / rate_hz * 1e9;
        if (!(fabs(ns) < 9e18)) {
            return false;
        }
        *time_ns = (int64_t)ns;
        return true;
    }
    const int64_t rate = (int64_t)whole;
    if (index > INT64_MAX / 1000 || index < -INT64_MAX / 1000) {
        return false;
    }
    const int64_t seconds = index * 1000 / rate;
    const int64_t rest = index * 1000 % rate;
    if (seconds > INT64_MAX / LOG_SECOND_NS - 1 ||
        seconds < -INT64_MAX / LOG_SECOND_NS + 1) {
        return false;
    }
    const int64_t half = rest < 0 ? -rate / 2 : rate / 2;
    *time_ns = seconds * LOG_SECOND_NS + (rest * LOG_SECOND_NS + half) / rate;
    return true;
}

/* Digits at *at; at most `most` of them. */
static bool read_count(const char *text, size_t length, size_t *at, size_t most,
                       int64_t *value)
{
    const size_t from = *at;
    *value = 0;
    while (*at < length && is_digit(text[*at]) && *at - from < most) {
        *value = *value * 10 + (text[*at] - '0');
        (*at)++;
    }
    return *at > from && (*at == length || !is_digit(text[*at]));
}

/* ".250" and so on behind the seconds: nanoseconds. */
static bool read_fraction(const char *text, size_t length, size_t *at,
                          int64_t *ns, int64_t *resolution_ns)
{
    *ns = 0;
    *resolution_ns = LOG_SECOND_NS;
    int64_t digit_ns = LOG_SECOND_NS;
    if (*at >= length || strchr(".,:", text[*at]) == NULL) {
        return true;
    }
    const size_t from = ++*at;
    for (; *at < length && is_digit(text[*at]); (*at)++) {
        digit_ns /= 10;
        *ns += digit_ns * (text[*at] - '0');
        if (text[*at] != '0' && digit_ns > 0) {
            *resolution_ns = digit_ns;
        }
    }
    return *at > from;
}

/* " PM" behind a clock of twelve hours. */
static bool read_half_day(const char *text, size_t length, size_t *at,
                          int64_t *hour)
{
    size_t next = *at;
    while (next < length && text[next] == ' ') {
        next++;
    }
    if (next + 2 > length || (text[next + 1] | 0x20) != 'm' ||
        ((text[next] | 0x20) != 'a' && (text[next] | 0x20) != 'p')) {
        return true;
    }
    if (*hour < 1 || *hour > 12) {
        return false;
    }
    *hour = *hour % 12 + ((text[next] | 0x20) == 'p' ? 12 : 0);
    *at = next + 2;
    return true;
}

/* Clock at the start of the text; *used is its length. */
static bool read_clock(const char *text, size_t length, int64_t *time_ns,
                       int64_t *resolution_ns, size_t *used)
{
    size_t at = 0;
    int64_t hour;
    int64_t minute;
    int64_t second = 0;
    int64_t fraction = 0;
    if (!read_count(text, length, &at, 4, &hour) || at >= length ||
        text[at++] != ':' || !read_count(text, length, &at, 2, &minute)) {
        return false;
    }
    *resolution_ns = 60 * LOG_SECOND_NS;
    const bool short_form = at < length && (text[at] == '.' || text[at] == ',');
    if (short_form) { /* minutes, seconds and a fraction */
        second = minute;
        minute = hour;
        hour = 0;
    } else if (at < length && text[at] == ':') {
        at++;
        if (!read_count(text, length, &at, 2, &second)) {
            return false;
        }
    }
    if (!read_fraction(text, length, &at, &fraction, resolution_ns) ||
        !read_half_day(text, length, &at, &hour)) {
        return false;
    }
    if (second > 60 || (!short_form && minute > 59)) {
        return false;
    }
    *used = at;
    *time_ns = ((hour * 60 + minute) * 60 + second) * LOG_SECOND_NS + fraction;
    return true;
}

bool bl_log_time_clock(const char *text, size_t length, int64_t *time_ns,
                       int64_t *resolution_ns)
{
    size_t used;
    return read_clock(text, length, time_ns, resolution_ns, &used) &&
           used == length;
}

/* Days since 1970 in the Gregorian calendar; years of 365 days plus leap days
   up to the year, counted from March so that a leap day comes last. */
static int64_t days_from_civil(int64_t year, int64_t month, int64_t day)
{
    const int64_t y = year - (month <= 2);
    const int64_t from_march = (month + 9) % 12;
    return y * 365 + y / 4 - y / 100 + y / 400 + (from_march * 153 + 2) / 5 +
           day - 1 - 719468;
}

static int64_t month_days(int64_t year, int64_t month)
{
    static const int64_t days[] = {31, 28, 31, 30, 31, 30,
                                   31, 31, 30, 31, 30, 31};
    const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return days[month - 1] + (month == 2 && leap);
}

/* Three counts and the sign between them. */
static bool read_three(const char *text, size_t length, int64_t part[3],
                       size_t *used)
{
    size_t at = 0;
    char sign = '\0';
    for (int i = 0; i < 3; i++) {
        if (i > 0) {
            if (at >= length || strchr("-/.", text[at]) == NULL ||
                (i == 2 && text[at] != sign)) {
                return false;
            }
            sign = text[at++];
        }
        if (!read_count(text, length, &at, 4, &part[i])) {
            return false;
        }
    }
    *used = at;
    return true;
}

static bool read_date(const char *text, size_t length, bool month_first,
                      int64_t *days, size_t *used)
{
    int64_t part[3];
    if (!read_three(text, length, part, used)) {
        return false;
    }
    int64_t year = part[2];
    int64_t month = month_first ? part[0] : part[1];
    int64_t day = month_first ? part[1] : part[0];
    if (part[0] > 31) {
        year = part[0];
        month = part[1];
        day = part[2];
    }
    if (year < 1900 || year > 2261 || month < 1 || month > 12 || day < 1 ||
        day > month_days(year, month)) {
        return false;
    }
    *days = days_from_civil(year, month, day);
    return true;
}

bool bl_log_time_date(const char *text, size_t length, bool month_first,
                      int64_t *days)
{
    size_t used;
    return read_date(text, length, month_first, days, &used) && used == length;
}

bool bl_log_date_month_first(const char *text, size_t length)
{
    int64_t part[3];
    size_t used;
    return read_three(text, length, part, &used) && part[0] >= 1 &&
           part[0] <= 12 && part[1] > 12 && part[1] <= 31 && part[2] > 31;
}

bool bl_log_time_zone(const char *text, size_t length, int64_t *seconds)
{
    if (length == 1 && (text[0] == 'Z' || text[0] == 'z')) {
        *seconds = 0;
        return true;
    }
    if (length < 3 || (text[0] != '+' && text[0] != '-')) {
        return false;
    }
    for (size_t i = 1; i < length; i++) {
        if (!is_digit(text[i]) && !(i == 3 && text[i] == ':')) {
            return false;
        }
    }
    const char *minute = length == 6 ? text + 4 : length == 5 ? text + 3 : NULL;
    if (length == 4 || length > 6 || (length == 5 && text[3] == ':')) {
        return false;
    }
    const int64_t hours = (text[1] - '0') * 10 + (text[2] - '0');
    const int64_t minutes =
        minute == NULL ? 0 : (minute[0] - '0') * 10 + (minute[1] - '0');
    if (hours > 14 || minutes > 59) {
        return false;
    }
    *seconds = (hours * 60 + minutes) * 60 * (text[0] == '-' ? -1 : 1);
    return true;
}

bool bl_log_time_iso(const char *text, size_t length, bool month_first,
                     int64_t *time_ns, int64_t *resolution_ns, bool *zoned)
{
    int64_t days;
    int64_t clock_ns;
    int64_t zone_s = 0;
    size_t used;
    if (!read_date(text, length, month_first, &days, &used)) {
        return false;
    }
    size_t at = used;
    while (at < length && (text[at] == ' ' || text[at] == 'T' ||
                           text[at] == 't' || text[at] == '_')) {
        at++;
    }
    if (at == used ||
        !read_clock(text + at, length - at, &clock_ns, resolution_ns, &used)) {
        return false;
    }
    at += used;
    while (at < length && text[at] == ' ') {
        at++;
    }
    *zoned = at < length;
    if (*zoned && !bl_log_time_zone(text + at, length - at, &zone_s)) {
        return false;
    }
    *time_ns = days * LOG_DAY_NS + clock_ns - zone_s * LOG_SECOND_NS;
    return true;
}
