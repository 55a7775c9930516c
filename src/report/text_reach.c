/* SPDX-License-Identifier: MIT */
/*
 * The acceptance table of one run: who is reached and what speaks against it,
 * then what it rests on (frames, value and time, what each unit said), then
 * findings. What else was on the buses is in text_reach_buses.c.
 */
#include "report/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void number_cell(struct bl_table *table, double value, double scale,
                        int decimals)
{
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "%s",
                  isnan(value) ? "-"
                               : bl_text_fixed(value * scale, decimals, text));
}

static void count_cell(struct bl_table *table, uint64_t count)
{
    bl_table_cell(table, "%llu", (unsigned long long)count);
}

static void figure_cell(struct bl_table *table, const json_t *figure)
{
    char s[BL_TEXT_CELL];
    char u[BL_TEXT_CELL];
    const double value = bl_tree_get_number(figure, "s");
    if (isnan(value)) {
        bl_table_cell(table, "-");
        return;
    }
    bl_table_cell(table, "%s \xC2\xB1 %s", bl_text_fixed(value * 1e3, 1, s),
                  bl_text_fixed(2e3 * bl_tree_get_number(figure, "u_s"), 1, u));
}

static void head(struct bl_table *table, const char *const *column,
                 size_t columns, size_t left)
{
    for (size_t i = 0; i < columns; i++) {
        bl_table_cell(table, "%s", column[i]);
        table->right[i] = i >= left;
    }
    bl_table_row(table);
}
#define HEAD(table, left, ...)                                                 \
    do {                                                                       \
        static const char *const columns[] = {__VA_ARGS__};                    \
        head(table, columns, sizeof(columns) / sizeof(columns[0]), left);      \
    } while (0)

static void write(struct bl_text *to, struct bl_table *table)
{
    bl_text_table(to, table, 2);
}

/* "yes", "no" or "?" of each claim. */
static void claim_cells(struct bl_table *table, const json_t *unit)
{
    const json_t *claims = json_object_get(unit, "claims");
    for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
        const char *answer = bl_tree_get_text(
            json_object_get(claims,
                            bl_reach_claim_name((enum bl_reach_claim)i)),
            "answer");
        bl_table_cell(table, "%s", answer[0] == 'c' ? "?" : answer);
    }
}

/* What a unit's verdict rests on where it is reached, and was not shown. */
static void shown(struct bl_text *to, const json_t *run)
{
    const char *says = bl_tree_get_text(run, "shown");
    if (says[0] != '\0') {
        bl_output_text(to->output, "  ");
        bl_text_plain(to, says);
        bl_output_text(to->output, "\n");
    }
}

/* Verdict, and the first of what speaks against it; the rest below. */
static void verdicts(struct bl_text *to, const json_t *units)
{
    struct bl_table table = {.heading = true, .keys = 2};
    char text[BL_TEXT_CELL];
    bl_table_cell(&table, "unit");
    bl_table_cell(&table, "verdict");
    for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
        bl_table_cell(&table, "%s",
                      bl_reach_claim_words((enum bl_reach_claim)i));
    }
    bl_table_cell(&table, "why");
    bl_table_row(&table);
    for (size_t u = 0; u < json_array_size(units); u++) {
        const json_t *unit = json_array_get(units, u);
        const json_t *why = json_object_get(unit, "why");
        bl_table_cell(&table, "%s", bl_text_unit(unit, text));
        bl_table_cell(
            &table, "%s",
            bl_words_of(&bl_words_reach, bl_tree_get_text(unit, "verdict")));
        claim_cells(&table, unit);
        for (size_t i = 0; i < json_array_size(why); i++) {
            if (i > 0) {
                bl_table_row(&table);
                for (size_t c = 0; c < 2 + BL_REACH_CLAIMS; c++) {
                    bl_table_cell(&table, "%s", "");
                }
            }
            char sentence[BL_TEXT_SENTENCE];
            bl_table_span(
                &table, "%s",
                bl_text_pressures(to->pressure,
                                  json_string_value(json_array_get(why, i)),
                                  sentence, sizeof(sentence)));
        }
        bl_table_row(&table);
    }
    write(to, &table);
}

static bool present(const json_t *unit)
{
    return bl_tree_get_bool(json_object_get(unit, "demand"), "present");
}

static void address_cells(struct bl_table *table, const json_t *demand)
{
    const double from = bl_tree_get_number(demand, "from_address");
    const double to = bl_tree_get_number(demand, "to_address");
    bl_table_cell(table, "%s", bl_tree_get_text(demand, "id"));
    if (isnan(from) || isnan(to)) {
        bl_table_cell(table, "-");
    } else {
        bl_table_cell(table, "%d > %d", (int)from, (int)to);
    }
}

static void frame_row(struct bl_table *table, const json_t *unit)
{
    char text[BL_TEXT_CELL];
    const json_t *demand = json_object_get(unit, "demand");
    const json_t *interval = json_object_get(demand, "interval");
    const json_t *bad = json_object_get(demand, "without_value");
    bl_table_cell(table, "%s", bl_text_unit(unit, text));
    bl_table_cell(table, "%s", bl_tree_get_text(unit, "bus"));
    if (!present(unit)) {
        bl_table_span(table, bl_tree_get_bool(unit, "tapped")
                                 ? "no demand frame on it"
                                 : "not recorded");
        bl_table_row(table);
        return;
    }
    address_cells(table, demand);
    count_cell(table, bl_tree_get_count(demand, "frames"));
    number_cell(table, bl_tree_get_number(interval, "least_s"), 1e3, 1);
    number_cell(table, bl_tree_get_number(interval, "median_s"), 1e3, 1);
    number_cell(table, bl_tree_get_number(interval, "most_s"), 1e3, 1);
    count_cell(table, json_array_size(json_object_get(demand, "gaps")));
    number_cell(table, bl_tree_get_number(demand, "lost_share"), 100, 1);
    count_cell(table, bl_tree_get_count(bad, "not_available"));
    count_cell(table, bl_tree_get_count(bad, "error") +
                          bl_tree_get_count(bad, "other"));
    number_cell(table, bl_tree_get_number(demand, "first_valid_s"), 1, 2);
    bl_table_row(table);
}

static void frames(struct bl_text *to, const json_t *units)
{
    struct bl_table table = {.heading = true};
    bl_output_text(to->output, "  Frames of the demand on each unit's link; "
                               "addresses from > to; intervals in ms\n");
    HEAD(&table, 4, "unit", "link", "identifier", "from > to", "frames",
         "least", "median", "most", "gaps", "lost %", "not avail.", "error",
         "valid after s");
    for (size_t u = 0; u < json_array_size(units); u++) {
        frame_row(&table, json_array_get(units, u));
    }
    write(to, &table);
}

/* Frames that a recording holds twice, addresses that the trial file leaves
   open, and senders of a demand that counts for nobody, or beside another. */
static void odd_frames(struct bl_text *to, const json_t *run)
{
    const json_t *units = json_object_get(run, "units");
    const json_t *all = json_object_get(run, "senders");
    for (size_t u = 0; u < json_array_size(units); u++) {
        const json_t *unit = json_array_get(units, u);
        const json_t *demand = json_object_get(unit, "demand");
        const uint64_t twice = bl_tree_get_count(demand, "stored_twice");
        const double address = bl_tree_get_number(unit, "address_from_link");
        if (twice > 0) {
            bl_output_format(to->output,
                             "    %s: %llu frames are stored a second time; "
                             "each counts once\n",
                             bl_text_called(to, unit),
                             (unsigned long long)twice);
        }
        if (!isnan(address)) {
            bl_output_format(to->output,
                             "    %s: its address is taken from its link: %d\n",
                             bl_text_called(to, unit), (int)address);
        }
        if (bl_tree_get_bool(demand, "split")) {
            bl_output_format(to->output,
                             "    %s: the demand is that to another unit; one "
                             "bus through both %s\n",
                             bl_text_called(to, unit),
                             bl_tree_get_bool(run, "bus_split_stated")
                                 ? "is what the trial file says"
                                 : "is assumed");
        }
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *sender = json_array_get(all, i);
        const bool nobody = bl_tree_get_text(sender, "unit")[0] == '\0';
        if (!nobody && !bl_tree_get_bool(sender, "second")) {
            continue;
        }
        bl_output_format(to->output, "    a demand %s on ",
                         bl_tree_get_text(sender, "id"));
        bl_text_plain(to, bl_tree_get_text(sender, "bus"));
        if (nobody) {
            bl_output_text(to->output, " counts for no unit: ");
        } else {
            bl_output_format(to->output, " is a second one to %s: ",
                             bl_text_called(to, sender));
        }
        bl_output_format(
            to->output, "%llu frames",
            (unsigned long long)bl_tree_get_count(sender, "frames"));
        if (!isnan(bl_tree_get_number(sender, "most_kpa"))) {
            char least[BL_TEXT_CELL];
            char most[BL_TEXT_CELL];
            char sentence[BL_TEXT_SENTENCE];
            char kpa[BL_TEXT_CELL * 3];
            (void)snprintf(
                kpa, sizeof(kpa), ", %s kPa to %s kPa",
                bl_text_fixed(bl_tree_get_number(sender, "least_kpa"), 1,
                              least),
                bl_text_fixed(bl_tree_get_number(sender, "most_kpa"), 1, most));
            bl_output_text(to->output,
                           bl_text_pressures(to->pressure, kpa, sentence,
                                             sizeof(sentence)));
        }
        bl_output_text(to->output, "\n");
    }
}

/* The first gaps in words; how many more there are. */
static void gaps(struct bl_text *to, const json_t *unit)
{
    enum { SHOWN = 4 };
    const json_t *all =
        json_object_get(json_object_get(unit, "demand"), "gaps");
    const size_t n = json_array_size(all);
    char from[BL_TEXT_CELL];
    char length[BL_TEXT_CELL];
    for (size_t i = 0; i < n && i < SHOWN; i++) {
        const json_t *gap = json_array_get(all, i);
        const double application = bl_tree_get_number(gap, "application");
        bl_output_format(
            to->output, "    %s: %s s without demand from %s s on",
            bl_text_called(to, unit),
            bl_text_fixed(bl_tree_get_number(gap, "length_s"), 3, length),
            bl_text_fixed(bl_tree_get_number(gap, "from_s"), 3, from));
        if (!isnan(application)) {
            bl_output_format(to->output, ", in application %d",
                             (int)application);
        }
        bl_output_format(to->output, "; what stopped: %s%s\n",
                         bl_tree_get_text(gap, "stopped"),
                         bl_tree_get_bool(gap, "to_end")
                             ? ", until the recording's end"
                             : "");
    }
    if (n > SHOWN) {
        bl_output_format(to->output, "    %s: %zu more; --json has all\n",
                         bl_text_called(to, unit), n - SHOWN);
    }
}

static void values(struct bl_text *to, const json_t *units)
{
    struct bl_table table = {.heading = true};
    char text[BL_TEXT_CELL];
    bl_output_text(to->output,
                   "  Value where settled, and delay in ms, against the first "
                   "link; added: by this coupling\n");
    HEAD(&table, 1, "unit", "compared", "differ", "counts", "kPa", "delay",
         "added", "worst");
    for (size_t u = 0; u < json_array_size(units); u++) {
        const json_t *unit = json_array_get(units, u);
        const json_t *demand = json_object_get(unit, "demand");
        const json_t *first = json_object_get(demand, "against_first_hop");
        if (!present(unit)) {
            continue;
        }
        bl_table_cell(&table, "%s", bl_text_unit(unit, text));
        count_cell(&table, bl_tree_get_count(first, "compared"));
        count_cell(&table, bl_tree_get_count(first, "differing"));
        number_cell(&table, bl_tree_get_number(first, "difference_counts"), 1,
                    0);
        number_cell(&table, bl_tree_get_number(first, "difference_kpa"), 1, 1);
        figure_cell(&table, json_object_get(demand, "delay"));
        figure_cell(&table, json_object_get(demand, "added"));
        number_cell(&table, bl_tree_get_number(demand, "worst_delay_s"), 1e3,
                    1);
        bl_table_row(&table);
    }
    write(to, &table);
}

/* "always", "at times" or "never" of a state that is valid; "-" where it was
   not sent at all. */
static const char *state_of(const struct bl_text *to, const json_t *unit,
                            enum bl_role role)
{
    const json_t *all =
        json_object_get(json_object_get(unit, "said"), "status");
    const char *found = "-";
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *state = json_array_get(all, i);
        const uint64_t on = bl_tree_get_count(state, "on");
        const uint64_t off = bl_tree_get_count(state, "off");
        if (bl_text_is(to, state, "role", (int)role) && on + off > 0) {
            found = on == 0 ? "never" : off == 0 ? "always" : "at times";
        }
    }
    return found;
}

static void said_row(const struct bl_text *to, struct bl_table *table,
                     const json_t *unit)
{
    static const enum bl_role roles[] = {
        BL_ROLE_BRAKE_ACTIVE,      BL_ROLE_AUTOMATIC_BRAKING,
        BL_ROLE_SUPPLY_SUFFICIENT, BL_ROLE_ELECTRIC_SUPPLY_SUFFICIENT,
        BL_ROLE_WARNING_RED,       BL_ROLE_WARNING_AMBER,
        BL_ROLE_STOP_LAMP_REQUEST};
    char text[BL_TEXT_CELL];
    const json_t *volts = json_object_get(unit, "voltage_while_braking");
    bl_table_cell(table, "%s", bl_text_unit(unit, text));
    bl_table_cell(table, "%s", bl_tree_get_text(unit, "follows"));
    for (size_t i = 0; i < sizeof(roles) / sizeof(roles[0]); i++) {
        bl_table_cell(table, "%s", state_of(to, unit, roles[i]));
    }
    number_cell(table, bl_tree_get_number(volts, "least"), 1, 1);
    count_cell(table,
               bl_tree_get_count(json_object_get(unit, "said"), "frames"));
    bl_table_row(table);
}

static bool same_start(const json_t *a, const json_t *b)
{
    return bl_tree_same_text(a, b, "towing_kind") &&
           bl_tree_same_text(a, b, "called_for");
}

/* What the messages of the first seconds call for; one line for neighbours that
   saw the same. */
static void starts(struct bl_text *to, const json_t *units)
{
    for (size_t u = 0; u < json_array_size(units); u++) {
        const json_t *unit = json_array_get(units, u);
        const char *called = bl_tree_get_text(unit, "called_for");
        size_t last = u;
        while (last + 1 < json_array_size(units) &&
               same_start(unit, json_array_get(units, last + 1))) {
            last++;
        }
        if (bl_tree_get_text(unit, "towing_kind")[0] == '\0') {
            u = last;
            continue;
        }
        bl_output_format(to->output, "    %s", bl_text_called(to, unit));
        if (last > u) {
            bl_output_format(to->output, " to %s",
                             bl_text_called(to, json_array_get(units, last)));
        }
        bl_output_format(to->output, " saw at the start: %s",
                         bl_tree_get_text(unit, "towing_kind"));
        if (called[0] != '\0') {
            bl_output_text(to->output, "; this calls for pressure curve ");
            bl_text_plain(to, called);
        }
        bl_output_text(to->output, "\n");
        u = last;
    }
}

static void said(struct bl_text *to, const json_t *units)
{
    struct bl_table table = {.heading = true};
    bl_output_text(to->output,
                   "  What each unit did and said; V: least while braking; "
                   "-: not recorded or not sent\n");
    HEAD(&table, 9, "unit", "follows", "braking", "automatic", "air supply",
         "power", "red", "amber", "stop lamp", "V", "own frames");
    for (size_t u = 0; u < json_array_size(units); u++) {
        said_row(to, &table, json_array_get(units, u));
    }
    write(to, &table);
    starts(to, units);
}

static void findings(struct bl_text *to, const json_t *all)
{
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *finding = json_array_get(all, i);
        const bool sure = bl_text_is(to, finding, "shown", BL_SHOWN_FOUND);
        bl_output_format(to->output, "  %s %s: ",
                         sure ? bl_tree_get_text(finding, "severity")
                              : "cannot tell",
                         bl_tree_get_text(finding, "code"));
        bl_text_plain(to, bl_tree_get_text(finding, "text"));
        bl_output_text(to->output, "\n    next: ");
        bl_text_plain(to, bl_tree_get_text(finding, "next_check"));
        if (bl_tree_get_text(finding, "caution")[0] != '\0') {
            bl_output_text(to->output, "\n    CAUTION: ");
            bl_text_plain(to, bl_tree_get_text(finding, "caution"));
        }
        bl_output_text(to->output, "\n");
    }
}

static void stated(struct bl_text *to, const json_t *run)
{
    const char *why = bl_tree_get_text(run, "not_as_expected");
    if (json_object_get(run, "as_expected") == NULL) {
        return;
    }
    bl_output_text(to->output, why[0] == '\0' ? "  As [expect] asks for"
                                              : "  Not as [expect] asks for: ");
    bl_text_plain(to, why);
    bl_output_text(to->output, "\n");
}

void bl_text_reach(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "reach");
    for (size_t r = 0; r < json_array_size(all); r++) {
        const json_t *run = json_array_get(all, r);
        const json_t *units = json_object_get(run, "units");
        bl_output_text(to->output, "\nReach of the demand, run ");
        bl_text_plain(to, bl_tree_get_text(run, "run"));
        if (bl_tree_get_bool(run, "declared_off")) {
            bl_output_text(to->output, ", which is declared without power or "
                                       "data: no demand is expected");
        } else if (!bl_tree_get_bool(run, "applications_known")) {
            bl_output_text(to->output, ": no command was found, so nothing "
                                       "can be said by application");
        }
        bl_output_text(to->output, "\n");
        verdicts(to, units);
        shown(to, run);
        stated(to, run);
        findings(to, json_object_get(run, "findings"));
        if (!bl_tree_get_bool(run, "declared_off")) {
            frames(to, units);
            odd_frames(to, run);
            for (size_t u = 0; u < json_array_size(units); u++) {
                gaps(to, json_array_get(units, u));
            }
            values(to, units);
        }
        said(to, units);
        bl_text_reach_buses(to, run);
    }
}
