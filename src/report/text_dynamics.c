/* SPDX-License-Identifier: MIT */
/* What lag costs, as text. */
#include "report/text.h"

#include <math.h>

static void percent_cell(struct bl_table *table, double share)
{
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "%s", bl_text_fixed(100 * share, 1, text));
}

static void units(struct bl_text *to, const json_t *at)
{
    static const char *const titles[] = {"unit", "% of mass", "% of force",
                                         "% of work", "travel in lag, m"};
    const json_t *all = json_object_get(at, "units");
    const json_t *hardest = json_object_get(at, "most_work");
    char text[BL_TEXT_CELL];
    struct bl_table table = {.heading = true};
    for (size_t i = 0; i < sizeof(titles) / sizeof(titles[0]); i++) {
        table.right[i] = i > 0;
        bl_table_cell(&table, "%s", titles[i]);
    }
    bl_table_row(&table);
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *unit = json_array_get(all, i);
        const json_t *travel = json_object_get(unit, "travel_in_lag");
        bl_table_cell(&table, "%s", bl_text_unit(unit, text));
        percent_cell(&table, bl_tree_get_number(unit, "mass_share"));
        percent_cell(&table, bl_tree_get_number(unit, "force_share"));
        percent_cell(&table, bl_tree_get_number(unit, "work_share"));
        bl_table_cell(&table, "%s",
                      bl_text_value(bl_tree_get_number(travel, "m"),
                                    bl_tree_get_number(travel, "u_m"), 1,
                                    text));
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 6);
    if (json_is_object(hardest)) {
        char times[BL_TEXT_CELL];
        bl_output_format(
            to->output,
            "      most work for its mass: %s, %s times its "
            "share\n",
            bl_text_called(to, hardest),
            bl_text_fixed(bl_tree_get_number(hardest, "times_its_mass"), 2,
                          times));
    }
}

static void couplings(struct bl_text *to, const json_t *at)
{
    const json_t *all = json_object_get(at, "couplings");
    char a[BL_TEXT_CELL];
    char b[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *coupling = json_array_get(all, i);
        bl_output_format(
            to->output,
            "      coupling %s-%s: push up to %s kN, steady %s kN\n",
            bl_tree_get_text(coupling, "front"),
            bl_tree_get_text(coupling, "rear"),
            bl_text_fixed(bl_tree_get_number(coupling, "push_most_kn"), 1, a),
            bl_text_fixed(bl_tree_get_number(coupling, "push_steady_kn"), 1,
                          b));
    }
}

static void row(struct bl_text *to, const json_t *cost)
{
    const json_t *speeds = json_object_get(cost, "speeds");
    char text[BL_TEXT_CELL];
    char metres[BL_TEXT_CELL];
    bl_output_text(to->output, "  Run ");
    bl_text_plain(to, bl_tree_get_text(cost, "run"));
    bl_output_format(to->output, ", %s applications by a step (%llu)\n",
                     bl_text_kind(cost),
                     (unsigned long long)bl_tree_get_count(cost, "n"));
    for (size_t i = 0; i < json_array_size(speeds); i++) {
        const json_t *at = json_array_get(speeds, i);
        bl_output_format(
            to->output, "    at %s km/h: stop in %s m",
            bl_text_fixed(bl_tree_get_number(at, "kmh"), 0, text),
            bl_text_fixed(bl_tree_get_number(at, "stopping_m"), 1, metres));
        bl_output_format(
            to->output, ", %s m of it because force comes late",
            bl_text_value(bl_tree_get_number(at, "extra_stopping_m"),
                          bl_tree_get_number(at, "u_extra_stopping_m"), 1,
                          text));
        bl_output_format(
            to->output, "; %s m if only the first braked unit's lag counted\n",
            bl_text_fixed(bl_tree_get_number(at, "first_only_m"), 1, text));
    }
    /* Shares and pushes hardly depend on the speed: the highest is shown. */
    if (json_array_size(speeds) > 0) {
        const json_t *last =
            json_array_get(speeds, json_array_size(speeds) - 1);
        units(to, last);
        couplings(to, last);
    }
}

void bl_text_dynamics(struct bl_text *to)
{
    const json_t *dynamics = json_object_get(to->root, "dynamics");
    const json_t *rows = json_object_get(dynamics, "rows");
    const json_t *missing = json_object_get(dynamics, "missing");
    if (json_array_size(rows) + json_array_size(missing) == 0) {
        return;
    }
    bl_output_text(to->output,
                   "\nWhat lag costs: computed from stated masses and forces "
                   "by a rigid model, not measured on the road\n");
    for (size_t i = 0; i < json_array_size(rows); i++) {
        row(to, json_array_get(rows, i));
    }
    for (size_t i = 0; i < json_array_size(missing); i++) {
        bl_output_format(to->output, "  not computed, needs: %s\n",
                         bl_tree_get_text(json_array_get(missing, i), "text"));
    }
}
