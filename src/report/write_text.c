/* SPDX-License-Identifier: MIT */
/* The report as text: head, studies, bl_text_glance, runs, what it rests on,
   what is not included, cautions. A later section is one more entry of
   `sections`. */
#include "report/plain_tree.h"
#include "report/text.h"

#include <string.h>

static void head(struct bl_text *to)
{
    const json_t *trial = json_object_get(to->root, "trial");
    const json_t *tables = json_object_get(to->root, "tables");
    const char *name = bl_tree_get_text(trial, "name");
    bl_output_text(to->output, "Brake trial");
    bl_output_text(to->output, name[0] == '\0' ? "" : ": ");
    bl_text_plain(to, name);
    bl_output_text(to->output, "\n  trial file ");
    bl_text_plain(to, bl_tree_get_text(trial, "file"));
    bl_output_format(to->output, "\n  sha256 %s\n",
                     bl_tree_get_text(trial, "sha256"));
    for (size_t i = 0; i < json_array_size(tables); i++) {
        const json_t *table = json_array_get(tables, i);
        bl_output_text(to->output, i == 0 ? "  mapping tables " : ", ");
        bl_text_plain(to, bl_tree_get_text(table, "name"));
    }
    if (json_array_size(tables) > 0) {
        bl_output_text(to->output, "\n");
    }
    const json_t *record = json_object_get(trial, "record");
    for (size_t i = 0; i < json_array_size(record); i++) {
        const json_t *pair = json_array_get(record, i);
        bl_output_text(to->output, "  ");
        bl_text_plain(to, bl_tree_get_text(pair, "key"));
        bl_output_text(to->output, ": ");
        bl_text_plain(to, bl_tree_get_text(pair, "value"));
        bl_output_text(to->output, "\n");
    }
    bl_text_identity(to);
    bl_output_text(to->output, "  \xC2\xB1 is the expanded uncertainty, k = 2, "
                               "rounded up; - is: not known, and why below\n");
}

/* Findings may stand alone, without the runs that they rest on. */
static bool has_runs(const struct bl_text *to)
{
    return json_object_get(to->root, "findings") == NULL ||
           json_array_size(json_object_get(to->root, "runs")) > 0;
}

static void glance(struct bl_text *to)
{
    if (has_runs(to)) {
        bl_text_glance(to);
    }
}

static void recordings(struct bl_text *to)
{
    if (has_runs(to)) {
        bl_text_recordings(to);
    }
}

/* More applications than this are a wall of figures that nobody asked for. */
enum { TOLD_WITHOUT_ASKING = 6 };

static void runs(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "runs");
    size_t applications = 0;
    for (size_t i = 0; i < json_array_size(all); i++) {
        applications += json_array_size(
            json_object_get(json_array_get(all, i), "applications"));
    }
    if (applications > TOLD_WITHOUT_ASKING && !to->each) {
        bl_text_brief(to);
        return;
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        bl_text_run(to, json_array_get(all, i));
    }
}

/* Is component `name` unstated in any known figure of this unit? */
static bool lacks(const json_t *unit, const char *name)
{
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const json_t *figure =
            bl_figure_of_unit(i) ? json_object_get(unit, bl_figure_name_text(i))
                                 : NULL;
        const json_t *parts = json_object_get(figure, "u_parts");
        if (parts != NULL && json_is_null(json_object_get(parts, name))) {
            return true;
        }
    }
    return false;
}

static bool unit_lacks(const json_t *root, const char *label, const char *name)
{
    const json_t *all = json_object_get(root, "runs");
    for (size_t r = 0; r < json_array_size(all); r++) {
        const json_t *applications =
            json_object_get(json_array_get(all, r), "applications");
        for (size_t a = 0; a < json_array_size(applications); a++) {
            const json_t *units =
                json_object_get(json_array_get(applications, a), "units");
            for (size_t u = 0; u < json_array_size(units); u++) {
                const json_t *unit = json_array_get(units, u);
                if (strcmp(bl_tree_get_text(unit, "unit"), label) == 0 &&
                    lacks(unit, name)) {
                    return true;
                }
            }
        }
    }
    return false;
}

static void not_included(struct bl_text *to)
{
    const json_t *trial = json_object_get(to->root, "trial");
    const json_t *units = json_object_get(trial, "units");
    char text[BL_TEXT_CELL];
    bool first = true;
    for (size_t u = 0; u < json_array_size(units); u++) {
        const json_t *unit = json_array_get(units, u);
        const char *between = "";
        for (size_t i = 0; bl_component_name(i) != NULL; i++) {
            if (!unit_lacks(to->root, bl_tree_get_text(unit, "unit"),
                            bl_component_name(i))) {
                continue;
            }
            if (first) {
                bl_output_text(to->output,
                               "\nNot included in the uncertainty, because the "
                               "trial file does not state it\n");
                first = false;
            }
            if (between[0] == '\0') {
                bl_output_format(to->output,
                                 "  %s: ", bl_text_unit(unit, text));
            }
            bl_output_format(to->output, "%s%s", between, bl_component_name(i));
            between = ", ";
        }
        if (between[0] != '\0') {
            bl_output_text(to->output, "\n");
        }
    }
}

/* A check has said them where they are needed. */
static void cautions(struct bl_text *to)
{
    if (json_array_size(json_object_get(to->root, "check")) > 0) {
        return;
    }
    bl_output_text(to->output, "\nCautions\n");
    bl_text_cautions(to);
}

/* What --brief asks for: the sentences, or the study of a command that has
   none. */
static void answer_alone(struct bl_text *to)
{
    if (json_object_get(to->root, "answer") != NULL) {
        bl_text_first(to);
        bl_text_answer(to);
        return;
    }
    bl_text_comparison(to);
    bl_text_predict(to);
    bl_text_characteristic(to);
    bl_text_transducers(to);
    bl_text_reach(to);
}

enum bl_status bl_result_text(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_measurement_unit *pressure,
                              bool alone, struct bl_error *error)
{
    static void (*const sections[])(struct bl_text *) = {bl_text_first,
                                                         head,
                                                         bl_text_answer,
                                                         bl_text_budget,
                                                         bl_text_check,
                                                         bl_text_findings,
                                                         bl_text_traits,
                                                         bl_text_comparison,
                                                         bl_text_predict,
                                                         glance,
                                                         bl_text_reach,
                                                         runs,
                                                         bl_text_characteristic,
                                                         bl_text_transducers,
                                                         bl_text_dynamics,
                                                         bl_text_limits,
                                                         recordings,
                                                         not_included,
                                                         cautions};
    json_t *root = bl_plain_tree(result->root);
    struct bl_text to = {.root = root,
                         .output = output,
                         .pressure = pressure,
                         .each = result->each || result->whole,
                         .alone = alone};
    const bool brief = result->brief && !result->whole;
    bl_output_plain(output);
    if (alone) {
        answer_alone(&to);
    }
    for (size_t i = 0; !alone && i < sizeof(sections) / sizeof(sections[0]);
         i++) {
        const bool of_runs = sections[i] == glance || sections[i] == runs;
        if (!(brief && of_runs)) {
            sections[i](&to);
        }
    }
    json_decref(root);
    return to.failed || root == NULL ? bl_fail_memory(error) : BL_OK;
}
