/* SPDX-License-Identifier: MIT */
/*
 * One row of a mapping table, column by column. Feeds place.c. The file is
 * specified in docs/mapping-tables.md.
 */
#include "decoder/tables.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

enum { NAME_MOST = 63, PGN_MOST = 0x3FFFF, ID_MOST = 0x1FFFFFFF };

const char *bl_column_name(enum bl_column column)
{
    static const char *const name[BL_COLUMNS] = {
        "message", "pgn",  "sender", "direction", "period_ms", "signal",
        "start",   "bits", "scale",  "offset",    "unit",      "low",
        "high",    "kind", "role",   "states",    "source",    "confidence"};
    return name[column];
}

/* Units of signals that no figure is made of, beside those of
 * bl_measurement_unit_find. */
static bool known_unit(const char *unit)
{
    static const char *const more[] = {"rad",  "rad/s", "Nm",    "d",
                                       "Pa/s", "rpm",   "month", "year"};
    if (unit[0] == '\0' || bl_measurement_unit_find(unit) != NULL) {
        return true;
    }
    for (size_t i = 0; i < sizeof(more) / sizeof(more[0]); i++) {
        if (strcmp(more[i], unit) == 0) {
            return true;
        }
    }
    return false;
}

static bool is_name(const char *text)
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyz"
                                  "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-";
    const size_t length = strspn(text, letters);
    return length > 0 && length <= NAME_MOST && text[length] == '\0';
}

/* Index of `text` in `word`, or -1 with a mistake that names the choice. */
static int choose(struct bl_loader *loader, enum bl_column column,
                  const char *text, const char *const *word, int words,
                  const char *choice)
{
    for (int i = 0; i < words; i++) {
        if (strcmp(text, word[i]) == 0) {
            return i;
        }
    }
    bl_loader_mistake(loader, loader->line, "%s: expected %s, found '%s'",
                      bl_column_name(column), choice, text);
    return -1;
}

static bool read_name(struct bl_loader *loader, enum bl_column column,
                      const char *text)
{
    if (is_name(text)) {
        return true;
    }
    bl_loader_mistake(loader, loader->line,
                      "%s: expected a name of letters, digits, _ and -, found "
                      "'%s'",
                      bl_column_name(column), text);
    return false;
}

/* A number; an empty cell gives `otherwise`, where that is not NaN. */
static bool read_number(struct bl_loader *loader, enum bl_column column,
                        const char *text, double otherwise, double *out)
{
    if (text[0] == '\0' && !isnan(otherwise)) {
        *out = otherwise;
        return true;
    }
    if (bl_number_parse(text, strlen(text), out) && isfinite(*out)) {
        return true;
    }
    bl_loader_mistake(loader, loader->line, "%s: expected a number, found '%s'",
                      bl_column_name(column), text);
    return false;
}

static bool read_pgn(struct bl_loader *loader, const char *text,
                     struct bl_message *message)
{
    message->single_id = strncmp(text, "id:", 3) == 0;
    const char *digits = message->single_id ? text + 3 : text;
    const uint64_t most = message->single_id ? ID_MOST : PGN_MOST;
    uint64_t value;
    if (!bl_unsigned_parse(digits, strlen(digits), &value) || value > most) {
        bl_loader_mistake(loader, loader->line,
                          "pgn: expected a number up to 262143 or id:0x.. up "
                          "to 0x1FFFFFFF, found '%s'",
                          text);
        return false;
    }
    if (message->single_id) {
        message->id = (uint32_t)value;
        return true;
    }
    message->pgn = (uint32_t)value;
    if ((value >> 8 & 0xFF) < 240 && (value & 0xFF) != 0) {
        bl_loader_mistake(loader, loader->line,
                          "pgn: %s has a destination in its low byte, which "
                          "must be 0",
                          text);
        return false;
    }
    return true;
}

static bool read_sender(struct bl_loader *loader, const char *text,
                        struct bl_message *message)
{
    static const char *const word[] = {"any", "towing", "towed"};
    uint64_t address;
    if (bl_unsigned_parse(text, strlen(text), &address)) {
        message->sender = BL_SENDER_ADDRESS;
        message->sender_address = (uint8_t)address;
        if (address < BL_ADDRESS_NULL) {
            return true;
        }
        bl_loader_mistake(loader, loader->line,
                          "sender: expected an address up to 253, found '%s'",
                          text);
        return false;
    }
    const int i = choose(loader, BL_COLUMN_SENDER, text, word, 3,
                         "any, towing, towed or an address");
    message->sender = i < 0 ? BL_SENDER_ANY : (enum bl_sender)i;
    return i >= 0;
}

static bool read_message(struct bl_loader *loader,
                         const char *const cell[BL_COLUMNS],
                         struct bl_message *message)
{
    static const char *const way[] = {"any", "down", "up"};
    bool ok = read_name(loader, BL_COLUMN_MESSAGE, cell[BL_COLUMN_MESSAGE]);
    message->name = cell[BL_COLUMN_MESSAGE];
    ok &= read_pgn(loader, cell[BL_COLUMN_PGN], message);
    ok &= read_sender(loader, cell[BL_COLUMN_SENDER], message);
    const int i = choose(loader, BL_COLUMN_DIRECTION, cell[BL_COLUMN_DIRECTION],
                         way, 3, "any, down or up");
    message->direction = i < 0 ? BL_DIRECTION_ANY : (enum bl_direction)i;
    ok &= i >= 0;
    ok &= read_number(loader, BL_COLUMN_PERIOD, cell[BL_COLUMN_PERIOD], 0,
                      &message->period_ms);
    if (ok && message->period_ms < 0) {
        bl_loader_mistake(loader, loader->line,
                          "period_ms: expected 0 or more, found '%s'",
                          cell[BL_COLUMN_PERIOD]);
        ok = false;
    }
    return ok;
}

/* "3.5": byte 3, bit 5, both from 1; "3.8 big": from there downwards. */
static bool read_start(struct bl_loader *loader, const char *text,
                       struct bl_signal *signal)
{
    static const char big[] = " big";
    size_t length = strlen(text);
    signal->big_endian = length >= sizeof(big) &&
                         strcmp(text + length - sizeof(big) + 1, big) == 0;
    length -= signal->big_endian ? sizeof(big) - 1 : 0;
    const char *dot = memchr(text, '.', length);
    const size_t whole = dot == NULL ? length : (size_t)(dot - text);
    uint64_t byte, bit = signal->big_endian ? 8 : 1;
    bool ok = bl_unsigned_parse(text, whole, &byte) && byte >= 1 &&
              byte <= UINT16_MAX;
    if (ok && dot != NULL) {
        ok = bl_unsigned_parse(dot + 1, length - whole - 1, &bit) && bit >= 1 &&
             bit <= 8;
    }
    if (!ok) {
        bl_loader_mistake(loader, loader->line,
                          "start: expected byte.bit with byte from 1 and bit "
                          "1 to 8, and ' big' behind it for the high byte "
                          "first, found '%s'",
                          text);
        return false;
    }
    signal->start_bit = (unsigned)((byte - 1) * 8 + bit - 1);
    return true;
}

static bool read_place(struct bl_loader *loader,
                       const char *const cell[BL_COLUMNS],
                       struct bl_signal *signal)
{
    bool ok = read_start(loader, cell[BL_COLUMN_START], signal);
    const char *text = cell[BL_COLUMN_BITS];
    const bool is_text = signal->kind == BL_SIGNAL_TEXT;
    uint64_t bits;
    bool fits = bl_unsigned_parse(text, strlen(text), &bits);
    if (is_text) {
        fits = fits && bits % 8 == 0 && bits <= UINT16_MAX * 8u;
    } else {
        fits = fits && bits >= 1 && bits <= 64;
    }
    if (!fits) {
        bl_loader_mistake(loader, loader->line, "bits: expected %s, found '%s'",
                          is_text ? "a multiple of 8, or 0 for the rest of "
                                    "the message"
                                  : "1 to 64",
                          text);
        return false;
    }
    signal->bits = (unsigned)bits;
    if (ok && is_text && (signal->start_bit % 8 != 0 || signal->big_endian)) {
        bl_loader_mistake(loader, loader->line,
                          "start: text begins at bit 1 of a byte, found '%s'",
                          cell[BL_COLUMN_START]);
        ok = false;
    }
    return ok;
}

/* What a raw value of all bits reads as, with the scale. */
static bool read_range(struct bl_loader *loader,
                       const char *const cell[BL_COLUMNS],
                       struct bl_signal *signal)
{
    const double least =
        signal->is_signed ? -ldexp(1, (int)signal->bits - 1) : 0;
    const double most = ldexp(1, (int)signal->bits) - 1 + least;
    const bool number = signal->kind == BL_SIGNAL_NUMBER;
    bool ok = read_number(loader, BL_COLUMN_LOW, cell[BL_COLUMN_LOW],
                          number ? NAN : 0, &signal->low);
    ok &= read_number(loader, BL_COLUMN_HIGH, cell[BL_COLUMN_HIGH],
                      number ? NAN : most, &signal->high);
    if (!ok) {
        return false;
    }
    if (signal->low > signal->high) {
        bl_loader_mistake(loader, loader->line, "low %s is above high %s",
                          cell[BL_COLUMN_LOW], cell[BL_COLUMN_HIGH]);
        return false;
    }
    const double first = (signal->low - signal->offset) / signal->scale;
    const double last = (signal->high - signal->offset) / signal->scale;
    if (fmin(first, last) < least - 0.5 || fmax(first, last) > most + 0.5) {
        bl_loader_mistake(loader, loader->line,
                          "low to high, %g to %g, does not fit into %u bits",
                          signal->low, signal->high, signal->bits);
        return false;
    }
    return true;
}

static bool read_scale(struct bl_loader *loader,
                       const char *const cell[BL_COLUMNS],
                       struct bl_signal *signal)
{
    const bool number = signal->kind == BL_SIGNAL_NUMBER;
    bool ok = read_number(loader, BL_COLUMN_SCALE, cell[BL_COLUMN_SCALE],
                          number ? NAN : 1, &signal->scale);
    ok &= read_number(loader, BL_COLUMN_OFFSET, cell[BL_COLUMN_OFFSET],
                      number ? NAN : 0, &signal->offset);
    if (!ok) {
        return false;
    }
    if (number && signal->scale == 0) {
        bl_loader_mistake(loader, loader->line, "scale: must not be 0");
        return false;
    }
    if (!number && (signal->scale != 1 || signal->offset != 0)) {
        bl_loader_mistake(loader, loader->line,
                          "scale: only kind number has a scale or an offset");
        return false;
    }
    return true;
}

static bool read_unit(struct bl_loader *loader, const char *text,
                      struct bl_signal *signal)
{
    signal->unit = text;
    if (!known_unit(text)) {
        bl_loader_mistake(loader, loader->line, "unit: '%s' is not known",
                          text);
        return false;
    }
    if (signal->kind != BL_SIGNAL_NUMBER && text[0] != '\0') {
        bl_loader_mistake(loader, loader->line,
                          "unit: only kind number has a unit, found '%s'",
                          text);
        return false;
    }
    return true;
}

static bool read_states(struct bl_loader *loader, const char *text,
                        struct bl_signal *signal)
{
    signal->states = text;
    if (text[0] == '\0') {
        return true;
    }
    if (signal->kind != BL_SIGNAL_STATE) {
        bl_loader_mistake(loader, loader->line,
                          "states: only kind state has states, found '%s'",
                          text);
        return false;
    }
    return bl_row_check_states(loader, text, signal->bits);
}

static const char *const confidences[] = {
#define X(id, name) name,
    BL_CONFIDENCE_LIST(X)
#undef X
};

const char *bl_confidence_name(enum bl_confidence confidence)
{
    return confidences[confidence];
}

static bool read_meaning(struct bl_loader *loader,
                         const char *const cell[BL_COLUMNS],
                         struct bl_signal *signal)
{
    bool ok = true;
    if (!bl_role_from(cell[BL_COLUMN_ROLE], &signal->role)) {
        bl_loader_mistake(loader, loader->line, "role: '%s' is not known",
                          cell[BL_COLUMN_ROLE]);
        ok = false;
    }
    signal->source = cell[BL_COLUMN_SOURCE];
    if (signal->source[0] == '\0') {
        bl_loader_mistake(loader, loader->line,
                          "source: every row says where it comes from");
        ok = false;
    }
    const int i =
        choose(loader, BL_COLUMN_CONFIDENCE, cell[BL_COLUMN_CONFIDENCE],
               confidences, 3, "confirmed, single-source or from-memory");
    signal->confidence = i < 0 ? BL_FROM_MEMORY : (enum bl_confidence)i;
    return ok && i >= 0;
}

bool bl_row_read(struct bl_loader *loader, const char *const cell[BL_COLUMNS],
                 struct bl_row *row)
{
    static const char *const kind[] = {"number", "state", "count", "text",
                                       "signed"};
    enum { SIGNED = 4 };
    *row = (struct bl_row){0};
    struct bl_signal *signal = &row->signal;
    bool ok = read_message(loader, cell, &row->message);
    ok &= read_name(loader, BL_COLUMN_SIGNAL, cell[BL_COLUMN_SIGNAL]);
    signal->name = cell[BL_COLUMN_SIGNAL];
    signal->line = (int)loader->line;
    ok &= read_meaning(loader, cell, signal);
    /* The other columns mean something only for a known kind. */
    const int i = choose(loader, BL_COLUMN_KIND, cell[BL_COLUMN_KIND], kind, 5,
                         "number, signed, state, count or text");
    if (i < 0) {
        return false;
    }
    signal->is_signed = i == SIGNED;
    signal->kind = i == SIGNED ? BL_SIGNAL_NUMBER : (enum bl_signal_kind)i;
    ok &= read_unit(loader, cell[BL_COLUMN_UNIT], signal);
    bool scaled = read_place(loader, cell, signal);
    scaled &= read_scale(loader, cell, signal);
    if (scaled && signal->kind != BL_SIGNAL_TEXT) {
        ok &= read_range(loader, cell, signal);
    }
    if (scaled) {
        ok &= read_states(loader, cell[BL_COLUMN_STATES], signal);
    }
    return ok && scaled;
}
