/* SPDX-License-Identifier: MIT */
/*
 * A train that brakes as one rigid body. Between the points of all build-ups
 * the deceleration is a straight line in time, so speed is a parabola and work
 * per unit a polynomial of third degree: Simpson's rule is exact for it.
 */
#include "study/dynamics/stop.h"
#include "brakelag/dynamics.h"

#include <math.h>
#include <string.h>

struct motion {
    const struct bl_braked_unit *unit;
    size_t units;
    double mass_kg, time_s, speed, distance_m;
    double work[BL_STOP_UNITS];
};

/* Share of the force just before or just after a time. */
static double share_at(const struct bl_braked_unit *unit, double s, bool after)
{
    double before_s = 0;
    double before = 0;
    bool any = false;
    for (size_t i = 0; i < unit->points; i++) {
        const double at = unit->point[i].s;
        const double share = unit->point[i].share;
        if (at > s || (at == s && !after)) { /* the very same number */
            const double wide = at - before_s;
            return !any ? 0
                   : wide > 0
                       ? before + (share - before) * (s - before_s) / wide
                       : before;
        }
        before_s = at;
        before = share;
        any = true;
    }
    return before;
}

static double deceleration(const struct motion *m, double s, bool after)
{
    double force = 0;
    for (size_t i = 0; i < m->units; i++) {
        force += m->unit[i].force_n * share_at(&m->unit[i], s, after);
    }
    return force / m->mass_kg;
}

/* The next point after `s`; infinite when there is none. */
static double next_point(const struct motion *m, double s)
{
    double next = INFINITY;
    for (size_t i = 0; i < m->units; i++) {
        for (size_t k = 0; k < m->unit[i].points; k++) {
            const double at = m->unit[i].point[k].s;
            next = at > s && at < next ? at : next;
        }
    }
    return next;
}

static void couplings(const struct motion *m, struct bl_stop *out, double s,
                      bool after)
{
    const double a = deceleration(m, s, after);
    double push_n = 0;
    for (size_t k = m->units; k-- > 1;) {
        push_n += m->unit[k].mass_kg * a -
                  m->unit[k].force_n * share_at(&m->unit[k], s, after);
        const double kn = push_n * 1e-3;
        out->push_most_kn[k - 1] = fmax(out->push_most_kn[k - 1], kn);
        out->push_least_kn[k - 1] = fmin(out->push_least_kn[k - 1], kn);
        out->push_steady_kn[k - 1] = kn;
    }
}

/* When speed reaches 0 within a piece that begins with deceleration a and
   gains `slope`; infinite when it does not. */
static double stand_after(double speed, double a, double slope)
{
    const double root = a * a + 2 * slope * speed;
    if (root < 0 || a + sqrt(root) <= 0) {
        return INFINITY;
    }
    return 2 * speed / (a + sqrt(root));
}

/* One piece of length h; `h` may end at a stand. */
static void advance(struct motion *m, double h, double a, double slope,
                    const double *begin, const double *gain)
{
    const double half = h / 2;
    const double middle = m->speed - a * half - slope * half * half / 2;
    const double end = m->speed - a * h - slope * h * h / 2;
    for (size_t i = 0; i < m->units; i++) {
        const double f = m->unit[i].force_n;
        m->work[i] +=
            f * h / 6 *
            (begin[i] * m->speed + 4 * (begin[i] + gain[i] * half) * middle +
             (begin[i] + gain[i] * h) * end);
    }
    m->distance_m += h / 6 * (m->speed + 4 * middle + end);
    m->speed = end;
    m->time_s += h;
}

static bool piece(struct motion *m, struct bl_stop *out)
{
    double begin[BL_STOP_UNITS];
    double gain[BL_STOP_UNITS];
    const double next = next_point(m, m->time_s);
    const double h = next - m->time_s;
    double a = 0;
    double slope = 0;
    for (size_t i = 0; i < m->units; i++) {
        begin[i] = share_at(&m->unit[i], m->time_s, true);
        gain[i] =
            isinf(h) ? 0 : (share_at(&m->unit[i], next, false) - begin[i]) / h;
        a += m->unit[i].force_n * begin[i] / m->mass_kg;
        slope += m->unit[i].force_n * gain[i] / m->mass_kg;
    }
    const double stand = stand_after(m->speed, a, slope);
    couplings(m, out, m->time_s, true);
    if (stand <= h && !isinf(stand)) {
        advance(m, stand, a, slope, begin, gain);
        couplings(m, out, m->time_s, true);
        m->speed = 0;
        return true;
    }
    if (isinf(h)) {
        return false;
    }
    advance(m, h, a, slope, begin, gain);
    couplings(m, out, next, false);
    m->time_s = next;
    return true;
}

static bool sensible(const struct bl_braked_unit *unit, size_t units,
                     double speed_m_s)
{
    bool good = units > 0 && units <= BL_STOP_UNITS && speed_m_s > 0;
    for (size_t i = 0; good && i < units; i++) {
        good = unit[i].mass_kg > 0 && unit[i].force_n >= 0 &&
               unit[i].points <= BL_BUILDUP_POINTS;
        for (size_t k = 1; good && k < unit[i].points; k++) {
            good = unit[i].point[k].s >= unit[i].point[k - 1].s;
        }
    }
    return good;
}

enum bl_status bl_stop_compute(struct bl_stop *out,
                               const struct bl_braked_unit *unit, size_t units,
                               double speed_m_s, struct bl_error *error)
{
    memset(out, 0, sizeof(*out));
    if (!sensible(unit, units, speed_m_s)) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected units with masses, build-ups in order of "
                       "time, and a speed above zero");
    }
    struct motion m = {.unit = unit, .units = units, .speed = speed_m_s};
    double first = 0;
    for (size_t i = 0; i < units; i++) {
        m.mass_kg += unit[i].mass_kg;
        first = unit[i].points > 0 ? fmin(first, unit[i].point[0].s) : first;
    }
    m.time_s = first; /* a unit may come before the command */
    m.distance_m = first * speed_m_s;
    while (m.speed > 0) {
        if (!piece(&m, out)) {
            return bl_fail(error, BL_NODATA, NULL,
                           "the stated forces never stop the train");
        }
    }
    out->distance_m = m.distance_m;
    out->time_s = m.time_s;
    const double energy = m.mass_kg * speed_m_s * speed_m_s / 2;
    for (size_t i = 0; i < units; i++) {
        out->work_share[i] = m.work[i] / energy;
    }
    return BL_OK;
}
