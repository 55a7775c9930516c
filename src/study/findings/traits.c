/* SPDX-License-Identifier: MIT */
/* The table of traits as findings carry it: names, places, its end. */
#include "study/findings/fill.h"

#include "base/alloc.h"

const struct bl_trait_entry *bl_trait_entry(enum bl_trait trait)
{
    static const struct bl_trait_entry entries[] = {
#define X(id, name, unit, judged, meaning)                                     \
    {name, unit, meaning, BL_JUDGED_##judged},
        BL_TRAIT_LIST(X)
#undef X
    };
    return (size_t)trait < BL_TRAITS ? &entries[trait] : NULL;
}

const char *bl_reference_name(enum bl_reference_kind kind)
{
    static const char *const names[] = {
#define X(id, name, meaning) name,
        BL_REFERENCE_LIST(X)
#undef X
    };
    return (size_t)kind < BL_REFERENCES ? names[kind] : "";
}

const char *bl_trait_class_name(enum bl_trait_class by)
{
    static const char *const names[] = {"demand", "air", "not stated"};
    return (size_t)by < BL_CLASSES ? names[by] : "";
}

struct bl_trait_cell *bl_trait_at(const struct bl_traits *all, size_t run,
                                  size_t place, size_t group,
                                  enum bl_trait trait)
{
    const size_t row = (run * all->places + place) * BL_TRAIT_GROUPS + group;
    return &all->cell[row * BL_TRAITS + (size_t)trait];
}

/* Own choice: up to here an opening pressure of 50 kPa is a fifth of it. */
static const double light_kpa = 250;

enum bl_trait_effort bl_trait_effort(const struct bl_traits *all, size_t run,
                                     size_t unit, size_t group)
{
    const struct bl_trait_cell *asked =
        bl_trait_at(all, run, unit, group, BL_TRAIT_ASKED);
    return group / 3 == BL_KIND_LIGHT ||
                   (group / 3 == BL_KIND_SERVICE && asked->n > 0 &&
                    asked->value < light_kpa)
               ? BL_EFFORT_LIGHT
               : BL_EFFORT_HARD;
}

void bl_traits_destroy(struct bl_traits *all)
{
    if (all != NULL) {
        bl_free(all->by);
        bl_free(all->cell);
        bl_free(all);
    }
}

const char *bl_trait_label(enum bl_trait trait)
{
    static const char *const alone[BL_TRAITS] = {
        [BL_TRAIT_LINE_RELEASE] =
            "from control pressure in front to its coupling, release",
        [BL_TRAIT_LINE_RISE] =
            "mean lag of its control pressure behind that in front, rise",
        [BL_TRAIT_LINE_FALL] =
            "mean lag of its control pressure behind that in front, fall",
        [BL_TRAIT_LINE_KEPT] = "control pressure in front that is missing here",
        [BL_TRAIT_STAGE_RELEASE] =
            "from the output in front to its own, release, by air",
        [BL_TRAIT_STAGE_FILLED] =
            "75 % of the output in front to 75 % of its own, by air",
        [BL_TRAIT_STAGE_EMPTIED] =
            "10 % of the output in front to 10 % of its own, release",
        [BL_TRAIT_STAGE_HOLD] =
            "its settled pressure over that in front, by air",
        [BL_TRAIT_OPENS_AT] = "its input's pressure when its output begins"};
    return alone[trait] != NULL ? alone[trait] : bl_trait_entry(trait)->meaning;
}
