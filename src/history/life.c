/* SPDX-License-Identifier: MIT */
/*
 * The rows of one unit as the series that life.h looks at. One value a visit:
 * applications of a run share its state of the air, so means of runs first,
 * then the mean of these. Its random uncertainty is the scatter of the means of
 * runs over the root of their number, or, of fewer than three runs, that of the
 * applications; never less than what the applications state of themselves. The
 * tie of the clocks is as new at each visit, and not made smaller by more runs,
 * because its systematic part is not.
 */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "history/store.h"
#include "history/tell.h"
#include "report/result.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Own choice, as compare.h has it: from so many on, runs are what scatters. */
enum { RUNS_LEAST = 3 };

/* A time whose u is larger than itself is no measurement: a crossing close to
   the settled pressure, which a gain error moves by seconds. Transducers that
   stay the same would take that u out of every difference. Of small times u may
   be up to this (own choice, as a figure near 0 in docs/methods/life.md,
   no-power). */
static const double MOST_U_S = 0.1;

/* Text that stays while the life does: each once. */
struct bl_history_texts {
    char **item;
    size_t count, capacity;
};

/* n, mean and sum of squares about it (Welford 1962). */
struct mean {
    double n, mean, squares;
};

static void mean_add(struct mean *to, double value)
{
    const double off = value - to->mean;
    to->n += 1;
    to->mean += off / to->n;
    to->squares += off * (value - to->mean);
}

/* Variance of the mean; 0 from one value alone. */
static double mean_variance(const struct mean *of_values)
{
    return of_values->n < 2
               ? 0
               : of_values->squares / (of_values->n - 1) / of_values->n;
}

enum column {
    COLUMN_NAME,
    COLUMN_LEVEL,
    COLUMN_CONDITION,
    COLUMN_KIND,
    COLUMN_SHAPE,
    COLUMN_VISIT,
    COLUMN_RUN,
    COLUMN_VALUE,
    COLUMN_U_RANDOM,
    COLUMN_U_TRANSDUCER,
    COLUMN_U_CLOCK,
    COLUMN_RISE,
    COLUMN_BY_DATA,
    COLUMN_EXCLUDED,
    COLUMN_POSITION,
    COLUMN_TRANSDUCER,
    COLUMN_COMMAND_TRANSDUCER,
    COLUMN_RESPONSE_AT
};
/* In the order of the enum. */
static const char rows_sql[] =
    "SELECT figure.name, level_kpa, condition, kind, shape, visit.id, run, "
    "value, u_random, u_transducer, u_clock, rise_s, by_data, excluded, "
    "position, transducer, command_transducer, response_at_kpa "
    "FROM member JOIN visit ON visit.id = member.visit "
    "JOIN figure ON figure.member = member.id "
    "JOIN application ON application.id = figure.application "
    "WHERE unit_id = ?1 "
    "ORDER BY figure.name, level_kpa, condition, kind, shape, day, visit.id, "
    "run, number";
static const char visits_sql[] =
    "SELECT visit.id, supply_kpa, temperature_c, units_in_front, "
    "kinds_in_front, command "
    "FROM member JOIN visit ON visit.id = member.visit WHERE unit_id = ?1";

struct making {
    struct bl_history *history;
    struct bl_error *error;
    struct bl_history_life *life;
    struct bl_life_series *series; /* of the life, while it grows */
    size_t series_capacity, value_capacity;
    struct bl_life_visit *fact; /* of its visits, while they are read */
    size_t visit;               /* of the last row */
    /* The value that rows are being gathered for, and its present run. */
    const char *run; /* NULL: none yet */
    struct mean all, runs, this_run;
    struct mean random2, transducer2, clock2, rise;
    const char *position, *transducer;
    /* Rows without a value, of what they would be about. They count once that
       has a value at some visit: what was never measured is not left out. */
    struct bl_life_key empty_key;
    size_t empty;
};

/* A copy that lives as long as the life; equal texts are one. NULL: `failed`,
   or NULL was given. */
static const char *keep(struct making *m, const char *text)
{
    struct bl_history_texts *all = m->life->texts;
    if (text == NULL) {
        return NULL;
    }
    /* Few texts of a unit differ, and the latest is the likeliest. */
    for (size_t i = all->count; i > 0; i--) {
        if (strcmp(all->item[i - 1], text) == 0) {
            return all->item[i - 1];
        }
    }
    char *copy = bl_strdup(text);
    if (copy == NULL || !bl_grow(&all->item, &all->capacity, all->count + 1,
                                 sizeof(*all->item), BL_LIMIT_HISTORY_ROWS)) {
        bl_free(copy);
        return NULL;
    }
    all->item[all->count++] = copy;
    return copy;
}

static const char *column(sqlite3_stmt *row, enum column at)
{
    return (const char *)sqlite3_column_text(row, (int)at);
}

/* Where a figure is read is part of where it was measured: first air at 20 kPa
   is not that at 30. */
static const char *position_of(struct making *m, sqlite3_stmt *row,
                               const struct bl_figure_entry *figure)
{
    const char *position = column(row, COLUMN_POSITION);
    char text[BL_LIMIT_CELL_BYTES + 64];
    if (position == NULL || figure->at != BL_AT_RESPONSE_AT) {
        return keep(m, position);
    }
    (void)snprintf(text, sizeof(text), "%s, at %g kPa", position,
                   sqlite3_column_double(row, COLUMN_RESPONSE_AT));
    return keep(m, text);
}

static const char *transducers_of(struct making *m, sqlite3_stmt *row)
{
    const char *output = column(row, COLUMN_TRANSDUCER);
    const char *command = column(row, COLUMN_COMMAND_TRANSDUCER);
    char text[2 * BL_LIMIT_CELL_BYTES + 16];
    if (output == NULL || command == NULL) {
        return NULL;
    }
    (void)snprintf(text, sizeof(text), "%s; %s", output, command);
    return keep(m, text);
}

static void close_run(struct making *m)
{
    if (m->this_run.n > 0) {
        mean_add(&m->runs, m->this_run.mean);
    }
    m->this_run = (struct mean){.n = 0};
}

static void close_value(struct making *m)
{
    close_run(m);
    if (m->run == NULL) {
        return;
    }
    struct bl_life_series *series = &m->series[m->life->life.series_count - 1];
    struct bl_life_value *value =
        (struct bl_life_value *)&series->value[series->values - 1];
    const double scatter = m->runs.n >= RUNS_LEAST ? mean_variance(&m->runs)
                                                   : mean_variance(&m->all);
    const double stated = m->random2.mean / m->random2.n;
    value->value = m->runs.mean;
    value->u_random = sqrt(fmax(scatter, stated) + m->clock2.mean);
    value->u_systematic = sqrt(m->transducer2.mean);
    value->command_rise_s = m->rise.mean;
    value->position = m->position;
    value->transducer = m->transducer;
    m->run = NULL;
    m->all = m->runs = (struct mean){.n = 0};
    m->random2 = m->transducer2 = m->clock2 = m->rise = m->all;
}

/* What a row is about; false: of nothing that has a life. */
static bool key_of(struct bl_life_key *key, sqlite3_stmt *row, struct making *m)
{
    const char *name = column(row, COLUMN_NAME);
    const char *kind = column(row, COLUMN_KIND);
    const char *shape = column(row, COLUMN_SHAPE);
    *key = (struct bl_life_key){.condition =
                                    keep(m, column(row, COLUMN_CONDITION))};
    if (name == NULL || kind == NULL || shape == NULL ||
        key->condition == NULL || !bl_figure_from(name, &key->figure)) {
        return false;
    }
    if (key->figure == BL_FIGURE_LEVEL) {
        key->level_kpa = sqlite3_column_double(row, COLUMN_LEVEL);
    }
    for (key->kind = BL_KIND_FULL; key->kind != BL_KIND_UNKNOWN; key->kind--) {
        if (strcmp(bl_model_kind(key->kind), kind) == 0) {
            break;
        }
    }
    for (key->shape = BL_SHAPE_RAMP; key->shape != BL_SHAPE_UNKNOWN;
         key->shape--) {
        if (strcmp(bl_model_shape(key->shape), shape) == 0) {
            break;
        }
    }
    return key->kind != BL_KIND_UNKNOWN &&
           (bl_figure_of_output(key->figure) || key->figure == BL_FIGURE_LEVEL);
}

/* Condition is one of the kept texts, each of which is there once. */
static bool same_key(const struct bl_life_key *a, const struct bl_life_key *b)
{
    return a->figure == b->figure && a->level_kpa == b->level_kpa &&
           a->condition == b->condition && a->kind == b->kind &&
           a->shape == b->shape;
}

/* The rows without a value that were gathered are counted, or were of a figure
   that never had one. Rows come by key, so the series of theirs is the last. */
static void close_empty(struct making *m)
{
    const size_t count = m->life->life.series_count;
    if (m->empty > 0 && count > 0 &&
        same_key(&m->series[count - 1].key, &m->empty_key)) {
        m->life->left_out += m->empty;
    }
    m->empty = 0;
}

static enum bl_status memory_or_limit(struct bl_error *error)
{
    return bl_fail(error, BL_LIMIT, "",
                   "the unit has more than %u figures of one kind, or more "
                   "than memory holds",
                   BL_LIMIT_HISTORY_ROWS);
}

/* The series of a row, which is the last one or a new one. */
static enum bl_status open_series(struct making *m,
                                  const struct bl_life_key *key)
{
    struct bl_life *life = &m->life->life;
    if (life->series_count > 0 &&
        same_key(&m->series[life->series_count - 1].key, key)) {
        return BL_OK;
    }
    close_value(m);
    if (!same_key(&m->empty_key, key)) {
        close_empty(m);
    }
    if (!bl_grow(&m->series, &m->series_capacity, life->series_count + 1,
                 sizeof(*m->series), BL_LIMIT_HISTORY_ROWS)) {
        return memory_or_limit(m->error);
    }
    life->series = m->series;
    m->series[life->series_count++] =
        (struct bl_life_series){.key = *key, .by_air = false};
    m->value_capacity = 0;
    return BL_OK;
}

/* The value of a row's visit, which is the last one or a new one. */
static enum bl_status open_value(struct making *m, size_t visit,
                                 sqlite3_stmt *row)
{
    struct bl_life_series *series = &m->series[m->life->life.series_count - 1];
    if (m->run != NULL && series->value[series->values - 1].visit == visit) {
        return BL_OK;
    }
    close_value(m);
    struct bl_life_value *value = (struct bl_life_value *)series->value;
    if (!bl_grow(&value, &m->value_capacity, series->values + 1, sizeof(*value),
                 BL_LIMIT_HISTORY_ROWS)) {
        return memory_or_limit(m->error);
    }
    series->value = value;
    value[series->values++] = (struct bl_life_value){.visit = visit};
    m->position = position_of(m, row, bl_figure_entry(series->key.figure));
    m->transducer = transducers_of(m, row);
    return BL_OK;
}

static double square(double value)
{
    return value * value;
}

/* Rows of a key come by day, so its series is there if any visit before gave a
   value. */
static void take_empty(struct making *m, const struct bl_life_key *key,
                       size_t visit, bool excluded)
{
    const size_t count = m->life->life.series_count;
    if (!same_key(&m->empty_key, key)) {
        close_empty(m);
        m->empty_key = *key;
    }
    m->empty++;
    if (count > 0 && !excluded && visit + 1 == m->life->list->visits &&
        same_key(&m->series[count - 1].key, key)) {
        m->series[count - 1].silent = true;
    }
}

/* Is its uncertainty known, and small enough to say something? */
static bool is_measured(sqlite3_stmt *row)
{
    const double random = bl_store_real(row, COLUMN_U_RANDOM);
    const double transducer = bl_store_real(row, COLUMN_U_TRANSDUCER);
    const double clock = bl_store_real(row, COLUMN_U_CLOCK);
    const double u2 = square(random) +
                      (isnan(transducer) ? 0 : square(transducer)) +
                      (isnan(clock) ? 0 : square(clock));
    return sqrt(u2) <=
           fmax(MOST_U_S, fabs(sqlite3_column_double(row, COLUMN_VALUE)));
}

static enum bl_status take_row(struct making *m, size_t visit,
                               sqlite3_stmt *row)
{
    struct bl_life_key key;
    const double random = bl_store_real(row, COLUMN_U_RANDOM);
    const double clock = bl_store_real(row, COLUMN_U_CLOCK);
    if (!key_of(&key, row, m)) {
        return BL_OK;
    }
    const bool excluded = sqlite3_column_int(row, COLUMN_EXCLUDED) != 0;
    if (isnan(bl_store_real(row, COLUMN_VALUE))) {
        take_empty(m, &key, visit, excluded);
        return BL_OK;
    }
    if (excluded || !is_measured(row)) {
        m->life->left_out++;
        return BL_OK;
    }
    enum bl_status status = open_series(m, &key);
    if (status == BL_OK) {
        status = open_value(m, visit, row);
    }
    const char *run = keep(m, column(row, COLUMN_RUN));
    if (status != BL_OK || run == NULL) {
        return status == BL_OK ? bl_fail_memory(m->error) : status;
    }
    if (m->run != NULL && m->run != run) {
        close_run(m);
    }
    m->run = run;
    mean_add(&m->all, sqlite3_column_double(row, COLUMN_VALUE));
    mean_add(&m->this_run, sqlite3_column_double(row, COLUMN_VALUE));
    mean_add(&m->random2, square(random));
    mean_add(&m->clock2, isnan(clock) ? 0 : square(clock));
    mean_add(&m->transducer2, square(bl_store_real(row, COLUMN_U_TRANSDUCER)));
    mean_add(&m->rise, bl_store_real(row, COLUMN_RISE));
    struct bl_life_series *series = &m->series[m->life->life.series_count - 1];
    series->by_air =
        series->by_air || sqlite3_column_int(row, COLUMN_BY_DATA) == 0;
    return BL_OK;
}

static size_t visit_index(const struct bl_history_list *list, int64_t number)
{
    size_t i = 0;
    while (i < list->visits && list->visit[i].number != number) {
        i++;
    }
    return i;
}

static enum bl_status read_row(void *user, sqlite3_stmt *row)
{
    struct making *m = user;
    const struct bl_history_list *list = m->life->list;
    const int64_t number = sqlite3_column_int64(row, COLUMN_VISIT);
    if (m->visit >= list->visits || list->visit[m->visit].number != number) {
        m->visit = visit_index(list, number);
    }
    return m->visit < list->visits ? take_row(m, m->visit, row) : BL_OK;
}

static enum bl_status make_visits(struct making *m)
{
    struct bl_life *life = &m->life->life;
    const size_t most = m->life->list->visits;
    struct bl_life_visit *visit = bl_alloc(most, sizeof(*visit));
    life->visit = m->fact = visit;
    if (visit == NULL) {
        return bl_fail_memory(m->error);
    }
    for (life->visits = 0; life->visits < most; life->visits++) {
        visit[life->visits] = (struct bl_life_visit){
            m->life->list->visit[life->visits].day, NAN, NAN, NAN, NULL, NULL};
    }
    return BL_OK;
}

static enum bl_status read_visit(void *user, sqlite3_stmt *row)
{
    struct making *m = user;
    const size_t at = visit_index(m->life->list, sqlite3_column_int64(row, 0));
    if (at < m->life->list->visits) {
        struct bl_life_visit *visit = &m->fact[at];
        visit->supply_kpa = bl_store_real(row, 1);
        visit->temperature_c = bl_store_real(row, 2);
        visit->units_in_front = bl_store_real(row, 3);
        visit->kinds_in_front =
            keep(m, (const char *)sqlite3_column_text(row, 4));
        visit->command = keep(m, (const char *)sqlite3_column_text(row, 5));
    }
    return BL_OK;
}

/* As a reader wants them: by condition, hard applications first, then figures
   in the order of time. */
static int by_key(const void *a, const void *b)
{
    const struct bl_life_key *x = &((const struct bl_life_series *)a)->key;
    const struct bl_life_key *y = &((const struct bl_life_series *)b)->key;
    const int condition = strcmp(x->condition, y->condition);
    return condition != 0         ? condition
           : x->kind != y->kind   ? (x->kind < y->kind ? 1 : -1)
           : x->shape != y->shape ? (x->shape < y->shape ? -1 : 1)
           : x->figure != y->figure
               ? (x->figure < y->figure ? -1 : 1)
               : (x->level_kpa > y->level_kpa) - (x->level_kpa < y->level_kpa);
}

/* The file's part, of one state of it: visits, their facts and their rows. */
static enum bl_status read_unit(struct making *m, const char *unit_id)
{
    const bool own = sqlite3_get_autocommit(m->history->db) != 0;
    enum bl_status status =
        own ? bl_store_run(m->history, "BEGIN", m->error) : BL_OK;
    if (status == BL_OK) {
        status = bl_history_list_create(&m->life->list, m->history, unit_id,
                                        m->error);
    }
    if (status == BL_OK) {
        status = make_visits(m);
    }
    if (status == BL_OK) {
        status = bl_store_each(m->history, visits_sql, unit_id, read_visit, m,
                               m->error);
    }
    if (status == BL_OK) {
        status =
            bl_store_each(m->history, rows_sql, unit_id, read_row, m, m->error);
    }
    close_value(m);
    close_empty(m);
    if (own) {
        bl_store_undo(m->history);
    }
    return status;
}

enum bl_status bl_history_life_create(struct bl_history_life **out,
                                      struct bl_history *history,
                                      const char *unit_id,
                                      struct bl_error *error)
{
    return bl_history_life_with(out, history, unit_id, NULL, error);
}

enum bl_status bl_history_life_with(struct bl_history_life **out,
                                    struct bl_history *history,
                                    const char *unit_id,
                                    const struct bl_life_options *options,
                                    struct bl_error *error)
{
    struct making m = {.history = history,
                       .error = error,
                       .life = bl_alloc(1, sizeof(*m.life))};
    *out = NULL;
    if (m.life == NULL ||
        (m.life->texts = bl_alloc(1, sizeof(*m.life->texts))) == NULL) {
        bl_free(m.life);
        return bl_fail_memory(error);
    }
    const uint64_t refused = bl_alloc_refused();
    enum bl_status status = read_unit(&m, unit_id);
    if (status == BL_OK && bl_alloc_refused() != refused) {
        status = bl_fail_memory(error);
    }
    if (status == BL_OK) {
        if (m.life->life.series_count > 0) {
            qsort(m.series, m.life->life.series_count, sizeof(*m.series),
                  by_key);
        }
        struct bl_error own = {.status = BL_NOMEM};
        m.life->lives = bl_life_create(&m.life->life, options,
                                       error == NULL ? &own : error);
        status = m.life->lives != NULL ? BL_OK
                 : error == NULL       ? own.status
                                       : error->status;
    }
    if (status != BL_OK) {
        bl_history_life_destroy(m.life);
        return status;
    }
    *out = m.life;
    return BL_OK;
}

void bl_history_life_destroy(struct bl_history_life *life)
{
    if (life == NULL) {
        return;
    }
    bl_history_list_destroy(life->list);
    bl_life_destroy(life->lives);
    for (size_t i = 0; i < life->life.series_count; i++) {
        bl_free((void *)life->life.series[i].value);
    }
    bl_free((void *)life->life.series);
    bl_free((void *)life->life.visit);
    for (size_t i = 0; i < life->texts->count; i++) {
        bl_free(life->texts->item[i]);
    }
    bl_free(life->texts->item);
    bl_free(life->texts);
    bl_free(life);
}
