/* SPDX-License-Identifier: MIT */
/* Characteristics, what is left at the rear, doubled transducers, in words. */
#include "report/text.h"

#include "brakelag/characteristic.h"

#include <math.h>

static const char *plain_number(const json_t *value, int decimals, char *text)
{
    return bl_text_value(bl_tree_get_number(value, "value"),
                         bl_tree_get_number(value, "u"), decimals, text);
}

/* Each input has one name here; the section's head says what it is. */
static const char *input_words(const char *input)
{
    static const struct bl_coded inputs[] = {{"electronic-demand", "demand"},
                                             {"control-pressure", "control"},
                                             {NULL, NULL}};
    return bl_coded_words(inputs, input);
}

static void branch_row(struct bl_text *to, struct bl_table *table,
                       const json_t *unit, const json_t *curve, const char *way)
{
    const json_t *branch = json_object_get(curve, way);
    const char *reason = bl_tree_get_text(branch, "reason");
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "%s", bl_text_unit(unit, text));
    bl_table_cell(table, "%s", bl_tree_get_text(unit, "run"));
    bl_table_cell(table, "%s", input_words(bl_tree_get_text(curve, "input")));
    bl_table_cell(table, "%s", way);
    if (reason[0] != '\0') {
        bl_table_span(table, "- %s", reason);
        bl_table_row(table);
        return;
    }
    bl_table_cell(
        table, "%s",
        bl_text_level(to, json_object_get(branch, "threshold"), text));
    bl_table_cell(table, "%s",
                  plain_number(json_object_get(branch, "gain"), 3, text));
    bl_table_cell(table, "%s",
                  bl_tree_get_bool(branch, "jump_shown")
                      ? bl_text_level(to, json_object_get(branch, "jump"), text)
                      : "none shown");
    bl_table_cell(
        table, "%s",
        bl_tree_get_bool(branch, "saturates")
            ? bl_text_level(to, json_object_get(branch, "saturation_output"),
                            text)
            : "none shown");
    bl_table_cell(table, "%llu",
                  (unsigned long long)bl_tree_get_count(branch, "points"));
    bl_table_row(table);
}

static void curves(struct bl_text *to, const json_t *units)
{
    struct bl_table table = {
        .right = {false, false, false, false, true, true, true, true, true},
        .keys = 4,
        .heading = true};
    static const char *const heads[] = {"unit",   "run",           "against",
                                        "branch", "opens at",      "gain",
                                        "jump",   "levels off at", "points"};
    for (size_t i = 0; i < sizeof(heads) / sizeof(heads[0]); i++) {
        bl_table_cell(&table, "%s", heads[i]);
    }
    bl_table_row(&table);
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        const json_t *both = json_object_get(unit, "curves");
        for (size_t k = 0; k < json_array_size(both); k++) {
            const json_t *curve = json_array_get(both, k);
            branch_row(to, &table, unit, curve, "rising");
            branch_row(to, &table, unit, curve, "falling");
        }
    }
    bl_text_table(to, &table, 2);
}

static void say_input(struct bl_text *to, const json_t *unit)
{
    const json_t *better = json_object_get(unit, "demand_explains_better");
    const char *input = bl_tree_get_text(unit, "input");
    if (input[0] == '\0') {
        bl_output_text(to->output, "no curve could be read");
        return;
    }
    bl_output_format(to->output, "read against %s; %s", input_words(input),
                     json_is_true(better) ? "demand explains the output better"
                     : json_is_false(better)
                         ? "control explains the output better"
                         : "cannot tell which input explains it better");
}

static void say_choice(struct bl_text *to, const json_t *unit)
{
    char text[BL_TEXT_CELL];
    const char *choice = bl_tree_get_text(unit, "choice");
    const double at = bl_tree_get_number(unit, "threshold_choice_kpa");
    const json_t *all = json_object_get(unit, "candidates");
    bool any = false;
    for (size_t i = 0; i < json_array_size(all); i++) {
        any |= !json_is_false(json_object_get(json_array_get(all, i), "fits"));
    }
    bl_output_text(to->output, "    candidates: ");
    if (choice[0] != '\0') {
        bl_text_plain(to, choice);
    } else if (!isnan(at) && any) {
        bl_output_format(
            to->output,
            "opening pressure %s; cannot tell one-to-one from by load",
            bl_text_pressure(to, at, text));
    } else {
        bl_output_text(to->output,
                       json_array_size(all) == 0 ? "none is stated"
                       : any
                           ? "cannot tell: the uncertainty spans more than one"
                           : "none of them fits");
    }
    bl_output_text(to->output, "\n");
}

/* What the unit's link called for, where messages tell it. */
static void say_called(struct bl_text *to, const json_t *unit)
{
    static const struct bl_coded followed[] = {
        {"yes", "; the curve follows it\n"},
        {"no", "; the curve does NOT follow it\n"},
        {NULL, "; cannot tell whether the curve follows it\n"}};
    const json_t *called = json_object_get(unit, "called_for");
    const char *name = bl_tree_get_text(called, "name");
    if (called == NULL) {
        return;
    }
    bl_output_text(to->output, "    called for: ");
    bl_text_plain(to, name[0] == '\0' ? "none of the trial's fits" : name);
    bl_output_format(to->output, " (it saw: %s)",
                     bl_tree_get_text(called, "saw"));
    bl_output_text(
        to->output,
        bl_coded_words(followed, bl_tree_get_text(called, "followed")));
}

/* Was no curve of both read, in the same run and for the same reasons? What
   else would be said of each must be missing. */
static bool refused_alike(const json_t *a, const json_t *b)
{
    const json_t *const unit[] = {a, b};
    for (size_t i = 0; i < 2; i++) {
        const json_t *sum = json_object_get(unit[i], "cumulative");
        if (bl_tree_get_text(unit[i], "input")[0] != '\0' ||
            json_object_get(unit[i], "called_for") != NULL ||
            (json_is_object(sum) &&
             bl_tree_get_text(sum, "reason")[0] == '\0')) {
            return false;
        }
    }
    bool same = bl_tree_same_text(a, b, "run");
    for (size_t k = 0; k < 2; k++) {
        same =
            same &&
            bl_tree_same_text(
                json_object_get(json_array_get(json_object_get(a, "curves"), k),
                                "rising"),
                json_object_get(json_array_get(json_object_get(b, "curves"), k),
                                "rising"),
                "reason");
    }
    return same;
}

/* One unit, or several of which there is the same to say. */
static void say_units(struct bl_text *to, const json_t *alike)
{
    char text[BL_TEXT_CELL];
    const json_t *unit = json_array_get(alike, 0);
    const json_t *both = json_object_get(unit, "curves");
    bl_output_text(to->output, "  ");
    bl_text_units(to, alike, true);
    bl_output_text(to->output, ", run ");
    bl_text_plain(to, bl_tree_get_text(unit, "run"));
    bl_output_text(to->output, ": ");
    say_input(to, unit);
    bl_output_text(to->output, "\n");
    if (bl_tree_get_text(unit, "input")[0] != '\0') {
        const json_t *h = json_object_get(unit, "hysteresis");
        bl_output_format(to->output, "    hysteresis %s\n",
                         bl_text_level(to, h, text));
        say_choice(to, unit);
    }
    say_called(to, unit);
    for (size_t k = 0; k < json_array_size(both); k++) {
        const json_t *curve = json_array_get(both, k);
        const char *reason =
            bl_tree_get_text(json_object_get(curve, "rising"), "reason");
        if (reason[0] != '\0') {
            bl_output_format(to->output, "    %s: %s\n",
                             input_words(bl_tree_get_text(curve, "input")),
                             bl_words_of(&bl_words_curves, reason));
        } else {
            bl_output_format(
                to->output,
                "    %s: rate x lag subtracted, with a lag of %s s (%s)\n",
                input_words(bl_tree_get_text(curve, "input")),
                plain_number(json_object_get(curve, "lag"), 3, text),
                bl_tree_get_bool(curve, "lag_measured")
                    ? "from this run's steps"
                    : "no step shows it: a common range");
        }
    }
    const json_t *sum = json_object_get(unit, "cumulative");
    if (json_is_object(sum) && bl_tree_get_text(sum, "reason")[0] == '\0') {
        const json_t *on = json_object_get(sum, "threshold");
        bl_output_format(to->output,
                         "    behind all units in front it opens at a front "
                         "demand of %s\n",
                         bl_text_level(to, on, text));
    }
}

static void light(struct bl_text *to, const json_t *rear)
{
    const json_t *rows = json_object_get(rear, "light");
    char text[BL_TEXT_CELL];
    if (json_array_size(rows) == 0) {
        return;
    }
    bl_output_text(to->output,
                   "\nWhat a light demand leaves at the rear, run ");
    bl_text_plain(to, bl_tree_get_text(rear, "run"));
    bl_output_format(
        to->output,
        "\n  a unit brakes from %s of output on (common practice)\n",
        bl_text_stated(to, bl_tree_get_number(rear, "brakes_at_kpa"), text));
    struct bl_table table = {
        .right = {true, true, true, true, true, true, true, true},
        .keys = 2,
        .heading = true};
    bl_table_cell(&table, "no.");
    bl_table_cell(&table, "demand");
    const json_t *first = json_object_get(json_array_get(rows, 0), "units");
    for (size_t i = 0; i < json_array_size(first); i++) {
        bl_table_cell(&table, "%s",
                      bl_tree_get_text(json_array_get(first, i), "unit"));
    }
    bl_table_row(&table);
    for (size_t r = 0; r < json_array_size(rows); r++) {
        const json_t *row = json_array_get(rows, r);
        const json_t *units = json_object_get(row, "units");
        const json_t *demand = json_object_get(row, "demand");
        bl_table_cell(&table, "%zu", r + 1);
        bl_table_cell(
            &table, "%s",
            bl_text_pressure(to, bl_tree_get_number(demand, "value"), text));
        for (size_t i = 0; i < json_array_size(units) && i < 20; i++) {
            const json_t *unit = json_array_get(units, i);
            const json_t *braked = json_object_get(unit, "braked");
            const json_t *out = json_object_get(unit, "output");
            const double value = bl_tree_get_number(out, "value");
            bl_table_cell(&table, "%s%s",
                          isnan(value)            ? "not recorded"
                          : json_is_true(braked)  ? "brakes "
                          : json_is_false(braked) ? "no "
                                                  : "cannot tell ",
                          isnan(value) ? ""
                                       : bl_text_pressure(to, value, text));
        }
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 2);
}

static void losses(struct bl_text *to, const json_t *rear)
{
    const json_t *rows = json_object_get(rear, "coupling_loss");
    char front[BL_TEXT_CELL], published[BL_TEXT_CELL];
    char loss[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        const json_t *inside = json_object_get(row, "inside");
        bl_output_format(
            to->output,
            "  %s loses %s from front to rear air coupling at %s, %s; "
            "published: at most %s (%s, %s): %s; the rule's conditions were "
            "not met%s\n",
            bl_text_called(to, row),
            bl_text_level(to, json_object_get(row, "loss"), loss),
            bl_text_level(to, json_object_get(row, "front"), front),
            bl_tree_get_text(row, "branch"),
            bl_text_pressure(to, bl_tree_get_number(row, "published_kpa"),
                             published),
            bl_tree_get_text(row, "source"),
            bl_tree_get_text(row, "confidence"),
            json_is_true(inside)    ? "below the number"
            : json_is_false(inside) ? "above the number"
                                    : "cannot be compared",
            bl_tree_get_bool(row, "next_unit_stands_in")
                ? "; the next unit's control stands in for the rear coupling"
                : "");
    }
}

void bl_text_characteristic(struct bl_text *to)
{
    const json_t *units = json_object_get(to->root, "characteristics");
    const json_t *rear = json_object_get(to->root, "rear");
    if (units == NULL) {
        return;
    }
    bl_output_text(to->output, "\nPressure curves, from steady pressures and "
                               "ramps of at most 20 kPa/s; against demand: "
                               "the electronic demand, control: the control "
                               "pressure\n  At standstill the electronics may "
                               "leave out load sensing, or leave the brakes to "
                               "the air: the gain on the road may differ.\n");
    bl_text_said(to, BL_ANSWER_CURVES);
    curves(to, units);
    for (size_t i = 0; i < json_array_size(units); i++) {
        json_t *alike = json_array();
        bool before = false;
        bl_text_also(to, alike, json_array_get(units, i));
        for (size_t k = 0; k < json_array_size(units); k++) {
            if (k != i && refused_alike(json_array_get(units, i),
                                        json_array_get(units, k))) {
                before = before || k < i;
                bl_text_also(to, alike, json_array_get(units, k));
            }
        }
        if (!before) {
            say_units(to, alike);
        }
        json_decref(alike);
    }
    for (size_t i = 0; i < json_array_size(rear); i++) {
        light(to, json_array_get(rear, i));
        losses(to, json_array_get(rear, i));
    }
}

static const char *named(const json_t *pair, const char *side)
{
    return side[0] == '\0' ? "" : bl_tree_get_text(pair, side);
}

static void false_demands(struct bl_text *to, const json_t *pair)
{
    const json_t *all = json_object_get(pair, "false_demand");
    char from[BL_TEXT_CELL], until[BL_TEXT_CELL], demand[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *episode = json_array_get(all, i);
        bl_output_format(
            to->output, "    false demand from %s to %s s: %s, following ",
            bl_text_fixed(bl_tree_get_number(episode, "from_s"), 3, from),
            bl_text_fixed(bl_tree_get_number(episode, "to_s"), 3, until),
            bl_text_pressure(to, bl_tree_get_number(episode, "demand_kpa"),
                             demand));
        bl_text_plain(to, named(pair, bl_tree_get_text(episode, "follows")));
        bl_output_text(to->output, " while the other shows none\n");
    }
}

static void one_pair(struct bl_text *to, const json_t *pair)
{
    char text[BL_TEXT_CELL], gain[BL_TEXT_CELL], delay[BL_TEXT_CELL];
    bl_output_format(to->output, "  %s, run ", bl_text_called(to, pair));
    bl_text_plain(to, bl_tree_get_text(pair, "run"));
    bl_output_text(to->output, ": ");
    bl_text_plain(to, bl_tree_get_text(pair, "b"));
    bl_output_text(to->output, " against ");
    bl_text_plain(to, bl_tree_get_text(pair, "a"));
    if (!bl_tree_get_bool(pair, "compared")) {
        bl_output_text(to->output, ": not both recorded on tied clocks\n");
        return;
    }
    bl_output_format(
        to->output,
        "\n    offset at released pressure %s%s, gain %s%s, delay %s s%s\n",
        bl_text_level(to, json_object_get(pair, "offset_rest"), text),
        bl_tree_get_bool(pair, "offset_off") ? " (too much)" : "",
        plain_number(json_object_get(pair, "gain"), 3, gain),
        bl_tree_get_bool(pair, "gain_off") ? " (off)" : "",
        plain_number(json_object_get(pair, "delay"), 4, delay),
        bl_tree_get_bool(pair, "delay_off") ? " (too much)" : "");
    if (bl_tree_get_bool(pair, "identical")) {
        bl_output_text(to->output, "    identical to the bit: one transducer "
                                   "is wired twice; two never are\n");
    }
    if (bl_tree_get_count(pair, "disagreements") > 0) {
        bl_output_format(
            to->output, "    they differ %llu times, for %s s, by up to %s\n",
            (unsigned long long)bl_tree_get_count(pair, "disagreements"),
            bl_text_fixed(bl_tree_get_number(pair, "disagree_s"), 2, gain),
            bl_text_pressure(to, bl_tree_get_number(pair, "largest_kpa"),
                             text));
        const char *wrong = bl_tree_get_text(pair, "wrong");
        if (wrong[0] == '\0') {
            bl_output_text(to->output, "    cannot tell which one is wrong\n");
        }
    }
    const char *wrong = bl_tree_get_text(pair, "wrong");
    if (wrong[0] != '\0') {
        bl_output_text(to->output, "    wrong is ");
        bl_text_plain(to, named(pair, wrong));
        bl_output_format(to->output, ": %s\n",
                         bl_tree_get_text(pair, "wrong_by"));
    }
    false_demands(to, pair);
}

void bl_text_transducers(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "transducers");
    if (json_array_size(all) == 0) {
        return;
    }
    bl_output_text(to->output, "\nDoubled transducers\n");
    for (size_t i = 0; i < json_array_size(all); i++) {
        one_pair(to, json_array_get(all, i));
    }
}
