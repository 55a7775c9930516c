/* SPDX-License-Identifier: MIT */
/* Numbers with units: "20 kPa" to 20 in the canonical unit of a quantity. */
#include "base/number.h"
#include "trial/reading.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { UNIT_MAX = 24 };

static const char *after_number(const char *text, double *number)
{
    size_t used;
    if (!bl_number_scan(text, strlen(text), '.', number, &used) ||
        !isfinite(*number)) {
        return NULL;
    }
    text += used;
    return text + strspn(text, " \t");
}

bool bl_trial_measure_parse(const char *text, struct measure *out)
{
    const char *unit = after_number(text, &out->number);
    if (unit == NULL || *unit == '\0') {
        return false;
    }
    out->unit = bl_measurement_unit_find(unit);
    return out->unit != NULL;
}

double bl_trial_canonical(const struct measure *measure)
{
    return measure->number * measure->unit->factor + measure->unit->shift;
}

double bl_trial_difference(const struct measure *measure)
{
    return measure->number * measure->unit->factor;
}

const char *bl_trial_quantity_words(enum bl_quantity quantity,
                                    const char *example, char text[128])
{
    const char *name = bl_quantity_name(quantity);
    switch ((int)quantity) {
    case BL_QUANTITY_RATIO:
        name = "share in percent";
        break;
    case BL_QUANTITY_DRIFT:
        name = "drift in ppm";
        break;
    default:
        break;
    }
    const bool vowel = strchr("aeiou", name[0]) != NULL;
    (void)snprintf(text, 128, "%s %s with its unit such as '%s'",
                   vowel ? "an" : "a", name, example);
    return text;
}

/* " (units: m, cm, mm, in, ft)", as many as fit. */
static const char *list_units(enum bl_quantity quantity, char hint[HINT_MAX])
{
    const struct bl_measurement_unit *unit;
    size_t length = 0;
    for (size_t i = 0; (unit = bl_measurement_unit_at(i)) != NULL; i++) {
        if (unit->quantity != quantity ||
            length + strlen(unit->name) + sizeof(" (units: )") >= HINT_MAX) {
            continue;
        }
        length +=
            (size_t)snprintf(hint + length, HINT_MAX - length, "%s%s",
                             length == 0 ? " (units: " : ", ", unit->name);
    }
    if (length > 0) {
        (void)snprintf(hint + length, HINT_MAX - length, ")");
    }
    return hint;
}

const char *bl_trial_unit_hint(const char *text, enum bl_quantity quantity,
                               char hint[HINT_MAX])
{
    double number;
    const char *unit = after_number(text, &number);
    struct bl_nearest nearest = {.wanted = unit};
    hint[0] = '\0';
    if (unit == NULL || *unit == '\0') {
        return hint;
    }
    if (unit[0] == ',' && unit[1] >= '0' && unit[1] <= '9') {
        (void)snprintf(hint, HINT_MAX, " (the decimal sign is a point)");
        return hint;
    }
    const struct bl_measurement_unit *known = bl_measurement_unit_find(unit);
    if (known != NULL) {
        if (known->quantity != quantity) {
            (void)snprintf(hint, HINT_MAX, ", whose unit is one of %s",
                           bl_quantity_name(known->quantity));
        }
        return hint;
    }
    const struct bl_measurement_unit *candidate;
    for (size_t i = 0; (candidate = bl_measurement_unit_at(i)) != NULL; i++) {
        if (candidate->quantity == quantity) {
            bl_nearest_offer(&nearest, candidate->name);
        }
    }
    return *bl_trial_nearest_hint(&nearest, hint) != '\0'
               ? hint
               : list_units(quantity, hint);
}

bool bl_trial_quantity(struct reading *r, int line, const char *text,
                       enum bl_quantity quantity, const char *example,
                       double *out)
{
    struct measure measure;
    if (bl_trial_measure_parse(text, &measure) &&
        measure.unit->quantity == quantity) {
        *out = bl_trial_canonical(&measure);
        if (isfinite(*out)) {
            return true;
        }
    }
    char words[128];
    char hint[HINT_MAX];
    bl_trial_wrong(r, line, bl_trial_quantity_words(quantity, example, words),
                   text, bl_trial_unit_hint(text, quantity, hint));
    return false;
}
