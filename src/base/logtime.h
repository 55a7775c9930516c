/* SPDX-License-Identifier: MIT */
/*
 * Written times to int64 nanoseconds, by integer arithmetic alone: a double
 * cannot hold nanoseconds since 1970.
 */
#ifndef BRAKELAG_SRC_BASE_LOGTIME_H
#define BRAKELAG_SRC_BASE_LOGTIME_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define LOG_SECOND_NS INT64_C(1000000000)
#define LOG_DAY_NS (86400 * LOG_SECOND_NS)

enum log_form {
    LOG_FORM_UNKNOWN,
    LOG_FORM_S,
    LOG_FORM_MS,
    LOG_FORM_US,
    LOG_FORM_NS,
    LOG_FORM_EPOCH_S,
    LOG_FORM_EPOCH_MS,
    LOG_FORM_EPOCH_US,
    LOG_FORM_EPOCH_NS,
    LOG_FORM_CLOCK,
    LOG_FORM_ISO,
    LOG_FORM_DAY,
    LOG_FORM_INDEX,
    LOG_FORMS
};

const char *bl_log_form_name(enum log_form form);
/* LOG_FORM_UNKNOWN when there is none of this name. */
enum log_form bl_log_form_by_name(const char *name);
bool bl_log_form_is_numeric(enum log_form form);

/* A number in the unit of a numeric form (not INDEX: the unit is one sample).
 *resolution_ns: weight of the last digit that is not a closing zero. */
bool bl_log_time_number(const char *text, size_t length, char decimal,
                        enum log_form form, int64_t *time_ns,
                        int64_t *resolution_ns);
/* A whole number, perhaps written 12.000. */
bool bl_log_time_index(const char *text, size_t length, char decimal,
                       int64_t *index);
/* Sampling rates that are believed, Hz: from a reading in a quarter of an hour
   to what no recorder of pressures does (own choice). */
#define LOG_RATE_LEAST_HZ 1e-3
#define LOG_RATE_MOST_HZ 1e7

/* Stamp of a sample by its number; false: out of range. */
bool bl_log_index_ns(int64_t index, double rate_hz, int64_t *time_ns);

/* "7:05:09.25", "07:05:09,250", "07:05:09:250", "05:09.25", "7:05:09 PM":
   nanoseconds since midnight. */
bool bl_log_time_clock(const char *text, size_t length, int64_t *time_ns,
                       int64_t *resolution_ns);
/* "2025-01-18", "18.01.2025", "18/01/2025" (month_first: "01/18/2025"): days
   since 1970. */
bool bl_log_time_date(const char *text, size_t length, bool month_first,
                      int64_t *days);
/* Is a date with the month in front, as only a day over 12 can show? */
bool bl_log_date_month_first(const char *text, size_t length);
/* "Z", "+10:00", "-0330", "+10": seconds east. */
bool bl_log_time_zone(const char *text, size_t length, int64_t *seconds);
/* Date, "T" or blanks, clock, zone (none: *zoned is false). Nanoseconds since
   1970 in that zone, or as UTC. */
bool bl_log_time_iso(const char *text, size_t length, bool month_first,
                     int64_t *time_ns, int64_t *resolution_ns, bool *zoned);

#endif
