/* SPDX-License-Identifier: MIT */
/* Sampling rate in the free text before the table: "Rate: 100 Hz", "Sample
   interval = 10 ms", "fs 1 kHz". */
#include "log/dialect.h"

#include "base/number.h"

#include <string.h>
#include <strings.h>

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* Does the line hold the word, not as a part of a longer one? */
static bool has_word(const struct log_line *line, const char *word)
{
    const size_t length = strlen(word);
    for (size_t i = 0; i + length <= line->length; i++) {
        if (strncasecmp(line->text + i, word, length) == 0 &&
            (length > 3 || ((i == 0 || !is_letter(line->text[i - 1])) &&
                            (i + length == line->length ||
                             !is_letter(line->text[i + length]))))) {
            return true;
        }
    }
    return false;
}

static bool has_any(const struct log_line *line, const char *const *word)
{
    for (; *word != NULL; word++) {
        if (has_word(line, *word)) {
            return true;
        }
    }
    return false;
}

static bool unit_at(const struct log_line *line, size_t at, const char *unit)
{
    const size_t length = strlen(unit);
    return at + length <= line->length &&
           strncasecmp(line->text + at, unit, length) == 0 &&
           (at + length == line->length || !is_letter(line->text[at + length]));
}

/* The rate that the number before `at` means, 0 for none. */
static double rate_of(const struct log_line *line, double number, size_t at)
{
    static const char *const rate_words[] = {"rate", "freq", "fs", "abtast",
                                             NULL};
    static const char *const step_words[] = {"interval", "period", "dt", "step",
                                             NULL};
    while (at < line->length && strchr(" \t\";,([", line->text[at]) != NULL) {
        at++;
    }
    if (unit_at(line, at, "khz") || unit_at(line, at, "ks/s")) {
        return number * 1000;
    }
    if (unit_at(line, at, "hz") || unit_at(line, at, "s/s") ||
        unit_at(line, at, "1/s") || unit_at(line, at, "samples/s") ||
        unit_at(line, at, "sps")) {
        return number;
    }
    if (has_any(line, step_words) && number > 0) {
        if (unit_at(line, at, "ms")) {
            return 1000 / number;
        }
        if (unit_at(line, at, "us")) {
            return 1e6 / number;
        }
        return unit_at(line, at, "s") || unit_at(line, at, "sec") ? 1 / number
                                                                  : 0;
    }
    return at >= line->length && has_any(line, rate_words) ? number : 0;
}

static double rate_in_line(const struct log_line *line)
{
    for (size_t i = 0; i < line->length; i++) {
        if (!is_digit(line->text[i]) ||
            (i > 0 && is_letter(line->text[i - 1]))) {
            continue;
        }
        double number;
        size_t used;
        const char *text = line->text + i;
        if (!bl_number_scan(text, line->length - i, '.', &number, &used)) {
            continue;
        }
        if (i + used + 1 < line->length && text[used] == ',' &&
            is_digit(text[used + 1]) &&
            !bl_number_scan(text, line->length - i, ',', &number, &used)) {
            continue;
        }
        const double rate = rate_of(line, number, i + used);
        if (rate >= LOG_RATE_LEAST_HZ && rate <= LOG_RATE_MOST_HZ) {
            return rate;
        }
        i += used - 1;
    }
    return 0;
}

double bl_log_rate_hint(const struct log_head *head, size_t lines)
{
    for (size_t i = 0; i < lines && i < head->count; i++) {
        const struct log_line line = bl_log_head_line(head, i);
        const double rate = line.length > 1000 ? 0 : rate_in_line(&line);
        if (rate > 0) {
            return rate;
        }
    }
    return 0;
}
