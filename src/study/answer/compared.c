/* SPDX-License-Identifier: MIT */
/*
 * What a comparison answers: of each kind of application the unit that differs
 * most, by how much and how sure that is, and how many of the others do so too.
 * Method: docs/methods/comparison.md.
 */
#include "study/answer/answer.h"

#include <math.h>
#include <string.h>

/* The figure that a sentence is about: the first of these that both sides
   gave. Where two clocks allow differences only, stagger is all there is. */
static const enum bl_figure_name spoken[] = {
    BL_FIGURE_FILLED, BL_FIGURE_RESPONSE, BL_FIGURE_STAGGER};
enum { SPOKEN = sizeof(spoken) / sizeof(spoken[0]) };

struct kind {
    enum bl_application_kind kind;
    enum bl_application_shape shape;
};

/* How the units of one kind came out. */
struct outcome {
    const struct bl_comparison_row *most; /* NULL: none differs */
    size_t verdict[BL_VERDICT_COMMAND_DIFFERS + 1];
    size_t units;
    double same_within_s;
    const struct bl_comparison_row *only; /* the last; of two units the one */
};

static const struct bl_comparison_row *
row_of(const struct bl_comparison *c, const struct kind *kind, size_t unit)
{
    const struct bl_comparison_row *any = NULL;
    for (size_t s = 0; s < SPOKEN; s++) {
        for (size_t i = 0; i < c->rows; i++) {
            const struct bl_comparison_row *row = &c->row[i];
            if (row->unit != unit || row->kind != kind->kind ||
                row->shape != kind->shape || row->figure != spoken[s]) {
                continue;
            }
            if (row->verdict != BL_VERDICT_NO_VALUES) {
                return row;
            }
            any = row->n_base + row->n_against > 0 ? row : any;
        }
    }
    return any;
}

static bool differs(const struct bl_comparison_row *row)
{
    return row->verdict == BL_VERDICT_EARLIER ||
           row->verdict == BL_VERDICT_LATER ||
           row->verdict == BL_VERDICT_RUN_MORE;
}

static struct outcome outcome_of(const struct bl_answering *a,
                                 const struct kind *kind)
{
    struct outcome out = {.same_within_s = NAN};
    for (size_t u = 0; u < a->input->trial->units; u++) {
        const struct bl_comparison_row *row =
            row_of(a->input->comparison, kind, u);
        if (row == NULL) {
            continue;
        }
        out.units++;
        out.verdict[row->verdict]++;
        out.same_within_s = row->verdict == BL_VERDICT_SAME ? row->same_within_s
                                                            : out.same_within_s;
        out.only = row;
        if (differs(row) &&
            (out.most == NULL ||
             fabs(row->difference_s) > fabs(out.most->difference_s))) {
            out.most = row;
        }
    }
    return out;
}

/* An interval's ends, to the millisecond away from its middle. */
static double outward(double s, bool up)
{
    const double thousand = s * 1000;
    return (up ? ceil(thousand - 1e-9) : floor(thousand + 1e-9)) / 1000;
}

static const char *side(double s)
{
    return s < 0 ? "earlier" : "later";
}

/* Never more sure than it is: 96.1 % becomes 96 %. */
static void say_sure(struct bl_strbuf *text, double confidence)
{
    const double percent = 100 * confidence + 1e-6;
    bl_strbuf_format(
        text, percent >= 99 ? "%.1f %% confidence" : "%.0f %% confidence",
        percent >= 99 ? floor(percent * 10) / 10 : floor(percent));
}

static void say_most(const struct bl_answering *a, struct bl_strbuf *text,
                     const struct bl_comparison_row *row)
{
    static const char *const does[SPOKEN] = {
        "reaches 75 % of its settled pressure", "gets its first air",
        "gets its first air, counted from the first braked unit,"};
    const struct bl_comparison *c = a->input->comparison;
    char name[BL_ANSWER_UNIT];
    size_t figure = 0;
    while (figure + 1 < SPOKEN && spoken[figure] != row->figure) {
        figure++;
    }
    bl_strbuf_format(text, "%s%s %s %.3f s %s ",
                     row->verdict == BL_VERDICT_RUN_MORE ? "in these runs "
                                                         : "",
                     bl_answer_unit(a, row->unit, name), does[figure],
                     fabs(row->difference_s), side(row->difference_s));
    if (c->two_units) {
        bl_strbuf_format(text, "than %s ",
                         bl_answer_unit(a, row->unit_base, name));
    } else {
        bl_strbuf_format(text, "in \"%s\" than in \"%s\" ", c->against,
                         c->base);
    }
    if (row->verdict == BL_VERDICT_RUN_MORE) {
        const double least = row->of_runs.least_s;
        const double most = row->of_runs.most_s;
        bl_strbuf_format(text,
                         "(single applications from %.3f s %s to %.3f s %s)",
                         fabs(least), side(least), fabs(most), side(most));
        return;
    }
    const double near_s = fmin(fabs(row->low_s), fabs(row->high_s));
    const double far_s = fmax(fabs(row->low_s), fabs(row->high_s));
    bl_strbuf_format(text, "(between %.3f and %.3f s, ", outward(near_s, false),
                     outward(far_s, true));
    say_sure(text, row->confidence);
    bl_strbuf_text(text, ")");
}

/* Of two units that are not shown to differ: what it may be all the same. */
static void say_two(const struct bl_answering *a, struct bl_strbuf *text,
                    const struct bl_comparison_row *row)
{
    char one[BL_ANSWER_UNIT];
    char other[BL_ANSWER_UNIT];
    (void)bl_answer_unit(a, row->unit, one);
    (void)bl_answer_unit(a, row->unit_base, other);
    if (row->verdict == BL_VERDICT_NO_VALUES ||
        row->verdict == BL_VERDICT_COMMAND_DIFFERS) {
        bl_strbuf_format(text, " %s cannot be compared with %s", one, other);
        return;
    }
    bl_strbuf_format(text,
                     row->verdict == BL_VERDICT_SAME
                         ? " %s is as early as %s"
                         : " no difference of %s and %s is shown",
                     one, other);
    bl_strbuf_format(text, " (from %.3f s earlier to %.3f s later, ",
                     outward(-row->low_s, true), outward(row->high_s, true));
    say_sure(text, row->confidence);
    bl_strbuf_text(text, ")");
}

/* "; 4 others are earlier too, 1 is the same within 0.020 s" */
static void say_others(struct bl_strbuf *text, const struct outcome *out)
{
    static const struct {
        enum bl_verdict verdict;
        const char *one, *many;
    } words[] = {
        {BL_VERDICT_EARLIER, "is earlier", "are earlier"},
        {BL_VERDICT_LATER, "is later", "are later"},
        {BL_VERDICT_RUN_MORE, "differs less", "differ less"},
        {BL_VERDICT_SAME, "is the same within", "are the same within"},
        {BL_VERDICT_NO_CHANGE_SHOWN, "shows no difference",
         "show no difference"},
        {BL_VERDICT_COMMAND_DIFFERS,
         "cannot be told from the command's own "
         "difference",
         "cannot be told from the command's own difference"},
        {BL_VERDICT_NO_VALUES, "cannot be compared", "cannot be compared"}};
    size_t said = 0;
    for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++) {
        const bool own =
            out->most != NULL && out->most->verdict == words[i].verdict;
        const size_t count = out->verdict[words[i].verdict] - own;
        if (count == 0) {
            continue;
        }
        if (own && count + 1 == out->units) {
            bl_strbuf_format(text, "; every other unit %s%s", words[i].one,
                             words[i].verdict == BL_VERDICT_RUN_MORE ? ""
                                                                     : " too");
            return;
        }
        bl_strbuf_format(text, "%s%zu unit%s %s", said == 0 ? "; " : ", ",
                         count, count == 1 ? "" : "s",
                         count == 1 ? words[i].one : words[i].many);
        if (words[i].verdict == BL_VERDICT_SAME) {
            bl_strbuf_format(text, " %.3f s", out->same_within_s);
        }
        bl_strbuf_text(text, own ? " too" : "");
        said++;
    }
}

/* What of the difference was the foot's: as the table says it. */
static void say_command(struct bl_strbuf *text,
                        const struct bl_comparison_row *row)
{
    if (row == NULL) {
        return;
    }
    if (row->command_taken_off) {
        bl_strbuf_format(text,
                         " The command itself was %.3f s %s there, which is "
                         "subtracted.",
                         fabs(row->command_s), side(row->command_s));
    } else if (row->u_command_s > 0) {
        bl_strbuf_text(text, " The command itself differs, which cannot be "
                             "subtracted; the interval allows for it.");
    }
}

static void one_kind(struct bl_answering *a, const struct kind *kind)
{
    const struct bl_comparison *c = a->input->comparison;
    const struct outcome out = outcome_of(a, kind);
    struct bl_strbuf text = {0};
    if (out.units == 0) {
        return;
    }
    bl_strbuf_text(&text, "In ");
    bl_answer_kind(&text, kind->kind, kind->shape);
    if (out.most != NULL) {
        bl_strbuf_text(&text, ", ");
        say_most(a, &text, out.most);
    } else if (c->two_units) {
        say_two(a, &text, out.only);
    } else {
        bl_strbuf_format(&text,
                         " no unit is shown to differ between \"%s\" and "
                         "\"%s\"",
                         c->against, c->base);
    }
    if (!c->two_units) {
        say_others(&text, &out);
    }
    bl_strbuf_text(&text, ".");
    if (out.most != NULL && out.most->verdict == BL_VERDICT_RUN_MORE) {
        bl_strbuf_text(
            &text, " Other runs may differ: three runs of each would show it.");
    }
    say_command(&text, out.most != NULL ? out.most : out.only);
    struct bl_answer_sentence *said =
        bl_answer_say(a, BL_ANSWER_COMPARED, &text);
    if (out.most == NULL) {
        bl_answer_evidence(said, "units compared", (double)out.units, NAN, "");
        return;
    }
    if (said != NULL) {
        said->unit = (long)out.most->unit;
    }
    bl_answer_evidence(said, "difference", out.most->difference_s,
                       out.most->u_s, "s");
    bl_answer_evidence(said, "interval from", out.most->low_s, NAN, "s");
    bl_answer_evidence(said, "interval to", out.most->high_s, NAN, "s");
    bl_answer_evidence(said, "confidence", out.most->confidence, NAN, "");
}

void bl_answer_compared(struct bl_answering *a)
{
    size_t place = 0;
    struct kind kind;
    while (a->input->comparison != NULL &&
           bl_answer_next_kind(&place, &kind.kind, &kind.shape)) {
        one_kind(a, &kind);
    }
}
