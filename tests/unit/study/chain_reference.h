/* SPDX-License-Identifier: MIT */
/*
 * An independent computation of a chain: the method of characteristics, which
 * follows the two waves of a line from node to node, with couplings and valves
 * solved by bisection of ISO 6358 itself and chambers in steps of a tenth. It
 * shares no code with the library's staggered grid, only the parts of a chain
 * as they are given to both.
 */
#ifndef BRAKELAG_TESTS_CHAIN_REFERENCE_H
#define BRAKELAG_TESTS_CHAIN_REFERENCE_H

#include "chain_trains.h"

#define REF_DT 0.0005
#define REF_PER_STEP 4
#define REF_ATM 101325.0
#define REF_PI 3.14159265358979
enum { REF_NODES = 400, REF_PAST = 400, REF_SUB = 10 };

struct ref_line {
    size_t nodes, coupled; /* node with the coupling; nodes: none */
    double b, area, bore, c2, friction, end_m3, coupling;
    double p[REF_NODES], g[REF_NODES]; /* Pa absolute, kg/s */
    double behind;                     /* pressure behind the coupling */
    double travel, held;
    bool open;
    double past[REF_PAST]; /* of its end, newest at `at`, Pa gauge */
    size_t at;
};

struct ref_brake {
    bool open;
    double held, travel, p, tank; /* kPa gauge */
};

/* ISO 6358, kg/s; C in dm3/(s bar), pressures in Pa absolute. */
static inline double ref_flow(double c, double p1, double p2)
{
    if (p2 > p1) {
        return -ref_flow(c, p2, p1);
    }
    const double b = 0.3;
    const double r = p2 / p1;
    const double x = r > b ? (r - b) / (1 - b) : 0;
    return c * 1e-8 * 1.185 * p1 * sqrt(fmax(1 - x * x, 0));
}

/* R / G of the momentum equation: friction per flow. */
static inline double ref_drag(const struct ref_line *l, double p, double g)
{
    const double mu = 1.82e-5;
    const double re = fabs(g) * l->bore / (l->area * mu);
    const double laminar = 64 * mu * l->area / l->bore; /* f |G| */
    const double rough = re > 0 ? 0.3164 * pow(re, -0.25) * fabs(g) : 0;
    return l->friction * fmax(laminar, rough) * l->c2 /
           (2 * l->bore * l->area * p);
}

static inline void ref_lay(struct ref_line *l, const struct bl_chain *chain,
                           size_t u)
{
    const struct bl_chain_unit *unit = &chain->unit[u];
    memset(l, 0, sizeof(*l));
    l->bore = unit->bore_mm / 1000;
    l->area = REF_PI * l->bore * l->bore / 4;
    l->nodes = (size_t)(unit->pipe_m / (chain->wave_m_s * REF_DT) + 0.5) + 1;
    assert_true(l->nodes > 4 && l->nodes < REF_NODES);
    /* A wave travels one node a step: its speed is rounded by under 1 %. */
    const double speed = unit->pipe_m / ((double)(l->nodes - 1) * REF_DT);
    l->c2 = speed * speed;
    l->b = l->area / speed;
    l->friction = unit->friction;
    l->end_m3 = unit->branch_cm3 * 1e-6;
    l->coupling = unit->coupling_c;
    l->coupled = unit->coupling_c > 0 ? l->nodes / 2 : l->nodes;
    for (size_t i = 0; i < l->nodes; i++) {
        l->p[i] = REF_ATM;
    }
    l->behind = REF_ATM;
}

/* What arrives with a wave: g (1 + r dt) + sign b p = value. */
struct ref_wave {
    double value, one;
};

static inline struct ref_wave ref_wave(const struct ref_line *l, double p,
                                       double g, double sign)
{
    return (struct ref_wave){g + sign * l->b * p,
                             1 + ref_drag(l, p, g) * REF_DT};
}

/* Flow through a restriction between two ends that answer it: ahead falls and
   behind rises with the flow. */
static inline double ref_between(const struct ref_line *l, double c,
                                 const struct ref_wave *plus, double ahead,
                                 const struct ref_wave *minus)
{
    double low = -1;
    double high = 1;
    for (int i = 0; i < 60; i++) {
        const double g = (low + high) / 2;
        const double p1 =
            plus == NULL ? ahead : (plus->value - g * plus->one) / l->b;
        const double p2 = (g * minus->one - minus->value) / l->b;
        const bool less = p1 <= 0   ? false
                          : p2 <= 0 ? true
                                    : g < ref_flow(c, p1, p2);
        if (less) {
            low = g;
        } else {
            high = g;
        }
    }
    return (low + high) / 2;
}

static inline void ref_line_step(struct ref_line *l, double ahead_pa, double c)
{
    double p[REF_NODES];
    double g[REF_NODES];
    double behind = l->behind;
    const size_t last = l->nodes - 1;
    for (size_t i = 0; i <= last; i++) {
        /* A coupled node has two pressures; the wave to the rear leaves the
           one behind. */
        const double left_p = i == 0                ? 0
                              : i - 1 == l->coupled ? l->behind
                                                    : l->p[i - 1];
        const struct ref_wave plus = i == 0
                                         ? (struct ref_wave){0, 1}
                                         : ref_wave(l, left_p, l->g[i - 1], 1);
        const struct ref_wave minus =
            i == last ? (struct ref_wave){0, 1}
                      : ref_wave(l, l->p[i + 1], l->g[i + 1], -1);
        if (i == 0) {
            g[i] = ref_between(l, c, NULL, ahead_pa, &minus);
            p[i] = (g[i] * minus.one - minus.value) / l->b;
        } else if (i == last) {
            /* p = p0 + c2 dt g / V, g one + b p = plus. */
            const double k = l->c2 * REF_DT / (l->end_m3 + 1e-9);
            g[i] = (plus.value - l->b * l->p[i]) / (plus.one + l->b * k);
            p[i] = l->p[i] + k * g[i];
        } else if (i == l->coupled) {
            g[i] = ref_between(l, l->coupling, &plus, 0, &minus);
            p[i] = (plus.value - g[i] * plus.one) / l->b;
            behind = (g[i] * minus.one - minus.value) / l->b;
        } else {
            g[i] = (plus.value + minus.value) / (plus.one + minus.one);
            p[i] = (plus.value - g[i] * plus.one) / l->b;
        }
    }
    memcpy(l->p, p, l->nodes * sizeof(*p));
    memcpy(l->g, g, l->nodes * sizeof(*g));
    l->behind = behind;
    l->at = (l->at + 1) % REF_PAST;
    l->past[l->at] = l->p[last] - REF_ATM;
}

static inline double ref_past(const struct ref_line *l, double delay_s)
{
    const size_t back = (size_t)(delay_s / REF_DT + 0.5);
    assert_true(back < REF_PAST);
    return l->past[(l->at + REF_PAST - back) % REF_PAST] / 1000; /* kPa */
}

/* A relay valve: opens at its crack, keeps its differential, and holds while
   its control moves within the hysteresis. */
static inline double ref_relay(const struct bl_relay *v, bool *open,
                               double *held, double most, double control)
{
    if (control >= v->crack_kpa) {
        *open = true;
    } else if (control < v->crack_kpa - v->hysteresis_kpa) {
        *open = false;
    }
    if (!*open) {
        *held = 0;
        return 0;
    }
    const double up = v->gain * (control - v->differential_kpa);
    const double down = up + v->gain * v->hysteresis_kpa;
    *held = fmin(fmax(fmax(*held, up), 0), most);
    *held = fmax(fmin(*held, down), 0);
    return *held;
}

static inline double ref_travel(double now, double difference, double part)
{
    return difference > 0   ? fmin(fmax(now, 0) + part, 1)
           : difference < 0 ? fmax(fmin(now, 0) - part, -1)
                            : 0;
}

static inline void ref_brake_step(struct ref_brake *b,
                                  const struct bl_chain_unit *unit,
                                  double control)
{
    const double target =
        ref_relay(&unit->relay, &b->open, &b->held, b->tank, control);
    const struct bl_chamber *ch = &unit->chamber;
    b->travel = ref_travel(b->travel, target - b->p, REF_DT / unit->travel_s);
    for (int i = 0; i < REF_SUB; i++) {
        const double more = target - b->p;
        const double open = fmin(fabs(b->travel), fabs(more) / 15);
        const double here = b->p * 1000 + REF_ATM;
        const double q =
            open * (more > 0
                        ? ref_flow(unit->feed.c, b->tank * 1000 + REF_ATM, here)
                        : -ref_flow(unit->vent.c, here, REF_ATM));
        const double span = ch->stroked_kpa - ch->push_out_kpa;
        const double part = fmin(fmax((b->p - ch->push_out_kpa) / span, 0), 1);
        const double cm3 = ch->dead_cm3 + ch->stroke_cm3 * part;
        double grows = 0;
        if (part > 0 && part < 1) {
            grows = ch->exponent * here / 1000 * ch->stroke_cm3 / span;
        }
        const double rate = ch->exponent * 287.05 * 293.15 * q /
                            ((cm3 + grows) * 1e-6) / 1000; /* kPa/s */
        const double was = b->p;
        b->p += rate * REF_DT / REF_SUB;
        if (b->p > was && unit->reservoir_cm3 > 0) {
            b->tank -= (b->p - was) * cm3 / unit->reservoir_cm3;
        }
    }
}

/* Outputs at the library's steps; relayed at every unit but the last. */
static inline void ref_run(const struct chain_train *t, double *output)
{
    static struct ref_line line[TRAIN_UNITS];
    struct ref_brake brake[TRAIN_UNITS];
    const struct bl_chain *chain = &t->chain;
    for (size_t u = 0; u < t->units; u++) {
        ref_lay(&line[u], chain, u);
        brake[u] = (struct ref_brake){.tank = chain->unit[u].reservoir_kpa};
    }
    for (size_t n = 1; n < REF_PER_STEP * TRAIN_STEPS; n++) {
        const size_t i = n / REF_PER_STEP;
        const double part = (double)(n % REF_PER_STEP) / REF_PER_STEP;
        const double next = i + 1 < TRAIN_STEPS ? t->drive[i + 1] : t->drive[i];
        const double drive = t->drive[i] + part * (next - t->drive[i]);
        for (size_t u = 0; u < t->units; u++) {
            struct ref_line *l = &line[u];
            double ahead = drive;
            double c = chain->feed.c;
            if (u > 0) {
                const struct bl_chain_unit *from = &chain->unit[u - 1];
                ahead = ref_relay(&from->rear, &l->open, &l->held, 1e9,
                                  ref_past(&line[u - 1], from->rear_delay_s));
                const double more = ahead - (l->p[0] - REF_ATM) / 1000;
                const double way = REF_DT / from->rear_travel_s;
                const double wanted = fmin(fmax(more / 15, -1), 1);
                l->travel += fmin(fmax(wanted - l->travel, -way), way);
                c = from->rear_feed.c *
                    fmax(l->travel * (more < 0 ? -1 : 1), 0);
            }
            ref_line_step(l, ahead * 1000 + REF_ATM, c);
        }
        for (size_t u = 0; u < t->units; u++) {
            const struct bl_chain_unit *unit = &chain->unit[u];
            ref_brake_step(&brake[u], unit,
                           ref_past(&line[u], unit->delay_s + unit->hose_s));
            if (n % REF_PER_STEP == 0) {
                output[u * TRAIN_STEPS + i] = brake[u].p;
            }
        }
    }
}

#endif
