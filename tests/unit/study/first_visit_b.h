/* SPDX-License-Identifier: MIT */
/*
 * Plant B of first visits: volumes behind restrictions. A chamber is a volume
 * that fills and empties through an opening whose flow saturates (choked above
 * a pressure ratio, a root below it); a valve opens at its opening pressure and
 * then follows one to one; a line is a transport time and two volumes. The foot
 * follows a smooth curve. Sound units scatter by a triangular law within 25 %.
 * Nothing of plant A is in it but what the two are asked for (first_visit.h).
 */
#ifndef BRAKELAG_TESTS_FIRST_VISIT_B_H
#define BRAKELAG_TESTS_FIRST_VISIT_B_H

#include "first_visit.h"

enum { B_SUB = 10, B_RATE = VISIT_RATE * B_SUB };

struct b_part {
    double travel_s[2];    /* of a line, for rise and fall */
    double volume_s;       /* of each of its two volumes */
    double leak;           /* share of its pressure that is lost */
    double switch_s[2];    /* of the unit's valve */
    double inlet, exhaust; /* full flow, kPa/s at 800 kPa of difference */
    double opens_kpa, ratio, seep_kpa_s, rest_kpa;
    bool dead[2];              /* no output: with the demand, by air */
    bool deaf;                 /* the demand is not used */
    double hunts_kpa, hunts_s; /* from turn to turn */
    double tears, kept_kpa;    /* share of the chamber's pressure a second */
    bool crossed;
    double shift_kpa, steeper;
};

static inline double b_near(struct visit *v, double middle)
{
    const double a = visit_uniform(v, -0.125, 0.125);
    return middle * (1 + a + visit_uniform(v, -0.125, 0.125)); /* triangle */
}

/* Flow through an opening: choked below half of the pressure in front
   (absolute), a root between there and balance. */
static inline double b_flow(double from_kpa, double to_kpa)
{
    const double high = fmax(from_kpa, to_kpa) + 100;
    const double share = (fmin(from_kpa, to_kpa) + 100) / high;
    const double flow =
        share < 0.5 ? high : high * 2 * sqrt(fmax(0, share * (1 - share)));
    return from_kpa > to_kpa ? flow : -flow;
}

/* Time to 75 % for a full step through an inlet of that flow, by trying. */
static inline double b_fill_s(double inlet)
{
    double p = 0;
    int n = 0;
    for (; p < 0.75 * 600 && n < 100000; n++) {
        p += inlet * b_flow(600, p) / 800 / B_RATE;
    }
    return (double)n / B_RATE;
}

static inline double b_fall_s(double exhaust)
{
    double p = 0.9 * 600;
    int n = 0;
    for (; p > 60 && n < 100000; n++) {
        p += exhaust * b_flow(0, p) / 800 / B_RATE;
    }
    return (double)n / B_RATE;
}

/* The opening for which it takes `more_s` longer. */
static inline double b_slower(double now, double more_s, double (*time)(double))
{
    const double want = time(now) + more_s;
    while (time(now) < want) {
        now *= 0.98;
    }
    return now;
}

static inline void b_make(struct visit *v, struct b_part *part)
{
    const double travel_s = visit_uniform(v, 0.07, 0.26);
    const double volume_s = visit_uniform(v, 0.004, 0.02);
    const double switch_s = visit_uniform(v, 0.02, 0.05);
    const double inlet = visit_uniform(v, 3000, 8000);
    const double exhaust = visit_uniform(v, 2500, 6000);
    const double opens_kpa = visit_uniform(v, 25, 50);
    for (size_t u = 0; u <= v->towed; u++) {
        struct b_part *p = &part[u];
        memset(p, 0, sizeof(*p));
        p->travel_s[0] = u == 0 ? 0.004 : b_near(v, travel_s);
        p->travel_s[1] = p->travel_s[0] * visit_uniform(v, 0.95, 1.05);
        p->volume_s = u == 0 ? 0.001 : b_near(v, volume_s);
        p->switch_s[0] = b_near(v, switch_s);
        p->switch_s[1] = b_near(v, switch_s);
        p->inlet = b_near(v, inlet);
        p->exhaust = b_near(v, exhaust);
        p->opens_kpa = b_near(v, opens_kpa);
        p->ratio = visit_uniform(v, 0.985, 1.015);
        p->shift_kpa = visit_uniform(v, -4, 4);
        p->steeper = visit_uniform(v, 0.993, 1.007);
        v->pipe_m[u] = 11 * p->travel_s[0] / travel_s;
    }
}

static inline void b_spoil(struct visit *v, struct b_part *part)
{
    struct b_part *p = &part[v->at];
    const double more_s = 0.10 * v->size;
    const enum visit_fault f = v->fault;
    p->switch_s[0] += f == VISIT_LATE_APPLY ? more_s : 0;
    p->switch_s[1] += f == VISIT_LATE_RELEASE ? more_s : 0;
    p->inlet = f == VISIT_SLOW_FILL || f == VISIT_HOSE
                   ? b_slower(p->inlet, more_s, b_fill_s)
                   : p->inlet;
    p->exhaust = f == VISIT_SLOW_RELEASE || f == VISIT_HOSE
                     ? b_slower(p->exhaust, more_s, b_fall_s)
                     : p->exhaust;
    p->ratio *= f == VISIT_LOW_HOLD    ? 1 - 0.15 * v->size
                : f == VISIT_HIGH_HOLD ? 1 + 0.15 * v->size
                                       : 1;
    p->opens_kpa += f == VISIT_HIGH_OPENING ? 30 * v->size : 0;
    p->dead[0] = f == VISIT_NO_OUTPUT;
    p->dead[1] = f == VISIT_NO_OUTPUT || f == VISIT_NO_AIR;
    p->seep_kpa_s = f == VISIT_LEAK ? 10 * v->size / 2 : 0;
    p->rest_kpa = f == VISIT_STAYS ? 10 * v->size : 0;
    p->hunts_kpa = f == VISIT_HUNTS ? 30 * v->size : 0;
    p->hunts_s = f == VISIT_HUNTS ? visit_uniform(v, 0.12, 0.45) : 0;
    p->leak = f == VISIT_LINE_LOSS ? 0.15 * v->size : 0;
    p->travel_s[0] += f == VISIT_LINE ? more_s : 0;
    p->travel_s[1] += f == VISIT_LINE || f == VISIT_LINE_BACK ? more_s : 0;
    /* The mean delay of two volumes is both of them. */
    p->volume_s += f == VISIT_FILTER ? more_s / 2 : 0;
    p->tears = f == VISIT_DIAPHRAGM ? 10 * v->size / 1.1 / 600 : 0;
    p->kept_kpa = f == VISIT_KEEPS ? 30 * v->size : 0;
    for (size_t u = v->at; u <= v->towed; u++) {
        part[u].crossed = f == VISIT_CROSSED;
        part[u].deaf = f == VISIT_MISSING || (f == VISIT_IGNORED && u == v->at);
    }
}

/* A valve that sticks lets pressure out until it moves, and in again: up and
   down in straight lines. */
static inline double b_sticks(const struct b_part *p, double s)
{
    const double at = fmod(s, 2 * p->hunts_s) / p->hunts_s;
    return p->hunts_kpa * (at < 1 ? at : 2 - at);
}

static inline double b_smooth(double s, double rise_s)
{
    return s <= 0        ? 0
           : s >= rise_s ? 1
                         : 0.5 - 0.5 * cos(3.14159265358979 * s / rise_s);
}

/* Three light ones first, then five full ones, 3.3 s each. */
static inline double b_foot(double s, double light_kpa, double rise_s)
{
    const int n = (int)((s - 1.5) / 6.9);
    const double in = s - 1.5 - 6.9 * n;
    if (s < 1.5 || n > 7) {
        return 0;
    }
    return (n < 3 ? light_kpa : 660) *
           (b_smooth(in, rise_s) - b_smooth(in - 3.3, 0.18));
}

static inline double b_ago(const double *trace, size_t i,
                           const double late_s[2])
{
    const size_t up = (size_t)(late_s[0] * B_RATE);
    const size_t down = (size_t)(late_s[1] * B_RATE);
    const double a = i < up ? 0 : trace[i - up];
    const double b = i < down ? 0 : trace[i - down];
    return up < down ? fmax(a, b) : fmin(a, b);
}

struct b_traces {
    const double *foot, *front;
    double *air;
};

static inline void b_unit(struct visit *v, size_t run, size_t u,
                          const struct b_part *p, const struct b_traces *t)
{
    const double *foot = t->foot;
    double *air = t->air;
    const double bus_s = 0.03 + v->hop_s * (double)u;
    const bool demand = run == 0 && u > 0 && !p->deaf;
    const double late_s[2] = {p->switch_s[0] + (demand ? bus_s : 0),
                              p->switch_s[1] + (demand ? bus_s : 0)};
    double first = 0;
    double second = 0;
    double chamber = 0;
    double seeped = 0;
    double tank = 780;
    for (size_t i = 0; i < v->rows * B_SUB; i++) {
        const double passed = (1 - p->leak) * b_ago(t->front, i, p->travel_s);
        /* It shuts as soon as the line behind lacks so much. */
        const double in = passed < p->kept_kpa ? 0 : passed - p->kept_kpa;
        first += (in - first) / (1 + p->volume_s * B_RATE);
        second += (first - second) / (1 + p->volume_s * B_RATE);
        air[i] = second;
        const double asked = b_ago(demand ? foot : air, i, late_s);
        const double goal =
            asked < p->opens_kpa || p->dead[demand ? 0 : 1] || p->crossed
                ? 0
                : p->ratio * (asked - 6);
        const double flow = (goal > chamber ? p->inlet : p->exhaust) *
                            b_flow(goal, chamber) / 800 / B_RATE;
        /* It does not pass its goal within a step. */
        const double filled =
            fabs(flow) > fabs(goal - chamber) ? goal : chamber + flow;
        /* Refilled at an even pace, up to what the governor lets in. */
        tank =
            fmin(780, tank + 3.0 / B_RATE - 0.08 * fmax(0, filled - chamber) -
                          p->tears * chamber / B_RATE);
        chamber = filled;
        const bool sticks =
            p->hunts_kpa > 0 && goal > 60 && chamber > 0.9 * goal;
        const double stuck = sticks ? b_sticks(p, (double)i / B_RATE) : 0;
        seeped = goal > 30 ? seeped + p->seep_kpa_s / B_RATE : 0;
        if (i % B_SUB == 0) {
            const double parked =
                visit_parks(v, u, (double)i / B_RATE) ? 40 * v->size : 0;
            const double stays = i > 5 * B_RATE ? p->rest_kpa : 0;
            const double out =
                fmax(chamber - seeped - stuck, fmax(stays, parked));
            v->output[run][u][i / B_SUB] =
                (float)(p->steeper * fmax(0, out) + p->shift_kpa +
                        0.8 * visit_normal(v));
            v->control[run][u][i / B_SUB] =
                (float)((p->crossed ? 735 : second) / p->steeper -
                        0.5 * p->shift_kpa + 0.8 * visit_normal(v));
            v->reservoir[run][u][i / B_SUB] =
                (float)((p->crossed ? passed : tank) / p->steeper -
                        0.5 * p->shift_kpa + 0.8 * visit_normal(v));
        }
    }
}

static inline void visit_plant_b(struct visit *v)
{
    struct b_part part[VISIT_TOWED + 1];
    const size_t steps = v->rows * B_SUB;
    double *trace[3];
    for (size_t i = 0; i < 3; i++) {
        trace[i] = calloc(steps, sizeof(double));
        assert_non_null(trace[i]);
    }
    b_make(v, part);
    if (v->fault == VISIT_IGNORED || v->fault == VISIT_MISSING) {
        v->at = v->towed; /* where the air is late for certain */
    }
    b_spoil(v, part);
    for (size_t run = 0; run < VISIT_RUNS; run++) {
        const double light_kpa = visit_uniform(v, 125, 146);
        const double rise_s = visit_uniform(v, 0.15, 0.35);
        for (size_t i = 0; i < steps; i++) {
            trace[0][i] = b_foot((double)i / B_RATE, light_kpa, rise_s);
            if (i % B_SUB == 0) {
                v->pedal[run][i / B_SUB] =
                    (float)(trace[0][i] + 0.8 * visit_normal(v));
            }
        }
        memcpy(trace[1], trace[0], steps * sizeof(double));
        for (size_t u = 0; u <= v->towed; u++) {
            const struct b_traces t = {trace[0], trace[1 + u % 2],
                                       trace[2 - u % 2]};
            b_unit(v, run, u, &part[u], &t);
        }
    }
    for (size_t i = 0; i < 3; i++) {
        free(trace[i]);
    }
}

#endif
