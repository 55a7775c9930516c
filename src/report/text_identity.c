/* SPDX-License-Identifier: MIT */
/* Ids and labels of units, as the trial file states them. */
#include "report/text.h"

void bl_text_identity(struct bl_text *to)
{
    const json_t *units =
        json_object_get(json_object_get(to->root, "trial"), "units");
    for (size_t u = 0; u < json_array_size(units); u++) {
        const json_t *unit = json_array_get(units, u);
        const json_t *labels = json_object_get(unit, "labels");
        const char *id = bl_tree_get_text(unit, "id");
        const char *between = "";
        if (id[0] == '\0' && json_array_size(labels) == 0) {
            continue;
        }
        bl_output_format(to->output, "  %s: ", bl_text_called(to, unit));
        if (id[0] != '\0') {
            bl_output_text(to->output, "id ");
            bl_text_plain(to, id);
            between = ", ";
        }
        for (size_t i = 0; i < json_array_size(labels); i++) {
            const json_t *label = json_array_get(labels, i);
            bl_output_format(to->output, "%s%s ", between,
                             bl_tree_get_text(label, "label"));
            bl_text_plain(to, bl_tree_get_text(label, "value"));
            between = ", ";
        }
        bl_output_text(to->output, "\n");
    }
}
