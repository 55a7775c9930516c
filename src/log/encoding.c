/* SPDX-License-Identifier: MIT */
/*
 * Recognising and leaving behind other encodings than UTF-8. Sources: the
 * Unicode standard, chapter 3 (UTF-8 and UTF-16, byte order marks); ISO 8859-1,
 * whose codes are the first 256 of Unicode.
 */
#include "log/encoding.h"

#include "base/utf8.h"

#include <string.h>
#include <strings.h>

static const char *const names[] = {"utf-8", "latin-1", "utf-16le", "utf-16be"};

const char *bl_log_encoding_name(enum log_encoding encoding)
{
    return names[encoding];
}

bool bl_log_encoding_by_name(const char *name, enum log_encoding *encoding)
{
    for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++) {
        if (strcasecmp(name, names[i]) == 0) {
            *encoding = (enum log_encoding)i;
            return true;
        }
    }
    return false;
}

size_t bl_log_encoding_mark(enum log_encoding encoding, const uint8_t *data,
                            size_t size)
{
    static const char mark[4][4] = {"\xEF\xBB\xBF", "", "\xFF\xFE", "\xFE\xFF"};
    const size_t length = strlen(mark[encoding]);
    return size >= length && memcmp(data, mark[encoding], length) == 0 ? length
                                                                       : 0;
}

/* A character that the end cuts is no fault. */
static bool is_utf8(const uint8_t *data, size_t size)
{
    for (size_t at = 0; at < size;) {
        const size_t length =
            bl_utf8_length((const char *)data + at, size - at);
        if (length == 0) {
            return size - at < 4 && data[at] >= 0xC2;
        }
        at += length;
    }
    return true;
}

enum log_encoding bl_log_encoding_guess(const uint8_t *data, size_t size,
                                        size_t *bom)
{
    static const enum log_encoding marked[] = {LOG_UTF8, LOG_UTF16LE,
                                               LOG_UTF16BE};
    for (size_t i = 0; i < 3; i++) {
        *bom = bl_log_encoding_mark(marked[i], data, size);
        if (*bom > 0) {
            return marked[i];
        }
    }
    /* Tables are mostly ASCII: in UTF-16 every other byte is zero. */
    size_t zero[2] = {0, 0};
    for (size_t i = 0; i < size; i++) {
        zero[i & 1] += data[i] == 0;
    }
    const size_t many = size / 2 * 3 / 4;
    if (size >= 8 && zero[1] > many && zero[0] < many / 4) {
        return LOG_UTF16LE;
    }
    if (size >= 8 && zero[0] > many && zero[1] < many / 4) {
        return LOG_UTF16BE;
    }
    return is_utf8(data, size) ? LOG_UTF8 : LOG_LATIN1;
}

static size_t put_utf8(uint32_t code, char *out)
{
    if (code < 0x80) {
        out[0] = (char)code;
        return 1;
    }
    if (code < 0x800) {
        out[0] = (char)(0xC0 | code >> 6);
        out[1] = (char)(0x80 | (code & 0x3F));
        return 2;
    }
    if (code < 0x10000) {
        out[0] = (char)(0xE0 | code >> 12);
        out[1] = (char)(0x80 | (code >> 6 & 0x3F));
        out[2] = (char)(0x80 | (code & 0x3F));
        return 3;
    }
    out[0] = (char)(0xF0 | code >> 18);
    out[1] = (char)(0x80 | (code >> 12 & 0x3F));
    out[2] = (char)(0x80 | (code >> 6 & 0x3F));
    out[3] = (char)(0x80 | (code & 0x3F));
    return 4;
}

static size_t from_utf16(bool big, const uint8_t *in, size_t size, size_t *used,
                         char *out)
{
    size_t at = 0;
    size_t written = 0;
    while (at + 2 <= size) {
        uint32_t code = (uint32_t)in[at + !big] << 8 | in[at + big];
        size_t length = 2;
        if (code >= 0xD800 && code < 0xDC00) {
            if (at + 4 > size) {
                break;
            }
            const uint32_t low =
                (uint32_t)in[at + 2 + !big] << 8 | in[at + 2 + big];
            const bool pair = low >= 0xDC00 && low < 0xE000;
            code = pair ? 0x10000 + ((code - 0xD800) << 10) + (low - 0xDC00)
                        : 0xFFFD;
            length = pair ? 4 : 2;
        } else if (code >= 0xDC00 && code < 0xE000) {
            code = 0xFFFD;
        }
        written += put_utf8(code, out + written);
        at += length;
    }
    *used = at;
    return written;
}

size_t bl_log_transcode(enum log_encoding encoding, const uint8_t *in,
                        size_t size, size_t *used, char *out)
{
    if (encoding == LOG_UTF16LE || encoding == LOG_UTF16BE) {
        /* in[at + big] must be the low byte: big-endian keeps it second. */
        return from_utf16(encoding == LOG_UTF16BE, in, size, used, out);
    }
    *used = size;
    if (encoding == LOG_UTF8) {
        memcpy(out, in, size);
        return size;
    }
    size_t written = 0;
    for (size_t i = 0; i < size; i++) {
        written += put_utf8(in[i], out + written);
    }
    return written;
}

char *bl_log_clean(const char *text, size_t length, char *out, size_t size)
{
    const uint8_t *data = (const uint8_t *)text;
    size_t written = 0;
    for (size_t at = 0; at < length;) {
        char one[4];
        size_t taken = bl_utf8_length(text + at, length - at);
        size_t made = taken;
        if (taken == 0) {
            made = put_utf8(data[at], one);
            taken = 1;
        } else if (data[at] < 0x20 || data[at] == 0x7F) {
            one[0] = ' ';
        } else {
            memcpy(one, text + at, taken);
        }
        if (written + made + 1 > size) {
            break;
        }
        memcpy(out + written, one, made);
        written += made;
        at += taken;
    }
    out[written] = '\0';
    return out;
}
