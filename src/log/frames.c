/* SPDX-License-Identifier: MIT */
#include "log/frames.h"

#include <ctype.h>
#include <string.h>

enum {
    LINES_LOOKED_AT = 200,
    WORDS_MOST = 96,
    ID_LEAST = 3,
    ID_MOST = 8,
    BYTES_MOST = 64, /* of a CAN FD frame */
    BYTES_APART_LEAST = 2,
    BYTES_OF_PLAIN_ID_LEAST = 4, /* where the identifier may be any number */
    BYTES_TOGETHER_LEAST = 2,
    DECIMALS_MOST = 9
};
/* Identifiers of 29 bits with a priority in front, written in decimal. */
static const uint32_t decimal_id_least = 1u << 26, decimal_id_most = 1u << 29;

/* What a word of a line can be. */
struct word {
    size_t digits;  /* hex digits, without 0x in front or an x or h behind; 0:
                       something else */
    uint32_t value; /* of up to nine decimal digits */
    bool letter;    /* one of them is no decimal digit */
    bool marked;    /* 0x, x or h says that it is hexadecimal */
};

static bool separates(char c)
{
    return c == ' ' || c == '\t' || c == ',' || c == ';' || c == '"';
}

static struct word read_word(const char *text, size_t length)
{
    struct word word = {0};
    if (length > 2 && text[0] == '0' && (text[1] == 'x' || text[1] == 'X')) {
        text += 2;
        length -= 2;
        word.marked = true;
    } else if (length > 1 && strchr("xXhH", text[length - 1]) != NULL) {
        length--;
        word.marked = true;
    }
    for (size_t i = 0; i < length; i++) {
        if (!isxdigit((unsigned char)text[i])) {
            return (struct word){0};
        }
        word.letter = word.letter || !isdigit((unsigned char)text[i]);
        word.value = word.letter || i >= DECIMALS_MOST
                         ? 0
                         : 10 * word.value + (uint32_t)(text[i] - '0');
    }
    word.digits = length;
    return word;
}

static size_t split(const struct log_line *line, struct word word[WORDS_MOST])
{
    size_t count = 0;
    for (size_t at = 0; at < line->length && count < WORDS_MOST;) {
        if (separates(line->text[at])) {
            at++;
            continue;
        }
        const size_t first = at;
        while (at < line->length && !separates(line->text[at])) {
            at++;
        }
        word[count++] = read_word(line->text + first, at - first);
    }
    return count;
}

static bool is_id(const struct word *word)
{
    return word->digits >= ID_LEAST && word->digits <= ID_MOST &&
           (word->letter || word->marked || word->digits == ID_MOST ||
            word->digits == ID_LEAST);
}

/* Bytes apart or together behind an identifier; *letters: they are certainly
   hexadecimal. */
static bool has_bytes(const struct word *word, size_t count, size_t least,
                      bool *letters)
{
    size_t apart = 0;
    *letters = false;
    for (size_t i = 0; i < count; i++) {
        const size_t digits = word[i].digits;
        if (digits == 2) {
            apart++;
            *letters = *letters || word[i].letter || word[i].marked;
        } else if (digits >= (size_t)2 * BYTES_TOGETHER_LEAST &&
                   digits % 2 == 0 && digits <= (size_t)2 * BYTES_MOST &&
                   i + 1 == count) {
            *letters = word[i].letter || word[i].marked;
            return true;
        }
    }
    return apart >= least;
}

/* An identifier, and bytes somewhere behind it. */
static bool is_frame(const struct log_line *line, bool *letters)
{
    struct word word[WORDS_MOST];
    const size_t count = split(line, word);
    for (size_t i = 0; i + 1 < count; i++) {
        const bool plain =
            word[i].digits < ID_MOST && !word[i].letter && !word[i].marked;
        if (is_id(&word[i]) &&
            has_bytes(word + i + 1, count - i - 1,
                      plain ? BYTES_OF_PLAIN_ID_LEAST : BYTES_APART_LEAST,
                      letters)) {
            return true;
        }
    }
    return false;
}

/* The same in decimal: such an identifier, and nothing but bytes behind it. */
static uint32_t decimal_frame(const struct log_line *line)
{
    struct word word[WORDS_MOST];
    const size_t count = split(line, word);
    size_t bytes = 0;
    while (bytes < count) {
        const struct word *last = &word[count - 1 - bytes];
        if (last->digits == 0 || last->digits > 3 || last->letter ||
            last->marked || last->value > UINT8_MAX) {
            break;
        }
        bytes++;
    }
    if (bytes < BYTES_OF_PLAIN_ID_LEAST || bytes > BYTES_MOST + 1 ||
        bytes + 2 > count) {
        return 0;
    }
    const struct word *id = &word[count - 1 - bytes];
    return id->digits <= DECIMALS_MOST && id->value >= decimal_id_least &&
                   id->value < decimal_id_most
               ? id->value
               : 0;
}

/* Nearly all lines; and it does not rise as a time does. */
static bool are_decimal(const struct log_head *head)
{
    size_t looked_at = 0;
    size_t frames = 0;
    size_t rises = 0;
    uint32_t before = 0;
    for (size_t i = 0; i < head->count && looked_at < LINES_LOOKED_AT; i++) {
        if (bl_log_head_blank(head, i)) {
            continue;
        }
        const struct log_line line = bl_log_head_line(head, i);
        const uint32_t id = decimal_frame(&line);
        looked_at++;
        frames += id != 0;
        rises += id > before;
        before = id;
    }
    return frames > DECIMALS_MOST && 10 * frames > 9 * looked_at &&
           10 * rises < 9 * frames;
}

bool bl_log_head_is_frames(const struct log_head *head)
{
    size_t looked_at = 0;
    size_t frames = 0;
    size_t certain = 0;
    for (size_t i = 0; i < head->count && looked_at < LINES_LOOKED_AT; i++) {
        const struct log_line line = bl_log_head_line(head, i);
        bool letters = false;
        if (bl_log_head_blank(head, i)) {
            continue;
        }
        looked_at++;
        frames += is_frame(&line, &letters);
        certain += letters;
    }
    /* Own choice: half of the lines, since some programs write others between
       them; a fifth with letters, since numbers never have any. */
    return (2 * frames > looked_at && 5 * certain > looked_at) ||
           are_decimal(head);
}

const char *bl_log_known_container(const uint8_t *data, size_t size)
{
    static const struct {
        const char *magic, *what;
    } known[] = {
        /* ASAM MDF before version 4, which is asked for first (log/mdf.c) */
        {"MDF     ",
         "a measurement file in MDF, older than version 4 or cut in its "
         "first bytes"},
        {"UnFinMF ",
         "an unfinished measurement file in MDF, cut in its first bytes"},
        {"PK\003\004", "a packed folder or spreadsheet (zip)"},
        {"\xD0\xCF\x11\xE0", "a spreadsheet or document of an older kind"},
        {"\x89HDF\r\n\x1A\n", "a measurement file in HDF5"},
        {"TDSm", "a measurement file in TDMS"},
        {"SQLite format 3", "a database"},
    };
    for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++) {
        const size_t length = strlen(known[i].magic);
        if (size >= length && memcmp(data, known[i].magic, length) == 0) {
            return known[i].what;
        }
    }
    return NULL;
}
