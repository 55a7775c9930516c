/* SPDX-License-Identifier: MIT */
/* One run: every unit's tracks, curves, light demands and losses. */
#include "lag/demand.h"
#include "study/characteristic/study.h"

#include "base/alloc.h"

#include <math.h>

/* The output that reaches least: the unit's figure is the least favourable. */
static void find_output(struct bl_study *study, size_t unit)
{
    const struct bl_trial_unit *u = &study->trial->unit[unit];
    double least = INFINITY;
    study->output_index[unit] = -1;
    study->output[unit] =
        (struct bl_track){.absent = BL_REASON_NO_CHANNEL, .u_delay_s = NAN};
    for (size_t i = 0; i < u->outputs; i++) {
        struct bl_track track;
        bl_track_find(&track, study->trial, study->data, study->clocks,
                      &u->output[i]);
        if (!track.present || track.is_state) {
            continue;
        }
        const struct bl_extent e =
            bl_track_extent(&track, track.first_ns, track.last_ns);
        if (e.known && e.largest < least) {
            least = e.largest;
            study->output[unit] = track;
            study->output_index[unit] = (long)i;
        }
    }
}

static enum bl_status find_tracks(struct bl_study *study,
                                  struct bl_error *error)
{
    for (size_t i = 0; i < study->units; i++) {
        const struct bl_trial_unit *u = &study->trial->unit[i];
        bl_track_find(&study->control[i], study->trial, study->data,
                      study->clocks, &u->control);
        bl_track_find(&study->control_out[i], study->trial, study->data,
                      study->clocks, &u->control_out);
        study->demand[i] = (struct bl_track){.absent = BL_REASON_NO_CHANNEL};
        const struct bl_bus_series *series = NULL;
        const enum bl_status status =
            bl_demand_series(&series, study->trial, study->data, i, error);
        if (status != BL_OK) {
            return status;
        }
        if (series != NULL) {
            bl_track_series(&study->demand[i], study->data, study->clocks,
                            series);
        }
        find_output(study, i);
    }
    return BL_OK;
}

static enum bl_status fill(struct bl_characteristics *all,
                           struct bl_study *study, struct bl_error *error)
{
    enum bl_status status = find_tracks(study, error);
    for (size_t i = 0; status == BL_OK && i < study->units; i++) {
        /* Only a unit with an output has a curve. */
        if (study->trial->unit[i].number > 0 &&
            study->trial->unit[i].outputs > 0) {
            status = bl_study_unit(&all->item[all->count++], study, i, error);
        }
    }
    if (status == BL_OK) {
        status = bl_study_light(all, study, error);
    }
    return status == BL_OK ? bl_study_loss(all, study, error) : status;
}

enum bl_status bl_characteristic_run(struct bl_characteristics **out,
                                     const struct bl_trial *trial,
                                     const struct bl_run_data *data,
                                     const struct bl_run_clocks *clocks,
                                     const struct bl_run_lag *lag,
                                     struct bl_error *error)
{
    const size_t n = trial->units;
    *out = NULL;
    const uint64_t refused = bl_alloc_refused();
    struct bl_characteristics *all = bl_alloc(1, sizeof(*all));
    struct bl_study study = {
        .trial = trial, .data = data, .clocks = clocks, .lag = lag, .units = n};
    study.control = bl_alloc(n, sizeof(*study.control));
    study.control_out = bl_alloc(n, sizeof(*study.control_out));
    study.demand = bl_alloc(n, sizeof(*study.demand));
    study.output = bl_alloc(n, sizeof(*study.output));
    study.output_index = bl_alloc(n, sizeof(*study.output_index));
    enum bl_status status = BL_NOMEM;
    if (all != NULL) {
        all->run = data->run;
        all->item = bl_alloc(n, sizeof(*all->item));
    }
    if (all == NULL || all->item == NULL || study.control == NULL ||
        study.control_out == NULL || study.demand == NULL ||
        study.output == NULL || study.output_index == NULL) {
        (void)bl_fail_memory(error);
    } else {
        status = fill(all, &study, error);
    }
    if (status == BL_OK && bl_alloc_refused() != refused) {
        status = bl_fail_memory(error);
    }
    bl_free(study.control);
    bl_free(study.control_out);
    bl_free(study.demand);
    bl_free(study.output);
    bl_free(study.output_index);
    if (status != BL_OK) {
        bl_characteristics_destroy(all);
        return status;
    }
    *out = all;
    return BL_OK;
}

void bl_characteristics_destroy(struct bl_characteristics *all)
{
    if (all == NULL) {
        return;
    }
    for (size_t i = 0; i < all->count; i++) {
        bl_free(all->item[i].candidate);
        bl_free(all->item[i].curve[0].seen);
        bl_free(all->item[i].curve[1].seen);
    }
    for (size_t i = 0; i < all->lights; i++) {
        bl_free(all->light[i].unit);
    }
    bl_free(all->item);
    bl_free(all->light);
    bl_free(all->loss);
    bl_notes_finish(&all->notes);
    bl_free(all);
}
