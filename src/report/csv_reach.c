/* SPDX-License-Identifier: MIT */
/* The acceptance table as CSV (RFC 4180): a row per run and unit. */
#include "report/result.h"

#include <math.h>
#include <string.h>

static void demand_cells(struct bl_output *output, const json_t *demand)
{
    static const char *const intervals[] = {"least_s", "median_s", "most_s"};
    const json_t *interval = json_object_get(demand, "interval");
    const json_t *bad = json_object_get(demand, "without_value");
    const bool present = bl_tree_get_bool(demand, "present");
    bl_output_text(output, present ? "yes," : "no,");
    bl_csv_text(output, demand, "message");
    bl_csv_text(output, demand, "id");
    bl_csv_number(output, bl_tree_get_number(demand, "from_address"));
    bl_csv_number(output, bl_tree_get_number(demand, "to_address"));
    bl_csv_number(output, bl_tree_get_number(demand, "frames"));
    for (size_t i = 0; i < sizeof(intervals) / sizeof(intervals[0]); i++) {
        bl_csv_number(output, bl_tree_get_number(interval, intervals[i]));
    }
    bl_csv_number(output, present ? (double)json_array_size(
                                        json_object_get(demand, "gaps"))
                                  : NAN);
    bl_csv_number(output, bl_tree_get_number(demand, "lost_share"));
    bl_csv_number(output, bl_tree_get_number(bad, "not_available"));
    bl_csv_number(output, bl_tree_get_number(bad, "error"));
    bl_csv_number(output, bl_tree_get_number(bad, "in_applications"));
    bl_csv_number(output, bl_tree_get_number(demand, "first_valid_s"));
}

static void value_cells(struct bl_output *output, const json_t *demand)
{
    const json_t *first = json_object_get(demand, "against_first_hop");
    const json_t *delay = json_object_get(demand, "delay");
    const json_t *added = json_object_get(demand, "added");
    bl_csv_number(output, bl_tree_get_number(first, "difference_counts"));
    bl_csv_number(output, bl_tree_get_number(first, "difference_kpa"));
    bl_csv_number(output, bl_tree_get_number(delay, "s"));
    bl_csv_number(output, bl_tree_get_number(delay, "u_s"));
    bl_csv_text(output, delay, "reason");
    bl_csv_number(output, bl_tree_get_number(added, "s"));
    bl_csv_number(output, bl_tree_get_number(added, "u_s"));
}

static void unit_row(const struct bl_result *result, struct bl_output *output,
                     const json_t *run, const json_t *unit)
{
    const json_t *demand = json_object_get(unit, "demand");
    const json_t *volts = json_object_get(unit, "voltage_while_braking");
    bl_csv_text(output, run, "run");
    bl_csv_text(output, unit, "unit");
    bl_csv_text(output, unit, "name");
    bl_csv_text(output, unit, "bus");
    bl_csv_text(output, unit, "verdict");
    demand_cells(output, demand);
    value_cells(output, demand);
    bl_csv_text(output, unit, "follows");
    bl_csv_number(output, bl_tree_get_number(volts, "least"));
    bl_csv_number(output,
                  bl_tree_get_number(json_object_get(unit, "said"), "frames"));
    bl_csv_text(output, unit, "called_for");
    const json_t *why = json_array_get(json_object_get(unit, "why"), 0);
    bl_csv_cell(output, why == NULL ? "" : json_string_value(why));
    for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
        bl_output_text(output, ",");
        bl_csv_cell(
            output,
            bl_tree_get_text(
                json_object_get(json_object_get(unit, "claims"),
                                bl_reach_claim_name((enum bl_reach_claim)i)),
                "answer"));
    }
    bl_csv_identity(result, output, bl_tree_get_text(unit, "unit"), false);
}

void bl_reach_csv(const struct bl_result *result, struct bl_output *output)
{
    const json_t *all = json_object_get(result->root, "reach");
    bl_output_text(
        output,
        "run,unit,unit_name,bus,verdict,present,message,id,from_address,"
        "to_address,frames,interval_least_s,interval_median_s,interval_most_s,"
        "gaps,lost_share,not_available,error,without_value_braking,"
        "first_valid_s,difference_counts,difference_kpa,delay_s,delay_u_s,"
        "delay_reason,added_s,added_u_s,follows,voltage_least_v,own_frames,"
        "called_for,first_reason");
    for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
        bl_output_format(output, ",%s",
                         bl_reach_claim_name((enum bl_reach_claim)i));
    }
    bl_csv_identity_head(result, output, false);
    for (size_t r = 0; r < json_array_size(all); r++) {
        const json_t *run = json_array_get(all, r);
        const json_t *units = json_object_get(run, "units");
        for (size_t u = 0; u < json_array_size(units); u++) {
            unit_row(result, output, run, json_array_get(units, u));
        }
    }
}
