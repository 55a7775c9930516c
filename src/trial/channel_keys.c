/* SPDX-License-Identifier: MIT */
/*
 * Keys of [channel]: what a column measures and how it is scaled. All is kept
 * in the canonical unit of the channel's quantity; its key and that of the
 * column's unit stand before the others in the key table.
 */
#include "base/alloc.h"
#include "base/number.h"
#include "trial/reading.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Quantities that a recorder's column may hold. */
static const enum bl_quantity allowed[] = {
    BL_QUANTITY_PRESSURE, BL_QUANTITY_SWITCH,      BL_QUANTITY_VOLTAGE,
    BL_QUANTITY_CURRENT,  BL_QUANTITY_SPEED,       BL_QUANTITY_ACCELERATION,
    BL_QUANTITY_LENGTH,   BL_QUANTITY_TEMPERATURE, BL_QUANTITY_RATIO,
    BL_QUANTITY_FORCE,
};

SETTER(quantity_name)
{
    struct bl_trial_channel *channel = object;
    (void)key;
    enum bl_quantity quantity = BL_QUANTITY_NONE;
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, entry->value)};
    char hint[HINT_MAX];
    (void)bl_quantity_from(entry->value, &quantity);
    for (size_t i = 0; i < sizeof(allowed) / sizeof(allowed[0]); i++) {
        if (quantity == allowed[i]) {
            channel->quantity = quantity;
            return;
        }
        bl_nearest_offer(&nearest, bl_quantity_name(allowed[i]));
    }
    bl_trial_wrong(r, entry->line,
                   "pressure, switch, voltage, current, speed, acceleration, "
                   "length, temperature, ratio or force",
                   entry->value, bl_trial_nearest_hint(&nearest, hint));
}

SETTER(measured_in)
{
    struct bl_trial_channel *channel = object;
    (void)key;
    if (bl_measurement_unit_find(entry->value) == NULL) {
        struct bl_nearest nearest = {.wanted =
                                         bl_trial_hintable(r, entry->value)};
        char hint[HINT_MAX];
        const struct bl_measurement_unit *unit;
        for (size_t i = 0; (unit = bl_measurement_unit_at(i)) != NULL; i++) {
            bl_nearest_offer(&nearest, unit->name);
        }
        bl_trial_wrong(r, entry->line, "a unit such as 'V' or 'bar'",
                       entry->value, bl_trial_nearest_hint(&nearest, hint));
        return;
    }
    bl_trial_keep(r, &channel->measured_in, entry->value);
}

static const char *example_of(enum bl_quantity quantity, char text[48])
{
    (void)snprintf(text, 48, "0.5 %s", bl_quantity_unit(quantity));
    return text;
}

/* A switch has no values, and without a known quantity nothing can be judged:
   both are reported elsewhere. */
static bool has_values(const struct bl_trial_channel *channel)
{
    return channel->quantity != BL_QUANTITY_NONE &&
           channel->quantity != BL_QUANTITY_SWITCH;
}

static void wrong_scale(struct reading *r, const struct trial_entry *entry,
                        const struct bl_trial_channel *channel)
{
    char words[128];
    const bool pressure = channel->quantity == BL_QUANTITY_PRESSURE;
    (void)snprintf(words, sizeof(words),
                   "%s per unit of the column such as '%s %s/V'",
                   bl_quantity_name(channel->quantity), pressure ? "250" : "10",
                   bl_quantity_unit(channel->quantity));
    bl_trial_wrong(r, entry->line, words, entry->value, NULL);
}

/* Factor from the column's written numbers to the unit that the scale is per,
   as for a column in mV under a scale in kPa/V. 0 after a mistake. */
static double column_factor(struct reading *r, const struct trial_entry *entry,
                            struct bl_trial_channel *channel, const char *per)
{
    const struct bl_measurement_unit *unit = bl_measurement_unit_find(per);
    if (unit == NULL) {
        const bool counts = strcmp(per, "count") == 0 || strcmp(per, "1") == 0;
        if (!counts || channel->measured_in != NULL) {
            wrong_scale(r, entry, channel);
            return 0;
        }
        return 1;
    }
    if (channel->measured_in == NULL) {
        bl_trial_keep(r, &channel->measured_in, unit->name);
        return 1;
    }
    const struct bl_measurement_unit *column =
        bl_measurement_unit_find(channel->measured_in);
    if (column == NULL || column->quantity != unit->quantity) {
        char words[96];
        (void)snprintf(words, sizeof(words),
                       "a scale per %s, as 'measured_in' says",
                       channel->measured_in);
        bl_trial_wrong(r, entry->line, words, entry->value, NULL);
        return 0;
    }
    return column->factor / unit->factor;
}

SETTER(scale)
{
    struct bl_trial_channel *channel = object;
    (void)key;
    char copy[256];
    struct measure measure;
    (void)snprintf(copy, sizeof(copy), "%s", entry->value);
    if (!has_values(channel)) {
        return;
    }
    /* A scale that is no good leaves 0, so that 'zero' is judged alone. */
    channel->scale = 0;
    char *slash = strrchr(copy, '/');
    if (slash != NULL) {
        *slash = '\0';
    }
    const char *left = bl_trial_trim(copy);
    if (slash == NULL || !bl_trial_measure_parse(left, &measure) ||
        measure.unit->quantity != channel->quantity || measure.number == 0) {
        wrong_scale(r, entry, channel);
        return;
    }
    const double factor =
        column_factor(r, entry, channel, bl_trial_trim(slash + 1));
    if (factor != 0) {
        channel->scale = bl_trial_difference(&measure) * factor;
        channel->zero = measure.unit->shift;
    }
}

SETTER(zero)
{
    struct bl_trial_channel *channel = object;
    char example[48];
    (void)key;
    double zero;
    if (!has_values(channel) ||
        !bl_trial_quantity(r, entry->line, entry->value, channel->quantity,
                           example_of(channel->quantity, example), &zero)) {
        return;
    }
    const struct bl_measurement_unit *column =
        channel->measured_in == NULL
            ? NULL
            : bl_measurement_unit_find(channel->measured_in);
    if (isnan(channel->scale)) {
        if (column == NULL || column->quantity != channel->quantity) {
            bl_trial_mistake(r, "missing-key", entry->line,
                             "expected 'scale', or a unit of %s as "
                             "'measured_in', beside 'zero', found neither",
                             bl_quantity_name(channel->quantity));
            return;
        }
        channel->scale = column->factor;
    }
    channel->zero = zero;
}

static const char *after_plus_minus(const char *text)
{
    text += strncmp(text, "+-", 2) == 0         ? 2
            : strncmp(text, "\xC2\xB1", 2) == 0 ? 2
                                                : 0;
    return text + strspn(text, " \t");
}

SETTER(accuracy)
{
    struct bl_trial_channel *channel = object;
    (void)key;
    struct measure measure;
    const char *text = after_plus_minus(entry->value);
    const bool good =
        bl_trial_measure_parse(text, &measure) && measure.number >= 0;
    if (good && measure.unit->quantity == channel->quantity) {
        channel->accuracy_value = bl_trial_difference(&measure);
    } else if (good && measure.unit->quantity == BL_QUANTITY_RATIO &&
               measure.number <= 100) {
        channel->accuracy_fraction = measure.number / 100;
    } else if (has_values(channel)) {
        char words[96];
        (void)snprintf(words, sizeof(words),
                       "limits of error such as '0.5 %%' or '2 %s'",
                       bl_quantity_unit(channel->quantity));
        bl_trial_wrong(r, entry->line, words, entry->value, NULL);
    }
}

/* A difference in the channel's own quantity: no shift of a scale's zero. */
SETTER(own_quantity)
{
    struct bl_trial_channel *channel = object;
    struct measure measure;
    if (!has_values(channel)) {
        return;
    }
    if (!bl_trial_measure_parse(entry->value, &measure) ||
        measure.unit->quantity != channel->quantity ||
        measure.number < key->low) {
        char example[48];
        char words[128];
        char hint[HINT_MAX];
        bl_trial_wrong(
            r, entry->line,
            bl_trial_quantity_words(channel->quantity,
                                    example_of(channel->quantity, example),
                                    words),
            entry->value,
            bl_trial_unit_hint(entry->value, channel->quantity, hint));
        return;
    }
    const double value = bl_trial_difference(&measure);
    memcpy((char *)object + key->offset, &value, sizeof(value));
}

SETTER(u_gain)
{
    struct bl_trial_channel *channel = object;
    double percent;
    if (!bl_trial_quantity(r, entry->line, entry->value, BL_QUANTITY_RATIO,
                           key->example, &percent)) {
        return;
    }
    if (percent < 0 || percent > 100) {
        bl_trial_wrong(r, entry->line, "a share of 0 to 100 %", entry->value,
                       NULL);
        return;
    }
    channel->u_gain_fraction = percent / 100;
}

static bool range_ends(const char *text, enum bl_quantity quantity, double *low,
                       double *high)
{
    char copy[256];
    struct measure from;
    struct measure to;
    (void)snprintf(copy, sizeof(copy), "%s", text);
    char *dots = strstr(copy, "..");
    if (dots == NULL) {
        return false;
    }
    *dots = '\0';
    const char *left = bl_trial_trim(copy);
    if (!bl_trial_measure_parse(bl_trial_trim(dots + 2), &to)) {
        return false;
    }
    if (bl_number_parse(left, strlen(left), &from.number)) {
        from.unit = to.unit;
    } else if (!bl_trial_measure_parse(left, &from)) {
        return false;
    }
    *low = bl_trial_canonical(&from);
    *high = bl_trial_canonical(&to);
    return from.unit->quantity == quantity && to.unit->quantity == quantity &&
           *low < *high && isfinite(*high - *low);
}

SETTER(range)
{
    struct bl_trial_channel *channel = object;
    (void)key;
    double low;
    double high;
    if (!has_values(channel)) {
        return;
    }
    if (!range_ends(entry->value, channel->quantity, &low, &high)) {
        char words[96];
        (void)snprintf(words, sizeof(words),
                       "a range, lower end first, such as '0 .. 1000 %s'",
                       bl_quantity_unit(channel->quantity));
        bl_trial_wrong(r, entry->line, words, entry->value, NULL);
        return;
    }
    channel->range_low = low;
    channel->range_high = high;
}

SETTER(on_when)
{
    struct bl_trial_channel *channel = object;
    const int word = bl_trial_word(key->example, entry->value);
    if (word < 0) {
        bl_trial_wrong(r, entry->line, "'high' or 'low'", entry->value, NULL);
        return;
    }
    channel->on_when_low = word == 1;
}

/* A bare number is a value of the column; one with a unit is converted to the
   column's unit. */
SETTER(on_level)
{
    struct bl_trial_channel *channel = object;
    (void)key;
    struct measure measure;
    const char *text = entry->value;
    const struct bl_measurement_unit *column =
        channel->measured_in == NULL
            ? NULL
            : bl_measurement_unit_find(channel->measured_in);
    if (bl_number_parse(text, strlen(text), &channel->on_level)) {
        return;
    }
    if (!bl_trial_measure_parse(text, &measure) ||
        (column != NULL && measure.unit->quantity != column->quantity)) {
        bl_trial_wrong(r, entry->line, "a value of the column such as '2.5 V'",
                       text, NULL);
        return;
    }
    if (column == NULL) {
        bl_trial_keep(r, &channel->measured_in, measure.unit->name);
        column = measure.unit;
    }
    channel->on_level =
        (bl_trial_canonical(&measure) - column->shift) / column->factor;
}

/* Keys that need the other kind of quantity. */
static void check_kind(struct reading *r, const struct bl_trial_channel *c,
                       const struct trial_section *section)
{
    static const char *const switch_only[] = {"trips_at", "resets_at",
                                              "on_when", "on_level", NULL};
    static const char *const value_only[] = {"scale",  "zero",   "accuracy",
                                             "u_zero", "u_gain", "resolution",
                                             "range",  NULL};
    const bool is_switch = c->quantity == BL_QUANTITY_SWITCH;
    const char *const *wrong = is_switch ? value_only : switch_only;
    for (size_t i = 0; wrong[i] != NULL; i++) {
        const struct trial_entry *entry = bl_trial_entry(section, wrong[i]);
        if (entry != NULL) {
            bl_trial_mistake(r, "wrong-key", entry->line,
                             "expected '%s' only where quantity is %s, found "
                             "it beside '%s'",
                             entry->key, is_switch ? "not switch" : "switch",
                             bl_quantity_name(c->quantity));
        }
    }
}

/* Where a key stands; the section's own line when it came from elsewhere, as
   the second section of one name does. */
static int line_of(const struct trial_section *section, const char *key,
                   const struct bl_trial_channel *c)
{
    const struct trial_entry *entry = bl_trial_entry(section, key);
    return entry == NULL ? c->line : entry->line;
}

void bl_trial_finish_channel(struct reading *r, struct bl_trial_channel *c,
                             const struct trial_section *section)
{
    const struct bl_measurement_unit *column =
        c->measured_in == NULL ? NULL
                               : bl_measurement_unit_find(c->measured_in);
    if (c->quantity == BL_QUANTITY_NONE) {
        return;
    }
    check_kind(r, c, section);
    if (c->quantity != BL_QUANTITY_SWITCH && isnan(c->scale) &&
        column != NULL && column->quantity != c->quantity &&
        bl_trial_entry(section, "zero") == NULL) {
        bl_trial_mistake(r, "missing-key", line_of(section, "measured_in", c),
                         "expected 'scale' too, since %s is no unit of %s, "
                         "found none",
                         column->name, bl_quantity_name(c->quantity));
    }
    if (c->resets_at_kpa > c->trips_at_kpa) {
        bl_trial_mistake(r, "wrong-value", line_of(section, "resets_at", c),
                         "expected 'resets_at' not above 'trips_at', found a "
                         "higher pressure");
    }
}
