/* SPDX-License-Identifier: MIT */
/*
 * Plant A of first visits: dead times and first-order lags. A stage of the
 * chain is a dead time with a small lag; a unit is a dead time, an offset that
 * its valve keeps (its opening pressure) and a first-order filling with a time
 * constant for each way. Delay and first order is what published full-scale
 * timing reports fit; no number here is taken from the library.
 */
#ifndef BRAKELAG_TESTS_FIRST_VISIT_A_H
#define BRAKELAG_TESTS_FIRST_VISIT_A_H

#include "first_visit.h"

enum { A_STEPS = 5 }; /* of simulation a row */

struct a_unit {
    double stage_s, stage_back_s, stage_lag_s; /* from the unit in front */
    double loss;                               /* share lost on the way */
    double dead_s, dead_back_s, fill_s, fall_s, opens_kpa, gain;
    double leak_kpa_s, stays_kpa;
    double hunts_kpa, hunts_hz; /* to each side */
    double tears_kpa_s, keeps_kpa;
    bool crossed; /* control has what supply should */
    bool none, none_by_air, by_air_always;
    double zero_kpa[2], told_gain[2]; /* of its output and control channel */
};

static inline double a_like(struct visit *v, double base)
{
    return base * visit_uniform(v, 0.875, 1.125); /* within a quarter */
}

static inline void a_draw(struct visit *v, struct a_unit *unit)
{
    const double stage_s = visit_uniform(v, 0.08, 0.3);
    const double back = visit_uniform(v, 0.8, 1.2);
    const double dead_s = visit_uniform(v, 0.02, 0.06);
    const double fill_s = visit_uniform(v, 0.05, 0.16);
    const double fall_s = visit_uniform(v, 0.08, 0.2);
    const double opens_kpa = visit_uniform(v, 20, 45);
    for (size_t u = 0; u <= v->towed; u++) {
        struct a_unit *is = &unit[u];
        *is = (struct a_unit){.stage_s = a_like(v, stage_s),
                              .stage_back_s = a_like(v, stage_s * back),
                              .stage_lag_s = a_like(v, 0.2 * stage_s),
                              .dead_s = a_like(v, dead_s),
                              .dead_back_s = a_like(v, dead_s),
                              .fill_s = a_like(v, fill_s),
                              .fall_s = a_like(v, fall_s),
                              .opens_kpa = a_like(v, opens_kpa),
                              .gain = visit_uniform(v, 0.985, 1.015)};
        if (u == 0) {
            is->stage_s = is->stage_back_s = 0.005;
            is->stage_lag_s = 0.002;
        }
        v->pipe_m[u] = 12 * is->stage_s / stage_s;
        for (size_t k = 0; k < 2; k++) {
            is->zero_kpa[k] = 2 * visit_normal(v);
            is->told_gain[k] = 1 + 0.004 * visit_normal(v);
        }
    }
}

static inline void a_break(struct visit *v, struct a_unit *unit)
{
    struct a_unit *is = &unit[v->at];
    const double late_s = 0.10 * v->size;
    switch (v->fault) {
    case VISIT_LATE_APPLY:
        is->dead_s += late_s;
        break;
    case VISIT_LATE_RELEASE:
        is->dead_back_s += late_s;
        break;
    case VISIT_SLOW_FILL: /* to 75 % it is 1.39 time constants */
        is->fill_s += late_s / 1.35;
        break;
    case VISIT_SLOW_RELEASE: /* from 90 to 10 % it is 2.2 of them */
        is->fall_s += late_s / 2.1;
        break;
    case VISIT_HOSE:
        is->fill_s += late_s / 1.35;
        is->fall_s += late_s / 1.35;
        break;
    case VISIT_LOW_HOLD:
        is->gain *= 1 - 0.15 * v->size;
        break;
    case VISIT_HIGH_HOLD:
        is->gain *= 1 + 0.15 * v->size;
        break;
    case VISIT_HIGH_OPENING:
        is->opens_kpa += 30 * v->size;
        break;
    case VISIT_NO_OUTPUT:
        is->none = true;
        break;
    case VISIT_NO_AIR:
        is->none_by_air = true;
        break;
    case VISIT_LEAK: /* holds of 3 s; 10 kPa is what counts as falling */
        is->leak_kpa_s = 10 * v->size / 2;
        break;
    case VISIT_STAYS:
        is->stays_kpa = 10 * v->size;
        break;
    case VISIT_HUNTS: /* 30 kPa from turn to turn is what counts */
        is->hunts_kpa = 15 * v->size;
        is->hunts_hz = visit_uniform(v, 1, 4);
        break;
    case VISIT_DIAPHRAGM: /* of 10 kPa in the last 1.2 s of a hold */
        is->tears_kpa_s = 10 * v->size / 1.1;
        break;
    case VISIT_CROSSED: /* from there on */
        is->crossed = true;
        break;
    case VISIT_KEEPS: /* 30 kPa count, as of an opening pressure */
        is->keeps_kpa = 30 * v->size;
        break;
    case VISIT_LINE:
    case VISIT_LINE_BACK:
        is->stage_s += v->fault == VISIT_LINE ? late_s : 0;
        is->stage_back_s += late_s;
        break;
    case VISIT_LINE_LOSS:
        is->loss = 0.15 * v->size;
        break;
    case VISIT_IGNORED:
        is->by_air_always = true;
        break;
    case VISIT_MISSING:
        for (size_t u = v->at; u <= v->towed; u++) {
            unit[u].by_air_always = true;
        }
        break;
    case VISIT_SOUND:
    case VISIT_SWAP_OUTPUTS:
    case VISIT_SWAP_TEE:
    case VISIT_SWAP_CONTROLS:
    case VISIT_SWAP_UNITS:
    case VISIT_PARK:
    case VISIT_INTERLOCK:
    case VISIT_FILTER:
    case VISIT_FAULTS:
        break;
    }
}

/* Five full and three light applications, of 3 s, every 7 s. */
static inline double a_pedal(struct visit *v, double s, double light_kpa,
                             double rise_s)
{
    static const bool light[] = {false, true,  false, false,
                                 true,  false, true,  false};
    (void)v;
    const int n = s < 2 ? -1 : (int)((s - 2) / 7);
    const double in = s - 2 - 7 * n;
    if (n < 0 || n > 7 || in > 3.15) {
        return 0;
    }
    const double kpa = light[n] ? light_kpa : 650;
    return in < rise_s ? kpa * in / rise_s
           : in > 3    ? kpa * (3.15 - in) / 0.15
                       : kpa;
}

static inline double a_past(const double *past, size_t i, double s)
{
    const size_t back = (size_t)(s * VISIT_RATE * A_STEPS + 0.5);
    return i < back ? 0 : past[i - back];
}

static inline float a_told(struct visit *v, const struct a_unit *is, size_t k,
                           double kpa)
{
    return (float)(is->told_gain[k] * kpa + is->zero_kpa[k] +
                   0.8 * visit_normal(v));
}

/* A rise comes up_s later, a fall down_s later; `past` rises, then falls. */
static inline double a_delayed(const double *past, size_t i, double up_s,
                               double down_s)
{
    const double up = a_past(past, i, up_s);
    const double down = a_past(past, i, down_s);
    return up_s < down_s ? fmax(up, down) : fmin(up, down);
}

/* One unit of one run. */
struct a_air {
    const double *pedal, *front; /* front: what its line gets */
    double *made; /* what it passes on, the air at its own coupling */
};

/* Behind crossed lines all are. */
static inline void a_cross(const struct visit *v, struct a_unit *unit)
{
    for (size_t u = v->at; v->fault == VISIT_CROSSED && u <= v->towed; u++) {
        unit[u].crossed = unit[u].none = true;
    }
}

static inline void a_one(struct visit *v, size_t run, size_t u,
                         const struct a_unit *is, const struct a_air *air_in)
{
    const double *pedal = air_in->pedal;
    const double *front = air_in->front;
    double *made = air_in->made;
    const size_t steps = v->rows * A_STEPS;
    const double dt = 1.0 / (VISIT_RATE * A_STEPS);
    const bool electric = run == 0 && !is->by_air_always && u > 0;
    const double bus_s = electric ? 0.02 + v->hop_s * (double)u : 0;
    double air = 0;
    double out = 0;
    double leaked = 0;
    double before = 0;
    double reservoir = 800;
    for (size_t i = 0; i < steps; i++) {
        const double passed =
            (1 - is->loss) * a_delayed(front, i, is->stage_s, is->stage_back_s);
        const double in = fmax(0, passed - is->keeps_kpa);
        air += (in - air) * dt / (is->stage_lag_s + dt);
        made[i] = air;
        double want = a_delayed(electric ? pedal : made, i, bus_s + is->dead_s,
                                bus_s + is->dead_back_s);
        want = is->none || (is->none_by_air && !electric)
                   ? 0
                   : is->gain * fmax(0, want - is->opens_kpa);
        out +=
            (want - out) * dt / ((want > out ? is->fill_s : is->fall_s) + dt);
        leaked =
            want > 30 && want > 0.9 * out ? leaked + is->leak_kpa_s * dt : 0;
        const double stays = (double)i * dt > 5 ? is->stays_kpa : 0;
        const double swing =
            out > 60
                ? is->hunts_kpa * sin(6.2831853 * is->hunts_hz * (double)i * dt)
                : 0;
        /* A chamber takes a fifteenth of what it holds from the reservoir. */
        reservoir += (800 - reservoir) * dt / 20 - fmax(0, out - before) / 15 -
                     (out > 60 ? is->tears_kpa_s * dt : 0);
        before = out;
        const double parked =
            visit_parks(v, u, (double)i * dt) ? 40 * v->size : 0;
        if (i % A_STEPS == 0) {
            v->output[run][u][i / A_STEPS] = a_told(
                v, is, 0,
                fmax(fmax(0, out - leaked + swing), fmax(stays, parked)));
            v->control[run][u][i / A_STEPS] =
                a_told(v, is, 1, is->crossed ? 760 : air);
            v->reservoir[run][u][i / A_STEPS] =
                a_told(v, is, 1, is->crossed ? passed : reservoir);
        }
    }
}

static inline void visit_plant_a(struct visit *v)
{
    struct a_unit unit[VISIT_TOWED + 1];
    const size_t steps = v->rows * A_STEPS;
    double *pedal = calloc(steps, sizeof(double));
    double *line[2] = {calloc(steps, sizeof(double)),
                       calloc(steps, sizeof(double))};
    a_draw(v, unit);
    /* Where the air comes early it cannot be told whether it was followed. */
    const bool needs_room =
        v->fault == VISIT_IGNORED || v->fault == VISIT_MISSING;
    while (needs_room && v->at < v->towed &&
           (double)v->at * unit[1].stage_s < 0.17) {
        v->at++;
    }
    a_break(v, unit);
    /* Behind a blocked filter the first air comes nearly in time. */
    unit[v->at].stage_lag_s += v->fault == VISIT_FILTER ? 0.10 * v->size : 0;
    a_cross(v, unit);
    for (size_t run = 0; run < VISIT_RUNS; run++) {
        const double drawn_kpa = visit_uniform(v, 130, 148);
        const double light_kpa = v->light_kpa > 0 ? v->light_kpa : drawn_kpa;
        const double rise_s = visit_uniform(v, 0.12, 0.25);
        for (size_t i = 0; i < steps; i++) {
            const double s = (double)i / (VISIT_RATE * A_STEPS);
            pedal[i] = a_pedal(v, s, light_kpa, rise_s);
            if (i % A_STEPS == 0) {
                v->pedal[run][i / A_STEPS] =
                    (float)(pedal[i] + 0.8 * visit_normal(v));
            }
        }
        memcpy(line[0], pedal, steps * sizeof(double));
        for (size_t u = 0; u <= v->towed; u++) {
            const struct a_air air = {pedal, line[u % 2], line[1 - u % 2]};
            a_one(v, run, u, &unit[u], &air);
        }
    }
    free(pedal);
    free(line[0]);
    free(line[1]);
}

#endif
