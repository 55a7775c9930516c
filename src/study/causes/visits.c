/* SPDX-License-Identifier: MIT */
/*
 * Late and slow against earlier visits of the same unit: what shows a unit that
 * its neighbours hide because all of them are alike. The differences come with
 * what two sound visits differ by (docs/methods/life.md), over all figures of
 * the unit together.
 *
 * Figures count from the command. Where the demand asks for braking that is the
 * unit's own time; by air it is that of the chain in front as well, and no unit
 * is named by it.
 */
#include "study/causes/causes.h"

#include "lag/application.h"
#include "study/causes/traits/rows.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Where a figure ends, and where the stretch in front of it does. */
struct side {
    enum bl_figure_name whole, begin;
    enum bl_finding_code slow, late;
    const char *to; /* what the two numbers are */
};

static const struct side sides[] = {
    {BL_FIGURE_FILLED, BL_FIGURE_RESPONSE, BL_FINDING_SLOW_FILL,
     BL_FINDING_LATE_APPLY, "to 75 %"},
    {BL_FIGURE_EMPTIED, BL_FIGURE_RELEASE_START, BL_FINDING_SLOW_RELEASE,
     BL_FINDING_LATE_RELEASE, "to 10 %"},
};

/* Did the demand ask in every run of the condition? */
static bool by_demand(const struct bl_causing *c, const char *condition)
{
    bool any = false;
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag != NULL &&
            strcmp(bl_causes_condition_of(c, r), condition) == 0) {
            if (bl_causes_class(c, r) != BL_BY_DEMAND) {
                return false;
            }
            any = true;
        }
    }
    return any;
}

static const struct bl_visits_row *beside(const struct bl_visits *all,
                                          const struct bl_visits_row *row,
                                          enum bl_figure_name figure)
{
    for (size_t i = 0; i < all->rows; i++) {
        const struct bl_visits_row *other = &all->row[i];
        if (other->unit == row->unit && other->key.figure == figure &&
            other->key.kind == row->key.kind &&
            other->key.shape == row->key.shape &&
            strcmp(other->key.condition, row->key.condition) == 0) {
            return other;
        }
    }
    return NULL;
}

static bool is_slower(const struct bl_visits_row *row)
{
    return row != NULL && row->verdict == BL_LIFE_PAIR_SLOWER;
}

/* The row that shows it best: the hardest applications, then the largest. */
static const struct bl_visits_row *
shown_by(const struct bl_causing *c, size_t unit, enum bl_figure_name figure)
{
    const struct bl_visits *all = c->visits;
    const struct bl_visits_row *best = NULL;
    for (size_t i = 0; i < all->rows; i++) {
        const struct bl_visits_row *row = &all->row[i];
        if (row->unit != unit || row->key.figure != figure || !is_slower(row) ||
            !by_demand(c, row->key.condition)) {
            continue;
        }
        if (best == NULL || row->key.kind > best->key.kind ||
            (row->key.kind == best->key.kind && row->off_s > best->off_s)) {
            best = row;
        }
    }
    return best;
}

/* A demand that comes late, or is not used, is no valve of this unit. */
static bool by_its_demand(const struct bl_causing *c, size_t unit)
{
    static const enum bl_finding_code codes[] = {
        BL_FINDING_DEMAND_LATE, BL_FINDING_DEMAND_MISSING,
        BL_FINDING_DEMAND_IGNORED, BL_FINDING_CHANNELS_SWAPPED};
    for (size_t i = 0; i < c->into->count; i++) {
        const struct bl_finding *f = &c->into->item[i];
        for (size_t k = 0; k < sizeof(codes) / sizeof(codes[0]); k++) {
            if (f->code == codes[k] && f->unit == (long)unit &&
                f->shown == BL_SHOWN_FOUND) {
                return true;
            }
        }
    }
    return false;
}

static bool keeps_limit(const struct bl_causing *c,
                        const struct bl_visits_row *row)
{
    for (size_t i = 0; i < c->trial->limits; i++) {
        const struct bl_trial_limit *limit = &c->trial->limit[i];
        if (limit->figure == row->key.figure &&
            (limit->unit < 0 || limit->unit == (long)row->unit) &&
            row->now_s <= limit->max_s) {
            return true;
        }
    }
    return false;
}

static const struct bl_cause_row *words_of(enum bl_finding_code code)
{
    size_t count = 0;
    const struct bl_cause_row *row = bl_cause_rows(&count);
    for (size_t i = 0; i < count; i++) {
        if (row[i].code == code) {
            return &row[i];
        }
    }
    return NULL;
}

static void evidence(struct bl_finding *f, const struct bl_visits_row *row)
{
    char label[BL_EVIDENCE_LABEL_MAX];
    (void)snprintf(label, sizeof(label), "%.40s, this visit",
                   bl_figure_name_text(row->key.figure));
    bl_finding_evidence(f, label, row->now_s, NAN, "s");
    bl_finding_evidence(f, "expected from earlier visits",
                        row->now_s - row->off_s, row->u_s, "s");
}

static struct bl_finding *found(const struct bl_causing *c,
                                enum bl_finding_code code, size_t unit)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        if (f->code == code && f->unit == (long)unit &&
            f->shown == BL_SHOWN_FOUND && f->severity != BL_SEVERITY_NOTE) {
            return f;
        }
    }
    return NULL;
}

/* The first run of the condition, and the others. */
static void name_runs(const struct bl_causing *c, struct bl_finding *f,
                      const char *condition)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag == NULL || (long)r == f->run ||
            strcmp(bl_causes_condition_of(c, r), condition) != 0 ||
            f->alsos == BL_FINDING_RUNS_MAX) {
            continue;
        }
        f->also[f->alsos++] = (long)r;
    }
}

static long first_run(const struct bl_causing *c, const char *condition)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag != NULL &&
            strcmp(bl_causes_condition_of(c, r), condition) == 0) {
            return (long)r;
        }
    }
    return -1;
}

static void tell(struct bl_causing *c, const struct side *side,
                 const struct bl_visits_row *row, enum bl_finding_code code)
{
    const struct bl_cause_row *words = words_of(code);
    struct bl_finding *f = found(c, code, row->unit);
    char name[128];
    char earlier[80];
    if (f != NULL) {
        evidence(f, row);
        return;
    }
    f = bl_findings_add(c->into, code, BL_SHOWN_FOUND, (long)row->unit,
                        first_run(c, row->key.condition));
    if (f == NULL || words == NULL) {
        return;
    }
    f->severity = keeps_limit(c, row) ? BL_SEVERITY_NOTE : BL_SEVERITY_WARNING;
    f->ratio = row->off_s / row->u_s;
    f->headline = true;
    if (row->life == BL_LIFE_STEP) {
        (void)snprintf(earlier, sizeof(earlier),
                       "before %.20s, and so ever since", row->since);
    } else if (row->life != BL_LIFE_CANNOT_TELL) {
        (void)snprintf(earlier, sizeof(earlier), "at its visit of %.20s, %s",
                       row->since,
                       row->life == BL_LIFE_DRIFT ? "bit by bit"
                                                  : "at once or bit by bit");
    } else if (row->visits == 1) {
        (void)snprintf(earlier, sizeof(earlier), "at its visit of %.20s",
                       row->date);
    } else {
        (void)snprintf(earlier, sizeof(earlier),
                       "the middle of its %zu earlier visits", row->visits);
    }
    bl_finding_say(f,
                   "%s %s: %.2f s %s in %s applications, %.2f to %.2f s slower "
                   "than %s (%.2f s). %s",
                   bl_causes_unit(c, row->unit, name, sizeof(name)),
                   words->what, row->now_s,
                   row->key.figure == side->begin
                       ? (side->begin == BL_FIGURE_RESPONSE ? "to its first air"
                                                            : "to 90 %")
                       : side->to,
                   bl_application_kind_said(row->key.kind), row->low_s,
                   row->high_s, earlier, row->now_s - row->off_s, words->where);
    evidence(f, row);
    name_runs(c, f, row->key.condition);
}

static void look(struct bl_causing *c, const struct side *side, size_t unit)
{
    const struct bl_visits_row *whole = shown_by(c, unit, side->whole);
    const struct bl_visits_row *begin = shown_by(c, unit, side->begin);
    if (whole != NULL) {
        /* What it already lost before it began is not slow filling. */
        const struct bl_visits_row *before =
            beside(c->visits, whole, side->begin);
        const double late = before == NULL ? 0 : fmax(0, before->off_s);
        tell(c, side, whole,
             whole->off_s - late > late ? side->slow : side->late);
    } else if (begin != NULL) {
        tell(c, side, begin, side->late);
    }
}

void bl_causes_visits(struct bl_causing *c)
{
    for (size_t u = 0; c->visits != NULL && u < c->trial->units; u++) {
        if (by_its_demand(c, u)) {
            continue;
        }
        for (size_t i = 0; i < sizeof(sides) / sizeof(sides[0]); i++) {
            look(c, &sides[i], u);
        }
    }
}
