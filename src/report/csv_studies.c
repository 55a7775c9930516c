/* SPDX-License-Identifier: MIT */
/* Limits, cost and prediction as CSV (RFC 4180), each with a head of its own;
   an empty cell where nothing is known. */
#include "report/result.h"
#include "report/words.h"

#include <math.h>

struct columns {
    const char *const *text;
    size_t texts;
    const char *const *count;
    size_t counts;
    const char *const *number;
    size_t numbers;
    const char *const *last; /* text behind the numbers */
    size_t lasts;
    const char *(*shown_as)(const json_t *row); /* one more cell; NULL: none */
};

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static void names(struct bl_output *output, const char *const *name,
                  size_t count, bool end)
{
    for (size_t i = 0; i < count; i++) {
        bl_output_format(output, "%s%s", name[i],
                         end && i + 1 == count ? "" : ",");
    }
}

static void head(const struct bl_result *result, struct bl_output *output,
                 const struct columns *c)
{
    names(output, c->text, c->texts, false);
    names(output, c->count, c->counts, false);
    names(output, c->number, c->numbers, false);
    names(output, c->last, c->lasts, c->shown_as == NULL);
    bl_output_text(output, c->shown_as == NULL ? "" : "shown_as");
    bl_csv_identity_head(result, output, false);
}

static void row(const struct bl_result *result, struct bl_output *output,
                const struct columns *c, const json_t *object, const char *unit)
{
    for (size_t i = 0; i < c->texts; i++) {
        bl_csv_text(output, object, c->text[i]);
    }
    for (size_t i = 0; i < c->counts; i++) {
        bl_output_format(
            output, "%llu,",
            (unsigned long long)bl_tree_get_count(object, c->count[i]));
    }
    for (size_t i = 0; i < c->numbers; i++) {
        bl_csv_number(output, bl_tree_get_number(object, c->number[i]));
    }
    for (size_t i = 0; i < c->lasts; i++) {
        if (i + 1 < c->lasts) {
            bl_csv_text(output, object, c->last[i]);
        } else {
            bl_csv_cell(output, bl_tree_get_text(object, c->last[i]));
        }
    }
    if (c->shown_as != NULL) {
        bl_output_format(output, ",%s", c->shown_as(object));
    }
    bl_csv_identity(result, output, unit, false);
}

/* The verdict as people read it: of a published limit it is no certificate. */
static const char *verdict_words(const json_t *row)
{
    static const struct bl_coded published[] = {{"inside", "below the number"},
                                                {"outside", "above the number"},
                                                {NULL, "cannot be compared"}};
    static const struct bl_coded own[] = {{"not-decided", "not shown"},
                                          {NULL, NULL}};
    return bl_coded_words(bl_tree_get_bool(row, "indicative") ? published : own,
                          bl_tree_get_text(row, "verdict"));
}

void bl_csv_limits(const struct bl_result *result, struct bl_output *output)
{
    static const char *const texts[] = {
        "kind", "limit_name", "figure", "regulation", "clause", "class",
        "from", "to",         "run",    "unit",       "name"};
    static const char *const counts[] = {"n", "bounds", "without"};
    static const char *const numbers[] = {"kpa", "limit", "low", "high", "u"};
    static const char *const last[] = {
        "limit_unit", "verdict",           "reason", "rounding", "source",
        "confidence", "conditions_not_met"};
    static const struct columns c = {
        texts,          COUNT(texts), counts,      COUNT(counts), numbers,
        COUNT(numbers), last,         COUNT(last), verdict_words};
    const json_t *all = json_object_get(result->root, "limits");
    head(result, output, &c);
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *limit = json_array_get(all, i);
        row(result, output, &c, limit, bl_tree_get_text(limit, "unit"));
    }
}

void bl_csv_predict(const struct bl_result *result, struct bl_output *output)
{
    static const char *const of_unit[] = {"run", "unit", "name"};
    static const char *const texts[] = {"kind", "shape", "figure"};
    static const char *const counts[] = {
        "n", "bounds", "without", "inside", "later", "earlier", "implausible"};
    static const char *const numbers[] = {"low_s", "high_s", "measured_s",
                                          "u_s"};
    static const char *const last[] = {"verdict", "reason"};
    static const struct columns c = {
        texts,          COUNT(texts), counts,      COUNT(counts), numbers,
        COUNT(numbers), last,         COUNT(last), NULL};
    const json_t *all = json_object_get(result->root, "predict");
    names(output, of_unit, COUNT(of_unit), false);
    head(result, output, &c);
    for (size_t u = 0; u < json_array_size(all); u++) {
        const json_t *unit = json_array_get(all, u);
        const json_t *rows = json_object_get(unit, "figures");
        const char *label = bl_tree_get_text(unit, "unit");
        const size_t count = json_array_size(rows);
        for (size_t i = 0; i < count; i++) {
            for (size_t k = 0; k < COUNT(of_unit); k++) {
                bl_csv_text(output, unit, of_unit[k]);
            }
            row(result, output, &c, json_array_get(rows, i), label);
        }
        if (count == 0) { /* refused: a row with the reason alone */
            for (size_t k = 0; k < COUNT(of_unit); k++) {
                bl_csv_text(output, unit, of_unit[k]);
            }
            bl_output_text(output, ",,,,,,,,,,,,,,not-decided,");
            bl_csv_cell(output, bl_tree_get_text(unit, "reason"));
            bl_csv_identity(result, output, label, false);
        }
    }
}

/* ---- cost: a row per quantity */

struct place {
    const struct bl_result *result;
    struct bl_output *output;
    const json_t *row;
    double kmh;
};

struct quantity {
    const char *name;
    double value, u;
    const char *measured_in;
};

static void quantity(const struct place *at, const char *unit,
                     const char *rear_unit, struct quantity told)
{
    static const char *const texts[] = {"run", "combination", "kind"};
    for (size_t i = 0; i < COUNT(texts); i++) {
        bl_csv_text(at->output, at->row, texts[i]);
    }
    bl_output_format(at->output, "%llu,",
                     (unsigned long long)bl_tree_get_count(at->row, "n"));
    bl_csv_number(at->output, at->kmh);
    bl_csv_cell(at->output, unit);
    bl_output_text(at->output, ",");
    bl_csv_cell(at->output, rear_unit);
    bl_output_format(at->output, ",%s,", told.name);
    bl_csv_number(at->output, told.value);
    bl_csv_number(at->output, told.u);
    bl_output_text(at->output, told.measured_in);
    bl_csv_identity(at->result, at->output, unit, false);
}

static void of_unit(const struct place *at, const json_t *unit)
{
    static const struct {
        const char *name, *measured_in;
    } all[] = {{"mass_share", ""},
               {"force_kn", "kN"},
               {"force_share", ""},
               {"work_share", ""}};
    const char *label = bl_tree_get_text(unit, "unit");
    const json_t *travel = json_object_get(unit, "travel_in_lag");
    for (size_t i = 0; i < COUNT(all); i++) {
        quantity(at, label, "",
                 (struct quantity){all[i].name,
                                   bl_tree_get_number(unit, all[i].name), NAN,
                                   all[i].measured_in});
    }
    quantity(at, label, "",
             (struct quantity){"travel_in_lag", bl_tree_get_number(travel, "m"),
                               bl_tree_get_number(travel, "u_m"), "m"});
}

static void of_speed(const struct place *at, const json_t *speed)
{
    static const char *const pushes[] = {"push_most_kn", "push_least_kn",
                                         "push_steady_kn"};
    const json_t *units = json_object_get(speed, "units");
    const json_t *couplings = json_object_get(speed, "couplings");
    quantity(at, "", "",
             (struct quantity){"stopping_m",
                               bl_tree_get_number(speed, "stopping_m"), NAN,
                               "m"});
    quantity(at, "", "",
             (struct quantity){"extra_stopping_m",
                               bl_tree_get_number(speed, "extra_stopping_m"),
                               bl_tree_get_number(speed, "u_extra_stopping_m"),
                               "m"});
    quantity(at, "", "",
             (struct quantity){
                 "extra_against_first_m",
                 bl_tree_get_number(speed, "extra_against_first_m"), NAN, "m"});
    for (size_t i = 0; i < json_array_size(units); i++) {
        of_unit(at, json_array_get(units, i));
    }
    for (size_t i = 0; i < json_array_size(couplings); i++) {
        const json_t *coupling = json_array_get(couplings, i);
        for (size_t k = 0; k < COUNT(pushes); k++) {
            quantity(at, bl_tree_get_text(coupling, "front"),
                     bl_tree_get_text(coupling, "rear"),
                     (struct quantity){pushes[k],
                                       bl_tree_get_number(coupling, pushes[k]),
                                       NAN, "kN"});
        }
    }
}

void bl_csv_dynamics(const struct bl_result *result, struct bl_output *output)
{
    const json_t *rows =
        json_object_get(json_object_get(result->root, "dynamics"), "rows");
    bl_output_text(output, "run,combination,kind,n,kmh,unit,rear_unit,quantity,"
                           "value,u,measured_in");
    bl_csv_identity_head(result, output, false);
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *train = json_array_get(rows, i);
        const json_t *speeds = json_object_get(train, "speeds");
        for (size_t k = 0; k < json_array_size(speeds); k++) {
            const json_t *speed = json_array_get(speeds, k);
            const struct place at = {result, output, train,
                                     bl_tree_get_number(speed, "kmh")};
            of_speed(&at, speed);
        }
    }
}
