/* SPDX-License-Identifier: MIT */
/*
 * What a comparison says first: one sentence per unit and kind, for somebody
 * who asks what changed, by how much and how sure that is. The tables follow.
 */
#include "report/text.h"

#include <math.h>
#include <string.h>

/* The figure that a sentence is about: the first of these that both sides
   gave. Where two clocks allow differences only, stagger is all there is. */
static const enum bl_figure_name spoken[] = {
    BL_FIGURE_FILLED, BL_FIGURE_RESPONSE, BL_FIGURE_STAGGER};
enum { SPOKEN = sizeof(spoken) / sizeof(spoken[0]) };

static bool has_verdict(const struct bl_text *to, const json_t *row,
                        enum bl_verdict verdict)
{
    return bl_text_is(to, row, "verdict", (int)verdict);
}

static bool same_sentence(const json_t *a, const json_t *b)
{
    return bl_tree_same_text(a, b, "unit") && bl_tree_same_text(a, b, "kind") &&
           bl_tree_same_text(a, b, "shape");
}

/* Row of that sentence with that figure; NULL where there is none. */
static const json_t *row_with(const struct bl_text *to, const json_t *rows,
                              const json_t *own, enum bl_figure_name figure)
{
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        if (same_sentence(row, own) &&
            bl_text_is(to, row, "figure", (int)figure)) {
            return row;
        }
    }
    return NULL;
}

static const json_t *row_to_say(const struct bl_text *to, const json_t *rows,
                                const json_t *own)
{
    for (size_t i = 0; i < SPOKEN; i++) {
        const json_t *row = row_with(to, rows, own, spoken[i]);
        if (row != NULL && !has_verdict(to, row, BL_VERDICT_NO_VALUES)) {
            return row;
        }
    }
    const json_t *row = row_with(to, rows, own, spoken[1]);
    return row == NULL ? own : row;
}

static void quoted(struct bl_text *to, const char *text)
{
    bl_output_text(to->output, "\"");
    bl_text_plain(to, text);
    bl_output_text(to->output, "\"");
}

/* What the other of two units side by side is called; "": it is no such
   comparison. */
static const char *base_unit(const struct bl_text *to, const json_t *row)
{
    const char *base = bl_tree_get_text(row, "unit_base");
    return base[0] == '\0' ? "" : bl_text_called_in(to, row, "unit_base");
}

/* "full steps", "light ramps". */
static void kind_words(struct bl_text *to, const json_t *row)
{
    static const struct bl_coded shapes[] = {
        {"step", "steps"}, {"ramp", "ramps"}, {NULL, "applications"}};
    bl_output_format(to->output, "%s %s",
                     bl_text_is(to, row, "kind", BL_KIND_UNKNOWN)
                         ? "unsorted"
                         : bl_text_kind(row),
                     bl_coded_words(shapes, bl_tree_get_text(row, "shape")));
}

static const char *figure_words(const struct bl_text *to, const json_t *row)
{
    if (bl_text_is(to, row, "figure", BL_FIGURE_FILLED)) {
        return "75 % of its settled pressure comes";
    }
    return bl_text_is(to, row, "figure", BL_FIGURE_RESPONSE)
               ? "its first air comes"
               : "counted from the first braked unit its first air comes";
}

static void other_side(struct bl_text *to, const json_t *row)
{
    const char *base = base_unit(to, row);
    if (base[0] != '\0') {
        bl_output_format(to->output, "than that of %s", base);
        return;
    }
    bl_output_text(to->output, "in ");
    quoted(to, bl_tree_get_text(row, "against"));
    bl_output_text(to->output, " than in ");
    quoted(to, bl_tree_get_text(row, "base"));
}

/* Seconds to three decimals, an interval's ends away from its middle. */
static const char *outward(double value, bool up, char *text)
{
    const double thousand = value * 1000;
    return bl_text_fixed(
        (up ? ceil(thousand - 1e-9) : floor(thousand + 1e-9)) / 1000, 3, text);
}

/* "between 0.240 and 0.265 s"; with sides when it holds both. */
static void interval(struct bl_text *to, const json_t *row)
{
    const double low = bl_tree_get_number(row, "low_s");
    const double high = bl_tree_get_number(row, "high_s");
    char a[BL_TEXT_CELL];
    char b[BL_TEXT_CELL];
    if (low <= 0 && high >= 0) {
        bl_output_format(to->output, "between %s s earlier and %s s later",
                         outward(-low, true, a), outward(high, true, b));
        return;
    }
    const double near = fmin(fabs(low), fabs(high));
    const double far = fmax(fabs(low), fabs(high));
    bl_output_format(to->output, "between %s and %s s", outward(near, false, a),
                     outward(far, true, b));
}

/* Never more sure than it is: 96.1 % becomes 96 %. */
static void sure(struct bl_text *to, const json_t *row)
{
    char text[BL_TEXT_CELL];
    const double percent = 100 * bl_tree_get_number(row, "confidence");
    if (percent >= 99) {
        bl_output_format(
            to->output, ", %s %% confidence",
            bl_text_fixed(floor(percent * 10 + 1e-9) / 10, 1, text));
    } else {
        bl_output_format(to->output, ", %s %% confidence",
                         bl_text_fixed(floor(percent + 1e-9), 0, text));
    }
    const bool pairs = bl_text_is(to, row, "scope", BL_SCOPE_PAIRS);
    const unsigned long long base =
        bl_tree_get_count(row, pairs ? "pairs" : "runs_base");
    const unsigned long long against = bl_tree_get_count(row, "runs_against");
    if (pairs) {
        bl_output_format(
            to->output, " from %llu %s", base,
            bl_tree_get_text(row, "unit_base")[0] == '\0' ? "blocks" : "runs");
    } else {
        bl_output_format(to->output, " from %llu and %llu runs", against, base);
    }
}

/* "; at 100 km/h the train travels 7.0 m in that time", or for several speeds
   "; in that time the train travels 4.2 m at 60, 7.0 m at 100 km/h". */
static void travelled(struct bl_text *to, const json_t *row)
{
    const json_t *all = json_object_get(row, "travel_in_lag");
    const size_t count =
        bl_tree_get_bool(row, "metres_refused") ? 0 : json_array_size(all);
    for (size_t i = 0; i < count; i++) {
        const json_t *travel = json_array_get(all, i);
        char kmh[BL_TEXT_CELL];
        char metres[BL_TEXT_CELL];
        (void)bl_text_fixed(bl_tree_get_number(travel, "kmh"), 0, kmh);
        (void)bl_text_fixed(fabs(bl_tree_get_number(travel, "m")), 1, metres);
        if (count == 1) {
            bl_output_format(to->output,
                             "; at %s km/h the train travels %s m in that time",
                             kmh, metres);
        } else {
            bl_output_format(to->output, "%s %s m at %s%s",
                             i == 0 ? "; in that time the train travels" : ",",
                             metres, kmh, i + 1 == count ? " km/h" : "");
        }
    }
}

static void no_values(struct bl_text *to, const json_t *row)
{
    const unsigned long long base = bl_tree_get_count(row, "n_base");
    const unsigned long long against = bl_tree_get_count(row, "n_against");
    if (base > 0 && against > 0 &&
        isnan(bl_tree_get_number(row, "reference_s"))) {
        bl_output_text(to->output,
                       "cannot be compared: the reference runs do not show "
                       "what its measuring chain adds");
    } else if (base > 0 && against > 0) {
        bl_output_text(to->output,
                       "cannot be compared: no value of one side has a "
                       "partner on the other");
    } else {
        bl_output_format(
            to->output,
            "cannot be compared: %llu and %llu applications gave a value, "
            "%llu and %llu gave none",
            base, against,
            (unsigned long long)bl_tree_get_count(row, "without_base"),
            (unsigned long long)bl_tree_get_count(row, "without_against"));
    }
}

static void both_sides(struct bl_text *to, const json_t *row)
{
    const char *base = base_unit(to, row);
    if (base[0] != '\0') {
        bl_output_format(to->output, "it and %s", base);
        return;
    }
    quoted(to, bl_tree_get_text(row, "against"));
    bl_output_text(to->output, " and ");
    quoted(to, bl_tree_get_text(row, "base"));
}

static void no_difference(struct bl_text *to, const json_t *row)
{
    char text[BL_TEXT_CELL];
    if (has_verdict(to, row, BL_VERDICT_SAME)) {
        bl_output_format(
            to->output, "the same within %s s between ",
            bl_text_fixed(bl_tree_get_number(row, "same_within_s"), 3, text));
    } else {
        bl_output_text(to->output, "no difference is shown between ");
    }
    both_sides(to, row);
    bl_output_format(to->output, " (%s ", figure_words(to, row));
    interval(to, row);
    sure(to, row);
    bl_output_text(to->output, ")");
}

/* "0.010 s earlier", or "0.000 s later": a side is always said. */
static void signed_seconds(struct bl_text *to, double value)
{
    char text[BL_TEXT_CELL];
    bl_output_format(to->output, "%s s %s", bl_text_fixed(fabs(value), 3, text),
                     value < 0 ? "earlier" : "later");
}

static void these_runs(struct bl_text *to, const json_t *row)
{
    const double least = bl_tree_get_number(row, "least_s");
    const double most = bl_tree_get_number(row, "most_s");
    bl_output_format(to->output, "in these runs %s ", figure_words(to, row));
    signed_seconds(to, bl_tree_get_number(row, "difference_s"));
    bl_output_text(to->output, " ");
    other_side(to, row);
    bl_output_text(to->output, " (single applications: ");
    signed_seconds(to, least);
    bl_output_text(to->output, " to ");
    signed_seconds(to, most);
    bl_output_text(to->output, ")");
}

static void change(struct bl_text *to, const json_t *row)
{
    if (has_verdict(to, row, BL_VERDICT_NO_CHANGE_SHOWN) ||
        has_verdict(to, row, BL_VERDICT_SAME)) {
        no_difference(to, row);
        return;
    }
    if (has_verdict(to, row, BL_VERDICT_RUN_MORE)) {
        these_runs(to, row);
        return;
    }
    if (has_verdict(to, row, BL_VERDICT_COMMAND_DIFFERS)) {
        bl_output_text(to->output, "cannot be told: the command itself "
                                   "differs (see below), and that may be all "
                                   "of it");
        return;
    }
    bl_output_format(to->output, "%s ", figure_words(to, row));
    signed_seconds(to, bl_tree_get_number(row, "difference_s"));
    bl_output_text(to->output, " ");
    other_side(to, row);
    bl_output_text(to->output, " (");
    interval(to, row);
    sure(to, row);
    bl_output_text(to->output, ")");
    travelled(to, row);
}

/* What of the difference was the pedal's own. */
static void own_time(struct bl_text *to, const json_t *row)
{
    char text[BL_TEXT_CELL];
    const double own = bl_tree_get_number(row, "command_s");
    if (bl_tree_get_bool(row, "command_taken_off")) {
        bl_output_format(to->output,
                         "; the command itself was %s s %s there, which is "
                         "subtracted (lag at equal shares of rise)",
                         bl_text_fixed(fabs(own), 3, text),
                         own < 0 ? "earlier" : "later");
    } else if (bl_tree_get_number(row, "u_command_s") > 0) {
        bl_output_text(to->output,
                       "; the command itself differs, which cannot be taken "
                       "off here: the interval allows for it, and no metres "
                       "are given");
    }
}

/* Beside the single p, where it makes the sentence weaker. */
static void many_lines(struct bl_text *to, const json_t *row, double confidence)
{
    char text[BL_TEXT_CELL];
    const double p = bl_tree_get_number(row, "p_holm");
    const bool shown = has_verdict(to, row, BL_VERDICT_EARLIER) ||
                       has_verdict(to, row, BL_VERDICT_LATER);
    if (shown && p > 1 - confidence) {
        bl_output_format(to->output,
                         "; sure by itself only: over all lines of this figure "
                         "p is %s (Holm)",
                         bl_text_fixed(p, 2, text));
    }
}

static void apart(struct bl_text *to, const json_t *row)
{
    const json_t *all = json_object_get(row, "outliers");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *one = json_array_get(all, i);
        const double number = bl_tree_get_number(one, "application");
        bl_output_text(to->output, "    ");
        if (!isnan(number)) {
            bl_output_format(to->output, "application %d of ", (int)number);
        }
        bl_output_text(to->output, "run ");
        quoted(to, bl_tree_get_text(one, "run"));
        bl_output_text(to->output, " lies apart: ");
        signed_seconds(to, bl_tree_get_number(one, "off_s"));
        bl_output_text(to->output, " than the others\n");
    }
    const json_t *without = json_object_get(row, "without");
    if (json_array_size(all) > 0 &&
        !isnan(bl_tree_get_number(without, "difference_s"))) {
        char text[BL_TEXT_CELL];
        bl_output_text(to->output, "    without: ");
        signed_seconds(to, bl_tree_get_number(without, "difference_s"));
        bl_output_text(to->output, " (from ");
        bl_output_format(
            to->output, "%s to ",
            bl_text_fixed(bl_tree_get_number(without, "low_s"), 3, text));
        bl_output_format(
            to->output, "%s s, %s); nothing was left out\n",
            bl_text_fixed(bl_tree_get_number(without, "high_s"), 3, text),
            bl_text_verdict(bl_tree_get_text(without, "verdict")));
    }
}

static void sentence(struct bl_text *to, const json_t *row)
{
    const char *called = bl_text_called(to, row);
    const bool small = called[0] >= 'a' && called[0] <= 'z';
    bl_output_format(to->output, "  %c",
                     small ? called[0] - 'a' + 'A' : called[0]);
    bl_output_format(to->output, "%s, ", called + (called[0] != '\0'));
    kind_words(to, row);
    bl_output_text(to->output, ": ");
    if (has_verdict(to, row, BL_VERDICT_NO_VALUES)) {
        no_values(to, row);
    } else {
        change(to, row);
        own_time(to, row);
        many_lines(to, row,
                   bl_tree_get_number(json_object_get(to->root, "compared"),
                                      "confidence"));
    }
    bl_output_text(to->output, ".\n");
    apart(to, row);
}

static void what_was_compared(struct bl_text *to, const json_t *compared)
{
    bl_output_text(to->output, "\nWhat changed: ");
    if (bl_tree_get_bool(compared, "two_units")) {
        bl_output_text(to->output, "two units side by side in the same "
                                   "applications");
    } else {
        quoted(to, bl_tree_get_text(compared, "against"));
        bl_output_text(to->output, " against ");
        quoted(to, bl_tree_get_text(compared, "base"));
    }
    bl_output_text(to->output, "\n");
}

static void more_of(struct bl_text *to, unsigned long long runs,
                    const char *condition)
{
    bl_output_format(to->output, "%llu more run%s", runs, runs == 1 ? "" : "s");
    if (condition[0] != '\0') {
        bl_output_text(to->output, " of ");
        quoted(to, condition);
    }
}

/* Which runs are missing: runs, not applications, since those of one run
   share its state. Once for all lines that speak of these runs. */
static void more_runs(struct bl_text *to, const json_t *rows)
{
    unsigned long long base = 0;
    unsigned long long against = 0;
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        if (has_verdict(to, row, BL_VERDICT_RUN_MORE)) {
            const uint64_t b = bl_tree_get_count(row, "more_runs_base");
            const uint64_t a = bl_tree_get_count(row, "more_runs_against");
            base = b > base ? b : base;
            against = a > against ? a : against;
        }
    }
    if (base + against == 0) {
        return;
    }
    const json_t *row = json_array_get(rows, 0);
    const bool units = bl_tree_get_text(row, "unit_base")[0] != '\0';
    bl_output_text(
        to->output,
        "  What is found in these runs need not hold in other runs: runs "
        "differ, and more applications in one run do not show by "
        "how much. Make at least ");
    if (units) {
        more_of(to, base, "");
    } else {
        more_of(to, against > 0 ? against : base,
                bl_tree_get_text(row, against > 0 ? "against" : "base"));
        if (against > 0 && base > 0) {
            bl_output_text(to->output, " and ");
            more_of(to, base, bl_tree_get_text(row, "base"));
        }
    }
    bl_output_text(to->output,
                   units ? ", three in all.\n" : ", so that each has three.\n");
}

void bl_text_comparison(struct bl_text *to)
{
    const json_t *rows = json_object_get(to->root, "comparison");
    if (rows == NULL) {
        return;
    }
    what_was_compared(to, json_object_get(to->root, "compared"));
    bl_text_said(to, BL_ANSWER_COMPARED);
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *own = json_array_get(rows, i);
        bool before = false;
        for (size_t k = 0; k < i; k++) {
            before = before || same_sentence(json_array_get(rows, k), own);
        }
        const json_t *row = row_to_say(to, rows, own);
        /* A unit without any transducer has nothing to say here. */
        const bool wired = bl_tree_get_count(row, "n_base") > 0 ||
                           bl_tree_get_count(row, "n_against") > 0 ||
                           !has_verdict(to, row, BL_VERDICT_NO_VALUES);
        if (!before &&
            (wired || bl_text_is(to, row, "figure", BL_FIGURE_RESPONSE))) {
            sentence(to, row);
        }
    }
    more_runs(to, rows);
    if (json_array_size(rows) == 0) {
        bl_output_text(to->output, "  no application on either side\n");
    }
    bl_text_comparison_tables(to);
}
