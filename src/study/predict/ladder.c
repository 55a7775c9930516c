/* SPDX-License-Identifier: MIT */
/*
 * The ladder: which pressure of the command a unit needs to brake by air. Every
 * valve that re-issues the control air keeps some of it, and what they keep
 * adds up towards the rear: unit k needs its own opening pressure, or what its
 * brakes need of its output, and all that the valves in front keep. Held
 * pressures against it. docs/methods/predict.md.
 */
#include "study/predict/predicting.h"

#include "base/alloc.h"
#include "base/number.h"
#include "lag/application.h"

#include <math.h>
#include <stdlib.h>

/* A shorter hold may end before a chain of units has come to rest: six units
   take up to two seconds, and the last tenths of a pressure longest. */
#define HOLD_LEAST_S 3.0
enum { AGREE_LEAST = 3, HOLDS_MOST = 64 };

static const enum bl_application_kind kinds[] = {BL_KIND_LIGHT, BL_KIND_SERVICE,
                                                 BL_KIND_FULL};

/* ---- what is needed */

/* Of the unit itself, at its coupling. */
static double own_need(const struct bl_chain_unit *unit, double brakes_kpa)
{
    return fmax(unit->relay.crack_kpa,
                unit->relay.differential_kpa + brakes_kpa / unit->relay.gain);
}

/* At the coupling of the first unit of the chain. */
static double front_need(const struct bl_chain_unit *chain, size_t unit,
                         double brakes_kpa)
{
    double need = own_need(&chain[unit], brakes_kpa);
    for (size_t u = unit; u > 0; u--) {
        const struct bl_chain_unit *front = &chain[u - 1];
        if (front->relays) {
            need = fmax(front->rear.crack_kpa,
                        need + front->rear.differential_kpa);
        }
    }
    return need;
}

/* The hardest application that was held: gains are read there. -1: none. */
static long hardest(const struct predicting *p)
{
    double most = 0;
    long at = -1;
    for (size_t a = 0; a < p->lag->applications; a++) {
        const struct bl_application *braking = &p->lag->application[a];
        const double kpa =
            bl_level_above(&braking->command_hold, &braking->command_rest);
        if (bl_predicting_usable(p, braking) && kpa > most) {
            most = kpa;
            at = (long)a;
        }
    }
    return at;
}

static void build(struct predicting *p, size_t units, long application,
                  bool relay_unknown)
{
    const struct bl_application *a =
        application < 0 ? NULL : &p->lag->application[application];
    double control =
        a == NULL ? NAN : bl_level_above(&a->command_hold, &a->command_rest);
    for (size_t i = 0; i < units; i++) {
        const size_t unit = p->first + 1 + i;
        const struct bl_asked asked = {
            control, a == NULL ? NAN : bl_predicting_held(a, unit)};
        const enum bl_control_line line = p->into->unit[unit].control_line;
        bl_inputs_build(&p->chain[i], &p->in[i], &p->values[i], &asked,
                        line == BL_CONTROL_LINE_UNKNOWN
                            ? relay_unknown
                            : line == BL_CONTROL_LINE_RELAYED);
        control = bl_inputs_behind(&p->chain[i], control);
    }
}

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;
    return (x > y) - (x < y);
}

static void set_needs(struct bl_ladder *ladder, double *need)
{
    const size_t n = BL_PREDICT_DRAWS;
    const size_t out = (size_t)(BL_PREDICT_OUTSIDE * (double)n);
    qsort(need, n, sizeof(*need), by_size);
    const double low = need[out];
    const double middle = (need[n / 2 - 1] + need[n / 2]) / 2;
    const double high = need[n - 1 - out];
    ladder->low_kpa = ladder->known ? fmin(ladder->low_kpa, low) : low;
    ladder->high_kpa = ladder->known ? fmax(ladder->high_kpa, high) : high;
    ladder->middle_kpa =
        ladder->known ? (ladder->middle_kpa + middle) / 2 : middle;
    ladder->known = true;
}

static void all_draws(struct predicting *p, size_t units, bool relay_unknown,
                      double *need)
{
    const long application = hardest(p);
    for (unsigned d = 0; d < BL_PREDICT_DRAWS; d++) {
        bl_inputs_draw(p->values, p->in, units, d);
        build(p, units, application, relay_unknown);
        for (size_t i = 0; i < units; i++) {
            need[i * BL_PREDICT_DRAWS + d] =
                front_need(p->chain, i, p->trial->brakes_at_kpa);
        }
    }
    for (size_t i = 0; i < units; i++) {
        set_needs(&p->into->unit[p->first + 1 + i].ladder,
                  &need[i * BL_PREDICT_DRAWS]);
    }
}

/* ---- what was compared with it */

static enum bl_answer braked(const struct bl_unit_lag *unit, double at_kpa)
{
    if (unit->responded != BL_YES) {
        return (unit->flags & BL_FLAG_NOT_VENTED) != 0 ? BL_UNKNOWN
                                                       : unit->responded;
    }
    const double kpa = bl_level_above(&unit->hold, &unit->rest);
    const double u = hypot(unit->hold.u, unit->rest.u);
    if (isnan(kpa)) {
        return BL_YES; /* a switch, which trips where brakes begin */
    }
    if (kpa - 2 * u > at_kpa) {
        return BL_YES;
    }
    return unit->hold_from == BL_HOLD_SETTLED && kpa + 2 * u < at_kpa
               ? BL_NO
               : BL_UNKNOWN;
}

static enum bl_ladder_verdict judge(const struct bl_ladder *ladder,
                                    enum bl_answer brakes, double kpa, double u,
                                    double held_s)
{
    if (brakes == BL_YES) {
        return BL_LADDER_BRAKES;
    }
    if (brakes == BL_NO && kpa + 2 * u < ladder->low_kpa) {
        return BL_LADDER_NOT_EXPECTED;
    }
    return brakes == BL_NO && kpa - 2 * u > ladder->high_kpa &&
                   held_s >= HOLD_LEAST_S
               ? BL_LADDER_DOES_NOT
               : BL_LADDER_CANNOT_TELL;
}

static enum bl_ladder_verdict together(const struct bl_ladder_row *row)
{
    if (row->count[BL_LADDER_DOES_NOT] >= AGREE_LEAST) {
        return BL_LADDER_DOES_NOT;
    }
    for (size_t v = 0; v < BL_LADDER_VERDICTS; v++) {
        if (row->count[v] == row->n) {
            return (enum bl_ladder_verdict)v;
        }
    }
    return BL_LADDER_CANNOT_TELL;
}

static void hold_against(const struct predicting *p, size_t unit,
                         enum bl_application_kind kind)
{
    struct bl_ladder *ladder = &p->into->unit[unit].ladder;
    struct bl_ladder_row row = {.kind = kind};
    double front[HOLDS_MOST];
    for (size_t i = 0; i < p->lag->applications && row.n < HOLDS_MOST; i++) {
        const struct bl_application *a = &p->lag->application[i];
        const struct bl_unit_lag *measured = bl_application_unit(a, unit);
        const double kpa = bl_level_above(&a->command_hold, &a->command_rest);
        if (a->kind != kind || !bl_predicting_usable(p, a) ||
            measured == NULL || isnan(kpa)) {
            continue;
        }
        const double u = hypot(a->command_hold.u, a->command_rest.u);
        const enum bl_answer brakes = braked(measured, p->trial->brakes_at_kpa);
        const double held_s = (double)(a->release_ns - a->apply_ns) * 1e-9;
        row.count[judge(ladder, brakes, kpa, u, held_s)]++;
        row.u_kpa = fmax(row.u_kpa, u);
        front[row.n++] = kpa;
    }
    if (row.n > 0) {
        row.front_kpa = bl_median(front, row.n);
        row.verdict = together(&row);
        ladder->row[ladder->rows++] = row;
    }
}

void bl_predict_ladder(struct predicting *p)
{
    const size_t units = p->units - 1; /* without the towing vehicle */
    const struct bl_trial_unit *front = &p->trial->unit[p->first];
    double *need = bl_alloc(units * BL_PREDICT_DRAWS + 1, sizeof(*need));
    if (need == NULL) {
        return; /* the caller asks for what was refused */
    }
    bool unknown = false;
    for (size_t i = 0; i < units; i++) {
        const size_t unit = p->first + 1 + i;
        bl_inputs_of(&p->in[i], p->trial, unit, NAN,
                     bl_predicting_gain(p, unit),
                     front->command_kind == BL_COMMAND_ELECTRONIC_DEMAND);
        unknown |= i + 1 < units &&
                   p->into->unit[unit].control_line == BL_CONTROL_LINE_UNKNOWN;
    }
    all_draws(p, units, true, need);
    if (unknown) {
        all_draws(p, units, false, need);
    }
    bl_free(need);
    for (size_t i = 0; i < units; i++) {
        for (size_t k = 0; k < sizeof(kinds) / sizeof(kinds[0]); k++) {
            hold_against(p, p->first + 1 + i, kinds[k]);
        }
    }
}
