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

void bl_traits_destroy(struct bl_traits *all)
{
    if (all != NULL) {
        bl_free(all->by);
        bl_free(all->cell);
        bl_free(all);
    }
}
