/* SPDX-License-Identifier: MIT */
/*
 * Numbers to and from text, whatever the locale is.
 */
#ifndef BRAKELAG_SRC_BASE_NUMBER_H
#define BRAKELAG_SRC_BASE_NUMBER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/*
 * Parse the longest decimal number at the start of text[0..length): sign,
 * digits, `decimal` sign ('.' or ','), digits, exponent. No leading blanks, no
 * hex, no "nan" or "inf". The nearest double, as strtod in the C locale.
 * *used is how many bytes it took; false when there is no number.
 */
bool bl_number_scan(const char *text, size_t length, char decimal,
                    double *value, size_t *used);
/* The whole text must be a number; leading and trailing blanks are fine. */
bool bl_number_parse(const char *text, size_t length, double *value);
/* Whole text, decimal or 0x hex, no sign for the unsigned one. */
bool bl_integer_parse(const char *text, size_t length, int64_t *value);
bool bl_unsigned_parse(const char *text, size_t length, uint64_t *value);

/*
 * The common cell of a log, "-123.45": digits, up to 18 characters, with or
 * without a decimal sign among them. Returns where it ends, the same value as
 * bl_number_scan; NULL where it is any other form, which that reads at leisure.
 */
const char *bl_number_plain(const char *text, const char *end, char decimal,
                            double *value);
/* The same where BL_DIGITS_SLACK bytes may be read from any place before `end`:
   for cells of up to eight characters behind the sign in one go. */
const char *bl_number_short(const char *text, const char *end, char decimal,
                            double *value);

/*
 * "1701364099.986950" to nanoseconds, exactly: seconds with up to any number
 * of fraction digits (beyond nine they are rounded). False: no such number, or
 * out of int64 range. *digits is the number of fraction digits.
 */
bool bl_seconds_parse(const char *text, size_t length, int64_t *time_ns,
                      unsigned *digits);

/* Shortest text with up to `digits` significant digits, '.' as decimal sign,
   no locale. Returns text (size at least 32). NaN is "nan". */
const char *bl_number_format(double value, unsigned digits, char *text,
                             size_t size);

/* Puts `count` values in order, none of them NaN. */
void bl_sort(double *value, size_t count);
/* Median of `count` values; reorders them. NaN for none. */
double bl_median(double *value, size_t count);
float bl_median_float(float *value, size_t count);

#endif
