/* SPDX-License-Identifier: MIT */
/* Which inputs of a trial are doubled, and their values side by side. */
#include "brakelag/transducers.h"
#include "study/transducers/pair.h"

#include "base/alloc.h"
#include "lag/demand.h"
#include "lag/track.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct context {
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
};

static bool tied(const struct bl_track *a, const struct bl_track *b)
{
    return a->recording == b->recording ||
           (a->tie->claim != BL_CLAIM_NONE && b->tie->claim != BL_CLAIM_NONE &&
            a->tie->claim != BL_CLAIM_AMBIGUOUS &&
            b->tie->claim != BL_CLAIM_AMBIGUOUS);
}

static enum bl_status
side_by_side(struct bl_transducer_pair *out, const struct context *c,
             const struct bl_track *a, const struct bl_track *b,
             const struct bl_track *demand, struct bl_error *error)
{
    const struct bl_samples *s = a->samples;
    double *room = bl_alloc(4 * (s->count + 1), sizeof(*room));
    if (room == NULL) {
        return bl_fail_memory(error);
    }
    double *t = room, *x = room + s->count, *y = room + 2 * s->count,
           *w = room + 3 * s->count;
    const bool same = b->samples->time_ns == s->time_ns;
    for (size_t i = 0; i < s->count; i++) {
        const int64_t run_ns = bl_track_run(a, s->time_ns[i]);
        t[i] = (double)(run_ns - c->clocks->t0_ns) * 1e-9;
        x[i] = s->value[i];
        y[i] = same ? b->samples->value[i] : bl_track_value(b, run_ns);
        w[i] = demand->present ? bl_track_value(demand, run_ns) : NAN;
    }
    struct bl_pair_rules rules = bl_pair_rules_default();
    rules.u_zero_a = a->channel->u_zero;
    rules.u_zero_b = b->channel->u_zero;
    out->zero_stated = !isnan(rules.u_zero_a) && !isnan(rules.u_zero_b);
    const enum bl_status status =
        bl_pair_compare(&out->pair,
                        &(const struct bl_pair_samples){
                            t, x, y, demand->present ? w : NULL, s->count},
                        &rules, error);
    if (out->by_output && out->pair.stuck == BL_SIDE_UNKNOWN) {
        /* Gain and lag of the unit lie between: no witness of values. */
        out->pair.wrong = BL_SIDE_UNKNOWN;
        out->pair.wrong_by = NULL;
    }
    bl_free(room);
    return status;
}

/* Where nothing moved for long, a log keeps means of blocks of rows: they tell
   whether the two stood apart all the while. */
static void add_quiet(struct bl_pair *pair, const struct bl_channel_series *a,
                      const struct bl_channel_series *b)
{
    const struct bl_pair_rules rules = bl_pair_rules_default();
    if (a == NULL || b == NULL || a->recording != b->recording) {
        return;
    }
    for (size_t i = 0; i < a->quiets; i++) {
        const double low = (double)a->quiet[i].mean;
        const double high = (double)b->quiet[i].mean;
        if (isnan(low) || isnan(high)) {
            pair->missing += a->quiet_rows[i].rows;
            continue;
        }
        pair->samples += a->quiet_rows[i].rows;
        const double apart = fabs(high - low);
        if (apart >
            fmax(rules.tolerance_kpa,
                 rules.tolerance_fraction * fmax(fabs(low), fabs(high)))) {
            pair->disagree_s +=
                (double)(a->quiet_rows[i].last_ns - a->quiet_rows[i].first_ns) *
                1e-9;
            pair->largest = fmax(pair->largest, apart);
        }
    }
}

/* Without a demand the output tells which of the two the unit follows. */
static bool output_of(const struct context *c, size_t unit,
                      const struct bl_track *a, struct bl_track *out)
{
    const struct bl_trial_unit *vehicle = &c->trial->unit[unit];
    for (size_t i = 0; i < vehicle->outputs; i++) {
        bl_track_find(out, c->trial, c->data, c->clocks, &vehicle->output[i]);
        if (out->present && !out->is_state && out->samples != NULL &&
            out->quantity == BL_QUANTITY_PRESSURE && tied(a, out)) {
            return true;
        }
    }
    *out = (struct bl_track){.present = false};
    return false;
}

static enum bl_status compare_inputs(struct bl_transducer_pair *out,
                                     const struct context *c, size_t unit,
                                     const struct bl_trial_input *first,
                                     const struct bl_trial_input *second,
                                     struct bl_error *error)
{
    struct bl_track a, b;
    struct bl_track demand = {.present = false};
    out->unit = unit;
    snprintf(out->a, sizeof(out->a), "%s", first->text);
    snprintf(out->b, sizeof(out->b), "%s", second->text);
    bl_track_find(&a, c->trial, c->data, c->clocks, first);
    bl_track_find(&b, c->trial, c->data, c->clocks, second);
    if (!a.present || !b.present || a.samples == NULL || b.samples == NULL ||
        a.is_state || b.is_state || !tied(&a, &b)) {
        return BL_OK;
    }
    const struct bl_bus_series *series = NULL;
    const enum bl_status status =
        bl_demand_series(&series, c->trial, c->data, unit, error);
    if (status != BL_OK) {
        return status;
    }
    if (series != NULL) {
        bl_track_series(&demand, c->data, c->clocks, series);
        demand.present = demand.present && tied(&a, &demand);
    }
    if (!demand.present && first == &c->trial->unit[unit].control) {
        out->by_output = output_of(c, unit, &a, &demand);
    }
    out->known = true;
    const enum bl_status compared =
        side_by_side(out, c, &a, &b, &demand, error);
    if (compared == BL_OK && first->kind == BL_INPUT_CHANNEL &&
        second->kind == BL_INPUT_CHANNEL) {
        add_quiet(&out->pair, bl_run_channel(c->data, first->channel),
                  bl_run_channel(c->data, second->channel));
    }
    return compared;
}

/* "front_b" doubles "front". */
static bool doubles(const char *label, const char *second)
{
    const size_t length = label == NULL ? 0 : strlen(label);
    return second != NULL && label != NULL &&
           strncmp(label, second, length) == 0 &&
           strcmp(second + length, "_b") == 0;
}

static enum bl_status unit_pairs(struct bl_transducers *all,
                                 const struct context *c, size_t unit,
                                 struct bl_error *error)
{
    const struct bl_trial_unit *u = &c->trial->unit[unit];
    enum bl_status status = BL_OK;
    if (u->control.kind != BL_INPUT_NONE &&
        u->control_b.kind != BL_INPUT_NONE) {
        status = compare_inputs(&all->item[all->count++], c, unit, &u->control,
                                &u->control_b, error);
    }
    for (size_t i = 0; status == BL_OK && i < u->outputs; i++) {
        for (size_t k = 0; status == BL_OK && k < u->outputs; k++) {
            if (doubles(u->output[i].label, u->output[k].label)) {
                status = compare_inputs(&all->item[all->count++], c, unit,
                                        &u->output[i], &u->output[k], error);
            }
        }
    }
    return status;
}

enum bl_status bl_transducers_run(struct bl_transducers **out,
                                  const struct bl_trial *trial,
                                  const struct bl_run_data *data,
                                  const struct bl_run_clocks *clocks,
                                  struct bl_error *error)
{
    *out = NULL;
    const uint64_t refused = bl_alloc_refused();
    size_t most = 0;
    for (size_t i = 0; i < trial->units; i++) {
        most += 1 + trial->unit[i].outputs;
    }
    struct bl_transducers *all = bl_alloc(1, sizeof(*all));
    if (all == NULL) {
        return bl_fail_memory(error);
    }
    all->run = data->run;
    all->item = bl_alloc(most, sizeof(*all->item));
    enum bl_status status = all->item == NULL ? bl_fail_memory(error) : BL_OK;
    const struct context c = {trial, data, clocks};
    for (size_t i = 0; status == BL_OK && i < trial->units; i++) {
        status = unit_pairs(all, &c, i, error);
    }
    if (status == BL_OK && bl_alloc_refused() != refused) {
        status = bl_fail_memory(error);
    }
    if (status != BL_OK) {
        bl_transducers_destroy(all);
        return status;
    }
    *out = all;
    return BL_OK;
}

void bl_transducers_destroy(struct bl_transducers *all)
{
    if (all != NULL) {
        bl_free(all->item);
        bl_free(all);
    }
}
