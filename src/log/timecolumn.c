/* SPDX-License-Identifier: MIT */
/*
 * Which column holds the time and what its cells count. A column named like a
 * time wins over one that looks like it; dates and clocks win over numbers.
 */
#include "log/form.h"

#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

enum { ROWS_LOOKED_AT = 250, COLUMNS_LOOKED_AT = 64, NAME_BYTES = 512 };

/* What the cells of one column are. */
struct column_look {
    size_t rows, filled, numbers, clocks, stamps, dates;
    size_t up, down, equal;
    double first, last, step; /* step: median of those that are not 0 */
    bool whole, first_filled, named, month_first;
};

static void look_at_number(struct column_look *look, double value,
                           double *steps, size_t *count)
{
    if (look->numbers == 0) {
        look->first = value;
    } else {
        const double step = value - look->last;
        look->up += step > 0;
        look->down += step < 0;
        look->equal += step == 0;
        if (step != 0) {
            steps[(*count)++] = fabs(step);
        }
    }
    look->whole = look->whole && value == floor(value);
    look->last = value;
    look->numbers++;
}

static void look_at_cell(struct column_look *look, const struct log_cell *cell,
                         char decimal, double *steps, size_t *count)
{
    double value;
    int64_t ns;
    int64_t resolution;
    bool zoned;
    if (look->rows == 0) {
        look->first_filled = cell->length > 0;
    }
    look->rows++;
    if (cell->length == 0) {
        return;
    }
    look->filled++;
    if (bl_log_value(cell, decimal, &value) <= LOG_GROUPED) {
        look_at_number(look, value, steps, count);
    } else if (bl_log_time_clock(cell->text, cell->length, &ns, &resolution)) {
        look->clocks++;
    } else if (bl_log_time_iso(cell->text, cell->length, false, &ns,
                               &resolution, &zoned) ||
               bl_log_time_iso(cell->text, cell->length, true, &ns, &resolution,
                               &zoned)) {
        look->stamps++;
    } else if (bl_log_time_date(cell->text, cell->length, false, &ns) ||
               bl_log_time_date(cell->text, cell->length, true, &ns)) {
        look->dates++;
    }
    size_t date_length = 0;
    while (date_length < cell->length && cell->text[date_length] != ' ' &&
           cell->text[date_length] != 'T') {
        date_length++;
    }
    look->month_first =
        look->month_first || bl_log_date_month_first(cell->text, date_length);
}

static struct column_look look_at(const struct log_head *head,
                                  const struct log_dialect *dialect,
                                  size_t column)
{
    struct column_look look = {.whole = true};
    double steps[ROWS_LOOKED_AT + 1];
    size_t count = 0;
    for (size_t i = dialect->first_index;
         i < head->count && look.rows < ROWS_LOOKED_AT; i++) {
        struct log_cell cell;
        if (!bl_log_head_blank(head, i) &&
            bl_log_head_cell(head, i, dialect->delimiter, column, &cell)) {
            look_at_cell(&look, &cell, dialect->decimal, steps, &count);
        }
    }
    look.step = count > 0 ? bl_median(steps, count) : 0;
    char name[NAME_BYTES];
    bl_log_header_text(head, dialect, dialect->names_row, column, name,
                       sizeof(name));
    look.named = bl_log_name_is_time(name);
    return look;
}

static bool most(size_t part, size_t whole)
{
    return part > 0 && part * 10 >= whole * 8;
}

/* A time written once, in the first row. */
static bool is_once(const struct column_look *look)
{
    return look->rows > 2 && look->first_filled && look->filled == 1 &&
           (look->clocks == 1 || look->stamps == 1 ||
            (look->numbers == 1 && look->named));
}

static bool is_written(const struct column_look *look)
{
    return most(look->clocks, look->rows) || most(look->stamps, look->rows);
}

static bool advances(const struct column_look *look)
{
    const size_t steps = look->up + look->down + look->equal;
    return most(look->numbers, look->rows) && look->up > 0 &&
           (steps < 10 ? look->down == 0 : look->down * 10 <= steps);
}

/* How likely this column is the time; 0: it is not. */
static int rank(const struct column_look *look, size_t column)
{
    if (look->named && (is_written(look) || is_once(look))) {
        return 6;
    }
    if (look->named && most(look->numbers, look->rows)) {
        return 5;
    }
    if (most(look->stamps, look->rows)) {
        return 4;
    }
    if (most(look->clocks, look->rows) || is_once(look)) {
        return 3;
    }
    return column < 2 && advances(look) ? 2 - (column > 0) : 0;
}

static int64_t best_column(const struct log_head *head,
                           const struct log_dialect *dialect)
{
    int64_t best = -1;
    int best_rank = 0;
    for (size_t c = 0; c < dialect->columns && c < COLUMNS_LOOKED_AT; c++) {
        const struct column_look look = look_at(head, dialect, c);
        const int found = rank(&look, c);
        if (found > best_rank) {
            best_rank = found;
            best = (int64_t)c;
        }
    }
    return best;
}

static enum bl_status choose_column(const struct log_head *head,
                                    const struct bl_log_options *options,
                                    struct log_dialect *dialect,
                                    const char *source, struct bl_error *error)
{
    dialect->time_column = -1;
    if (options->time == NULL) {
        dialect->time_column = best_column(head, dialect);
        return BL_OK;
    }
    if (strcmp(options->time, "none") == 0) {
        return BL_OK;
    }
    dialect->time_column = bl_log_head_column(head, dialect, options->time);
    if (dialect->time_column >= 0) {
        return BL_OK;
    }
    return bl_fail_line(error, BL_FORMAT, source, dialect->names_row,
                        "expected %s column '%s' for the time, found %s",
                        dialect->time_column == -2 ? "one" : "a", options->time,
                        dialect->time_column == -2 ? "several" : "none");
}

static enum log_form form_of(const struct log_head *head,
                             struct log_dialect *dialect,
                             const struct column_look *look)
{
    if (look->stamps > 0 && look->stamps >= look->clocks) {
        return LOG_FORM_ISO;
    }
    if (look->clocks > 0) {
        return LOG_FORM_CLOCK;
    }
    if (look->numbers == 0) {
        return LOG_FORM_UNKNOWN;
    }
    char unit[NAME_BYTES];
    char name[NAME_BYTES];
    const size_t column = (size_t)dialect->time_column;
    bl_log_column_unit(head, dialect, column, unit, sizeof(unit));
    bl_log_header_text(head, dialect, dialect->names_row, column, name,
                       sizeof(name));
    if (look->whole && unit[0] == '\0' && dialect->rate_hz > 0 &&
        (bl_log_name_is_index(name) || (look->step == 1 && !look->named))) {
        return LOG_FORM_INDEX;
    }
    const size_t length = strlen(name);
    for (int i = 0; unit[0] == '\0' && i < 4; i++) {
        static const char *const ending[] = {"_s", "_ms", "_us", "_ns"};
        const size_t end = strlen(ending[i]);
        if (length > end && strcmp(name + length - end, ending[i]) == 0) {
            memcpy(unit, ending[i] + 1, end);
        }
    }
    if (unit[0] == '\0' && bl_log_name_is_index(name)) {
        return LOG_FORM_INDEX;
    }
    return bl_log_numeric_form(unit, look->first, look->last, look->step,
                               look->whole, &dialect->unit_guessed);
}

static void find_date(const struct log_head *head,
                      const struct bl_log_options *options,
                      struct log_dialect *dialect)
{
    dialect->date_column = -1;
    if (options->date != NULL) {
        if (bl_log_time_date(options->date, strlen(options->date), false,
                             &dialect->date_days)) {
            dialect->dated = true;
            return;
        }
        dialect->date_column = bl_log_head_column(head, dialect, options->date);
    }
    if (dialect->form != LOG_FORM_CLOCK) {
        dialect->date_column = -1;
        return;
    }
    for (size_t c = 0; dialect->date_column < 0 && c < dialect->columns &&
                       c < COLUMNS_LOOKED_AT;
         c++) {
        const struct column_look look = look_at(head, dialect, c);
        if (most(look.dates, look.rows) ||
            (dialect->once && look.dates == 1 && look.first_filled)) {
            dialect->date_column = (int64_t)c;
        }
    }
    if (dialect->date_column >= 0) {
        dialect->month_first =
            look_at(head, dialect, (size_t)dialect->date_column).month_first;
    }
}

/* Median interval and finest step of the first rows. */
static void measure(const struct log_head *head, struct log_dialect *dialect)
{
    double steps[ROWS_LOOKED_AT + 1];
    size_t count = 0;
    int64_t last_ns = 0;
    bool any = false;
    dialect->resolution_ns = 0;
    for (size_t i = dialect->first_index;
         i < head->count && count < ROWS_LOOKED_AT; i++) {
        struct log_cell time;
        struct log_cell date;
        int64_t ns;
        int64_t resolution;
        if (!bl_log_head_cell(head, i, dialect->delimiter,
                              (size_t)dialect->time_column, &time) ||
            (dialect->date_column >= 0 &&
             !bl_log_head_cell(head, i, dialect->delimiter,
                               (size_t)dialect->date_column, &date)) ||
            !bl_log_stamp(dialect, &time,
                          dialect->date_column >= 0 ? &date : NULL, &ns,
                          &resolution)) {
            continue;
        }
        /* Stamps may lie at both ends of 64 bits: that is no interval. */
        const uint64_t step_ns = (uint64_t)ns - (uint64_t)last_ns;
        if (any && ns > last_ns && step_ns <= BL_LIMIT_TIME_NS) {
            steps[count++] = (double)step_ns;
        }
        if (!any || resolution < dialect->resolution_ns) {
            dialect->resolution_ns = resolution;
        }
        any = true;
        last_ns = ns;
    }
    dialect->interval_ns = count > 0 ? (int64_t)bl_median(steps, count) : 0;
}

static enum bl_status check_rate(struct log_dialect *dialect,
                                 const char *source, struct bl_error *error)
{
    if (dialect->rate_hz > 0) {
        dialect->interval_ns = (int64_t)(1e9 / dialect->rate_hz + 0.5);
        dialect->resolution_ns = 1;
        return BL_OK;
    }
    return bl_fail_line(
        error, BL_FORMAT, source, dialect->first_row,
        "no time: expected a column of times, or a sampling rate for %s; state "
        "time or rate: [log] of a trial file, --time and --rate of survey",
        dialect->once ? "the one time in the first row"
                      : "rows that are "
                        "counted");
}

/* A named column of equal or falling numbers is no time. */
static enum bl_status check_advance(const struct column_look *look,
                                    struct log_dialect *dialect,
                                    const char *source, struct bl_error *error)
{
    const char *fault = NULL;
    if (look->numbers > 2 && look->up == 0 && look->down == 0) {
        fault = "all stamps are equal";
    } else if (look->numbers > 2 && look->down > look->up) {
        fault = "stamps run backwards";
    }
    if (fault == NULL) {
        return BL_OK;
    }
    return bl_fail_line(error, BL_FORMAT, source, dialect->first_row,
                        "expected times that advance in column %lld, found "
                        "that %s in the first %zu rows",
                        (long long)dialect->time_column + 1, fault, look->rows);
}

static void settle_zone(const struct bl_log_options *options,
                        struct log_dialect *dialect,
                        const struct log_head *head)
{
    const enum log_form form = dialect->form;
    dialect->zone_given =
        options->timezone != NULL &&
        bl_log_time_zone(options->timezone, strlen(options->timezone),
                         &dialect->zone_s);
    struct log_cell cell;
    double value;
    const bool serial =
        form == LOG_FORM_DAY &&
        bl_log_head_cell(head, dialect->first_index, dialect->delimiter,
                         (size_t)dialect->time_column, &cell) &&
        bl_log_value(&cell, dialect->decimal, &value) <= LOG_GROUPED &&
        value >= 20000;
    dialect->absolute =
        form == LOG_FORM_ISO || serial ||
        (form >= LOG_FORM_EPOCH_S && form <= LOG_FORM_EPOCH_NS) ||
        ((form == LOG_FORM_CLOCK || form == LOG_FORM_DAY) &&
         (dialect->dated || dialect->date_column >= 0));
    if (form == LOG_FORM_DAY && serial) {
        dialect->dated = false;
    }
    int64_t ns;
    int64_t resolution;
    bool zoned = false;
    dialect->zone_missing =
        dialect->absolute && !dialect->zone_given &&
        (form == LOG_FORM_CLOCK || form == LOG_FORM_DAY ||
         (form == LOG_FORM_ISO &&
          bl_log_head_cell(head, dialect->first_index, dialect->delimiter,
                           (size_t)dialect->time_column, &cell) &&
          bl_log_time_iso(cell.text, cell.length, dialect->month_first, &ns,
                          &resolution, &zoned) &&
          !zoned));
}

enum bl_status bl_log_decide_time(const struct log_head *head,
                                  const struct bl_log_options *options,
                                  struct log_dialect *dialect,
                                  const char *source, struct bl_error *error)
{
    enum bl_status status =
        choose_column(head, options, dialect, source, error);
    dialect->date_column = -1;
    if (status != BL_OK) {
        return status;
    }
    if (dialect->time_column < 0) {
        dialect->form = LOG_FORM_INDEX;
        return check_rate(dialect, source, error);
    }
    const struct column_look look =
        look_at(head, dialect, (size_t)dialect->time_column);
    dialect->once = is_once(&look);
    dialect->month_first = look.month_first;
    dialect->form = options->time_form != NULL
                        ? bl_log_form_by_name(options->time_form)
                        : form_of(head, dialect, &look);
    if (dialect->form == LOG_FORM_UNKNOWN) {
        return bl_fail_line(error, BL_FORMAT, source, dialect->first_row,
                            "expected times in column %lld, found none",
                            (long long)dialect->time_column + 1);
    }
    find_date(head, options, dialect);
    settle_zone(options, dialect, head);
    if (dialect->form == LOG_FORM_INDEX || dialect->once) {
        return check_rate(dialect, source, error);
    }
    status = check_advance(&look, dialect, source, error);
    if (status == BL_OK) {
        measure(head, dialect);
    }
    return status;
}

static bool numeric_stamp(const struct log_dialect *dialect,
                          const struct log_cell *time, int64_t *time_ns,
                          int64_t *resolution_ns)
{
    if (bl_log_time_number(time->text, time->length, dialect->decimal,
                           dialect->form, time_ns, resolution_ns)) {
        return true;
    }
    char plain[64];
    size_t length;
    return bl_log_group_fits(dialect, time, 0) &&
           bl_log_ungroup(time->text, time->length, dialect->decimal, plain,
                          &length) &&
           bl_log_time_number(plain, length, dialect->decimal, dialect->form,
                              time_ns, resolution_ns);
}

bool bl_log_stamp(const struct log_dialect *dialect,
                  const struct log_cell *time, const struct log_cell *date,
                  int64_t *time_ns, int64_t *resolution_ns)
{
    bool zoned = false;
    bool good;
    if (dialect->form == LOG_FORM_INDEX) {
        int64_t index;
        *resolution_ns = 1;
        return bl_log_time_index(time->text, time->length, dialect->decimal,
                                 &index) &&
               bl_log_index_ns(index, dialect->rate_hz, time_ns);
    }
    if (dialect->form == LOG_FORM_ISO) {
        good = bl_log_time_iso(time->text, time->length, dialect->month_first,
                               time_ns, resolution_ns, &zoned);
    } else if (dialect->form == LOG_FORM_CLOCK) {
        good =
            bl_log_time_clock(time->text, time->length, time_ns, resolution_ns);
    } else {
        good = numeric_stamp(dialect, time, time_ns, resolution_ns);
        zoned = dialect->form != LOG_FORM_DAY;
    }
    if (good && date != NULL) {
        int64_t days;
        good = bl_log_time_date(date->text, date->length, dialect->month_first,
                                &days);
        *time_ns += good ? days * LOG_DAY_NS : 0;
    } else if (good && dialect->dated && !zoned &&
               dialect->form != LOG_FORM_ISO) {
        *time_ns += dialect->date_days * LOG_DAY_NS;
    }
    if (good && dialect->absolute && !zoned) {
        *time_ns -= dialect->zone_s * LOG_SECOND_NS;
    }
    return good;
}
