/* SPDX-License-Identifier: MIT */
/*
 * The uncertainty of one figure taken apart: each component, what is common to
 * all applications and what averages out, and what it comes to over all
 * applications of the kind. Method: docs/methods/uncertainty.md, after JCGM
 * 100:2008 (GUM) 4.2, 5.1.2 and G.4.
 */
#include "report/text.h"

#include "base/alloc.h"
#include "brakelag/stats.h"

#include <math.h>
#include <string.h>

enum { WORD = 64 };

/* FIGURE[@UNIT[@APPLICATION]]; "" where not asked. */
struct asked {
    char figure[WORD], unit[WORD], application[WORD];
};

/* What every application shares; as bl_budget_common. */
static bool is_common(const char *component)
{
    static const char *const common[] = {"gain", "zero", "delay", "clock"};
    for (size_t i = 0; i < sizeof(common) / sizeof(common[0]); i++) {
        if (strcmp(component, common[i]) == 0) {
            return true;
        }
    }
    return false;
}

static bool read_asked(struct asked *asked, const char *text)
{
    char *const to[] = {asked->figure, asked->unit, asked->application};
    memset(asked, 0, sizeof(*asked));
    for (size_t i = 0; i < 3; i++) {
        const char *end = strchr(text, '@');
        const size_t length = end == NULL ? strlen(text) : (size_t)(end - text);
        if (length == 0 || length >= WORD) {
            return false;
        }
        memcpy(to[i], text, length);
        if (end == NULL) {
            return true;
        }
        text = end + 1;
    }
    return false;
}

static bool is_figure(const char *name)
{
    for (size_t i = 0; bl_result_figures[i] != NULL; i++) {
        if (strcmp(bl_result_figures[i], name) == 0) {
            return true;
        }
    }
    return false;
}

static bool matches(const char *asked, const char *is)
{
    return asked[0] == '\0' || strcmp(asked, is) == 0 ||
           (strncmp(asked, "A.", 2) == 0 && strcmp(asked + 2, is) == 0);
}

/* Components of one value, and their two sums. */
static void put_components(struct bl_tree *tree, json_t *entry,
                           const json_t *figure, double *random, double *common)
{
    const json_t *parts = json_object_get(figure, "u_parts");
    json_t *array = bl_tree_array(tree);
    json_t *missing = bl_tree_array(tree);
    double sum[2] = {0, 0};
    for (size_t i = 0; bl_result_components[i] != NULL; i++) {
        const char *name = bl_result_components[i];
        const double u = bl_tree_get_number(parts, name);
        if (isnan(u)) {
            bl_tree_append_text(tree, missing, name);
            continue;
        }
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "name", name);
        bl_tree_number(tree, object, "u_s", u);
        bl_tree_bool(tree, object, "common", is_common(name));
        bl_tree_append(tree, array, object);
        sum[is_common(name)] += u * u;
    }
    bl_tree_put(tree, entry, "components", array);
    bl_tree_put(tree, entry, "not_included", missing);
    *random = sqrt(sum[0]);
    *common = sqrt(sum[1]);
}

/* Values of the figure over the run's applications of the same kind. */
static size_t values_of(double *value, const json_t *run, const json_t *like,
                        const char *unit, const char *figure)
{
    const json_t *all = json_object_get(run, "applications");
    size_t count = 0;
    for (size_t a = 0; a < json_array_size(all); a++) {
        const json_t *is = json_array_get(all, a);
        const json_t *units = json_object_get(is, "units");
        const bool same = strcmp(bl_tree_get_text(is, "kind"),
                                 bl_tree_get_text(like, "kind")) == 0 &&
                          strcmp(bl_tree_get_text(is, "shape"),
                                 bl_tree_get_text(like, "shape")) == 0;
        for (size_t u = 0; same && !bl_tree_get_bool(is, "excluded") &&
                           u < json_array_size(units);
             u++) {
            const json_t *of = json_array_get(units, u);
            const json_t *f = json_object_get(of, figure);
            if (strcmp(bl_tree_get_text(of, "unit"), unit) == 0 &&
                bl_text_known(f)) {
                value[count++] = bl_tree_get_number(f, "s");
            }
        }
    }
    return count;
}

/* The mean over all applications: scatter with n - 1 degrees of freedom beside
   what is common, which is taken as exactly known. */
static enum bl_status put_mean(struct bl_tree *tree, json_t *entry,
                               const json_t *run, const json_t *like,
                               const char *unit, const char *figure,
                               double common, struct bl_error *error)
{
    const size_t most = json_array_size(json_object_get(run, "applications"));
    double *value = bl_alloc(most, sizeof(*value));
    if (value == NULL) {
        return bl_fail_memory(error);
    }
    const size_t n = values_of(value, run, like, unit, figure);
    struct bl_description d;
    enum bl_status status = n < 2 ? BL_OK : bl_describe(&d, value, n, error);
    bl_free(value);
    if (status != BL_OK || n < 2) {
        bl_tree_text(tree, entry, "mean", NULL);
        return status;
    }
    const double u[] = {d.u_mean, common};
    const double dof[] = {(double)n - 1, INFINITY};
    const double effective = bl_effective_dof(u, dof, 2);
    const double k = bl_coverage_factor(0.95, effective);
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "n", n);
    bl_tree_number(tree, object, "s", d.mean);
    bl_tree_number(tree, object, "scatter_s", d.s);
    bl_tree_number(tree, object, "u_scatter_s", d.u_mean);
    bl_tree_number(tree, object, "u_common_s", common);
    bl_tree_number(tree, object, "u_s", hypot(d.u_mean, common));
    bl_tree_number(tree, object, "effective_dof", effective);
    bl_tree_number(tree, object, "k", k);
    bl_tree_number(tree, object, "expanded_s", k * hypot(d.u_mean, common));
    bl_tree_put(tree, entry, "mean", object);
    return BL_OK;
}

static enum bl_status add_entry(struct bl_tree *tree, json_t *all,
                                const json_t *run, const json_t *application,
                                const json_t *unit, const char *figure,
                                struct bl_error *error)
{
    const json_t *is = json_object_get(unit, figure);
    double random;
    double common;
    json_t *entry = bl_tree_object(tree);
    bl_tree_text(tree, entry, "run", bl_tree_get_text(run, "name"));
    bl_tree_count(tree, entry, "application",
                  bl_tree_get_count(application, "number"));
    bl_tree_text(tree, entry, "kind", bl_tree_get_text(application, "kind"));
    bl_tree_text(tree, entry, "unit", bl_tree_get_text(unit, "unit"));
    bl_tree_text(tree, entry, "name", bl_tree_get_text(unit, "name"));
    bl_tree_text(tree, entry, "figure", figure);
    bl_tree_number(tree, entry, "s", bl_tree_get_number(is, "s"));
    bl_tree_number(tree, entry, "u_s", bl_tree_get_number(is, "u_s"));
    bl_tree_number(tree, entry, "k", 2);
    bl_tree_number(tree, entry, "expanded_s",
                   2 * bl_tree_get_number(is, "u_s"));
    put_components(tree, entry, is, &random, &common);
    bl_tree_number(tree, entry, "u_random_s", random);
    bl_tree_number(tree, entry, "u_common_s", common);
    const enum bl_status status =
        put_mean(tree, entry, run, application, bl_tree_get_text(unit, "unit"),
                 figure, common, error);
    bl_tree_append(tree, all, entry);
    return status;
}

/* Every application that was asked for by its number; else per unit and kind
   the first that gave the figure. */
static bool is_wanted(const json_t *all, const json_t *run,
                      const json_t *application, const json_t *unit,
                      const struct asked *asked)
{
    char number[32];
    snprintf(number, sizeof(number), "%llu",
             (unsigned long long)bl_tree_get_count(application, "number"));
    if (!matches(asked->unit, bl_tree_get_text(unit, "unit")) ||
        !bl_text_known(json_object_get(unit, asked->figure))) {
        return false;
    }
    if (asked->application[0] != '\0') {
        return strcmp(asked->application, number) == 0;
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *is = json_array_get(all, i);
        if (strcmp(bl_tree_get_text(is, "run"),
                   bl_tree_get_text(run, "name")) == 0 &&
            strcmp(bl_tree_get_text(is, "unit"),
                   bl_tree_get_text(unit, "unit")) == 0 &&
            strcmp(bl_tree_get_text(is, "kind"),
                   bl_tree_get_text(application, "kind")) == 0) {
            return false;
        }
    }
    return !bl_tree_get_bool(application, "excluded");
}

enum bl_status bl_result_add_budget(struct bl_result *result, const char *text,
                                    struct bl_error *error)
{
    struct asked asked;
    if (!read_asked(&asked, text) || !is_figure(asked.figure)) {
        return bl_fail(error, BL_ARG, NULL,
                       "budget: expected FIGURE[@UNIT[@APPLICATION]] such as "
                       "apply_75@2@1, found '%s'",
                       text);
    }
    struct bl_tree *tree = &result->tree;
    json_t *all = bl_tree_array(tree);
    enum bl_status status = BL_OK;
    for (size_t r = 0; r < json_array_size(result->runs); r++) {
        const json_t *run = json_array_get(result->runs, r);
        const json_t *list = json_object_get(run, "applications");
        for (size_t a = 0; a < json_array_size(list); a++) {
            const json_t *application = json_array_get(list, a);
            const json_t *units = json_object_get(application, "units");
            for (size_t u = 0; u < json_array_size(units); u++) {
                const json_t *unit = json_array_get(units, u);
                if (status == BL_OK &&
                    is_wanted(all, run, application, unit, &asked)) {
                    status = add_entry(tree, all, run, application, unit,
                                       asked.figure, error);
                }
            }
        }
    }
    const bool none = json_array_size(all) == 0;
    bl_tree_put(tree, result->root, "budget", all);
    result->brief = true;
    if (status == BL_OK && tree->failed) {
        return bl_fail_memory(error);
    }
    return status == BL_OK && none
               ? bl_fail(error, BL_NODATA, NULL,
                         "budget: no application gave '%s'", text)
               : status;
}
