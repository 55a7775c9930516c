/* SPDX-License-Identifier: MIT */
/*
 * Every figure as a row of the CSV of docs/analysis.md. The rows of one trial
 * are those that `measure --csv --long` writes of its units that have an id; a
 * column stands at the end for each label of any unit.
 */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "history/store.h"
#include "report/result.h"

#include <string.h>

enum column {
    COLUMN_TRIAL,
    COLUMN_DATE,
    COLUMN_RUN,
    COLUMN_BLOCK,
    COLUMN_CONDITION,
    COLUMN_APPLICATION,
    COLUMN_COMBINATION,
    COLUMN_KIND,
    COLUMN_SHAPE,
    COLUMN_EXCLUDED,
    COLUMN_UNIT,
    COLUMN_NAME,
    COLUMN_FIGURE,
    COLUMN_LEVEL,
    COLUMN_VALUE,
    COLUMN_U_RANDOM,
    COLUMN_U_COMMON,
    COLUMN_FLAGS,
    COLUMN_REASON,
    COLUMN_PLACE,
    COLUMN_UNIT_ID,
    COLUMN_RESPONSE_AT,
    COLUMN_MEMBER,
    COLUMN_VISIT
};
/* In the order of the enum. */
static const char rows_sql[] =
    "SELECT trial, date, run, block, condition, number, combination, kind, "
    "shape, excluded, unit, member.name, figure.name, level_kpa, value, "
    "u_random, u_common, flags, reason, visit.place, unit_id, response_at_kpa, "
    "member.id, visit.id FROM visit "
    "JOIN application ON application.visit = visit.id "
    "JOIN figure ON figure.application = application.id "
    "JOIN member ON member.id = figure.member "
    "WHERE ?1 IS NULL OR unit_id = ?1 "
    "ORDER BY day, visit.id, application.id, member.id, figure.place";
static const char names_sql[] =
    "SELECT DISTINCT name FROM label WHERE ?1 IS NULL OR member IN "
    "(SELECT id FROM member WHERE unit_id = ?1) ORDER BY name";
static const char labels_sql[] =
    "SELECT member, label.name, value FROM member JOIN label ON label.member = "
    "member.id WHERE visit = ?1";

struct label {
    int64_t member;
    char *name, *value;
};
struct exporting {
    struct bl_history *history;
    struct bl_output *output;
    struct bl_error *error;
    char **name; /* of labels */
    size_t names, name_capacity;
    struct label *label; /* of the present visit */
    size_t labels, label_capacity;
    int64_t visit;
    sqlite3_stmt *ask_labels;
    size_t rows;
};

static const char *text(sqlite3_stmt *row, enum column at)
{
    const char *value = (const char *)sqlite3_column_text(row, (int)at);
    return value == NULL ? "" : value;
}

static void cells(struct bl_output *output, sqlite3_stmt *row, enum column from,
                  enum column to)
{
    for (enum column i = from; i <= to; i++) {
        bl_csv_cell(output, text(row, i));
        bl_output_text(output, ",");
    }
}

static void forget_labels(struct exporting *e)
{
    for (size_t i = 0; i < e->labels; i++) {
        bl_free(e->label[i].name);
        bl_free(e->label[i].value);
    }
    e->labels = 0;
}

static enum bl_status read_labels(struct exporting *e, int64_t visit)
{
    forget_labels(e);
    (void)sqlite3_reset(e->ask_labels);
    enum bl_status status =
        bl_store_bind(e->history, e->ask_labels, e->error, "i", visit);
    int step = 1;
    while (status == BL_OK &&
           (step = bl_store_step(e->history, e->ask_labels, e->error)) == 1) {
        if (!bl_grow(&e->label, &e->label_capacity, e->labels + 1,
                     sizeof(*e->label), BL_LIMIT_HISTORY_ROWS)) {
            return bl_fail_memory(e->error);
        }
        struct label *label = &e->label[e->labels++];
        *label =
            (struct label){sqlite3_column_int64(e->ask_labels, 0), NULL, NULL};
        const bool name = bl_store_text(e->ask_labels, 1, &label->name);
        const bool value = bl_store_text(e->ask_labels, 2, &label->value);
        status = name && value ? BL_OK : bl_fail_memory(e->error);
    }
    e->visit = visit;
    return step < 0 ? (enum bl_status)step : status;
}

static void label_cell(const struct exporting *e, int64_t member,
                       const char *name)
{
    bl_output_text(e->output, ",");
    for (size_t i = 0; i < e->labels; i++) {
        const struct label *label = &e->label[i];
        if (label->member == member && strcmp(label->name, name) == 0) {
            bl_csv_cell(e->output, label->value == NULL ? "" : label->value);
        }
    }
}

static enum bl_status write_row(void *user, sqlite3_stmt *row)
{
    struct exporting *e = user;
    struct bl_output *output = e->output;
    const int64_t visit = sqlite3_column_int64(row, COLUMN_VISIT);
    const int64_t member = sqlite3_column_int64(row, COLUMN_MEMBER);
    if (e->visit != visit) {
        const enum bl_status status = read_labels(e, visit);
        if (status != BL_OK) {
            return status;
        }
    }
    cells(output, row, COLUMN_TRIAL, COLUMN_SHAPE);
    bl_output_text(
        output, sqlite3_column_int(row, COLUMN_EXCLUDED) != 0 ? "yes," : "no,");
    cells(output, row, COLUMN_UNIT, COLUMN_FIGURE);
    bl_csv_number(output, bl_store_real(row, COLUMN_LEVEL));
    bl_csv_number(output, bl_store_real(row, COLUMN_VALUE));
    bl_output_text(output, "s,");
    bl_csv_number(output, bl_store_real(row, COLUMN_U_RANDOM));
    bl_csv_number(output, bl_store_real(row, COLUMN_U_COMMON));
    cells(output, row, COLUMN_FLAGS, COLUMN_REASON);
    bl_csv_shown_as(output, bl_store_real(row, COLUMN_RESPONSE_AT),
                    text(row, COLUMN_FIGURE));
    bl_output_text(output, ",");
    bl_csv_cell(output, text(row, COLUMN_PLACE));
    bl_output_text(output, ",");
    bl_csv_cell(output, text(row, COLUMN_UNIT_ID));
    for (size_t i = 0; i < e->names; i++) {
        label_cell(e, member, e->name[i]);
    }
    bl_output_text(output, "\n");
    e->rows++;
    return BL_OK;
}

static enum bl_status take_name(void *user, sqlite3_stmt *row)
{
    struct exporting *e = user;
    if (!bl_grow(&e->name, &e->name_capacity, e->names + 1, sizeof(*e->name),
                 BL_LIMIT_HISTORY_ROWS) ||
        !bl_store_text(row, 0, &e->name[e->names])) {
        return bl_fail_memory(e->error);
    }
    e->names++;
    return BL_OK;
}

enum bl_status bl_history_export(struct bl_history *history,
                                 const char *unit_id, struct bl_output *output,
                                 struct bl_error *error)
{
    struct exporting e = {.history = history, .output = output, .error = error};
    /* One state of the file for all of it. */
    enum bl_status status = bl_store_run(history, "BEGIN", error);
    if (status == BL_OK) {
        status =
            bl_store_each(history, names_sql, unit_id, take_name, &e, error);
    }
    if (status == BL_OK) {
        status = bl_store_prepare(&e.ask_labels, history, labels_sql, error);
    }
    if (status == BL_OK) {
        bl_output_format(output, "%s,place,unit_id", bl_csv_long_head);
        for (size_t i = 0; i < e.names; i++) {
            bl_output_text(output, ",");
            bl_output_text(output, "label.");
            bl_csv_cell(output, e.name[i]);
        }
        bl_output_text(output, "\n");
        status =
            bl_store_each(history, rows_sql, unit_id, write_row, &e, error);
    }
    (void)sqlite3_finalize(e.ask_labels);
    bl_store_undo(history);
    forget_labels(&e);
    bl_free(e.label);
    for (size_t i = 0; i < e.names; i++) {
        bl_free(e.name[i]);
    }
    bl_free(e.name);
    if (status == BL_OK && unit_id != NULL && e.rows == 0) {
        status = bl_store_no_unit(history, unit_id, error);
    }
    return status;
}
