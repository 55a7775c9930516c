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

/* Low and high of what the others do in the run and kind that shows it best:
   those that are not affected themselves. How many they are. */
static size_t range_of(const struct bl_causing *c,
                       const struct bl_named_cause *named,
                       const struct bl_unit_state *state, double range[2],
                       size_t unit[2])
{
    const enum bl_trait trait = (enum bl_trait)named->row->sign[0].trait;
    const struct bl_trait_cell *own = named->shown.cell;
    size_t count = 0;
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trait_cell *cell = bl_trait_at(
            c->traits, (size_t)named->shown.run, u, named->shown.group, trait);
        if (u == named->unit || state[u].follows || cell->n == 0 ||
            cell->parted != own->parted || c->trial->unit[u].number == 0 ||
            bl_line_is_several(cell, trait) ||
            c->trial->unit[u].combination !=
                c->trial->unit[named->unit].combination ||
            bl_reference_off(&cell->reference[BL_REFERENCE_OTHERS]) ==
                named->shown.off) {
            continue;
        }
        range[0] = count == 0 ? cell->value : fmin(range[0], cell->value);
        range[1] = count == 0 ? cell->value : fmax(range[1], cell->value);
        if (count < 2) {
            unit[count] = u;
        }
        count++;
    }
    return count;
}

/* "0.10 to 0.12 s" */
static void say_range(char *text, size_t size, enum bl_trait trait,
                      const double range[2])
{
    char a[32];
    char b[32];
    bl_trait_say(a, sizeof(a), trait, range[0]);
    bl_trait_say(b, sizeof(b), trait, range[1]);
    if (strcmp(a, b) == 0) {
        snprintf(text, size, "%s", a);
        return;
    }
    char *blank = strchr(a, ' ');
    if (blank != NULL) {
        *blank = '\0';
    }
    snprintf(text, size, "%s to %s", a, b);
}

/* What it is compared with: "the others 0.10 to 0.12 s". Of two others it is
   said that they agree, as nothing else shows which of three is odd. */
static void say_reference(char *text, size_t size, const struct bl_causing *c,
                          const struct bl_named_cause *named,
                          const struct bl_unit_state *state)
{
    const enum bl_trait trait = (enum bl_trait)named->row->sign[0].trait;
    double range[2] = {named->shown.other, named->shown.other};
    size_t unit[2] = {0, 0};
    char values[80];
    if (named->shown.reference == BL_REFERENCE_OTHERS) {
        const size_t count = range_of(c, named, state, range, unit);
        char a[32];
        char b[32];
        say_range(values, sizeof(values), trait, range);
        bl_trial_unit_label(&c->trial->unit[unit[0]], a, sizeof(a));
        bl_trial_unit_label(&c->trial->unit[unit[1]], b, sizeof(b));
        if (count == 2 &&
            range[1] - range[0] < bl_trait_matters(trait, named->shown.other)) {
            snprintf(text, size, "units %.20s and %.20s agree on %.64s", a, b,
                     values);
        } else {
            snprintf(text, size, "%s %s",
                     count == 0 ? "expected" : "the others", values);
        }
        return;
    }
    say_range(values, sizeof(values), trait, range);
    snprintf(text, size, "%s %s",
             named->shown.reference == BL_REFERENCE_STATED ? "stated"
                                                           : "in earlier runs",
             values);
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

/* All that the trait was compared with: first what the words name, so that the
   two numbers beside them are of one reference; then strongest first. */
static const char *const expected_by[BL_REFERENCES] = {
    [BL_REFERENCE_STATED] = "stated by the trial",
    [BL_REFERENCE_LIMIT] = "limit of the trial",
    [BL_REFERENCE_VISITS] = "at earlier visits",
    [BL_REFERENCE_EARLIER] = "in earlier runs",
    [BL_REFERENCE_CHAIN] = "expected of the chain",
    [BL_REFERENCE_CONDITION] = "in the other condition",
    [BL_REFERENCE_OTHERS] = "expected from the other units",
    [BL_REFERENCE_USUAL] = "middle of what is usual"};

static void evidence(struct bl_finding *f, const struct bl_named_cause *named)
{
    const enum bl_trait trait = (enum bl_trait)named->row->sign[0].trait;
    const struct bl_trait_entry *entry = bl_trait_entry(trait);
    const bool share = entry->unit[0] == '\0';
    const double scale = share ? 100 : 1;
    const char *unit = share ? "%" : entry->unit;
    const struct bl_trait_cell *cell = named->shown.cell;
    bl_finding_evidence(f, bl_trait_label(trait), scale * cell->value,
                        scale * cell->u, unit);
    for (int turn = 0; turn < 2; turn++) {
        for (int i = 0; i < BL_REFERENCES; i++) {
            const struct bl_trait_reference *to = &cell->reference[i];
            const bool named_one = i == (int)named->shown.reference;
            if (to->known && named_one == (turn == 0)) {
                bl_finding_evidence(f, expected_by[i], scale * to->value,
                                    scale * to->u, unit);
            }
        }
    }
}

/* The same of units behind it follows from it; it is as grave as they are. */
static void mark_followers(struct bl_causing *c, struct bl_finding *f,
                           const struct bl_unit_state *state)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *other = &c->into->item[i];
        if (other != f && other->code == f->code && other->unit >= 0 &&
            other->shown == BL_SHOWN_FOUND && state[other->unit].follows) {
            other->follows = true;
            f->severity =
                other->severity > f->severity ? other->severity : f->severity;
        }
    }
}

/* Where to look when another output of the unit is in order: what all of them
   share is not it. */
static const struct {
    enum bl_finding_code code;
    const char *where;
} at_one_output[] = {
    {BL_FINDING_LATE_APPLY,
     "Its other output is in order: look at what feeds this one alone, a valve "
     "of its own or the hose from the valve's port."},
    {BL_FINDING_SLOW_FILL,
     "Its other output is in order: look between the valve's port and the "
     "chambers of this one, hose and stroke, not at the valve's inlet."},
    {BL_FINDING_HOSE_RESTRICTED,
     "Its other output is in order: look at the hose from the valve's port to "
     "the chambers of this one; the hose to its transducer does the same."},
    {BL_FINDING_LATE_RELEASE,
     "Its other output is in order: look at a valve of this one's own, not at "
     "the exhaust that they share."},
    {BL_FINDING_SLOW_RELEASE,
     "Its other output is in order: look at this one's quick-release valve and "
     "hose, not at the exhaust that they share."},
    {BL_FINDING_LOW_HOLD,
     "Its other output is in order: look between the valve's port and the "
     "chambers of this one, and at a valve of its own, before the load-sensing "
     "setting."},
    {BL_FINDING_HIGH_THRESHOLD,
     "Its other output is in order: look at a valve of this one's own."},
    {BL_FINDING_NO_OUTPUT,
     "Its other output is in order: follow the pressure from the valve's port "
     "to the chamber of this one."},
};

/* What fills slowly and empties no more slowly has its hose free: air goes both
   ways through it. What feeds the valve is passed on the way up only, and a
   longer stroke takes more air (common practice: signatures of the trade). */
static const char fed_slowly[] =
    "It does not empty slowly, so the hose is hardly the cause: look at what "
    "feeds its valve (inlet, filter, reservoir), then at the stroke.";
static const char fed_next[] =
    "Read the reservoir at the valve during an application; then look at the "
    "valve's inlet and its filter, and read the unit's other chambers; then "
    "the stroke (mark the rod released, hands clear, then pedal).";

static bool is_fed_slowly(const struct bl_unit_state *unit,
                          const struct bl_cause_row *row, const char *output)
{
    bool seen = false;
    for (size_t by = 0; by < BL_CLASSES && row->code == BL_FINDING_SLOW_FILL &&
                        output[0] == '\0';
         by++) {
        const struct bl_trait_state *at = unit->at[by][BL_EFFORT_HARD];
        seen = seen || (at[BL_TRAIT_FILL].off == BL_OFF_UP &&
                        at[BL_TRAIT_FALL].off == BL_OFF_NOT);
    }
    return seen;
}

static void check_feed(struct bl_finding *f, const struct bl_unit_state *unit,
                       const struct bl_cause_row *row, const char *output)
{
    if (is_fed_slowly(unit, row, output)) {
        snprintf(f->next_check, sizeof(f->next_check), "%s", fed_next);
    }
}

static const char *where_of(const struct bl_cause_row *row,
                            const struct bl_unit_state *unit,
                            const char *output)
{
    if (is_fed_slowly(unit, row, output)) {
        return fed_slowly;
    }
    for (size_t i = 0; output[0] != '\0' &&
                       i < sizeof(at_one_output) / sizeof(at_one_output[0]);
         i++) {
        if (at_one_output[i].code == row->code) {
            return at_one_output[i].where;
        }
    }
    return row->where;
}

/* Does it fill longer, too, in nearer the proportion in which it empties longer
   than not at all? Then there is more to fill, not less to empty through. */
static bool more_to_fill(const struct bl_causing *c,
                         const struct bl_named_cause *named)
{
    const struct bl_trait_state *shown = &named->shown;
    const struct bl_trait_cell *fill =
        bl_trait_at(c->traits, (size_t)shown->run, named->unit, shown->group,
                    BL_TRAIT_FILL);
    const struct bl_trait_reference *others =
        &fill->reference[BL_REFERENCE_OTHERS];
    return fill->n > 0 && others->known && shown->other > 0 &&
           2 * fill->value / others->value > 1 + shown->value / shown->other;
}

/* Where to look, by what the unit does besides. */
static const char *place_of(const struct bl_causing *c,
                            const struct bl_named_cause *named,
                            const struct bl_unit_state *unit,
                            const char *output)
{
    return named->row->code == BL_FINDING_SLOW_RELEASE && more_to_fill(c, named)
               ? "It fills longer as well: compare the size and the stroke of "
                 "its chambers with the others' first (bigger ones are no "
                 "fault), then look at its exhaust and hoses."
               : where_of(named->row, unit, output);
}

/* Did its demand move with the command in any application? */
static bool moved(const struct bl_reach_unit *way)
{
    for (size_t i = 0; way->found && i < way->counts; i++) {
        if (way->count[i].moved == BL_YES) {
            return true;
        }
    }
    return false;
}

static bool demand_seen(const struct bl_causing *c, long run, size_t unit)
{
    const struct bl_reach_unit *way =
        run < 0 || c->run[run].reach == NULL
            ? NULL
            : bl_reach_unit_of(c->run[run].reach, unit);
    return way != NULL && moved(way);
}

/* Own choice: more than a leak takes, with what two transducers differ by. */
static const double shut_share = 0.9;

/* A line that lets nothing through is shut, not leaking. */
static struct bl_cause_row row_of(const struct bl_named_cause *named)
{
    struct bl_cause_row row = *named->row;
    if (row.code == BL_FINDING_CONTROL_LINE_LOSS &&
        row.sign[0].trait == BL_TRAIT_LINE_LOSS &&
        named->shown.value > shut_share) {
        row.what = "gets no control pressure";
        row.where =
            "Check every shut-off cock first, then look at the couplings "
            "and the control line to it.";
    }
    return row;
}

/* Then it is a fault, and what is done about no output is done about it. */
static void as_shut(struct bl_finding *f, const struct bl_cause_row *row)
{
    const struct bl_finding_kind *kind = bl_finding_kind(BL_FINDING_NO_OUTPUT);
    f->severity = kind->severity;
    f->caution = kind->caution;
    snprintf(f->next_check, sizeof(f->next_check), "%s", row->where);
}

/* Was it seen to act on its demand in that run, by what it did before its air
   came? Then it does not ignore it, whatever the others do. */
static bool acts(const struct bl_causing *c, const struct bl_named_cause *named)
{
    const long run = named->shown.run;
    const struct bl_reach_unit *way =
        run < 0 || c->run[run].reach == NULL
            ? NULL
            : bl_reach_unit_of(c->run[run].reach, named->unit);
    return named->row->code == BL_FINDING_DEMAND_IGNORED && way != NULL &&
           way->claim[BL_REACH_ACTED_ON].answer == BL_YES;
}

/* " trailer A": a stage is measured behind the unit in front. */
static void say_front(char *text, size_t size, const struct bl_causing *c,
                      const struct bl_named_cause *named)
{
    const int trait = named->row->sign[0].trait;
    char name[BL_UNIT_CALLED];
    snprintf(text, size, " %.72s",
             bl_trial_unit_called(c->trial, named->unit - (named->unit > 0),
                                  name, sizeof(name)));
    if (trait != BL_TRAIT_STAGE_FILLED && trait != BL_TRAIT_STAGE_EMPTIED) {
        text[0] = '\0';
    }
}

static void tell(struct bl_causing *c, const struct bl_named_cause *named,
                 const struct bl_unit_state *state)
{
    const struct bl_cause_row said = row_of(named);
    const struct bl_cause_row *row = &said;
    const bool unseen = row->code == BL_FINDING_DEMAND_IGNORED &&
                        !demand_seen(c, named->shown.run, named->unit);
    char name[128];
    char value[32];
    char reference[160];
    char alike[160];
    char numbers[352];
    char output[112];
    char front[80];
    char measure[112];
    struct bl_finding *f = bl_findings_add(c->into, row->code, BL_SHOWN_FOUND,
                                           (long)named->unit, named->shown.run);
    if (f == NULL) {
        return;
    }
    bl_trait_say(value, sizeof(value), (enum bl_trait)row->sign[0].trait,
                 named->shown.value);
    say_reference(reference, sizeof(reference), c, named, state);
    name_alike(f, named, alike, sizeof(alike));
    bl_trait_say_output(output, sizeof(output), c, named->unit,
                        (enum bl_trait)row->sign[0].trait, &named->shown);
    if (named->shown.off == row->sign[0].off) {
        say_front(front, sizeof(front), c, named);
        bl_line_measure(measure, sizeof(measure), c, named->shown.cell,
                        named->unit, row->measure);
        snprintf(numbers, sizeof(numbers), "%s %s%s, %.120s", value, measure,
                 front, reference);
    } else {
        bl_causes_say_like_air(numbers, sizeof(numbers), c, named);
    }
    if (named->shown.reference == BL_REFERENCE_OTHERS) {
        f->severity = BL_SEVERITY_WARNING; /* nothing else says so */
    }
    if (row->what != named->row->what) {
        as_shut(f, row);
    }
    f->ratio = fabs(named->shown.ratio);
    f->headline = true;
    bl_finding_say(f, "%s %s%s: %s%s. %s%s",
                   bl_causes_unit(c, named->unit, name, sizeof(name)),
                   unseen ? "brakes by its air with power on" : row->what,
                   output, numbers, say_where(&state[named->unit], row),
                   unseen ? "Whether a demand came to it was not recorded: "
                            "record its link; look at its trouble codes and "
                            "its supply under load."
                   : row->what != named->row->what
                       ? row->where
                       : place_of(c, named, &state[named->unit], output),
                   alike);
    check_feed(f, &state[named->unit], row, output);
    evidence(f, named);
    name_runs(c, f, &state[named->unit], row);
    mark_followers(c, f, state);
}

/* May the unit act on its demand for all that was measured? */
static bool may_act(const struct bl_named_cause *named,
                    const struct bl_unit_state *state)
{
    return named->row->code == BL_FINDING_DEMAND_IGNORED &&
           state[named->unit].like_air_only_roughly;
}

static void leave_open(struct bl_causing *c, const struct bl_named_cause *named,
                       const struct bl_unit_state *state)
{
    struct bl_finding *f = bl_causes_open_demand(c, named, &state[named->unit]);
    if (f != NULL) {
        evidence(f, named);
        name_runs(c, f, &state[named->unit], named->row);
    }
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

/* Is it seen in runs only in which no demand that moves came to the unit's
   recorded link? Then the unit was not asked as the others were, which is said
   already, and what it did by air says nothing of its valve. */
static bool was_not_asked(const struct bl_causing *c,
                          const struct bl_named_cause *named,
                          const struct bl_unit_state *state)
{
    const struct bl_sign *sign = &named->row->sign[0];
    bool any = false;
    for (size_t e = 0; e < BL_EFFORTS; e++) {
        if (state[named->unit].at[BL_BY_AIR][e][sign->trait].off == sign->off) {
            return false;
        }
    }
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag == NULL || c->traits->by[r] != BL_BY_DEMAND) {
            continue;
        }
        const struct bl_reach_unit *hop =
            c->run[r].reach == NULL
                ? NULL
                : bl_reach_unit_of(c->run[r].reach, named->unit);
        if (hop == NULL || !hop->tapped || moved(hop)) {
            return false;
        }
        any = true;
    }
    return any;
}

/* Nothing is named, and yet a unit lies off in several ways that no one cause
   explains: two at once, perhaps. Then what explains most of it is named, and
   what is left of that unit. */
static void two_at_once(struct bl_causing *c, struct bl_unit_state *state)
{
    struct bl_named_cause named;
    long unit = -1;
    for (size_t i = 0; i < c->into->count; i++) {
        if (c->into->item[i].severity != BL_SEVERITY_NOTE) {
            return;
        }
    }
    for (int i = 0;
         i < 2 && bl_causes_rank_part(c, state, &named) &&
         named.shown.run >= 0 && (unit < 0 || unit == (long)named.unit);
         i++) {
        unit = (long)named.unit;
        if (!was_not_asked(c, &named, state) && !acts(c, &named)) {
            (may_act(&named, state) ? leave_open : tell)(c, &named, state);
        }
    }
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
    bl_traits_against_rest(c);
    bl_causes_pairs(c);
    bl_states_read(c, state);
    for (int i = 0; i < NAMED_MOST && bl_causes_rank(c, state, &named); i++) {
        struct bl_finding *before = said(c, &named);
        if (named.shown.run < 0) {
            continue;
        }
        if (before != NULL) {
            check_feed(before, &state[named.unit], named.row, "");
            evidence(before, &named);
            mark_followers(c, before, state);
        } else if (!exchanged(c, named.unit) &&
                   !was_not_asked(c, &named, state) && !acts(c, &named) &&
                   !bl_causes_asked_less(c, &named, &state[named.unit])) {
            (may_act(&named, state) ? leave_open : tell)(c, &named, state);
        }
    }
    two_at_once(c, state);
    bl_free(state);
    bl_causes_few(c);
    bl_causes_odd_looked(c);
}
