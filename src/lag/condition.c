/* SPDX-License-Identifier: MIT */
/*
 * Does what was recorded agree with what the run declares of power and data?
 * Where it does not, the applications are measured, but excluded, so that no
 * comparison takes them for what they are not.
 */
#include "lag/condition.h"

static bool any_demand(const struct bl_run_data *data)
{
    for (size_t i = 0; i < data->series_count; i++) {
        if (data->series[i].signal->role == BL_ROLE_SERVICE_DEMAND &&
            data->series[i].steps.count > 0) {
            return true;
        }
    }
    return false;
}

static bool any_frames(const struct bl_run_data *data)
{
    for (size_t i = 0; i < data->recordings; i++) {
        if (data->recording[i].kind == BL_RECORDING_CAPTURE &&
            data->recording[i].frames > 0) {
            return true;
        }
    }
    return false;
}

const char *bl_lag_condition(const struct bl_trial *trial,
                             const struct bl_run_data *data)
{
    const struct bl_trial_run *run = &trial->run[data->run];
    const bool off = run->power == BL_STATED_OFF || run->data == BL_STATED_OFF;
    const bool on = run->power == BL_STATED_ON && run->data == BL_STATED_ON;
    if (off && any_demand(data)) {
        return "condition-not-met: the run is declared without power or data, "
               "but demand frames are there";
    }
    if (on && any_frames(data) && trial->tables != NULL &&
        bl_tables_by_role(trial->tables, BL_ROLE_SERVICE_DEMAND, NULL, 0) > 0 &&
        !any_demand(data)) {
        return "condition-not-met: the run is declared with power and data, "
               "but no demand frame is there";
    }
    return NULL;
}

enum bl_status bl_lag_refuse(struct bl_run_lag *lag, const char *why)
{
    for (size_t i = 0; i < lag->applications; i++) {
        if (!lag->application[i].excluded) {
            lag->application[i].excluded = true;
            lag->application[i].excluded_why = why;
        }
    }
    return bl_note(&lag->notes, "condition-not-met", -1, -1, "%s", why);
}
