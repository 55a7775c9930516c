/* SPDX-License-Identifier: MIT */
/*
 * In which order the units answer, and how often that order repeats. A train
 * whose order changes from stroke to stroke has something loose; one whose
 * order is always the same is late by construction or by a steady defect.
 */
#include "lag/summary.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "lag/budget.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The applications of one combination, kind and shape, as orders. */
struct orders {
    struct bl_order *item;
    size_t count, capacity;
    const struct bl_run_lag *const *lag; /* of all runs */
    size_t runs, applications, width;    /* width: units of the trial */
};

struct placed {
    size_t unit;
    double s, u_s;
};

/* Does a missing figure mean that the unit cannot take part at all? */
static bool never(enum bl_reason reason)
{
    return reason == BL_REASON_NO_CHANNEL || reason == BL_REASON_SWITCH_ONLY;
}

/* Own uncertainty: the command is the same for all of them. */
static double own_u(const struct bl_figure *figure)
{
    struct bl_uncertainty part = figure->part;
    part.command = 0;
    part.clock = 0;
    return bl_budget_total(&part);
}

/* Where the clocks allow differences only, the stagger gives the order. */
static const struct bl_figure *figure_of(const struct bl_unit_lag *unit,
                                         enum bl_figure_name name)
{
    const struct bl_figure *figure = bl_unit_figure(unit, name, 0);
    return name == BL_FIGURE_RESPONSE && !figure->known &&
                   unit->figure[BL_FIGURE_STAGGER].known
               ? &unit->figure[BL_FIGURE_STAGGER]
               : figure;
}

static int by_time(const void *left, const void *right)
{
    const struct placed *a = left;
    const struct placed *b = right;
    if (a->s != b->s) {
        return a->s < b->s ? -1 : 1;
    }
    return a->unit < b->unit ? -1 : a->unit > b->unit;
}

/* The units in their order; false when one of them gave nothing. */
static bool place(struct placed *placed, size_t *count,
                  const struct bl_application *application,
                  enum bl_figure_name name)
{
    bool all = true;
    *count = 0;
    for (size_t u = 0; u < application->units; u++) {
        const struct bl_figure *f = figure_of(&application->unit[u], name);
        if (f->known) {
            placed[(*count)++] =
                (struct placed){application->unit[u].unit, f->s, own_u(f)};
        } else if (!never(f->reason)) {
            all = false;
        }
    }
    qsort(placed, *count, sizeof(*placed), by_time);
    return all && *count > 1;
}

static bool is_close(const struct placed *placed, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        if (placed[i].s - placed[i - 1].s <
            2 * hypot(placed[i].u_s, placed[i - 1].u_s)) {
            return true;
        }
    }
    return false;
}

/* What one order is about. */
struct group {
    char combination;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    enum bl_figure_name figure;
};

static bool belongs(const struct bl_application *application,
                    const struct group *g)
{
    return !application->excluded &&
           application->combination == g->combination &&
           application->kind == g->kind && application->shape == g->shape;
}

/* Most frequent of `count` rows of `width` units; the first of equals. */
static void most_frequent(struct bl_order *order, const size_t *rows,
                          size_t count, size_t width)
{
    for (size_t i = 0; i < count; i++) {
        size_t same = 0;
        for (size_t k = 0; k < count; k++) {
            same += memcmp(rows + i * width, rows + k * width,
                           width * sizeof(*rows)) == 0;
        }
        if (same > order->repeats) {
            order->repeats = same;
            memcpy(order->unit, rows + i * width, width * sizeof(*rows));
        }
    }
}

static enum bl_status keep(struct orders *orders, struct bl_order *order,
                           struct bl_error *error)
{
    if (!bl_grow(&orders->item, &orders->capacity, orders->count + 1,
                 sizeof(*orders->item), BL_LIMIT_APPLICATIONS)) {
        bl_free(order->unit);
        return bl_fail_memory(error);
    }
    orders->item[orders->count++] = *order;
    return BL_OK;
}

/* All applications of the group; `rows` has room for every one of them. */
static void read_group(const struct orders *orders, const struct group *g,
                       struct bl_order *order, size_t *rows,
                       struct placed *placed)
{
    const size_t width = orders->width;
    for (size_t r = 0; r < orders->runs; r++) {
        const struct bl_run_lag *lag = orders->lag[r];
        for (size_t a = 0; lag != NULL && a < lag->applications; a++) {
            const struct bl_application *application = &lag->application[a];
            size_t count;
            if (!belongs(application, g)) {
                continue;
            }
            if (!place(placed, &count, application, g->figure)) {
                order->without += count > 0;
                continue;
            }
            size_t *row = rows + order->n * width;
            for (size_t i = 0; i < width; i++) {
                row[i] = i < count ? placed[i].unit : SIZE_MAX;
            }
            order->units = count > order->units ? count : order->units;
            order->close += is_close(placed, count);
            order->n++;
        }
    }
    most_frequent(order, rows, order->n, width);
}

static enum bl_status add_group(struct orders *orders, const struct group *g,
                                struct bl_error *error)
{
    const size_t width = orders->width;
    enum bl_status status = BL_OK;
    struct bl_order order = {.combination = g->combination,
                             .kind = g->kind,
                             .shape = g->shape,
                             .figure = g->figure};
    size_t *rows = bl_alloc(orders->applications, width * sizeof(*rows));
    struct placed *placed = bl_alloc(width, sizeof(*placed));
    order.unit = bl_alloc(width, sizeof(*order.unit));
    if (rows == NULL || placed == NULL || order.unit == NULL) {
        status = bl_fail_memory(error);
    } else {
        read_group(orders, g, &order, rows, placed);
    }
    if (status == BL_OK && order.n + order.without > 0) {
        status = keep(orders, &order, error);
    } else {
        bl_free(order.unit);
    }
    bl_free(rows);
    bl_free(placed);
    return status;
}

static enum bl_status add_kinds(struct orders *orders, char combination,
                                struct bl_error *error)
{
    static const enum bl_figure_name figures[] = {BL_FIGURE_RESPONSE,
                                                  BL_FIGURE_FILLED};
    enum bl_status status = BL_OK;
    for (int kind = BL_KIND_UNKNOWN; kind <= BL_KIND_FULL; kind++) {
        for (int shape = BL_SHAPE_UNKNOWN; shape <= BL_SHAPE_RAMP; shape++) {
            for (size_t f = 0; f < 2 && status == BL_OK; f++) {
                const struct group g = {
                    combination, (enum bl_application_kind)kind,
                    (enum bl_application_shape)shape, figures[f]};
                status = add_group(orders, &g, error);
            }
        }
    }
    return status;
}

enum bl_status bl_orders_find(struct bl_order **out, size_t *count,
                              const struct bl_trial *trial,
                              const struct bl_run_lag *const *lag, size_t runs,
                              struct bl_error *error)
{
    struct orders orders = {.lag = lag, .runs = runs, .width = trial->units};
    enum bl_status status = BL_OK;
    for (size_t r = 0; r < runs; r++) {
        orders.applications += lag[r] == NULL ? 0 : lag[r]->applications;
    }
    char before = '\0';
    for (size_t u = 0; u < trial->units && status == BL_OK; u++) {
        const char combination = trial->unit[u].combination;
        if (combination != before) {
            status = add_kinds(&orders, combination, error);
            before = combination;
        }
    }
    *out = orders.item;
    *count = orders.count;
    if (status != BL_OK) {
        bl_orders_destroy(orders.item, orders.count);
        *out = NULL;
        *count = 0;
    }
    return status;
}

void bl_orders_destroy(struct bl_order *order, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        bl_free(order[i].unit);
    }
    bl_free(order);
}
