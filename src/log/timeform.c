/* SPDX-License-Identifier: MIT */
/* What the numbers of a time column count, from its unit, name, size and
   step. */
#include "log/dialect.h"

#include <string.h>
#include <strings.h>

static bool is_one_of(const char *text, const char *const *word)
{
    for (; *word != NULL; word++) {
        if (strcasecmp(text, *word) == 0) {
            return true;
        }
    }
    return false;
}

/* The name without brackets, up to a blank, '_' or '/' when `part`. */
static bool word_in_name(const char *name, const char *const *word)
{
    char text[64];
    size_t length = 0;
    for (const char *at = name;; at++) {
        const bool end = *at == '\0' || strchr(" _[(/-.:", *at) != NULL;
        if (!end && length + 1 < sizeof(text)) {
            text[length++] = *at;
            continue;
        }
        if (end) {
            text[length] = '\0';
            if (length > 0 && is_one_of(text, word)) {
                return true;
            }
            length = 0;
            if (*at == '\0' || *at == '[' || *at == '(') {
                return false;
            }
        }
    }
}

bool bl_log_name_is_time(const char *name)
{
    static const char *const words[] = {
        "time",    "timestamp", "datetime", "t",           "zeit", "tijd",
        "temps",   "tiempo",    "tempo",    "tid",         "czas", "uhrzeit",
        "seconds", "elapsed",   "epoch",    "zeitstempel", NULL};
    return word_in_name(name, words);
}

bool bl_log_name_is_index(const char *name)
{
    static const char *const words[] = {
        "index", "sample", "samples", "nr",  "no",  "#", "n",
        "count", "number", "scan",    "row", "idx", NULL};
    return word_in_name(name, words);
}

static enum log_form by_unit(const char *unit)
{
    static const struct {
        const char *unit;
        enum log_form form;
    } known[] = {
        {"s", LOG_FORM_S},
        {"sec", LOG_FORM_S},
        {"secs", LOG_FORM_S},
        {"second", LOG_FORM_S},
        {"seconds", LOG_FORM_S},
        {"sek", LOG_FORM_S},
        {"ms", LOG_FORM_MS},
        {"msec", LOG_FORM_MS},
        {"millis", LOG_FORM_MS},
        {"milliseconds", LOG_FORM_MS},
        {"us", LOG_FORM_US},
        {"\xC2\xB5s", LOG_FORM_US},
        {"\xCE\xBCs", LOG_FORM_US},
        {"usec", LOG_FORM_US},
        {"microseconds", LOG_FORM_US},
        {"ns", LOG_FORM_NS},
        {"d", LOG_FORM_DAY},
        {"day", LOG_FORM_DAY},
        {"days", LOG_FORM_DAY},
    };
    for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++) {
        if (strcasecmp(unit, known[i].unit) == 0) {
            return known[i].form;
        }
    }
    return LOG_FORM_UNKNOWN;
}

/* Between 1990 and 2100, counted in units of 1 / per_second. */
static bool is_epoch(double value, double per_second)
{
    return value >= 6.3e8 * per_second && value <= 4.1e9 * per_second;
}

enum log_form bl_log_numeric_form(const char *unit, double first, double last,
                                  double step, bool whole, bool *guessed)
{
    static const struct {
        enum log_form form, epoch;
        double per_second;
    } scale[] = {{LOG_FORM_S, LOG_FORM_EPOCH_S, 1},
                 {LOG_FORM_MS, LOG_FORM_EPOCH_MS, 1e3},
                 {LOG_FORM_US, LOG_FORM_EPOCH_US, 1e6},
                 {LOG_FORM_NS, LOG_FORM_EPOCH_NS, 1e9}};
    const enum log_form stated = by_unit(unit);
    *guessed = false;
    for (size_t i = 0; i < 4; i++) {
        if ((stated == LOG_FORM_UNKNOWN || stated == scale[i].form) &&
            is_epoch(first, scale[i].per_second)) {
            return scale[i].epoch;
        }
    }
    if (stated != LOG_FORM_UNKNOWN) {
        return stated;
    }
    *guessed = true;
    /* Spreadsheet days: 30000 is 1982, 80000 is 2119; a log of 45000 s would
       hardly step by less than 0.2 ms. */
    if (first >= 30000 && last <= 80000 && step < 2e-4 && !whole) {
        return LOG_FORM_DAY;
    }
    if (first >= 0 && last <= 1 && step < 2e-5) {
        return LOG_FORM_DAY;
    }
    /* Nobody logs brakes slower than once a second: larger steps are finer
       units. */
    if (step >= 1 && whole) {
        return step < 1000 ? LOG_FORM_MS : LOG_FORM_US;
    }
    return LOG_FORM_S;
}
