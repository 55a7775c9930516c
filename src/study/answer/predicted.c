/* SPDX-License-Identifier: MIT */
/*
 * What a prediction answers: condition by condition every unit that takes
 * longer than air alone would, with the two times, and how many take what it
 * would, are quicker, or cannot be decided. Method: docs/methods/predict.md.
 */
#include "study/answer/answer.h"

#include "base/alloc.h"

#include <math.h>
#include <string.h>

/* Of one unit over the runs of a condition, from the least that is known. */
enum state { NOT_PREDICTED, OPEN, INSIDE, EARLIER, LATER, STATES };

struct seen {
    enum state state;
    const struct bl_predict_row *row; /* of LATER: what is said */
    size_t run;
    enum bl_predict_reason reason; /* of NOT_PREDICTED, the first */
};

static enum state state_of(const struct bl_predict_row *row)
{
    switch (row->verdict) {
    case BL_PREDICT_LATER:
        return LATER;
    case BL_PREDICT_EARLIER:
        return EARLIER;
    case BL_PREDICT_INSIDE:
        return INSIDE;
    case BL_PREDICT_NOT_DECIDED:
        break;
    }
    return OPEN;
}

/* What says most of a late unit: 75 %, then first air, then what is there. */
static int weight(const struct bl_predict_row *row)
{
    return row->figure == (enum bl_predict_figure)BL_FIGURE_FILLED     ? 2
           : row->figure == (enum bl_predict_figure)BL_FIGURE_RESPONSE ? 1
                                                                       : 0;
}

static void take(struct seen *seen, const struct bl_predict_unit *unit)
{
    if (seen->reason == BL_PREDICT_WHY_NONE) {
        seen->reason = unit->reason;
    }
    for (size_t i = 0; i < unit->rows; i++) {
        const struct bl_predict_row *row = &unit->row[i];
        const enum state state = row->n == 0 ? OPEN : state_of(row);
        const bool better = state == LATER && (seen->row == NULL ||
                                               weight(row) > weight(seen->row));
        seen->state = state > seen->state ? state : seen->state;
        if (better) {
            seen->row = row;
            seen->run = unit->run;
        }
    }
}

static void figure_words(const struct bl_answering *a, struct bl_strbuf *text,
                         enum bl_predict_figure figure)
{
    if (figure == BL_PREDICT_FILL) {
        bl_strbuf_text(text, "first air to 75 % of settled");
    } else if (figure == BL_PREDICT_FALL) {
        bl_strbuf_text(text, "release, 90 to 10 % of settled");
    } else {
        const enum bl_figure_name name = (enum bl_figure_name)figure;
        bl_strbuf_text(text, bl_figure_title(name));
        if (bl_figure_entry(name)->at == BL_AT_RESPONSE_AT) {
            bl_strbuf_format(text, " (%g kPa)",
                             a->input->trial->response_at_kpa);
        }
    }
}

static void late(struct bl_answering *a, const char *condition, size_t unit,
                 const struct seen *seen)
{
    const struct bl_predict_row *row = seen->row;
    struct bl_strbuf text = {0};
    char name[BL_ANSWER_UNIT];
    bl_strbuf_format(&text,
                     "In condition \"%s\", %s takes longer than air alone "
                     "would: ",
                     condition, bl_answer_unit(a, unit, name));
    figure_words(a, &text, row->figure);
    bl_strbuf_format(
        &text, "%s %.3f \xC2\xB1 %.3f s, air alone %.3f to %.3f s (",
        row->bounds > 0 ? " later than" : "", row->measured_s,
        ceil(2000 * row->u_s - 1e-9) / 1000, row->low_s, row->high_s);
    bl_answer_kind(&text, row->kind, row->shape);
    bl_strbuf_format(&text, ", run %s).", a->input->trial->run[seen->run].name);
    struct bl_answer_sentence *said =
        bl_answer_say(a, BL_ANSWER_PREDICTED, &text);
    if (said != NULL) {
        said->unit = (long)unit;
        said->run = (long)seen->run;
    }
    bl_answer_evidence(said, "measured", row->measured_s, row->u_s, "s");
    bl_answer_evidence(said, "air alone from", row->low_s, NAN, "s");
    bl_answer_evidence(said, "air alone to", row->high_s, NAN, "s");
}

static void counted(struct bl_answering *a, const char *condition,
                    const size_t count[STATES], size_t units,
                    enum bl_predict_reason reason)
{
    static const struct {
        enum state state;
        const char *one, *many;
    } words[] = {
        {INSIDE, "takes what air alone would", "take what air alone would"},
        {LATER, "takes longer", "take longer"},
        {EARLIER, "is quicker than air alone would be",
         "are quicker than air alone would be"},
        {OPEN, "cannot be decided", "cannot be decided"},
        {NOT_PREDICTED, "could not be predicted", "could not be predicted"}};
    struct bl_strbuf text = {0};
    size_t said = 0;
    bl_strbuf_format(&text, "In condition \"%s\", of ", condition);
    bl_answer_count(&text, units, "unit");
    for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++) {
        const size_t n = count[words[i].state];
        if (n == units && words[i].state == NOT_PREDICTED) {
            bl_strbuf_text(&text, " none could be predicted");
        } else if (n > 0) {
            bl_strbuf_format(&text, "%s%zu %s", said == 0 ? " " : ", ", n,
                             n == 1 ? words[i].one : words[i].many);
            said++;
        }
    }
    if (reason != BL_PREDICT_WHY_NONE) {
        bl_strbuf_format(&text, " (%s)", bl_predict_reason_meaning(reason));
    }
    bl_strbuf_text(&text, ".");
    struct bl_answer_sentence *sentence =
        bl_answer_say(a, BL_ANSWER_PREDICTED, &text);
    for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++) {
        bl_answer_evidence(sentence, words[i].many,
                           (double)count[words[i].state], NAN, "");
    }
}

static void one_condition(struct bl_answering *a, const char *condition,
                          bool refused)
{
    const struct bl_trial *trial = a->input->trial;
    struct seen *seen = bl_answer_per_unit(a, sizeof(*seen));
    size_t count[STATES] = {0};
    bool any = false;
    for (size_t r = 0; seen != NULL && r < trial->runs; r++) {
        const struct bl_predict *predict = a->input->run[r].predict;
        if (predict == NULL ||
            strcmp(bl_answer_condition(a, r), condition) != 0) {
            continue;
        }
        any = true;
        for (size_t i = 0; i < predict->units; i++) {
            take(&seen[predict->unit[i].unit], &predict->unit[i]);
        }
    }
    /* Why some could not be predicted, where it is the same of all of them. */
    enum bl_predict_reason reason = BL_PREDICT_WHY_NONE;
    bool mixed = false;
    for (size_t u = 0; any && u < trial->units; u++) {
        if (seen[u].state == NOT_PREDICTED) {
            mixed =
                mixed || (count[NOT_PREDICTED] > 0 && seen[u].reason != reason);
            reason = seen[u].reason;
        }
        count[seen[u].state]++;
        if (seen[u].state == LATER) {
            late(a, condition, u, &seen[u]);
        }
    }
    if (any && (refused || count[NOT_PREDICTED] < trial->units)) {
        counted(a, condition, count, trial->units,
                mixed ? BL_PREDICT_WHY_NONE : reason);
    }
    bl_free(seen);
}

void bl_answer_predicted(struct bl_answering *a, bool refused)
{
    size_t place = 0;
    size_t run;
    while (bl_answer_next_condition(a, &place, &run)) {
        one_condition(a, bl_answer_condition(a, run), refused);
    }
}
