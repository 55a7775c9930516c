/* SPDX-License-Identifier: MIT */
/*
 * Where nothing stands out: among how many units, how small a fault would have
 * been seen in nine of ten such trials, and what cannot be told. What was
 * searched besides stands further down, in a sentence of its own.
 */
#include "study/answer/answer.h"
#include "study/findings/fill.h"

#include <math.h>
#include <string.h>

/* The normal distribution's point that nine of ten lie below. */
static const double nine_of_ten = 1.2816;

struct limit {
    enum bl_trait trait;
    const char *words; /* with the size, as it is said */
    double scale;
    const char *lacks; /* said where no unit was compared by it; NULL: not */
    bool by_air;       /* where there are runs by air, by these alone */
    bool hard;         /* causes ask for it in hard applications alone */
    double most;       /* more than this is no fault's size; NaN: there is */
};

static bool any_by_air(const struct bl_traits *all)
{
    for (size_t r = 0; r < all->runs; r++) {
        if (all->by[r] == BL_BY_AIR) {
            return true;
        }
    }
    return false;
}

/* The smallest excess of a trait that would have stood out at a unit, in nine
   of ten trials, by the best of its runs and kinds; NaN: it was not compared.
   A valve that opens late by air may do what the demand asks: where there are
   runs by air, these alone show its opening pressure. */
static double seen_from(const struct bl_traits *all, const struct limit *limit,
                        size_t unit)
{
    const bool air_only = limit->by_air && any_by_air(all);
    double least = NAN;
    for (size_t r = 0; r < all->runs; r++) {
        if (air_only && all->by[r] != BL_BY_AIR) {
            continue;
        }
        for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
            const struct bl_trait_cell *cell =
                bl_trait_at(all, r, unit, g, limit->trait);
            const struct bl_trait_reference *others =
                &cell->reference[BL_REFERENCE_OTHERS];
            if (limit->hard &&
                bl_trait_effort(all, r, unit, g) != BL_EFFORT_HARD) {
                continue;
            }
            if (cell->n > 0 && others->known && isfinite(others->high_off)) {
                const double u_both = hypot(cell->u, others->u);
                least = fmin(isnan(least) ? INFINITY : least,
                             others->high_off + nine_of_ten * u_both);
            }
        }
    }
    return least >= limit->most ? NAN : least;
}

static const struct limit limits[] = {
    {BL_TRAIT_DELAY, "first air %.2f s late", 1, "first air", false, true, NAN},
    {BL_TRAIT_FILL, "filling %.2f s slow", 1, "filling", false, true, NAN},
    {BL_TRAIT_FALL, "emptying %.2f s slow", 1, "emptying", false, true, NAN},
    {BL_TRAIT_STAGE_FILLED, "a line %.2f s slow to fill", 1, NULL, false, true,
     NAN},
    {BL_TRAIT_STAGE_EMPTIED, "a line %.2f s slow to empty", 1, NULL, false,
     true, NAN},
    {BL_TRAIT_HOLD, "settled pressure %.0f %% low", 100, "settled pressure",
     false, true, 0.995},
    {BL_TRAIT_OPENING, "opening %.0f kPa high", 1, NULL, true, false, NAN},
};
enum { LIMITS = sizeof(limits) / sizeof(limits[0]) };
enum { NAMED = 3 };

/* How small a fault would have been seen, by trait, at all units compared. */
struct seen {
    size_t units;                  /* of which anything was compared */
    size_t none, of_none[NAMED];   /* of which nothing was; the first */
    double from[LIMITS];           /* NaN: of no more than half of the units */
    size_t partly, of_part[NAMED]; /* lack one that has a size; the first */
};

/* The sizes, and the units of which nothing was compared. */
static void see_sizes(struct seen *seen, const struct bl_traits *all,
                      const struct bl_trial *trial)
{
    size_t compared[LIMITS] = {0};
    for (size_t u = 0; u < all->units; u++) {
        bool any = false;
        for (size_t i = 0; i < LIMITS; i++) {
            const double from = seen_from(all, &limits[i], u);
            any = any || !isnan(from);
            compared[i] += !isnan(from);
            seen->from[i] = fmax(from, seen->from[i]); /* NaN is left out */
        }
        seen->units += any;
        if (!any && trial->unit[u].outputs > 0) {
            if (seen->none < NAMED) {
                seen->of_none[seen->none] = u;
            }
            seen->none++;
        }
    }
    /* One number for a train of which most were not compared is no promise. */
    for (size_t i = 0; i < LIMITS; i++) {
        seen->from[i] =
            2 * compared[i] > seen->units ? seen->from[i] : (double)NAN;
    }
}

static void see_lacks(struct seen *seen, const struct bl_traits *all)
{
    for (size_t u = 0; u < all->units; u++) {
        bool any = false;
        bool lacks = false;
        for (size_t i = 0; i < LIMITS; i++) {
            const bool compared = !isnan(seen_from(all, &limits[i], u));
            any = any || compared;
            lacks = lacks || (!compared && isfinite(seen->from[i]));
        }
        if (!any || !lacks) {
            continue;
        }
        if (seen->partly < NAMED) {
            seen->of_part[seen->partly] = u;
        }
        seen->partly++;
    }
}

static struct seen see(const struct bl_traits *all,
                       const struct bl_trial *trial)
{
    struct seen seen = {.units = 0};
    for (size_t i = 0; i < LIMITS; i++) {
        seen.from[i] = NAN;
    }
    if (all != NULL) {
        see_sizes(&seen, all, trial);
        see_lacks(&seen, all);
    }
    return seen;
}

/* "trailer B, trailer C, trailer D and 2 more" */
static void say_units(struct bl_strbuf *text, const struct bl_trial *trial,
                      const size_t *unit, size_t count)
{
    char name[BL_UNIT_CALLED];
    for (size_t i = 0; i < count && i < NAMED; i++) {
        bl_strbuf_text(text, i == 0 ? "" : ", ");
        bl_strbuf_text(
            text, bl_trial_unit_called(trial, unit[i], name, sizeof(name)));
    }
    if (count > NAMED) {
        bl_strbuf_format(text, " and %zu more", count - NAMED);
    }
}

/* Neither how units fill nor what they settle at: the larger part is unseen. */
static bool pressures_unseen(const struct seen *seen)
{
    for (size_t i = 0; i < LIMITS; i++) {
        if ((limits[i].trait == BL_TRAIT_FILL ||
             limits[i].trait == BL_TRAIT_HOLD) &&
            isfinite(seen->from[i])) {
            return false;
        }
    }
    return true;
}

/* " A fault of this size would have shown: filling 0.12 s slow, emptying 0.2 s
 * slow." */
static void say_limits(struct bl_strbuf *text, const struct seen *seen,
                       const struct bl_trial *trial)
{
    size_t said = 0;
    for (size_t i = 0; i < LIMITS; i++) {
        if (isfinite(seen->from[i])) {
            bl_strbuf_text(
                text, said++ == 0 ? " A fault of this size would have shown: "
                                  : ", ");
            bl_strbuf_format(text, limits[i].words,
                             limits[i].scale * seen->from[i]);
        }
    }
    if (said > 0 && seen->partly > 0) {
        bl_strbuf_text(text, " (not all of it at ");
        say_units(text, trial, seen->of_part, seen->partly);
        bl_strbuf_char(text, ')');
    }
    bl_strbuf_text(text, said > 0 ? "." : "");
    size_t lacking = 0;
    for (size_t i = 0; !pressures_unseen(seen) && i < LIMITS; i++) {
        if (isnan(seen->from[i]) && limits[i].lacks != NULL) {
            bl_strbuf_text(text, lacking++ == 0 ? " Not compared: " : ", ");
            bl_strbuf_text(text, limits[i].lacks);
        }
    }
    bl_strbuf_text(text, lacking > 0
                             ? " (that takes full presses, held until every "
                               "output is flat)."
                             : "");
}

/* Is the unit's line held against anything that says what a line should take,
   on the way up and on the way down? */
static bool line_compared(const struct bl_traits *all, size_t unit, bool up)
{
    static const enum bl_trait traits[2][4] = {
        {BL_TRAIT_LINE_RELEASE, BL_TRAIT_LINE_FALL, BL_TRAIT_STAGE_RELEASE,
         BL_TRAIT_STAGE_EMPTIED},
        {BL_TRAIT_LINE_APPLY, BL_TRAIT_LINE_RISE, BL_TRAIT_STAGE_APPLY,
         BL_TRAIT_STAGE_FILLED}};
    for (size_t i = 0; i < all->runs * BL_TRAIT_GROUPS * 4; i++) {
        const struct bl_trait_cell *cell =
            bl_trait_at(all, i / 4 / BL_TRAIT_GROUPS, unit,
                        i / 4 % BL_TRAIT_GROUPS, traits[up][i % 4]);
        for (int k = 0; cell->n > 0 && k < BL_REFERENCES; k++) {
            if (k != BL_REFERENCE_CONDITION && k != BL_REFERENCE_USUAL &&
                cell->reference[k].known) {
                return true;
            }
        }
    }
    return false;
}

/* " Control lines were compared at 1 of 4 couplings (.. )": a fault of a line
   may be larger than anything else that was seen. */
static void say_lines(struct bl_strbuf *text, const struct bl_traits *all,
                      const struct bl_trial *trial)
{
    size_t towed = 0;
    size_t compared = 0;
    for (size_t u = 0; all != NULL && u < all->units; u++) {
        const bool is_towed = trial->unit[u].number > 0;
        towed += is_towed;
        compared += is_towed && line_compared(all, u, true) &&
                    line_compared(all, u, false);
    }
    if (towed < 2 || 2 * compared >= towed) {
        return;
    }
    bl_strbuf_text(text, " Control lines were ");
    if (compared == 0) {
        bl_strbuf_text(text, "not compared");
    } else {
        bl_strbuf_format(text, "compared at %zu of %zu couplings", compared,
                         towed);
    }
    bl_strbuf_text(text, " (record the control pressure at every coupling, by "
                         "air alone).");
}

/* " Cannot tell of trailer C: it could not be compared with the others." */
static void say_none(struct bl_strbuf *text, const struct seen *seen,
                     const struct bl_trial *trial)
{
    if (seen->none == 0) {
        return;
    }
    bl_strbuf_text(text, " Cannot tell of ");
    say_units(text, trial, seen->of_none, seen->none);
    bl_strbuf_text(text, seen->none == 1
                             ? ": it could not be compared with the others."
                             : ": they could not be compared with the others.");
}

/* " Not decided either: slow-fill (trailer three), late-apply (2 units)." What
   cannot be told is named, code by code; `told` was said before. */
static void say_not_decided(struct bl_strbuf *text,
                            const struct bl_findings *all,
                            const struct bl_trial *trial,
                            const struct bl_finding *told)
{
    size_t codes = 0;
    for (int code = 0; code < BL_FINDINGS; code++) {
        const struct bl_finding *first = NULL;
        size_t places = 0;
        char name[BL_UNIT_CALLED];
        for (size_t i = 0; i < all->count; i++) {
            const struct bl_finding *f = &all->item[i];
            if ((int)f->code != code || f->shown != BL_SHOWN_CANNOT_TELL ||
                f == told) {
                continue;
            }
            places += first == NULL || f->unit != first->unit;
            first = first == NULL ? f : first;
        }
        if (first == NULL || codes++ >= NAMED) {
            continue;
        }
        bl_strbuf_text(text, codes > 1      ? ", "
                             : told == NULL ? " Not decided: "
                                            : " Not decided either: ");
        bl_strbuf_text(text, bl_finding_kind(first->code)->code);
        if (places > 1) {
            bl_strbuf_format(text, " (%zu units)", places);
        } else if (first->unit >= 0) {
            bl_strbuf_format(text, " (%s)",
                             bl_trial_unit_called(trial, (size_t)first->unit,
                                                  name, sizeof(name)));
        }
    }
    if (codes > NAMED) {
        bl_strbuf_format(text, " and %zu more", codes - NAMED);
    }
    bl_strbuf_text(text, codes > 0 ? "." : "");
}

/* "Cannot tell: unit 4 gave no output .., in 1 of 6 applications." */
static void say_open(struct bl_strbuf *text, const struct bl_finding *open)
{
    bl_strbuf_format(text, "Cannot tell: %s", open->text);
    while (text->length > 0 && text->text[text->length - 1] == '.') {
        text->text[--text->length] = '\0';
    }
    if (open->judged > 0) {
        bl_strbuf_format(text, ", in %zu of %zu applications", open->fired,
                         open->judged);
    }
    bl_strbuf_char(text, '.');
    bl_answer_first_check(text, open->next_check);
    bl_strbuf_char(text, ' ');
}

/* So that "nothing" means something: for how long and at how many outputs
   rises without a command were looked for. A sentence further down. */
static void say_searched(struct bl_answering *a, const struct bl_findings *all)
{
    struct bl_strbuf text = {0};
    bool rose = false; /* a note, or what cannot be told */
    for (size_t i = 0; i < all->count; i++) {
        rose = rose || all->item[i].code == BL_FINDING_OUTPUT_WITHOUT_COMMAND ||
               all->item[i].code == BL_FINDING_PARK_IN_SERVICE ||
               all->item[i].code == BL_FINDING_AUTOMATIC_BRAKING;
    }
    if (all->searched == 0) {
        return;
    }
    bl_strbuf_format(&text,
                     rose ? "Rises without a command were searched for in "
                            "%.0f s outside applications, "
                          : "No output rose without a command in the %.0f s "
                            "searched outside applications, ",
                     all->searched_s);
    bl_answer_count(&text, all->searched, "recorded output");
    bl_strbuf_text(&text, all->searched > 1 ? " together." : ".");
    struct bl_answer_sentence *said = bl_answer_say(a, BL_ANSWER_FOUND, &text);
    if (said != NULL) {
        said->first = false;
    }
    bl_answer_evidence(said, "searched outside applications", all->searched_s,
                       NAN, "s");
    bl_answer_evidence(said, "recorded outputs searched", (double)all->searched,
                       NAN, "");
}

/* "The zero of unit 2 and 1 other is off .." They are notes, and no reason to
   stop reading; but who reads pressures off must know. */
static void say_zeros(struct bl_answering *a, const struct bl_findings *all)
{
    const struct bl_trial *trial = a->input->trial;
    struct bl_strbuf text = {0};
    const struct bl_finding *most = NULL;
    size_t units = 0;
    for (size_t i = 0; i < all->count; i++) {
        const struct bl_finding *f = &all->item[i];
        bool seen = false;
        if (f->code != BL_FINDING_ZERO_OFFSET || f->shown != BL_SHOWN_FOUND ||
            f->unit < 0 || f->evidences == 0) {
            continue;
        }
        for (size_t k = 0; k < i; k++) {
            seen = seen || (all->item[k].code == f->code &&
                            all->item[k].unit == f->unit &&
                            all->item[k].shown == f->shown);
        }
        units += !seen;
        most = most == NULL || f->evidence[0].value < most->evidence[0].value
                   ? f
                   : most;
    }
    if (most == NULL) {
        return;
    }
    char name[BL_UNIT_CALLED];
    bl_strbuf_format(
        &text, "The zero of %s",
        bl_trial_unit_called(trial, (size_t)most->unit, name, sizeof(name)));
    if (units > 1) {
        bl_strbuf_text(&text, " and ");
        bl_answer_count(&text, units - 1, "other unit");
    }
    bl_strbuf_format(
        &text,
        " is off (%.0f kPa released). Times and settled pressures count from "
        "each channel's own released pressure, so they stay valid; pressures "
        "that are read off or stated are not valid until `zero` is entered.",
        most->evidence[0].value);
    bl_answer_evidence(bl_answer_say(a, BL_ANSWER_FOUND, &text),
                       "released pressure", most->evidence[0].value,
                       most->evidence[0].u, "kPa");
}

static bool any_application(const struct bl_answering *a)
{
    for (size_t r = 0; r < a->input->trial->runs; r++) {
        const struct bl_run_lag *lag = a->input->run[r].lag;
        if (lag != NULL && lag->applications > 0) {
            return true;
        }
    }
    return false;
}

/* `undecided`: what may be a fault; NULL: there is none. */
void bl_answer_sound(struct bl_answering *a, const struct bl_findings *findings,
                     const struct bl_finding *undecided)
{
    const struct bl_traits *all = findings->traits;
    const struct bl_trial *trial = a->input->trial;
    const struct seen seen = see(all, trial);
    const size_t held = seen.units;
    struct bl_strbuf text = {0};
    if (undecided != NULL) {
        say_open(&text, undecided);
    } else if (!any_application(a)) {
        bl_strbuf_text(&text,
                       "Cannot tell: no application was measured, so that "
                       "nothing is known of these brakes. See that every "
                       "recording of the trial is there and can be read, "
                       "and that the command moved in it.");
        bl_answer_say(a, BL_ANSWER_FOUND, &text);
        return;
    }
    if (held == 0) {
        bl_strbuf_text(&text, "Cannot tell: no unit could be compared with "
                              "others. That takes the outputs of three units "
                              "in the same applications.");
    } else if (2 * held < trial->units) {
        bl_strbuf_format(&text, "Cannot tell: only %zu of ", held);
        bl_answer_count(&text, trial->units, "unit");
        bl_strbuf_text(&text, " could be compared with others.");
        say_limits(&text, &seen, trial);
    } else {
        if (pressures_unseen(&seen)) {
            bl_strbuf_text(&text,
                           undecided == NULL
                               ? "Cannot tell: neither filling nor settled "
                                 "pressures could be compared"
                               : "Neither filling nor settled pressures could "
                                 "be compared");
            bl_strbuf_text(&text,
                           " (hold, and wait, until every output is flat). ");
        }
        bl_strbuf_format(&text, "%s stands out among the %zu of ",
                         undecided == NULL ? "Nothing" : "Nothing else", held);
        bl_answer_count(&text, trial->units, "unit");
        bl_strbuf_text(&text, " measured.");
        say_limits(&text, &seen, trial);
        say_lines(&text, all, trial);
        say_none(&text, &seen, trial);
    }
    say_not_decided(&text, findings, trial, undecided);
    if (trial->limits == 0) {
        bl_strbuf_text(&text, " Without a limit it cannot be told whether the "
                              "whole train is slow.");
    }
    struct bl_answer_sentence *said = bl_answer_say(a, BL_ANSWER_FOUND, &text);
    bl_answer_evidence(said, "units compared with others", (double)held, NAN,
                       "");
    for (size_t i = 0; i < LIMITS; i++) {
        const struct bl_trait_entry *entry = bl_trait_entry(limits[i].trait);
        if (isfinite(seen.from[i])) {
            bl_answer_evidence(said, entry->name, seen.from[i], NAN,
                               entry->unit);
        }
    }
    say_zeros(a, findings);
    say_searched(a, findings);
}
