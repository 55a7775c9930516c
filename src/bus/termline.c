/* SPDX-License-Identifier: MIT */
#include "bus/termline.h"

#include "base/logtime.h"
#include "base/number.h"
#include "bus/format.h"

#include <string.h>

enum {
    CLASSIC_BYTES = 8,
    FD_BYTES = 64,
    STANDARD_DIGITS = 3,
    EXTENDED_DIGITS = 8,
    STANDARD_ID = 0x7FF
};
#define EXTENDED_ID 0x1FFFFFFFu
#define ERROR_FLAG 0x20000000u

struct cursor {
    const char *text;
    size_t length, at;
    const char *expected;
};

static bool fail_at(struct cursor *c, const char *expected)
{
    c->expected = expected;
    return false;
}

static char char_at(const struct cursor *c, size_t at)
{
    return at < c->length ? c->text[at] : '\0';
}

static int hex_at(const struct cursor *c, size_t at)
{
    const char sign = char_at(c, at);
    if (sign >= '0' && sign <= '9') {
        return sign - '0';
    }
    const char lower = (char)(sign | 0x20);
    return lower >= 'a' && lower <= 'f' ? lower - 'a' + 10 : -1;
}

static bool is_blank(char sign)
{
    return sign == ' ' || sign == '\t';
}

static void skip_blanks(struct cursor *c)
{
    while (is_blank(char_at(c, c->at))) {
        c->at++;
    }
}

/* Length of the word at hand. */
static size_t word(const struct cursor *c)
{
    size_t end = c->at;
    while (end < c->length && !is_blank(c->text[end])) {
        end++;
    }
    return end - c->at;
}

static bool word_is(const struct cursor *c, const char *wanted)
{
    return word(c) == strlen(wanted) &&
           memcmp(c->text + c->at, wanted, word(c)) == 0;
}

/* Seconds, or a date and a clock. */
static bool read_stamp(struct cursor *c, struct bl_frame *frame,
                       struct bl_termline *line)
{
    if (char_at(c, c->at) != '(') {
        line->stamp = BL_TERMLINE_NONE;
        return true;
    }
    const char *first = c->text + c->at + 1;
    const char *close = memchr(first, ')', c->length - c->at - 1);
    const size_t length = close == NULL ? 0 : (size_t)(close - first);
    bool zoned;
    if (length > 0 && bl_seconds_parse(first, length, &frame->time_ns,
                                       &line->part.fraction_digits)) {
        line->stamp = BL_TERMLINE_SECONDS;
    } else if (length > 0 &&
               bl_log_time_iso(first, length, false, &frame->time_ns,
                               &line->resolution_ns, &zoned)) {
        line->stamp = BL_TERMLINE_DATE;
    } else {
        c->at++;
        return fail_at(c, "seconds or a date, and ')'");
    }
    if (frame->time_ns > BL_BUS_TIME_MAX || frame->time_ns < -BL_BUS_TIME_MAX) {
        return fail_at(c, "a time within 146 years of 1970");
    }
    c->at = (size_t)(close - c->text) + 1;
    return true;
}

/* "RX - -", "TX B E": direction, bit rate switch, error state. */
static bool read_direction(struct cursor *c, struct bl_frame *frame)
{
    if (!word_is(c, "RX") && !word_is(c, "TX")) {
        return true;
    }
    frame->flags |= word_is(c, "TX") ? BL_FRAME_OUTGOING : 0;
    c->at += 2;
    for (int i = 0; i < 2; i++) {
        skip_blanks(c);
        const char flag = char_at(c, c->at);
        if (word(c) != 1 || strchr(i == 0 ? "-B" : "-E", flag) == NULL) {
            return fail_at(c, "two letters of flags");
        }
        frame->flags |= flag == 'B'   ? BL_FRAME_BIT_RATE_SWITCH
                        : flag == 'E' ? BL_FRAME_ERROR_STATE
                                      : 0;
        c->at++;
    }
    skip_blanks(c);
    return true;
}

static bool take_id(struct cursor *c, struct bl_frame *frame, size_t digits,
                    uint32_t id)
{
    if (digits == STANDARD_DIGITS) {
        frame->id = id;
        return id <= STANDARD_ID || fail_at(c, "an 11-bit identifier");
    }
    if ((id & ~EXTENDED_ID) == ERROR_FLAG) {
        frame->kind = BL_FRAME_ERROR;
        frame->id = id & EXTENDED_ID;
        return true;
    }
    frame->id = id;
    frame->flags |= BL_FRAME_EXTENDED;
    return id <= EXTENDED_ID || fail_at(c, "a 29-bit identifier");
}

static bool read_id(struct cursor *c, struct bl_frame *frame)
{
    const bool angled = char_at(c, c->at) == '<';
    c->at += angled;
    if (angled && char_at(c, c->at) == '0' && char_at(c, c->at + 1) == 'x') {
        c->at += 2;
    }
    const size_t first = c->at;
    uint32_t id = 0;
    int digit;
    while (c->at - first < EXTENDED_DIGITS && (digit = hex_at(c, c->at)) >= 0) {
        id = id << 4 | (uint32_t)digit;
        c->at++;
    }
    const size_t digits = c->at - first;
    if ((digits != STANDARD_DIGITS && digits != EXTENDED_DIGITS) ||
        (angled && char_at(c, c->at++) != '>') ||
        !is_blank(char_at(c, c->at))) {
        return fail_at(c, "3 or 8 hex digits");
    }
    skip_blanks(c);
    return take_id(c, frame, digits, id);
}

/* "[8]", "[08]". */
static bool read_length(struct cursor *c, struct bl_frame *frame)
{
    unsigned length = 0;
    size_t digits = 0;
    if (char_at(c, c->at) != '[') {
        return fail_at(c, "a length such as [8]");
    }
    for (c->at++; char_at(c, c->at) >= '0' && char_at(c, c->at) <= '9';
         c->at++) {
        length = length * 10 + (unsigned)(c->text[c->at] - '0');
        if (++digits > 2) {
            break;
        }
    }
    const bool fd = digits == 2 && frame->kind != BL_FRAME_ERROR;
    if (digits == 0 || digits > 2 || char_at(c, c->at) != ']' ||
        length > (fd ? FD_BYTES : CLASSIC_BYTES)) {
        return fail_at(c, "a length of 0 to 8 as [8], or to 64 as [08]");
    }
    if (fd && frame->kind == BL_FRAME_CLASSIC) {
        frame->kind = BL_FRAME_FD;
    }
    frame->length = (uint8_t)length;
    c->at++;
    skip_blanks(c);
    return true;
}

static bool read_bytes(struct cursor *c, struct bl_frame *frame)
{
    for (unsigned i = 0; i < frame->length; i++) {
        const int high = hex_at(c, c->at);
        const int low = hex_at(c, c->at + 1);
        const char behind = char_at(c, c->at + 2);
        if (high < 0 || low < 0 || (behind != '\0' && !is_blank(behind))) {
            return fail_at(c, "as many bytes of two hex digits as the length "
                              "says");
        }
        frame->data[i] = (uint8_t)(high << 4 | low);
        c->at += 2;
        skip_blanks(c);
    }
    return true;
}

static bool read_data(struct cursor *c, struct bl_frame *frame)
{
    static const char remote[] = "remote request";
    const size_t length = sizeof(remote) - 1;
    if (frame->kind == BL_FRAME_CLASSIC && c->length - c->at >= length &&
        memcmp(c->text + c->at, remote, length) == 0) {
        frame->kind = BL_FRAME_REMOTE;
        c->at += length;
        return true;
    }
    return read_bytes(c, frame);
}

/* The bytes as text, or what an error frame is called. */
static bool read_rest(struct cursor *c, const struct bl_frame *frame)
{
    skip_blanks(c);
    if (frame->kind == BL_FRAME_ERROR && word_is(c, "ERRORFRAME")) {
        c->at += word(c);
        skip_blanks(c);
    }
    /* No hex digits may hide in the text: it is as long as the bytes are. */
    if (char_at(c, c->at) == '\'' && c->length - c->at >= frame->length + 2u &&
        c->text[c->at + frame->length + 1] == '\'') {
        c->at += frame->length + 2u;
        skip_blanks(c);
    }
    return c->at == c->length || fail_at(c, "the end of the line");
}

static bool read_bus(struct cursor *c, struct bl_termline *line)
{
    skip_blanks(c);
    line->part.bus = c->text + c->at;
    line->part.bus_length = word(c);
    c->at += line->part.bus_length;
    if (line->part.bus_length == 0 || c->at == c->length) {
        return fail_at(c, "an interface name and a frame");
    }
    skip_blanks(c);
    return true;
}

enum bl_textline_kind bl_termline_parse(const char *text, size_t length,
                                        struct bl_frame *frame,
                                        struct bl_termline *line)
{
    struct cursor c = {.text = text, .length = length};
    memset(frame, 0, sizeof(*frame));
    memset(line, 0, sizeof(*line));
    skip_blanks(&c);
    if (c.at == length) {
        return BL_TEXTLINE_BLANK;
    }
    if (char_at(&c, c.at) == '#') {
        return BL_TEXTLINE_COMMENT;
    }
    bool good = read_stamp(&c, frame, line);
    const size_t behind = c.at;
    good = good && read_bus(&c, line);
    if (good && memchr(text + c.at, '#', word(&c)) != NULL) {
        return bl_textline_unstamped(text, length, behind, frame, &line->part);
    }
    line->brackets = memchr(text, '[', length) != NULL;
    good = good && read_direction(&c, frame) && read_id(&c, frame) &&
           read_length(&c, frame) && read_data(&c, frame) &&
           read_rest(&c, frame);
    line->part.expected = c.expected;
    line->part.at = c.at;
    return good ? BL_TEXTLINE_FRAME : BL_TEXTLINE_BAD;
}
