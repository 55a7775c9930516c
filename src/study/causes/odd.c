/* SPDX-License-Identifier: MIT */
/*
 * The odd one out: what lies off the other units, explained by the causes that
 * fit best, said in plain words with the two numbers that show it.
 */
#include "study/causes/causes.h"

#include "base/alloc.h"
#include "lag/as_one.h"
#include "study/causes/traits/rank.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* More than these are no odd ones: own choice. */
enum { NAMED_MOST = 8 };

/* A trait's value as it is said: seconds, per cent, kPa. */
static void say_value(char *text, size_t size, enum bl_trait trait,
                      double value)
{
    const char *unit = bl_trait_entry(trait)->unit;
    if (strcmp(unit, "s") == 0) {
        snprintf(text, size, "%.2f s", value);
    } else if (strcmp(unit, "kPa") == 0) {
        snprintf(text, size, "%.0f kPa", value);
    } else {
        snprintf(text, size, "%.0f %%", 100 * value);
    }
}

/* What the others do, in the run and kind that shows it best. */
static void say_others(char *text, size_t size, const struct bl_causing *c,
                       const struct bl_named_cause *named)
{
    const enum bl_trait trait = (enum bl_trait)named->row->sign[0].trait;
    const char combination = c->trial->unit[named->unit].combination;
    double low = INFINITY;
    double high = -INFINITY;
    for (size_t u = 0; u < c->trial->units; u++) {
        for (size_t shape = 0; shape < 3; shape++) {
            const struct bl_trait_cell *cell =
                bl_trait_at(c->traits, (size_t)named->shown.run, u,
                            (size_t)named->shown.kind * 3 + shape, trait);
            if (u != named->unit && cell->n > 0 &&
                c->trial->unit[u].combination == combination &&
                c->trial->unit[u].number > 0) {
                low = fmin(low, cell->value);
                high = fmax(high, cell->value);
            }
        }
    }
    char a[32];
    char b[32];
    low = isfinite(low) ? low : named->shown.other;
    high = isfinite(high) ? high : named->shown.other;
    say_value(a, sizeof(a), trait, low);
    say_value(b, sizeof(b), trait, high);
    if (strcmp(a, b) == 0) {
        snprintf(text, size, "%s", a);
    } else {
        char *blank = strchr(a, ' ');
        if (blank != NULL) {
            *blank = '\0';
        }
        snprintf(text, size, "%s to %s", a, b);
    }
}

/* In which conditions it was seen. That it was not seen in the other one does
   not say that it is not there: late air hides a slow fill. */
static const char *say_where(const struct bl_unit_state *unit,
                             const struct bl_cause_row *row)
{
    const struct bl_sign *sign = &row->sign[0];
    bool seen[BL_CLASSES] = {false};
    bool known[BL_CLASSES] = {false};
    for (size_t by = 0; by < BL_CLASSES; by++) {
        for (size_t e = 0; e < BL_EFFORTS; e++) {
            const enum bl_off off = unit->at[by][e][sign->trait].off;
            seen[by] |= off == sign->off;
            known[by] |= off != BL_OFF_UNKNOWN;
        }
    }
    if (seen[BL_BY_DEMAND] && seen[BL_BY_AIR]) {
        return ", with power and without";
    }
    if (seen[BL_BY_DEMAND] && known[BL_BY_AIR]) {
        return ", seen with power only";
    }
    return seen[BL_BY_AIR] && known[BL_BY_DEMAND] ? ", seen without power only"
                                                  : "";
}

static void name_alike(struct bl_finding *f, const struct bl_named_cause *named,
                       char *text, size_t size)
{
    text[0] = '\0';
    for (size_t i = 0; i < named->alikes; i++) {
        const size_t length = strlen(text);
        f->alike[f->alikes++] = named->alike[i]->code;
        snprintf(text + length, size - length, "%s%s",
                 i == 0 ? " This wiring cannot tell it from " : " or ",
                 bl_finding_kind(named->alike[i]->code)->code);
    }
    if (named->alikes > 0) {
        const size_t length = strlen(text);
        snprintf(text + length, size - length, ".");
    }
}

/* All runs whose class shows the first sign. */
static void name_runs(const struct bl_causing *c, struct bl_finding *f,
                      const struct bl_unit_state *unit,
                      const struct bl_cause_row *row)
{
    const struct bl_sign *sign = &row->sign[0];
    for (size_t r = 0; r < c->trial->runs; r++) {
        const enum bl_trait_class by = c->traits->by[r];
        const bool shows = unit->at[by][0][sign->trait].off == sign->off ||
                           unit->at[by][1][sign->trait].off == sign->off;
        if (c->run[r].lag != NULL && shows && (long)r != f->run &&
            !bl_lag_as_one(c->run[r].lag,
                           c->trial->unit[f->unit].combination) &&
            f->alsos < BL_FINDING_RUNS_MAX) {
            f->also[f->alsos++] = (long)r;
        }
    }
    for (size_t i = 0; i < f->alsos && f->also[i] < f->run; i++) {
        const long keep = f->run; /* the others are in order */
        f->run = f->also[i];
        f->also[i] = keep;
    }
}

static void evidence(struct bl_finding *f, const struct bl_named_cause *named)
{
    const enum bl_trait trait = (enum bl_trait)named->row->sign[0].trait;
    const struct bl_trait_entry *entry = bl_trait_entry(trait);
    const bool share = entry->unit[0] == '\0';
    const double scale = share ? 100 : 1;
    const char *unit = share ? "%" : entry->unit;
    const double u = named->shown.ratio == 0
                         ? NAN
                         : fabs(named->shown.by / named->shown.ratio);
    bl_finding_evidence(f, entry->name, scale * named->shown.value, NAN, unit);
    bl_finding_evidence(f, "expected from the other units",
                        scale * named->shown.other, scale * u, unit);
}

static void tell(struct bl_causing *c, const struct bl_named_cause *named,
                 const struct bl_unit_state *unit)
{
    const struct bl_cause_row *row = named->row;
    char name[128];
    char value[32];
    char others[80];
    char alike[160];
    struct bl_finding *f = bl_findings_add(c->into, row->code, BL_SHOWN_FOUND,
                                           (long)named->unit, named->shown.run);
    if (f == NULL) {
        return;
    }
    say_value(value, sizeof(value), (enum bl_trait)row->sign[0].trait,
              named->shown.value);
    say_others(others, sizeof(others), c, named);
    name_alike(f, named, alike, sizeof(alike));
    f->severity = BL_SEVERITY_WARNING;
    f->ratio = fabs(named->shown.ratio);
    f->headline = true;
    bl_finding_say(f, "%s %s: %s %s, the others %s%s. %s%s",
                   bl_causes_unit(c, named->unit, name, sizeof(name)),
                   row->what, value, row->measure, others, say_where(unit, row),
                   row->where, alike);
    evidence(f, named);
    name_runs(c, f, unit, row);
}

/* Another look, by a stronger reference, has said it of this unit. */
static struct bl_finding *said(const struct bl_causing *c,
                               const struct bl_named_cause *named)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        if (f->code == named->row->code && f->unit == (long)named->unit &&
            f->shown == BL_SHOWN_FOUND && f->severity != BL_SEVERITY_NOTE) {
            return f;
        }
    }
    return NULL;
}

static bool exchanged(const struct bl_causing *c, size_t unit)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
                            (long)r) != NULL) {
            return true;
        }
    }
    return false;
}

/* Was the trait that a row begins with held against the others in this run? */
static bool held(const struct bl_causing *c, enum bl_finding_code code,
                 size_t unit, size_t run)
{
    size_t count = 0;
    const struct bl_cause_row *row = bl_cause_rows(&count);
    for (size_t i = 0; i < count; i++) {
        for (size_t g = 0; row[i].code == code && g < BL_TRAIT_GROUPS; g++) {
            const struct bl_trait_cell *cell = bl_trait_at(
                c->traits, run, unit, g, (enum bl_trait)row[i].sign[0].trait);
            if (cell->n > 0 && cell->reference[BL_REFERENCE_OTHERS].known) {
                return true;
            }
        }
    }
    return false;
}

/* What was looked for here is not missing there: never both for one code, unit
   and run. */
static void not_missing(struct bl_causing *c)
{
    struct bl_findings *all = c->into;
    size_t kept = 0;
    for (size_t i = 0; i < all->missing_count; i++) {
        const struct bl_not_looked_for *one = &all->missing[i];
        bool looked = false;
        for (size_t r = 0; one->unit >= 0 && r < c->trial->runs; r++) {
            looked =
                looked ||
                ((one->run < 0 || one->run == (long)r) &&
                 held(c, one->code, (size_t)one->unit, r)) ||
                (one->run == (long)r &&
                 bl_causes_found(c, one->code, one->unit, one->run) != NULL);
        }
        if (looked) {
            bl_findings_looked(all, one->code);
        } else {
            all->missing[kept++] = *one;
        }
    }
    all->missing_count = kept;
}

void bl_causes_odd(struct bl_causing *c)
{
    struct bl_unit_state *state = bl_alloc(c->trial->units + 1, sizeof(*state));
    struct bl_named_cause named;
    if (state == NULL) {
        c->failed = true;
        return;
    }
    bl_traits_against_others(c);
    bl_states_read(c, state);
    for (int i = 0; i < NAMED_MOST && bl_causes_rank(c, state, &named); i++) {
        struct bl_finding *before = said(c, &named);
        if (before != NULL) {
            evidence(before, &named);
        } else if (!exchanged(c, named.unit)) {
            tell(c, &named, &state[named.unit]);
        }
    }
    bl_free(state);
    not_missing(c);
}
