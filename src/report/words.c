/* SPDX-License-Identifier: MIT */
#include "report/words.h"

#include "brakelag/report.h"

#include <string.h>

/* How many entries a list has. */
enum {
#define X(...) +1
    LIMIT_REASONS = 0 BL_LIMIT_REASON_LIST(X),
    PREDICT_REASONS = 0 BL_PREDICT_REASON_LIST(X),
    CURVE_REASONS = 0 BL_CURVE_REASON_LIST(X)
#undef X
};

#define LIST(list, count, type, name_of, meaning_of)                           \
    static const char *list##_name(int i)                                      \
    {                                                                          \
        return i < (int)(count) ? name_of((type)i) : NULL;                     \
    }                                                                          \
    static const char *list##_meaning(int i)                                   \
    {                                                                          \
        return i < (int)(count) ? meaning_of((type)i) : NULL;                  \
    }                                                                          \
    const struct bl_words bl_words_##list = {list##_name, list##_meaning};

LIST(figures, BL_FIGURES, enum bl_figure_name, bl_figure_name_text,
     bl_figure_meaning)
LIST(titles, BL_FIGURES, enum bl_figure_name, bl_figure_name_text,
     bl_figure_title)
LIST(reasons, BL_REASONS, enum bl_reason, bl_reason_name, bl_reason_meaning)
LIST(limits, LIMIT_REASONS, enum bl_limit_reason, bl_limit_reason_name,
     bl_limit_reason_meaning)
LIST(predict, PREDICT_REASONS, enum bl_predict_reason, bl_predict_reason_name,
     bl_predict_reason_meaning)
LIST(curves, CURVE_REASONS, enum bl_curve_reason, bl_curve_reason_name,
     bl_curve_reason_sentence)
LIST(reach, BL_REACH_VERDICTS, enum bl_reach_verdict, bl_reach_verdict_name,
     bl_reach_verdict_words)
LIST(components, BL_COMPONENTS, size_t, bl_component_name, bl_component_meaning)

/* Keys and values of the result whose names mean something else on a workshop
   floor; docs/result.md maps them, and docs/glossary.md says what they are. */
static const struct bl_coded labels[] = {
    {"service", "medium"},
    {"treadle-pressure", "foot (treadle) valve pressure"},
    {"control-movement", "pedal movement"},
    {"relayed", "boosted by relay"},
    {"through", "straight through"},
    {"rest", "released pressure"},
    {"rest_kpa", "released pressure, kPa"},
    {"hold", "settled pressure"},
    {"hold_kpa", "settled pressure, kPa"},
    {"hold_from", "settled pressure from"},
    {"offset_rest", "offset at released pressure"},
    {"offset_hold", "offset at settled pressure"},
    {"holds", "steady pressures"},
    {"response_at_kpa", "first air at, kPa"},
    {"brakes_at_kpa", "push-rod start, kPa"},
    {"threshold", "opening pressure"},
    {"threshold_kpa", "opening pressure, kPa"},
    {"threshold_choice_kpa", "opening pressure of the choice, kPa"},
    {"threshold_off_u", "opening pressure off by, u"},
    {"crack", "opening pressure"},
    {"crack_kpa", "opening pressure, kPa"},
    {"push_out", "push-rod start"},
    {"characteristics", "pressure curves"},
    {"control_line", "control (service) line"},
    {"line_m", "line (developed, valve to valve), m"},
    {"coupling_loss", "pressure lost at air couplings"},
    {"stagger_from", "first braked unit"},
};
static const char *labels_name(int i)
{
    return i < (int)(sizeof(labels) / sizeof(labels[0])) ? labels[i].code
                                                         : NULL;
}
static const char *labels_meaning(int i)
{
    return labels[i].words;
}
const struct bl_words bl_words_labels = {labels_name, labels_meaning};

static const char *flags_name(int i)
{
    const enum bl_flag flag = bl_flag_at((size_t)i);
    return flag == 0 ? NULL : bl_flag_name(flag);
}
static const char *flags_meaning(int i)
{
    return bl_flag_meaning(bl_flag_at((size_t)i));
}
const struct bl_words bl_words_flags = {flags_name, flags_meaning};

const char *bl_words_of(const struct bl_words *words, const char *name)
{
    for (int i = 0; words->name(i) != NULL; i++) {
        if (strcmp(words->name(i), name) == 0) {
            return words->meaning(i);
        }
    }
    return name;
}

const char *bl_coded_words(const struct bl_coded *table, const char *code)
{
    while (table->code != NULL && strcmp(table->code, code) != 0) {
        table++;
    }
    return table->words == NULL ? code : table->words;
}

const char *bl_words_caution(int index)
{
    /* Common practice; that units without spring brakes roll free when drained,
       and that low air may apply spring brakes: public manuals for commercial
       drivers. */
    static const char *const all[] = {
        "Standing tests: level ground, every unit chocked, supply line "
        "charged, "
        "park and spring brakes released throughout; nobody under, between or "
        "touching wheels. Agree signals with the person at the pedal; use a "
        "pedal "
        "depressor when somebody has to look. Drums may be hot.",
        "No full pedal on applied spring brakes: the forces add (compounding). "
        "Brakes held by an interlock may release suddenly.",
        "Runs without power, and those with control_air = blocked, are "
        "standing "
        "tests only. Tests on the move, and tests of ABS and electronics, only "
        "as the maker says.",
        "Air stores energy. Chock first, then drain, before a tee or a line is "
        "fitted or removed: draining sets spring brakes (rods move: hands "
        "clear) "
        "and lowers the suspension; without spring brakes only chocks hold. "
        "Keep "
        "clear until nothing moves. Low-air warning: stop, spring brakes may "
        "apply.",
        "Engine started and stopped on a signal. Hybrid or electric towing "
        "vehicle: high voltage, trained persons only.",
        "Listen-in leads on the trailer link: a transceiver for its signal "
        "levels, listening only, no terminating resistor, the shortest stub; "
        "look for error frames and trouble codes before and after.",
        "Afterwards: leak test, plugs refitted, logged codes cleared once the "
        "faults "
        "are repaired, warning lamps proven out before the train moves. Red "
        "lamp "
        "on: do not move.",
        "Figures are indicative, not a certification. Local codes, the maker's "
        "instructions and licensed practice come first. Pressure is not force: "
        "stroke, adjustment and lining are not seen."};
    return index < (int)(sizeof(all) / sizeof(all[0])) ? all[index] : NULL;
}
