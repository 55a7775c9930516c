/* SPDX-License-Identifier: MIT */
/*
 * The uncertainty of one figure taken apart: each component, what is common to
 * all applications and what averages out, and what it comes to over all
 * applications of the kind. Method: docs/methods/uncertainty.md, after JCGM
 * 100:2008 (GUM) 4.2, 5.1.2 and G.4.
 */
#include "brakelag/budget.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "brakelag/stats.h"
#include "lag/summary.h"

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

static const struct {
    const char *name, *meaning;
    bool common;
    size_t at;
} components[] = {
#define X(member, common, meaning)                                             \
    {#member, meaning, common, offsetof(struct bl_uncertainty, member)},
    BL_COMPONENT_LIST(X)
#undef X
};
_Static_assert(sizeof(components) / sizeof(components[0]) == BL_COMPONENTS,
               "every component is listed");

const char *bl_component_name(size_t index)
{
    return index < BL_COMPONENTS ? components[index].name : NULL;
}

const char *bl_component_meaning(size_t index)
{
    return index < BL_COMPONENTS ? components[index].meaning : NULL;
}

bool bl_component_is_common(size_t index)
{
    return index < BL_COMPONENTS && components[index].common;
}

double bl_component_value(const struct bl_uncertainty *u, size_t index)
{
    double value;
    memcpy(&value, (const char *)u + components[index].at, sizeof(value));
    return value;
}

double bl_component_sum(const double part[BL_COMPONENTS], bool common)
{
    double sum = 0;
    for (size_t i = 0; i < BL_COMPONENTS; i++) {
        sum += components[i].common == common && !isnan(part[i])
                   ? part[i] * part[i]
                   : 0;
    }
    return sqrt(sum);
}

enum { WORD = 64 };
/* Of an expanded uncertainty: what k = 2 stands for (JCGM 100:2008, 6.3.3). */
static const double EXPANDED = 0.95;

/* FIGURE[@UNIT[@APPLICATION]]; "" where not asked. */
struct asked {
    char word[3][WORD];
    enum bl_figure_name figure;
};

static bool read_asked(struct asked *asked, const char *text)
{
    memset(asked, 0, sizeof(*asked));
    for (size_t i = 0; i < 3; i++) {
        const char *end = strchr(text, '@');
        const size_t length = end == NULL ? strlen(text) : (size_t)(end - text);
        if (length == 0 || length >= WORD) {
            return false;
        }
        memcpy(asked->word[i], text, length);
        if (end == NULL) {
            return true;
        }
        text = end + 1;
    }
    return false;
}

/* Figures of a unit that stand alone: no level, and no spread of them all. */
static bool find_figure(struct asked *asked)
{
    for (int f = 0; f < BL_FIGURES; f++) {
        asked->figure = (enum bl_figure_name)f;
        if (f != BL_FIGURE_LEVEL && f != BL_FIGURE_SPREAD &&
            strcmp(bl_figure_name_text(asked->figure), asked->word[0]) == 0) {
            return true;
        }
    }
    return false;
}

static bool unit_matches(const struct asked *asked,
                         const struct bl_trial_unit *unit)
{
    char label[32];
    const char *word = asked->word[1];
    (void)bl_trial_unit_label(unit, label, sizeof(label));
    return word[0] == '\0' || strcmp(word, label) == 0 ||
           (strncmp(word, "A.", 2) == 0 && strcmp(word + 2, label) == 0);
}

static void split(struct bl_budget_entry *entry)
{
    double sum[2] = {0, 0};
    for (size_t i = 0; i < BL_COMPONENTS; i++) {
        const double u = bl_component_value(&entry->value.part, i);
        sum[components[i].common] += isnan(u) ? 0 : u * u;
    }
    entry->random_s = sqrt(sum[0]);
    entry->common_s = sqrt(sum[1]);
    entry->k = 2;
    entry->expanded_s = entry->k * entry->value.u_s;
}

/* Values of the figure over the run's applications of the same kind. */
static size_t values_of(double *value, const struct bl_run_lag *lag,
                        const struct bl_application *like,
                        const struct bl_budget_entry *entry)
{
    size_t count = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        for (size_t u = 0;
             !application->excluded && application->kind == like->kind &&
             application->shape == like->shape && u < application->units;
             u++) {
            const struct bl_figure *f =
                bl_unit_figure(&application->unit[u], entry->figure, 0);
            if (application->unit[u].unit == entry->unit && f->known) {
                value[count++] = f->s;
            }
        }
    }
    return count;
}

/* The mean over all applications: scatter with n - 1 degrees of freedom beside
   what is common, which is taken as exactly known. */
static enum bl_status find_mean(struct bl_budget_entry *entry,
                                const struct bl_run_lag *lag,
                                const struct bl_application *like,
                                struct bl_error *error)
{
    double *value = bl_alloc(lag->applications, sizeof(*value));
    if (value == NULL) {
        return bl_fail_memory(error);
    }
    const size_t n = values_of(value, lag, like, entry);
    struct bl_description d;
    const enum bl_status status =
        n < 2 ? BL_OK : bl_describe(&d, value, n, error);
    bl_free(value);
    entry->n = n;
    if (status != BL_OK || n < 2) {
        return status;
    }
    const double u[] = {d.u_mean, entry->common_s};
    const double dof[] = {(double)n - 1, INFINITY};
    entry->mean_s = d.mean;
    entry->scatter_s = d.s;
    entry->u_scatter_s = d.u_mean;
    entry->u_mean_s = hypot(d.u_mean, entry->common_s);
    entry->effective_dof = bl_effective_dof(u, dof, 2);
    entry->mean_k = bl_coverage_factor(EXPANDED, entry->effective_dof);
    entry->mean_expanded_s = entry->mean_k * entry->u_mean_s;
    return BL_OK;
}

/* Every application that was asked for by its number; else per unit and kind
   the first that gave the figure. */
static bool is_wanted(const struct bl_budget *budget, size_t run,
                      const struct bl_application *application, size_t unit,
                      const struct asked *asked)
{
    if (asked->word[2][0] != '\0') {
        char number[32];
        snprintf(number, sizeof(number), "%d", application->number);
        return strcmp(asked->word[2], number) == 0;
    }
    for (size_t i = 0; i < budget->count; i++) {
        const struct bl_budget_entry *entry = &budget->item[i];
        if (entry->run == run && entry->unit == unit &&
            entry->kind == application->kind) {
            return false;
        }
    }
    return !application->excluded;
}

static enum bl_status add_unit(struct bl_budget *budget,
                               const struct bl_run_lag *lag,
                               const struct bl_application *application,
                               const struct bl_unit_lag *unit,
                               const struct asked *asked,
                               struct bl_error *error)
{
    const size_t run = lag->run;
    const struct bl_figure *figure = bl_unit_figure(unit, asked->figure, 0);
    if (!figure->known ||
        !is_wanted(budget, run, application, unit->unit, asked)) {
        return BL_OK;
    }
    if (!bl_grow(&budget->item, &budget->capacity, budget->count + 1,
                 sizeof(*budget->item), (size_t)BL_LIMIT_APPLICATIONS * 16)) {
        return bl_fail_memory(error);
    }
    struct bl_budget_entry *entry = &budget->item[budget->count++];
    *entry = (struct bl_budget_entry){.run = run,
                                      .unit = unit->unit,
                                      .application = application->number,
                                      .kind = application->kind,
                                      .figure = asked->figure,
                                      .value = *figure};
    split(entry);
    return find_mean(entry, lag, application, error);
}

static enum bl_status add_run(struct bl_budget *budget,
                              const struct bl_trial *trial,
                              const struct bl_run_lag *lag,
                              const struct asked *asked, struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (size_t a = 0; lag != NULL && a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        for (size_t u = 0; status == BL_OK && u < application->units; u++) {
            if (unit_matches(asked, &trial->unit[application->unit[u].unit])) {
                status = add_unit(budget, lag, application,
                                  &application->unit[u], asked, error);
            }
        }
    }
    return status;
}

enum bl_status bl_budget_create(struct bl_budget **out,
                                const struct bl_trial *trial,
                                struct bl_run_lag *const *lag,
                                const char *asked, struct bl_error *error)
{
    struct asked wanted;
    *out = NULL;
    if (!read_asked(&wanted, asked) || !find_figure(&wanted)) {
        return bl_fail(error, BL_ARG, NULL,
                       "budget: expected FIGURE[@UNIT[@APPLICATION]] such as "
                       "apply_75@2@1, found '%s'",
                       asked);
    }
    struct bl_budget *budget = bl_alloc(1, sizeof(*budget));
    enum bl_status status = budget == NULL ? bl_fail_memory(error) : BL_OK;
    for (size_t r = 0; status == BL_OK && r < trial->runs; r++) {
        status = add_run(budget, trial, lag[r], &wanted, error);
    }
    if (status == BL_OK && budget->count == 0) {
        status = bl_fail(error, BL_NODATA, NULL,
                         "budget: no application gave '%s'", asked);
    }
    if (status != BL_OK) {
        bl_budget_destroy(budget);
        return status;
    }
    *out = budget;
    return BL_OK;
}

void bl_budget_destroy(struct bl_budget *budget)
{
    if (budget != NULL) {
        bl_free(budget->item);
        bl_free(budget);
    }
}
