/* SPDX-License-Identifier: MIT */
/*
 * Staggered grid: pressures in cells, flows between them, advanced in turn
 * (stable up to a Courant number of one; 0.95 is used). Friction is taken
 * semi-implicitly, so that a thin line cannot swing up. Friction factor:
 * laminar 64/Re, turbulent 0.3164 Re^-0.25, the greater of the two.
 *
 * A coupling is taken off the flow of one face after the friction. For the
 * small differences across it ISO 6358 comes to dp = q2 (1 - b) / (2 C2 rho02
 * p), so that G + k G|G| = G*, k = (dt/dx) A (1 - b) / (2 C2 rho02 p), which
 * has one answer: no state of its own, and no step that it could upset.
 */
#include "physics/line.h"

#include <math.h>

#include "base/alloc.h"
#include "base/limits.h"

#define PI 3.14159265358979323846
#define COURANT 0.95
#define MEAN_PA 450e3  /* absolute: half of a full application */
#define HEAT 1.475     /* 1 + 0.4 / sqrt(0.71) */
#define COUPLING_B 0.3 /* critical ratio of valves and couplings (practice) */
enum { CELLS_LEAST = 4, COUPLINGS_MOST = 64 };

struct coupling {
    size_t face;
    double k_pa; /* k times the pressure: see above */
};

struct bl_air_line {
    size_t cells;
    unsigned substeps;
    double dx_m, dt_s, speed2;
    double *p;           /* Pa absolute, per cell */
    double *flow;        /* kg/s, flow[i] from cell i - 1 to cell i */
    double *rise;        /* Pa per kg/s that stays in the cell for a step */
    double *push, *drag; /* per face: see advance_flow() */
    double *laminar, *turbulent; /* per face, friction f |G|, the same */
    double head_capacity;        /* kg/s that raise the first cell by 1 Pa */
    struct coupling coupling[COUPLINGS_MOST];
    size_t couplings;
};

static enum bl_status check_shape(const struct bl_air_line_shape *shape,
                                  double step_s, struct bl_error *error)
{
    bool good = shape->length_m > 0 && step_s > 0 &&
                shape->end_volume_cm3 >= 0 && shape->friction >= 0 &&
                (shape->pieces > 0 || shape->bore_mm > 0);
    for (size_t i = 0; i < shape->pieces; i++) {
        good = good && shape->piece[i].bore_mm > 0 &&
               shape->piece[i].friction >= 0;
    }
    if (!good) {
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
}

/* Bore and friction at a place. */
static struct bl_air_piece piece_at(const struct bl_air_line_shape *shape,
                                    double x_m)
{
    struct bl_air_piece piece = {shape->length_m, shape->bore_mm,
                                 shape->friction};
    for (size_t i = 0; i < shape->pieces; i++) {
        piece = shape->piece[i];
        if (x_m < piece.to_m) {
            break;
        }
    }
    piece.friction = piece.friction > 0 ? piece.friction : 1;
    return piece;
}

static double area_of(const struct bl_air_piece *piece)
{
    const double bore_m = piece->bore_mm * 1e-3;
    return PI / 4 * bore_m * bore_m;
}

/*
 * How much more a flow that swings is damped than a steady laminar one. Its
 * boundary layer is sqrt(2 nu / w) thick, and attenuates by sqrt(nu w / 2) /
 * (r c) per metre, with heat that comes and goes by 1 + (1.4 - 1) / sqrt(0.71)
 * of that (Kirchhoff, as textbooks of acoustics have it); steady laminar flow
 * attenuates by 4 nu / (r2 c). Taken at the swing of a line that is closed at
 * its end, c / 4 L, and at a mean pressure: a floor under the friction, which
 * matters once the flow is small.
 */
static double swinging(const struct bl_air_line *line, double length_m,
                       double bore_mm)
{
    const double nu = BL_AIR_VISCOSITY * line->speed2 / MEAN_PA;
    const double w = 2 * PI * sqrt(line->speed2) / (4 * length_m);
    const double times = HEAT * sqrt(w / (2 * nu)) * bore_mm * 0.5e-3 / 4;
    return times > 1 ? times : 1;
}

/* Face i lies ahead of cell i. Where the bore changes the narrower one
   counts. */
static void set_faces(struct bl_air_line *line,
                      const struct bl_air_line_shape *shape)
{
    for (size_t i = 0; i < line->cells; i++) {
        const double x_m = (double)i * line->dx_m;
        struct bl_air_piece piece = piece_at(shape, x_m + line->dx_m / 2);
        const struct bl_air_piece ahead = piece_at(shape, x_m - line->dx_m / 2);
        piece = ahead.bore_mm < piece.bore_mm ? ahead : piece;
        const double bore_m = piece.bore_mm * 1e-3;
        const double area_m2 = area_of(&piece);
        line->push[i] = line->dt_s * area_m2 / line->dx_m;
        line->drag[i] = line->dt_s * line->speed2 / (2 * bore_m * area_m2);
        line->laminar[i] = piece.friction * 64 * BL_AIR_VISCOSITY * area_m2 /
                           bore_m *
                           swinging(line, shape->length_m, piece.bore_mm);
        line->turbulent[i] = piece.friction * 0.3164 *
                             sqrt(sqrt(area_m2 * BL_AIR_VISCOSITY / bore_m));
    }
}

static void set_cells(struct bl_air_line *line,
                      const struct bl_air_line_shape *shape)
{
    for (size_t i = 0; i < line->cells; i++) {
        const double from_m = (double)i * line->dx_m;
        const struct bl_air_piece piece =
            piece_at(shape, from_m + line->dx_m / 2);
        const bool last = i + 1 == line->cells;
        double volume_m3 = area_of(&piece) * line->dx_m +
                           (last ? shape->end_volume_cm3 * 1e-6 : 0);
        for (size_t k = 0; k < shape->fittings; k++) {
            const double x_m = shape->fitting[k].x_m;
            if (x_m >= from_m && (last || x_m < from_m + line->dx_m)) {
                volume_m3 += shape->fitting[k].volume_cm3 * 1e-6;
            }
        }
        line->p[i] = BL_AIR_ATMOSPHERE_KPA * 1e3;
        line->rise[i] = line->speed2 * line->dt_s / volume_m3;
    }
    line->head_capacity = 1 / line->rise[0];
}

static bool set_couplings(struct bl_air_line *line,
                          const struct bl_air_line_shape *shape)
{
    for (size_t k = 0; k < shape->fittings; k++) {
        const struct bl_air_fitting *fitting = &shape->fitting[k];
        if (!(fitting->c > 0)) {
            continue;
        }
        if (line->couplings == COUPLINGS_MOST) {
            return false;
        }
        const double at = fitting->x_m / line->dx_m + 0.5;
        size_t face = at > 1 ? (size_t)at : 1;
        face = face < line->cells ? face : line->cells - 1;
        const double q = fitting->c * 1e-8 * BL_AIR_REFERENCE_DENSITY;
        line->coupling[line->couplings++] = (struct coupling){
            face, line->push[face] * (1 - COUPLING_B) / (2 * q * q)};
    }
    return true;
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
    line->p = bl_alloc(7 * (line->cells + 1), sizeof(*line->p));
    if (line->p == NULL) {
        bl_air_line_destroy(line);
        return bl_fail_memory(error);
    }
    double **const part[] = {&line->flow, &line->rise,    &line->push,
                             &line->drag, &line->laminar, &line->turbulent};
    for (size_t i = 0; i < sizeof(part) / sizeof(part[0]); i++) {
        *part[i] = line->p + (i + 1) * (line->cells + 1);
    }
    set_faces(line, shape);
    set_cells(line, shape);
    if (!set_couplings(line, shape)) {
        bl_air_line_destroy(line);
        return bl_fail(error, BL_LIMIT, NULL,
                       "a line has more than %d couplings", COUPLINGS_MOST);
    }
    *out = line;
    return BL_OK;
}

void bl_air_line_destroy(struct bl_air_line *line)
{
    if (line != NULL) {
        bl_free(line->p); /* and all that lies behind it */
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
    const double *restrict push = line->push;
    const double *restrict drag = line->drag;
    const double *restrict laminar = line->laminar;
    const double *restrict turbulent = line->turbulent;
    const double *restrict p = line->p;
    double *restrict flow = line->flow;
    const size_t cells = line->cells;
    for (size_t i = 1; i < cells; i++) {
        const double size = fabs(flow[i]);
        const double root = sqrt(size);
        const double rough = turbulent[i] * root * sqrt(root);
        const double friction = rough > laminar[i] ? rough : laminar[i];
        const double mean = (p[i - 1] + p[i]) / 2;
        flow[i] = (flow[i] + push[i] * (p[i - 1] - p[i])) /
                  (1 + drag[i] * friction / mean);
    }
}

static void pass_couplings(struct bl_air_line *line)
{
    for (size_t i = 0; i < line->couplings; i++) {
        const size_t face = line->coupling[i].face;
        const double bare = line->flow[face];
        const double mean = (line->p[face - 1] + line->p[face]) / 2;
        const double k = line->coupling[i].k_pa / mean;
        const double four = 4 * k * fabs(bare);
        /* The root's difference loses its digits where the coupling is wide. */
        const double size = 2 * fabs(bare) / (1 + sqrt(1 + four));
        line->flow[face] = bare < 0 ? -size : size;
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

/* Flow into the head through a restriction from `outside`, both Pa absolute,
   with the pressure at the end of the step: `head` would be there without it.
   ISO 6358 and the head's capacity make one quadratic equation of it. With the
   pressure of the step before, the small head cell swings about the target
   from step to step, and the valve has no resistance of its own left. */
static double flow_in(double conductance, double outside, double head,
                      double capacity)
{
    const double most = conductance * outside;
    const double x = (head / outside - COUPLING_B) / (1 - COUPLING_B);
    const double m = 1 / (capacity * outside * (1 - COUPLING_B));
    if (x + m * most <= 0) {
        return most; /* choked */
    }
    const double a = 1 / (most * most) + m * m;
    const double c = 1 - x * x;
    /* Where x is below -1, before this step the head was nearly empty. */
    const double b = x * m;
    const double root = b * b + a * c;
    return root > 0 ? (sqrt(root) - b) / a : most;
}

static double flow_out(double conductance, double outside, double head,
                       double capacity)
{
    const double share = 1 - 2 * COUPLING_B;
    const double s = 1 / capacity;
    const double choked = conductance * head / (1 + conductance * s);
    if (outside <= COUPLING_B * (head - s * choked)) {
        return choked;
    }
    const double part = (1 - COUPLING_B) / conductance;
    const double a = part * part - share * s * s;
    const double b = s * (share * (head - outside) + head * share + outside);
    const double c = (head - outside) * (head * share + outside);
    return 2 * c / (b + sqrt(b * b + 4 * a * c));
}

static double valve_flow(const struct bl_air_line *line, double target_kpa,
                         const struct bl_restriction *feed,
                         const struct bl_restriction *vent)
{
    const double outside = (target_kpa + BL_AIR_ATMOSPHERE_KPA) * 1e3;
    const double capacity = line->head_capacity;
    const double head =
        line->p[0] - line->flow[1] / capacity; /* without the valve */
    const struct bl_restriction *way = outside > head ? feed : vent;
    const double conductance = way->c * 1e-8 * BL_AIR_REFERENCE_DENSITY;
    if (!(conductance > 0) || outside == head) {
        return 0;
    }
    return outside > head ? flow_in(conductance, outside, head, capacity)
                          : -flow_out(conductance, outside, head, capacity);
}

static void advance(struct bl_air_line *line, double target_kpa,
                    const struct bl_restriction *feed,
                    const struct bl_restriction *vent)
{
    advance_flow(line);
    pass_couplings(line);
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
