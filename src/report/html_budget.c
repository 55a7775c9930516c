/* SPDX-License-Identifier: MIT */
#include "report/html_budget.h"

#include "report/result.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

static const char *const figures[] = {"demand_arrival", "response",
                                      "apply_75",       "release_start",
                                      "release_end",    "stagger"};

struct gathered {
    double *value;
    size_t count, capacity;
    bool failed;
};

static void add(struct gathered *to, double value)
{
    if (isnan(value) || to->failed) {
        return;
    }
    if (!bl_grow(&to->value, &to->capacity, to->count + 1, sizeof(*to->value),
                 BL_LIMIT_SAMPLES)) {
        to->failed = true;
        return;
    }
    to->value[to->count++] = value;
}

/* Of `unit` in every application: the figure's u, or its part `component`.
   Counts the figures that have parts at all. */
static size_t gather(struct gathered *to, const json_t *root, const char *unit,
                     const char *figure, const char *component)
{
    size_t r, a, u;
    size_t seen = 0;
    const json_t *run, *application, *is;
    to->count = 0;
    json_array_foreach(json_object_get(root, "runs"), r, run)
    {
        json_array_foreach(json_object_get(run, "applications"), a, application)
        {
            json_array_foreach(json_object_get(application, "units"), u, is)
            {
                const json_t *f = json_object_get(is, figure);
                const json_t *parts = json_object_get(f, "u_parts");
                if (strcmp(bl_tree_get_text(is, "unit"), unit) != 0 ||
                    isnan(bl_tree_get_number(f, "s")) || parts == NULL) {
                    continue;
                }
                seen++;
                add(to, component == NULL
                            ? bl_tree_get_number(f, "u_s")
                            : bl_tree_get_number(parts, component));
            }
        }
    }
    return seen;
}

static json_t *row(struct bl_tree *tree, struct gathered *values,
                   const json_t *root, const char *unit, const char *figure)
{
    json_t *object = bl_tree_object(tree);
    json_t *parts = bl_tree_array(tree);
    bl_tree_text(tree, object, "unit", unit);
    bl_tree_text(tree, object, "figure", figure);
    for (size_t i = 0; bl_result_components[i] != NULL; i++) {
        gather(values, root, unit, figure, bl_result_components[i]);
        bl_tree_append_number(tree, parts,
                              bl_median(values->value, values->count));
    }
    bl_tree_put(tree, object, "parts", parts);
    gather(values, root, unit, figure, NULL);
    bl_tree_number(tree, object, "u", bl_median(values->value, values->count));
    return object;
}

json_t *bl_html_budget(struct bl_tree *tree, const json_t *root)
{
    json_t *rows = bl_tree_array(tree);
    struct gathered values = {0};
    size_t u;
    const json_t *unit;
    json_array_foreach(json_object_get(json_object_get(root, "trial"), "units"),
                       u, unit)
    {
        const char *label = bl_tree_get_text(unit, "unit");
        for (size_t i = 0; i < sizeof(figures) / sizeof(figures[0]); i++) {
            if (gather(&values, root, label, figures[i], NULL) > 0) {
                bl_tree_append(tree, rows,
                               row(tree, &values, root, label, figures[i]));
            }
        }
    }
    tree->failed = tree->failed || values.failed;
    bl_free(values.value);
    return rows;
}

/* A copy without any "u_parts"; what cannot change is shared. Not
   json_deep_copy: that leaves members out when memory ends, and does not say
   so. */
static json_t *without_parts(struct bl_tree *tree, const json_t *value)
{
    const char *key;
    json_t *member;
    size_t index;
    if (!json_is_object(value) && !json_is_array(value)) {
        return json_incref((json_t *)value);
    }
    json_t *copy =
        json_is_object(value) ? bl_tree_object(tree) : bl_tree_array(tree);
    json_object_foreach((json_t *)value, key, member)
    {
        if (strcmp(key, "u_parts") != 0) {
            bl_tree_put(tree, copy, key, without_parts(tree, member));
        }
    }
    json_array_foreach(value, index, member)
    {
        bl_tree_append(tree, copy, without_parts(tree, member));
    }
    return copy;
}

json_t *bl_html_without_parts(struct bl_tree *tree, const json_t *root)
{
    const char *key;
    json_t *member;
    json_t *copy = bl_tree_object(tree);
    json_object_foreach((json_t *)root, key, member)
    {
        bl_tree_put(tree, copy, key,
                    strcmp(key, "runs") == 0 ? without_parts(tree, member)
                                             : json_incref(member));
    }
    return copy;
}
