/* SPDX-License-Identifier: MIT */
/*
 * What a column probably holds, and what looks odd about it. The bounds are
 * those of docs/methods/figures.md, section "What survey looks at": service
 * pressures of heavy vehicles lie between 20 and 1100 kPa (common practice).
 */
#include "survey/internal.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

/* Air pressure at ground level, with weather and hills: 90 to 108 kPa. */
static const double AIR_LOW_KPA = 90, AIR_HIGH_KPA = 108;
static const double SERVICE_LOW_KPA = 20, SERVICE_HIGH_KPA = 1500;

/* Is `word` in the text, whatever the case? */
static bool mentions(const char *text, const char *word)
{
    const size_t length = strlen(word);
    for (; *text != '\0'; text++) {
        size_t i = 0;
        while (i < length && tolower((unsigned char)text[i]) == word[i]) {
            i++;
        }
        if (i == length) {
            return true;
        }
    }
    return false;
}

/* As written, or else, as recorders write "Bar" and "KPA", whatever the case
   where only one unit fits then. */
static const struct bl_measurement_unit *unit_written(const char *text)
{
    const struct bl_measurement_unit *unit = bl_measurement_unit_find(text);
    const struct bl_measurement_unit *found = NULL;
    if (unit != NULL) {
        return unit;
    }
    for (size_t i = 0; (unit = bl_measurement_unit_at(i)) != NULL; i++) {
        size_t j = 0;
        while (text[j] != '\0' && tolower((unsigned char)text[j]) ==
                                      tolower((unsigned char)unit->name[j])) {
            j++;
        }
        if (text[j] == '\0' && unit->name[j] == '\0') {
            if (found != NULL) {
                return NULL;
            }
            found = unit;
        }
    }
    return found;
}

static void say(struct bl_survey_column *column, enum bl_quantity quantity,
                const char *unit, bool guessed, const char *why)
{
    column->quantity = quantity;
    column->quantity_unit = unit;
    column->guessed = guessed;
    column->why = why;
}

/* The pressure unit in which the plateau is a usual service pressure. The
   ranges of bar and MPa do not touch those of psi and kPa; between them
   nothing is said. */
static const char *usual_unit(double plateau)
{
    if (plateau >= 0.25 && plateau <= 1.1) {
        return "MPa";
    }
    if (plateau >= 2 && plateau <= 13) {
        return "bar";
    }
    if (plateau >= 30 && plateau <= 160) {
        return "psi";
    }
    if (plateau > 200 && plateau <= 1300) {
        return "kPa";
    }
    return NULL;
}

static void by_written_unit(struct bl_survey_column *column,
                            const struct bl_measurement_unit *unit)
{
    say(column, unit->quantity, unit->name, false, "the unit is written");
    if (unit->quantity != BL_QUANTITY_PRESSURE) {
        return;
    }
    /* A channel that never left rest says nothing about its unit. */
    const double high = column->high * unit->factor + unit->shift;
    const double low = column->low * unit->factor + unit->shift;
    const char *fits = usual_unit(column->high);
    const bool moved =
        high - low > 12 * column->noise * unit->factor && column->distinct > 2;
    if (moved && fits != NULL && strcmp(fits, unit->name) != 0 &&
        (high < SERVICE_LOW_KPA || high > SERVICE_HIGH_KPA)) {
        column->oddities |= BL_ODDITY_WRONG_UNIT;
        column->quantity_unit = fits;
        column->guessed = true;
        column->why = "the values fit another unit than the one written";
    }
}

static void by_values(struct bl_survey_column *column)
{
    const double high = column->high;
    const bool voltage = mentions(column->name, "volt");
    if (column->distinct == 2) {
        say(column, BL_QUANTITY_SWITCH, "", true, "it has two values");
    } else if (voltage) {
        say(column, BL_QUANTITY_VOLTAGE, "V", true, "its name says volt");
    } else if (column->low > 9 && high < 33 && high - column->low < 12) {
        say(column, BL_QUANTITY_VOLTAGE, "V", true,
            "it stays near the voltage of a vehicle");
    } else if (mentions(column->name, "speed")) {
        say(column, BL_QUANTITY_SPEED, NULL, true, "its name says speed");
    } else if (usual_unit(high) != NULL && column->low > -high / 5) {
        say(column, BL_QUANTITY_PRESSURE, usual_unit(high), true,
            high <= 13 ? "its plateau fits, but it may be a voltage"
                       : "its plateau fits");
    } else {
        say(column, BL_QUANTITY_NONE, NULL, true, "nothing fits");
    }
}

static void judge_pressure(struct bl_survey_column *column)
{
    const struct bl_measurement_unit *unit =
        column->quantity_unit == NULL
            ? NULL
            : bl_measurement_unit_find(column->quantity_unit);
    if (column->quantity != BL_QUANTITY_PRESSURE || unit == NULL) {
        return;
    }
    const double low = column->low * unit->factor;
    const double high = column->high * unit->factor;
    if (low >= AIR_LOW_KPA && low <= AIR_HIGH_KPA && high - low > 50) {
        column->oddities |= BL_ODDITY_ABSOLUTE;
    }
    const double noise = column->noise * unit->factor;
    if (low < -fmax(1, 3 * noise) && low > -50) {
        column->oddities |= BL_ODDITY_ZERO_OFFSET;
    }
}

void bl_survey_judge(struct bl_survey_column *column, const char *pressure_unit)
{
    if (column->overflows > 0) {
        column->oddities |= BL_ODDITY_OVERFLOW;
    }
    if (column->missing > 0 || column->not_numbers > 0) {
        column->oddities |= BL_ODDITY_MISSING;
    }
    if (column->values == 0 || isnan(column->high)) {
        say(column, BL_QUANTITY_NONE, NULL, true, "it has no values");
        return;
    }
    if (column->distinct == 1) {
        column->oddities |= BL_ODDITY_CONSTANT;
    }
    /* Without noise a plateau is flat by itself: cannot tell. */
    if (column->distinct > 2 && column->noise > column->step &&
        column->longest_at_top >= 20 &&
        column->largest - column->smallest > 20 * column->noise) {
        column->oddities |= BL_ODDITY_CLIPPED;
    }
    const struct bl_measurement_unit *unit =
        column->unit == NULL ? NULL : unit_written(column->unit);
    if (column->states && column->distinct > 2) {
        say(column, BL_QUANTITY_NONE, NULL, false,
            "its numbers stand for texts: a state, no measurement");
    } else if (unit != NULL && unit->quantity != BL_QUANTITY_NONE) {
        by_written_unit(column, unit);
    } else if (pressure_unit != NULL && column->distinct > 2) {
        say(column, BL_QUANTITY_PRESSURE, pressure_unit, false,
            "the unit was stated");
    } else {
        by_values(column);
    }
    judge_pressure(column);
}
