/* SPDX-License-Identifier: MIT */
/* Before and after as CSV: a row per unit and figure. */
#include "report/result.h"

void bl_csv_before_after(const struct bl_result *result,
                         struct bl_output *output)
{
    static const char *const numbers[] = {"s", "u_s", "low_s", "high_s",
                                          "allowance_s"};
    const json_t *all = json_object_get(result->root, "before_after");
    const json_t *units = json_object_get(all, "units");
    const json_t *then = json_array_get(json_object_get(all, "visits"), 0);
    bl_output_text(output,
                   "date_then,unit,name,condition,kind,shape,figure,level_kpa,"
                   "then_s,u_then_s,now_s,u_now_s,difference_s,u_s,low_s,"
                   "high_s,allowance_s,confidence,p,p_all,verdict,reason");
    bl_csv_identity_head(result, output, false);
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        const json_t *rows = json_object_get(unit, "rows");
        for (size_t k = 0; k < json_array_size(rows); k++) {
            static const char *const texts[] = {"condition", "kind", "shape",
                                                "figure"};
            static const char *const sides[] = {"then", "now"};
            const json_t *row = json_array_get(rows, k);
            bl_csv_text(output, then, "date");
            bl_csv_text(output, unit, "unit");
            bl_csv_text(output, unit, "name");
            for (size_t n = 0; n < 4; n++) {
                bl_csv_text(output, row, texts[n]);
            }
            bl_csv_number(output, bl_tree_get_number(row, "kpa"));
            for (size_t n = 0; n < 2; n++) {
                const json_t *value = json_object_get(row, sides[n]);
                bl_csv_number(output, bl_tree_get_number(value, "s"));
                bl_csv_number(output, bl_tree_get_number(value, "u_s"));
            }
            for (size_t n = 0; n < 5; n++) {
                bl_csv_number(output, bl_tree_get_number(
                                          json_object_get(row, "difference"),
                                          numbers[n]));
            }
            bl_csv_number(output, bl_tree_get_number(all, "confidence"));
            bl_csv_number(output, bl_tree_get_number(row, "p"));
            bl_csv_number(output, bl_tree_get_number(row, "p_all"));
            bl_csv_text(output, row, "verdict");
            bl_csv_cell(output, bl_tree_get_text(row, "reason"));
            bl_csv_identity(result, output, bl_tree_get_text(unit, "unit"),
                            false);
        }
    }
}
