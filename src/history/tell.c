/* SPDX-License-Identifier: MIT */
/*
 * The life of a unit in sentences, for somebody who reads nothing else: what
 * changed, by how much and since when; else how small a change would have been
 * noticed; and what cannot be told, with what would decide it.
 */
#include "history/tell.h"

#include "report/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { SENTENCE = 700, LABEL = BL_HISTORY_LABEL };

struct telling {
    struct bl_tree *tree;
    json_t *array;
    const struct bl_history_life *life;
    const struct bl_lives *lives;
};

static void say(struct telling *t, const char *topic, const char *text)
{
    json_t *one = bl_tree_object(t->tree);
    bl_tree_text(t->tree, one, "topic", topic);
    bl_tree_text(t->tree, one, "text", text);
    bl_tree_append(t->tree, t->array, one);
}

const char *bl_history_label(const struct bl_life_key *key, char text[LABEL])
{
    char number[BL_TEXT_CELL] = "";
    char level[BL_TEXT_CELL + 8] = "";
    if (key->figure == BL_FIGURE_LEVEL) {
        (void)snprintf(level, sizeof(level), " %s kPa",
                       bl_text_fixed(key->level_kpa, 0, number));
    }
    (void)snprintf(text, LABEL, "%s%s, %s%s, %.80s",
                   bl_figure_title(key->figure), level,
                   bl_words_of(&bl_words_labels, bl_model_kind(key->kind)),
                   key->shape == BL_SHAPE_RAMP ? " ramp" : "", key->condition);
    return text;
}

bool bl_life_is_change(enum bl_life_verdict verdict)
{
    return verdict == BL_LIFE_DRIFT || verdict == BL_LIFE_STEP ||
           verdict == BL_LIFE_DRIFT_OR_STEP || verdict == BL_LIFE_LAST_APART ||
           verdict == BL_LIFE_FIRST_APART;
}

/* The filled chamber stands for the apply, the emptied one for the release; a
   full application tells most. */
int bl_history_weight(const struct bl_life_key *key)
{
    return (key->figure == BL_FIGURE_FILLED    ? 20
            : key->figure == BL_FIGURE_EMPTIED ? 10
                                               : 0) +
           (key->kind == BL_KIND_FULL ? 2 : 0);
}

bool bl_history_stands(const struct bl_life_key *key)
{
    return key->kind == BL_KIND_FULL && (key->figure == BL_FIGURE_FILLED ||
                                         key->figure == BL_FIGURE_EMPTIED);
}

static int weight(const struct bl_life_row *row)
{
    return bl_history_weight(&row->key);
}

/* Whether the newest visit has a value of it. */
static bool reaches_end(const struct bl_history_life *life,
                        const struct bl_life_row *row)
{
    const size_t last = life->life.visits - 1;
    bool reaches = row->points > 0 && row->point[row->points - 1].visit == last;
    for (size_t i = 0; i < row->lefts; i++) {
        reaches = reaches || row->left[i].visit == last;
    }
    return reaches;
}

typedef bool wanted(const struct bl_history_life *life,
                    const struct bl_life_row *row);

static bool changed(const struct bl_history_life *life,
                    const struct bl_life_row *row)
{
    (void)life;
    return bl_life_is_change(row->verdict);
}

/* A figure that the newest visit lacks looks as it did before: an output that
   answers no more would else pass for one that has not changed. */
static bool steady(const struct bl_history_life *life,
                   const struct bl_life_row *row)
{
    return row->verdict == BL_LIFE_NO_CHANGE_SHOWN && reaches_end(life, row);
}

static bool small(const struct bl_history_life *life,
                  const struct bl_life_row *row)
{
    return row->verdict == BL_LIFE_SMALL && reaches_end(life, row);
}

static bool differs(const struct bl_history_life *life,
                    const struct bl_life_row *row)
{
    (void)life;
    return row->before.known;
}

static bool ended(const struct bl_history_life *life,
                  const struct bl_life_row *row)
{
    return !reaches_end(life, row);
}

bool bl_history_ended(const struct bl_history_life *life,
                      const struct bl_life_row *row)
{
    return ended(life, row);
}

/* The newest visit looked for it. */
static bool silent(const struct bl_history_life *life,
                   const struct bl_life_row *row)
{
    return life->life.series[row - life->lives->row].silent && ended(life, row);
}

static size_t count(const struct bl_history_life *life, wanted *is_wanted)
{
    size_t number = 0;
    for (size_t i = 0; i < life->lives->rows; i++) {
        number += is_wanted(life, &life->lives->row[i]);
    }
    return number;
}

/* The one that speaks for the others; NULL: there is none. */
static const struct bl_life_row *speaker(const struct bl_history_life *life,
                                         wanted *is_wanted)
{
    const struct bl_life_row *best = NULL;
    for (size_t i = 0; i < life->lives->rows; i++) {
        const struct bl_life_row *row = &life->lives->row[i];
        if (is_wanted(life, row) &&
            (best == NULL || weight(row) > weight(best) ||
             (weight(row) == weight(best) && row->p_life < best->p_life))) {
            best = row;
        }
    }
    return best;
}

/* Tested, and without a value: an output that answers no more. Light
   applications and stated pressures are reached at one place in the train and
   not at another: they are not worth a sentence of their own. NULL: none is. */
static const struct bl_life_row *silence(const struct bl_history_life *life)
{
    const struct bl_life_row *row = speaker(life, silent);
    return row != NULL && bl_history_stands(&row->key) ? row : NULL;
}

static bool any(const struct bl_history_life *life,
                const struct bl_life_row *row)
{
    (void)life;
    return row->points > 0;
}

const struct bl_life_row *bl_history_lead(const struct bl_history_life *life)
{
    static wanted *const order[] = {changed, steady, any};
    const struct bl_life_row *lead = NULL;
    for (size_t i = 0; lead == NULL && i < sizeof(order) / sizeof(order[0]);
         i++) {
        lead = speaker(life, order[i]);
    }
    return lead;
}

static const char *date_of(const struct telling *t, size_t visit)
{
    return t->life->list->visit[visit].date;
}

static const char *pace(double size)
{
    return size < 0 ? "faster" : "slower";
}

const char *bl_history_by(const struct bl_life_change *c, const char *each,
                          char text[LABEL])
{
    char size[BL_TEXT_CELL];
    char low[BL_TEXT_CELL];
    char high[BL_TEXT_CELL];
    const double sign = c->size < 0 ? -1 : 1;
    const double least = sign < 0 ? -c->high : c->low;
    const double most = sign < 0 ? -c->low : c->high;
    const int decimals = c->u < 0.002 ? 3 : 2;
    (void)snprintf(text, LABEL, "%s by %s s%s (%s to %s)", pace(c->size),
                   bl_text_fixed(fabs(c->size), decimals, size), each,
                   bl_text_fixed(least, decimals, low),
                   bl_text_fixed(most, decimals, high));
    return text;
}

static void say_change(struct telling *t, const struct bl_life_row *row)
{
    char name[LABEL];
    char by[LABEL];
    char first[BL_TEXT_CELL];
    char last[BL_TEXT_CELL];
    char text[SENTENCE];
    const struct bl_life_point *begin = &row->point[0];
    const struct bl_life_point *end = &row->point[row->points - 1];
    const char *from = date_of(t, row->point[row->step_at].visit);
    (void)bl_history_label(&row->key, name);
    (void)bl_text_fixed(begin->value, 2, first);
    (void)bl_text_fixed(end->value, 2, last);
    if (row->verdict == BL_LIFE_DRIFT) {
        (void)snprintf(text, sizeof(text), "%s: %s; %s s on %s, %s s on %s.",
                       name, bl_history_by(&row->drift, " a year", by), first,
                       date_of(t, begin->visit), last, date_of(t, end->visit));
    } else if (row->verdict == BL_LIFE_STEP) {
        (void)snprintf(text, sizeof(text),
                       "%s: %s from %s on; %s s on %s, %s s on %s.", name,
                       bl_history_by(&row->step, "", by), from, first,
                       date_of(t, begin->visit), last, date_of(t, end->visit));
    } else if (row->verdict == BL_LIFE_LAST_APART) {
        (void)snprintf(text, sizeof(text),
                       "%s: the last visit%s (%s) is %s than those before; "
                       "the next one shows whether it stays.",
                       name, reaches_end(t->life, row) ? "" : " that has it",
                       date_of(t, end->visit),
                       bl_history_by(&row->step, "", by));
    } else if (row->verdict == BL_LIFE_FIRST_APART) {
        (void)snprintf(text, sizeof(text),
                       "%s: %s after the first visit (%s): a change right "
                       "after it, or a bad day.",
                       name, bl_history_by(&row->step, "", by),
                       date_of(t, begin->visit));
    } else {
        (void)snprintf(text, sizeof(text),
                       "%s: it changed, %s s on %s, %s s on %s; these visits "
                       "do not show whether at once or bit by bit.",
                       name, first, date_of(t, begin->visit), last,
                       date_of(t, end->visit));
    }
    say(t, "changed", text);
}

static void say_steady(struct telling *t, bool alone)
{
    char name[LABEL];
    char number[BL_TEXT_CELL];
    char text[SENTENCE];
    const size_t figures = count(t->life, steady);
    const struct bl_life_row *row = speaker(t->life, steady);
    if (row == NULL) {
        return;
    }
    (void)snprintf(text, sizeof(text),
                   "No change is shown in %zu %sfigure%s. %s: a drift of %s s "
                   "a year would have been noticed nine times in ten.",
                   figures, alone ? "" : "more ", figures == 1 ? "" : "s",
                   bl_history_label(&row->key, name),
                   bl_text_fixed(row->noticeable, 2, number));
    say(t, "steady", text);
}

/* What keeps visits from being compared at all. Where there are too few,
   another visit decides, and the other facts do not help. */
enum { APART = 1 << BL_LIFE_FACT_POSITION | 1 << BL_LIFE_FACT_COMMAND };

/* One sentence per reason, and what would decide. */
static void say_unknown(struct telling *t)
{
    const bool told = silence(t->life) != NULL;
    for (enum bl_life_reason r = BL_LIFE_REASON_FEW_VISITS; r < BL_LIFE_REASONS;
         r++) {
        char text[SENTENCE];
        size_t figures = 0;
        unsigned needs = 0;
        for (size_t i = 0; i < t->lives->rows; i++) {
            const struct bl_life_row *row = &t->lives->row[i];
            if (row->verdict == BL_LIFE_CANNOT_TELL && row->reason == r &&
                !(told && silent(t->life, row))) {
                figures++;
                needs |= r == BL_LIFE_REASON_FEW_VISITS ? row->needs & APART
                                                        : row->needs;
            }
        }
        if (figures == 0) {
            continue;
        }
        int length = snprintf(text, sizeof(text),
                              "These visits do not show whether %zu figure%s "
                              "changed: %s.",
                              figures, figures == 1 ? "" : "s",
                              bl_life_reason_meaning(r));
        for (enum bl_life_fact f = 0; f < BL_LIFE_FACTS; f++) {
            if ((needs & (1u << f)) != 0 && length > 0 &&
                (size_t)length < sizeof(text)) {
                length += snprintf(
                    text + length, sizeof(text) - (size_t)length, "%s%s",
                    strstr(text, " To decide: ") == NULL ? " To decide: "
                                                         : "; ",
                    bl_life_fact_todo(f));
            }
        }
        if (needs != 0 && length > 0 && (size_t)length + 1 < sizeof(text)) {
            (void)snprintf(text + length, sizeof(text) - (size_t)length, ".");
        }
        say(t, "cannot-tell", text);
    }
}

static void say_before(struct telling *t)
{
    char name[LABEL];
    char by[LABEL];
    char high[BL_TEXT_CELL];
    char text[SENTENCE];
    const struct bl_life_row *row = speaker(t->life, differs);
    if (row != NULL && row->points >= 2) {
        const bool ends = reaches_end(t->life, row);
        const char *when = date_of(t, row->point[row->points - 2].visit);
        const char *on = date_of(t, row->point[row->points - 1].visit);
        const struct bl_life_change *c = &row->before;
        (void)bl_history_label(&row->key, name);
        if (c->low > 0 || c->high < 0) {
            (void)snprintf(text, sizeof(text),
                           "%s: %s%s%s than at the visit before (%s).", name,
                           bl_history_by(c, "", by), ends ? "" : " on ",
                           ends ? "" : on, when);
        } else {
            (void)snprintf(text, sizeof(text),
                           "%s: no difference is shown%s%s to the visit before "
                           "(%s); it may lie between %s s faster and %s s "
                           "slower.",
                           name, ends ? "" : " on ", ends ? "" : on, when,
                           bl_text_fixed(ceil(-c->low * 100) / 100, 2, by),
                           bl_text_fixed(ceil(c->high * 100) / 100, 2, high));
        }
        say(t, "before", text);
    }
}

static void say_silent(struct telling *t)
{
    const struct bl_life_row *row = silence(t->life);
    const size_t others = count(t->life, silent) - (row != NULL);
    char name[LABEL];
    char last[BL_TEXT_CELL];
    char more[64] = "";
    char text[SENTENCE];
    if (row == NULL) {
        return;
    }
    if (others > 0) {
        (void)snprintf(more, sizeof(more), " %zu more figure%s none either.",
                       others, others == 1 ? " has" : "s have");
    }
    const struct bl_life_point *end = &row->point[row->points - 1];
    (void)snprintf(
        text, sizeof(text),
        "%s: no value on %s, though it was tested; %s s on %s.%s",
        bl_history_label(&row->key, name), date_of(t, t->life->life.visits - 1),
        bl_text_fixed(end->value, 2, last), date_of(t, end->visit), more);
    say(t, "silent", text);
}

static void say_missing(struct telling *t)
{
    char text[SENTENCE];
    const size_t figures =
        count(t->life, ended) -
        (silence(t->life) == NULL ? 0 : count(t->life, silent));
    if (figures > 0) {
        (void)snprintf(text, sizeof(text),
                       "The visit of %s has no usable value of %zu figure%s: "
                       "what is said of %s ends before it.",
                       date_of(t, t->life->life.visits - 1), figures,
                       figures == 1 ? "" : "s", figures == 1 ? "it" : "them");
        say(t, "no-value", text);
    }
}

/* Visits that are left out of some figure, and the first reason why. */
static void say_left(struct telling *t)
{
    enum { MOST = 5 };
    size_t said = 0;
    for (size_t v = 0; v < t->life->life.visits; v++) {
        size_t figures = 0;
        enum bl_life_fact why = BL_LIFE_FACT_POSITION;
        for (size_t i = 0; i < t->lives->rows; i++) {
            const struct bl_life_row *row = &t->lives->row[i];
            for (size_t k = 0; k < row->lefts; k++) {
                if (row->left[k].visit == v) {
                    why = row->left[k].why;
                    figures++;
                }
            }
        }
        char text[SENTENCE];
        if (figures > 0 && said++ < MOST) {
            (void)snprintf(text, sizeof(text),
                           "The visit of %s is not compared in %zu figure%s: "
                           "%s was another.",
                           date_of(t, v), figures, figures == 1 ? "" : "s",
                           bl_life_fact_meaning(why));
            say(t, "left-out", text);
        }
    }
    if (said > MOST) {
        char text[SENTENCE];
        (void)snprintf(text, sizeof(text),
                       "%zu more visits are not compared in some figure.",
                       said - MOST);
        say(t, "left-out", text);
    }
}

json_t *bl_history_tell(struct bl_tree *tree,
                        const struct bl_history_life *life)
{
    struct telling t = {.tree = tree,
                        .array = bl_tree_array(tree),
                        .life = life,
                        .lives = life->lives};
    char text[SENTENCE];
    const struct bl_life_row *lead = speaker(life, changed);
    const size_t others = count(life, changed) - (lead != NULL);
    const size_t little = count(life, small);
    if (lead != NULL) {
        say_change(&t, lead);
    }
    if (others > 0) {
        (void)snprintf(text, sizeof(text), "%zu more figure%s changed.", others,
                       others == 1 ? "" : "s");
        say(&t, "also", text);
    }
    say_silent(&t);
    say_steady(&t, lead == NULL && little == 0);
    if (little > 0) {
        (void)snprintf(text, sizeof(text), "%zu figure%s: %s.", little,
                       little == 1 ? "" : "s",
                       bl_life_verdict_meaning(BL_LIFE_SMALL));
        say(&t, "small", text);
    }
    if (life->list->visits == 1) {
        say(&t, "cannot-tell", "This is its only visit so far.");
        return t.array;
    }
    if (t.lives->rows == 0) {
        say(&t, "cannot-tell",
            "No figure of it that counts from the command has a value.");
    }
    if (lead == NULL && count(life, steady) + little == 0) {
        say_before(&t);
    }
    say_unknown(&t);
    say_missing(&t);
    say_left(&t);
    return t.array;
}
