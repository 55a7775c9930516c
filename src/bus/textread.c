/* SPDX-License-Identifier: MIT */
#include "bus/textread.h"

#include "base/alloc.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

enum { NANO_DIGITS = 9, SHOWN_BYTES = 60, TOLD_BY = 5 };

/* Stamps before 1990 count from something else than 1970. */
static const int64_t since_1970_ns = INT64_C(631152000) * 1000000000;

void bl_textread_resolution(struct bl_textread *text, unsigned digits)
{
    if (digits <= text->fraction_digits &&
        text->context->info.resolution_ns > 0) {
        return;
    }
    text->fraction_digits = digits;
    int64_t resolution_ns = 1;
    for (unsigned i = digits; i < NANO_DIGITS; i++) {
        resolution_ns *= 10;
    }
    text->context->info.resolution_ns = resolution_ns;
}

/* Text of a line for a message: printable, cut. */
static void show(const struct bl_text_line *line, char shown[SHOWN_BYTES + 1])
{
    const size_t length =
        line->length < SHOWN_BYTES ? line->length : SHOWN_BYTES;
    for (size_t i = 0; i < length; i++) {
        const char c = line->text[i];
        shown[i] = c >= ' ' && c < 0x7F ? c : '?';
    }
    shown[length] = '\0';
}

/* "(seconds)" behind blanks; *at goes behind it. */
static bool read_stamp(const char *text, size_t length, size_t *at,
                       int64_t *time_ns)
{
    unsigned digits;
    while (*at < length && (text[*at] == ' ' || text[*at] == '\t')) {
        (*at)++;
    }
    if (*at == length || text[*at] != '(') {
        return false;
    }
    const char *first = text + *at + 1;
    const char *close = memchr(first, ')', length - *at - 1);
    return close != NULL &&
           bl_seconds_parse(first, (size_t)(close - first), time_ns, &digits);
}

/* Does the line look as if a frame stood on it? */
static bool held_a_frame(const struct bl_text_line *line)
{
    return memchr(line->text, '[', line->length) != NULL ||
           memchr(line->text, '#', line->length) != NULL ||
           memchr(line->text, ')', line->length) != NULL;
}

enum bl_status bl_textread_lost(struct bl_textread *text,
                                const struct bl_text_line *line,
                                struct bl_error *error)
{
    return bl_fail_line(error, BL_FORMAT, bl_bytes_name(text->context->source),
                        line->number,
                        "expected the time since the line before, found none "
                        "that can be read: all later times count from it, and "
                        "nothing behind it is read");
}

enum bl_status bl_textread_bad(struct bl_textread *text,
                               const struct bl_text_line *line,
                               const char *expected, size_t at,
                               struct bl_error *error)
{
    struct bl_notes *notes = &text->context->info.notes;
    int64_t time_ns;
    size_t first = 0;
    if (text->deltas && line->ended &&
        !(read_stamp(line->text, line->length, &first, &time_ns) &&
          bl_textread_time(text, &time_ns)) &&
        held_a_frame(line)) {
        return bl_textread_lost(text, line, error);
    }
    if (!line->ended) {
        return bl_note(notes, "cut-last-record", line->number, line->offset,
                       "the last line is cut: expected %s, found the end",
                       expected);
    }
    char shown[SHOWN_BYTES + 1];
    show(line, shown);
    text->context->info.after_damage = true;
    return bl_note(notes, "bad-line", line->number, line->offset,
                   "column %zu: expected %s, found '%s'; line skipped", at + 1,
                   expected, shown);
}

enum bl_status bl_textread_comment(struct bl_textread *text,
                                   const struct bl_text_line *line)
{
    return bl_note(&text->context->info.notes, "comment-lines", line->number,
                   line->offset,
                   "lines that begin with # are comments and say nothing");
}

enum bl_status bl_textread_unended(struct bl_textread *text,
                                   const struct bl_text_line *line)
{
    return line->ended
               ? BL_OK
               : bl_note(&text->context->info.notes, "last-line-without-end",
                         line->number, line->offset,
                         "the last line has no end: it may be cut");
}

enum bl_status bl_textread_open(void **out, const struct bl_textread_ways *ways,
                                struct bl_bus_context *context,
                                struct bl_error *error)
{
    struct bl_textread *text = bl_alloc(1, ways->size);
    if (text == NULL) {
        return bl_fail_memory(error);
    }
    text->ways = ways;
    text->context = context;
    bl_lines_start(&text->lines, context->source, true);
    const enum bl_status status = ways->decide(text, error);
    if (status != BL_OK) {
        bl_free(text);
        return status;
    }
    *out = text;
    return BL_OK;
}

enum bl_status bl_textread_next(void *state, struct bl_frame *frame,
                                size_t room, size_t *count,
                                struct bl_error *error)
{
    struct bl_textread *text = state;
    enum bl_status status = BL_OK;
    *count = 0;
    while (status == BL_OK && *count < room && !text->ended) {
        status = bl_textread_one(text, frame + *count, count, error);
    }
    return status;
}

void bl_textread_close(void *state)
{
    bl_free(state);
}

enum bl_status bl_textread_one(struct bl_textread *text, struct bl_frame *frame,
                               size_t *count, struct bl_error *error)
{
    struct bl_bus_info *info = &text->context->info;
    struct bl_text_line line;
    bool taken = false;
    enum bl_status status = bl_lines_next(&text->lines, &line, error);
    if (status == BL_LIMIT) {
        info->after_damage = true;
        status = bl_note(&info->notes, "bad-line", text->lines.number, -1,
                         "expected a frame, found a line that is too "
                         "long; line skipped");
    } else if (status == BL_OK) {
        text->ended = line.text == NULL;
        status = text->ended
                     ? BL_OK
                     : text->ways->read(text, &line, frame, &taken, error);
    }
    if (status != BL_OK) {
        info->after_damage = true;
        return status;
    }
    *count += bl_bus_taken(text->context, frame, taken);
    return BL_OK;
}

bool bl_textread_time(struct bl_textread *text, int64_t *time_ns)
{
    if (!text->deltas) {
        return true;
    }
    if (*time_ns < 0 || *time_ns > BL_BUS_TIME_MAX - text->now_ns) {
        return false;
    }
    text->now_ns += *time_ns;
    *time_ns = text->now_ns;
    return true;
}

void bl_stamp_step(struct bl_stamp_steps *s, int64_t time_ns)
{
    if (s->stamps > 0) {
        const double step_ns = (double)time_ns - (double)s->last_ns;
        s->up += step_ns > 0;
        s->down += step_ns < 0;
        *(step_ns > 0 ? &s->rise_ns : &s->fall_ns) += fabs(step_ns);
        s->same += time_ns == s->last_ns && time_ns != 0;
    } else {
        s->first_ns = time_ns;
    }
    s->last_ns = time_ns;
    s->stamps++;
}

static struct bl_stamp_steps count_stamps(const uint8_t *data, size_t size)
{
    struct bl_stamp_steps s = {0};
    for (size_t at = bl_textread_mark(data, size); at < size;) {
        const size_t end = at + bl_textread_end(data + at, size - at);
        int64_t time_ns;
        if (end == size && s.stamps > 0) {
            break; /* it may be cut */
        }
        if (read_stamp((const char *)data, end, &at, &time_ns)) {
            bl_stamp_step(&s, time_ns);
        }
        at = end + 1;
    }
    return s;
}

/*
 * Times since the first line rise, but for buses that step back by turns; those
 * since the line before fall as much as they rise, or are all the same. That
 * the two are alike within a tenth, by one step in twenty and not by a clock
 * that jumps, is own choice.
 */
bool bl_stamps_are_deltas(const struct bl_stamp_steps *s)
{
    return s->stamps >= TOLD_BY &&
           ((20 * s->down >= s->stamps && s->fall_ns >= 0.9 * s->rise_ns &&
             s->rise_ns >= 0.9 * s->fall_ns) ||
            (s->up <= 1 && 2 * s->same > s->stamps));
}

enum bl_status bl_textread_decide(void *state, struct bl_error *error)
{
    struct bl_textread *text = state;
    /* Little at first, for slow pipes: stamps since 1970 are recognised at
     * once. */
    static const size_t looks[] = {64, 4096, BL_PEEK_MAX};
    struct bl_stamp_steps s = {0};
    for (size_t i = 0; i < sizeof(looks) / sizeof(looks[0]); i++) {
        const uint8_t *data;
        size_t size;
        const enum bl_status status =
            bl_bytes_peek(text->context->source, looks[i], &data, &size, error);
        if (status != BL_OK) {
            return status;
        }
        s = count_stamps(data, size);
        if (s.stamps > 0 && s.first_ns >= since_1970_ns) {
            return BL_OK;
        }
    }
    if (!bl_stamps_are_deltas(&s)) {
        return BL_OK;
    }
    return bl_textread_deltas(text);
}

enum bl_status bl_textread_deltas(struct bl_textread *text)
{
    text->deltas = true;
    return bl_note(&text->context->info.notes, "delta-stamps", -1, -1,
                   "the stamps are taken as times since the line before, as "
                   "they rise and fall: they are added up from 0");
}

enum bl_status bl_textread_untimed(struct bl_textread *text)
{
    text->context->info.untimed = true;
    text->context->info.resolution_ns = 0;
    return bl_note(&text->context->info.notes, "no-times", -1, -1,
                   "the recording has no times: the order of its frames is "
                   "known, no lag, interval or rate is");
}

size_t bl_textread_end(const uint8_t *data, size_t size)
{
    size_t end = 0;
    while (end < size && data[end] != '\n' && data[end] != '\r') {
        end++;
    }
    return end;
}

size_t bl_textread_mark(const uint8_t *data, size_t size)
{
    return size >= 3 && memcmp(data, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
}
