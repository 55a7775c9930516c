/* SPDX-License-Identifier: MIT */
/* Whom the electronic demand reached, run by run: units that it did not reach,
   and those of which it cannot be told, are named. */
#include "study/answer/answer.h"

#include <math.h>

/* Units of one run by their verdict. */
static size_t count_of(const struct bl_reach *reach,
                       enum bl_reach_verdict verdict)
{
    size_t count = 0;
    for (size_t i = 0; i < reach->units; i++) {
        count += reach->unit[i].verdict == verdict;
    }
    return count;
}

/* Could anything be seen of the demand in this run? */
static bool tells(const struct bl_reach *reach)
{
    return reach != NULL && !reach->declared_off && reach->applications_known &&
           count_of(reach, BL_REACH_CANNOT_TELL) < reach->units;
}

static bool all_reached(const struct bl_reach *reach)
{
    return tells(reach) && count_of(reach, BL_REACH_REACHED) == reach->units;
}

/* What is said of a unit, with its verdict: reached in part is not reached. */
struct part {
    enum bl_reach_verdict verdict;
    bool in_part; /* with defects: in some applications, or for some time */
    const char *before, *label;
};

static bool is_in(const struct bl_reach_unit *unit, const struct part *part)
{
    const bool in_part = unit->verdict == BL_REACH_DEFECTS &&
                         unit->claim[BL_REACH_ARRIVES].answer == BL_NO;
    return unit->verdict == part->verdict && in_part == part->in_part;
}

static size_t count_in(const struct bl_reach *reach, const struct part *part)
{
    size_t count = 0;
    for (size_t i = 0; i < reach->units; i++) {
        count += is_in(&reach->unit[i], part);
    }
    return count;
}

/* "units 2 (dolly) and 4" of which this is said. */
static void name_units(struct bl_answering *a, struct bl_strbuf *text,
                       const struct bl_reach *reach, const struct part *part)
{
    const size_t count = count_in(reach, part);
    char name[BL_ANSWER_UNIT];
    size_t n = 0;
    for (size_t i = 0; i < reach->units; i++) {
        if (is_in(&reach->unit[i], part)) {
            bl_strbuf_text(text, bl_answer_between(n++, count));
            bl_strbuf_text(text, bl_answer_unit(a, reach->unit[i].unit, name));
        }
    }
}

static bool is_reached(const struct bl_reach_unit *unit)
{
    return unit->verdict == BL_REACH_REACHED ||
           unit->verdict == BL_REACH_DEFECTS;
}

/* By what was measured; one that says nothing on its link may not be there. */
static bool did_not_act(const struct bl_reach_unit *unit)
{
    return is_reached(unit) && !unit->quiet &&
           unit->claim[BL_REACH_ACTED_ON].answer == BL_NO;
}

/* Reached, with defects or not, and not shown to have acted on it or not. */
static size_t not_shown(const struct bl_reach *reach)
{
    size_t count = 0;
    for (size_t i = 0; i < reach->units; i++) {
        const struct bl_reach_unit *unit = &reach->unit[i];
        count += is_reached(unit) && !did_not_act(unit) &&
                 unit->claim[BL_REACH_ACTED_ON].answer != BL_YES;
    }
    return count;
}

/* " Trailer B did not act on it." Returns how many. */
static size_t name_idle(struct bl_answering *a, struct bl_strbuf *text,
                        const struct bl_reach *reach)
{
    char name[BL_ANSWER_UNIT];
    size_t count = 0;
    size_t n = 0;
    for (size_t i = 0; i < reach->units; i++) {
        count += did_not_act(&reach->unit[i]);
    }
    for (size_t i = 0; i < reach->units; i++) {
        if (did_not_act(&reach->unit[i])) {
            const size_t unit = reach->unit[i].unit;
            bl_strbuf_text(text, n == 0 ? " " : bl_answer_between(n, count));
            bl_strbuf_text(text,
                           n == 0 ? bl_trial_unit_begins(a->input->trial, unit,
                                                         name, sizeof(name))
                                  : bl_answer_unit(a, unit, name));
            n++;
        }
    }
    bl_strbuf_text(text, count > 0 ? " did not act on it." : "");
    return count;
}

/* One run in which it did not reach every unit as it should. */
static void one_run(struct bl_answering *a, const struct bl_reach *reach)
{
    static const struct part parts[] = {
        {BL_REACH_DEFECTS, true, "; in part only ", "reached in part"},
        {BL_REACH_DEFECTS, false, "; with defects ", "reached with defects"},
        {BL_REACH_NOT_REACHED, false, "; it did not reach ", "not reached"},
        {BL_REACH_CANNOT_TELL, false, "; it cannot be told of ",
         "cannot tell"}};
    const size_t whole = count_of(reach, BL_REACH_REACHED);
    const size_t reached = whole + count_of(reach, BL_REACH_DEFECTS);
    struct bl_strbuf text = {0};
    bl_strbuf_format(&text, "In run %s the electronic demand reached %zu of ",
                     a->input->trial->run[reach->run].name, whole);
    bl_answer_count(&text, reach->units, "towed unit");
    bl_strbuf_text(&text, reached > whole ? " as it should" : "");
    for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++) {
        if (count_in(reach, &parts[i]) > 0) {
            bl_strbuf_text(&text, parts[i].before);
            name_units(a, &text, reach, &parts[i]);
        }
    }
    bl_strbuf_text(&text, ".");
    const size_t idle = name_idle(a, &text, reach);
    const size_t open = not_shown(reach);
    if (open > 0) {
        bl_strbuf_format(
            &text, " That %s acted on it was not shown.",
            open < reached - idle
                ? (idle > 0 ? "each of the others" : "each of those")
            : idle > 0     ? "the others"
            : reached == 1 ? "the unit"
                           : "they");
    }
    struct bl_answer_sentence *sentence =
        bl_answer_say(a, BL_ANSWER_REACHED, &text);
    if (sentence != NULL) {
        sentence->run = (long)reach->run;
    }
    bl_answer_evidence(sentence, "towed units", (double)reach->units, NAN, "");
    bl_answer_evidence(sentence, "reached", (double)whole, NAN, "");
    for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++) {
        bl_answer_evidence(sentence, parts[i].label,
                           (double)count_in(reach, &parts[i]), NAN, "");
    }
}

/* Is a claim yes of every unit of these runs? */
static bool all_yes(const struct bl_answering *a, enum bl_reach_claim claim)
{
    const struct bl_answer_input *in = a->input;
    for (size_t r = 0; r < in->trial->runs; r++) {
        const struct bl_reach *reach = in->run[r].reach;
        for (size_t i = 0; all_reached(reach) && i < reach->units; i++) {
            if (reach->unit[i].claim[claim].answer != BL_YES) {
                return false;
            }
        }
    }
    return true;
}

/* The runs in which it reached all, in one sentence. */
static void good_runs(struct bl_answering *a)
{
    const struct bl_answer_input *in = a->input;
    size_t good = 0;
    size_t n = 0;
    for (size_t r = 0; r < in->trial->runs; r++) {
        good += all_reached(in->run[r].reach);
    }
    if (good == 0) {
        return;
    }
    struct bl_strbuf text = {0};
    bl_strbuf_format(&text,
                     "The electronic demand arrived at every towed unit, "
                     "unchanged and at its rate, in run%s ",
                     good == 1 ? "" : "s");
    for (size_t r = 0; r < in->trial->runs; r++) {
        if (all_reached(in->run[r].reach)) {
            bl_strbuf_text(&text, bl_answer_between(n++, good));
            bl_strbuf_text(&text, in->trial->run[r].name);
        }
    }
    bl_strbuf_text(&text, all_yes(a, BL_REACH_ACTED_ON)
                              ? ", and all of them acted on it."
                              : "; that each of them acted on it was not "
                                "shown.");
    if (!all_yes(a, BL_REACH_IN_TIME)) {
        bl_strbuf_text(&text, " That it came in time was not shown of each.");
    }
    bl_answer_evidence(bl_answer_say(a, BL_ANSWER_REACHED, &text), "runs",
                       (double)good, NAN, "");
}

/* Runs of which nothing is known: declared off, or why it cannot be told. */
static void untold_runs(struct bl_answering *a, bool off)
{
    const struct bl_answer_input *in = a->input;
    const struct bl_reach *any = NULL;
    struct bl_strbuf text = {0};
    size_t count = 0;
    size_t n = 0;
    for (size_t r = 0; r < in->trial->runs; r++) {
        const struct bl_reach *reach = in->run[r].reach;
        count += reach != NULL && !tells(reach) && reach->declared_off == off;
    }
    if (count == 0) {
        return;
    }
    bl_strbuf_text(&text, off ? count == 1 ? "Run " : "Runs "
                              : "Whether the electronic demand reached any "
                                "unit cannot be told in ");
    bl_strbuf_text(&text, off ? "" : count == 1 ? "run " : "runs ");
    for (size_t r = 0; r < in->trial->runs; r++) {
        const struct bl_reach *reach = in->run[r].reach;
        if (reach != NULL && !tells(reach) && reach->declared_off == off) {
            bl_strbuf_text(&text, bl_answer_between(n++, count));
            bl_strbuf_text(&text, in->trial->run[r].name);
            any = any == NULL ? reach : any;
        }
    }
    if (off) {
        bl_strbuf_text(&text, count == 1 ? " is declared without power or "
                                           "data: no demand is expected."
                                         : " are declared without power or "
                                           "data: no demand is expected.");
    } else if (!any->applications_known) {
        bl_strbuf_text(&text, ": no command was found.");
    } else {
        bl_strbuf_format(&text, ": %s.",
                         any->units == 0
                             ? "there is no towed unit"
                             : any->unit[0].claim[BL_REACH_ARRIVES].why);
    }
    bl_answer_evidence(bl_answer_say(a, BL_ANSWER_REACHED, &text), "runs",
                       (double)count, NAN, "");
}

void bl_answer_reached(struct bl_answering *a, bool untold)
{
    const struct bl_answer_input *in = a->input;
    good_runs(a);
    for (size_t r = 0; r < in->trial->runs; r++) {
        const struct bl_reach *reach = in->run[r].reach;
        if (tells(reach) && !all_reached(reach)) {
            one_run(a, reach);
        }
    }
    if (untold) {
        untold_runs(a, false);
        untold_runs(a, true);
    }
}
