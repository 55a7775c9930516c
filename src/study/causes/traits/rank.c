/* SPDX-License-Identifier: MIT */
/*
 * Rows against states. A row earns what it explains, by how many times it is
 * large enough to matter, up to three each; it loses what it leaves of the
 * unit, and where it contradicts what was measured. Rows that explain nearly
 * as much are named with it: this wiring cannot tell them apart.
 */
#include "study/causes/traits/rank.h"

#include <math.h>
#include <string.h>

/* Own choice: one very large excess must not outweigh the pattern. */
static const double most_of_one = 3;
/* Own choice: a row that should show somewhere and does not loses so much. */
static const double contradiction = 1.5;
/* Own choice: nearly as much. */
static const double nearly = 0.85;
/* What the signs of the unit behind are about, in their order. */
enum { BL_NEXT_SIGNS = 5 };
static const enum bl_trait stages[BL_NEXT_SIGNS] = {
    BL_TRAIT_STAGE_APPLY, BL_TRAIT_STAGE_RELEASE, BL_TRAIT_STAGE_HOLD,
    BL_TRAIT_STAGE_FILLED, BL_TRAIT_STAGE_EMPTIED};

static double weight(const struct bl_trait_state *state, int sign)
{
    if (sign >= BL_SIGN_STEP_FILLED) {
        return 1; /* no excess, but seldom by chance: own choice */
    }
    const enum bl_trait trait = sign >= BL_SIGN_NEXT_APPLY
                                    ? stages[sign - BL_SIGN_NEXT_APPLY]
                                    : (enum bl_trait)sign;
    const double matters = bl_trait_matters(trait, state->other);
    return matters > 0 ? fmin(most_of_one, fabs(state->by) / matters)
                       : most_of_one;
}

static bool asked_of(const struct bl_sign *sign, size_t by, size_t effort)
{
    return (sign->in >> by & 1u) != 0 && (sign->with >> effort & 1u) != 0;
}

struct trial_of_row {
    double explained, contradicted;
    bool valid;
};

/* One sign over all classes and efforts in which it is asked for. */
static void try_sign(const struct bl_unit_state *unit,
                     const struct bl_sign *sign, struct trial_of_row *row)
{
    bool seen = false;
    bool known = false;
    for (size_t by = 0; by < BL_CLASSES; by++) {
        for (size_t e = 0; e < BL_EFFORTS; e++) {
            const struct bl_trait_state *state = &unit->at[by][e][sign->trait];
            if (!asked_of(sign, by, e) || state->off == BL_OFF_UNKNOWN) {
                continue;
            }
            known = true;
            if (state->off == sign->off) {
                seen = true;
                if (sign->how == BL_SIGN_NOT) {
                    row->valid = false;
                }
            } else if (sign->how == BL_SIGN_ALL || sign->how == BL_SIGN_IF) {
                row->contradicted += contradiction;
            }
        }
    }
    if ((sign->how == BL_SIGN_ALL || sign->how == BL_SIGN_ANY ||
         (sign->how == BL_SIGN_IF && known)) &&
        !seen) {
        row->valid = false;
    }
}

/* Does a sign of the row stand for this state? */
static bool explains(const struct bl_cause_row *row, size_t by, size_t effort,
                     int trait, enum bl_off off)
{
    for (size_t i = 0; i < BL_ROW_SIGNS; i++) {
        const struct bl_sign *sign = &row->sign[i];
        if (sign->off == off && sign->trait == trait &&
            sign->how != BL_SIGN_NOT && asked_of(sign, by, effort)) {
            return true;
        }
    }
    return false;
}

/* `alone`: what the row leaves of the unit counts against it. */
static double score(const struct bl_unit_state *unit,
                    const struct bl_cause_row *row, bool alone)
{
    struct trial_of_row made = {0, 0, true};
    double left = 0;
    for (size_t i = 0; i < BL_ROW_SIGNS && made.valid; i++) {
        if (row->sign[i].off != BL_OFF_UNKNOWN) {
            try_sign(unit, &row->sign[i], &made);
        }
    }
    for (size_t by = 0; by < BL_CLASSES && made.valid; by++) {
        for (size_t e = 0; e < BL_EFFORTS; e++) {
            for (int t = 0; t < BL_SIGNS; t++) {
                const struct bl_trait_state *state = &unit->at[by][e][t];
                if (state->off != BL_OFF_UP && state->off != BL_OFF_DOWN) {
                    continue;
                }
                const double w = weight(state, t);
                if (explains(row, by, e, t, state->off)) {
                    made.explained += unit->explained[by][e][t] ? 0 : w;
                } else if (!unit->explained[by][e][t] && t < BL_TRAITS) {
                    left += w;
                }
            }
        }
    }
    return made.valid && made.explained > 0
               ? made.explained - made.contradicted - (alone ? left : 0)
               : -INFINITY;
}

static double score_of(const struct bl_unit_state *unit,
                       const struct bl_cause_row *row)
{
    return score(unit, row, true);
}

/* The state that lends the numbers: of the row's first sign. One that is named
   for those behind it need not stand out itself. */
static struct bl_trait_state shown_by(const struct bl_unit_state *unit,
                                      const struct bl_cause_row *row)
{
    const struct bl_sign *sign = &row->sign[0];
    struct bl_trait_state best = {.run = -1, .by = 0};
    for (size_t by = 0; by < BL_CLASSES; by++) {
        for (size_t e = 0; e < BL_EFFORTS; e++) {
            const struct bl_trait_state *state = &unit->at[by][e][sign->trait];
            const bool off = state->off == sign->off;
            if (asked_of(sign, by, e) && state->run >= 0 &&
                (best.run < 0 || (off && best.off != sign->off) ||
                 (off == (best.off == sign->off) &&
                  fabs(state->by) > fabs(best.by)))) {
                best = *state;
            }
        }
    }
    return best;
}

static void mark(struct bl_unit_state *unit, const struct bl_cause_row *row)
{
    for (size_t by = 0; by < BL_CLASSES; by++) {
        for (size_t e = 0; e < BL_EFFORTS; e++) {
            for (int t = 0; t < BL_SIGNS; t++) {
                if (explains(row, by, e, t, unit->at[by][e][t].off)) {
                    unit->explained[by][e][t] = true;
                }
            }
        }
    }
}

/* What the row says of the stage behind it is explained there, too. */
static void mark_next(struct bl_unit_state *next,
                      const struct bl_cause_row *row)
{
    for (size_t by = 0; by < BL_CLASSES; by++) {
        for (size_t e = 0; e < BL_EFFORTS; e++) {
            for (int t = 0; t < BL_NEXT_SIGNS; t++) {
                const enum bl_off off = next->at[by][e][stages[t]].off;
                if (explains(row, by, e, BL_SIGN_NEXT_APPLY + t, off)) {
                    next->explained[by][e][stages[t]] = true;
                }
            }
        }
    }
}

/*
 * Where a unit itself is slow its stage is long and the next one is short by as
 * much; where its line is, the next one is as ever. What the next one does is
 * nearer to one of the two; within one u of the middle between them it counts
 * as neither.
 */
static struct bl_trait_state next_of(const struct bl_trait_state *own,
                                     const struct bl_trait_state *next,
                                     enum bl_trait trait)
{
    struct bl_trait_state out = *next;
    if (bl_trait_rule(trait)->own == BL_TRAIT_DELAY || own->off != BL_OFF_UP ||
        next->off == BL_OFF_UNKNOWN) {
        return out;
    }
    const double beyond = next->by + own->by / 2;
    const double u = next->ratio == 0 ? 0 : fabs(next->by / next->ratio);
    out.off = beyond > u    ? BL_OFF_NOT
              : beyond < -u ? BL_OFF_DOWN
                            : BL_OFF_UNKNOWN;
    return out;
}

/* By air a unit is slow by itself or by what comes to it. Is the other one, in
   front of it or behind, nearer to it than to what is expected of it? */
static bool as_slow(const struct bl_causing *c,
                    const struct bl_trait_state *own, size_t other, int trait)
{
    if (own->off != BL_OFF_UP || own->cell->parted) {
        return false;
    }
    const struct bl_trait_cell *cell = bl_trait_at(
        c->traits, (size_t)own->run, other, own->group, (enum bl_trait)trait);
    return cell->n > 0 && !cell->parted &&
           cell->value > (own->value + own->other) / 2;
}

/* Behind a unit that fills or empties as slowly it is no story of its own,
   unless its stage is long as well. */
static void mark_rear(const struct bl_causing *c, size_t unit,
                      struct bl_unit_state *own)
{
    static const int pairs[][2] = {{BL_TRAIT_FILL, BL_TRAIT_STAGE_FILLED},
                                   {BL_TRAIT_FALL, BL_TRAIT_STAGE_EMPTIED}};
    for (size_t i = 0; i < 2 * BL_CLASSES * BL_EFFORTS; i++) {
        const size_t by = i / 2 / BL_EFFORTS;
        const size_t e = i / 2 % BL_EFFORTS;
        const int *pair = pairs[i % 2];
        own->explained[by][e][pair[0]] |=
            by != BL_BY_DEMAND && own->at[by][e][pair[1]].off != BL_OFF_UP &&
            as_slow(c, &own->at[by][e][pair[0]], unit - 1, pair[0]);
    }
}

/* Is it its line, by its stage and the next one, or where one of these is not
   to be had because the unit behind it fills and empties as slowly? */
static void step_of(const struct bl_causing *c, size_t unit,
                    struct bl_unit_state *own, size_t by, size_t effort)
{
    static const struct {
        int step, stage, next;
        enum bl_trait self;
    } steps[] = {{BL_SIGN_STEP_FILLED, BL_TRAIT_STAGE_FILLED,
                  BL_SIGN_NEXT_FILLED, BL_TRAIT_FILL},
                 {BL_SIGN_STEP_EMPTIED, BL_TRAIT_STAGE_EMPTIED,
                  BL_SIGN_NEXT_EMPTIED, BL_TRAIT_FALL}};
    for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++) {
        struct bl_trait_state *at = own->at[by][effort];
        const enum bl_off stage = at[steps[i].stage].off;
        const enum bl_off behind = at[steps[i].next].off;
        const bool known = stage != BL_OFF_UNKNOWN && behind != BL_OFF_UNKNOWN;
        const bool both =
            by != BL_BY_DEMAND &&
            as_slow(c, &at[steps[i].self], unit + 1, steps[i].self);
        at[steps[i].step].off =
            (known && stage == BL_OFF_UP && behind == BL_OFF_NOT) ||
                    (!known && both)
                ? BL_OFF_UP
                : BL_OFF_UNKNOWN;
    }
}

void bl_states_read(const struct bl_causing *c, struct bl_unit_state *state)
{
    for (size_t u = 0; u < c->trial->units; u++) {
        memset(&state[u], 0, sizeof(state[u]));
        for (size_t by = 0; by < BL_CLASSES; by++) {
            for (size_t e = 0; e < BL_EFFORTS; e++) {
                for (int t = 0; t < BL_TRAITS; t++) {
                    state[u].at[by][e][t] = bl_trait_state(
                        c, u, (enum bl_trait_class)by, (enum bl_trait_effort)e,
                        (enum bl_trait)t);
                }
            }
        }
    }
    bl_states_like_air(c, state);
    for (size_t u = 0; u + 1 < c->trial->units; u++) {
        if (c->trial->unit[u].combination !=
            c->trial->unit[u + 1].combination) {
            continue;
        }
        if (c->trial->unit[u].number > 0) {
            mark_rear(c, u + 1, &state[u + 1]);
        }
        for (size_t by = 0; by < BL_CLASSES; by++) {
            for (size_t e = 0; e < BL_EFFORTS; e++) {
                for (int i = 0; i < BL_NEXT_SIGNS; i++) {
                    state[u].at[by][e][BL_SIGN_NEXT_APPLY + i] =
                        next_of(&state[u].at[by][e][stages[i]],
                                &state[u + 1].at[by][e][stages[i]], stages[i]);
                }
                step_of(c, u, &state[u], by, e);
            }
        }
    }
}

/* Air that comes late and leaves late through one line is one story, and no
   second one beside it. */
static bool one_line_both_ways(enum bl_finding_code a, enum bl_finding_code b)
{
    return (a == BL_FINDING_CONTROL_LATE_APPLY &&
            b == BL_FINDING_CONTROL_LATE_RELEASE) ||
           (b == BL_FINDING_CONTROL_LATE_APPLY &&
            a == BL_FINDING_CONTROL_LATE_RELEASE);
}

static void name_alike(struct bl_named_cause *best,
                       const struct bl_unit_state *unit)
{
    size_t count = 0;
    const struct bl_cause_row *row = bl_cause_rows(&count);
    for (size_t i = 0; i < count; i++) {
        bool known = row[i].code == best->row->code ||
                     one_line_both_ways(row[i].code, best->row->code);
        for (size_t k = 0; k < best->alikes; k++) {
            known = known || best->alike[k]->code == row[i].code;
        }
        if (!known && best->alikes < BL_FINDING_ALIKE_MAX &&
            score_of(unit, &row[i]) >= nearly * best->score) {
            best->alike[best->alikes++] = &row[i];
        }
    }
}

/* What comes from the front: behind the unit where the demand ends others brake
   by their air too, and behind a line that lets air through slowly every valve
   waits for a pressure that rises slowly. */
static bool of_line(enum bl_finding_code code)
{
    return code == BL_FINDING_CONTROL_LATE_APPLY ||
           code == BL_FINDING_CONTROL_LATE_RELEASE;
}

static bool goes_rearwards(enum bl_finding_code code)
{
    return code == BL_FINDING_DEMAND_IGNORED || of_line(code);
}

/* The line in front of a unit further to the front, by whatever shows it. */
static void front_line(const struct bl_causing *c,
                       const struct bl_unit_state *state,
                       struct bl_named_cause *best)
{
    size_t count = 0;
    const struct bl_cause_row *row = bl_cause_rows(&count);
    for (size_t u = best->unit; of_line(best->row->code) && u-- > 0;) {
        for (size_t i = 0; i < count; i++) {
            if (c->trial->unit[u].combination ==
                    c->trial->unit[best->unit].combination &&
                row[i].code == best->row->code &&
                score_of(&state[u], &row[i]) > 0) {
                best->unit = u;
                best->row = &row[i];
                best->score = score_of(&state[u], &row[i]);
                break;
            }
        }
    }
}

/* Who may act on its demand comes behind who plainly does not. */
static void name_plain(const struct bl_causing *c,
                       const struct bl_unit_state *state,
                       struct bl_named_cause *best)
{
    const char combination = c->trial->unit[best->unit].combination;
    for (size_t u = 0;
         best->row->code == BL_FINDING_DEMAND_IGNORED &&
         state[best->unit].like_air_only_roughly && u < c->trial->units;
         u++) {
        const double score = score_of(&state[u], best->row);
        if (c->trial->unit[u].combination == combination && score > 0 &&
            !state[u].like_air_only_roughly) {
            best->unit = u;
            best->score = score;
        }
    }
}

/* Then the foremost is named, and the others are explained with it. One that
   may act on its demand stands in for none that does not. */
static void name_foremost(const struct bl_causing *c,
                          struct bl_unit_state *state,
                          struct bl_named_cause *best)
{
    const char combination = c->trial->unit[best->unit].combination;
    for (size_t u = 0; u < c->trial->units; u++) {
        state[u].follows = false;
    }
    if (!goes_rearwards(best->row->code)) {
        return;
    }
    name_plain(c, state, best);
    front_line(c, state, best);
    for (size_t u = c->trial->units; u-- > 0;) {
        if (u != best->unit && c->trial->unit[u].combination == combination &&
            score_of(&state[u], best->row) > 0 &&
            state[u].like_air_only_roughly <=
                state[best->unit].like_air_only_roughly) {
            const size_t behind = u < best->unit ? best->unit : u;
            mark(&state[behind], best->row);
            state[behind].follows = true;
            best->unit = u < best->unit ? u : best->unit;
        }
    }
}

/* Behind a line that lets air through slowly every unit fills and empties
   slowly, whose own air was not parted from it, and every valve waits: no
   second story. */
static void mark_behind(const struct bl_causing *c, struct bl_unit_state *state,
                        const struct bl_named_cause *best)
{
    enum { SLOW = 4 };
    static const enum bl_trait slow[SLOW] = {BL_TRAIT_FILL, BL_TRAIT_FALL,
                                             BL_TRAIT_STAGE_APPLY,
                                             BL_TRAIT_STAGE_RELEASE};
    const struct bl_trial_unit *unit = c->trial->unit;
    for (size_t u = best->unit + 1;
         u < c->trial->units && of_line(best->row->code); u++) {
        for (size_t i = 0; i < SLOW * BL_EFFORTS; i++) {
            const struct bl_trait_state *at =
                &state[u].at[BL_BY_AIR][i % BL_EFFORTS][slow[i / BL_EFFORTS]];
            if (unit[u].combination == unit[best->unit].combination &&
                at->cell != NULL && !at->cell->parted) {
                state[u].explained[BL_BY_AIR][i % BL_EFFORTS]
                                  [slow[i / BL_EFFORTS]] = true;
            }
        }
    }
}

static bool best_of(const struct bl_causing *c,
                    const struct bl_unit_state *state, bool alone,
                    struct bl_named_cause *best)
{
    size_t count = 0;
    const struct bl_cause_row *row = bl_cause_rows(&count);
    memset(best, 0, sizeof(*best));
    for (size_t u = 0; u < c->trial->units; u++) {
        for (size_t i = 0; i < count; i++) {
            const double s = score(&state[u], &row[i], alone);
            if (s > 0 && (best->row == NULL || s > best->score)) {
                best->row = &row[i];
                best->unit = u;
                best->score = s;
            }
        }
    }
    return best->row != NULL;
}

bool bl_causes_rank(const struct bl_causing *c, struct bl_unit_state *state,
                    struct bl_named_cause *best)
{
    if (!best_of(c, state, true, best)) {
        return false;
    }
    name_foremost(c, state, best);
    best->shown = shown_by(&state[best->unit], best->row);
    name_alike(best, &state[best->unit]);
    mark(&state[best->unit], best->row);
    mark_behind(c, state, best);
    if (best->unit + 1 < c->trial->units &&
        c->trial->unit[best->unit + 1].combination ==
            c->trial->unit[best->unit].combination) {
        mark_next(&state[best->unit + 1], best->row);
    }
    return true;
}

bool bl_causes_rank_part(const struct bl_causing *c,
                         struct bl_unit_state *state,
                         struct bl_named_cause *best)
{
    if (!best_of(c, state, false, best)) {
        return false;
    }
    best->shown = shown_by(&state[best->unit], best->row);
    mark(&state[best->unit], best->row);
    return best->shown.off == best->row->sign[0].off;
}
