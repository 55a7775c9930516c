/* SPDX-License-Identifier: MIT */
/*
 * The definitions of docs/methods/figures.md on the traces themselves: no
 * noise, no transducer, crossings by a straight line between steps. The
 * command is what the trial file names as the command; everything else is
 * told relative to it, on the log's clock.
 */
#include "simulate/result.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

#define TOUCHED_KPA 3.0
#define SETTLED_S 0.5
#define LAST_S 0.2

struct truth {
    const struct sim_world *world;
    double *command; /* on the world's steps */
    bool held;       /* a bus value: first frame, not interpolated */
    double level, rest;
    double *scratch;
};

/* First upward passage in [from, to), seconds; NaN. */
static double rises(const struct truth *x, const double *trace, double from_s,
                    double to_s, double level)
{
    const double step = x->world->scenario->step_s;
    size_t n = from_s > 0 ? (size_t)(from_s / step) : 0;
    for (n++; n < x->world->count && (double)n * step < to_s; n++) {
        if (trace[n - 1] < level && trace[n] >= level) {
            const double part =
                (level - trace[n - 1]) / (trace[n] - trace[n - 1]);
            return ((double)(n - 1) + part) * step;
        }
    }
    return (double)NAN;
}

static double falls(const struct truth *x, const double *trace, double from_s,
                    double to_s, double level)
{
    const double step = x->world->scenario->step_s;
    size_t n = from_s > 0 ? (size_t)(from_s / step) : 0;
    for (n++; n < x->world->count && (double)n * step < to_s; n++) {
        if (trace[n - 1] > level && trace[n] <= level) {
            const double part =
                (trace[n - 1] - level) / (trace[n - 1] - trace[n]);
            return ((double)(n - 1) + part) * step;
        }
    }
    return (double)NAN;
}

static double median_between(const struct truth *x, const double *trace,
                             double from_s, double to_s)
{
    const double step = x->world->scenario->step_s;
    size_t first = from_s > 0 ? (size_t)(from_s / step) : 0;
    size_t end = to_s > 0 ? (size_t)(to_s / step) + 1 : 1;
    end = end < x->world->count ? end : x->world->count;
    first = first < end ? first : end - 1;
    memcpy(x->scratch, trace + first, (end - first) * sizeof(*trace));
    return bl_median(x->scratch, end - first);
}

static double most_between(const struct truth *x, const double *trace,
                           double from_s, double to_s)
{
    const double step = x->world->scenario->step_s;
    double most = -1e9;
    for (size_t n = (size_t)(from_s / step);
         n < x->world->count && (double)n * step < to_s; n++) {
        most = trace[n] > most ? trace[n] : most;
    }
    return most;
}

/* Stamp of the first frame of demand on a unit's link at or above the level,
   or at or below it; NaN. */
static double frame_passes(const struct truth *x, size_t unit, double from_s,
                           double to_s, double level, bool up)
{
    const struct sim_world *world = x->world;
    const char *bus = world->scenario->unit[unit].bus;
    for (size_t i = 0; i < world->frames; i++) {
        const struct sim_trace_frame *f = &world->frame[i];
        const double t = (double)f->frame.time_ns * 1e-9;
        if (t >= to_s) {
            break;
        }
        if (t >= from_s &&
            (up ? f->demand_kpa >= level : f->demand_kpa <= level) &&
            strcmp(world->bus[f->frame.bus], bus) == 0) {
            return t;
        }
    }
    return (double)NAN;
}

static void set_command(struct truth *x)
{
    const struct sim_world *world = x->world;
    const struct bl_scenario *s = world->scenario;
    x->level = s->command_at_kpa;
    for (size_t n = 0; n < world->count; n++) {
        const double t = (double)n * s->step_s;
        double value = world->treadle[n];
        if (s->command == COMMAND_PEDAL_SWITCH) {
            value = bl_sim_pedal_kpa(world, t);
        } else if (s->command == COMMAND_DEMAND) {
            value = world->unit[1].demand[n];
            value = isnan(value) ? 0 : value;
        }
        x->command[n] = value;
    }
    x->held = s->command == COMMAND_DEMAND;
    if (s->command == COMMAND_PEDAL_SWITCH) {
        x->level = TOUCHED_KPA;
    }
}

static struct bl_true_figure figure(const struct truth *x, double time_s,
                                    double from_s)
{
    if (isnan(time_s)) {
        return (struct bl_true_figure){false, (double)NAN};
    }
    return (struct bl_true_figure){
        true, (time_s - from_s) * bl_sim_log_scale(x->world->scenario)};
}

/* One application in true time. */
struct span {
    double apply_s, release_s, end_s, next_s, hold;
};

static void set_hold(const struct truth *x, const double *output,
                     const struct span *span, struct bl_true_unit *unit)
{
    const double from = span->release_s - SETTLED_S;
    const double half = span->release_s - SETTLED_S / 2;
    unit->rest_kpa =
        median_between(x, output, span->apply_s - 0.5, span->apply_s - 0.02);
    const double first = median_between(x, output, from, half);
    const double second = median_between(x, output, half, span->release_s);
    const double whole = median_between(x, output, from, span->release_s);
    const double slope = (second - first) / (SETTLED_S / 2);
    unit->settled = from > span->apply_s &&
                    fabs(slope) < 0.01 * fabs(whole - unit->rest_kpa);
    unit->hold_kpa = unit->settled
                         ? whole
                         : median_between(x, output, span->release_s - LAST_S,
                                          span->release_s);
    unit->peak_kpa = most_between(x, output, span->apply_s, span->next_s);
}

/* Onset: the last moment before half of the rise at which the output was less
   than 1 kPa above rest. */
static double onset(const struct truth *x, const double *output, double from_s,
                    double half_s, double rest_kpa)
{
    const double step = x->world->scenario->step_s;
    const double level = rest_kpa + 1;
    const size_t first = from_s > 0 ? (size_t)(from_s / step) : 0;
    if (isnan(half_s)) {
        return (double)NAN;
    }
    for (size_t i = (size_t)(half_s / step); i > first; i--) {
        if (output[i - 1] < level && output[i] >= level) {
            const double share =
                (level - output[i - 1]) / (output[i] - output[i - 1]);
            return ((double)(i - 1) + share) * step;
        }
    }
    return (double)NAN;
}

static void apply_figures(const struct truth *x, const double *output,
                          const struct span *span, struct bl_true_unit *unit)
{
    const struct bl_scenario *s = x->world->scenario;
    const double from = span->apply_s - 0.5;
    const double rise = unit->hold_kpa - unit->rest_kpa;
    const double response = rises(x, output, from, span->next_s,
                                  unit->rest_kpa + s->response_at_kpa);
    unit->responded = !isnan(response);
    unit->figure[BL_FIGURE_RESPONSE] = figure(x, response, span->apply_s);
    const double half =
        rises(x, output, from, span->next_s, unit->rest_kpa + 0.5 * rise);
    unit->figure[BL_FIGURE_RISE_START] =
        figure(x,
               unit->responded ? onset(x, output, from, half, unit->rest_kpa)
                               : (double)NAN,
               span->apply_s);
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        if (entry->at != BL_AT_HOLD || entry->side != BL_SIDE_APPLY) {
            continue;
        }
        const double at = rises(x, output, from, span->next_s,
                                unit->rest_kpa + entry->share * rise);
        unit->figure[i] =
            figure(x, unit->responded ? at : (double)NAN, span->apply_s);
    }
    for (size_t i = 0; i < s->levels; i++) {
        unit->level[i] =
            figure(x, rises(x, output, from, span->next_s, s->level_kpa[i]),
                   span->apply_s);
    }
}

static void release_figures(const struct truth *x, const double *output,
                            const struct span *span, struct bl_true_unit *unit)
{
    const double rise = unit->hold_kpa - unit->rest_kpa;
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        if (entry->side != BL_SIDE_RELEASE) {
            continue;
        }
        const double height = entry->at == BL_AT_HOLD
                                  ? entry->share * rise
                                  : x->world->scenario->response_at_kpa;
        const double at = unit->responded
                              ? falls(x, output, span->release_s, span->next_s,
                                      unit->rest_kpa + height)
                              : (double)NAN;
        unit->figure[i] = figure(x, at, span->release_s);
    }
}

static enum bl_status add_units(struct truth *x, const struct span *span,
                                struct bl_true_application *application,
                                struct bl_error *error)
{
    const struct bl_scenario *s = x->world->scenario;
    application->unit = bl_alloc(s->units, sizeof(*application->unit));
    if (application->unit == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t u = 0; u < s->units; u++) {
        if (!s->unit[u].brakes) {
            continue;
        }
        struct bl_true_unit *unit = &application->unit[application->units];
        unit->level = bl_alloc(s->levels, sizeof(*unit->level));
        if (unit->level == NULL) {
            return bl_fail_memory(error);
        }
        application->units++;
        unit->unit = u;
        /* At one tee every sensor sees the treadle pressure. */
        const double *output = s->run[x->world->run].reference
                                   ? x->world->treadle
                                   : x->world->unit[u].output;
        set_hold(x, output, span, unit);
        apply_figures(x, output, span, unit);
        release_figures(x, output, span, unit);
        unit->figure[BL_FIGURE_DEMAND_ARRIVAL] =
            figure(x,
                   u == 0 ? (double)NAN
                          : frame_passes(x, u, span->apply_s - 0.5, span->end_s,
                                         s->command_at_kpa, true),
                   span->apply_s);
    }
    return BL_OK;
}

static void classify(const struct truth *x, const struct span *span,
                     struct bl_true_application *application)
{
    const double hold = span->hold;
    application->kind = hold < 150   ? BL_KIND_LIGHT
                        : hold < 550 ? BL_KIND_SERVICE
                                     : BL_KIND_FULL;
    const double from = span->apply_s - 5 > 0 ? span->apply_s - 5 : 0;
    const double ten = rises(x, x->command, from, span->next_s, 0.1 * hold);
    const double ninety = rises(x, x->command, from, span->next_s, 0.9 * hold);
    application->shape = ninety - ten <= 0.4 ? BL_SHAPE_STEP : BL_SHAPE_RAMP;
    application->command_hold_kpa = hold;
}

static enum bl_status add_application(struct truth *x,
                                      struct sim_result *result,
                                      const struct span *span,
                                      struct bl_error *error)
{
    const struct bl_scenario *s = x->world->scenario;
    const size_t count = result->shown.applications;
    if (!bl_grow(&result->application, &result->application_capacity, count + 1,
                 sizeof(*result->application), BL_LIMIT_APPLICATIONS)) {
        return bl_fail_memory(error);
    }
    struct bl_true_application *application = &result->application[count];
    memset(application, 0, sizeof(*application));
    result->shown.application = result->application;
    result->shown.applications++;
    application->number = (int)count + 1;
    application->finished = true;
    application->apply_ns = bl_sim_log_stamp(s, x->world->run, span->apply_s);
    application->release_ns =
        bl_sim_log_stamp(s, x->world->run, span->release_s);
    classify(x, span, application);
    return add_units(x, span, application, error);
}

/* Last fall of the command through 90 % of its hold before its end. */
static double releases(const struct truth *x, const struct span *span)
{
    const double last_s = x->world->duration_s;
    double at = (double)NAN;
    double next = span->apply_s;
    for (;;) {
        next = falls(x, x->command, next, span->end_s + 0.01, 0.9 * span->hold);
        if (isnan(next)) {
            return x->held && !isnan(at)
                       ? frame_passes(x, 1, at - 0.008, last_s,
                                      0.9 * span->hold, false)
                       : at;
        }
        at = next;
        next += x->world->scenario->step_s;
    }
}

/* The next application that begins at or after from_s. */
static bool find_span(const struct truth *x, double from_s, struct span *span)
{
    const double last = x->world->duration_s;
    const struct sim_world *world = x->world;
    span->apply_s = rises(x, x->command, from_s, last, x->level);
    if (isnan(span->apply_s)) {
        return false;
    }
    if (x->held) {
        span->apply_s =
            frame_passes(x, 1, span->apply_s - 0.02, last, x->level, true);
    }
    span->end_s =
        falls(x, x->command, span->apply_s + 0.001, last, x->level / 2);
    if (isnan(span->end_s)) {
        return false;
    }
    const double peak = most_between(x, x->command, span->apply_s, span->end_s);
    double top = span->apply_s;
    for (double t = span->end_s; t > span->apply_s;
         t -= world->scenario->step_s) {
        if (bl_sim_trace(world, x->command, t) >= 0.98 * peak) {
            top = t;
            break;
        }
    }
    const double begin = top - 0.3 > span->apply_s ? top - 0.3 : span->apply_s;
    span->hold = median_between(x, x->command, begin, top);
    span->release_s = releases(x, span);
    const double next = rises(x, x->command, span->end_s, last, x->level);
    span->next_s = isnan(next) ? last : next;
    return !isnan(span->release_s);
}

enum bl_status bl_sim_truth(struct sim_result *result,
                            const struct sim_world *world,
                            struct bl_error *error)
{
    struct truth x = {.world = world};
    enum bl_status status = BL_OK;
    x.command = bl_alloc(world->count, sizeof(*x.command));
    x.scratch = bl_alloc(world->count, sizeof(*x.scratch));
    if (x.command == NULL || x.scratch == NULL) {
        status = bl_fail_memory(error);
        goto out;
    }
    set_command(&x);
    struct span span;
    double from = 0;
    while (status == BL_OK && find_span(&x, from, &span)) {
        status = add_application(&x, result, &span, error);
        from = span.end_s;
    }
out:
    bl_free(x.command);
    bl_free(x.scratch);
    return status;
}
