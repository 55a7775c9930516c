/* SPDX-License-Identifier: MIT */
#include "bus/textline.h"

#include "base/digits.h"
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

/* Value of a hex digit plus 1; 0 for all other bytes. */
static const uint8_t hex_plus_one[256] = {
    ['0'] = 1,  ['1'] = 2,  ['2'] = 3,  ['3'] = 4,  ['4'] = 5,  ['5'] = 6,
    ['6'] = 7,  ['7'] = 8,  ['8'] = 9,  ['9'] = 10, ['A'] = 11, ['B'] = 12,
    ['C'] = 13, ['D'] = 14, ['E'] = 15, ['F'] = 16, ['a'] = 11, ['b'] = 12,
    ['c'] = 13, ['d'] = 14, ['e'] = 15, ['f'] = 16};

static int hex_at(const struct cursor *c, size_t at)
{
    return at < c->length ? hex_plus_one[(unsigned char)c->text[at]] - 1 : -1;
}

static char char_at(const struct cursor *c)
{
    return c->at < c->length ? c->text[c->at] : '\0';
}

static bool fail_at(struct cursor *c, const char *expected)
{
    c->expected = expected;
    return false;
}

static void skip_blanks(struct cursor *c)
{
    while (char_at(c) == ' ' || char_at(c) == '\t') {
        c->at++;
    }
}

/* "(seconds.fraction) " */
static bool read_stamp(struct cursor *c, struct bl_frame *frame,
                       struct bl_textline *line)
{
    if (char_at(c) != '(') {
        return fail_at(c, "'(' and the time in seconds");
    }
    const char *first = c->text + c->at + 1;
    const char *close = memchr(first, ')', c->length - c->at - 1);
    int64_t time_ns;
    if (close == NULL ||
        !bl_seconds_parse(first, (size_t)(close - first), &time_ns,
                          &line->fraction_digits) ||
        time_ns > BL_BUS_TIME_MAX || time_ns < -BL_BUS_TIME_MAX) {
        c->at++;
        return fail_at(c, "seconds and ')'");
    }
    frame->time_ns = time_ns;
    c->at = (size_t)(close - c->text) + 1;
    if (char_at(c) != ' ' && char_at(c) != '\t') {
        return fail_at(c, "a blank behind the time");
    }
    return true;
}

static bool read_bus(struct cursor *c, struct bl_textline *line)
{
    skip_blanks(c);
    const size_t first = c->at;
    while (c->at < c->length && c->text[c->at] != ' ' &&
           c->text[c->at] != '\t') {
        c->at++;
    }
    line->bus = c->text + first;
    line->bus_length = c->at - first;
    if (c->at == first || c->at == c->length) {
        return fail_at(c, "an interface name and a frame");
    }
    skip_blanks(c);
    return true;
}

static bool read_id(struct cursor *c, struct bl_frame *frame)
{
    const size_t first = c->at;
    uint32_t id = 0;
    int digit;
    while (c->at - first < EXTENDED_DIGITS && (digit = hex_at(c, c->at)) >= 0) {
        id = id << 4 | (uint32_t)digit;
        c->at++;
    }
    const size_t digits = c->at - first;
    if (char_at(c) != '#' ||
        (digits != STANDARD_DIGITS && digits != EXTENDED_DIGITS)) {
        return fail_at(c, "3 or 8 hex digits and '#'");
    }
    c->at++;
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

/* Pairs of hex digits, dots between them. */
static bool read_bytes(struct cursor *c, struct bl_frame *frame, size_t most)
{
    size_t count = 0;
    for (;;) {
        const int high = hex_at(c, c->at);
        if (high < 0) {
            break;
        }
        const int low = hex_at(c, c->at + 1);
        if (low < 0) {
            return fail_at(c, "an even number of hex digits");
        }
        if (count == most) {
            return fail_at(c, most == CLASSIC_BYTES ? "at most 8 data bytes"
                                                    : "at most 64 data bytes");
        }
        frame->data[count++] = (uint8_t)(high << 4 | low);
        c->at += 2;
        if (char_at(c) == '.' && hex_at(c, c->at + 1) >= 0) {
            c->at++;
        }
    }
    frame->length = (uint8_t)count;
    return true;
}

/* "_9" .. "_F": how the sender wrote a length above eight. */
static bool skip_raw_length(struct cursor *c, const struct bl_frame *frame)
{
    if (char_at(c) != '_') {
        return true;
    }
    const int code = hex_at(c, c->at + 1);
    if (frame->length != CLASSIC_BYTES || code <= CLASSIC_BYTES) {
        return fail_at(c, "a raw length code 9 to F behind 8 bytes");
    }
    c->at += 2;
    return true;
}

static bool read_remote(struct cursor *c, struct bl_frame *frame)
{
    c->at++;
    frame->kind = BL_FRAME_REMOTE;
    const int length = hex_at(c, c->at);
    if (length > CLASSIC_BYTES) {
        return fail_at(c, "a length of 0 to 8");
    }
    if (length >= 0) {
        frame->length = (uint8_t)length;
        c->at++;
    }
    return skip_raw_length(c, frame);
}

static bool read_fd(struct cursor *c, struct bl_frame *frame)
{
    c->at++;
    const int flags = hex_at(c, c->at);
    if (flags < 0) {
        return fail_at(c, "a hex digit of FD flags");
    }
    c->at++;
    frame->kind = BL_FRAME_FD;
    frame->flags |= (flags & 1) != 0 ? BL_FRAME_BIT_RATE_SWITCH : 0;
    frame->flags |= (flags & 2) != 0 ? BL_FRAME_ERROR_STATE : 0;
    return read_bytes(c, frame, FD_BYTES);
}

static bool read_data(struct cursor *c, struct bl_frame *frame)
{
    const bool error = frame->kind == BL_FRAME_ERROR;
    if (!error && char_at(c) == '#') {
        return read_fd(c, frame);
    }
    if (!error && (char_at(c) == 'R' || char_at(c) == 'r')) {
        return read_remote(c, frame);
    }
    return read_bytes(c, frame, CLASSIC_BYTES) && skip_raw_length(c, frame);
}

/* Blanks and a direction letter at most. */
static bool read_rest(struct cursor *c, struct bl_frame *frame)
{
    const size_t end = c->at;
    skip_blanks(c);
    if (c->at == c->length) {
        return true;
    }
    const char letter = char_at(c);
    if (c->at > end && (letter == 'R' || letter == 'T')) {
        frame->flags |= letter == 'T' ? BL_FRAME_OUTGOING : 0;
        c->at++;
        skip_blanks(c);
    }
    return c->at == c->length || fail_at(c, "the end of the line");
}

/* From the bus on. */
static enum bl_textline_kind read_unstamped(struct cursor *c,
                                            struct bl_frame *frame,
                                            struct bl_textline *line)
{
    bool good = read_bus(c, line) && read_id(c, frame);
    /* Three signs of # introduce CAN XL. */
    if (good && c->length - c->at > 2 && c->text[c->at] == '#' &&
        c->text[c->at + 1] == '#') {
        return BL_TEXTLINE_XL;
    }
    good = good && read_data(c, frame) && read_rest(c, frame);
    line->expected = c->expected;
    line->at = c->at;
    return good ? BL_TEXTLINE_FRAME : BL_TEXTLINE_BAD;
}

enum bl_textline_kind bl_textline_unstamped(const char *text, size_t length,
                                            size_t at, struct bl_frame *frame,
                                            struct bl_textline *line)
{
    struct cursor c = {.text = text, .length = length, .at = at};
    return read_unstamped(&c, frame, line);
}

enum bl_textline_kind bl_textline_parse(const char *text, size_t length,
                                        struct bl_frame *frame,
                                        struct bl_textline *line)
{
    struct cursor c = {.text = text, .length = length};
    memset(frame, 0, sizeof(*frame));
    skip_blanks(&c);
    if (c.at == length) {
        return BL_TEXTLINE_BLANK;
    }
    if (char_at(&c) == '#') {
        return BL_TEXTLINE_COMMENT;
    }
    if (!read_stamp(&c, frame, line)) {
        line->expected = c.expected;
        line->at = c.at;
        return BL_TEXTLINE_BAD;
    }
    return read_unstamped(&c, frame, line);
}

/* Eight bytes as they stand; only compared with one another. */
static uint64_t word_at(const char *text)
{
    uint64_t word;
    memcpy(&word, text, sizeof(word));
    return word;
}

/* Sixteen bytes of text and a mask of the first `length` of them. */
static void keep(uint64_t word[2], uint64_t mask[2], const char *text,
                 size_t length)
{
    char bytes[BL_TEXTLINE_SAME] = {0};
    char ones[BL_TEXTLINE_SAME] = {0};
    memcpy(bytes, text, length);
    memset(ones, 0xFF, length);
    for (size_t i = 0; i < 2; i++) {
        word[i] = word_at(bytes + 8 * i);
        mask[i] = word_at(ones + 8 * i);
    }
}

static bool starts_with(const char *text, const uint64_t word[2],
                        const uint64_t mask[2])
{
    return (((word_at(text) & mask[0]) ^ word[0]) |
            ((word_at(text + 8) & mask[1]) ^ word[1])) == 0;
}

bool bl_textline_keep_bus(struct bl_textline_before *before, const char *bus,
                          size_t length)
{
    before->bus_length = 0;
    if (length == 0 || length >= sizeof(before->bus)) {
        return false;
    }
    memcpy(before->bus, bus, length);
    before->bus[length] = ' ';
    before->bus_length = length;
    /* Of a long name the start; the rest is compared where that fits. */
    keep(before->name, before->name_mask, before->bus,
         length + 1 < BL_TEXTLINE_SAME ? length + 1 : BL_TEXTLINE_SAME);
    return true;
}

static const char *plain_bus(const char *at,
                             const struct bl_textline_before *before)
{
    const size_t length = before->bus_length + 1;
    if (length == 1 || !starts_with(at, before->name, before->name_mask) ||
        (length > BL_TEXTLINE_SAME && memcmp(at, before->bus, length) != 0)) {
        return NULL;
    }
    return at + length;
}

static const int64_t unit_ns[] = {
    1000000000, 100000000, 10000000, 1000000, 100000, 10000, 1000, 100, 10, 1};

/* "(seconds.fraction) ", with up to nine digits of fraction. */
static const char *new_stamp(const char *text,
                             struct bl_textline_before *before,
                             int64_t *time_ns, unsigned *digits)
{
    const uint64_t most_s = 4000000000; /* well inside BL_BUS_TIME_MAX */
    uint64_t seconds = 0;
    uint64_t fraction = 0;
    if (*text != '(') {
        return NULL;
    }
    const char *const first = text + 1;
    const char *const point = bl_digits_run(first, &seconds);
    if (point == first || *point != '.' || seconds > most_s) {
        return NULL;
    }
    const char *at = bl_digits_run(point + 1, &fraction);
    const size_t count = (size_t)(at - point - 1);
    if (count == 0 || count > 9 || at[0] != ')' || at[1] != ' ') {
        return NULL;
    }
    *digits = (unsigned)count;
    const int64_t second_ns = (int64_t)seconds * 1000000000;
    *time_ns = second_ns + (int64_t)fraction * unit_ns[count];
    const size_t length = (size_t)(point + 1 - text);
    before->stamp_length = 0;
    if (length <= BL_TEXTLINE_SAME) {
        before->stamp_length = length;
        before->second_ns = second_ns;
        keep(before->stamp, before->stamp_mask, text, length);
    }
    return at + 2;
}

/* As new_stamp, where the second is that of the line before. */
static const char *plain_stamp(const char *text,
                               struct bl_textline_before *before,
                               int64_t *time_ns, unsigned *digits)
{
    if (before->stamp_length == 0 ||
        !starts_with(text, before->stamp, before->stamp_mask)) {
        return new_stamp(text, before, time_ns, digits);
    }
    const char *at = text + before->stamp_length;
    const uint64_t word = bl_digits_word(at);
    const uint64_t others = bl_digits_others(word);
    if (others == 0) {
        return new_stamp(text, before, time_ns, digits);
    }
    const size_t count = bl_digits_first(others);
    if (count == 0 || at[count] != ')' || at[count + 1] != ' ') {
        return NULL;
    }
    *digits = (unsigned)count;
    *time_ns = before->second_ns +
               (int64_t)bl_digits_value(word, count) * unit_ns[count];
    return at + count + 2;
}

/* Up to eight bytes and the line end. */
static const char *plain_data(const char *at, struct bl_frame *frame)
{
    unsigned length = 0;
    memset(frame->data, 0, FD_BYTES);
    if (bl_digits_hex_eight(at, frame->data)) {
        length = CLASSIC_BYTES;
    } else {
        memset(frame->data, 0, CLASSIC_BYTES);
    }
    at += 2 * (size_t)length;
    while (length < CLASSIC_BYTES) {
        const unsigned high = hex_plus_one[(unsigned char)at[0]];
        const unsigned low = hex_plus_one[(unsigned char)at[1]];
        if (high == 0 || low == 0) {
            break;
        }
        frame->data[length++] = (uint8_t)((high - 1) << 4 | (low - 1));
        at += 2;
    }
    frame->length = (uint8_t)length;
    at += *at == '\r';
    return *at == '\n' ? at + 1 : NULL;
}

const char *bl_textline_plain(const char *text,
                              struct bl_textline_before *before,
                              struct bl_frame *frame, unsigned *digits)
{
    const char *at = plain_stamp(text, before, &frame->time_ns, digits);
    at = at == NULL ? NULL : plain_bus(at, before);
    uint32_t bytes;
    if (at == NULL || !bl_digits_hex(at, &bytes) ||
        at[EXTENDED_DIGITS] != '#') {
        return NULL;
    }
    const uint32_t id = bytes << 24 | (bytes << 8 & 0xFF0000u) |
                        (bytes >> 8 & 0xFF00u) | bytes >> 24;
    if (id > EXTENDED_ID) {
        return NULL;
    }
    frame->id = id;
    frame->part = 0;
    frame->kind = BL_FRAME_CLASSIC;
    frame->flags = BL_FRAME_EXTENDED;
    return plain_data(at + EXTENDED_DIGITS + 1, frame);
}
