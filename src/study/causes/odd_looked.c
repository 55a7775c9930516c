/* SPDX-License-Identifier: MIT */
/* Which causes were looked for by comparing units with each other, and where.
 */
#include "study/causes/traits/rows.h"
#include "study/findings/fill.h"

/* Was the trait that the row begins with compared with the others in this run?
 */
static bool held(const struct bl_causing *c, const struct bl_cause_row *row,
                 size_t unit, size_t run)
{
    for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
        const struct bl_trait_cell *cell = bl_trait_at(
            c->traits, run, unit, g, (enum bl_trait)row->sign[0].trait);
        if (cell->n > 0 && cell->reference[BL_REFERENCE_OTHERS].known) {
            return true;
        }
    }
    return false;
}

/* What was compared with the others was looked for. */
void bl_causes_odd_looked(struct bl_causing *c)
{
    size_t count = 0;
    const struct bl_cause_row *row = bl_cause_rows(&count);
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; c->run[r].lag != NULL && u < c->trial->units; u++) {
            for (size_t i = 0; i < count; i++) {
                if (held(c, &row[i], u, r) &&
                    !bl_line_is_open(c, r, u, row[i].code)) {
                    bl_findings_looked(c->into, row[i].code, (long)u, (long)r);
                }
            }
        }
    }
}
