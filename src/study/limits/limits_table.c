/* SPDX-License-Identifier: MIT */
/*
 * The published limits, a row each. Why they stand here and not in a file:
 * docs/decisions/0010-published-limits-in-the-library.md. A value that could
 * only be remembered with low confidence is not in the table.
 */
#include "brakelag/limits.h"
#include "study/limits/judge.h"

#include "base/psi.h"

#include <math.h>
#include <stddef.h>

#define PSI BL_PSI_KPA

#define R13 "UN R13"
#define R13_STANDING                                                           \
    "stationary vehicle alone; least favourable brake; load-sensing valve in " \
    "its laden position; strokes as for the closest adjustment; "
#define R13_MOTOR                                                              \
    R13_STANDING                                                               \
    "reservoirs at governor cut-in; counts from the start of the control's "   \
    "actuation; the value for a pedal actuation of 0.2 s. A yard test often "  \
    "starts at cut-out, and this figure counts from command_at: both flatter"
#define R13_COUPLING                                                           \
    R13_STANDING                                                               \
    "measured at the end of a pipe of 2.5 m and 13 mm on the coupling head, "  \
    "385 cm3 on the supply coupling; the value for an actuation of 0.2 s"
#define R13_TRAILER                                                            \
    R13_STANDING                                                               \
    "driven by the simulator of the rule, supply line at 650 kPa; counts "     \
    "from 65 kPa in the control line, this figure from the command. A limit "  \
    "for one vehicle is no limit for a chain"
#define US "49 CFR 571.121"
#define US_TRUCK                                                               \
    "reservoirs at 100 psi; counts from the first movement of the control; "   \
    "a vehicle that tows has a volume of 50 in3 on its rear control "          \
    "coupling (one of two choices that the rule gives). A yard test often "    \
    "starts at cut-out, and this figure counts from command_at: both flatter"
#define US_TRAILER                                                             \
    "the trailer alone on the test rig of the rule, reservoirs at 100 psi, "   \
    "a volume of 50 in3 on a rear control coupling (one of two choices that "  \
    "the rule gives). A limit for one vehicle is no limit for a chain: this "  \
    "figure includes the units in front; a yard test often starts at "         \
    "cut-out, which "                                                          \
    "flatters"
#define US_LOSS                                                                \
    "the unit alone on the test rig with a calibrated orifice, 50 in3 behind " \
    "its rear coupling (one of two choices that the rule gives); here steady " \
    "pressures at two couplings are compared, and the line between them is "   \
    "included"

#define NO_RANGE 0, 0

static const char eu68[] = "(EU) 2015/68 Annex III, the same wording as UN R13";
static const char eu68_memory[] =
    "(EU) 2015/68 Annex III for the two events; the value from memory of "
    "UN R13 Annex 6, 3.5";
static const char r13_quote[] =
    "UN R13 Annex 6, 2.4, from one public quotation";
static const char chart[] =
    "timing chart of 49 CFR 571.121 in a public service manual of a trailer";
static const char nhtsa76[] =
    "NHTSA interpretation nht76-4.14 (1976), and the same chart";
static const char mirror[] =
    "49 CFR 571.121 S5.3.5 in public copies of poor quality";

static const struct bl_published_limit table[] = {
    {R13, "Annex 6, 2.4", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "start of the control's actuation", "75 % of the brake's asymptote", 0.6,
     "s", true, false, NO_RANGE, BL_LIMIT_BY_APPLY_75, R13_MOTOR, r13_quote,
     BL_SINGLE_SOURCE},
    {R13, "Annex 6, 2.6", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "start of the pedal's actuation", "10 % at the control coupling head", 0.2,
     "s", true, false, NO_RANGE, BL_LIMIT_BY_NOTHING, R13_COUPLING, eu68,
     BL_CONFIRMED},
    {R13, "Annex 6, 2.6", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "start of the pedal's actuation", "75 % at the control coupling head", 0.4,
     "s", true, false, NO_RANGE, BL_LIMIT_BY_NOTHING, R13_COUPLING, eu68,
     BL_CONFIRMED},
    {R13, "Annex 6, 2.6", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "start of the pedal's actuation",
     "10 % of the electric demand's end value", 0.2, "s", true, false, NO_RANGE,
     BL_LIMIT_BY_NOTHING, R13_MOTOR, eu68, BL_CONFIRMED},
    {R13, "Annex 6, 2.6", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "start of the pedal's actuation",
     "75 % of the electric demand's end value", 0.4, "s", true, false, NO_RANGE,
     BL_LIMIT_BY_NOTHING, R13_MOTOR, eu68, BL_CONFIRMED},
    {R13, "Annex 6, 3.5", BL_LIMIT_CLASS_TRAILER,
     "65 kPa in the control line, or a demand of 65 kPa",
     "75 % of the brake's asymptote", 0.4, "s", true, true, NO_RANGE,
     BL_LIMIT_BY_APPLY_75, R13_TRAILER, eu68_memory, BL_FROM_MEMORY},
    {US, "S5.3.3", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "first movement of the control", "60 psi in the chamber", 0.45, "s", false,
     false, NO_RANGE, BL_LIMIT_BY_APPLY, US_TRUCK, nhtsa76, BL_CONFIRMED},
    {US, "S5.3.3", BL_LIMIT_CLASS_TOWING_TRAILER,
     "first movement of the control", "60 psi in the chamber", 0.50, "s", false,
     true, NO_RANGE, BL_LIMIT_BY_APPLY, US_TRAILER, chart, BL_SINGLE_SOURCE},
    {US, "S5.3.3", BL_LIMIT_CLASS_DOLLY, "first movement of the control",
     "60 psi in the chamber", 0.55, "s", false, true, NO_RANGE,
     BL_LIMIT_BY_APPLY, US_TRAILER, chart, BL_SINGLE_SOURCE},
    {US, "S5.3.3", BL_LIMIT_CLASS_LAST_TRAILER, "first movement of the control",
     "60 psi in the chamber", 0.60, "s", false, true, NO_RANGE,
     BL_LIMIT_BY_APPLY, US_TRAILER, chart, BL_SINGLE_SOURCE},
    {US, "S5.3.3", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "first movement of the control",
     "60 psi in 50 in3 at the rear control coupling", 0.35, "s", false, false,
     NO_RANGE, BL_LIMIT_BY_NOTHING, US_TRUCK, chart, BL_SINGLE_SOURCE},
    {US, "S5.3.3", BL_LIMIT_CLASS_TOWING_TRAILER,
     "first movement of the control",
     "60 psi in 50 in3 at the rear control coupling", 0.50, "s", false, true,
     NO_RANGE, BL_LIMIT_BY_NOTHING, US_TRAILER, chart, BL_SINGLE_SOURCE},
    {US, "S5.3.3", BL_LIMIT_CLASS_DOLLY, "first movement of the control",
     "60 psi in 50 in3 at the rear control coupling", 0.55, "s", false, true,
     NO_RANGE, BL_LIMIT_BY_NOTHING, US_TRAILER, chart, BL_SINGLE_SOURCE},
    {US, "S5.3.4", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "first movement of the control, from 95 psi", "5 psi in the chamber", 0.55,
     "s", false, false, NO_RANGE, BL_LIMIT_BY_RELEASE, US_TRUCK, chart,
     BL_FROM_MEMORY},
    {US, "S5.3.4", BL_LIMIT_CLASS_TOWING_TRAILER,
     "first movement of the control, from 95 psi", "5 psi in the chamber", 1.00,
     "s", false, true, NO_RANGE, BL_LIMIT_BY_RELEASE, US_TRAILER, chart,
     BL_SINGLE_SOURCE},
    {US, "S5.3.4", BL_LIMIT_CLASS_DOLLY,
     "first movement of the control, from 95 psi", "5 psi in the chamber", 1.10,
     "s", false, true, NO_RANGE, BL_LIMIT_BY_RELEASE, US_TRAILER, chart,
     BL_SINGLE_SOURCE},
    {US, "S5.3.4", BL_LIMIT_CLASS_LAST_TRAILER,
     "first movement of the control, from 95 psi", "5 psi in the chamber", 1.20,
     "s", false, true, NO_RANGE, BL_LIMIT_BY_RELEASE, US_TRAILER, chart,
     BL_SINGLE_SOURCE},
    {US, "S5.3.4", BL_LIMIT_CLASS_MOTOR_VEHICLE,
     "first movement of the control, from 95 psi",
     "5 psi in 50 in3 at the rear control coupling", 0.75, "s", false, false,
     NO_RANGE, BL_LIMIT_BY_NOTHING, US_TRUCK, chart, BL_FROM_MEMORY},
    {US, "S5.3.4", BL_LIMIT_CLASS_TOWING_TRAILER,
     "first movement of the control, from 95 psi",
     "5 psi in 50 in3 at the rear control coupling", 1.00, "s", false, true,
     NO_RANGE, BL_LIMIT_BY_NOTHING, US_TRAILER, chart, BL_SINGLE_SOURCE},
    {US, "S5.3.4", BL_LIMIT_CLASS_DOLLY,
     "first movement of the control, from 95 psi",
     "5 psi in 50 in3 at the rear control coupling", 1.10, "s", false, true,
     NO_RANGE, BL_LIMIT_BY_NOTHING, US_TRAILER, chart, BL_SINGLE_SOURCE},
    {US, "S5.3.5", BL_LIMIT_CLASS_TOWS, "front control coupling",
     "rear control coupling, at 5 to 20 psi", PSI, "kPa", false, false, 5 * PSI,
     20 * PSI, BL_LIMIT_BY_LOSS, US_LOSS, mirror, BL_SINGLE_SOURCE},
    {US, "S5.3.5", BL_LIMIT_CLASS_TOWS, "front control coupling",
     "rear control coupling, above 20 to 40 psi", 2 * PSI, "kPa", false, false,
     20 * PSI, 40 * PSI, BL_LIMIT_BY_LOSS, US_LOSS, mirror, BL_SINGLE_SOURCE},
    {US, "S5.3.5", BL_LIMIT_CLASS_TOWS, "front control coupling",
     "rear control coupling, above 40 psi", 5, "%", false, false, 40 * PSI, 1e9,
     BL_LIMIT_BY_LOSS, US_LOSS, "49 CFR 571.121 S5.3.5, the value from memory",
     BL_FROM_MEMORY},
};

const struct bl_published_limit *bl_published_limit(size_t index)
{
    return index < sizeof(table) / sizeof(table[0]) ? &table[index] : NULL;
}

const struct bl_published_limit *bl_limit_of_loss(double front_kpa)
{
    const struct bl_published_limit *limit;
    /* The ranges follow each other upwards; only the lowest has its lower end
       within: "5 to 20", "above 20 to 40". */
    for (size_t i = 0; (limit = bl_published_limit(i)) != NULL; i++) {
        if (limit->by == BL_LIMIT_BY_LOSS && front_kpa <= limit->up_to_kpa) {
            return front_kpa >= limit->above_kpa ? limit : NULL;
        }
    }
    return NULL;
}

double bl_limit_loss_kpa(const struct bl_published_limit *limit,
                         double front_kpa)
{
    if (limit == NULL) {
        return NAN;
    }
    return limit->unit[0] == '%' ? limit->limit / 100 * front_kpa
                                 : limit->limit;
}
