/* SPDX-License-Identifier: MIT */
/* Numbers and names as the text report prints them. */
#include "io/output.h"
#include "report/text.h"
#include "report/wrap.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { NAME_WIDTH = 24 };

const char *bl_text_fixed(double value, int decimals, char *text)
{
    /* By integers, because printf would follow the user's locale. */
    unsigned long long scale = 1;
    for (int i = 0; i < decimals; i++) {
        scale *= 10;
    }
    const double scaled = round(fabs(value) * (double)scale);
    if (!(scaled < 1e18)) {
        snprintf(text, BL_TEXT_CELL, isnan(value) ? "-" : "out of range");
        return text;
    }
    const unsigned long long whole = (unsigned long long)scaled;
    const char *sign = value < 0 && whole > 0 ? "-" : "";
    if (decimals == 0) {
        snprintf(text, BL_TEXT_CELL, "%s%llu", sign, whole);
    } else {
        snprintf(text, BL_TEXT_CELL, "%s%llu.%0*llu", sign, whole / scale,
                 decimals, whole % scale);
    }
    return text;
}

const char *bl_text_value(double value, double u, int decimals, char *text)
{
    if (isnan(value) || isnan(u)) {
        return bl_text_fixed(value, decimals, text);
    }
    /* Rounding an uncertainty down would claim more than is known. */
    const double unit = pow(10, -decimals);
    const double expanded = ceil(2 * u / unit - 1e-9) * unit;
    char number[BL_TEXT_CELL];
    char half_width[BL_TEXT_CELL];
    snprintf(text, BL_TEXT_CELL, "%.40s \xC2\xB1 %.40s",
             bl_text_fixed(value, decimals, number),
             bl_text_fixed(expanded, decimals, half_width));
    return text;
}

bool bl_text_known(const json_t *figure)
{
    return !isnan(bl_tree_get_number(figure, "s"));
}

const char *bl_text_seconds(const json_t *figure, char *text)
{
    const double bound = bl_tree_get_number(figure, "later_than_s");
    if (!isnan(bound)) {
        char value[BL_TEXT_CELL];
        snprintf(text, BL_TEXT_CELL, "later than %.80s",
                 bl_text_value(bound, bl_tree_get_number(figure, "u_later_s"),
                               3, value));
        return text;
    }
    return bl_text_value(bl_tree_get_number(figure, "s"),
                         bl_tree_get_number(figure, "u_s"), 3, text);
}

/* A unit of some 100 kPa needs its thousandths. */
static int pressure_decimals(const struct bl_text *to)
{
    return to->pressure->factor > 50 ? 3 : 1;
}

const char *bl_text_pressure(const struct bl_text *to, double kpa, char *text)
{
    char number[BL_TEXT_CELL];
    snprintf(text, BL_TEXT_CELL, "%.60s %s",
             bl_text_fixed(kpa / to->pressure->factor, pressure_decimals(to),
                           number),
             to->pressure->name);
    return text;
}

const char *bl_text_stated(const struct bl_text *to, double kpa, char *text)
{
    char number[BL_TEXT_CELL];
    bl_text_fixed(kpa / to->pressure->factor, pressure_decimals(to), number);
    size_t length = strlen(number);
    while (strchr(number, '.') != NULL &&
           (number[length - 1] == '0' || number[length - 1] == '.')) {
        number[--length] = '\0';
    }
    snprintf(text, BL_TEXT_CELL, "%.60s %s", number, to->pressure->name);
    return text;
}

const char *bl_text_level(const struct bl_text *to, const json_t *level,
                          char *text)
{
    double value = bl_tree_get_number(level, "value");
    double u = bl_tree_get_number(level, "u");
    const char *unit = bl_tree_get_text(level, "unit");
    int decimals = 1;
    if (strcmp(unit, "kPa") == 0) {
        value /= to->pressure->factor;
        u /= to->pressure->factor;
        unit = to->pressure->name;
        decimals = pressure_decimals(to);
    }
    char number[BL_TEXT_CELL];
    if (isnan(value)) {
        return bl_text_value(value, u, decimals, text);
    }
    snprintf(text, BL_TEXT_CELL, "%.60s %s",
             bl_text_value(value, u, decimals, number), unit);
    return text;
}

/* Copy up to `width` characters of UTF-8. */
static void copy_cut(const char *from, size_t width, char *to, size_t size)
{
    size_t at = 0;
    size_t characters = 0;
    for (; *from != '\0' && at + 1 < size; from++) {
        const unsigned char c = (unsigned char)*from;
        if ((c & 0xC0) != 0x80 && characters++ == width) {
            break;
        }
        to[at++] = *from;
    }
    to[at] = '\0';
}

/* Does the name tell the number: "trailer 2" of unit 2? */
static bool tells_number(const char *name, const char *number)
{
    const size_t length = strlen(name);
    const size_t digits = strlen(number);
    return length > digits + 1 && name[length - digits - 1] == ' ' &&
           strcmp(name + length - digits, number) == 0;
}

const char *bl_text_unit(const json_t *unit, char *text)
{
    char name[BL_TEXT_CELL];
    const char *number = bl_tree_get_text(unit, "unit");
    copy_cut(bl_tree_get_text(unit, "name"), NAME_WIDTH, name,
             sizeof(name) - 16);
    if (tells_number(name, number)) {
        snprintf(text, BL_TEXT_CELL, "%s", name);
    } else {
        snprintf(text, BL_TEXT_CELL, "%.12s%s%.80s", number,
                 name[0] == '\0' ? "" : " ", name);
    }
    return text;
}

const char *bl_text_called_in(const struct bl_text *to, const json_t *entry,
                              const char *key)
{
    const char *label = bl_tree_get_text(entry, key);
    const json_t *units =
        json_object_get(json_object_get(to->root, "trial"), "units");
    const json_t *unit = bl_tree_row(units, "unit", label);
    const char *called = bl_tree_get_text(unit, "called");
    return called[0] != '\0' ? called : label;
}

const char *bl_text_called(const struct bl_text *to, const json_t *entry)
{
    return bl_text_called_in(to, entry, "unit");
}

const char *bl_text_unit_in_full(const json_t *unit,
                                 char text[BL_TEXT_SENTENCE])
{
    const char *name = bl_tree_get_text(unit, "name");
    char whole[BL_TEXT_SENTENCE / 2]; /* a cell takes no more */
    copy_cut(name, sizeof(whole), whole, sizeof(whole) - 16);
    if (tells_number(name, bl_tree_get_text(unit, "unit"))) {
        snprintf(text, BL_TEXT_SENTENCE, "%s", whole);
        return text;
    }
    snprintf(text, BL_TEXT_SENTENCE, "%.12s%s%s",
             bl_tree_get_text(unit, "unit"), name[0] == '\0' ? "" : " ", whole);
    return text;
}

void bl_text_also(struct bl_text *to, json_t *alike, json_t *unit)
{
    to->failed = json_array_append(alike, unit) != 0 || to->failed;
}

void bl_text_units(struct bl_text *to, const json_t *units, bool begins)
{
    const size_t count = json_array_size(units);
    for (size_t i = 0; i < count; i++) {
        const json_t *unit = json_array_get(units, i);
        bl_output_text(to->output, count == 1 ? ""
                                   : i == 0   ? begins ? "Units " : "units "
                                   : i + 1 < count ? ", "
                                                   : " and ");
        bl_output_text(to->output, count == 1 ? bl_text_called(to, unit)
                                              : bl_tree_get_text(unit, "unit"));
    }
}

const char *bl_text_kind(const json_t *row)
{
    static const struct bl_coded kinds[] = {{"unknown", "pressure not known"},
                                            {NULL, NULL}};
    return bl_words_of(&bl_words_labels,
                       bl_coded_words(kinds, bl_tree_get_text(row, "kind")));
}

const char *bl_text_shape(const json_t *row)
{
    static const struct bl_coded shapes[] = {{"unknown", "rise not recorded"},
                                             {NULL, NULL}};
    return bl_coded_words(shapes, bl_tree_get_text(row, "shape"));
}

static size_t bar_length(double value, double longest, size_t width)
{
    if (!(value > 0) || !(longest > 0)) {
        return 0;
    }
    const double length = value / longest * (double)width + 0.5;
    return length < (double)width ? (size_t)length : width;
}

size_t bl_text_bar_width(const struct bl_text *to)
{
    enum { LONG_LINE = 120 };
    return to->columns < LONG_LINE ? 10 : 24;
}

const char *bl_text_bar(double first, double last, double longest, size_t width,
                        char *text)
{
    const size_t waiting = bar_length(first, longest, width);
    size_t all = bar_length(last, longest, width);
    all = all > waiting ? all : waiting;
    memset(text, '-', waiting);
    memset(text + waiting, '=', all - waiting);
    text[all] = '\0';
    return text;
}

bool bl_text_is(const struct bl_text *to, const json_t *row, const char *key,
                int code)
{
    return bl_tree_is(to->codes, row, key, code);
}

void bl_text_plain(struct bl_text *to, const char *text)
{
    bl_output_text(to->output, text);
}

const char *bl_text_does(enum bl_figure_name figure)
{
    return figure == BL_FIGURE_RESPONSE  ? "gets its first air"
           : figure == BL_FIGURE_FILLED  ? "reaches 75 % of settled"
           : figure == BL_FIGURE_EMPTIED ? "falls to 10 % of settled"
                                         : bl_figure_name_text(figure);
}

const char *bl_text_reason(const char *name)
{
    return bl_words_of(&bl_words_reasons, name);
}

const char *bl_text_flag(const char *name)
{
    return bl_words_of(&bl_words_flags, name);
}

const char *bl_text_response_at(const struct bl_text *to, char *text)
{
    const json_t *trial = json_object_get(to->root, "trial");
    return bl_text_stated(to, bl_tree_get_number(trial, "response_at_kpa"),
                          text);
}

const char *bl_text_figure(const struct bl_text *to, enum bl_figure_name figure,
                           bool brief, char *text)
{
    const struct bl_figure_entry *entry = bl_figure_entry(figure);
    const char *title = brief ? entry->brief : entry->title;
    char at[BL_TEXT_CELL];
    if (entry->at == BL_AT_RESPONSE_AT) {
        snprintf(text, BL_TEXT_CELL, "%s (%.40s)", title,
                 bl_text_response_at(to, at));
    } else {
        snprintf(text, BL_TEXT_CELL, "%s", title);
    }
    return text;
}

const char *bl_text_figure_of(const struct bl_text *to, const json_t *row,
                              char *text)
{
    const int code = bl_tree_get_code(to->codes, row, "figure", BL_FIGURES);
    if (code >= 0 && code < BL_FIGURES) {
        return bl_text_figure(to, (enum bl_figure_name)code, false, text);
    }
    snprintf(text, BL_TEXT_CELL, "%.90s", bl_tree_get_text(row, "figure"));
    return text;
}

void bl_text_cautions(struct bl_text *to)
{
    for (int i = 0; bl_words_caution(i) != NULL; i++) {
        bl_output_format(to->output, "  - %s\n", bl_words_caution(i));
    }
}

void bl_text_table(struct bl_text *to, struct bl_table *table, size_t indent)
{
    to->failed =
        !bl_table_write(table, to->output, indent, to->columns) || to->failed;
}

void bl_text_flush(struct bl_text *to)
{
    size_t size = 0;
    const char *text = bl_output_memory(to->output, &size);
    if (text == NULL) {
        to->failed = true;
        return;
    }
    bl_wrap_write(to->lines, text, to->columns);
    bl_output_forget(to->output);
}
