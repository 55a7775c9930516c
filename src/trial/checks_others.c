/* SPDX-License-Identifier: MIT */
/* Characteristics, limits and logs against the rest of the file. */
#include "trial/reading.h"

static void check_limit(struct reading *r, const struct bl_trial_limit *limit)
{
    const struct trial_section *section =
        bl_trial_section_at(r, SECTION_LIMIT, limit->line);
    const struct trial_entry *figure = bl_trial_entry(section, "figure");
    const struct trial_entry *level = bl_trial_entry(section, "level");
    enum bl_figure_name name;
    if (figure == NULL || !bl_figure_from(figure->value, &name)) {
        return;
    }
    if (name == BL_FIGURE_LEVEL && level == NULL) {
        bl_trial_mistake(r, "missing-key", figure->line,
                         "expected 'level' beside 'figure = level', found "
                         "none");
    } else if (name != BL_FIGURE_LEVEL && level != NULL) {
        bl_trial_mistake(r, "wrong-key", level->line,
                         "expected 'level' only beside 'figure = level', found "
                         "it beside '%s'",
                         figure->value);
    }
}

static void check_log(struct reading *r, const struct bl_trial_log *log)
{
    const struct bl_trial *t = r->trial;
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, log->name)};
    for (size_t i = 0; i < t->recordings; i++) {
        if (t->recording[i].kind != BL_RECORDING_LOG) {
            continue;
        }
        if (bl_trial_recording_is(&t->recording[i], log->name)) {
            return;
        }
        bl_nearest_offer(&nearest, t->recording[i].name);
    }
    if (t->recordings == 0) {
        return;
    }
    char quote[QUOTE_MAX];
    char hint[HINT_MAX];
    bl_trial_mistake(r, "unknown-name", log->line,
                     "expected a log of a run, or '*', after 'log', found "
                     "'%s'%s",
                     bl_trial_quote(log->name, quote),
                     bl_trial_nearest_hint(&nearest, hint));
}

static void check_characteristics(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    for (size_t i = 0; i < t->characteristics; i++) {
        const struct bl_trial_characteristic *c = &t->characteristic[i];
        const struct trial_section *section =
            bl_trial_section_at(r, SECTION_CHARACTERISTIC, c->line);
        const struct trial_entry *within = bl_trial_entry(section, "within");
        if (bl_trial_entry(section, "threshold") == NULL &&
            bl_trial_entry(section, "gain") == NULL) {
            bl_trial_mistake(r, "missing-key", c->line,
                             "expected 'threshold' or 'gain' in [%s], found "
                             "neither",
                             section->heading);
        }
        if (within != NULL && (c->when_none || c->whens == 0) &&
            (c->when_none || bl_trial_entry(section, "when") == NULL)) {
            bl_trial_mistake(r, "wrong-key", within->line,
                             "expected 'within' only beside 'when' with "
                             "messages, found it without");
        }
    }
}

void bl_trial_check_others(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    check_characteristics(r);
    for (size_t i = 0; i < t->limits; i++) {
        check_limit(r, &t->limit[i]);
    }
    for (size_t i = 0; i < t->logs; i++) {
        check_log(r, &t->log[i]);
    }
}
