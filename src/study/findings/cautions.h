/* SPDX-License-Identifier: MIT */
/* What a person must know before the next check of a finding: short, and once
   where it is needed. Common practice, but where a comment names a source. */
#ifndef BRAKELAG_SRC_STUDY_FINDINGS_CAUTIONS_H
#define BRAKELAG_SRC_STUDY_FINDINGS_CAUTIONS_H

#define CAUTION_STANDING                                                       \
    "Standing test on level ground: chock every unit, and only then release "  \
    "park and spring brakes; nobody under, between or touching wheels; "       \
    "agree signals with the person at the pedal."
/* That units without spring brakes roll free when drained: public manuals for
   commercial drivers. */
#define CAUTION_AIR                                                            \
    "Chock first, then drain, before a line, tee or plug is opened. "          \
    "Draining sets spring brakes (rods move) and lowers the suspension; "      \
    "without spring brakes only chocks hold. Keep clear until nothing "        \
    "moves. Afterwards refit plugs and test for leaks."
#define CAUTION_LEAD                                                           \
    "Listen-in lead on the trailer link: listening only, a transceiver "       \
    "for its levels, no terminating resistor, the shortest stub; compare "     \
    "trouble codes before and after."
#define CAUTION_LAMP                                                           \
    "Red lamp on: do not move. After plugging in again, clear the logged "     \
    "codes and check that the lamp works; clear no code before the repair. "   \
    "Tests on the move, and tests of ABS and electronics, only as the maker "  \
    "says."
#define CAUTION_MOVE "Do not move the train until this is put right."
#define CAUTION_SPRING                                                         \
    "No full pedal on applied spring brakes: the forces add "                  \
    "(compounding). A spring brake holds great force: never open its "         \
    "chamber, and cage the spring only as its maker says."
#define CAUTION_INTERLOCK                                                      \
    "Brakes held by an interlock may release suddenly, and others may apply: " \
    "chock every unit, stay outside the wheels."
#define CAUTION_HOT                                                            \
    "Drums may be hot. Keep face and hands off exhaust ports while air "       \
    "moves."
#define CAUTION_FUSED                                                          \
    "Chock every unit. Measure through a fused lead, engine started and "      \
    "stopped on a signal. Hybrid or electric towing vehicle: high "            \
    "voltage, trained persons only."
#define CAUTION_LOWAIR                                                         \
    "Low-air warning: stop, spring brakes may apply; chock every unit."
#define CAUTION_BELLOWS                                                        \
    "Chock every unit. Air let out of the bellows lowers the vehicle: "        \
    "keep clear."
#define CAUTION_STAND_ONLY                                                     \
    "Runs without power, and those with control_air = blocked, are "           \
    "standing tests only: chock every unit."
#define CAUTION_VENT                                                           \
    "Chock every unit and stay outside the wheels: brakes may release or "     \
    "apply while a line is vented."

#endif
