/* SPDX-License-Identifier: MIT */
#include "study/compare/values.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "lag/summary.h"

#include <math.h>
#include <string.h>

bool bl_run_has_condition(const struct bl_trial *trial, size_t run,
                          const char *condition)
{
    const struct bl_trial_run *r = &trial->run[run];
    return condition == NULL ||
           strcmp(r->condition == NULL ? r->name : r->condition, condition) ==
               0;
}

/* When the command itself was as far, if it tells. */
static void own_times(struct bl_value_of_run *value,
                      const struct bl_application *application,
                      enum bl_figure_name name)
{
    const struct bl_figure *own = &application->own[name];
    const struct bl_figure *half =
        bl_figure_entry(name)->side == BL_SIDE_RELEASE
            ? &application->own_half_fall
            : &application->own_half_rise;
    value->own_s = own->known ? own->s : NAN;
    value->half_s = half->known ? half->s : NAN;
}

static enum bl_status add(struct bl_values *values,
                          const struct bl_figure *figure,
                          const struct bl_value_of_run *where,
                          struct bl_error *error)
{
    if (!bl_grow(&values->item, &values->capacity, values->count + 1,
                 sizeof(*values->item), BL_LIMIT_APPLICATIONS)) {
        return bl_fail_memory(error);
    }
    const struct bl_uncertainty *part = &figure->part;
    const double clock = isnan(part->clock) ? 0 : part->clock;
    const bool sound = bl_figure_sound(figure);
    struct bl_value_of_run value = *where;
    value.s = figure->s;
    /* What damage may have done to it does not average out. */
    value.u_clock_s = sound ? clock : hypot(clock, figure->u_s);
    value.u_read_s =
        hypot(isnan(part->crossing) ? 0 : part->crossing,
              hypot(isnan(part->sampling) ? 0 : part->sampling,
                    isnan(part->resolution) ? 0 : part->resolution));
    value.flags = figure->flags;
    value.sound = sound;
    values->item[values->count++] = value;
    return BL_OK;
}

static enum bl_status collect_run(struct bl_values *values,
                                  const struct bl_run_lag *lag, size_t run,
                                  const struct bl_values_wanted *wanted,
                                  struct bl_error *error)
{
    int order = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        if (application->excluded ||
            (!wanted->any_kind && (application->kind != wanted->kind ||
                                   application->shape != wanted->shape))) {
            continue;
        }
        for (size_t u = 0; u < application->units; u++) {
            const struct bl_unit_lag *unit = &application->unit[u];
            if (unit->unit != wanted->unit) {
                continue;
            }
            const struct bl_figure *figure =
                bl_unit_figure(unit, wanted->figure, wanted->level);
            if (!figure->known) {
                values->null++;
                order++;
                continue;
            }
            struct bl_value_of_run where = {
                .run = run, .number = application->number, .order = order};
            order++;
            own_times(&where, application, wanted->figure);
            const enum bl_status status = add(values, figure, &where, error);
            if (status != BL_OK) {
                return status;
            }
        }
    }
    return BL_OK;
}

/* Where some values are sound, those read near damage count as not given. */
static void keep_sound(struct bl_values *values)
{
    size_t sound = 0;
    for (size_t i = 0; i < values->count; i++) {
        sound += values->item[i].sound;
    }
    size_t kept = 0;
    for (size_t i = 0; i < values->count; i++) {
        if (sound == 0 || values->item[i].sound) {
            values->flags |= values->item[i].flags;
            values->item[kept++] = values->item[i];
        }
    }
    values->null += values->count - kept;
    values->count = kept;
}

enum bl_status
bl_values_collect(struct bl_values *values, const struct bl_trial *trial,
                  struct bl_run_lag *const *lag, const char *condition,
                  const struct bl_values_wanted *wanted, struct bl_error *error)
{
    *values = (struct bl_values){0};
    for (size_t run = 0; run < trial->runs; run++) {
        if (lag[run] == NULL || !bl_run_has_condition(trial, run, condition) ||
            (wanted->except != NULL &&
             bl_run_has_condition(trial, run, wanted->except))) {
            continue;
        }
        const enum bl_status status =
            collect_run(values, lag[run], run, wanted, error);
        if (status != BL_OK) {
            bl_values_finish(values);
            return status;
        }
    }
    keep_sound(values);
    return BL_OK;
}

void bl_values_finish(struct bl_values *values)
{
    bl_free(values->item);
    *values = (struct bl_values){0};
}
