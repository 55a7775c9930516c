/* SPDX-License-Identifier: MIT */
/*
 * The first sentence: which unit, what is wrong with it, the two numbers that
 * show it, where to look. Where nothing stands out: among how many units, and
 * how small a fault would have been seen in nine of ten such trials.
 */
#include "study/answer/answer.h"

#include "base/alloc.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

/* The normal distribution's point that nine of ten lie below. */
static const double nine_of_ten = 1.2816;

static void first_letter(struct bl_strbuf *text)
{
    if (text->text != NULL) {
        text->text[0] = (char)toupper((unsigned char)text->text[0]);
    }
}

/* What to do first: the first of several steps. */
static void first_check(struct bl_strbuf *text, const char *check)
{
    const char *end = strpbrk(check, ".;");
    bl_strbuf_format(text, " %.*s.",
                     end == NULL ? (int)strlen(check) : (int)(end - check),
                     check);
}

static void found(struct bl_answering *a, const struct bl_finding *first,
                  size_t more)
{
    struct bl_strbuf text = {0};
    bl_strbuf_text(&text, first->text);
    if (text.length > 0 && text.text[text.length - 1] != '.') {
        bl_strbuf_char(&text, '.');
    }
    if (!first->headline || first->shown == BL_SHOWN_CANNOT_TELL) {
        first_check(&text, first->next_check);
    }
    if (more > 0) {
        bl_strbuf_text(&text, " Besides, there ");
        bl_strbuf_text(&text, more == 1 ? "is " : "are ");
        bl_answer_count(&text, more, "other finding");
        bl_strbuf_char(&text, '.');
    }
    first_letter(&text);
    struct bl_answer_sentence *said = bl_answer_say(a, BL_ANSWER_FOUND, &text);
    if (said != NULL) {
        said->unit = first->unit;
        said->run = first->run;
        memcpy(said->evidence, first->evidence, sizeof(said->evidence));
        said->evidences = first->evidences;
        said->evidences_dropped = first->evidences_dropped;
    }
}

/* The smallest excess of a trait that would have stood out at a unit, in nine
   of ten trials, by the best of its runs and kinds; NaN: it was not compared.
 */
static double seen_from(const struct bl_traits *all, enum bl_trait trait,
                        size_t unit)
{
    double least = NAN;
    for (size_t r = 0; r < all->runs; r++) {
        for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
            const struct bl_trait_cell *cell =
                bl_trait_at(all, r, unit, g, trait);
            const struct bl_trait_reference *others =
                &cell->reference[BL_REFERENCE_OTHERS];
            if (cell->n > 0 && others->known) {
                const double u_both = hypot(cell->u, others->u);
                least = fmin(isnan(least) ? INFINITY : least,
                             others->high_off + nine_of_ten * u_both);
            }
        }
    }
    return least;
}

struct limit {
    enum bl_trait trait;
    const char *words; /* with the size, as it is said */
    const char *by;    /* what is compared */
    double scale;
};

static const struct limit limits[] = {
    {BL_TRAIT_DELAY, "gets its first air %.2f s later", "first air", 1},
    {BL_TRAIT_FILL, "fills %.2f s slower", "filling", 1},
    {BL_TRAIT_FALL, "empties %.2f s slower", "emptying", 1},
    {BL_TRAIT_HOLD, "holds %.0f %% less", "settled pressure", 100},
    {BL_TRAIT_OPENING, "opens %.0f kPa higher", "opening pressure", 1},
};
enum { LIMITS = sizeof(limits) / sizeof(limits[0]) };

/* How small a fault would have been seen, by trait, at all units compared. */
struct seen {
    size_t units;                         /* of which anything was compared */
    double from[LIMITS];                  /* NaN: of none */
    size_t lacking[LIMITS], unit[LIMITS]; /* not compared; the first of them */
};

static struct seen see(const struct bl_traits *all)
{
    struct seen seen = {.units = 0};
    for (size_t i = 0; i < LIMITS; i++) {
        seen.from[i] = NAN;
    }
    for (size_t u = 0; all != NULL && u < all->units; u++) {
        double from[LIMITS];
        bool any = false;
        for (size_t i = 0; i < LIMITS; i++) {
            from[i] = seen_from(all, limits[i].trait, u);
            any = any || !isnan(from[i]);
        }
        seen.units += any;
        for (size_t i = 0; any && i < LIMITS; i++) {
            if (isnan(from[i])) {
                seen.unit[i] = seen.lacking[i]++ == 0 ? u : seen.unit[i];
            } else if (!(from[i] <= seen.from[i])) {
                seen.from[i] = from[i];
            }
        }
    }
    return seen;
}

/* "; one that fills 0.12 s slower than the others would have". What was not
   compared at all of them is not promised of all. */
static void say_limits(struct bl_strbuf *text, const struct seen *seen,
                       const struct bl_trial *trial)
{
    size_t count = 0;
    size_t said = 0;
    for (size_t i = 0; i < LIMITS; i++) {
        count += isfinite(seen->from[i]);
    }
    for (size_t i = 0; i < LIMITS; i++) {
        if (!isfinite(seen->from[i])) {
            continue;
        }
        bl_strbuf_text(text, said == 0          ? "; one that "
                             : said + 1 < count ? ", "
                                                : " or ");
        bl_strbuf_format(text, limits[i].words,
                         limits[i].scale * seen->from[i]);
        said++;
    }
    bl_strbuf_text(text, count > 0 ? " than the others would have." : ".");
    for (size_t i = 0; i < LIMITS; i++) {
        char name[BL_UNIT_CALLED];
        if (isfinite(seen->from[i]) && seen->lacking[i] == 1) {
            bl_strbuf_format(
                text, " Not compared by %s: %s.", limits[i].by,
                bl_trial_unit_called(trial, seen->unit[i], name, sizeof(name)));
        } else if (isfinite(seen->from[i]) && seen->lacking[i] > 1) {
            bl_strbuf_format(text, " Not compared by %s: %zu of them.",
                             limits[i].by, seen->lacking[i]);
        }
    }
}

enum { NAMED = 3 };

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
    first_check(text, open->next_check);
    bl_strbuf_char(text, ' ');
}

/* So that "nothing" means something: for how long and at how many outputs
   rises without a command were looked for. */
static void say_searched(struct bl_strbuf *text, const struct bl_findings *all)
{
    bool rose = false; /* a note, or what cannot be told */
    for (size_t i = 0; i < all->count; i++) {
        rose = rose || all->item[i].code == BL_FINDING_OUTPUT_WITHOUT_COMMAND ||
               all->item[i].code == BL_FINDING_PARK_IN_SERVICE ||
               all->item[i].code == BL_FINDING_AUTOMATIC_BRAKING;
    }
    if (all->searched == 0) {
        return;
    }
    bl_strbuf_format(text,
                     rose ? " Rises without a command were searched for in "
                            "%.0f s outside applications, "
                          : " No output rose without a command in the %.0f s "
                            "searched outside applications, ",
                     all->searched_s);
    bl_answer_count(text, all->searched, "recorded output");
    bl_strbuf_text(text, all->searched > 1 ? " together." : ".");
}

/* " The zero of unit 2 and 1 other is off .." They are notes, and no reason to
   stop reading; but who reads pressures off must know. */
static void say_zeros(struct bl_strbuf *text, const struct bl_findings *all,
                      const struct bl_trial *trial)
{
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
        text, " The zero of %s",
        bl_trial_unit_called(trial, (size_t)most->unit, name, sizeof(name)));
    if (units > 1) {
        bl_strbuf_text(text, " and ");
        bl_answer_count(text, units - 1, "other unit");
    }
    bl_strbuf_format(
        text,
        " is off (%.0f kPa released). Times and settled pressures "
        "count from each channel's own released pressure and "
        "stand; pressures that are read off or stated do not until "
        "`zero` is entered.",
        most->evidence[0].value);
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
static void nothing(struct bl_answering *a, const struct bl_findings *findings,
                    const struct bl_finding *undecided)
{
    const struct bl_traits *all = findings->traits;
    const struct bl_trial *trial = a->input->trial;
    const struct seen seen = see(all);
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
        bl_strbuf_text(&text, "Nothing was found, but no unit could be held "
                              "against others: that takes the outputs of three "
                              "units in the same applications.");
    } else {
        bl_strbuf_format(&text, "%s stands out among the %zu of ",
                         undecided == NULL ? "Nothing" : "Nothing else", held);
        bl_answer_count(&text, trial->units, "unit");
        bl_strbuf_text(&text, " measured");
        say_limits(&text, &seen, trial);
    }
    say_not_decided(&text, findings, trial, undecided);
    say_searched(&text, findings);
    say_zeros(&text, findings, trial);
    if (trial->limits == 0) {
        bl_strbuf_text(&text, " Whether the whole train is slow cannot be told "
                              "without a limit.");
    }
    struct bl_answer_sentence *said = bl_answer_say(a, BL_ANSWER_FOUND, &text);
    bl_answer_evidence(said, "units held against others", (double)held, NAN,
                       "");
    if (findings->searched > 0) {
        bl_answer_evidence(said, "searched outside applications",
                           findings->searched_s, NAN, "s");
        bl_answer_evidence(said, "recorded outputs searched",
                           (double)findings->searched, NAN, "");
    }
    for (size_t i = 0; i < LIMITS; i++) {
        const struct bl_trait_entry *entry = bl_trait_entry(limits[i].trait);
        if (isfinite(seen.from[i])) {
            bl_answer_evidence(said, entry->name, seen.from[i], NAN,
                               entry->unit);
        }
    }
}

static bool graver(const struct bl_finding *a, const struct bl_finding *b)
{
    return a->follows != b->follows ? b->follows : a->severity > b->severity;
}

void bl_answer_odd(struct bl_answering *a)
{
    const struct bl_findings *all = a->input->findings;
    const struct bl_finding *first = NULL;
    const struct bl_finding *differ = NULL; /* it is not known which is odd */
    const struct bl_finding *open = NULL; /* the gravest that cannot be told */
    size_t count = 0;
    for (size_t i = 0; all != NULL && i < all->count; i++) {
        const struct bl_finding *one = &all->item[i];
        if (one->shown == BL_SHOWN_FOUND && one->severity != BL_SEVERITY_NOTE) {
            first = first == NULL || graver(one, first) ? one : first;
            count++;
        } else if (one->shown == BL_SHOWN_CANNOT_TELL && one->headline &&
                   one->unit < 0) {
            differ = differ == NULL ? one : differ;
        } else if (one->shown == BL_SHOWN_CANNOT_TELL && one->unit >= 0 &&
                   one->text[0] != '\0' &&
                   (one->judged == 0 || one->fired > 0) &&
                   one->severity != BL_SEVERITY_NOTE) {
            open = open == NULL || graver(one, open) ? one : open;
        }
    }
    if (first != NULL) {
        found(a, first, count - 1);
    } else if (differ != NULL) {
        found(a, differ, 0);
    } else if (all != NULL) {
        nothing(a, all, open);
    }
}
