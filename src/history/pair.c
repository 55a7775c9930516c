/* SPDX-License-Identifier: MIT */
/*
 * Before and after in sentences, for somebody who reads nothing else: which
 * units are faster or slower and by how much, which show no change and how
 * large one could be, and what cannot be told.
 */
#include "history/pair.h"

#include "report/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { SENTENCE = 900, CALLED = 120, NAMES = 400 };

size_t bl_paired_count(const struct bl_paired *paired,
                       enum bl_life_pair_verdict verdict)
{
    size_t count = 0;
    for (size_t i = 0; i < paired->life->lives->rows; i++) {
        count += paired->row[i].verdict == verdict;
    }
    return count;
}

struct telling {
    struct bl_tree *tree;
    json_t *array;
    const struct bl_pairing *pairing;
};

static void say(struct telling *t, const struct bl_paired *paired,
                const char *text)
{
    json_t *one = bl_tree_object(t->tree);
    bl_tree_bool(t->tree, one, "first", true);
    bl_tree_text(t->tree, one, "topic", "life");
    bl_tree_text(t->tree, one, "text", text);
    bl_tree_text(t->tree, one, "unit", paired == NULL ? NULL : paired->unit);
    bl_tree_text(t->tree, one, "name",
                 paired == NULL ? NULL : paired->life->list->unit[0].name);
    bl_tree_text(t->tree, one, "run", NULL);
    bl_tree_put(t->tree, one, "evidence", bl_tree_array(t->tree));
    bl_tree_count(t->tree, one, "evidence_dropped", 0);
    bl_tree_append(t->tree, t->array, one);
}

/* "bin trailer C (BT-0417)" */
static const char *called(const struct bl_paired *paired, char text[CALLED])
{
    const struct bl_history_unit *unit = &paired->life->list->unit[0];
    if (unit->name == NULL) {
        (void)snprintf(text, CALLED, "unit %.20s (%.60s)", paired->unit,
                       unit->id);
    } else {
        (void)snprintf(text, CALLED, "%.50s (%.60s)", unit->name, unit->id);
    }
    return text;
}

static char *capital(char *text)
{
    if (text[0] >= 'a' && text[0] <= 'z') {
        text[0] = (char)(text[0] - 'a' + 'A');
    }
    return text;
}

/* The figure that speaks for those of this verdict; rows: there is none. */
static size_t lead_of(const struct bl_paired *paired,
                      enum bl_life_pair_verdict verdict)
{
    const struct bl_lives *lives = paired->life->lives;
    size_t best = lives->rows;
    for (size_t i = 0; i < lives->rows; i++) {
        const struct bl_life_row *row = &lives->row[i];
        if (paired->row[i].verdict != verdict) {
            continue;
        }
        const int more = best == lives->rows
                             ? 1
                             : bl_history_weight(&row->key) -
                                   bl_history_weight(&lives->row[best].key);
        if (more > 0 || (more == 0 && fabs(row->before.size) >
                                          fabs(lives->row[best].before.size))) {
            best = i;
        }
    }
    return best;
}

/* "75 % of settled, full, powered: 0.50 s then, 0.17 s now, faster by .." */
static void add_lead(char *text, size_t size, const struct bl_paired *paired,
                     enum bl_life_pair_verdict verdict)
{
    const size_t at = lead_of(paired, verdict);
    const size_t length = strlen(text);
    if (at == paired->life->lives->rows) {
        return;
    }
    const struct bl_life_row *row = &paired->life->lives->row[at];
    char name[BL_HISTORY_LABEL];
    char by[BL_HISTORY_LABEL];
    char then[BL_TEXT_CELL];
    char now[BL_TEXT_CELL];
    (void)snprintf(text + length, size - length,
                   " %s: %s s then, %s s now, %s.",
                   bl_history_label(&row->key, name),
                   bl_text_fixed(row->point[0].value, 2, then),
                   bl_text_fixed(row->point[1].value, 2, now),
                   bl_history_by(&row->before, "", by));
}

static void say_change(struct telling *t, const struct bl_paired *paired)
{
    const size_t faster = bl_paired_count(paired, BL_LIFE_PAIR_FASTER);
    const size_t slower = bl_paired_count(paired, BL_LIFE_PAIR_SLOWER);
    const size_t rows = paired->life->lives->rows;
    char name[CALLED];
    char text[SENTENCE];
    if (faster > 0 && slower > 0) {
        (void)snprintf(text, sizeof(text),
                       "%s is faster in %zu and slower in %zu of %zu figures "
                       "than on %s.",
                       capital((char *)called(paired, name)), faster, slower,
                       rows, t->pairing->date);
    } else {
        (void)snprintf(text, sizeof(text),
                       "%s is %s than on %s, in %zu of %zu figures.",
                       capital((char *)called(paired, name)),
                       slower > 0 ? "slower" : "faster", t->pairing->date,
                       faster + slower, rows);
    }
    add_lead(text, sizeof(text), paired, BL_LIFE_PAIR_SLOWER);
    add_lead(text, sizeof(text), paired, BL_LIFE_PAIR_FASTER);
    say(t, paired, text);
}

static bool changed(const struct bl_paired *paired)
{
    return bl_paired_count(paired, BL_LIFE_PAIR_FASTER) +
               bl_paired_count(paired, BL_LIFE_PAIR_SLOWER) >
           0;
}

static bool steady(const struct bl_paired *paired)
{
    return !changed(paired) &&
           bl_paired_count(paired, BL_LIFE_PAIR_NONE_SHOWN) +
                   bl_paired_count(paired, BL_LIFE_PAIR_SAME) +
                   bl_paired_count(paired, BL_LIFE_PAIR_SMALL) >
               0;
}

/* "A, B and 3 more": names of units, as many as there is room for. */
static void add_name(char names[NAMES], size_t *count, const char *name)
{
    const size_t length = strlen(names);
    (*count)++;
    if (length + strlen(name) + 24 < NAMES) {
        (void)snprintf(names + length, NAMES - length, "%s%s",
                       *count == 1 ? "" : ", ", name);
    } else if (strstr(names, " and more") == NULL) {
        (void)snprintf(names + length, NAMES - length, " and more");
    }
}

/* The most that a steady unit's leading figure could have changed. */
static double could_have(const struct bl_paired *paired, size_t *at)
{
    static const enum bl_life_pair_verdict order[] = {
        BL_LIFE_PAIR_NONE_SHOWN, BL_LIFE_PAIR_SAME, BL_LIFE_PAIR_SMALL};
    const size_t rows = paired->life->lives->rows;
    *at = rows;
    for (size_t i = 0; *at == rows && i < 3; i++) {
        *at = lead_of(paired, order[i]);
    }
    const struct bl_life_change *change = &paired->life->lives->row[*at].before;
    return fmax(fabs(change->low), fabs(change->high));
}

static void say_steady(struct telling *t)
{
    char names[NAMES] = "";
    size_t count = 0;
    double most = -1;
    const struct bl_life_row *widest = NULL;
    for (size_t i = 0; i < t->pairing->count; i++) {
        const struct bl_paired *paired = &t->pairing->item[i];
        char name[CALLED];
        size_t at;
        if (!steady(paired)) {
            continue;
        }
        add_name(names, &count, called(paired, name));
        const double could = could_have(paired, &at);
        if (could > most) {
            most = could;
            widest = &paired->life->lives->row[at];
        }
    }
    if (widest != NULL) {
        char text[SENTENCE];
        char label[BL_HISTORY_LABEL];
        char number[BL_TEXT_CELL];
        (void)snprintf(text, sizeof(text),
                       "No change is shown in %s. %s: it could have changed "
                       "by up to %s s%s.",
                       names, bl_history_label(&widest->key, label),
                       bl_text_fixed(ceil(most * 100 - 1e-9) / 100, 2, number),
                       count > 1 ? " in any of them" : "");
        say(t, NULL, text);
    }
}

static void add_todo(char text[SENTENCE], unsigned needs)
{
    bool any = false;
    for (enum bl_life_fact f = 0; f < BL_LIFE_FACTS; f++) {
        const size_t length = strlen(text);
        if ((needs & (1u << f)) != 0) {
            (void)snprintf(text + length, SENTENCE - length, "%s%s",
                           any ? "; " : " To decide: ", bl_life_fact_todo(f));
            any = true;
        }
    }
    const size_t length = strlen(text);
    (void)snprintf(text + length, SENTENCE - length, "%s", any ? "." : "");
}

/* Per reason the figures of all units, and what would decide. */
static void say_unknown(struct telling *t, enum bl_life_pair_reason reason)
{
    char names[NAMES] = "";
    char text[SENTENCE];
    size_t units = 0;
    size_t figures = 0;
    unsigned needs = 0;
    for (size_t i = 0; i < t->pairing->count; i++) {
        const struct bl_paired *paired = &t->pairing->item[i];
        char name[CALLED];
        size_t own = 0;
        for (size_t k = 0; k < paired->life->lives->rows; k++) {
            const struct bl_life_pair *pair = &paired->row[k];
            if (pair->verdict == BL_LIFE_PAIR_CANNOT_TELL &&
                pair->reason == reason) {
                own++;
                needs |= pair->needs;
            }
        }
        if (own > 0) {
            add_name(names, &units, called(paired, name));
            figures += own;
        }
    }
    if (figures > 0) {
        const char *s = figures == 1 ? "" : "s";
        if (reason == BL_LIFE_PAIR_REASON_ONLY_THEN) {
            (void)snprintf(text, sizeof(text),
                           "%zu figure%s of %s had a value on %s and %s no "
                           "usable one now.",
                           figures, s, names, t->pairing->date,
                           figures == 1 ? "has" : "have");
        } else {
            (void)snprintf(text, sizeof(text),
                           "Cannot tell of %zu figure%s of %s: %s.", figures, s,
                           names, bl_life_pair_reason_meaning(reason));
        }
        if (reason == BL_LIFE_PAIR_REASON_NOT_COMPARABLE ||
            reason == BL_LIFE_PAIR_REASON_NOT_RECORDED) {
            add_todo(text, needs);
        }
        say(t, NULL, text);
    }
}

/* An output without a full apply or release comes before units that did not
   change; a stated pressure that a light application just reached does not. */
static bool answers_no_more(const struct bl_pairing *pairing)
{
    for (size_t i = 0; i < pairing->count; i++) {
        const struct bl_paired *paired = &pairing->item[i];
        for (size_t k = 0; k < paired->life->lives->rows; k++) {
            if (paired->row[k].reason == BL_LIFE_PAIR_REASON_ONLY_THEN &&
                bl_history_stands(&paired->life->lives->row[k].key)) {
                return true;
            }
        }
    }
    return false;
}

/* Units that only one of the visits has. */
static void say_only(struct telling *t, const json_t *units, const char *when)
{
    char names[NAMES] = "";
    char text[SENTENCE];
    size_t count = 0;
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        const char *id = bl_tree_get_text(unit, "unit_id");
        char name[CALLED];
        (void)snprintf(name, sizeof(name), "%.50s (%.60s)",
                       bl_tree_get_text(unit, "name"),
                       id[0] == '\0' ? "no id" : id);
        add_name(names, &count, name);
    }
    if (count > 0) {
        (void)snprintf(text, sizeof(text), "Not compared, only in %s: %s.",
                       when, names);
        say(t, NULL, text);
    }
}

void bl_pairing_tell(struct bl_tree *tree, json_t *into,
                     const struct bl_pairing *pairing)
{
    struct telling t = {.tree = tree,
                        .array = json_object_get(into, "answer"),
                        .pairing = pairing};
    const json_t *all = json_object_get(into, "before_after");
    if (t.array == NULL) {
        t.array = bl_tree_array(tree);
        bl_tree_put(tree, into, "answer", t.array);
    }
    for (int slower = 1; slower >= 0; slower--) {
        for (size_t i = 0; i < pairing->count; i++) {
            const struct bl_paired *paired = &pairing->item[i];
            if (changed(paired) &&
                (bl_paired_count(paired, BL_LIFE_PAIR_SLOWER) > 0) ==
                    (slower == 1)) {
                say_change(&t, paired);
            }
        }
    }
    const bool silent = answers_no_more(pairing);
    if (silent) {
        say_unknown(&t, BL_LIFE_PAIR_REASON_ONLY_THEN);
    }
    say_steady(&t);
    for (enum bl_life_pair_reason r = silent ? BL_LIFE_PAIR_REASON_ONLY_NOW
                                             : BL_LIFE_PAIR_REASON_ONLY_THEN;
         r < BL_LIFE_PAIR_REASONS; r++) {
        say_unknown(&t, r);
    }
    say_only(&t, json_object_get(all, "only_then"), "the earlier result");
    say_only(&t, json_object_get(all, "only_now"), "this trial");
}
