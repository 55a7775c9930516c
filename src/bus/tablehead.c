/* SPDX-License-Identifier: MIT */
/* What a table of frames is written like, from its header and first rows. */
#include "bus/tablenames.h"
#include "bus/textread.h"

#include <stdio.h>
#include <string.h>

enum {
    HEAD_LINES = 60, /* before the header, other lines may stand: own choice */
    SAMPLE_LINES = 400,
    EPOCH_S_DIGITS = 10,  /* of whole seconds since 1970, from 2001 to 2286 */
    DECIMAL_ID_DIGITS = 9 /* more than 29 bits have in hexadecimal */
};

/* Frames a second that a recording can hold: from few messages to two full
   buses. Own choice; one unit of time in a thousand fits. */
static const double RATE_LEAST = 5, RATE_MOST = 5000, RATE_OF_SECONDS = 0.5;

/* How words of one column are written. */
struct writing {
    size_t words, letters, one, two, three, eight, more; /* by digits */
};

struct sample {
    const uint8_t *data;
    size_t size;
    struct bl_frametable_form *form;
    struct writing id, byte;
    struct bl_stamp_steps steps; /* numeric times, one unit as 1000 ns */
    size_t rows, digits;         /* most digits before the decimal sign */
    bool fraction;
    struct bl_frametable_row row;
};

static bool is_hex_letter(char c)
{
    return (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
}

/* A number without the sign that says it is hexadecimal. */
static void note_word(struct writing *w, const char *text, size_t length,
                      bool id)
{
    bool letter = false;
    if (length > 2 && text[0] == '0' && (text[1] | 0x20) == 'x') {
        letter = true;
        text += 2;
        length -= 2;
    } else if (length > 1 && (text[length - 1] | 0x20) == 'h') {
        letter = true;
        length--;
    } else if (id && length > 1 && (text[length - 1] | 0x20) == 'x') {
        length--;
    }
    for (size_t i = 0; i < length; i++) {
        letter = letter || is_hex_letter(text[i]);
    }
    w->words++;
    w->letters += letter;
    w->one += length == 1;
    w->two += length == 2;
    w->three += length == 3;
    w->eight += length == 8;
    w->more += length >= DECIMAL_ID_DIGITS;
}

static void note_bytes(struct sample *s)
{
    const struct bl_frametable_form *form = s->form;
    const size_t data = form->at[BL_FRAMETABLE_DATA];
    const bool apart =
        form->bytes > 0 || (data == form->last && s->row.cells > data + 1);
    const size_t first = form->bytes > 0 ? form->byte[0] : data;
    const size_t end = form->bytes > 0 ? first + form->bytes
                       : apart         ? s->row.cells
                                       : first + 1;
    for (size_t i = first; i < end && i < s->row.cells; i++) {
        const struct bl_frametable_cell *cell = &s->row.cell[i];
        for (size_t at = 0; at < cell->length;) {
            const size_t from = at;
            while (at < cell->length &&
                   strchr(" \t.-:_[]", cell->text[at]) == NULL) {
                at++;
            }
            if (at > from) {
                note_word(&s->byte, cell->text + from, at - from, false);
            }
            at += at < cell->length;
        }
    }
}

/* Digits before the decimal sign, and whether any stand behind it. */
static void note_number(struct sample *s, const struct bl_frametable_cell *cell)
{
    size_t digits = 0;
    while (digits < cell->length && cell->text[digits] >= '0' &&
           cell->text[digits] <= '9') {
        digits++;
    }
    s->digits = digits > s->digits ? digits : s->digits;
    if (digits + 1 < cell->length) {
        s->fraction = true;
        if (cell->text[digits] == ',' && s->form->delimiter != ',') {
            s->form->decimal = ',';
        }
    }
    int64_t time_ns;
    int64_t resolution_ns;
    if (bl_log_time_number(cell->text, cell->length, s->form->decimal,
                           LOG_FORM_US, &time_ns, &resolution_ns)) {
        bl_stamp_step(&s->steps, time_ns);
    }
}

static void note_time(struct sample *s)
{
    const struct bl_frametable_cell cell =
        bl_frametable_cell(&s->row, s->form, BL_FRAMETABLE_TIME);
    int64_t time_ns;
    int64_t resolution_ns;
    bool zoned;
    if (s->form->at[BL_FRAMETABLE_TIME] == SIZE_MAX || cell.length == 0) {
        return;
    }
    if (bl_log_time_iso(cell.text, cell.length, false, &time_ns, &resolution_ns,
                        &zoned)) {
        s->form->time_form = LOG_FORM_ISO;
    } else if (memchr(cell.text, ':', cell.length) != NULL &&
               bl_log_time_clock(cell.text, cell.length, &time_ns,
                                 &resolution_ns)) {
        s->form->time_form = LOG_FORM_CLOCK;
    } else {
        note_number(s, &cell);
    }
}

/* Each whole line behind the header, up to SAMPLE_LINES. */
static void look_at_rows(struct sample *s)
{
    size_t lines = 0;
    for (size_t at = s->form->head_end; at < s->size && lines < SAMPLE_LINES;
         lines++) {
        const size_t end = at + bl_textread_end(s->data + at, s->size - at);
        s->row.cells =
            bl_frametable_split(s->row.cell, (const char *)s->data + at,
                                end - at, s->form->delimiter);
        const struct bl_frametable_cell id =
            bl_frametable_cell(&s->row, s->form, BL_FRAMETABLE_ID);
        if (id.length > 0) {
            note_word(&s->id, id.text, id.length, true);
            note_bytes(s);
            note_time(s);
            s->rows++;
        }
        at = end + 1;
    }
}

static void decide_bases(struct sample *s)
{
    struct bl_frametable_form *form = s->form;
    const struct writing *id = &s->id;
    const struct writing *byte = &s->byte;
    if (form->id_base == BL_FRAMETABLE_BASE_UNKNOWN) {
        form->id_base = id->letters > 0 ? BL_FRAMETABLE_HEX
                        : id->more > 0  ? BL_FRAMETABLE_DECIMAL
                        : id->three + id->eight == id->words
                            ? BL_FRAMETABLE_HEX
                            : BL_FRAMETABLE_BASE_UNKNOWN;
    }
    if (form->byte_base == BL_FRAMETABLE_BASE_UNKNOWN) {
        /* One digit means the same in both; runs of more than three stand for
           several bytes. */
        form->byte_base = byte->letters > 0 ? BL_FRAMETABLE_HEX
                          : byte->three > 0 ? BL_FRAMETABLE_DECIMAL
                          : byte->one == 0 || byte->two == 0 ? BL_FRAMETABLE_HEX
                                                             : form->byte_base;
    }
}

/* The unit in which the rows make a possible number of frames a second. */
static enum log_form unit_by_rate(const struct sample *s)
{
    static const struct {
        enum log_form form;
        double per_second;
    } units[] = {{LOG_FORM_S, 1},
                 {LOG_FORM_MS, 1e3},
                 {LOG_FORM_US, 1e6},
                 {LOG_FORM_NS, 1e9}};
    const struct bl_stamp_steps *steps = &s->steps;
    const double span = (double)(steps->last_ns - steps->first_ns) / 1e3;
    const double rate = (double)(steps->stamps - 1) / span;
    if (steps->stamps < 2 || !(span > 0) ||
        (s->fraction && rate >= RATE_OF_SECONDS)) {
        return LOG_FORM_S;
    }
    for (size_t i = 0; i < sizeof(units) / sizeof(units[0]); i++) {
        const double seen = rate * units[i].per_second;
        if (seen >= RATE_LEAST && seen < RATE_MOST) {
            return units[i].form;
        }
    }
    return LOG_FORM_S;
}

static void decide_time(struct sample *s)
{
    struct bl_frametable_form *form = s->form;
    if (form->at[BL_FRAMETABLE_TIME] == SIZE_MAX ||
        form->time_form == LOG_FORM_ISO || form->time_form == LOG_FORM_CLOCK) {
        return;
    }
    const bool epoch = s->digits >= EPOCH_S_DIGITS;
    form->deltas = form->deltas || (!epoch && bl_stamps_are_deltas(&s->steps));
    if (form->time_form != LOG_FORM_UNKNOWN) {
        return;
    }
    if (epoch) {
        form->time_form = s->digits >= EPOCH_S_DIGITS + 8   ? LOG_FORM_EPOCH_NS
                          : s->digits >= EPOCH_S_DIGITS + 5 ? LOG_FORM_EPOCH_US
                          : s->digits >= EPOCH_S_DIGITS + 2 ? LOG_FORM_EPOCH_MS
                                                            : LOG_FORM_EPOCH_S;
        return;
    }
    form->unit_guessed = true;
    form->time_form = form->deltas ? LOG_FORM_S : unit_by_rate(s);
}

/* The header among the first lines, with the delimiter that makes it one. */
static bool find_header(struct bl_frametable_form *form, const uint8_t *data,
                        size_t size, bool all)
{
    static const char delimiters[] = "\t;,";
    struct bl_frametable_cell cell[BL_FRAMETABLE_CELLS];
    size_t at = bl_textread_mark(data, size);
    for (size_t i = 0; i < HEAD_LINES && at < size; i++) {
        const size_t end = at + bl_textread_end(data + at, size - at);
        if (end == size && !all) {
            return false;
        }
        for (const char *d = delimiters; *d != '\0'; d++) {
            const size_t cells = bl_frametable_split(
                cell, (const char *)data + at, end - at, *d);
            if (bl_frametable_names(form, cell, cells)) {
                form->delimiter = *d;
                form->decimal = '.';
                form->head_end = end + (end < size);
                if (end + 1 < size && data[end] == '\r' &&
                    data[end + 1] == '\n') {
                    form->head_end++;
                }
                form->head_lines = i + 1;
                return true;
            }
        }
        at = end + 1;
        if (end + 1 < size && data[end] == '\r' && data[end + 1] == '\n') {
            at++;
        }
    }
    return false;
}

/* How many of the rows looked at are frames; *expected: what another lacks. */
static size_t count_frames(struct sample *s, const char **expected)
{
    size_t good = 0;
    size_t lines = 0;
    *expected = "a row";
    for (size_t at = s->form->head_end; at < s->size && lines < SAMPLE_LINES;
         lines++) {
        const size_t end = at + bl_textread_end(s->data + at, s->size - at);
        struct bl_frame frame;
        if (end < s->size &&
            bl_frametable_row(&s->row, s->form, (const char *)s->data + at,
                              end - at, &frame)) {
            good++;
        } else if (end > at && end < s->size) {
            *expected = s->row.expected;
        }
        at = end + 1;
    }
    return good;
}

/* What the header's names promise and the rows do not keep. */
static enum bl_bus_answer refuse(const struct bl_frametable_form *form,
                                 struct bl_error *why, const char *what)
{
    if (!bl_frametable_surely(form)) {
        return BL_BUS_NOT_MINE;
    }
    (void)bl_fail(why, BL_FORMAT, NULL, "a table of frames by its header, %s",
                  what);
    return BL_BUS_BROKEN;
}

static enum bl_bus_answer decide(struct sample *s, struct bl_error *why)
{
    static const char id[] = "but whether identifiers are decimal or "
                             "hexadecimal cannot be told: write 'id (hex)' or "
                             "'id (dec)' in the header";
    static const char byte[] = "but whether bytes are decimal or hexadecimal "
                               "cannot be told: write them as one column 'data "
                               "(hex)' or 'data (dec)'";
    look_at_rows(s);
    if (s->rows == 0) {
        return refuse(s->form, why, "but no row follows it");
    }
    decide_bases(s);
    decide_time(s);
    if (s->form->id_base == BL_FRAMETABLE_BASE_UNKNOWN) {
        return refuse(s->form, why, id);
    }
    if (s->form->byte_base == BL_FRAMETABLE_BASE_UNKNOWN) {
        return refuse(s->form, why, byte);
    }
    const char *expected;
    if (2 * count_frames(s, &expected) < s->rows) {
        char text[BL_MESSAGE_MAX];
        (void)snprintf(text, sizeof(text),
                       "but most rows are not frames: expected %s", expected);
        return refuse(s->form, why, text);
    }
    return BL_BUS_MINE;
}

enum bl_bus_answer bl_frametable_decide(struct bl_frametable_form *form,
                                        const uint8_t *data, size_t size,
                                        bool all, struct bl_error *why)
{
    if (size == 0 || memchr(data, '\0', size < 64 ? size : 64) != NULL) {
        return BL_BUS_NOT_MINE;
    }
    if (!all) {
        return BL_BUS_NEED_MORE;
    }
    if (!find_header(form, data, size, all)) {
        return BL_BUS_NOT_MINE;
    }
    struct sample sample = {.data = data, .size = size, .form = form};
    return decide(&sample, why);
}
