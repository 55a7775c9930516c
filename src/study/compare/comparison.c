/* SPDX-License-Identifier: MIT */
/*
 * A whole comparison: which runs, which rows, in which order, and what to say
 * about how the trial was made.
 */
#include "study/compare/compare.h"

#include "base/alloc.h"
#include "base/strbuf.h"
#include "lag/summary.h"
#include "study/compare/commanded.h"

#include <math.h>
#include <string.h>

/* Common practice. */
static const double USUAL_CONFIDENCE = 0.95;
/* Two hundredths of a second are half a metre at 90 km/h (own choice). */
static const double USUAL_SAME_WITHIN_S = 0.020;

static size_t runs_of(const struct bl_comparing *c, const char *condition)
{
    size_t count = 0;
    for (size_t i = 0; i < c->trial->runs; i++) {
        count +=
            c->lag[i] != NULL && bl_run_has_condition(c->trial, i, condition);
    }
    return count;
}

static enum bl_status need_runs(const struct bl_comparing *c,
                                const char *condition, size_t *count,
                                struct bl_error *error)
{
    *count = runs_of(c, condition);
    if (*count > 0) {
        return BL_OK;
    }
    struct bl_strbuf known = {.limit = 4096};
    for (size_t i = 0; i < c->trial->runs; i++) {
        const struct bl_trial_run *run = &c->trial->run[i];
        const char *name = run->condition == NULL ? run->name : run->condition;
        bool before = false;
        for (size_t k = 0; k < i; k++) {
            before = before || bl_run_has_condition(c->trial, k, name);
        }
        if (!before) {
            bl_strbuf_format(&known, "%s'%s'%s", i == 0 ? "" : ", ", name,
                             c->lag[i] == NULL ? " (not measured)" : "");
        }
    }
    const enum bl_status status =
        bl_fail(error, BL_TRIAL, c->trial->path,
                "expected measured runs of condition '%s', found %s",
                condition == NULL ? "" : condition, bl_strbuf_get(&known));
    bl_strbuf_finish(&known);
    return status;
}

static const struct bl_trial_input *
command_of(const struct bl_trial *trial, size_t unit,
           const struct bl_trial_unit **front)
{
    const long index =
        bl_trial_unit_index(trial, trial->unit[unit].combination, 0);
    if (index < 0) {
        *front = NULL;
        return NULL;
    }
    *front = &trial->unit[index];
    return &trial->unit[index].command;
}

/* Two units side by side must be measured from one and the same command. */
static enum bl_status same_command(const struct bl_trial *trial, size_t base,
                                   size_t against, struct bl_error *error)
{
    const struct bl_trial_unit *front_a;
    const struct bl_trial_unit *front_b;
    const struct bl_trial_input *a = command_of(trial, base, &front_a);
    const struct bl_trial_input *b = command_of(trial, against, &front_b);
    const bool same = a != NULL && b != NULL && a->kind == b->kind &&
                      a->text != NULL && b->text != NULL &&
                      strcmp(a->text, b->text) == 0 &&
                      front_a->command_kind == front_b->command_kind &&
                      front_a->command_at == front_b->command_at;
    if (same) {
        return BL_OK;
    }
    return bl_fail(error, BL_ARG, trial->path,
                   "not comparable: the two units are measured from different "
                   "commands, '%s' and '%s'",
                   a == NULL || a->text == NULL ? "none" : a->text,
                   b == NULL || b->text == NULL ? "none" : b->text);
}

/* Mean position of each condition's runs in the order of time: ABBA gives
   equal ones. */
static bool is_balanced(const struct bl_comparing *c)
{
    double sum[2] = {0, 0};
    size_t count[2] = {0, 0};
    for (size_t i = 0; i < c->trial->runs; i++) {
        if (c->lag[i] == NULL) {
            continue;
        }
        size_t rank = 0;
        for (size_t k = 0; k < c->trial->runs; k++) {
            rank += c->lag[k] != NULL &&
                    (c->lag[k]->t0_ns < c->lag[i]->t0_ns ||
                     (c->lag[k]->t0_ns == c->lag[i]->t0_ns && k < i));
        }
        const bool against =
            bl_run_has_condition(c->trial, i, c->against_condition);
        if (against || bl_run_has_condition(c->trial, i, c->base_condition)) {
            sum[against] += (double)rank;
            count[against]++;
        }
    }
    return count[0] > 0 && count[1] > 0 &&
           fabs(sum[0] / (double)count[0] - sum[1] / (double)count[1]) < 1e-9;
}

static void count_excluded(const struct bl_comparing *c)
{
    for (size_t i = 0; i < c->trial->runs; i++) {
        for (size_t a = 0; c->lag[i] != NULL && a < c->lag[i]->applications;
             a++) {
            c->into->excluded += c->lag[i]->application[a].excluded;
        }
    }
}

static enum bl_status rows_of_unit(struct bl_comparing *c,
                                   struct bl_values_wanted base,
                                   struct bl_values_wanted against,
                                   struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (int f = 0; f < BL_FIGURES && status == BL_OK; f++) {
        if (f == BL_FIGURE_SPREAD || (f == BL_FIGURE_STAGGER && c->two_units)) {
            continue;
        }
        base.figure = against.figure = (enum bl_figure_name)f;
        const size_t levels = f == BL_FIGURE_LEVEL ? c->trial->levels : 1;
        for (size_t l = 0; l < levels && status == BL_OK; l++) {
            base.level = against.level = l;
            status = bl_compare_row(c, &base, &against, error);
        }
    }
    return status;
}

/* Two units over all runs: with their transducers at one tee they tell of
   their chains, not of themselves. */
static const char *except_of(const struct bl_comparing *c)
{
    return c->two_units && c->base_condition == NULL ? c->reference.condition
                                                     : NULL;
}

static enum bl_status all_rows(struct bl_comparing *c,
                               const struct bl_compare_options *options,
                               struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (int kind = BL_KIND_UNKNOWN; kind <= BL_KIND_FULL; kind++) {
        for (int shape = BL_SHAPE_UNKNOWN; shape <= BL_SHAPE_RAMP; shape++) {
            struct bl_values_wanted base = {
                .kind = (enum bl_application_kind)kind,
                .shape = (enum bl_application_shape)shape,
                .except = except_of(c)};
            struct bl_values_wanted against = base;
            if (c->two_units) {
                base.unit = options->unit_base;
                against.unit = options->unit_against;
                status = rows_of_unit(c, base, against, error);
            }
            for (size_t u = 0;
                 !c->two_units && u < c->trial->units && status == BL_OK; u++) {
                base.unit = against.unit = u;
                status = rows_of_unit(c, base, against, error);
            }
            if (status != BL_OK) {
                return status;
            }
        }
    }
    return BL_OK;
}

static void say_how(const struct bl_comparing *c)
{
    struct bl_notes *notes = &c->into->notes;
    if (!c->two_units && !c->into->order_balanced) {
        (void)bl_note(notes, "order-not-balanced", -1, -1,
                      "the runs of the two conditions are not spread alike in "
                      "time: a drift (supply pressure, temperature) would look "
                      "like a difference; record in the order A B B A");
    }
    if (!c->two_units && !c->paired) {
        (void)bl_note(notes, "unpaired", -1, -1,
                      "the trial declares no blocks for all of these runs, so "
                      "runs are compared unpaired");
    }
    if (c->two_units && c->base_condition == NULL && c->into->runs_base > 1) {
        (void)bl_note(notes, "conditions-together", -1, -1,
                      "all runs are taken together, whatever their condition; "
                      "name one with --base to keep them apart");
    }
    size_t units = 0;
    for (size_t u = 0; u < c->trial->units; u++) {
        units += c->trial->unit[u].outputs > 0;
    }
    if (units > 1) {
        (void)bl_note(notes, "each-by-itself", -1, -1,
                      "the stated confidence holds for each line by itself; p "
                      "over all lines of a figure is adjusted by Holm");
    }
}

static enum bl_status orders_of(struct bl_order **out, size_t *count,
                                const struct bl_comparing *c,
                                const char *condition, struct bl_error *error)
{
    const struct bl_run_lag **chosen =
        bl_alloc(c->trial->runs, sizeof(*chosen));
    if (chosen == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < c->trial->runs; i++) {
        const char *except = except_of(c);
        if (bl_run_has_condition(c->trial, i, condition) &&
            (except == NULL || !bl_run_has_condition(c->trial, i, except))) {
            chosen[i] = c->lag[i];
        }
    }
    const enum bl_status status =
        bl_orders_find(out, count, c->trial, chosen, c->trial->runs, error);
    bl_free(chosen);
    return status;
}

static enum bl_status find_orders(const struct bl_comparing *c,
                                  struct bl_error *error)
{
    struct bl_comparison *into = c->into;
    enum bl_status status = orders_of(&into->order_base, &into->orders_base, c,
                                      c->base_condition, error);
    if (status == BL_OK && !c->two_units) {
        status = orders_of(&into->order_against, &into->orders_against, c,
                           c->against_condition, error);
    }
    return status;
}

static enum bl_status label(char **out, const char *text,
                            struct bl_error *error)
{
    if (text == NULL) {
        return BL_OK;
    }
    *out = bl_strdup(text);
    return *out == NULL ? bl_fail_memory(error) : BL_OK;
}

/* Two different units of the trial, under one command. */
static enum bl_status two_of_trial(const struct bl_trial *trial,
                                   const struct bl_compare_options *options,
                                   struct bl_error *error)
{
    if (options->unit_base >= trial->units ||
        options->unit_against >= trial->units ||
        options->unit_base == options->unit_against) {
        return bl_fail(error, BL_ARG, trial->path,
                       "expected two different ones of %zu units, found the "
                       "indices %zu and %zu",
                       trial->units, options->unit_base, options->unit_against);
    }
    return same_command(trial, options->unit_base, options->unit_against,
                        error);
}

struct bl_compare_options bl_compare_options_default(void)
{
    return (struct bl_compare_options){.mode = BL_COMPARE_CONDITIONS,
                                       .confidence = USUAL_CONFIDENCE,
                                       .same_within_s = USUAL_SAME_WITHIN_S};
}

static enum bl_status prepare(struct bl_comparing *c,
                              const struct bl_compare_options *options,
                              struct bl_error *error)
{
    struct bl_comparison *into = c->into;
    into->confidence =
        options->confidence > 0 ? options->confidence : USUAL_CONFIDENCE;
    into->speeds = c->trial->speeds;
    c->aim_s = options->aim_s;
    c->same_within_s = options->same_within_s > 0 ? options->same_within_s
                                                  : USUAL_SAME_WITHIN_S;
    c->two_units = options->mode == BL_COMPARE_UNITS;
    into->two_units = c->two_units;
    enum bl_status status =
        bl_reference_parse(&c->reference, c->trial, options->reference, error);
    if (status != BL_OK) {
        return status;
    }
    if (c->two_units) {
        c->base_condition = c->against_condition = options->base;
        c->paired = true;
        status = two_of_trial(c->trial, options, error);
    } else {
        c->base_condition = options->base == NULL ? "unpowered" : options->base;
        c->against_condition =
            options->against == NULL ? "powered" : options->against;
        c->paired = bl_blocks_declared(c->trial, c->lag, c->base_condition,
                                       c->against_condition);
        if (strcmp(c->base_condition, c->against_condition) == 0) {
            status = bl_fail(error, BL_ARG, c->trial->path,
                             "expected two different conditions, found '%s' "
                             "for both",
                             c->base_condition);
        }
    }
    if (status == BL_OK) {
        status = need_runs(c, c->base_condition, &into->runs_base, error);
        if (except_of(c) != NULL) {
            into->runs_base -= runs_of(c, except_of(c));
        }
    }
    if (status == BL_OK) {
        status = need_runs(c, c->against_condition, &into->runs_against, error);
        if (except_of(c) != NULL) {
            into->runs_against = into->runs_base;
        }
    }
    if (status == BL_OK && c->reference.condition != NULL) {
        status =
            need_runs(c, c->reference.condition, &into->runs_reference, error);
    }
    return status;
}

enum bl_status bl_compare(struct bl_comparison **out,
                          const struct bl_trial *trial,
                          struct bl_run_lag *const *lag,
                          const struct bl_compare_options *options,
                          struct bl_error *error)
{
    const struct bl_compare_options usual = bl_compare_options_default();
    *out = NULL;
    options = options == NULL ? &usual : options;
    const uint64_t refused = bl_alloc_refused();
    struct bl_comparison *into = bl_alloc(1, sizeof(*into));
    if (into == NULL) {
        return bl_fail_memory(error);
    }
    struct bl_comparing c = {.trial = trial, .lag = lag, .into = into};
    enum bl_status status = prepare(&c, options, error);
    if (status == BL_OK) {
        status = label(&into->base, c.base_condition, error);
    }
    if (status == BL_OK) {
        status = label(&into->against, c.against_condition, error);
    }
    if (status == BL_OK) {
        status = label(&into->reference, options->reference, error);
    }
    if (status == BL_OK) {
        into->order_balanced = is_balanced(&c);
        count_excluded(&c);
        status = bl_compare_commands(&c, error);
    }
    if (status == BL_OK) {
        say_how(&c);
        status = all_rows(&c, options, error);
    }
    if (status == BL_OK) {
        status = bl_compare_holm(into, error);
    }
    if (status == BL_OK) {
        bl_compare_drift(into);
        status = find_orders(&c, error);
    }
    /* Notes that could not be kept, for one. */
    if (status == BL_OK && bl_alloc_refused() != refused) {
        status = bl_fail_memory(error);
    }
    if (status != BL_OK) {
        bl_comparison_destroy(into);
        return status;
    }
    *out = into;
    return BL_OK;
}

void bl_comparison_destroy(struct bl_comparison *comparison)
{
    if (comparison == NULL) {
        return;
    }
    for (size_t i = 0; i < comparison->rows; i++) {
        bl_free(comparison->row[i].travel);
    }
    bl_free(comparison->row);
    bl_free(comparison->command);
    bl_orders_destroy(comparison->order_base, comparison->orders_base);
    bl_orders_destroy(comparison->order_against, comparison->orders_against);
    bl_free(comparison->base);
    bl_free(comparison->against);
    bl_free(comparison->reference);
    bl_notes_finish(&comparison->notes);
    bl_free(comparison);
}
