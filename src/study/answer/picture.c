/* SPDX-License-Identifier: MIT */
/*
 * What stands beside the answer: the hardest kind of application that gave
 * figures, condition by condition, with the median of each figure over all runs
 * of the condition. The odd unit is that of the answer's first sentence, where
 * that concerns the condition; the band of those of which nothing was found
 * reaches from the least to the greatest of their medians.
 */
#include "study/answer/picture.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"
#include "lag/application.h"
#include "lag/summary.h"

#include <math.h>
#include <string.h>

void bl_picture_each(struct bl_answering *a,
                     const struct bl_picture_group *group,
                     void (*visit)(size_t run,
                                   const struct bl_application *application,
                                   void *user),
                     void *user)
{
    for (size_t r = 0; r < a->input->trial->runs; r++) {
        const struct bl_run_lag *lag = a->input->run[r].lag;
        if (lag == NULL ||
            strcmp(bl_answer_condition(a, r), group->condition) != 0) {
            continue;
        }
        for (size_t i = 0; i < lag->applications; i++) {
            const struct bl_application *one = &lag->application[i];
            if (!one->excluded && one->kind == group->kind &&
                one->shape == group->shape &&
                one->combination == group->combination) {
                visit(r, one, user);
            }
        }
    }
}

static void count_one(size_t run, const struct bl_application *application,
                      void *user)
{
    (void)run;
    (void)application;
    *(size_t *)user += 1;
}

struct values {
    size_t unit, count;
    enum bl_figure_name figure;
    double *s;
};

static void gather(size_t run, const struct bl_application *application,
                   void *user)
{
    struct values *to = user;
    const struct bl_unit_lag *unit = bl_application_unit(application, to->unit);
    (void)run;
    if (unit != NULL && bl_figure_sound(&unit->figure[to->figure])) {
        to->s[to->count++] = unit->figure[to->figure].s;
    }
}

static struct bl_picture_time time_of(struct bl_answering *a,
                                      const struct bl_picture_group *group,
                                      size_t unit, enum bl_figure_name figure)
{
    struct bl_picture_time time = {0, NAN, NAN, NAN};
    struct values values = {unit, 0, figure,
                            bl_alloc(group->applications + 1, sizeof(double))};
    if (values.s == NULL) {
        a->failed = true;
        return time;
    }
    bl_picture_each(a, group, gather, &values);
    for (size_t i = 0; i < values.count; i++) {
        time.low_s = fmin(values.s[i], time.low_s); /* fmin passes NaN over */
        time.high_s = fmax(values.s[i], time.high_s);
    }
    time.n = values.count;
    time.median_s = values.count == 0 ? NAN : bl_median(values.s, values.count);
    bl_free(values.s);
    return time;
}

/* Does one of the runs that show it have this condition? */
static bool shown_in(const struct bl_answering *a, const struct bl_finding *one,
                     const char *condition)
{
    bool in = one->run >= 0 &&
              strcmp(bl_answer_condition(a, (size_t)one->run), condition) == 0;
    for (size_t i = 0; i < one->alsos && !in; i++) {
        in = strcmp(bl_answer_condition(a, (size_t)one->also[i]), condition) ==
             0;
    }
    return in;
}

/* Is all that was found of a unit about its electronic demand, in runs of other
   conditions? By air alone such a unit is one among others. */
static bool only_elsewhere(const struct bl_answering *a, size_t unit,
                           const char *condition)
{
    const struct bl_findings *all = a->input->findings;
    bool any = false;
    for (size_t i = 0; all != NULL && i < all->count; i++) {
        const struct bl_finding *one = &all->item[i];
        if (one->shown != BL_SHOWN_FOUND || one->unit != (long)unit ||
            one->severity == BL_SEVERITY_NOTE) {
            continue;
        }
        if (bl_finding_kind(one->code)->group != BL_GROUP_DEMAND ||
            one->run < 0 || shown_in(a, one, condition)) {
            return false;
        }
        any = true;
    }
    return any;
}

/* The unit of the first sentence, where that says what is wrong; with a
   condition, where it concerns that too. */
static bool is_odd(const struct bl_answering *a, size_t unit,
                   const char *condition)
{
    return a->into->count > 0 && a->into->item[0].topic == BL_ANSWER_FOUND &&
           a->into->item[0].unit == (long)unit &&
           (condition == NULL || !only_elsewhere(a, unit, condition));
}

static bool is_found(const struct bl_answering *a, size_t unit)
{
    const struct bl_findings *all = a->input->findings;
    for (size_t i = 0; all != NULL && i < all->count; i++) {
        const struct bl_finding *one = &all->item[i];
        if (one->shown == BL_SHOWN_FOUND && one->unit == (long)unit &&
            one->severity != BL_SEVERITY_NOTE) {
            return true;
        }
    }
    return false;
}

static void fill_side(struct bl_answering *a,
                      const struct bl_picture_group *group,
                      struct bl_picture_side *side)
{
    const struct bl_trial *trial = a->input->trial;
    side->others_low_s = NAN;
    side->others_high_s = NAN;
    side->unit = bl_answer_per_unit(a, sizeof(*side->unit));
    for (size_t u = 0; !a->failed && u < trial->units; u++) {
        if (trial->unit[u].combination != group->combination) {
            continue;
        }
        struct bl_picture_unit *unit = &side->unit[side->units++];
        unit->unit = u;
        unit->odd = is_odd(a, u, group->condition);
        unit->found = is_odd(a, u, NULL) || is_found(a, u);
        unit->first = time_of(a, group, u, side->first);
        unit->second = time_of(a, group, u, side->second);
        if (!unit->found && unit->second.n > 0) {
            side->others++;
            side->others_low_s =
                fmin(unit->second.median_s, side->others_low_s);
            side->others_high_s =
                fmax(unit->second.median_s, side->others_high_s);
        }
    }
}

static bool any_time(const struct bl_picture_side *side)
{
    for (size_t i = 0; i < side->units; i++) {
        if (side->unit[i].first.n > 0 || side->unit[i].second.n > 0) {
            return true;
        }
    }
    return false;
}

static void fill_sides(struct bl_answering *a, struct bl_picture_group *group)
{
    struct bl_picture_side *apply = &group->side[BL_PICTURE_APPLY];
    struct bl_picture_side *release = &group->side[BL_PICTURE_RELEASE];
    *apply = (struct bl_picture_side){.first = BL_FIGURE_RESPONSE,
                                      .second = BL_FIGURE_FILLED};
    *release = (struct bl_picture_side){.first = BL_FIGURE_RELEASE_START,
                                        .second = BL_FIGURE_RELEASE_END};
    fill_side(a, group, apply);
    fill_side(a, group, release);
    if (!a->failed && !any_time(apply)) {
        bl_free(apply->unit);
        *apply = (struct bl_picture_side){.first = BL_FIGURE_DEMAND_ARRIVAL,
                                          .second = BL_FIGURE_DEMAND_ARRIVAL};
        fill_side(a, group, apply);
    }
}

/* The application to replay: most units give its figures, then those nearest
   to the medians. */
struct nearest {
    const struct bl_picture_group *group;
    long run;
    int number;
    size_t known;
    double off_s;
};

static void look_nearest(size_t run, const struct bl_application *application,
                         void *user)
{
    struct nearest *best = user;
    size_t known = 0;
    double off_s = 0;
    for (size_t s = 0; s < BL_PICTURE_SIDES; s++) {
        const struct bl_picture_side *side = &best->group->side[s];
        for (size_t i = 0; i < side->units; i++) {
            const struct bl_unit_lag *unit =
                bl_application_unit(application, side->unit[i].unit);
            if (unit != NULL && bl_figure_sound(&unit->figure[side->second])) {
                known++;
                off_s += fabs(unit->figure[side->second].s -
                              side->unit[i].second.median_s);
            }
        }
    }
    if (best->run < 0 || known > best->known ||
        (known == best->known && off_s < best->off_s)) {
        best->run = (long)run;
        best->number = application->number;
        best->known = known;
        best->off_s = off_s;
    }
}

static void add_group(struct bl_answering *a, struct bl_picture *picture,
                      struct bl_picture_group group)
{
    group.applications = 0;
    bl_picture_each(a, &group, count_one, &group.applications);
    if (group.applications == 0) {
        return;
    }
    if (!bl_grow(&picture->group, &picture->capacity, picture->groups + 1,
                 sizeof(*picture->group), BL_LIMIT_FINDINGS)) {
        a->failed = true;
        return;
    }
    fill_sides(a, &group);
    struct nearest best = {&group, -1, 0, 0, INFINITY};
    bl_picture_each(a, &group, look_nearest, &best);
    group.replay_run = best.run;
    group.replay_number = best.number;
    picture->group[picture->groups++] = group;
}

static void look_any(size_t run, const struct bl_application *application,
                     void *user)
{
    (void)run;
    for (size_t u = 0; u < application->units; u++) {
        const struct bl_figure *figure = application->unit[u].figure;
        *(bool *)user |= figure[BL_FIGURE_RESPONSE].known ||
                         figure[BL_FIGURE_DEMAND_ARRIVAL].known;
    }
}

/* The hardest kind and shape of a combination that gave a figure in any
   condition but the reference; steps before ramps. */
static bool hardest(struct bl_answering *a, struct bl_picture_group *group)
{
    size_t place = 0;
    while (bl_answer_next_kind(&place, &group->kind, &group->shape)) {
        bool any = false;
        for (size_t r = 0; !any && r < a->input->trial->runs; r++) {
            group->condition = bl_answer_condition(a, r);
            if (!bl_answer_is_reference(a, r)) {
                bl_picture_each(a, group, look_any, &any);
            }
        }
        if (any) {
            return true;
        }
    }
    return false;
}

static void add_combination(struct bl_answering *a, struct bl_picture *picture,
                            char combination)
{
    struct bl_picture_group group = {.combination = combination};
    if (!hardest(a, &group)) {
        return;
    }
    size_t place = 0;
    size_t run;
    while (!a->failed && bl_answer_next_condition(a, &place, &run)) {
        group.condition = bl_answer_condition(a, run);
        add_group(a, picture, group);
    }
    if (!a->failed) {
        bl_picture_courses(a, picture, combination);
    }
}

enum bl_status bl_picture_create(struct bl_picture **out,
                                 const struct bl_answer_input *input,
                                 const struct bl_answer_sentences *answer,
                                 struct bl_error *error)
{
    const struct bl_trial *trial = input->trial;
    *out = bl_alloc(1, sizeof(**out));
    /* Sentences are only read. */
    struct bl_answering a = {input, (struct bl_answer_sentences *)answer,
                             *out == NULL, NULL};
    for (size_t u = 0; !a.failed && u < trial->units; u++) {
        bool before = false;
        for (size_t k = 0; k < u; k++) {
            before = before ||
                     trial->unit[k].combination == trial->unit[u].combination;
        }
        if (!before) {
            add_combination(&a, *out, trial->unit[u].combination);
        }
    }
    if (a.failed) {
        bl_picture_destroy(*out);
        *out = NULL;
        return bl_fail_memory(error);
    }
    return BL_OK;
}

void bl_picture_destroy(struct bl_picture *picture)
{
    for (size_t g = 0; picture != NULL && g < picture->groups; g++) {
        for (size_t s = 0; s < BL_PICTURE_SIDES; s++) {
            struct bl_picture_side *side = &picture->group[g].side[s];
            for (size_t i = 0; i < side->units; i++) {
                bl_free(side->unit[i].kpa);
            }
            bl_free(side->unit);
        }
    }
    if (picture != NULL) {
        bl_free(picture->group);
        bl_free(picture);
    }
}
