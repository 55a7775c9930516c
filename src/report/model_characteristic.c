/* SPDX-License-Identifier: MIT */
/* Characteristics of a run as a tree: an entry per unit in
   `characteristics`, the light demands and losses beside it. */
#include "report/result.h"

#include <math.h>

static void put_value(struct bl_tree *tree, json_t *object, const char *key,
                      const struct bl_measured *value, const char *unit)
{
    json_t *made = bl_tree_object(tree);
    bl_tree_number(tree, made, "value", value->value);
    bl_tree_text(tree, made, "unit", unit);
    bl_tree_number(tree, made, "u", value->u);
    bl_tree_put(tree, object, key, made);
}

static void put_answer(struct bl_tree *tree, json_t *object, const char *key,
                       enum bl_answer answer)
{
    bl_tree_put(tree, object, key,
                answer == BL_UNKNOWN ? json_null()
                                     : json_boolean(answer == BL_YES));
}

static void put_verdict(struct bl_tree *tree, json_t *object, const char *key,
                        enum bl_fit_verdict verdict)
{
    bl_tree_put(tree, object, key,
                verdict == BL_FIT_UNKNOWN
                    ? json_null()
                    : json_boolean(verdict == BL_FIT_YES));
}

static void put_branch(struct bl_tree *tree, json_t *object, const char *key,
                       const struct bl_branch *branch)
{
    json_t *made = bl_tree_object(tree);
    put_value(tree, made, "threshold", &branch->on, "kPa");
    if (branch->reason != BL_CURVE_FITTED) {
        bl_tree_text(tree, made, "reason",
                     bl_curve_reason_name(branch->reason));
    }
    put_value(tree, made, "jump", &branch->jump, "kPa");
    bl_tree_bool(tree, made, "jump_shown", branch->has_jump);
    put_value(tree, made, "gain", &branch->gain, "");
    bl_tree_bool(tree, made, "saturates", branch->saturates);
    put_value(tree, made, "saturation_input", &branch->sat_in, "kPa");
    put_value(tree, made, "saturation_output", &branch->sat_out, "kPa");
    bl_tree_number(tree, made, "rate_kpa_s", branch->rate);
    bl_tree_number(tree, made, "bias_taken_off_kpa", branch->bias);
    bl_tree_number(tree, made, "scatter_kpa", branch->s);
    bl_tree_count(tree, made, "points", branch->points);
    bl_tree_count(tree, made, "holds", branch->holds);
    bl_tree_number(tree, made, "from_kpa", branch->low);
    bl_tree_number(tree, made, "to_kpa", branch->high);
    bl_tree_number(tree, made, "top_kpa", branch->top);
    bl_tree_put(tree, object, key, made);
}

static json_t *seen_array(struct bl_tree *tree, const struct bl_curve *curve)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < curve->seen_count; i++) {
        const struct bl_curve_seen *p = &curve->seen[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_number(tree, object, "input_kpa", p->in);
        bl_tree_number(tree, object, "output_kpa", p->out);
        bl_tree_number(tree, object, "rate_kpa_s", p->rate);
        bl_tree_text(tree, object, "branch", p->falling ? "falling" : "rising");
        bl_tree_text(tree, object, "from", p->hold ? "hold" : "ramp");
        bl_tree_number(tree, object, "seconds", p->seconds);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *curve_object(struct bl_tree *tree, const struct bl_curve *curve)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "input", bl_curve_input_name(curve->input));
    put_branch(tree, object, "rising", &curve->rising);
    put_branch(tree, object, "falling", &curve->falling);
    put_value(tree, object, "hysteresis", &curve->hysteresis, "kPa");
    put_value(tree, object, "lag", &curve->lag_s, "s");
    bl_tree_bool(tree, object, "lag_measured", curve->lag_measured);
    bl_tree_count(tree, object, "lag_steps", curve->lag_steps);
    bl_tree_bool(tree, object, "input_above_rest", curve->input_above_rest);
    bl_tree_number(tree, object, "u_zero_kpa", curve->u_zero);
    bl_tree_number(tree, object, "u_gain", curve->u_gain);
    json_t *time = bl_tree_object(tree);
    bl_tree_number(tree, time, "hold_s", curve->time.hold_s);
    bl_tree_number(tree, time, "ramp_s", curve->time.ramp_s);
    bl_tree_number(tree, time, "too_fast_s", curve->time.fast_s);
    bl_tree_number(tree, time, "missing_s", curve->time.missing_s);
    bl_tree_number(tree, time, "fastest_kpa_s", curve->time.fastest);
    bl_tree_put(tree, object, "time", time);
    bl_tree_put(tree, object, "seen", seen_array(tree, curve));
    return object;
}

static json_t *candidate_object(struct bl_tree *tree,
                                const struct bl_candidate *candidate)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "name", candidate->name);
    bl_tree_number(tree, object, "threshold_kpa", candidate->threshold);
    bl_tree_number(tree, object, "gain", candidate->gain);
    bl_tree_bool(tree, object, "gain_by_load", isnan(candidate->gain));
    bl_tree_bool(tree, object, "stated", candidate->stated);
    bl_tree_number(tree, object, "residual_kpa", candidate->residual);
    bl_tree_number(tree, object, "threshold_off_u", candidate->off_threshold);
    bl_tree_number(tree, object, "gain_off_u", candidate->off_gain);
    put_verdict(tree, object, "fits", candidate->fits);
    return object;
}

static json_t *unit_object(struct bl_tree *tree, const struct bl_trial *trial,
                           const struct bl_characteristic *characteristic,
                           const char *run)
{
    json_t *object = bl_tree_object(tree);
    bl_model_unit(tree, object, trial, characteristic->unit);
    bl_tree_text(tree, object, "run", run);
    const struct bl_curve *used =
        characteristic->used < 0 ? NULL
                                 : &characteristic->curve[characteristic->used];
    const struct bl_measured none = {NAN, NAN};
    bl_tree_text(tree, object, "input",
                 used == NULL ? NULL : bl_curve_input_name(used->input));
    put_value(tree, object, "threshold", used ? &used->rising.on : &none,
              "kPa");
    put_value(tree, object, "gain", used ? &used->rising.gain : &none, "");
    put_value(tree, object, "hysteresis", used ? &used->hysteresis : &none,
              "kPa");
    put_answer(tree, object, "demand_explains_better",
               characteristic->demand_better);
    json_t *curves = bl_tree_array(tree);
    bl_tree_append(tree, curves, curve_object(tree, &characteristic->curve[0]));
    bl_tree_append(tree, curves, curve_object(tree, &characteristic->curve[1]));
    bl_tree_put(tree, object, "curves", curves);
    json_t *candidates = bl_tree_array(tree);
    for (size_t i = 0; i < characteristic->candidates; i++) {
        bl_tree_append(tree, candidates,
                       candidate_object(tree, &characteristic->candidate[i]));
    }
    bl_tree_put(tree, object, "candidates", candidates);
    bl_tree_text(tree, object, "choice",
                 characteristic->choice < 0
                     ? NULL
                     : characteristic->candidate[characteristic->choice].name);
    bl_tree_number(tree, object, "threshold_choice_kpa",
                   characteristic->threshold_choice);
    if (characteristic->cumulative_applies) {
        put_branch(tree, object, "cumulative", &characteristic->cumulative);
    } else {
        bl_tree_put(tree, object, "cumulative", json_null());
    }
    return object;
}

static json_t *light_object(struct bl_tree *tree, const struct bl_trial *trial,
                            const struct bl_light_row *light)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_number(tree, object, "from_s", light->from_s);
    bl_tree_number(tree, object, "to_s", light->to_s);
    put_value(tree, object, "demand", &light->demand, "kPa");
    json_t *units = bl_tree_array(tree);
    for (size_t i = 0; i < light->units; i++) {
        json_t *unit = bl_tree_object(tree);
        bl_model_unit(tree, unit, trial, light->unit[i].unit);
        put_value(tree, unit, "output", &light->unit[i].output, "kPa");
        put_answer(tree, unit, "braked", light->unit[i].braked);
        bl_tree_append(tree, units, unit);
    }
    bl_tree_put(tree, object, "units", units);
    return object;
}

static json_t *loss_object(struct bl_tree *tree, const struct bl_trial *trial,
                           const struct bl_line_loss *loss)
{
    json_t *object = bl_tree_object(tree);
    bl_model_unit(tree, object, trial, loss->unit);
    bl_tree_bool(tree, object, "next_unit_stands_in", loss->next_stands_in);
    bl_tree_text(tree, object, "branch", loss->falling ? "falling" : "rising");
    put_value(tree, object, "front", &loss->front, "kPa");
    put_value(tree, object, "loss", &loss->loss, "kPa");
    bl_tree_number(tree, object, "published_kpa", loss->published);
    char source[64];
    snprintf(source, sizeof(source), "%s %s", loss->limit->regulation,
             loss->limit->clause);
    bl_tree_text(tree, object, "source", source);
    bl_tree_text(tree, object, "confidence",
                 bl_confidence_name(loss->limit->confidence));
    put_verdict(tree, object, "inside", loss->inside);
    bl_tree_count(tree, object, "holds", loss->holds);
    return object;
}

/* An array of root; made when the first entry comes. */
static json_t *member(struct bl_result *result, const char *key)
{
    json_t *array = json_object_get(result->root, key);
    if (array == NULL) {
        array = bl_tree_array(&result->tree);
        bl_tree_put(&result->tree, result->root, key, array);
    }
    return array;
}

enum bl_status bl_result_add_characteristics(
    struct bl_result *result, const struct bl_trial *trial,
    const struct bl_characteristics *all, struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    const char *run = trial->run[all->run].name;
    json_t *units = member(result, "characteristics");
    result->first_curve = json_array_size(units);
    for (size_t i = 0; i < all->count; i++) {
        bl_tree_append(tree, units,
                       unit_object(tree, trial, &all->item[i], run));
    }
    json_t *rear = bl_tree_object(tree);
    bl_tree_text(tree, rear, "run", run);
    bl_tree_number(tree, rear, "brakes_at_kpa", trial->brakes_at_kpa);
    bl_tree_bool(tree, rear, "demand_known", all->light_known);
    json_t *light = bl_tree_array(tree);
    for (size_t i = 0; i < all->lights; i++) {
        bl_tree_append(tree, light, light_object(tree, trial, &all->light[i]));
    }
    bl_tree_put(tree, rear, "light", light);
    json_t *loss = bl_tree_array(tree);
    for (size_t i = 0; i < all->losses; i++) {
        bl_tree_append(tree, loss, loss_object(tree, trial, &all->loss[i]));
    }
    bl_tree_put(tree, rear, "coupling_loss", loss);
    bl_tree_append(tree, member(result, "rear"), rear);
    result->in_front = true;
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}

static const char *side_text(enum bl_pair_side side)
{
    return side == BL_SIDE_A ? "a" : side == BL_SIDE_B ? "b" : NULL;
}

static json_t *episodes(struct bl_tree *tree,
                        const struct bl_pair_episode *episode, size_t count,
                        bool with_side)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < count && i < BL_PAIR_EPISODES; i++) {
        json_t *object = bl_tree_object(tree);
        bl_tree_number(tree, object, "from_s", episode[i].from_s);
        bl_tree_number(tree, object, "to_s", episode[i].to_s);
        bl_tree_number(tree, object, "a_kpa", episode[i].a);
        bl_tree_number(tree, object, "b_kpa", episode[i].b);
        bl_tree_number(tree, object, "demand_kpa", episode[i].demand);
        if (with_side) {
            bl_tree_text(tree, object, "follows",
                         side_text(episode[i].follows));
        }
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *stretches(struct bl_tree *tree, const struct bl_pair *p)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < p->stretches; i++) {
        const struct bl_pair_stretch *stretch = &p->stretch[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_number(tree, object, "from_s", stretch->from_s);
        bl_tree_number(tree, object, "to_s", stretch->to_s);
        bl_tree_number(tree, object, "least_kpa", stretch->least);
        bl_tree_number(tree, object, "middle_kpa", stretch->middle);
        bl_tree_number(tree, object, "most_kpa", stretch->most);
        bl_tree_number(tree, object, "pressure_kpa", stretch->pressure);
        bl_tree_number(tree, object, "may_differ_kpa", stretch->may_differ);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *pair_object(struct bl_tree *tree, const struct bl_trial *trial,
                           const struct bl_transducer_pair *pair,
                           const char *run)
{
    const struct bl_pair *p = &pair->pair;
    json_t *object = bl_tree_object(tree);
    bl_model_unit(tree, object, trial, pair->unit);
    bl_tree_text(tree, object, "run", run);
    bl_tree_text(tree, object, "a", pair->a);
    bl_tree_text(tree, object, "b", pair->b);
    bl_tree_bool(tree, object, "compared", pair->known);
    if (!pair->known) {
        return object;
    }
    bl_tree_count(tree, object, "samples", p->samples);
    bl_tree_count(tree, object, "missing", p->missing);
    put_value(tree, object, "offset_rest", &p->offset_rest, "kPa");
    put_value(tree, object, "offset_hold", &p->offset_hold, "kPa");
    put_value(tree, object, "gain", &p->gain, "");
    put_value(tree, object, "delay", &p->delay_s, "s");
    bl_tree_number(tree, object, "noise_a_kpa", p->noise_a);
    bl_tree_number(tree, object, "noise_b_kpa", p->noise_b);
    bl_tree_bool(tree, object, "identical", p->identical);
    bl_tree_text(tree, object, "stuck", side_text(p->stuck));
    bl_tree_bool(tree, object, "zero_stated", pair->zero_stated);
    bl_tree_bool(tree, object, "offset_off", p->offset_off);
    bl_tree_bool(tree, object, "gain_off", p->gain_off);
    bl_tree_bool(tree, object, "delay_off", p->delay_off);
    bl_tree_count(tree, object, "disagreements", p->disagreements);
    bl_tree_number(tree, object, "disagree_s", p->disagree_s);
    bl_tree_number(tree, object, "largest_kpa", p->largest);
    bl_tree_put(tree, object, "difference", stretches(tree, p));
    bl_tree_put(tree, object, "disagreement",
                episodes(tree, p->disagreement, p->disagreements, false));
    bl_tree_count(tree, object, "false_demands", p->false_demands);
    bl_tree_put(tree, object, "false_demand",
                episodes(tree, p->false_demand, p->false_demands, true));
    bl_tree_bool(tree, object, "witness", p->witness);
    bl_tree_text(tree, object, "wrong", side_text(p->wrong));
    bl_tree_text(tree, object, "wrong_by", p->wrong_by);
    return object;
}

enum bl_status bl_result_add_transducers(struct bl_result *result,
                                         const struct bl_trial *trial,
                                         const struct bl_transducers *all,
                                         struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *array = member(result, "transducers");
    for (size_t i = 0; i < all->count; i++) {
        bl_tree_append(
            tree, array,
            pair_object(tree, trial, &all->item[i], trial->run[all->run].name));
    }
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
