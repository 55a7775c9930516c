/* SPDX-License-Identifier: MIT */
/* Codes that speak of air, supply and measuring, in the words of
   docs/findings.md; a test compares the two. */
#include "study/findings/cautions.h"
#include "study/findings/kinds.h"

const struct bl_finding_kind bl_finding_kinds_air[] = {
    {"control-late-apply", BL_GROUP_AIR, BL_SEVERITY_FAULT,
     "control of this unit and of the one in front (or the command); earlier "
     "runs, or two other units; without control, outputs by air alone",
     "control pressure takes over 0.02 s longer from the coupling in front "
     "to this one than in earlier runs; or it takes 0.10 s longer than "
     "between the other couplings, or its whole rise 0.07 s longer than "
     "expected from the other lines, beyond doubt (a warning); or, if "
     "control is not recorded, the output comes late after the output of the "
     "unit in front, and the unit behind is not early (a warning)",
     "there is nothing to compare with",
     "Check every shut-off cock first; then look at the control line between "
     "the unit and the one in front: kinks, crushed hose, coupling half "
     "seated, blocked filter, water or ice, wrong bore.",
     CAUTION_AIR " " CAUTION_MOVE},
    {"control-late-release", BL_GROUP_AIR, BL_SEVERITY_FAULT,
     "control of this unit and of the one in front (or the command); earlier "
     "runs, or two other units; without control, outputs by air alone",
     "the fall of control pressure takes over 0.03 s longer to begin at this "
     "coupling after the coupling in front than in earlier runs; or it takes "
     "0.10 s longer than between the other couplings, or the fall to half "
     "0.07 s longer than expected from the other lines, beyond doubt (a "
     "warning); or, if control is not recorded, as for control-late-apply",
     "there is nothing to compare with",
     "Check every shut-off cock first; then look at the control line from "
     "the unit in front for check valves and filters that pass air one way "
     "only, and see whether the valve in front vents.",
     CAUTION_AIR " " CAUTION_MOVE},
    {"control-line-loss", BL_GROUP_AIR, BL_SEVERITY_WARNING,
     "control of this unit and of the one in front (or the command); control "
     "line declared straight through for the units between, or two other units",
     "held control pressure is lower here than in front by more than the "
     "published differential: 6.9 kPa up to 138 kPa, 13.8 kPa up to 276 kPa, "
     "5 % above; or, even where the line is boosted by relay, more is lost "
     "than between the other couplings, by 15 % of the pressure, beyond "
     "doubt; a loss of nine tenths of the pressure is a fault",
     "the pressure did not settle, or the line is boosted by relay and there "
     "are no two other couplings",
     "Look at the air couplings and their seals; with the pedal held by a "
     "depressor, listen for leaks along the line from outside the wheels, "
     "then use soap.",
     CAUTION_STANDING},
    {"valve-keeps", BL_GROUP_AIR, BL_SEVERITY_WARNING,
     "light and hard applications; control of this unit and of the one in "
     "front, and two other units",
     "in light applications control pressure here lies below that in front "
     "by 30 kPa more than at the other couplings, beyond doubt, but in hard "
     "ones no large share is missing: a fixed amount is lost on the way",
     "no light applications were made, control is not recorded (outputs have "
     "their own opening pressures in them), or there are no two other units",
     "Raise the pedal pressure slowly and read both ends of the line: a "
     "valve that passes the pressure on with air of its own takes off the "
     "same amount at every pressure. Then check the type plate and setting "
     "of the valve in front, and look for a check valve that was built in.",
     CAUTION_STANDING},
    {"supply-crossed", BL_GROUP_AIR, BL_SEVERITY_FAULT, "control",
     "control pressure is above 300 kPa before every application",
     "control is not recorded; or the output still answers the command: then "
     "the transducers of supply and control are exchanged rather than the "
     "lines",
     "Follow both lines by their colours from coupling to coupling; read the "
     "reservoir: behind crossed lines it is empty. Then see that the "
     "transducers are fitted where the trial file says.",
     CAUTION_AIR " " CAUTION_MOVE},
    {"reservoir-falls", BL_GROUP_AIR, BL_SEVERITY_WARNING,
     "reservoir; better those of other units too",
     "while the brakes are filled and held (from 1.5 s after the command, or "
     "from 0.5 s after 75 % if that is later), the reservoir loses over 10 "
     "kPa more than in an equal time before the application; what the other "
     "units' reservoirs lose in the same way is subtracted first",
     "applications are too short",
     "With the pedal held by a depressor, listen from outside the wheels and "
     "use soap where it is safe to reach: a chamber's diaphragm, its hose, "
     "the exhaust of the valve. Pressures cannot tell these apart.",
     CAUTION_STANDING},
    {"supply-sag", BL_GROUP_AIR, BL_SEVERITY_WARNING, "reservoir",
     "before an application the reservoir is more than 70 kPa lower than "
     "before the first application of the run",
     "there are fewer than two applications",
     "Check every shut-off cock of the supply line first; let the supply "
     "recover, watch the reservoir during repeated applications, then check "
     "compressor, supply line and leaks.",
     CAUTION_LOWAIR " " CAUTION_MOVE},
    {"voltage-low", BL_GROUP_AIR, BL_SEVERITY_FAULT, "voltage",
     "during applications the unit's supply falls below 10 V (`[expect] "
     "voltage_min` replaces this number), or by more than a fifth of its "
     "voltage between applications",
     "the channel has no samples during applications",
     "Look for burnt, bent or wet pins at the plug; then measure each supply "
     "pair, and its drop under load with lamps and heaters on; then check "
     "supply and return wires and fuse.",
     CAUTION_FUSED " " CAUTION_LAMP},
    {"park-brake-on", BL_GROUP_AIR, BL_SEVERITY_FAULT,
     "a park or spring brake state on the bus",
     "a park or spring brake is reported as on during an application",
     "no device sends such a state",
     "Chock all units, then see that park and spring brakes are released, and "
     "repeat.",
     CAUTION_SPRING},
    {"automatic-braking", BL_GROUP_AIR, BL_SEVERITY_FAULT,
     "an automatic-braking state on the bus",
     "the unit reports that it brakes by itself",
     "no device sends such a state",
     "See whether a door, ramp or tipping interlock is on and what the "
     "supply gauge shows; then check the supply line, the anti-compounding "
     "valve and stability control.",
     CAUTION_INTERLOCK " " CAUTION_MOVE},
    {"not-vented", BL_GROUP_AIR, BL_SEVERITY_WARNING, "output",
     "an output was still more than 5 kPa above its released pressure when "
     "an application began",
     "the recording begins with the application",
     "Wait longer between applications; every channel must be under 5 kPa "
     "first. If one never gets there, see that foot and hand control are fully "
     "off.",
     ""},
    {"residual-pressure", BL_GROUP_AIR, BL_SEVERITY_WARNING,
     "output or control; released pressure before the first application and "
     "after it",
     "released pressure after an application is more than 5 kPa above that "
     "before the first one of the run",
     "the pressure is above zero from the beginning (without a vented "
     "stretch, trapped pressure and a shifted zero look alike); or it is "
     "still falling",
     "See that foot and hand control are fully off and what the park brake "
     "does; then vent at a test point of the valve and see whether the "
     "reading falls. Do not drain the reservoir: that would destroy the "
     "evidence.",
     CAUTION_VENT " " CAUTION_MOVE},
    {"zero-offset", BL_GROUP_AIR, BL_SEVERITY_NOTE, "output or control",
     "when released, the channel reads more than 5 kPa below zero, where no "
     "pressure can be",
     "the reading is above zero all the time: without a vented stretch, a "
     "shifted zero and trapped pressure look alike",
     "Record the transducer with its line open to the air, and enter `zero` in "
     "the trial file.",
     CAUTION_AIR},
    {"transducers-disagree", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "doubled control",
     "the two differ by more than the tolerance for longer than the time "
     "allowed",
     "one of them was not recorded, or both are identical to the bit: one is "
     "wired twice",
     "See that both plugs and hoses are firm; compare both with a gauge at a "
     "third point; then exchange them and see whether the difference moves "
     "with them.",
     CAUTION_AIR},
    {"false-demand", BL_GROUP_MEASURING, BL_SEVERITY_FAULT,
     "doubled control; demand or output",
     "demand or output follows one transducer while the other shows no "
     "pressure",
     "one of them was not recorded",
     "Compare both with a gauge; take the unit out of service until the wrong "
     "one is exchanged.",
     CAUTION_STANDING " " CAUTION_MOVE},
    {"channels-swapped", BL_GROUP_MEASURING, BL_SEVERITY_FAULT,
     "outputs of two units, or control and output, in a run by air alone; "
     "control of two units; or earlier runs",
     "the air seems to run backwards, beyond 4 u: without power or data an "
     "output comes before its own control pressure, or a control pressure "
     "(by air alone an output) comes before the one in front; and the order "
     "is right once two channels, or all channels of two units, are "
     "exchanged (cannot tell if no exchange puts it right); or two units "
     "have exchanged their lags since earlier runs; or control pressure of "
     "one unit rises alone and the output of another unit answers; or by air "
     "alone two outputs begin, fall and settle together, within 0.01 s and 1 "
     "%, although there is a delay between the other units",
     "no run by air alone, and no control pressure of two units",
     "Unplug one transducer at a time and see which channel goes dead; never "
     "blow into or press on brake lines.",
     ""},
    {"channel-dead", BL_GROUP_MEASURING, BL_SEVERITY_WARNING, "any channel",
     "the channel never changes, not even by noise, while others move",
     "no application was found",
     "See that the transducer's plug is firm; unplug one transducer at a "
     "time and see which channel changes; never blow into or press on brake "
     "lines; then check its supply and wiring.",
     ""},
    {"channel-clipped", BL_GROUP_MEASURING, BL_SEVERITY_WARNING, "any channel",
     "the channel stays at its largest value, without noise, or at the end of "
     "its stated range",
     "the steady stretch is shorter than 8 samples",
     "Set a wider range, or use a transducer with one.", ""},
    {"stair-steps", BL_GROUP_MEASURING, BL_SEVERITY_NOTE, "any channel",
     "samples repeat in groups: the true rate is lower than the recorder's",
     "the channel does not move",
     "In the recorder set the rate at which the channel is really sampled; "
     "times depend on it.",
     ""},
    {"wrong-pressure-unit", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "a pressure channel; the others",
     "the held pressure is 6.9, 14.5, 100 or 1000 times that of other "
     "channels of the trial, or theirs is that many times as high; or the "
     "log states another unit than the trial file, and only with the unit of "
     "the log is the largest value 150 to 1200 kPa",
     "there is no other pressure channel that moves",
     "Read what is printed on the transducer; then check `measured_in`, "
     "`scale` and the recorder's set-up.",
     ""},
    {"gauge-absolute", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "a pressure channel",
     "when released it reads 85 to 108 kPa while the others read near zero, or "
     "all of them read 85 to 108 kPa",
     "the reading is above zero but outside that range, or there is no other "
     "channel to compare with",
     "Read what is printed on the transducer; then enter `zero = -101 kPa` "
     "in the trial file, or better, minus the air pressure of the day; and "
     "see whether pressure stays in the line.",
     ""},
    {"clock-ambiguous", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "a capture and a log of one run",
     "the events of the recordings match in more than one way, or contradict "
     "a stated clock; lags of the run are then not judged",
     "clocks are stated, and the events are too few or too even to check them; "
     "or every demand comes 0.5 s after the command",
     "Give one unmistakable event on both recorders: a single press of the "
     "pedal apart from the others, or an electrical pulse.",
     CAUTION_STANDING},
    {"implausible-lag", BL_GROUP_MEASURING, BL_SEVERITY_WARNING,
     "output without power or data, line lengths",
     "even with 2 u added, the lag is shorter than the line's length divided "
     "by 1.3 times the speed of sound; or, except in light applications, an "
     "output leads its own control pressure without power or data, or leads "
     "both its demand and the air at its coupling; or every demand comes 0.3 s "
     "before the driver's own movement. Lags of such a run are not judged",
     "no line length is stated, the unit was powered, or all outputs respond "
     "as one, as at one tee",
     "See which transducer is fitted to which unit; then check the clocks, the "
     "order of the channels and the line length, which is the developed length "
     "from valve to valve.",
     ""},
    {"pedal-slow", BL_GROUP_MEASURING, BL_SEVERITY_NOTE,
     "the command as a pressure, movement or demand",
     "in full applications the command takes more than 0.2 s from 10 to 90 %: "
     "limits made for a fast pedal do not apply",
     "the command is a switch, or no full application was made",
     "Repeat with the pedal to the floor in under 0.2 s.", CAUTION_STANDING},
    {"not-comparable", BL_GROUP_MEASURING, BL_SEVERITY_NOTE, "two or more runs",
     "runs of different conditions share no kind and shape of application; "
     "cannot tell if the command moved differently from earlier runs, which "
     "may explain later figures",
     "there is one condition only",
     "Make the same applications in every condition.", CAUTION_STANDING},
};
BL_FINDING_ROWS(bl_finding_kinds_air, BL_FINDINGS - BL_FINDING_FIRST_AIR);
