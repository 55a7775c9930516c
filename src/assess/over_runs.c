/* SPDX-License-Identifier: MIT */
/* What is studied over all runs of a trial, in the order in which one builds on
   the other: findings and comparison, then the answer from both. */
#include "assess/assess.h"

#include "base/alloc.h"

#include <string.h>

/* The same runs as the studies take them; what they point to is borrowed. */
struct views {
    struct bl_run_lag **lag;
    struct bl_reach **reach;
    struct bl_causes_run *seen;
    const struct bl_visits *visits;
};

static bool make_views(struct views *v, const struct bl_assessment *a)
{
    v->lag = bl_alloc(a->runs + 1, sizeof(struct bl_run_lag *));
    v->reach = bl_alloc(a->runs + 1, sizeof(struct bl_reach *));
    v->seen = bl_alloc(a->runs + 1, sizeof(*v->seen));
    if (v->lag == NULL || v->reach == NULL || v->seen == NULL) {
        return false;
    }
    for (size_t i = 0; i < a->runs; i++) {
        const struct bl_assessed_run *run = &a->run[i];
        v->lag[i] = run->lag;
        v->reach[i] = run->reach;
        v->seen[i] = (struct bl_causes_run){.data = run->data,
                                            .clocks = run->clocks,
                                            .lag = run->lag,
                                            .reach = run->reach,
                                            .curves = run->curves,
                                            .pairs = run->pairs,
                                            .predict = run->predict};
    }
    return true;
}

/* Causes hold units against each other, which no run does by itself: what they
   find of a demand that is ignored is what reach answers, too. */
static void share_ignored(const struct views *v,
                          const struct bl_findings *findings)
{
    for (size_t i = 0; i < findings->count; i++) {
        const struct bl_finding *f = &findings->item[i];
        if (f->code != BL_FINDING_DEMAND_IGNORED || f->unit < 0 ||
            f->shown != BL_SHOWN_FOUND) {
            continue;
        }
        if (f->run >= 0) {
            bl_reach_ignores(v->reach[f->run], (size_t)f->unit);
        }
        for (size_t k = 0; k < f->alsos; k++) {
            bl_reach_ignores(v->reach[f->also[k]], (size_t)f->unit);
        }
    }
}

static enum bl_status find(struct bl_assessment *a, const struct views *v,
                           const struct bl_visits *visits,
                           struct bl_error *error)
{
    struct bl_findings *findings = bl_alloc(1, sizeof(*findings));
    if (findings == NULL) {
        return bl_fail_memory(error);
    }
    const enum bl_status status =
        bl_causes(findings, a->trial, v->seen, visits, error);
    if (status != BL_OK) {
        bl_findings_finish(findings);
        bl_free(findings);
        return status;
    }
    share_ignored(v, findings);
    a->findings = findings;
    return BL_OK;
}

static bool has_condition(const struct bl_assessment *a, const char *name)
{
    for (size_t i = 0; i < a->runs; i++) {
        const char *condition = a->trial->run[i].condition;
        if (a->run[i].lag != NULL && condition != NULL &&
            strcmp(condition, name) == 0) {
            return true;
        }
    }
    return false;
}

/* As asked for, or powered against unpowered, where the trial has both. */
static enum bl_status compare(struct bl_assessment *a, const struct views *v,
                              const struct bl_compare_options *options,
                              struct bl_error *error)
{
    if (options == NULL &&
        (!has_condition(a, "powered") || !has_condition(a, "unpowered"))) {
        return BL_OK;
    }
    return bl_compare(&a->comparison, a->trial, v->lag, options, error);
}

static enum bl_status answer(struct bl_assessment *a, const struct views *v,
                             unsigned topics, struct bl_error *error)
{
    const struct bl_answer_input input = {a->trial, v->seen, a->findings,
                                          a->comparison, topics};
    enum bl_status status = bl_answer_create(&a->answer, &input, error);
    if (status == BL_OK && (a->parts & BL_ASSESS_SERIES) != 0) {
        status = bl_picture_create(&a->picture, &input, a->answer, error);
    }
    return status;
}

static enum bl_status study(struct bl_assessment *a, const struct views *v,
                            const struct bl_assess_options *options,
                            enum bl_assess_part part, struct bl_error *error)
{
    if ((a->parts & part) == 0) {
        return BL_OK;
    }
    switch (part) {
    case BL_ASSESS_FINDINGS:
        return find(a, v, v->visits, error);
    case BL_ASSESS_COMPARISON:
        return compare(a, v, options->compare, error);
    case BL_ASSESS_ANSWER:
        return answer(a, v, options->topics, error);
    case BL_ASSESS_DYNAMICS:
        return bl_dynamics_create(&a->dynamics, a->trial, v->lag, error);
    case BL_ASSESS_LIMITS:
        return bl_limits_create(&a->limits, a->trial, v->lag, error);
    case BL_ASSESS_CHECK:
    case BL_ASSESS_CAUSES:
    case BL_ASSESS_REACH:
    case BL_ASSESS_CURVES:
    case BL_ASSESS_PREDICT:
    case BL_ASSESS_SERIES:
    case BL_ASSESS_REPORT:
        break;
    }
    return BL_OK;
}

/* The first failure of each is kept, and the next is made all the same. */
static enum bl_status try_part(struct bl_assessment *a, const struct views *v,
                               const struct bl_assess_options *options,
                               enum bl_assess_part part, struct bl_error *error)
{
    struct bl_error why;
    bl_error_clear(&why);
    const enum bl_status status =
        bl_assess_note(&a->failed, study(a, v, options, part, &why), &why);
    if (status != BL_OK) {
        *error = why;
    }
    return status;
}

static enum bl_status try_budget(struct bl_assessment *a, const struct views *v,
                                 const char *asked, struct bl_error *error)
{
    struct bl_error why;
    bl_error_clear(&why);
    const enum bl_status status = bl_assess_note(
        &a->failed, bl_budget_create(&a->budget, a->trial, v->lag, asked, &why),
        &why);
    if (status != BL_OK) {
        *error = why;
    }
    return status;
}

enum bl_status bl_assess_over_runs(struct bl_assessment *a,
                                   const struct bl_assess_options *options,
                                   struct bl_error *error)
{
    static const enum bl_assess_part order[] = {
        BL_ASSESS_FINDINGS, BL_ASSESS_COMPARISON, BL_ASSESS_ANSWER,
        BL_ASSESS_DYNAMICS, BL_ASSESS_LIMITS};
    struct views v = {NULL, NULL, NULL, NULL};
    enum bl_status status = make_views(&v, a) ? BL_OK : bl_fail_memory(error);
    if (status == BL_OK && options->visits != NULL) {
        status = options->visits(&v.visits, options->visits_user, a, error);
    }
    if (status == BL_OK && (a->parts & BL_ASSESS_REACH) != 0) {
        status = bl_reach_across(
            a->trial, v.reach, (const struct bl_run_lag *const *)v.lag, error);
    }
    for (size_t i = 0; status == BL_OK && i < sizeof(order) / sizeof(order[0]);
         i++) {
        status = try_part(a, &v, options, order[i], error);
    }
    if (status == BL_OK && options->budget != NULL) {
        status = try_budget(a, &v, options->budget, error);
    }
    bl_free(v.lag);
    bl_free(v.reach);
    bl_free(v.seen);
    return status;
}
