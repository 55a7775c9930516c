/* SPDX-License-Identifier: MIT */
/*
 * The answer's sentences: how much was measured, whether every unit responded,
 * what differs most between two conditions. What is wrong, which unit is last
 * and whom the demand reached have files of their own.
 */
#include "study/answer/answer.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "lag/application.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *bl_answer_topic_name(enum bl_answer_topic topic)
{
    static const char *const names[] = {
#define X(id, name, meaning) name,
        BL_ANSWER_LIST(X)
#undef X
    };
    return (size_t)topic < BL_ANSWER_TOPICS ? names[topic] : "";
}

static unsigned topics_of(const struct bl_answering *a)
{
    return a->input->topics == 0 ? BL_ANSWER_WHOLE : a->input->topics;
}

/* Is it that of a study, not that of the whole trial? */
static bool own_answer(const struct bl_answering *a)
{
    return (topics_of(a) & (1u << BL_ANSWER_FOUND)) == 0;
}

struct bl_answer_sentence *bl_answer_say(struct bl_answering *a,
                                         enum bl_answer_topic topic,
                                         struct bl_strbuf *text)
{
    struct bl_answer_sentences *into = a->into;
    a->failed = a->failed || text->failed || text->text == NULL ||
                !bl_grow(&into->item, &into->capacity, into->count + 1,
                         sizeof(*into->item), BL_LIMIT_FINDINGS);
    if (a->failed) {
        bl_strbuf_finish(text);
        return NULL;
    }
    struct bl_answer_sentence *sentence = &into->item[into->count++];
    memset(sentence, 0, sizeof(*sentence));
    sentence->topic = topic;
    sentence->first = topic == BL_ANSWER_FOUND || own_answer(a);
    sentence->text = text->text;
    sentence->unit = -1;
    sentence->run = -1;
    memset(text, 0, sizeof(*text));
    return sentence;
}

void bl_answer_evidence(struct bl_answer_sentence *sentence, const char *label,
                        double value, double u, const char *unit)
{
    if (sentence == NULL) {
        return;
    }
    if (sentence->evidences == BL_EVIDENCE_MAX) {
        sentence->evidences_dropped++;
        return;
    }
    struct bl_evidence *e = &sentence->evidence[sentence->evidences++];
    snprintf(e->label, sizeof(e->label), "%s", label);
    snprintf(e->unit, sizeof(e->unit), "%s", unit);
    e->value = value;
    e->u = u;
    e->run = sentence->run;
}

const char *bl_answer_unit(const struct bl_answering *a, size_t unit,
                           char text[BL_ANSWER_UNIT])
{
    return bl_trial_unit_called(a->input->trial, unit, text, BL_ANSWER_UNIT);
}

void bl_answer_kind(struct bl_strbuf *text, enum bl_application_kind kind,
                    enum bl_application_shape shape)
{
    static const char *const shapes[] = {[BL_SHAPE_UNKNOWN] = "applications",
                                         [BL_SHAPE_STEP] = "steps",
                                         [BL_SHAPE_RAMP] = "ramps"};
    bl_strbuf_format(text, "%s %s", bl_application_kind_said(kind),
                     shapes[shape]);
}

void bl_answer_count(struct bl_strbuf *text, size_t count, const char *one)
{
    bl_strbuf_format(text, "%zu %s%s", count, one, count == 1 ? "" : "s");
}

const char *bl_answer_between(size_t index, size_t count)
{
    return index == 0 ? "" : index + 1 == count ? " and " : ", ";
}

const char *bl_answer_condition(const struct bl_answering *a, size_t run)
{
    const struct bl_trial_run *trial_run = &a->input->trial->run[run];
    return trial_run->condition == NULL ? trial_run->name
                                        : trial_run->condition;
}

bool bl_answer_is_reference(const struct bl_answering *a, size_t run)
{
    const struct bl_comparison *c = a->input->comparison;
    const char *condition = bl_answer_condition(a, run);
    return strcmp(condition, "reference") == 0 ||
           (c != NULL && c->reference != NULL &&
            strcmp(condition, c->reference) == 0);
}

/* Is run `index` the first of its condition? */
static bool is_first(const struct bl_answering *a, size_t index)
{
    for (size_t r = 0; r < index; r++) {
        if (strcmp(bl_answer_condition(a, r), bl_answer_condition(a, index)) ==
            0) {
            return false;
        }
    }
    return true;
}

bool bl_answer_next_condition(const struct bl_answering *a, size_t *place,
                              size_t *run)
{
    const struct bl_trial *trial = a->input->trial;
    while (*place < 2 * trial->runs) {
        const size_t r = *place % trial->runs;
        const bool with_power = (*place)++ < trial->runs;
        if ((trial->run[r].power == BL_STATED_ON) == with_power &&
            is_first(a, r) && !bl_answer_is_reference(a, r)) {
            *run = r;
            return true;
        }
    }
    return false;
}

bool bl_answer_next_kind(size_t *place, enum bl_application_kind *kind,
                         enum bl_application_shape *shape)
{
    static const enum bl_application_kind kinds[] = {
        BL_KIND_FULL, BL_KIND_SERVICE, BL_KIND_LIGHT, BL_KIND_UNKNOWN};
    static const enum bl_application_shape shapes[] = {
        BL_SHAPE_STEP, BL_SHAPE_RAMP, BL_SHAPE_UNKNOWN};
    enum { KINDS = 4, SHAPES = 3 };
    if (*place >= (size_t)KINDS * SHAPES) {
        return false;
    }
    *kind = kinds[*place / SHAPES];
    *shape = shapes[*place % SHAPES];
    (*place)++;
    return true;
}

void *bl_answer_per_unit(struct bl_answering *a, size_t size)
{
    void *made = bl_alloc(a->input->trial->units + 1, size);
    a->failed = a->failed || made == NULL;
    return made;
}

/* Of a unit over the applications that count: did it respond? */
struct responses {
    size_t yes, no, open;
};

/* What was measured, counted. */
struct tally {
    size_t runs, used, excluded;
    size_t contradicted;    /* left out, and not by the trial */
    struct responses *unit; /* by index in the trial; wired ones only */
};

static void count_application(struct tally *tally, const struct bl_trial *trial,
                              const struct bl_application *application)
{
    tally->excluded += application->excluded && !application->contradicted;
    tally->contradicted += application->contradicted;
    tally->used += !application->excluded;
    for (size_t i = 0; !application->excluded && i < application->units; i++) {
        const struct bl_unit_lag *unit = &application->unit[i];
        if (unit->unit >= trial->units ||
            trial->unit[unit->unit].outputs == 0) {
            continue;
        }
        struct responses *responses = &tally->unit[unit->unit];
        responses->yes += unit->responded == BL_YES;
        responses->no += unit->responded == BL_NO;
        responses->open += unit->responded == BL_UNKNOWN;
    }
}

static void measured(struct bl_answering *a, const struct tally *tally)
{
    struct bl_strbuf text = {0};
    bl_answer_count(&text, tally->used, "application");
    bl_strbuf_text(&text, " in ");
    bl_answer_count(&text, tally->runs, "run");
    bl_strbuf_text(&text,
                   tally->used == 1 ? " was measured" : " were measured");
    if (tally->excluded > 0) {
        bl_strbuf_format(&text, ", %zu left out by the trial file",
                         tally->excluded);
    }
    if (tally->contradicted > 0) {
        bl_strbuf_format(&text,
                         ", %zu left out as the recordings contradict what is "
                         "declared of the run",
                         tally->contradicted);
    }
    bl_strbuf_text(&text, ".");
    struct bl_answer_sentence *sentence =
        bl_answer_say(a, BL_ANSWER_MEASURED, &text);
    bl_answer_evidence(sentence, "applications", (double)tally->used, NAN, "");
    bl_answer_evidence(sentence, "runs", (double)tally->runs, NAN, "");
    if (tally->excluded + tally->contradicted > 0) {
        bl_answer_evidence(sentence, "applications left out",
                           (double)(tally->excluded + tally->contradicted), NAN,
                           "");
    }
}

/* "Unit 3 did not respond in 2 of 10 applications." of each unit that one of
   the counts names; false: of none. */
static bool name_units(struct bl_answering *a, const struct tally *tally,
                       bool open)
{
    bool any = false;
    for (size_t u = 0; u < a->input->trial->units; u++) {
        const struct responses *responses = &tally->unit[u];
        const size_t count = open ? responses->open : responses->no;
        const size_t all = responses->yes + responses->no + responses->open;
        char name[BL_ANSWER_UNIT];
        struct bl_strbuf text = {0};
        if (count == 0) {
            continue;
        }
        any = true;
        if (!open && a->told != NULL && a->told[u] == count) {
            continue; /* light ones by air, which is said */
        }
        bl_strbuf_format(
            &text,
            open ? "Whether %s responded cannot be told in %zu of "
                 : "%s did not respond in %zu of ",
            open ? bl_answer_unit(a, u, name)
                 : bl_trial_unit_begins(a->input->trial, u, name, sizeof(name)),
            count);
        bl_answer_count(&text, all, "application");
        bl_strbuf_text(&text, ".");
        struct bl_answer_sentence *said =
            bl_answer_say(a, BL_ANSWER_RESPONDED, &text);
        if (said != NULL) {
            said->unit = (long)u;
        }
        bl_answer_evidence(said, open ? "cannot tell" : "did not respond",
                           (double)count, NAN, "");
        bl_answer_evidence(said, "applications", (double)all, NAN, "");
    }
    return any;
}

static void responded(struct bl_answering *a, const struct tally *tally)
{
    size_t wired = 0;
    for (size_t u = 0; u < a->input->trial->units; u++) {
        wired += a->input->trial->unit[u].outputs > 0;
    }
    const bool none = name_units(a, tally, false);
    const bool open = name_units(a, tally, true);
    if (none || open || tally->used == 0) {
        return;
    }
    struct bl_strbuf text = {0};
    bl_strbuf_text(&text, wired == 0
                              ? "No output was wired, so no first air could "
                                "be timed."
                              : "Every unit with an output responded each "
                                "time.");
    bl_answer_evidence(bl_answer_say(a, BL_ANSWER_RESPONDED, &text),
                       "units with an output", (double)wired, NAN, "");
}

static void count_all(struct bl_answering *a)
{
    const struct bl_answer_input *in = a->input;
    struct tally tally = {.unit =
                              bl_answer_per_unit(a, sizeof(struct responses))};
    for (size_t r = 0; !a->failed && r < in->trial->runs; r++) {
        const struct bl_run_lag *lag = in->run[r].lag;
        tally.runs += lag != NULL;
        for (size_t i = 0; lag != NULL && i < lag->applications; i++) {
            count_application(&tally, in->trial, &lag->application[i]);
        }
    }
    if (!a->failed && (topics_of(a) & (1u << BL_ANSWER_MEASURED)) != 0) {
        measured(a, &tally);
    }
    if (!a->failed && (topics_of(a) & (1u << BL_ANSWER_RESPONDED)) != 0) {
        responded(a, &tally);
    }
    bl_free(tally.unit);
}

static void changed(struct bl_answering *a)
{
    const struct bl_comparison *c = a->input->comparison;
    const struct bl_comparison_row *most = NULL;
    for (size_t i = 0; c != NULL && !c->two_units && i < c->rows; i++) {
        const struct bl_comparison_row *row = &c->row[i];
        const bool shown = row->verdict == BL_VERDICT_EARLIER ||
                           row->verdict == BL_VERDICT_LATER;
        if (shown && (most == NULL ||
                      fabs(row->difference_s) > fabs(most->difference_s))) {
            most = row;
        }
    }
    if (most == NULL) {
        return;
    }
    char name[BL_ANSWER_UNIT];
    struct bl_strbuf text = {0};
    bl_strbuf_format(&text, "Most changed by \"%s\" against \"%s\": %s, %s",
                     c->against, c->base, bl_answer_unit(a, most->unit, name),
                     bl_figure_title(most->figure));
    if (most->figure == BL_FIGURE_LEVEL) {
        bl_strbuf_format(&text, " %g kPa", most->level_kpa);
    } else if (bl_figure_entry(most->figure)->at == BL_AT_RESPONSE_AT) {
        bl_strbuf_format(&text, " (%g kPa)", a->input->trial->response_at_kpa);
    }
    bl_strbuf_format(&text, " %.3f s %s (between %.3f and %.3f s).",
                     fabs(most->difference_s),
                     most->verdict == BL_VERDICT_LATER ? "later" : "earlier",
                     fmin(fabs(most->low_s), fabs(most->high_s)),
                     fmax(fabs(most->low_s), fabs(most->high_s)));
    struct bl_answer_sentence *sentence =
        bl_answer_say(a, BL_ANSWER_CHANGED, &text);
    if (sentence != NULL) {
        sentence->unit = (long)most->unit;
    }
    bl_answer_evidence(sentence, "difference", most->difference_s, most->u_s,
                       "s");
    bl_answer_evidence(sentence, "interval from", most->low_s, NAN, "s");
    bl_answer_evidence(sentence, "interval to", most->high_s, NAN, "s");
    bl_answer_evidence(sentence, "confidence", c->confidence, NAN, "");
}

static void reached(struct bl_answering *a)
{
    bl_answer_reached(a, own_answer(a));
}

static void predicted(struct bl_answering *a)
{
    bl_answer_predicted(a, own_answer(a));
}

enum bl_status bl_answer_create(struct bl_answer_sentences **out,
                                const struct bl_answer_input *input,
                                struct bl_error *error)
{
    *out = bl_alloc(1, sizeof(**out));
    struct bl_answering a = {input, *out, *out == NULL, NULL};
    if (a.failed) {
        return bl_fail_memory(error);
    }
    static const struct {
        unsigned topics;
        void (*say)(struct bl_answering *a);
    } parts[] = {
        {1u << BL_ANSWER_FOUND, bl_answer_odd},
        {1u << BL_ANSWER_MEASURED | 1u << BL_ANSWER_RESPONDED, count_all},
        {1u << BL_ANSWER_REACHED, reached},
        {1u << BL_ANSWER_LAST, bl_answer_last},
        {1u << BL_ANSWER_CHANGED, changed},
        {1u << BL_ANSWER_COMPARED, bl_answer_compared},
        {1u << BL_ANSWER_PREDICTED, predicted},
        {1u << BL_ANSWER_CURVES, bl_answer_curves},
        {1u << BL_ANSWER_UNREAD, bl_answer_unread},
    };
    for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++) {
        if (!a.failed && (topics_of(&a) & parts[i].topics) != 0) {
            parts[i].say(&a);
        }
    }
    bl_free(a.told);
    if (a.failed) {
        bl_answer_destroy(*out);
        *out = NULL;
        return bl_fail_memory(error);
    }
    return BL_OK;
}

void bl_answer_destroy(struct bl_answer_sentences *answer)
{
    for (size_t i = 0; answer != NULL && i < answer->count; i++) {
        bl_free(answer->item[i].text);
    }
    if (answer != NULL) {
        bl_free(answer->item);
        bl_free(answer);
    }
}
