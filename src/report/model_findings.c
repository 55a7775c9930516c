/* SPDX-License-Identifier: MIT */
/* Findings as a tree: what was found, what cannot be told, what was looked for
   and what could not be. */
#include "report/result.h"

#include <stdio.h>

void bl_model_run(struct bl_tree *tree, json_t *object,
                  const struct bl_trial *trial, long run)
{
    bl_tree_text(tree, object, "run",
                 run >= 0 && (size_t)run < trial->runs ? trial->run[run].name
                                                       : NULL);
}

static json_t *runs(struct bl_tree *tree, const struct bl_trial *trial,
                    const struct bl_finding *f)
{
    json_t *array = bl_tree_array(tree);
    if (f->run >= 0 && (size_t)f->run < trial->runs) {
        bl_tree_append_text(tree, array, trial->run[f->run].name);
    }
    for (size_t i = 0; i < f->alsos; i++) {
        bl_tree_append_text(tree, array, trial->run[f->also[i]].name);
    }
    return array;
}

json_t *bl_model_evidence(struct bl_tree *tree, const struct bl_trial *trial,
                          const struct bl_evidence *evidence, size_t count)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < count; i++) {
        const struct bl_evidence *e = &evidence[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "label", e->label);
        bl_tree_number(tree, object, "value", e->value);
        bl_tree_number(tree, object, "u", e->u);
        bl_tree_text(tree, object, "unit", e->unit);
        bl_model_run(tree, object, trial, e->run);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *one(struct bl_tree *tree, const struct bl_trial *trial,
                   const struct bl_finding *f)
{
    const struct bl_finding_kind *kind = bl_finding_kind(f->code);
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "code", kind->code);
    bl_tree_text(tree, object, "group", bl_finding_group_name(kind->group));
    bl_model_unit(tree, object, trial, (size_t)f->unit);
    bl_model_run(tree, object, trial, f->run);
    bl_tree_put(tree, object, "runs", runs(tree, trial, f));
    bl_tree_text(tree, object, "severity", bl_severity_name(f->severity));
    bl_tree_text(tree, object, "text", f->text);
    bl_tree_number(tree, object, "excess_over_u", f->ratio);
    if (f->judged > 0) {
        bl_tree_count(tree, object, "shown_in", f->fired);
        bl_tree_count(tree, object, "of", f->judged);
    } else { /* by medians, not application by application */
        bl_tree_put(tree, object, "shown_in", json_null());
        bl_tree_put(tree, object, "of", json_null());
    }
    bl_tree_put(tree, object, "evidence",
                bl_model_evidence(tree, trial, f->evidence, f->evidences));
    bl_tree_count(tree, object, "evidence_dropped", f->evidences_dropped);
    json_t *alike = bl_tree_array(tree);
    for (size_t i = 0; i < f->alikes; i++) {
        bl_tree_append_text(tree, alike, bl_finding_kind(f->alike[i])->code);
    }
    bl_tree_put(tree, object, "alike", alike);
    bl_tree_text(tree, object, "next_check", f->next_check);
    bl_tree_text(tree, object, "caution",
                 f->caution[0] == '\0' ? NULL : f->caution);
    return object;
}

enum bl_status bl_result_add_findings(struct bl_result *result,
                                      const struct bl_trial *trial,
                                      const struct bl_findings *findings,
                                      struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *found = bl_tree_array(tree);
    json_t *undecided = bl_tree_array(tree);
    for (size_t i = 0; i < findings->count; i++) {
        const struct bl_finding *f = &findings->item[i];
        bl_tree_append(tree, f->shown == BL_SHOWN_FOUND ? found : undecided,
                       one(tree, trial, f));
    }
    json_t *missing = bl_tree_array(tree);
    for (size_t i = 0; i < findings->missing_count; i++) {
        const struct bl_not_looked_for *missed = &findings->missing[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "code", bl_finding_kind(missed->code)->code);
        bl_model_unit(tree, object, trial, (size_t)missed->unit);
        bl_model_run(tree, object, trial, missed->run);
        bl_tree_text(tree, object, "needs", missed->needs);
        bl_tree_append(tree, missing, object);
    }
    json_t *looked = bl_tree_array(tree);
    for (int i = 0; i < BL_FINDINGS; i++) {
        if (findings->looked[i] > 0) {
            bl_tree_append_text(tree, looked,
                                bl_finding_kind((enum bl_finding_code)i)->code);
        }
    }
    bl_tree_put(tree, result->root, "findings", found);
    bl_tree_put(tree, result->root, "cannot_tell", undecided);
    bl_tree_put(tree, result->root, "looked_for", looked);
    bl_tree_put(tree, result->root, "not_looked_for", missing);
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
