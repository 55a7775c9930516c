/* SPDX-License-Identifier: MIT */
/*
 * One application of each kind and shape through the model, once per draw of
 * what is known of the train: the band of a figure is what the middle nine
 * tenths of the draws take. Further applications of the same kind and shape
 * move the band by what their own command moves the usual train.
 */
#include "study/predict/predicting.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "study/predict/figures.h"

#include <math.h>
#include <stdlib.h>

/* How far the line model lies from an independent computation at most
   (tests/unit/physics/line_cases.h): 4 ms or 5 %. */
#define MODEL_S 0.004
#define MODEL_SHARE 0.05

/* Figures of one unit, a value per draw; INFINITY where a level is not
   passed. */
struct sample {
    double value[BL_PREDICT_FIGURES][BL_PREDICT_DRAWS];
};

struct modelling {
    struct bl_drive drive;
    double *control, *output;
    struct sample *sample; /* per modelled unit */
};

static bool relays(const struct predicting *p, size_t unit, bool if_unknown)
{
    const enum bl_control_line line = p->into->unit[unit].control_line;
    return line == BL_CONTROL_LINE_UNKNOWN ? if_unknown
                                           : line == BL_CONTROL_LINE_RELAYED;
}

/* The chain of one draw: what is asked of a unit is what the valves in front
   leave of the command. */
static void build(struct predicting *p, struct bl_chain *chain,
                  size_t application, double hold_kpa, bool relay_unknown)
{
    const struct bl_application *a = &p->lag->application[application];
    double control_kpa = hold_kpa;
    for (size_t i = 0; i < p->modelled; i++) {
        const struct bl_asked asked = {control_kpa,
                                       bl_predicting_held(a, p->begin + i)};
        bl_inputs_build(&p->chain[i], &p->in[i], &p->values[i], &asked,
                        relays(p, p->begin + i, relay_unknown));
        if (!(i == 0 && p->own_line)) {
            control_kpa = bl_inputs_behind(&p->chain[i], control_kpa);
        }
    }
    *chain = (struct bl_chain){
        .own_line = p->own_line, .unit = p->chain, .units = p->modelled};
    bl_inputs_chain(chain, &p->values[0]);
}

/* Figures of every unit in one draw; `out` holds BL_PREDICT_FIGURES each. */
static enum bl_status run_draw(struct predicting *p, struct modelling *m,
                               size_t application, unsigned draw,
                               bool relay_unknown, double *out)
{
    struct bl_chain chain;
    const double hold_kpa = m->drive.hold_kpa;
    bl_inputs_draw(p->values, p->in, p->modelled, draw);
    build(p, &chain, application, hold_kpa, relay_unknown);
    const double quiet = fmin(p->trial->response_at_kpa, 0.1 * hold_kpa) / 4;
    size_t done;
    const enum bl_status status =
        bl_chain_run(&chain,
                     &(const struct bl_chain_drive){
                         m->drive.kpa, m->drive.steps,
                         (size_t)(m->drive.release_s / BL_CHAIN_STEP_S), quiet},
                     m->control, m->output, &done, p->error);
    for (size_t i = 0; status == BL_OK && i < p->modelled; i++) {
        bl_modelled_figures(out + i * BL_PREDICT_FIGURES,
                            m->output + i * m->drive.steps, done, &m->drive,
                            p->trial->response_at_kpa);
    }
    return status;
}

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;
    return (x > y) - (x < y);
}

/* A quantile of sorted values; NaN where it lies among those that never
   came. */
static double quantile(const double *value, size_t n, double share)
{
    const double at = share * (double)(n - 1);
    const size_t i = (size_t)at;
    const size_t j = i + 1 < n ? i + 1 : i;
    return isinf(value[j])
               ? NAN
               : value[i] + (at - (double)i) * (value[j] - value[i]);
}

static void widen(struct bl_band *band, size_t f, double *value)
{
    qsort(value, BL_PREDICT_DRAWS, sizeof(*value), by_size);
    const double low = quantile(value, BL_PREDICT_DRAWS, BL_PREDICT_OUTSIDE);
    const double high =
        quantile(value, BL_PREDICT_DRAWS, 1 - BL_PREDICT_OUTSIDE);
    const bool first = isnan(band->middle[f]);
    band->middle[f] =
        first ? quantile(value, BL_PREDICT_DRAWS, 0.5)
              : (band->middle[f] + quantile(value, BL_PREDICT_DRAWS, 0.5)) / 2;
    band->low[f] = first ? low : fmin(band->low[f], low);
    band->high[f] = first ? high : fmax(band->high[f], high);
    band->open[f] = band->open[f] || isnan(low) || isnan(high);
}

static bool any_unknown(const struct predicting *p)
{
    for (size_t i = 0; i + 1 < p->modelled; i++) {
        if (p->into->unit[p->begin + i].control_line ==
            BL_CONTROL_LINE_UNKNOWN) {
            return true;
        }
    }
    return false;
}

static enum bl_status all_draws(struct predicting *p, struct modelling *m,
                                size_t application, bool relay_unknown,
                                struct bl_band *band)
{
    enum bl_status status = BL_OK;
    double *figure =
        bl_alloc(p->modelled * BL_PREDICT_FIGURES, sizeof(*figure));
    if (figure == NULL) {
        return bl_fail_memory(p->error);
    }
    for (unsigned d = 0; status == BL_OK && d < BL_PREDICT_DRAWS; d++) {
        status = run_draw(p, m, application, d, relay_unknown, figure);
        for (size_t i = 0; status == BL_OK && i < p->modelled; i++) {
            for (size_t f = 0; f < BL_PREDICT_FIGURES; f++) {
                const double s = figure[i * BL_PREDICT_FIGURES + f];
                m->sample[i].value[f][d] = isnan(s) ? INFINITY : s;
            }
        }
    }
    for (size_t i = 0; status == BL_OK && i < p->modelled; i++) {
        for (size_t f = 0; f < BL_PREDICT_FIGURES; f++) {
            widen(&band[i], f, m->sample[i].value[f]);
        }
    }
    bl_free(figure);
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
                                const struct bl_band *band, double moved_s)
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
    bl_measured_figure(point, bl_application_unit(a, unit), figure);
    point->application = application;
    point->low_s = point->middle_s = point->high_s = NAN;
    if (!band->open[figure]) {
        const double low = band->low[figure] + moved_s;
        const double high = band->high[figure] + moved_s;
        point->low_s = fmax(low - fmax(MODEL_S, MODEL_SHARE * fabs(low)), 0);
        point->middle_s = band->middle[figure] + moved_s;
        point->high_s = high + fmax(MODEL_S, MODEL_SHARE * fabs(high));
    }
    return BL_OK;
}

/* The usual train under this application's own command against the one that
   was drawn for: what its command alone makes of the times. */
static double moved_by(const struct bl_band *band, const double *usual,
                       size_t figure)
{
    const double moved_s = usual[figure] - band->usual[figure];
    return isfinite(moved_s) ? moved_s : 0;
}

static enum bl_status add_points(struct predicting *p, size_t application,
                                 const struct bl_band *band,
                                 const double *usual)
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
            status = add_point(
                p, unit, application, figure[f], &band[i],
                moved_by(&band[i], usual + i * BL_PREDICT_FIGURES, figure[f]));
        }
    }
    return status;
}

/* The bands of this kind and shape, drawn for this application if it is the
   first. */
static enum bl_status bands_for(struct predicting *p, struct modelling *m,
                                size_t application, const double *usual,
                                struct bl_band **out)
{
    const struct bl_application *a = &p->lag->application[application];
    struct bl_band **band = &p->band[a->kind][a->shape];
    *out = *band;
    if (*band != NULL) {
        return BL_OK;
    }
    struct bl_band *made = bl_alloc(p->modelled, sizeof(*made));
    m->sample = bl_alloc(p->modelled, sizeof(*m->sample));
    if (made == NULL || m->sample == NULL) {
        bl_free(made);
        return bl_fail_memory(p->error);
    }
    *band = *out = made;
    for (size_t i = 0; i < p->modelled; i++) {
        for (size_t f = 0; f < BL_PREDICT_FIGURES; f++) {
            made[i].middle[f] = NAN;
            made[i].usual[f] = usual[i * BL_PREDICT_FIGURES + f];
        }
    }
    enum bl_status status = all_draws(p, m, application, true, made);
    if (status == BL_OK && any_unknown(p)) {
        status = all_draws(p, m, application, false, made);
    }
    return status;
}

/* Measured figures alone, which are compared with nothing. */
static enum bl_status without_bands(struct predicting *p, size_t application)
{
    const size_t figures = p->modelled * BL_PREDICT_FIGURES;
    struct bl_band *band = bl_alloc(p->modelled, sizeof(*band));
    double *usual = bl_alloc(figures, sizeof(*usual));
    enum bl_status status = BL_OK;
    if (band == NULL || usual == NULL) {
        status = bl_fail_memory(p->error);
    }
    for (size_t i = 0; status == BL_OK && i < figures; i++) {
        band[i / BL_PREDICT_FIGURES].open[i % BL_PREDICT_FIGURES] = true;
    }
    if (status == BL_OK) {
        status = add_points(p, application, band, usual);
    }
    bl_free(band);
    bl_free(usual);
    return status;
}

static enum bl_status model(struct predicting *p, struct modelling *m,
                            size_t application)
{
    if (!p->bands) {
        return without_bands(p, application);
    }
    struct bl_band *band = NULL;
    double *usual = bl_alloc(p->modelled * BL_PREDICT_FIGURES, sizeof(*usual));
    enum bl_status status =
        usual == NULL
            ? bl_fail_memory(p->error)
            : run_draw(p, m, application, BL_PREDICT_DRAWS, true, usual);
    if (status == BL_OK) {
        status = bands_for(p, m, application, usual, &band);
    }
    if (status == BL_OK) {
        status = add_points(p, application, band, usual);
    }
    bl_free(usual);
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
    if (m.control == NULL || m.output == NULL) {
        status = bl_fail_memory(p->error);
    }
    if (status == BL_OK) {
        status = model(p, &m, application);
        p->into->modelled += status == BL_OK;
    }
    bl_drive_finish(&m.drive);
    bl_free(m.control);
    bl_free(m.output);
    bl_free(m.sample);
    return status;
}
