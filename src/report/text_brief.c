/* SPDX-License-Identifier: MIT */
/*
 * Many runs in short: of each its conditions, how many applications it gives,
 * and what stood out in them, counted. The medians are in the glance; single
 * applications are shown where they are asked for. Nothing is dropped unsaid:
 * what is excluded, begun before or unfinished is counted too.
 */
#include "report/text.h"

#include <stdio.h>

struct tally {
    const json_t *applications;
    const json_t *unit; /* of the trial; NULL: the command */
    bool heading;       /* said already */
};

/* The entry of a trial's unit in one application; `index` among its units. */
static const json_t *entry(const json_t *application, const json_t *unit,
                           size_t *index)
{
    const json_t *units = json_object_get(application, "units");
    for (size_t i = 0; i < json_array_size(units); i++) {
        if (bl_tree_same_text(json_array_get(units, i), unit, "unit")) {
            *index = i;
            return json_array_get(units, i);
        }
    }
    return NULL;
}

static void say(struct bl_text *to, struct tally *tally, const char *what,
                size_t count)
{
    if (count == 0) {
        return;
    }
    if (!tally->heading) {
        bl_output_text(to->output, "  What stood out, in how many\n");
        tally->heading = true;
    }
    bl_output_text(to->output, "    ");
    bl_text_plain(to, tally->unit == NULL ? "command"
                                          : bl_text_called(to, tally->unit));
    bl_output_format(to->output, ": %s: %zu of %zu\n", what, count,
                     json_array_size(tally->applications));
}

static bool has_flag(const struct bl_text *to, const json_t *object,
                     enum bl_flag flag)
{
    const int flags = bl_tree_get_code(to->codes, object, "flags", 0);
    return ((unsigned)flags & (unsigned)flag) != 0;
}

static void flags(struct bl_text *to, struct tally *tally)
{
    for (size_t f = 0; bl_flag_at(f) != 0; f++) {
        const enum bl_flag flag = bl_flag_at(f);
        size_t count = 0;
        for (size_t i = 0; i < json_array_size(tally->applications); i++) {
            size_t index;
            const json_t *application = json_array_get(tally->applications, i);
            const json_t *has = tally->unit == NULL
                                    ? application
                                    : entry(application, tally->unit, &index);
            /* That a silent unit never settled says nothing more. */
            count += !json_is_false(json_object_get(has, "responded")) &&
                     has_flag(to, has, flag);
        }
        say(to, tally, bl_flag_meaning(flag), count);
    }
}

static void silent(struct bl_text *to, struct tally *tally)
{
    size_t count = 0;
    size_t index;
    for (size_t i = 0; i < json_array_size(tally->applications); i++) {
        const json_t *found =
            entry(json_array_get(tally->applications, i), tally->unit, &index);
        count += json_is_false(json_object_get(found, "responded"));
    }
    say(to, tally, "did not respond", count);
}

/* In how many applications the unit comes surely after one behind it. */
static void overtaken(struct bl_text *to, struct tally *tally,
                      enum bl_figure_name figure)
{
    char what[BL_TEXT_CELL];
    size_t count = 0;
    for (size_t i = 0; i < json_array_size(tally->applications); i++) {
        const json_t *all = json_object_get(
            json_array_get(tally->applications, i), "overtaken");
        for (size_t k = 0; k < json_array_size(all); k++) {
            const json_t *passed = json_array_get(all, k);
            count += bl_text_is(to, passed, "figure", (int)figure) &&
                     bl_tree_same_text(passed, tally->unit, "unit");
        }
    }
    snprintf(what, sizeof(what), "%s clearly later than a unit behind it",
             bl_text_does(figure));
    say(to, tally, what, count);
}

static size_t how_many(const json_t *applications, const char *key)
{
    size_t count = 0;
    for (size_t i = 0; i < json_array_size(applications); i++) {
        count += bl_tree_get_bool(json_array_get(applications, i), key);
    }
    return count;
}

static void counts(struct bl_text *to, const json_t *applications)
{
    static const char *const also[][2] = {
        {"excluded",
         "excluded, by the trial file or because the run is not as declared"},
        {"begun_before", "begun before the recording"},
        {"unfinished", "unfinished at its end"}};
    bl_output_format(to->output, "  %zu applications",
                     json_array_size(applications));
    for (size_t i = 0; i < sizeof(also) / sizeof(also[0]); i++) {
        const size_t count = how_many(applications, also[i][0]);
        if (count > 0) {
            bl_output_format(to->output, "; %zu %s", count, also[i][1]);
        }
    }
    bl_output_text(to->output, "\n");
}

static void brief(struct bl_text *to, const json_t *run)
{
    if (!bl_text_run_head(to, run)) {
        return;
    }
    const json_t *units =
        json_object_get(json_object_get(to->root, "trial"), "units");
    struct tally tally = {json_object_get(run, "applications"), NULL, false};
    if (json_array_size(tally.applications) == 0) {
        return;
    }
    counts(to, tally.applications);
    flags(to, &tally);
    for (size_t i = 0; i < json_array_size(units); i++) {
        tally.unit = json_array_get(units, i);
        silent(to, &tally);
        overtaken(to, &tally, BL_FIGURE_RESPONSE);
        overtaken(to, &tally, BL_FIGURE_FILLED);
        overtaken(to, &tally, BL_FIGURE_EMPTIED);
        flags(to, &tally);
    }
}

void bl_text_brief(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "runs");
    for (size_t i = 0; i < json_array_size(all); i++) {
        brief(to, json_array_get(all, i));
    }
    bl_text_definitions(to);
    bl_output_text(to->output,
                   "\nEvery application with the uncertainty of each figure: "
                   "add --each, or --csv for a table\n");
}
