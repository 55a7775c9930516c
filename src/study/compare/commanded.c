/* SPDX-License-Identifier: MIT */
/*
 * The command is part of the comparison (docs/methods/comparison.md). A pedal
 * that goes down slower makes every unit later: at a share q of the rise, a
 * unit that only delays by as much as the command itself is later at q, a unit
 * that only fills by as much as the command is at half of its way (the delay of
 * the centre of its rise). The first is taken off, the distance to the second
 * is how wrong that may be.
 */
#include "study/compare/commanded.h"

#include "base/array.h"
#include "base/limits.h"
#include "lag/summary.h"

#include <math.h>

/* Own choices. Feet agree no better than 5 ms; holds within a fiftieth are one
   hold; a tenth more of it is another application. */
static const double LEAST_MOVE_S = 0.005, LEAST_HOLD = 0.02, FAR_HOLD = 0.10;
/* Of k = 2. */
static const double COVERS = 2;

/* Mean and its u of one property on one side. */
struct side {
    double sum, squares, read;
    size_t n;
};

static void put(struct side *side, double value, double u)
{
    if (!isnan(value)) {
        side->n++;
        side->sum += value;
        side->squares += value * value;
        side->read += isnan(u) ? 0 : u * u;
    }
}

static double mean_of(const struct side *side)
{
    return side->n == 0 ? (double)NAN : side->sum / (double)side->n;
}

/* Squared: what the values scatter by, or were read to, whichever is more. */
static double variance_of(const struct side *side)
{
    const double n = (double)side->n;
    const double mean = mean_of(side);
    const double scatter =
        side->n < 2 ? 0 : fmax(0, side->squares / n - mean * mean) / (n - 1);
    return fmax(scatter, side->n == 0 ? 0 : side->read / (n * n));
}

static void judge(struct bl_command_part *part, const struct side side[2],
                  double least)
{
    part->base = mean_of(&side[0]);
    part->against = mean_of(&side[1]);
    part->difference = part->against - part->base;
    part->u = sqrt(variance_of(&side[0]) + variance_of(&side[1]));
    part->u = isnan(part->difference) ? (double)NAN : part->u;
    part->differs = fabs(part->difference) > COVERS * part->u &&
                    fabs(part->difference) > least;
}

/* One kind and shape while it is gathered. */
struct gathered {
    struct side rise[2], fall[2], hold[2];
};

static double between(const struct bl_figure *from, const struct bl_figure *to)
{
    return from->known && to->known ? to->s - from->s : (double)NAN;
}

static void gather(struct gathered *g, const struct bl_application *at,
                   size_t side)
{
    const struct bl_figure *own = at->own;
    put(&g->rise[side],
        between(&own[BL_FIGURE_APPLY_10], &own[BL_FIGURE_APPLY_75]),
        hypot(own[BL_FIGURE_APPLY_10].u_s, own[BL_FIGURE_APPLY_75].u_s));
    put(&g->fall[side],
        between(&own[BL_FIGURE_RELEASE_START], &own[BL_FIGURE_RELEASE_10]),
        hypot(own[BL_FIGURE_RELEASE_START].u_s, own[BL_FIGURE_RELEASE_10].u_s));
    put(&g->hold[side],
        at->command_hold.known && at->command_rest.known
            ? at->command_hold.value - at->command_rest.value
            : (double)NAN,
        0);
}

static enum bl_status one(const struct bl_comparing *c,
                          const struct bl_compared_command *wanted,
                          struct bl_error *error)
{
    struct bl_comparison *into = c->into;
    struct bl_compared_command made = *wanted;
    struct gathered g = {0};
    for (size_t run = 0; run < c->trial->runs; run++) {
        const bool against =
            bl_run_has_condition(c->trial, run, c->against_condition);
        if (c->lag[run] == NULL ||
            (!against &&
             !bl_run_has_condition(c->trial, run, c->base_condition))) {
            continue;
        }
        for (size_t a = 0; a < c->lag[run]->applications; a++) {
            const struct bl_application *at = &c->lag[run]->application[a];
            if (at->excluded || at->combination != made.combination ||
                at->kind != made.kind || at->shape != made.shape) {
                continue;
            }
            gather(&g, at, against);
            made.n_base += !against;
            made.n_against += against;
            made.quantity = at->command_hold.quantity;
            made.unseen =
                made.unseen || at->command_hold.reason == BL_REASON_SWITCH_ONLY;
        }
    }
    if (made.n_base + made.n_against == 0) {
        return BL_OK;
    }
    judge(&made.rise, g.rise, LEAST_MOVE_S);
    judge(&made.fall, g.fall, LEAST_MOVE_S);
    const double most = fmax(mean_of(&g.hold[0]), mean_of(&g.hold[1]));
    judge(&made.hold, g.hold, LEAST_HOLD * most);
    made.hold_far =
        made.hold.differs && fabs(made.hold.difference) > FAR_HOLD * most;
    if (!bl_grow(&into->command, &into->command_capacity, into->commands + 1,
                 sizeof(*into->command), BL_LIMIT_APPLICATIONS)) {
        return bl_fail_memory(error);
    }
    into->command[into->commands++] = made;
    return BL_OK;
}

enum bl_status bl_compare_commands(const struct bl_comparing *c,
                                   struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (size_t u = 0; !c->two_units && u < c->trial->units; u++) {
        if (c->trial->unit[u].number != 0) {
            continue;
        }
        for (int kind = BL_KIND_UNKNOWN; kind <= BL_KIND_FULL; kind++) {
            for (int shape = BL_SHAPE_UNKNOWN;
                 shape <= BL_SHAPE_RAMP && status == BL_OK; shape++) {
                const struct bl_compared_command wanted = {
                    .combination = c->trial->unit[u].combination,
                    .kind = (enum bl_application_kind)kind,
                    .shape = (enum bl_application_shape)shape};
                status = one(c, &wanted, error);
            }
        }
    }
    return status;
}

const struct bl_compared_command *
bl_compared_command_of(const struct bl_comparing *c,
                       const struct bl_comparison_row *row)
{
    for (size_t i = 0; i < c->into->commands; i++) {
        const struct bl_compared_command *command = &c->into->command[i];
        if (command->combination == c->trial->unit[row->unit].combination &&
            command->kind == row->kind && command->shape == row->shape) {
            return command;
        }
    }
    return NULL;
}

/* Of the command at this figure: its own passage, and half of its way. False:
   not every application tells. */
static bool own_means(const struct bl_values *values, double *own, double *half)
{
    *own = *half = 0;
    for (size_t i = 0; i < values->count; i++) {
        const double n = (double)i + 1;
        *own += (values->item[i].own_s - *own) / n;
        *half += (values->item[i].half_s - *half) / n;
    }
    return values->count > 0 && !isnan(*own) && !isnan(*half);
}

static void less_own(struct bl_values *values)
{
    for (size_t i = 0; i < values->count; i++) {
        values->item[i].s -= values->item[i].own_s;
    }
}

void bl_compare_take_off(struct bl_comparison_row *row,
                         const struct bl_compared_command *command,
                         struct bl_values *base, struct bl_values *against)
{
    const struct bl_figure_entry *figure = bl_figure_entry(row->figure);
    const bool release = figure->side == BL_SIDE_RELEASE;
    const struct bl_command_part *move = command == NULL ? NULL
                                         : release       ? &command->fall
                                                         : &command->rise;
    if (move == NULL || (!move->differs && !command->hold_far)) {
        return;
    }
    row->metres_refused = true;
    if (!move->differs) {
        return;
    }
    double own[2];
    double half[2];
    const bool known = own_means(base, &own[0], &half[0]) &&
                       own_means(against, &own[1], &half[1]);
    if (figure->at != BL_AT_HOLD || !known) {
        /* Anything between nothing and the command's whole difference. */
        row->u_command_s = fabs(move->difference) / sqrt(3);
        return;
    }
    row->metres_refused = command->hold_far;
    row->command_taken_off = true;
    row->command_s = own[1] - own[0];
    row->u_command_s = fabs(half[1] - half[0] - row->command_s) / sqrt(3);
    less_own(base);
    less_own(against);
}
