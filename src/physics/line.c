/* SPDX-License-Identifier: MIT */
/*
 * Staggered grid: pressures in cells, flows between them, advanced in turn
 * (stable up to a Courant number of one; 0.95 is used). Friction is taken
 * semi-implicitly, so that a thin line cannot swing up. Friction factor:
 * laminar 64/Re, turbulent 0.3164 Re^-0.25, the greater of the two.
 */
#include "physics/line.h"

#include <math.h>

#include "base/alloc.h"
#include "base/limits.h"

#define PI 3.14159265358979323846
#define COURANT 0.95
enum { CELLS_LEAST = 4 };

struct bl_air_line {
    size_t cells;
    unsigned substeps;
    double length_m, dx_m, dt_s, area_m2, bore_m, speed2;
    double *p;            /* Pa absolute, per cell */
    double *flow;         /* kg/s, flow[i] from cell i - 1 to cell i */
    double *rise;         /* Pa per kg/s that stays in the cell for a step */
    double head_capacity; /* kg/s that raise the first cell by 1 Pa */
    double laminar, turbulent; /* friction, f |G|: see advance_flow() */
};

static enum bl_status check_shape(const struct bl_air_line_shape *shape,
                                  double step_s, struct bl_error *error)
{
    if (!(shape->length_m > 0) || !(shape->bore_mm > 0) || !(step_s > 0) ||
        !(shape->end_volume_cm3 >= 0)) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected a line with length, bore and time step "
                       "above zero, found %g m, %g mm, %g s",
                       shape->length_m, shape->bore_mm, step_s);
    }
    return BL_OK;
}

static void set_grid(struct bl_air_line *line,
                     const struct bl_air_line_shape *shape, double step_s)
{
    const double speed =
        shape->speed_m_s > 0
            ? shape->speed_m_s
            : bl_air_speed(BL_AIR_ISOTHERMAL, BL_AIR_REFERENCE_KELVIN);
    line->length_m = shape->length_m;
    line->speed2 = speed * speed;
    line->substeps = 1;
    while (shape->length_m * COURANT <
           CELLS_LEAST * speed * step_s / line->substeps) {
        line->substeps++;
    }
    line->dt_s = step_s / line->substeps;
    const double cells = floor(shape->length_m * COURANT / speed / line->dt_s);
    line->cells =
        cells < BL_LIMIT_LINE_CELLS ? (size_t)cells : BL_LIMIT_LINE_CELLS + 1;
    line->dx_m = shape->length_m / (double)line->cells;
    line->bore_m = shape->bore_mm * 1e-3;
    line->area_m2 = PI / 4 * line->bore_m * line->bore_m;
    line->laminar = 64 * BL_AIR_VISCOSITY * line->area_m2 / line->bore_m;
    line->turbulent =
        0.3164 * sqrt(sqrt(line->area_m2 * BL_AIR_VISCOSITY / line->bore_m));
}

enum bl_status bl_air_line_create(struct bl_air_line **out,
                                  const struct bl_air_line_shape *shape,
                                  double step_s, struct bl_error *error)
{
    enum bl_status status = check_shape(shape, step_s, error);
    if (status != BL_OK) {
        return status;
    }
    struct bl_air_line *line = bl_alloc(1, sizeof(*line));
    if (line == NULL) {
        return bl_fail_memory(error);
    }
    set_grid(line, shape, step_s);
    if (line->cells > BL_LIMIT_LINE_CELLS) {
        bl_air_line_destroy(line);
        return bl_fail(error, BL_LIMIT, NULL,
                       "a line of %g m needs more than %u cells",
                       shape->length_m, BL_LIMIT_LINE_CELLS);
    }
    line->p = bl_alloc(line->cells, sizeof(*line->p));
    line->rise = bl_alloc(line->cells, sizeof(*line->rise));
    line->flow = bl_alloc(line->cells + 1, sizeof(*line->flow));
    if (line->p == NULL || line->rise == NULL || line->flow == NULL) {
        bl_air_line_destroy(line);
        return bl_fail_memory(error);
    }
    const double cell_m3 = line->area_m2 * line->dx_m;
    for (size_t i = 0; i < line->cells; i++) {
        const bool last = i + 1 == line->cells;
        const double volume_m3 =
            cell_m3 + (last ? shape->end_volume_cm3 * 1e-6 : 0);
        line->p[i] = BL_AIR_ATMOSPHERE_KPA * 1e3;
        line->rise[i] = line->speed2 * line->dt_s / volume_m3;
    }
    line->head_capacity = cell_m3 / line->speed2 / line->dt_s;
    *out = line;
    return BL_OK;
}

void bl_air_line_destroy(struct bl_air_line *line)
{
    if (line != NULL) {
        bl_free(line->p);
        bl_free(line->flow);
        bl_free(line->rise);
        bl_free(line);
    }
}

/*
 * f |G| is the greater of laminar 64 mu A / D and turbulent
 * 0.3164 (A mu / D)^0.25 |G|^0.75. This loop is most of a prediction's time: it
 * has no branch, so that a compiler may use wide registers. The order of its
 * operations is that of every simulated recording: another one rounds
 * otherwise.
 */
static void advance_flow(struct bl_air_line *line)
{
    const double push = line->dt_s * line->area_m2 / line->dx_m;
    const double drag =
        line->dt_s * line->speed2 / (2 * line->bore_m * line->area_m2);
    const double laminar = line->laminar;
    const double turbulent = line->turbulent;
    const double *restrict p = line->p;
    double *restrict flow = line->flow;
    const size_t cells = line->cells;
    for (size_t i = 1; i < cells; i++) {
        const double size = fabs(flow[i]);
        const double root = sqrt(size);
        const double rough = turbulent * root * sqrt(root);
        const double friction = rough > laminar ? rough : laminar;
        const double mean = (p[i - 1] + p[i]) / 2;
        flow[i] =
            (flow[i] + push * (p[i - 1] - p[i])) / (1 + drag * friction / mean);
    }
}

static void advance_pressure(struct bl_air_line *line)
{
    const double *restrict flow = line->flow;
    const double *restrict rise = line->rise;
    double *restrict p = line->p;
    const size_t cells = line->cells;
    for (size_t i = 0; i < cells; i++) {
        p[i] += rise[i] * (flow[i] - flow[i + 1]);
    }
}

/* What the valve passes in one step, held so that the head meets the target
   and does not pass it: the true valve closes then. */
static double valve_flow(const struct bl_air_line *line, double target_kpa,
                         const struct bl_restriction *feed,
                         const struct bl_restriction *vent)
{
    const double outside = (target_kpa + BL_AIR_ATMOSPHERE_KPA) * 1e3;
    const double capacity = line->head_capacity;
    const double head =
        line->p[0] - line->flow[1] / capacity; /* without the valve */
    const double most = (outside - head) * capacity;
    const struct bl_restriction *way = outside > head ? feed : vent;
    const double flow = bl_air_flow(way, outside * 1e-3, line->p[0] * 1e-3);
    if (most >= 0) {
        return flow < 0 ? 0 : flow < most ? flow : most;
    }
    return flow > 0 ? 0 : flow > most ? flow : most;
}

static void advance(struct bl_air_line *line, double target_kpa,
                    const struct bl_restriction *feed,
                    const struct bl_restriction *vent)
{
    advance_flow(line);
    line->flow[0] = valve_flow(line, target_kpa, feed, vent);
    advance_pressure(line);
}

void bl_air_line_step(struct bl_air_line *line, double target_kpa,
                      const struct bl_restriction *feed,
                      const struct bl_restriction *vent)
{
    for (unsigned i = 0; i < line->substeps; i++) {
        advance(line, target_kpa, feed, vent);
    }
}

double bl_air_line_pressure(const struct bl_air_line *line, double x_m)
{
    const double last = (double)(line->cells - 1);
    double at = x_m / line->dx_m - 0.5; /* cells are centred */
    at = at < 0 ? 0 : at > last ? last : at;
    const size_t i = (size_t)at;
    const size_t j = i + 1 < line->cells ? i + 1 : i;
    const double part = at - (double)i;
    return (line->p[i] + part * (line->p[j] - line->p[i])) * 1e-3 -
           BL_AIR_ATMOSPHERE_KPA;
}

double bl_air_line_end(const struct bl_air_line *line)
{
    return line->p[line->cells - 1] * 1e-3 - BL_AIR_ATMOSPHERE_KPA;
}

bool bl_air_line_quiet(const struct bl_air_line *line, double target_kpa,
                       double band_kpa)
{
    const double target = (target_kpa + BL_AIR_ATMOSPHERE_KPA) * 1e3;
    for (size_t i = 0; i < line->cells; i++) {
        if (fabs(line->p[i] - target) > band_kpa * 1e3) {
            return false;
        }
    }
    return true;
}
