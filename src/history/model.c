/* SPDX-License-Identifier: MIT */
/* Lives, units and visits as trees (docs/history.md has the members). */
#include "history/tell.h"

#include "report/result.h"

#include <math.h>

void bl_history_model_change(struct bl_tree *tree, json_t *to, const char *key,
                             const struct bl_life_change *change)
{
    json_t *object = bl_tree_object(tree);
    const bool known = change->known;
    bl_tree_number(tree, object, "s", known ? change->size : NAN);
    bl_tree_number(tree, object, "u_s", known ? change->u : NAN);
    bl_tree_number(tree, object, "low_s", known ? change->low : NAN);
    bl_tree_number(tree, object, "high_s", known ? change->high : NAN);
    bl_tree_number(tree, object, "allowance_s",
                   known ? change->allowance : NAN);
    bl_tree_put(tree, to, key, object);
}

void bl_history_model_key(struct bl_tree *tree, json_t *to,
                          const struct bl_life_key *key)
{
    bl_tree_text(tree, to, "figure", bl_figure_name_text(key->figure));
    bl_tree_number(tree, to, "kpa",
                   key->figure == BL_FIGURE_LEVEL ? key->level_kpa : NAN);
    bl_tree_text(tree, to, "condition", key->condition);
    bl_tree_text(tree, to, "kind", bl_model_kind(key->kind));
    bl_tree_text(tree, to, "shape", bl_model_shape(key->shape));
}

static int64_t number_of(const struct bl_history_life *life, size_t visit)
{
    return life->list->visit[visit].number;
}

static void put_points(struct bl_tree *tree, json_t *to,
                       const struct bl_history_life *life,
                       const struct bl_life_row *row)
{
    json_t *points = bl_tree_array(tree);
    json_t *lefts = bl_tree_array(tree);
    for (size_t i = 0; i < row->points; i++) {
        const struct bl_life_point *point = &row->point[i];
        json_t *one = bl_tree_object(tree);
        bl_tree_integer(tree, one, "visit", number_of(life, point->visit));
        bl_tree_number(tree, one, "day", life->list->visit[point->visit].day);
        bl_tree_number(tree, one, "s", point->value);
        bl_tree_number(tree, one, "adjusted_s", point->adjusted);
        bl_tree_number(tree, one, "u_s", point->u);
        /* What is drawn of it: k = 2. */
        bl_tree_number(tree, one, "low_s", point->value - 2 * point->u);
        bl_tree_number(tree, one, "high_s", point->value + 2 * point->u);
        bl_tree_append(tree, points, one);
    }
    for (size_t i = 0; i < row->lefts; i++) {
        json_t *one = bl_tree_object(tree);
        bl_tree_integer(tree, one, "visit",
                        number_of(life, row->left[i].visit));
        bl_tree_text(tree, one, "why", bl_life_fact_name(row->left[i].why));
        bl_tree_append(tree, lefts, one);
    }
    bl_tree_put(tree, to, "points", points);
    bl_tree_put(tree, to, "not_compared", lefts);
    bl_tree_count(tree, to, "older", row->older);
}

static json_t *series(struct bl_tree *tree, const struct bl_history_life *life,
                      const struct bl_life_row *row)
{
    json_t *object = bl_tree_object(tree);
    json_t *needs = bl_tree_array(tree);
    const bool steps = row->step.known && row->step_at < row->points;
    bl_history_model_key(tree, object, &row->key);
    bl_tree_text(tree, object, "verdict", bl_life_verdict_name(row->verdict));
    bl_tree_bool(tree, object, "lead", row == bl_history_lead(life));
    bl_tree_bool(tree, object, "changed", bl_life_is_change(row->verdict));
    bl_tree_bool(tree, object, "ended", bl_history_ended(life, row));
    bl_tree_text(tree, object, "reason",
                 row->reason == BL_LIFE_REASON_NONE
                     ? NULL
                     : bl_life_reason_name(row->reason));
    for (enum bl_life_fact f = 0; f < BL_LIFE_FACTS; f++) {
        if ((row->needs & (1u << f)) != 0) {
            bl_tree_append_text(tree, needs, bl_life_fact_name(f));
        }
    }
    bl_tree_put(tree, object, "needs", needs);
    bl_tree_count(tree, object, "more_visits", row->more_visits);
    /* The one that the verdict is about. */
    const bool once = row->verdict == BL_LIFE_STEP ||
                      row->verdict == BL_LIFE_FIRST_APART ||
                      row->verdict == BL_LIFE_LAST_APART;
    bl_history_model_change(tree, object, "change",
                            once ? &row->step : &row->drift);
    bl_tree_text(tree, object, "change_is", once ? "once" : "a year");
    bl_history_model_change(tree, object, "before", &row->before);
    bl_history_model_change(tree, object, "middle", &row->middle);
    bl_history_model_change(tree, object, "drift_per_year", &row->drift);
    bl_history_model_change(tree, object, "step", &row->step);
    bl_tree_put(
        tree, object, "step_at",
        steps ? json_integer(number_of(life, row->point[row->step_at].visit))
              : json_null());
    bl_tree_number(tree, object, "odds_drift", row->odds_drift);
    bl_tree_number(tree, object, "p_life", row->p_life);
    bl_tree_number(tree, object, "noticeable_per_year_s", row->noticeable);
    bl_tree_number(tree, object, "spread_s", row->spread);
    bl_tree_number(tree, object, "middle_line_s", row->middle_line);
    bl_tree_number(tree, object, "control_low_s", row->control_low);
    bl_tree_number(tree, object, "control_high_s", row->control_high);
    put_points(tree, object, life, row);
    return object;
}

json_t *bl_history_model_visits(struct bl_tree *tree,
                                const struct bl_history_list *list)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < list->visits; i++) {
        const struct bl_history_visit *visit = &list->visit[i];
        json_t *one = bl_tree_object(tree);
        bl_tree_integer(tree, one, "visit", visit->number);
        bl_tree_text(tree, one, "date", visit->date);
        bl_tree_text(tree, one, "place", visit->place);
        bl_tree_text(tree, one, "trial", visit->trial);
        bl_tree_count(tree, one, "units", visit->units);
        bl_tree_count(tree, one, "figures", visit->figures);
        bl_tree_append(tree, array, one);
    }
    return array;
}

json_t *bl_history_model_units(struct bl_tree *tree,
                               const struct bl_history_list *list)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < list->units; i++) {
        const struct bl_history_unit *unit = &list->unit[i];
        json_t *one = bl_tree_object(tree);
        bl_tree_text(tree, one, "unit_id", unit->id);
        bl_tree_text(tree, one, "name", unit->name);
        bl_tree_count(tree, one, "visits", unit->visits);
        bl_tree_text(tree, one, "first", unit->first);
        bl_tree_text(tree, one, "last", unit->last);
        bl_tree_append(tree, array, one);
    }
    return array;
}

json_t *bl_history_model_life(struct bl_tree *tree,
                              const struct bl_history_life *life)
{
    json_t *object = bl_tree_object(tree);
    json_t *all = bl_tree_array(tree);
    const struct bl_history_unit *unit = &life->list->unit[0];
    bl_tree_text(tree, object, "unit_id", unit->id);
    bl_tree_text(tree, object, "name", unit->name);
    bl_tree_put(tree, object, "answer", bl_history_tell(tree, life));
    bl_tree_put(tree, object, "visits",
                bl_history_model_visits(tree, life->list));
    for (size_t i = 0; i < life->lives->rows; i++) {
        bl_tree_append(tree, all, series(tree, life, &life->lives->row[i]));
    }
    bl_tree_put(tree, object, "series", all);
    bl_tree_count(tree, object, "left_out", life->left_out);
    return object;
}
