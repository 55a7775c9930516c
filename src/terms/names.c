/* SPDX-License-Identifier: MIT */
#include "brakelag/names.h"

#include <string.h>

struct name {
    const char *name, *meaning;
};

static const struct name roles[] = {
#define X(id, name, meaning) {name, meaning},
    BL_ROLE_LIST(X)
#undef X
};
static const struct bl_figure_entry figures[] = {
#define X(id, name, title, brief, side, at, share, since, by_switch, meaning)  \
    {name,           title,      brief, meaning,                               \
     BL_SIDE_##side, BL_AT_##at, share, BL_SINCE_##since,                      \
     by_switch},
    BL_FIGURE_LIST(X)
#undef X
};
static const struct name reasons[] = {
#define X(id, name, meaning) {name, meaning},
    BL_REASON_LIST(X)
#undef X
};
static const struct {
    enum bl_flag flag;
    struct name text;
} flags[] = {
#define X(id, bit, name, meaning) {BL_FLAG_##id, {name, meaning}},
    BL_FLAG_LIST(X)
#undef X
};

#define COUNT(table) (sizeof(table) / sizeof((table)[0]))

static const struct name *at(const struct name *table, size_t count,
                             size_t index)
{
    static const struct name none = {"", ""};
    return index < count ? &table[index] : &none;
}

static bool from(const struct name *table, size_t count, const char *name,
                 size_t *out)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(table[i].name, name) == 0) {
            *out = i;
            return true;
        }
    }
    return false;
}

const char *bl_role_name(enum bl_role role)
{
    return at(roles, COUNT(roles), role)->name;
}

const char *bl_role_meaning(enum bl_role role)
{
    return at(roles, COUNT(roles), role)->meaning;
}

const struct bl_figure_entry *bl_figure_entry(enum bl_figure_name name)
{
    return (size_t)name < COUNT(figures) ? &figures[name] : NULL;
}

bool bl_figure_of_unit(enum bl_figure_name name)
{
    return name != BL_FIGURE_LEVEL && name != BL_FIGURE_SPREAD;
}

bool bl_figure_of_output(enum bl_figure_name name)
{
    const struct bl_figure_entry *entry = bl_figure_entry(name);
    return entry != NULL &&
           (entry->at == BL_AT_REST || entry->at == BL_AT_HOLD ||
            entry->at == BL_AT_RESPONSE_AT);
}

const char *bl_figure_name_text(enum bl_figure_name figure)
{
    const struct bl_figure_entry *entry = bl_figure_entry(figure);
    return entry == NULL ? "" : entry->name;
}

const char *bl_figure_title(enum bl_figure_name figure)
{
    const struct bl_figure_entry *entry = bl_figure_entry(figure);
    return entry == NULL ? "" : entry->title;
}

const char *bl_figure_meaning(enum bl_figure_name figure)
{
    const struct bl_figure_entry *entry = bl_figure_entry(figure);
    return entry == NULL ? "" : entry->meaning;
}

const char *bl_reason_name(enum bl_reason reason)
{
    return at(reasons, COUNT(reasons), reason)->name;
}

const char *bl_reason_meaning(enum bl_reason reason)
{
    return at(reasons, COUNT(reasons), reason)->meaning;
}

enum bl_flag bl_flag_at(size_t index)
{
    return index < COUNT(flags) ? flags[index].flag : (enum bl_flag)0;
}

static const struct name *flag_text(enum bl_flag flag)
{
    for (size_t i = 0; i < COUNT(flags); i++) {
        if (flags[i].flag == flag) {
            return &flags[i].text;
        }
    }
    return at(roles, 0, 0);
}

const char *bl_flag_name(enum bl_flag flag)
{
    return flag_text(flag)->name;
}

const char *bl_flag_meaning(enum bl_flag flag)
{
    return flag_text(flag)->meaning;
}

const char *bl_finding_group_name(enum bl_finding_group group)
{
    static const char *const names[] = {"demand", "unit", "air", "measuring"};
    return names[group];
}

const char *bl_severity_name(enum bl_severity severity)
{
    static const char *const names[] = {"note", "warning", "fault"};
    return names[severity];
}

bool bl_role_from(const char *name, enum bl_role *out)
{
    size_t index;
    const bool found = from(roles, COUNT(roles), name, &index);
    if (found) {
        *out = (enum bl_role)index;
    }
    return found;
}

bool bl_figure_from(const char *name, enum bl_figure_name *out)
{
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        if (strcmp(figures[i].name, name) == 0) {
            *out = i;
            return true;
        }
    }
    return false;
}
