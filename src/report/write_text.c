/* SPDX-License-Identifier: MIT */
/* The report as text: the answer, the glance, studies, runs, what is not
   included, cautions, what it rests on. A later section is one more entry of
   `sections`. */
#include "report/plain_tree.h"
#include "report/text.h"
#include "report/wrap.h"

#include <string.h>

static void title(struct bl_text *to)
{
    const char *name =
        bl_tree_get_text(json_object_get(to->root, "trial"), "name");
    bl_output_text(to->output, "Brake trial");
    bl_output_text(to->output, name[0] == '\0' ? "" : ": ");
    bl_text_plain(to, name);
    bl_output_text(to->output,
                   "\n  \xC2\xB1 is the expanded uncertainty, k = 2, "
                   "rounded up; -: not known, reason below\n");
}

static void glance(struct bl_text *to)
{
    if (bl_text_has_runs(to)) {
        bl_text_glance(to);
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
        bl_text_flush(to);
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

static bool unit_lacks(const json_t *root, const json_t *own, const char *name)
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
                if (bl_tree_same_text(unit, own, "unit") && lacks(unit, name)) {
                    return true;
                }
            }
        }
    }
    return false;
}

/* "gain, zero": the components that no figure of a unit includes. */
static void lacks_of(const json_t *root, const json_t *unit, char *text,
                     size_t size)
{
    size_t at = 0;
    text[0] = '\0';
    for (size_t i = 0; bl_component_name(i) != NULL && at < size; i++) {
        if (unit_lacks(root, unit, bl_component_name(i))) {
            const int wrote =
                snprintf(text + at, size - at, "%s%s", at == 0 ? "" : ", ",
                         bl_component_name(i));
            at += wrote > 0 ? (size_t)wrote : 0;
        }
    }
}

/* A line for all units that lack the same. */
static void not_included(struct bl_text *to)
{
    enum { COMPONENTS_TEXT = 256 };
    const json_t *trial = json_object_get(to->root, "trial");
    const json_t *units = json_object_get(trial, "units");
    char own[COMPONENTS_TEXT];
    char other[COMPONENTS_TEXT];
    bool heading = false;
    for (size_t u = 0; u < json_array_size(units); u++) {
        json_t *alike = json_array();
        lacks_of(to->root, json_array_get(units, u), own, sizeof(own));
        bool first = own[0] != '\0';
        for (size_t k = 0; first && k < json_array_size(units); k++) {
            lacks_of(to->root, json_array_get(units, k), other, sizeof(other));
            const bool same = strcmp(own, other) == 0;
            first = k >= u || !same;
            if (same) {
                bl_text_also(to, alike, json_array_get(units, k));
            }
        }
        if (first) {
            bl_output_text(to->output,
                           heading ? ""
                                   : "\nNot included in the uncertainty, "
                                     "because the trial file does not state "
                                     "it\n");
            heading = true;
            bl_output_text(to->output, "  ");
            bl_text_units(to, alike, true);
            bl_output_format(to->output, ": %s\n", own);
        }
        json_decref(alike);
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

/* When a section is written; bits. */
enum {
    ANSWER = 1,     /* with --brief */
    STUDY = 2,      /* with --brief, where no sentence answers */
    OF_FIGURES = 4, /* not where a study is in front */
};

static const struct {
    void (*write)(struct bl_text *to);
    unsigned when;
} sections[] = {{bl_text_first, ANSWER},
                {title, 0},
                {bl_text_answer, ANSWER},
                {glance, OF_FIGURES},
                {bl_text_budget, STUDY},
                {bl_text_check, 0},
                {bl_text_findings, 0},
                {bl_text_lives, 0},
                {bl_text_traits, 0},
                {bl_text_before_after, STUDY},
                {bl_text_comparison, STUDY},
                {bl_text_predict, STUDY},
                {bl_text_characteristic, STUDY},
                {bl_text_transducers, STUDY},
                {bl_text_reach, STUDY},
                {runs, OF_FIGURES},
                {bl_text_dynamics, 0},
                {bl_text_limits, 0},
                {not_included, 0},
                {cautions, 0},
                {bl_text_rests_on, 0}};

/* `alone`: with --brief. `in_front`: a study stands before the figures. */
static bool is_written(const struct bl_text *to, unsigned when, bool in_front)
{
    const bool answered = json_object_get(to->root, "answer") != NULL;
    return to->alone ? (when & (answered ? ANSWER : STUDY)) != 0
                     : !(in_front && (when & OF_FIGURES) != 0);
}

static size_t columns_of(const struct bl_result_options *options)
{
    enum { LEAST = 40 };
    return options->columns == 0      ? (size_t)BL_WRAP_USUAL
           : options->columns < LEAST ? LEAST
                                      : options->columns;
}

enum bl_status bl_result_text(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_result_options *options,
                              struct bl_error *error)
{
    struct bl_output *memory = NULL;
    const enum bl_status status = bl_output_open(&memory, NULL, error);
    if (status != BL_OK) {
        return status;
    }
    json_t *root = bl_plain_tree(result->root);
    struct bl_text to = {.root = root,
                         .codes = &result->codes,
                         .output = memory,
                         .lines = output,
                         .columns = columns_of(options),
                         .pressure = options->pressure,
                         .each = result->each || result->whole,
                         .alone = options->brief};
    const bool in_front = result->in_front && !result->whole;
    bl_output_plain(memory);
    for (size_t i = 0; i < sizeof(sections) / sizeof(sections[0]); i++) {
        if (is_written(&to, sections[i].when, in_front)) {
            sections[i].write(&to);
            bl_text_flush(&to);
        }
    }
    json_decref(root);
    bl_output_discard(memory);
    return to.failed || root == NULL ? bl_fail_memory(error) : BL_OK;
}
