/* SPDX-License-Identifier: MIT */
/* Findings as text and as CSV. */
#include "report/text.h"

#include <math.h>
#include <string.h>

static void say(struct bl_text *to, const char *before, const char *text)
{
    bl_output_text(to->output, before);
    bl_text_plain(to, text);
    bl_output_text(to->output, "\n");
}

/* `several`: the evidence is of several runs, each line names its own. */
static void evidence_line(struct bl_text *to, const json_t *e, bool several)
{
    char text[BL_TEXT_CELL];
    const char *unit = bl_tree_get_text(e, "unit");
    const double value = bl_tree_get_number(e, "value");
    const double u = bl_tree_get_number(e, "u");
    bl_output_text(to->output, "      ");
    if (several) {
        bl_output_text(to->output, "run ");
        bl_text_plain(to, bl_tree_get_text(e, "run"));
        bl_output_text(to->output, ", ");
    }
    bl_text_plain(to, bl_tree_get_text(e, "label"));
    bl_output_text(to->output, ": ");
    if (strcmp(unit, "kPa") == 0) {
        json_t *level = isnan(u) ? json_pack("{s:f,s:s,s:n}", "value", value,
                                             "unit", "kPa", "u")
                                 : json_pack("{s:f,s:s,s:f}", "value", value,
                                             "unit", "kPa", "u", u);
        to->failed = to->failed || level == NULL;
        bl_output_text(to->output, isnan(u) ? bl_text_pressure(to, value, text)
                                            : bl_text_level(to, level, text));
        json_decref(level);
    } else {
        /* What has no unit is a count, or a share. */
        const int decimals = unit[0] == '\0' && value == floor(value) ? 0 : 3;
        bl_output_text(to->output, bl_text_value(value, u, decimals, text));
        bl_output_text(to->output, unit[0] == '\0' ? "" : " ");
        bl_output_text(to->output, unit);
    }
    bl_output_text(to->output, "\n");
}

static void runs_of(struct bl_text *to, const json_t *f)
{
    const json_t *runs = json_object_get(f, "runs");
    const size_t count = json_array_size(runs);
    for (size_t i = 0; i < count; i++) {
        bl_output_text(to->output, i > 0        ? ", "
                                   : count == 1 ? ", run "
                                                : ", runs ");
        bl_text_plain(to, json_string_value(json_array_get(runs, i)));
    }
}

/* `before` (may be NULL) is the finding printed before this one: what is to
   be done alike is not printed again. */
static void to_do(struct bl_text *to, const json_t *f, const json_t *before)
{
    if (before != NULL && bl_tree_same_text(f, before, "next_check") &&
        bl_tree_same_text(f, before, "caution")) {
        bl_output_text(to->output, "    next check: the same\n");
        return;
    }
    say(to, "    next check: ", bl_tree_get_text(f, "next_check"));
    if (bl_tree_get_text(f, "caution")[0] != '\0') {
        say(to, "    CAUTION: ", bl_tree_get_text(f, "caution"));
    }
}

static void finding(struct bl_text *to, const json_t *f, const json_t *before,
                    bool found)
{
    bl_output_format(to->output, "  %s: %s",
                     found ? bl_tree_get_text(f, "severity") : "cannot tell",
                     bl_tree_get_text(f, "code"));
    runs_of(to, f);
    if (bl_tree_get_count(f, "of") > 0) {
        bl_output_format(to->output,
                         ", beyond 4 u in %llu of %llu applications",
                         (unsigned long long)bl_tree_get_count(f, "shown_in"),
                         (unsigned long long)bl_tree_get_count(f, "of"));
    }
    char sentence[BL_TEXT_SENTENCE];
    say(to, "\n    ",
        bl_text_pressures(to->pressure, bl_tree_get_text(f, "text"), sentence,
                          sizeof(sentence)));
    const json_t *evidence = json_object_get(f, "evidence");
    const bool several = json_array_size(json_object_get(f, "runs")) > 1;
    for (size_t i = 0; i < json_array_size(evidence); i++) {
        evidence_line(to, json_array_get(evidence, i), several);
    }
    const uint64_t dropped = bl_tree_get_count(f, "evidence_dropped");
    if (dropped > 0) {
        bl_output_format(to->output, "      and %llu values more\n",
                         (unsigned long long)dropped);
    }
    to_do(to, f, before);
}

static bool same_lack(const json_t *a, const json_t *b)
{
    return bl_tree_same_text(a, b, "code") && bl_tree_same_text(a, b, "needs");
}

/* What is missing for many units and runs alike is said once, with its count.
 */
static void not_looked_for(struct bl_text *to)
{
    const json_t *missing = json_object_get(to->root, "not_looked_for");
    const size_t count = json_array_size(missing);
    if (count > 0) {
        bl_output_text(to->output,
                       "\nNot looked for, and what would be needed\n");
    }
    for (size_t i = 0; i < count; i++) {
        const json_t *missed = json_array_get(missing, i);
        size_t first = 0;
        size_t alike = 0;
        while (!same_lack(json_array_get(missing, first), missed)) {
            first++;
        }
        for (size_t k = i; k < count && first == i; k++) {
            alike += same_lack(json_array_get(missing, k), missed);
        }
        if (first < i) {
            continue;
        }
        bl_output_format(to->output, "  %s", bl_tree_get_text(missed, "code"));
        if (alike > 1) {
            bl_output_format(to->output, ", %zu times (units and runs)", alike);
        } else if (bl_tree_get_text(missed, "unit")[0] != '\0') {
            bl_output_format(to->output, ", %s", bl_text_called(to, missed));
        }
        say(to, ": ", bl_tree_get_text(missed, "needs"));
    }
}

void bl_text_findings(struct bl_text *to)
{
    const json_t *found = json_object_get(to->root, "findings");
    const json_t *undecided = json_object_get(to->root, "cannot_tell");
    const json_t *looked = json_object_get(to->root, "looked_for");
    if (found == NULL) {
        return;
    }
    bl_output_text(to->output, "\nFindings\n");
    if (json_array_size(found) == 0) {
        bl_output_text(to->output, "  nothing found\n");
    }
    for (size_t i = 0; i < json_array_size(found); i++) {
        finding(to, json_array_get(found, i),
                i == 0 ? NULL : json_array_get(found, i - 1), true);
    }
    for (size_t i = 0; i < json_array_size(undecided); i++) {
        finding(to, json_array_get(undecided, i),
                i == 0 ? NULL : json_array_get(undecided, i - 1), false);
    }
    bl_output_text(to->output, "\nLooked for\n  ");
    for (size_t i = 0; i < json_array_size(looked); i++) {
        bl_output_format(to->output, "%s%s", i == 0 ? "" : ", ",
                         json_string_value(json_array_get(looked, i)));
    }
    bl_output_text(to->output, "\n");
    not_looked_for(to);
}
