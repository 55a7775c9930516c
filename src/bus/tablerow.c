/* SPDX-License-Identifier: MIT */
/* One row of a table of frames. */
#include "bus/tablehead.h"

#include <ctype.h>
#include <string.h>

enum { CLASSIC_BYTES = 8, STANDARD_ID = 0x7FF, EXTENDED_DIGITS = 8 };
#define EXTENDED_ID 0x1FFFFFFFu
#define EXTENDED_FLAG 0x80000000u

static struct bl_frametable_cell trimmed(const char *text, size_t length)
{
    while (length > 0 && (text[0] == ' ' || text[0] == '\t')) {
        text++;
        length--;
    }
    while (length > 0 &&
           (text[length - 1] == ' ' || text[length - 1] == '\t')) {
        length--;
    }
    if (length >= 2 && text[0] == '"' && text[length - 1] == '"') {
        return trimmed(text + 1, length - 2);
    }
    return (struct bl_frametable_cell){.text = text, .length = length};
}

size_t bl_frametable_split(struct bl_frametable_cell cell[BL_FRAMETABLE_CELLS],
                           const char *text, size_t length, char delimiter)
{
    size_t cells = 0;
    size_t first = 0;
    bool quoted = false;
    for (size_t at = 0; at <= length && cells < BL_FRAMETABLE_CELLS; at++) {
        if (at < length && text[at] == '"') {
            quoted = !quoted;
        }
        if (at == length || (text[at] == delimiter && !quoted)) {
            cell[cells++] = trimmed(text + first, at - first);
            first = at + 1;
        }
    }
    return cells;
}

struct bl_frametable_cell
bl_frametable_cell(const struct bl_frametable_row *row,
                   const struct bl_frametable_form *form,
                   enum bl_frametable_column column)
{
    const size_t at = form->at[column];
    return at < row->cells
               ? row->cell[at]
               : (struct bl_frametable_cell){.text = "", .length = 0};
}

static int digit_of(char sign, enum bl_frametable_base base)
{
    if (sign >= '0' && sign <= '9') {
        return sign - '0';
    }
    const char lower = (char)(sign | 0x20);
    return base == BL_FRAMETABLE_HEX && lower >= 'a' && lower <= 'f'
               ? lower - 'a' + 10
               : -1;
}

/* Without 0x before or h behind. */
static struct bl_frametable_cell bare(struct bl_frametable_cell cell)
{
    if (cell.length > 2 && cell.text[0] == '0' &&
        (cell.text[1] == 'x' || cell.text[1] == 'X')) {
        cell.text += 2;
        cell.length -= 2;
    } else if (cell.length > 1 && (cell.text[cell.length - 1] | 0x20) == 'h') {
        cell.length--;
    }
    return cell;
}

static bool read_number(struct bl_frametable_cell cell,
                        enum bl_frametable_base base, uint64_t *value)
{
    const uint64_t radix = base == BL_FRAMETABLE_DECIMAL ? 10 : 16;
    *value = 0;
    if (cell.length == 0 || cell.length > 10) {
        return false;
    }
    for (size_t i = 0; i < cell.length; i++) {
        const int digit = digit_of(cell.text[i], base);
        if (digit < 0) {
            return false;
        }
        *value = *value * radix + (uint64_t)digit;
    }
    return true;
}

static bool parts_bytes(char sign)
{
    return strchr(" \t.-:_[]", sign) != NULL;
}

/* One byte, or several in hexadecimal without anything between. */
static bool read_run(struct bl_frametable_bytes *bytes,
                     struct bl_frametable_cell run,
                     enum bl_frametable_base base)
{
    uint64_t value;
    run = bare(run);
    if (base == BL_FRAMETABLE_DECIMAL || run.length <= 2) {
        if (!read_number(run, base, &value) || value > 0xFF ||
            bytes->count == BL_FRAMETABLE_BYTES) {
            return false;
        }
        bytes->byte[bytes->count++] = (uint8_t)value;
        return true;
    }
    for (size_t i = 0; i < run.length; i += 2) {
        const struct bl_frametable_cell pair = {.text = run.text + i,
                                                .length = 2};
        if (run.length - i < 2 || !read_number(pair, base, &value) ||
            bytes->count == BL_FRAMETABLE_BYTES) {
            return false;
        }
        bytes->byte[bytes->count++] = (uint8_t)value;
    }
    return true;
}

bool bl_frametable_read_bytes(struct bl_frametable_bytes *bytes,
                              const struct bl_frametable_cell *cell,
                              enum bl_frametable_base base)
{
    bytes->count = 0;
    for (size_t at = 0; at < cell->length;) {
        if (parts_bytes(cell->text[at])) {
            at++;
            continue;
        }
        const size_t first = at;
        while (at < cell->length && !parts_bytes(cell->text[at])) {
            at++;
        }
        if (!read_run(bytes,
                      (struct bl_frametable_cell){.text = cell->text + first,
                                                  .length = at - first},
                      base)) {
            return false;
        }
    }
    return true;
}

static bool fail_at(struct bl_frametable_row *row, size_t column,
                    const char *expected)
{
    row->at = column;
    row->expected = expected;
    return false;
}

static bool has(const struct bl_frametable_cell *cell, const char *word)
{
    const size_t length = strlen(word);
    for (size_t i = 0; i + length <= cell->length; i++) {
        size_t k = 0;
        while (k < length &&
               tolower((unsigned char)cell->text[i + k]) == word[k]) {
            k++;
        }
        if (k == length) {
            return true;
        }
    }
    return false;
}

/* 1, true, yes, x, ext ..: 1; 0, false, no, std ..: 0; -1: says nothing. */
static int answer(const struct bl_frametable_cell *cell)
{
    if (cell->length == 0) {
        return -1;
    }
    const char first = (char)tolower((unsigned char)cell->text[0]);
    return has(cell, "std") || strchr("0fns", first) != NULL ? 0
           : strchr("1txye29", first) != NULL                ? 1
                                                             : -1;
}

/* What the row says of 29 bits besides the identifier itself. */
static int said_extended(const struct bl_frametable_row *row,
                         const struct bl_frametable_form *form)
{
    const struct bl_frametable_cell stated =
        bl_frametable_cell(row, form, BL_FRAMETABLE_EXTENDED);
    const struct bl_frametable_cell type =
        bl_frametable_cell(row, form, BL_FRAMETABLE_TYPE);
    if (stated.length > 0) {
        return answer(&stated);
    }
    return has(&type, "ext") || has(&type, "xtd")     ? 1
           : has(&type, "std") || has(&type, "stand") ? 0
                                                      : -1;
}

static bool read_id(struct bl_frametable_row *row,
                    const struct bl_frametable_form *form,
                    struct bl_frame *frame)
{
    struct bl_frametable_cell cell =
        bl_frametable_cell(row, form, BL_FRAMETABLE_ID);
    int extended = said_extended(row, form);
    uint64_t id;
    /* "18FEF100x": an x behind says 29 bits. */
    if (cell.length > 1 && (cell.text[cell.length - 1] | 0x20) == 'x') {
        cell.length--;
        extended = 1;
    }
    cell = bare(cell);
    if (!read_number(cell, form->id_base, &id) || id > UINT32_MAX) {
        return fail_at(row, form->at[BL_FRAMETABLE_ID], "an identifier");
    }
    if ((id & EXTENDED_FLAG) != 0) {
        id &= ~(uint64_t)EXTENDED_FLAG;
        extended = 1;
    }
    if (extended < 0) {
        extended = id > STANDARD_ID || (form->id_base == BL_FRAMETABLE_HEX &&
                                        cell.length == EXTENDED_DIGITS);
    }
    if (id > (extended == 1 ? EXTENDED_ID : STANDARD_ID)) {
        return fail_at(row, form->at[BL_FRAMETABLE_ID],
                       "an identifier of 11 or 29 bits");
    }
    frame->id = (uint32_t)id;
    frame->flags |= extended == 1 ? BL_FRAME_EXTENDED : 0;
    return true;
}

static bool read_kind(const struct bl_frametable_row *row,
                      const struct bl_frametable_form *form,
                      struct bl_frame *frame)
{
    const struct bl_frametable_cell type =
        bl_frametable_cell(row, form, BL_FRAMETABLE_TYPE);
    const struct bl_frametable_cell remote =
        bl_frametable_cell(row, form, BL_FRAMETABLE_REMOTE);
    const struct bl_frametable_cell direction =
        bl_frametable_cell(row, form, BL_FRAMETABLE_DIRECTION);
    frame->kind =
        has(&type, "err") ? BL_FRAME_ERROR
        : has(&type, "rem") || has(&type, "rtr") || answer(&remote) == 1
            ? BL_FRAME_REMOTE
        : has(&type, "fd") ? BL_FRAME_FD
                           : BL_FRAME_CLASSIC;
    frame->flags |=
        has(&direction, "t") || has(&direction, "out") || has(&direction, "sen")
            ? BL_FRAME_OUTGOING
            : 0;
    return frame->kind != BL_FRAME_ERROR;
}

/* Cells of one byte each, up to the first empty one. */
static bool read_apart(struct bl_frametable_row *row,
                       const struct bl_frametable_form *form, size_t first,
                       struct bl_frametable_bytes *bytes)
{
    const size_t end = form->bytes > 0 ? first + form->bytes : row->cells;
    for (size_t i = first; i < end && i < row->cells; i++) {
        const struct bl_frametable_cell cell = bare(row->cell[i]);
        uint64_t value;
        if (cell.length == 0) {
            break;
        }
        if (!read_number(cell, form->byte_base, &value) || value > 0xFF ||
            bytes->count == BL_FRAMETABLE_BYTES) {
            return fail_at(row, i, "a byte");
        }
        bytes->byte[bytes->count++] = (uint8_t)value;
    }
    return true;
}

/* The length that the row states; SIZE_MAX: none. */
static bool read_length(struct bl_frametable_row *row,
                        const struct bl_frametable_form *form, size_t *length)
{
    const struct bl_frametable_cell cell =
        bl_frametable_cell(row, form, BL_FRAMETABLE_LENGTH);
    uint64_t value;
    *length = SIZE_MAX;
    if (cell.length == 0) {
        return true;
    }
    if (!read_number(cell, BL_FRAMETABLE_DECIMAL, &value) ||
        value > BL_FRAMETABLE_BYTES) {
        return fail_at(row, form->at[BL_FRAMETABLE_LENGTH],
                       "a length up to 64");
    }
    *length = (size_t)value;
    return true;
}

static bool read_data(struct bl_frametable_row *row,
                      const struct bl_frametable_form *form,
                      struct bl_frame *frame)
{
    /* As the code of a length above 8 is written by some. */
    static const uint8_t code[] = {12, 16, 20, 24, 32, 48, 64};
    struct bl_frametable_bytes bytes = {.count = 0};
    const size_t data = form->at[BL_FRAMETABLE_DATA];
    const size_t first = form->bytes > 0 ? form->byte[0] : data;
    size_t length;
    if (!read_length(row, form, &length)) {
        return false;
    }
    if (frame->kind == BL_FRAME_REMOTE) {
        frame->length = (uint8_t)(length > CLASSIC_BYTES ? 0 : length);
        return true;
    }
    const struct bl_frametable_cell cell =
        bl_frametable_cell(row, form, BL_FRAMETABLE_DATA);
    /* Bytes apart may stand from the last column of the header on. */
    const bool one =
        form->bytes == 0 && !(data == form->last && row->cells > data + 1);
    if (!(one ? bl_frametable_read_bytes(&bytes, &cell, form->byte_base)
              : read_apart(row, form, first, &bytes))) {
        return one ? fail_at(row, data, "bytes") : false;
    }
    if (length > CLASSIC_BYTES && length < 16 &&
        code[length - 9] == bytes.count) {
        length = bytes.count;
    }
    if (length != SIZE_MAX && bytes.count < length) {
        return fail_at(row, first, "as many bytes as the length says");
    }
    frame->length = (uint8_t)(length == SIZE_MAX ? bytes.count : length);
    memcpy(frame->data, bytes.byte, frame->length);
    if (frame->length > CLASSIC_BYTES) {
        frame->kind = BL_FRAME_FD;
    }
    return true;
}

static bool read_time(struct bl_frametable_row *row,
                      const struct bl_frametable_form *form,
                      struct bl_frame *frame)
{
    const struct bl_frametable_cell cell =
        bl_frametable_cell(row, form, BL_FRAMETABLE_TIME);
    int64_t *time_ns = &frame->time_ns;
    int64_t *resolution_ns = &row->resolution_ns;
    bool zoned;
    bool good = true;
    *resolution_ns = 0;
    if (form->time_form == LOG_FORM_UNKNOWN) {
        return true;
    }
    if (form->time_form == LOG_FORM_ISO) {
        good = bl_log_time_iso(cell.text, cell.length, false, time_ns,
                               resolution_ns, &zoned);
    } else if (form->time_form == LOG_FORM_CLOCK) {
        good =
            bl_log_time_clock(cell.text, cell.length, time_ns, resolution_ns);
    } else {
        good = bl_log_time_number(cell.text, cell.length, form->decimal,
                                  form->time_form, time_ns, resolution_ns);
    }
    return (good && *time_ns <= BL_BUS_TIME_MAX &&
            *time_ns >= -BL_BUS_TIME_MAX) ||
           fail_at(row, form->at[BL_FRAMETABLE_TIME], "a time");
}

bool bl_frametable_row(struct bl_frametable_row *row,
                       const struct bl_frametable_form *form, const char *text,
                       size_t length, struct bl_frame *frame)
{
    memset(frame, 0, sizeof(*frame));
    row->cells = bl_frametable_split(row->cell, text, length, form->delimiter);
    if (!read_time(row, form, frame)) {
        return false;
    }
    /* An error frame has neither. */
    return !read_kind(row, form, frame) ||
           (read_id(row, form, frame) && read_data(row, form, frame));
}
