/* SPDX-License-Identifier: MIT */
/* Applications, their figures and the summary over them, as a tree. A missing
   value is null beside its reason, never 0. */
#include "report/result.h"

#include <math.h>

static json_t *flag_names(struct bl_tree *tree, unsigned flags)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; bl_flag_at(i) != 0; i++) {
        if ((flags & (unsigned)bl_flag_at(i)) != 0) {
            bl_tree_append_text(tree, array, bl_flag_name(bl_flag_at(i)));
        }
    }
    bl_tree_mark(tree, array, (int)flags);
    return array;
}

static json_t *parts_object(struct bl_tree *tree,
                            const struct bl_uncertainty *part)
{
    json_t *object = bl_tree_object(tree);
    for (size_t i = 0; i < BL_COMPONENTS; i++) {
        bl_tree_number(tree, object, bl_component_name(i),
                       bl_component_value(part, i));
    }
    return object;
}

static void figure_members(struct bl_tree *tree, json_t *object,
                           const struct bl_figure *figure, bool parts)
{
    bl_tree_number(tree, object, "s", figure->known ? figure->s : NAN);
    bl_tree_number(tree, object, "u_s", figure->known ? figure->u_s : NAN);
    if (!figure->known) {
        bl_tree_word(tree, object, "reason", bl_reason_name(figure->reason),
                     (int)figure->reason);
        if (figure->bounded) {
            bl_tree_number(tree, object, "later_than_s", figure->later_than_s);
            bl_tree_number(tree, object, "u_later_s", figure->u_later_s);
        }
    }
    if (figure->flags != 0 && (figure->known || figure->bounded)) {
        bl_tree_put(tree, object, "flags", flag_names(tree, figure->flags));
    }
    if (parts && figure->known) {
        bl_tree_put(tree, object, "u_parts", parts_object(tree, &figure->part));
    }
}

static void put_figure(struct bl_tree *tree, json_t *object, const char *key,
                       const struct bl_figure *figure)
{
    json_t *made = bl_tree_object(tree);
    figure_members(tree, made, figure, true);
    bl_tree_put(tree, object, key, made);
}

static json_t *level_object(struct bl_tree *tree, const struct bl_level *level)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_number(tree, object, "value", level->known ? level->value : NAN);
    bl_tree_text(tree, object, "unit", bl_quantity_unit(level->quantity));
    bl_tree_number(tree, object, "u", level->known ? level->u : NAN);
    if (!level->known) {
        bl_tree_text(tree, object, "reason", bl_reason_name(level->reason));
    }
    return object;
}

static const char *hold_from_text(enum bl_hold_from from)
{
    switch (from) {
    case BL_HOLD_SETTLED:
        return "settled";
    case BL_HOLD_LAST:
        return "last";
    case BL_HOLD_PEAK:
        return "peak";
    case BL_HOLD_NONE:
        break;
    }
    return NULL;
}

const char *bl_model_kind(enum bl_application_kind kind)
{
    switch (kind) {
    case BL_KIND_LIGHT:
        return "light";
    case BL_KIND_SERVICE:
        return "service";
    case BL_KIND_FULL:
        return "full";
    case BL_KIND_UNKNOWN:
        break;
    }
    return "unknown";
}

const char *bl_model_shape(enum bl_application_shape shape)
{
    switch (shape) {
    case BL_SHAPE_STEP:
        return "step";
    case BL_SHAPE_RAMP:
        return "ramp";
    case BL_SHAPE_UNKNOWN:
        break;
    }
    return "unknown";
}

void bl_model_unit(struct bl_tree *tree, json_t *object,
                   const struct bl_trial *trial, size_t index)
{
    char label[32];
    const struct bl_trial_unit *unit =
        index < trial->units ? &trial->unit[index] : NULL;
    bl_tree_text(
        tree, object, "unit",
        unit == NULL ? NULL : bl_trial_unit_label(unit, label, sizeof(label)));
    bl_tree_text(tree, object, "name", unit == NULL ? NULL : unit->name);
}

const char *bl_model_output(const struct bl_trial *trial, size_t unit,
                            size_t output)
{
    if (unit >= trial->units || output >= trial->unit[unit].outputs) {
        return NULL;
    }
    const struct bl_trial_input *input = &trial->unit[unit].output[output];
    return input->label == NULL ? input->text : input->label;
}

/* Where the response goes, leg by leg; empty for a unit that has no way of its
   own to tell. */
static json_t *path_array(struct bl_tree *tree, const struct bl_unit_lag *lag)
{
    json_t *legs = bl_tree_array(tree);
    for (size_t i = 0; lag->has_path && i < BL_PATH_LEGS; i++) {
        const struct bl_path_leg *way = &lag->path[i];
        json_t *leg = bl_tree_object(tree);
        bl_tree_word(tree, leg, "from", bl_path_event_name(way->from),
                     (int)way->from);
        bl_tree_word(tree, leg, "to", bl_path_event_name(way->to),
                     (int)way->to);
        figure_members(tree, leg, &way->time, false);
        bl_tree_append(tree, legs, leg);
    }
    return legs;
}

/* Only where the trial names what to read them from. */
static void supply_members(struct bl_tree *tree, json_t *object,
                           const struct bl_trial *trial,
                           const struct bl_unit_lag *lag)
{
    if (lag->unit >= trial->units) {
        return;
    }
    const struct bl_trial_unit *unit = &trial->unit[lag->unit];
    if (unit->reservoir.kind != BL_INPUT_NONE) {
        bl_tree_put(tree, object, "reservoir_least",
                    level_object(tree, &lag->reservoir_least));
    }
    if (unit->voltage.kind != BL_INPUT_NONE) {
        bl_tree_put(tree, object, "voltage_least",
                    level_object(tree, &lag->voltage_least));
    }
}

/* What one output has, and the unit by its least favourable. */
static void output_members(struct bl_tree *tree, json_t *object,
                           const struct bl_trial *trial,
                           const struct bl_unit_lag *lag)
{
    bl_tree_text(tree, object, "output",
                 lag->output < 0
                     ? NULL
                     : bl_model_output(trial, lag->unit, (size_t)lag->output));
    bl_tree_put(tree, object, "responded",
                lag->responded == BL_UNKNOWN
                    ? json_null()
                    : json_boolean(lag->responded == BL_YES));
    bl_tree_put(tree, object, "flags", flag_names(tree, lag->flags));
    bl_tree_put(tree, object, "rest", level_object(tree, &lag->rest));
    json_t *hold = level_object(tree, &lag->hold);
    bl_tree_text(tree, hold, "hold_from", hold_from_text(lag->hold_from));
    bl_tree_put(tree, object, "hold", hold);
    bl_tree_put(tree, object, "peak", level_object(tree, &lag->peak));
}

/* Each of several outputs by itself. */
static json_t *outputs_array(struct bl_tree *tree, const struct bl_trial *trial,
                             const struct bl_unit_lag *lag)
{
    json_t *array = bl_tree_array(tree);
    for (size_t o = 0; o < lag->outputs; o++) {
        const struct bl_unit_lag *each = &lag->each[o];
        json_t *object = bl_tree_object(tree);
        output_members(tree, object, trial, each);
        for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
            if (bl_figure_of_output(i)) {
                put_figure(tree, object, bl_figure_name_text(i),
                           &each->figure[i]);
            }
        }
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *unit_object(struct bl_tree *tree, const struct bl_trial *trial,
                           const struct bl_unit_lag *lag)
{
    json_t *object = bl_tree_object(tree);
    bl_model_unit(tree, object, trial, lag->unit);
    output_members(tree, object, trial, lag);
    bl_tree_put(tree, object, "control_peak",
                level_object(tree, &lag->control_peak));
    supply_members(tree, object, trial, lag);
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        if (bl_figure_of_unit(i)) {
            put_figure(tree, object, bl_figure_name_text(i), &lag->figure[i]);
        }
    }
    json_t *levels = bl_tree_array(tree);
    for (size_t i = 0; lag->level != NULL && i < trial->levels; i++) {
        json_t *level = bl_tree_object(tree);
        bl_tree_number(tree, level, "kpa", trial->level_kpa[i]);
        figure_members(tree, level, &lag->level[i], true);
        bl_tree_append(tree, levels, level);
    }
    bl_tree_put(tree, object, "levels", levels);
    bl_tree_put(tree, object, "path", path_array(tree, lag));
    bl_tree_count(tree, object, "chatter", lag->chatter);
    if (lag->outputs > 0) {
        bl_tree_put(tree, object, "outputs", outputs_array(tree, trial, lag));
    }
    return object;
}

static void put_own(struct bl_tree *tree, json_t *object, const char *key,
                    const struct bl_figure *figure)
{
    struct bl_figure own = *figure;
    /* Of an application that was not made from a command. */
    if (!own.known && own.reason == BL_REASON_NONE) {
        own.reason = BL_REASON_NO_COMMAND;
    }
    json_t *made = bl_tree_object(tree);
    figure_members(tree, made, &own, false);
    bl_tree_put(tree, object, key, made);
}

/* How fast the command itself went. */
static json_t *own_object(struct bl_tree *tree,
                          const struct bl_application *application)
{
    json_t *object = bl_tree_object(tree);
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        if (bl_figure_entry(i)->at == BL_AT_HOLD) {
            put_own(tree, object, bl_figure_name_text(i), &application->own[i]);
        }
    }
    put_own(tree, object, "half_rise", &application->own_half_rise);
    put_own(tree, object, "half_fall", &application->own_half_fall);
    return object;
}

static json_t *command_object(struct bl_tree *tree,
                              const struct bl_application *application)
{
    const struct bl_figure *apply = &application->command_apply;
    const struct bl_figure *release = &application->command_release;
    json_t *object = bl_tree_object(tree);
    bl_tree_number(tree, object, "apply_s", apply->known ? apply->s : NAN);
    bl_tree_number(tree, object, "apply_u_s", apply->known ? apply->u_s : NAN);
    if (!apply->known) {
        bl_tree_text(tree, object, "apply_reason",
                     bl_reason_name(apply->reason));
    }
    bl_tree_number(tree, object, "release_s",
                   release->known ? release->s : NAN);
    bl_tree_number(tree, object, "release_u_s",
                   release->known ? release->u_s : NAN);
    if (!release->known) {
        bl_tree_text(tree, object, "release_reason",
                     bl_reason_name(release->reason));
    }
    bl_tree_put(tree, object, "rest",
                level_object(tree, &application->command_rest));
    json_t *hold = level_object(tree, &application->command_hold);
    bl_tree_text(tree, hold, "hold_from",
                 hold_from_text(application->command_hold_from));
    bl_tree_put(tree, object, "hold", hold);
    bl_tree_put(tree, object, "own", own_object(tree, application));
    bl_tree_count(tree, object, "modulations", application->modulations);
    return object;
}

/* Units that come after a unit behind them. */
static json_t *overtaken_array(struct bl_tree *tree,
                               const struct bl_trial *trial,
                               const struct bl_application *application)
{
    static const enum bl_figure_name figures[] = {
        BL_FIGURE_RESPONSE, BL_FIGURE_FILLED, BL_FIGURE_EMPTIED};
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < application->units; i++) {
        for (size_t f = 0; f < sizeof(figures) / sizeof(figures[0]); f++) {
            struct bl_overtaken found;
            if (!bl_overtaken(&found, application, i, figures[f])) {
                continue;
            }
            json_t *object = bl_tree_object(tree);
            json_t *behind = bl_tree_object(tree);
            bl_model_unit(tree, object, trial, found.unit);
            bl_tree_word(tree, object, "figure",
                         bl_figure_name_text(found.figure), (int)found.figure);
            bl_model_unit(tree, behind, trial, found.behind);
            bl_tree_put(tree, object, "behind", behind);
            bl_tree_number(tree, object, "by_s", found.by_s);
            bl_tree_append(tree, array, object);
        }
    }
    return array;
}

static json_t *application_object(struct bl_tree *tree,
                                  const struct bl_trial *trial,
                                  const struct bl_application *application)
{
    const char combination[2] = {application->combination, '\0'};
    char label[32];
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "number", (uint64_t)application->number);
    bl_tree_word(tree, object, "combination", combination,
                 (int)application->combination);
    bl_tree_text(tree, object, "kind", bl_model_kind(application->kind));
    bl_tree_text(tree, object, "shape", bl_model_shape(application->shape));
    bl_tree_bool(tree, object, "begun_before", application->begun_before);
    bl_tree_bool(tree, object, "unfinished", application->unfinished);
    bl_tree_bool(tree, object, "excluded", application->excluded);
    if (application->excluded) {
        bl_tree_text(tree, object, "excluded_why", application->excluded_why);
    }
    bl_tree_put(tree, object, "flags", flag_names(tree, application->flags));
    bl_tree_put(tree, object, "command", command_object(tree, application));
    const bool from =
        application->stagger_from >= 0 &&
        (size_t)application->stagger_from < application->units &&
        application->unit[application->stagger_from].unit < trial->units;
    bl_tree_text(
        tree, object, "stagger_from",
        from ? bl_trial_unit_label(
                   &trial->unit[application->unit[application->stagger_from]
                                    .unit],
                   label, sizeof(label))
             : NULL);
    put_figure(tree, object, "spread", &application->spread);
    bl_tree_put(tree, object, "overtaken",
                overtaken_array(tree, trial, application));
    json_t *units = bl_tree_array(tree);
    for (size_t i = 0; i < application->units; i++) {
        bl_tree_append(tree, units,
                       unit_object(tree, trial, &application->unit[i]));
    }
    bl_tree_put(tree, object, "units", units);
    return object;
}

json_t *bl_model_applications(struct bl_tree *tree,
                              const struct bl_trial *trial,
                              const struct bl_run_lag *lag)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; lag != NULL && i < lag->applications; i++) {
        bl_tree_append(tree, array,
                       application_object(tree, trial, &lag->application[i]));
    }
    return array;
}

json_t *bl_model_summary(struct bl_tree *tree, const struct bl_trial *trial,
                         const struct bl_run_lag *lag)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; lag != NULL && i < lag->summaries; i++) {
        const struct bl_summary *summary = &lag->summary[i];
        json_t *object = bl_tree_object(tree);
        bl_model_unit(tree, object, trial, summary->unit);
        bl_tree_text(tree, object, "kind", bl_model_kind(summary->kind));
        bl_tree_text(tree, object, "shape", bl_model_shape(summary->shape));
        bl_tree_word(tree, object, "figure",
                     bl_figure_name_text(summary->figure),
                     (int)summary->figure);
        if (summary->figure == BL_FIGURE_LEVEL) {
            bl_tree_number(tree, object, "kpa", summary->level_kpa);
        }
        const bool any = summary->n > 0;
        bl_tree_count(tree, object, "n", summary->n);
        bl_tree_count(tree, object, "without", summary->null);
        bl_tree_number(tree, object, "median_s", any ? summary->median_s : NAN);
        bl_tree_number(tree, object, "low_s", any ? summary->low_s : NAN);
        bl_tree_number(tree, object, "high_s", any ? summary->high_s : NAN);
        bl_tree_number(tree, object, "u_common_s", any ? summary->u_s : NAN);
        bl_tree_append(tree, array, object);
    }
    return array;
}
