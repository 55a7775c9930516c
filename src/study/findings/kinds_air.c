/* SPDX-License-Identifier: MIT */
/* Codes that speak of air, supply and measuring, in the words of
   docs/findings.md; a test compares the two. */
#include "study/findings/kinds.h"

#define CAUTION_STANDING                                                       \
    "Standing test: level ground, every unit chocked, park and spring brakes " \
    "released only then; nobody under, between or touching wheels."
#define CAUTION_AIR                                                            \
    "Air stores energy: drain the reservoirs before a line, tee or plug is "   \
    "opened; leak test and refit plugs afterwards."
#define CAUTION_SPRING                                                         \
    "A spring brake holds great force: never open its chamber, and cage the "  \
    "spring only as its maker says."

const struct bl_finding_kind bl_finding_kinds_air[] = {
    {"control-late-apply", BL_GROUP_AIR, BL_SEVERITY_FAULT,
     "control of this unit and of the one in front (or the command); "
     "earlier runs, or two other units; without control, outputs by air alone",
     "control pressure arrives at this coupling later after the one in "
     "front than in earlier runs + 0.02 s, or by 0.10 s more than at the other "
     "couplings, beyond doubt (a warning); without control the output behind "
     "the one in front, and the unit behind is not early (a warning)",
     "there is nothing to compare with",
     "Walk the shut-off cocks first; then look at the control line between "
     "these two units: kinks, crushed hose, coupling half seated, blocked "
     "filter, wrong bore.",
     CAUTION_AIR},
    {"control-late-release", BL_GROUP_AIR, BL_SEVERITY_FAULT,
     "control of this unit and of the one in front (or the command); "
     "earlier runs, or two other units; without control, outputs by air alone",
     "control pressure at this coupling begins to fall later after the one "
     "in front than in earlier runs + 0.03 s, or by 0.10 s more than at the "
     "other couplings, beyond doubt (a warning); without control as for "
     "control-late-apply",
     "there is nothing to compare with",
     "Walk the shut-off cocks first; then look at the control line behind the "
     "one in front for restrictions that pass one way only, and whether the "
     "front valve vents.",
     CAUTION_AIR},
    {"control-line-loss", BL_GROUP_AIR, BL_SEVERITY_WARNING,
     "control of this unit and of the one in front (or the command); "
     "control line declared through for the units between, or two other units",
     "held control pressure is lower here than in front by more than the "
     "published differential: 6.9 kPa up to 138 kPa, 13.8 kPa up to 276 "
     "kPa, 5 % above; or, relayed too, 15 % of it more than between the other "
     "couplings, beyond doubt",
     "the hold did not settle, or the line is relayed and there are no two "
     "other couplings",
     "Listen for leaks along the line with the brakes held; check "
     "couplings and their seals.",
     CAUTION_STANDING},
    {"supply-sag", BL_GROUP_AIR, BL_SEVERITY_WARNING, "reservoir",
     "before an application the reservoir is more than 70 kPa lower than "
     "before the run's first",
     "there are fewer than two applications",
     "Let the supply recover between applications; check compressor, "
     "supply line and leaks.",
     ""},
    {"voltage-low", BL_GROUP_AIR, BL_SEVERITY_FAULT, "voltage",
     "during applications the unit's supply falls under 10 V (`[expect] "
     "voltage_min` asks for another), or by more "
     "than a fifth of its voltage at rest",
     "the channel has no samples during applications",
     "Measure at the plug under load; check supply and return wires, "
     "connector pins and fuse.",
     ""},
    {"park-brake-on", BL_GROUP_AIR, BL_SEVERITY_FAULT,
     "a park or spring brake state on the bus",
     "the state says on during an application", "nobody sends such a state",
     "Chock all units, then release park and spring brakes and repeat.",
     CAUTION_SPRING},
    {"automatic-braking", BL_GROUP_AIR, BL_SEVERITY_FAULT,
     "an automatic-braking state on the bus",
     "the unit reports braking of its own", "nobody sends such a state",
     "Find out why the unit brakes by itself: supply pressure, stability "
     "control, supply line.",
     CAUTION_STANDING},
    {"not-vented", BL_GROUP_AIR, BL_SEVERITY_WARNING, "output",
     "an output was not within 5 kPa of rest for 1 s before an application",
     "the recording begins with the application",
     "Wait until every channel is under 5 kPa before the next application.",
     ""},
    {"residual-pressure", BL_GROUP_AIR, BL_SEVERITY_WARNING,
     "output or control; rest before the first application and after it",
     "rest after an application is more than 5 kPa above rest before the "
     "first one of the run",
     "rest lies above zero from the beginning: pressure that stays and a "
     "shifted zero look alike without a vented stretch; or it still falls",
     "See that foot and hand control are fully off and what the park brake "
     "does; then vent at a test point and see whether the reading falls. Do "
     "not drain the reservoir: the evidence goes with it.",
     CAUTION_AIR},
    {"zero-offset", BL_GROUP_AIR, BL_SEVERITY_NOTE, "output or control",
     "the channel rests more than 5 kPa below zero, where no pressure can "
     "be",
     "it rests above zero all the time: a shifted zero and pressure that "
     "stays look alike without a vented stretch",
     "Record the transducer with its line open to the air, and enter "
     "`zero` in the trial file.",
     CAUTION_AIR},
    {"transducers-disagree", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "doubled control",
     "the two differ by more than the tolerance for longer than the time "
     "allowed",
     "one of them was not recorded, or both are identical to the bit: one is "
     "wired twice",
     "Compare both with a gauge at a third point; exchange them and see "
     "whether the difference moves along.",
     CAUTION_AIR},
    {"false-demand", BL_GROUP_MEASURING, BL_SEVERITY_FAULT,
     "doubled control; demand or output",
     "demand or output follows one transducer while the other shows no "
     "pressure",
     "one of them was not recorded",
     "Compare both with a gauge; take the unit out of service until the "
     "wrong one is exchanged.",
     CAUTION_STANDING},
    {"channels-swapped", BL_GROUP_MEASURING, BL_SEVERITY_FAULT,
     "outputs of two units, or control and output, in a run by air alone; "
     "control of two units; or earlier runs",
     "the air would run backwards: an output before its own control pressure "
     "without power or data, or a control pressure (by air alone an output) "
     "before that in front, beyond 4 u, and with two channels exchanged all is "
     "in order; or two units exchange their lags against earlier runs; or "
     "control pressure of one unit alone rises and the output of another "
     "answers",
     "no run by air alone, and no control pressure of two units",
     "Unplug one transducer at a time and see which channel goes; never blow "
     "into or press on brake lines.",
     CAUTION_AIR},
    {"channel-dead", BL_GROUP_MEASURING, BL_SEVERITY_WARNING, "any channel",
     "the channel never changes, not even by noise, while others move",
     "no application was found",
     "Check plug, supply and wiring of the transducer; unplug it and see "
     "whether the channel moves.",
     ""},
    {"channel-clipped", BL_GROUP_MEASURING, BL_SEVERITY_WARNING, "any channel",
     "the channel stays at its largest value, without noise, or at the end "
     "of its stated range",
     "the hold is shorter than 8 samples",
     "Set a wider range, or use a transducer with one.", ""},
    {"stair-steps", BL_GROUP_MEASURING, BL_SEVERITY_NOTE, "any channel",
     "samples repeat in groups: the true rate is lower than the recorder's",
     "the channel does not move",
     "Set the channel's own rate in the recorder; times rest on the true "
     "rate.",
     ""},
    {"wrong-pressure-unit", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "a pressure channel; the others",
     "the held pressure is that of others of the trial times 6.9, 14.5, "
     "100 or 1000, or the other way round",
     "there is no other pressure channel that moves",
     "Check `measured_in`, `scale` and the recorder's set-up.", ""},
    {"gauge-absolute", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "a pressure channel",
     "it rests between 85 and 108 kPa while the others rest near zero, or "
     "all of them do",
     "it rests above zero elsewhere, or it is the only one",
     "Enter `zero = -101 kPa`, or better that of the day, in the trial "
     "file; see whether pressure stays in the line.",
     ""},
    {"clock-ambiguous", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "a capture and a log of one run",
     "events fit in more than one way, or contradict a stated clock: then lags "
     "of the run are not judged",
     "clocks are stated and the events too few or too even to hold against "
     "them; or every demand comes 0.5 s after the command",
     "Give one unmistakable event on both recorders: a single tap of the "
     "pedal apart from the others, or an electrical pulse.",
     ""},
    {"implausible-lag", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "output without power or data, line lengths",
     "the lag and 2 u lie below the line's length over 1.3 times the speed of "
     "sound; or, not in light ones, an output leads its own control pressure "
     "without power or data, or both its demand and the air at its coupling; "
     "or every demand comes 0.3 s before the driver's own movement. Lags of "
     "such a run are not judged",
     "no line length is stated, the unit was powered, or all outputs respond "
     "as one, as at one tee",
     "Check the clocks, the order of the channels and the line length.", ""},
    {"pedal-slow", BL_GROUP_MEASURING, BL_SEVERITY_NOTE,
     "the command as a pressure, movement or demand",
     "in full applications the command takes more than 0.2 s from 10 to 90 "
     "%: limits made for a fast pedal do not apply",
     "the command is a switch, or no full application was made",
     "Repeat with the pedal to the floor in under 0.2 s.", CAUTION_STANDING},
    {"not-comparable", BL_GROUP_MEASURING, BL_SEVERITY_NOTE, "two or more runs",
     "runs of different conditions share no kind and shape of application",
     "there is one condition only",
     "Make the same applications in every condition.", ""},
};
BL_FINDING_ROWS(bl_finding_kinds_air, BL_FINDINGS - BL_FINDING_FIRST_AIR);
