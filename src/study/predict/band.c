/* SPDX-License-Identifier: MIT */
/*
 * One application through the model, in each corner of what is known of the
 * train: the band of every figure is what lies between.
 */
#include "study/predict/predicting.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "study/predict/figures.h"

#include <math.h>

/* How far the line model lies from an independent computation at most
   (tests/unit/physics/line_cases.h): 4 ms or 5 %. */
#define MODEL_S 0.004
#define MODEL_SHARE 0.05

struct band {
    double low[BL_PREDICT_FIGURES], high[BL_PREDICT_FIGURES];
    bool open[BL_PREDICT_FIGURES]; /* a corner does not get there */
};

struct modelling {
    struct bl_drive drive;
    double *control, *output;
    struct band *band; /* per modelled unit */
};

static void widen(struct band *band, const double figure[BL_PREDICT_FIGURES])
{
    for (size_t i = 0; i < BL_PREDICT_FIGURES; i++) {
        band->open[i] = band->open[i] || isnan(figure[i]);
        band->low[i] = fmin(band->low[i], figure[i]);
        band->high[i] = fmax(band->high[i], figure[i]);
    }
}

static bool relays(const struct predicting *p, size_t unit, bool if_unknown)
{
    const enum bl_control_line line = p->into->unit[unit].line;
    return line == BL_LINE_UNKNOWN ? if_unknown : line == BL_LINE_RELAYED;
}

static enum bl_status corner(struct predicting *p, struct modelling *m,
                             size_t application, const struct bl_corner *at,
                             bool relay_unknown)
{
    const struct bl_application *is = &p->lag->application[application];
    struct bl_chain chain = {
        .own_line = p->own_line, .unit = p->chain, .units = p->modelled};
    for (size_t i = 0; i < p->modelled; i++) {
        bl_inputs_take(&p->chain[i], &p->in[i], at, m->drive.hold_kpa,
                       bl_predicting_held(is, p->begin + i),
                       relays(p, p->begin + i, relay_unknown));
    }
    bl_inputs_chain(&chain, &p->in[0], at);
    const double quiet =
        fmin(p->trial->response_at_kpa, 0.1 * m->drive.hold_kpa) / 4;
    size_t done;
    enum bl_status status =
        bl_chain_run(&chain, m->drive.kpa, m->drive.steps,
                     (size_t)(m->drive.release_s / BL_CHAIN_STEP_S), quiet,
                     m->control, m->output, &done, p->error);
    for (size_t i = 0; status == BL_OK && i < p->modelled; i++) {
        double figure[BL_PREDICT_FIGURES];
        bl_modelled_figures(figure, m->output + i * m->drive.steps, done,
                            &m->drive, p->trial->response_at_kpa);
        widen(&m->band[i], figure);
    }
    return status;
}

static bool any_unknown(const struct predicting *p)
{
    for (size_t i = 0; i + 1 < p->modelled; i++) {
        if (p->into->unit[p->begin + i].line == BL_LINE_UNKNOWN) {
            return true;
        }
    }
    return false;
}

static enum bl_status all_corners(struct predicting *p, struct modelling *m,
                                  size_t application)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < p->modelled; i++) {
        for (size_t k = 0; k < BL_PREDICT_FIGURES; k++) {
            m->band[i].low[k] = INFINITY;
            m->band[i].high[k] = -INFINITY;
            m->band[i].open[k] = false;
        }
    }
    const bool both = any_unknown(p);
    for (size_t c = 0; status == BL_OK && c < BL_CORNERS; c++) {
        status = corner(p, m, application, &bl_corners[c], true);
        if (status == BL_OK && both) {
            status = corner(p, m, application, &bl_corners[c], false);
        }
    }
    return status;
}

static struct bl_predict_row *row_of(struct bl_predict_unit *unit,
                                     const struct bl_application *a,
                                     enum bl_predict_figure figure)
{
    for (size_t i = 0; i < unit->rows; i++) {
        struct bl_predict_row *row = &unit->row[i];
        if (row->kind == a->kind && row->shape == a->shape &&
            row->figure == figure) {
            return row;
        }
    }
    struct bl_predict_row *grown =
        bl_realloc(unit->row, unit->rows + 1, sizeof(*unit->row));
    if (grown == NULL) {
        return NULL;
    }
    unit->row = grown;
    grown += unit->rows++;
    *grown = (struct bl_predict_row){
        .kind = a->kind, .shape = a->shape, .figure = figure};
    return grown;
}

static enum bl_status add_point(struct predicting *p, size_t unit,
                                size_t application,
                                enum bl_predict_figure figure,
                                const struct band *band)
{
    const struct bl_application *a = &p->lag->application[application];
    struct bl_predict_row *row = row_of(&p->into->unit[unit], a, figure);
    struct bl_predict_point *grown =
        row == NULL
            ? NULL
            : bl_realloc(row->point, row->points + 1, sizeof(*row->point));
    if (grown == NULL) {
        return bl_fail_memory(p->error);
    }
    row->point = grown;
    struct bl_predict_point *point = &grown[row->points++];
    const double low = band->low[figure];
    const double high = band->high[figure];
    const bool open = band->open[figure];
    bl_measured_figure(point, bl_application_unit(a, unit), figure);
    point->application = application;
    point->low_s = open ? NAN : low - fmax(MODEL_S, MODEL_SHARE * fabs(low));
    point->high_s = open ? NAN : high + fmax(MODEL_S, MODEL_SHARE * fabs(high));
    return BL_OK;
}

static enum bl_status add_points(struct predicting *p, struct modelling *m,
                                 size_t application)
{
    enum bl_status status = BL_OK;
    enum bl_predict_figure figure[BL_PREDICT_FIGURES];
    const size_t figures = bl_predicted_figures(figure);
    for (size_t i = 0; i < p->modelled; i++) {
        const size_t unit = p->begin + i;
        if (p->trial->unit[unit].outputs == 0 ||
            bl_application_unit(&p->lag->application[application], unit) ==
                NULL) {
            continue;
        }
        p->into->unit[unit].reason = BL_PREDICT_WHY_NONE;
        for (size_t f = 0; status == BL_OK && f < figures; f++) {
            status = add_point(p, unit, application, figure[f], &m->band[i]);
        }
    }
    return status;
}

enum bl_status bl_predict_application(struct predicting *p, size_t application)
{
    struct modelling m = {.control = NULL};
    enum bl_status status = BL_OK;
    const bool good =
        bl_drive_make(&m.drive, &p->command, p->lag, application, &status);
    if (!good || m.drive.steps * p->modelled > BL_LIMIT_PREDICT_STEPS) {
        p->into->left_out++;
        bl_drive_finish(&m.drive);
        return status == BL_OK ? BL_OK : bl_fail_memory(p->error);
    }
    m.control = bl_alloc(m.drive.steps * p->modelled, sizeof(*m.control));
    m.output = bl_alloc(m.drive.steps * p->modelled, sizeof(*m.output));
    m.band = bl_alloc(p->modelled, sizeof(*m.band));
    if (m.control == NULL || m.output == NULL || m.band == NULL) {
        status = bl_fail_memory(p->error);
    }
    if (status == BL_OK) {
        status = all_corners(p, &m, application);
    }
    if (status == BL_OK) {
        status = add_points(p, &m, application);
        p->into->modelled++;
    }
    bl_drive_finish(&m.drive);
    bl_free(m.control);
    bl_free(m.output);
    bl_free(m.band);
    return status;
}
