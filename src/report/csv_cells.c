/* SPDX-License-Identifier: MIT */
/* Cells of CSV (RFC 4180), as every table of it writes them. */
#include "report/result.h"
#include "report/words.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

/* A spreadsheet takes a cell for a formula that begins so, with quotes around
   it or not; behind an apostrophe it stays text. */
static bool is_formula(const char *text)
{
    return text[0] != '\0' && strchr("=+-@\t\r", text[0]) != NULL;
}

void bl_csv_cell(struct bl_output *output, const char *text)
{
    const char *guard = is_formula(text) ? "'" : "";
    if (strpbrk(text, ",\"\r\n") == NULL) {
        bl_output_format(output, "%s%s", guard, text);
        return;
    }
    bl_output_format(output, "\"%s", guard);
    for (; *text != '\0'; text++) {
        if (*text == '"') {
            bl_output_text(output, "\"");
        }
        bl_output_write(output, text, 1);
    }
    bl_output_text(output, "\"");
}

void bl_csv_text(struct bl_output *output, const json_t *object,
                 const char *key)
{
    bl_csv_cell(output, bl_tree_get_text(object, key));
    bl_output_text(output, ",");
}

void bl_csv_bare(struct bl_output *output, double value)
{
    if (!isnan(value)) {
        char text[40];
        bl_output_text(output, bl_number_format(value, BL_TREE_DIGITS, text,
                                                sizeof(text)));
    }
}

void bl_csv_number(struct bl_output *output, double value)
{
    bl_csv_bare(output, value);
    bl_output_text(output, ",");
}

void bl_csv_application(struct bl_output *output, const json_t *application,
                        const json_t *unit)
{
    bl_output_format(
        output, "%llu,",
        (unsigned long long)bl_tree_get_count(application, "number"));
    bl_csv_text(output, application, "combination");
    bl_csv_text(output, application, "kind");
    bl_csv_text(output, application, "shape");
    bl_output_text(output,
                   bl_tree_get_bool(application, "excluded") ? "yes," : "no,");
    bl_csv_text(output, unit, "unit");
    bl_csv_text(output, unit, "name");
}

void bl_csv_flags(struct bl_output *output, const json_t *figure)
{
    const json_t *flags = json_object_get(figure, "flags");
    for (size_t i = 0; i < json_array_size(flags); i++) {
        bl_output_format(output, "%s%s", i == 0 ? "" : " ",
                         json_string_value(json_array_get(flags, i)));
    }
    bl_output_text(output, ",");
}

void bl_csv_shown_as(struct bl_output *output, double response_at_kpa,
                     const char *figure)
{
    enum bl_figure_name name;
    if (!bl_figure_from(figure, &name)) {
        bl_csv_cell(output, bl_words_of(&bl_words_labels, figure));
    } else if (bl_figure_entry(name)->at == BL_AT_RESPONSE_AT) {
        bl_output_format(output, "%s (", bl_figure_title(name));
        bl_csv_bare(output, response_at_kpa);
        bl_output_text(output, " kPa)");
    } else {
        bl_output_text(output, bl_figure_title(name));
    }
}
