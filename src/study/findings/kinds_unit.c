/* SPDX-License-Identifier: MIT */
/* Codes that speak of demand and unit, in the words of docs/findings.md; a test
   compares the two. */
#include "study/findings/kinds.h"

#define CAUTION_STANDING                                                       \
    "Standing test: level ground, every unit chocked, park and spring brakes " \
    "released only then; nobody under, between or touching wheels."
#define CAUTION_AIR                                                            \
    "Air stores energy: drain the reservoirs before a line, tee or plug is "   \
    "opened; leak test and refit plugs afterwards."
#define CAUTION_TAP                                                            \
    "Tap the trailer link listening only, with a transceiver for its levels, " \
    "no terminating resistor and the shortest stub; compare trouble codes "    \
    "before and after."

const struct bl_finding_kind bl_finding_kinds_unit[] = {
    {"demand-missing", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link; its address or bus",
     "the unit's link carries traffic, but no valid demand while the "
     "command is on",
     "the link is not captured, or the command was not seen",
     "Capture at the plug of this coupling and look for the demand "
     "message; check the data wires, then the unit in front, which must "
     "send it.",
     CAUTION_TAP},
    {"demand-ignored", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "demand on the unit's link, control, output; or a run by air alone",
     "demand has arrived, and the output follows the air at the unit's "
     "coupling instead: it trails that air by up to 0.1 s, and the demand by "
     "more than 0.3 s; or response and 75 % are those of a run by air alone "
     "(within 0.005 s and 0.01 s), and either later than 0.4 s and 0.6 s, or "
     "a unit to which the air comes later is ahead by 0.01 s and 0.03 s",
     "control or output is not wired, or air and demand come together",
     "Read the unit's trouble codes; check its supply voltage under load "
     "and its data wires at the plug.",
     CAUTION_TAP},
    {"demand-altered", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "demand on two links",
     "settled for three sending intervals, the demand differs from that on "
     "the first link by more than one bit",
     "the demand never settles, or one link is not captured",
     "Capture both links at once and compare; check what re-issues the "
     "demand in the unit between.",
     CAUTION_TAP},
    {"demand-late", BL_GROUP_DEMAND, BL_SEVERITY_WARNING,
     "demand on two links, clocks tied; [expect] coupling_delay_max or the "
     "unit's earlier runs",
     "a coupling adds more than it should",
     "the captures' clocks are not tied by something other than the demand",
     "Record both links on one recorder; check the load of the link and "
     "what re-issues the demand.",
     CAUTION_TAP},
    {"frames-lost", BL_GROUP_DEMAND, BL_SEVERITY_WARNING, "the capture",
     "this identifier alone stops for more than three intervals while "
     "others on the link go on",
     "the message is sent on change only",
     "Check connector pins and cable of this coupling while they are "
     "moved; look for error frames.",
     CAUTION_TAP},
    {"recording-gap", BL_GROUP_DEMAND, BL_SEVERITY_NOTE, "the capture or log",
     "everything on the link stops for longer than three intervals of the "
     "fastest message, or the stamps of a recording leave its pace",
     "the link itself went to sleep",
     "Check the recorder's storage, supply and clock; repeat the run.", ""},
    {"unit-silent", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link; its address",
     "the unit sends nothing at all on its link, or stops for good",
     "its address is not stated",
     "Check supply and fuse of the unit, then its plug; see whether its "
     "warning lamp lights at switch-on.",
     CAUTION_STANDING},
    {"unit-restarted", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link",
     "the unit claims its address or sends its start-up messages again "
     "within the run",
     "its messages do not tell a start-up",
     "Log the supply voltage at this unit during applications; check "
     "ground and plug.",
     ""},
    {"fault-codes-present", BL_GROUP_DEMAND, BL_SEVERITY_WARNING, "the capture",
     "active trouble codes are sent",
     "the unit does not send them on this link",
     "Note the codes, look them up in the maker's manual, and repeat the "
     "run once they are cleared.",
     ""},
    {"address-order", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link; the addresses of both units",
     "the demand on the link goes from or to another address than the trial "
     "file states, or an address of no unit speaks in place of one",
     "the addresses are not stated, or all links are one bus",
     "Compare the addresses and the order of the units with the trial file; "
     "power the train down and up again, so that addresses are given out "
     "anew.",
     ""},
    {"demand-stands", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link; a command",
     "the command comes and goes, and the demand to the unit stands at one "
     "value, in all applications or in those that are named",
     "no command was found, or no clock ties the capture to it",
     "Press the pedal and watch the demand on this link; check what makes it "
     "(the pedal's sensor, or what re-issues it in the unit in front), then "
     "the unit's trouble codes.",
     CAUTION_TAP},
    {"demand-slow", BL_GROUP_DEMAND, BL_SEVERITY_WARNING,
     "the capture; period_ms in the mapping table, or [expect] interval_max",
     "the middle interval of the demand frames is longer than the table's "
     "period by more than a tenth, or than interval_max",
     "the table states no period, and [expect] no interval_max",
     "Check the load of this link and what sends the demand on it; see whether "
     "the capture was thinned by a gateway.",
     CAUTION_TAP},
    {"two-senders", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link",
     "a second address sends a demand to the same unit; a warning where both "
     "say the same",
     "frames carry no sender",
     "Find out which of the two the unit is to obey, and silence the other; "
     "look for a second controller or a tool left plugged in.",
     CAUTION_TAP},
    {"condition-not-met", BL_GROUP_DEMAND, BL_SEVERITY_WARNING,
     "what the run declares of power, data and control air, and a channel "
     "that shows it",
     "voltage, frames or control pressure contradict what the run declares",
     "nothing recorded shows it",
     "Find out what was really plugged in, correct the trial file or "
     "repeat the run.",
     ""},
    {"late-apply", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output, command; a limit for the unit, its earlier runs, what a "
     "prediction rests on, or two other units; control parts the line from "
     "the unit",
     "the output responds later than the limit, its earlier runs + 0.02 s, the "
     "longest that is predicted from stated values + 0.02 s, by 0.10 s more "
     "than the other units let one expect, beyond doubt (a warning), or by air "
     "later after the unit in front than three other stages of its train let "
     "one expect, at 1 % (a warning)",
     "there is nothing to compare with, or the clocks give differences only",
     "Measure control pressure at the unit's front coupling and repeat: if "
     "it is late too, look at the line, its cocks, couplings and filters; if "
     "not, at the unit's relay valve, its air supply, then its electric supply "
     "and electronics.",
     CAUTION_AIR},
    {"slow-fill", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; a limit, the unit's earlier runs, a prediction, or two other "
     "units",
     "from response to 75 % the output takes longer than before by a tenth and "
     "0.02 s, than the limits leave, than predicted as for late-apply, or by "
     "0.10 s more than the other units let one expect, beyond doubt (a "
     "warning)",
     "the output had not settled at the release and its bound is not late "
     "(hold longer), or nothing is there to compare with",
     "Read the reservoir at the valve during an application, the fall, and the "
     "unit's other chambers; then look at the valve's inlet, the hose to the "
     "chamber and the stroke.",
     CAUTION_AIR},
    {"late-release", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; a limit, the unit's earlier runs, a prediction, or two other "
     "units",
     "the output begins to fall later than the limit, its earlier runs + 0.03 "
     "s, predicted as for late-apply, or by 0.10 s more than the other units "
     "let one expect, beyond doubt (a warning)",
     "the command's release was not seen, or nothing is there to compare "
     "with",
     "Measure control pressure at the front coupling during release: if it "
     "falls in time, look at the relay valve.",
     CAUTION_AIR},
    {"slow-release", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; a limit, the unit's earlier runs, a prediction, or two other "
     "units",
     "the output falls from 90 to 10 % more slowly than before by a tenth and "
     "0.03 s, than the limits leave, than predicted as for late-apply, or by "
     "0.10 s more than the other units let one expect, beyond doubt (a "
     "warning)",
     "the next application began before, or nothing is there to compare "
     "with",
     "Check the exhaust of the relay or quick-release valve for dirt and "
     "ice, and hoses for kinks.",
     CAUTION_AIR},
    {"hose-restricted", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; two other units",
     "the output takes 0.10 s longer than the other units let one expect, "
     "beyond doubt, both from response to 75 % and from 90 to 10 % (a warning)",
     "there are fewer than two other units, or the fill was not measured",
     "Exchange the transducer's hose first; then look at the hoses from valve "
     "to chambers, and at a second chamber with another transducer.",
     CAUTION_AIR},
    {"no-output", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; control or command",
     "control pressure (the command, where control is not wired) passes "
     "the unit's threshold, or 100 kPa where none is stated, and "
     "response_at, and the output does not respond",
     "the channel is dead: it does not even show noise",
     "Walk the shut-off cocks first. Then, pedal held by a depressor, read the "
     "pressures from the coupling to the valve to the chamber; stay outside "
     "the wheels.",
     CAUTION_STANDING},
    {"air-path-shut", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; a run by air alone and one with the demand; two other units",
     "in at least half of the applications by air alone the unit gives no "
     "output where the others do, and it gives one with the demand (a warning)",
     "there is no run of one of the two, or there are no two other units",
     "Walk the shut-off cocks first; then test the backup valve as its maker "
     "says. Do not move the train before it is right.",
     CAUTION_STANDING},
    {"below-threshold", BL_GROUP_UNIT, BL_SEVERITY_NOTE,
     "output; control or command; threshold",
     "the output did not respond, and the control pressure did not pass "
     "the threshold",
     "the threshold is not stated, or the pressure lies at it",
     "Nothing is wrong; ask for more pressure if this unit was to brake.", ""},
    {"high-threshold", BL_GROUP_UNIT, BL_SEVERITY_WARNING,
     "control or demand, output; threshold, and slow ramps or holds; or two "
     "other units and holds at two pressures",
     "read from holds and ramps of at most 20 kPa/s, the output begins more "
     "than 15 kPa above the stated threshold; or, from a light and a hard "
     "hold, at 30 kPa more than the other units let one expect, or in light "
     "applications it alone does not respond (a warning)",
     "no curve could be read from so few or so fast pressures",
     "Repeat with slow ramps; check the relay valve's type and its opening "
     "pressure, then the parameter set of the unit.",
     ""},
    {"low-hold", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; control or command; gain and load, earlier runs, or two other "
     "units",
     "the held output lies more than 28 kPa below what control pressure, gain "
     "and opening pressure give; without those, below what its earlier runs "
     "gave; or it holds 15 % less of what is asked than the other units let "
     "one "
     "expect, beyond doubt (a warning)",
     "there is nothing to compare with, or the hold did not settle",
     "See to the setting for the unladen vehicle first, then bellows pressure "
     "and load signal, then the valve. Electronics may leave load sensing out "
     "at standstill.",
     ""},
    {"hold-falls", BL_GROUP_UNIT, BL_SEVERITY_FAULT, "output, command",
     "while the command holds (within 10 kPa and 5 %) for at least 1 s the "
     "output falls by more than 10 kPa more than the command",
     "holds are too short, or the supply falls with it",
     "Listen for leaks at chamber, hose and valve with the brakes held; "
     "leave the unit chocked.",
     CAUTION_STANDING},
    {"unexpected-characteristic", BL_GROUP_UNIT, BL_SEVERITY_WARNING,
     "output; control or demand; the capture of the unit's link; two or more "
     "[characteristic]; holds at several pressures",
     "the output lies more than 4 u off the characteristic that was called for",
     "the characteristics differ less than the figures' uncertainty, or "
     "the pressures lie where they agree",
     "Compare what called for a characteristic with the unit's parameter "
     "set.",
     ""},
    {"output-without-command", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output, command",
     "the output rises by more than response_at and 10 kPa outside any "
     "application, for over 0.1 s; a note where its control pressure rose too",
     "the command is not recorded all the time",
     "Look what else applies this unit: park and trailer hand control, "
     "automatic braking, a leaking valve.",
     CAUTION_STANDING},
};
BL_FINDING_ROWS(bl_finding_kinds_unit, BL_FINDING_FIRST_AIR);
