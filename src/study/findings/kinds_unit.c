/* SPDX-License-Identifier: MIT */
/* Codes that speak of demand and unit, in the words of docs/findings.md; a test
   compares the two. */
#include "study/findings/cautions.h"
#include "study/findings/kinds.h"

const struct bl_finding_kind bl_finding_kinds_unit[] = {
    {"demand-missing", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link; its address or bus",
     "the unit's link carries traffic, but no valid demand while the command "
     "is on",
     "the link is not captured, or the command was not seen",
     "See that the data plug of the coupling in front of the unit is fully "
     "in and its pins are clean and straight; then capture at this coupling "
     "and look for the demand message; then check the unit in front, which "
     "must send the message.",
     CAUTION_LEAD " " CAUTION_LAMP},
    {"demand-ignored", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "demand on the unit's link, control, output; or a run by air alone",
     "demand has arrived, but the output follows the air at the unit's "
     "coupling instead: it comes up to 0.1 s after that air, and more than "
     "0.3 s after the demand; or the unit's first air and its 75 % come at "
     "the same times as in a run by air alone (within 0.005 s and 0.01 s), "
     "and in addition they come later than 0.4 s and 0.6 s, or later (by "
     "0.01 s and 0.03 s) than in a unit that the air reaches later",
     "control or output is not wired, or air and demand come together",
     "See whether the unit's warning lamp is on and its plug is fully in; "
     "then read its trouble codes and measure each supply pair at the plug "
     "under load. At standstill the electronics may leave the brakes to the "
     "air: ask the maker before parts are changed.",
     CAUTION_FUSED " " CAUTION_LAMP " " CAUTION_MOVE},
    {"demand-altered", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "demand on two links",
     "once the demand has been steady for three sending intervals, it differs "
     "from that on the first link by more than one bit",
     "the demand never settles, or one link is not captured",
     "See whether an adapter or a second controller is connected between the "
     "two links; then capture both at once and compare, and check what "
     "passes the demand on in the unit between them.",
     CAUTION_LEAD},
    {"demand-late", BL_GROUP_DEMAND, BL_SEVERITY_WARNING,
     "demand on two links, clocks tied; [expect] coupling_delay_max or the "
     "unit's earlier runs",
     "a coupling adds more delay than it should",
     "only the demand itself ties the clocks of the captures",
     "See what else is connected to the link (adapters, tools); then record "
     "both links on one recorder, and check the load of the link and what "
     "passes the demand on.",
     CAUTION_LEAD},
    {"frames-lost", BL_GROUP_DEMAND, BL_SEVERITY_WARNING, "the capture",
     "this identifier alone stops for more than three intervals while others "
     "on the link go on",
     "the message is sent only when its value changes",
     "Look at plug, pins and cable of the coupling in front of the unit and "
     "move them by hand while you record; then look for error frames.",
     CAUTION_LEAD},
    {"recording-gap", BL_GROUP_DEMAND, BL_SEVERITY_NOTE, "the capture or log",
     "everything on the link stops for longer than three intervals of the "
     "fastest message, or the time stamps of a recording do not run evenly",
     "the link itself went to sleep",
     "See whether the recorder's lead and supply are firm; then check its "
     "storage and clock, and repeat the run.",
     ""},
    {"unit-silent", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link; its address",
     "the unit sends nothing on its own link although others do, or although "
     "it sends on the link behind it; or it stops for good",
     "its address is not stated",
     "See whether its warning lamp lights at switch-on and its plug is fully "
     "in; then check the electric supply (each supply pair at the plug under "
     "load, and its fuse); then the data wires.",
     CAUTION_FUSED " " CAUTION_LAMP},
    {"unit-restarted", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link",
     "the unit claims its address or sends its start-up messages again within "
     "the run",
     "its messages do not show a start-up",
     "Look for loose or burnt pins at its plug and move the cable by hand; "
     "then log its electric supply (each supply pair) during applications, "
     "with lamps and heaters on.",
     CAUTION_FUSED " " CAUTION_LAMP},
    {"fault-codes-present", BL_GROUP_DEMAND, BL_SEVERITY_WARNING, "the capture",
     "active trouble codes are sent",
     "the unit does not send them on this link",
     "See which warning lamps are on; note the codes, look them up in the "
     "maker's manual, repair, clear, and repeat the run.",
     CAUTION_LAMP},
    {"address-order", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link; the addresses of both units",
     "the demand on the link goes from or to another address than the trial "
     "file states, or its sender is an address that belongs to no unit where "
     "a unit should send",
     "the addresses are not stated, or all links are one bus",
     "Compare the order of the units and their addresses with the trial "
     "file; then switch the train's power off and on again, so that "
     "addresses are assigned again.",
     ""},
    {"demand-stands", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link; a command",
     "the command is applied and released, but the demand to the unit stays "
     "at one value, in all applications or in those that the finding names",
     "no command was found, or no clock ties the capture to it",
     "Have the pedal pressed and watch the demand on this link; check where "
     "the demand comes from (the pedal's sensor, or what passes it on in the "
     "unit in front), then the unit's trouble codes.",
     CAUTION_STANDING " " CAUTION_LEAD},
    {"demand-slow", BL_GROUP_DEMAND, BL_SEVERITY_WARNING,
     "the capture; period_ms in the mapping table, or [expect] interval_max",
     "the median interval of the demand frames is longer than interval_max, or "
     "longer than the table's period by more than a tenth",
     "the table states no period, and [expect] no interval_max",
     "See what else is connected to this link, and whether a gateway left "
     "frames out of the capture; then check the load of the link and what "
     "sends the demand.",
     CAUTION_LEAD},
    {"two-senders", BL_GROUP_DEMAND, BL_SEVERITY_FAULT,
     "the capture of the unit's link",
     "a second address sends a demand to the same unit (a warning if both "
     "send the same)",
     "frames carry no sender",
     "Look for a second controller or a tool left plugged in; then find out "
     "which of the two the unit is to obey, and silence the other.",
     CAUTION_LEAD " " CAUTION_LAMP},
    {"condition-not-met", BL_GROUP_DEMAND, BL_SEVERITY_WARNING,
     "what the trial file declares about the run's power, data and control "
     "air, and a channel that shows it",
     "voltage, frames, control pressure, or outputs that all follow their "
     "air, contradict what the run declares; or, in a run with power, all "
     "units but one are later than in earlier runs, and units further back "
     "by more",
     "nothing that was recorded shows it",
     "See what is really plugged in and which cocks are shut; then correct the "
     "trial file or repeat the run.",
     CAUTION_STAND_ONLY},
    {"late-apply", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output, command; one of these: a limit for the unit, its earlier "
     "visits (a history) or runs, the values that a prediction needs, or two "
     "other units; `control` shows whether it is the line or the unit",
     "its first air comes later than the limit; later than at its earlier "
     "visits (a warning); 0.02 s later than in its earlier runs, or than the "
     "longest time predicted from stated values; 0.10 s later than expected "
     "from the other units, beyond doubt (a warning); or, by air alone, it "
     "is further behind the unit in front than expected from three other "
     "stages of its train, at the 1 % level (a warning)",
     "there is nothing to compare with, or the clocks give differences only",
     "See that the shut-off cocks in front are open, couplings fully engaged "
     "and coils not kinked; then measure control pressure at the unit's "
     "front coupling. If it is late too, the line is the cause. If not, look "
     "at the unit's relay valve and air supply, then at its electric supply "
     "and electronics.",
     CAUTION_AIR},
    {"slow-fill", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; a limit, the unit's earlier visits (a history) or runs, a "
     "prediction, or two other units",
     "from first air to 75 % the output takes longer than a limit allows; "
     "longer than at its earlier visits (a warning); longer than in its "
     "earlier runs by a tenth and 0.02 s; longer than predicted, as for "
     "late-apply; or 0.10 s longer than expected from the other units, beyond "
     "doubt (a warning)",
     "the command was released before the output had settled, and the part "
     "that was seen is not late (hold longer); or there is nothing to "
     "compare with",
     "Look along the hoses to its chambers for kinks; read the reservoir at "
     "the valve during an application, the fall of the output, and the "
     "unit's other chambers; then look at the valve's inlet, the hose to the "
     "chamber and the stroke (mark the rod with the brakes released, hands "
     "clear, then press the pedal).",
     CAUTION_AIR},
    {"late-release", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; a limit, the unit's earlier visits (a history) or runs, a "
     "prediction, or two other units",
     "the output begins to fall later than the limit; later than at its "
     "earlier visits (a warning); 0.03 s later than in its earlier runs; later "
     "than predicted, as for late-apply; or 0.10 s later than expected from "
     "the other units, beyond doubt (a warning)",
     "the command's release was not seen, or there is nothing to compare "
     "with",
     "See that the shut-off cocks are open and couplings fully engaged; then "
     "measure control pressure at the front coupling during release. If it "
     "falls in time, look at the relay valve and its exhaust; if not, at the "
     "line and the valve in front.",
     CAUTION_AIR " " CAUTION_HOT},
    {"slow-release", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; a limit, the unit's earlier visits (a history) or runs, a "
     "prediction, or two other units",
     "the fall of the output from 90 to 10 % takes longer than a limit allows; "
     "longer than at its earlier visits (a warning); longer than in its "
     "earlier runs by a tenth and 0.03 s; longer than predicted, as for "
     "late-apply; or 0.10 s longer than expected from the other units, beyond "
     "doubt (a warning)",
     "the next application began before the output was down, or there is "
     "nothing to compare with",
     "Look at the exhaust of the relay or quick-release valve for dirt and "
     "ice, and at the hoses for kinks; then take the valve apart.",
     CAUTION_HOT " " CAUTION_AIR},
    {"hose-restricted", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; two other units",
     "the output takes 0.10 s longer than expected from the other units, "
     "beyond doubt, both from first air to 75 % and from 90 to 10 % (a "
     "warning)",
     "there are fewer than two other units, or the fill was not measured",
     "Look along the hoses from valve to chambers for kinks; exchange the "
     "transducer's hose, then compare a second chamber with another "
     "transducer.",
     CAUTION_AIR},
    {"no-output", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; control or command",
     "control pressure (or the command, if control is not wired) rises above "
     "both response_at and the unit's opening pressure (100 kPa if none is "
     "stated), but the output does not respond; by air alone and without "
     "control, the command must also rise above what the valves in front may "
     "hold back (as `predict` works it out)",
     "the channel is dead: it does not even show noise",
     "Check every shut-off cock first; then, with the pedal held by a "
     "depressor, read the pressures at the coupling, the valve and the "
     "chamber, and stay outside the wheels.",
     CAUTION_STANDING " " CAUTION_MOVE},
    {"air-path-shut", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; a run by air alone and one with the demand; two other units",
     "in at least half of the applications by air alone the unit gives no "
     "output although the others do, but with the demand it does (a warning)",
     "there is no run by air alone or none with the demand, or there are no "
     "two other units",
     "Check every shut-off cock first; then test the backup valve as its "
     "maker says.",
     CAUTION_STANDING " " CAUTION_LAMP " " CAUTION_MOVE},
    {"below-threshold", BL_GROUP_UNIT, BL_SEVERITY_NOTE,
     "output; control or command; opening pressure",
     "the output did not respond, and the control pressure did not pass the "
     "opening pressure",
     "the opening pressure is not stated, or the control pressure is too close "
     "to it",
     "The unit does what it is set to do. If other units brake, review the "
     "balance: the front brakes run hot.",
     ""},
    {"high-threshold", BL_GROUP_UNIT, BL_SEVERITY_WARNING,
     "control or demand, output; opening pressure, and slow ramps or steady "
     "pressures; or two other units and steady pressures at two levels",
     "in steady pressures and ramps of at most 20 kPa/s, the output begins "
     "more than 15 kPa above the stated opening pressure; or, worked out "
     "from a light and a hard application, it begins 30 kPa above what is "
     "expected from the other units (a warning; by air alone, the pressure "
     "at which the unit settles with the demand may take the place of the "
     "light application); or it is the only unit that does not respond in "
     "light applications (a warning)",
     "the pressures are too few or too fast to read a curve from; or it does "
     "not respond in light applications by air, and a unit behind it does",
     "Read the type plate of its relay valve; repeat with slow ramps; then "
     "compare its opening pressure and the parameter set of the unit.",
     CAUTION_LAMP},
    {"low-hold", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output; control or command; gain and load, earlier runs, or two other "
     "units",
     "the settled output lies more than 28 kPa below what control pressure, "
     "gain and opening pressure give, or, if those are not known, below what "
     "its earlier runs gave; or it gives 15 % less of what is asked than "
     "expected from the other units, beyond doubt (a warning)",
     "there is nothing to compare with, or the pressure did not settle",
     "Check the setting for the unladen vehicle first, then bellows pressure "
     "and load signal, then the valve. At standstill the electronics may "
     "leave out load sensing, or leave the brakes to the air: on the road "
     "the gain may differ.",
     CAUTION_BELLOWS},
    {"high-hold", BL_GROUP_UNIT, BL_SEVERITY_WARNING,
     "output; control or command; two other units",
     "it gives 15 % more of what is asked than expected from the other "
     "units, beyond doubt",
     "there are no two other units to compare with, or the pressure did not "
     "settle",
     "Check its load first: a laden unit may give more than unladen ones. "
     "Then check the load-sensing setting, bellows pressure and load signal, "
     "then type and ratio of the valve. At standstill the electronics may "
     "leave out load sensing: on the road the gain may differ.",
     CAUTION_BELLOWS},
    {"hold-falls", BL_GROUP_UNIT, BL_SEVERITY_FAULT, "output, command",
     "while the command stays steady (within 10 kPa and 5 %) for at least 1 s, "
     "the output falls by over 10 kPa more than the command",
     "applications are too short, or the supply falls at the same time",
     "With the pedal held by a depressor, read the pressures in the unit and "
     "in front of it; then listen for leaks at chamber, hose and valve from "
     "outside the wheels, and use soap where it is safe to reach.",
     CAUTION_STANDING},
    {"hold-unsteady", BL_GROUP_UNIT, BL_SEVERITY_WARNING,
     "output; a steady command as a pressure, or steady outputs of other "
     "units; the unit's own input (control, or the capture of its link)",
     "while the command is held for at least 1 s, the output swings up and "
     "down at least one and a half times; it swings by over 30 kPa from peak "
     "to trough, and by over twice the swing of the command, its control "
     "pressure or its demand in the same stretch",
     "the unit's own input swings too; or that input was not recorded, and "
     "units in front of it (with the demand: all units) swing; or its "
     "anti-lock control reports that it is working, which looks the same",
     "With the pedal held by a depressor, compare with a gauge at the brake: "
     "a loose transducer or plug can look like this. Then see whether the "
     "unit's warning lamp is on and whether a test of its modulators is "
     "running; then check its modulator and relay valve, and the supply "
     "under load.",
     CAUTION_STANDING " " CAUTION_LAMP},
    {"unexpected-characteristic", BL_GROUP_UNIT, BL_SEVERITY_WARNING,
     "output; control or demand; the capture of the unit's link; two or more "
     "[characteristic]; steady pressures at several levels",
     "the output lies more than 4 u off the pressure curve that was called for",
     "the pressure curves differ by less than the figures' uncertainty, or the "
     "measured pressures are where the curves agree",
     "Note what called for a curve (load, message, lamp) and compare it with "
     "the unit's parameter set. At standstill the electronics may leave out "
     "load sensing.",
     CAUTION_LAMP},
    {"output-without-command", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output, command",
     "the output rises outside any application for over 0.1 s, by more than "
     "response_at plus 10 kPa; a note where its control pressure or its "
     "electronic demand rose too",
     "the command is not recorded all the time, or less than 1 s could be "
     "searched; or the unit's reservoir was filling at that time (below 450 "
     "kPa, or risen by 50 kPa), which may apply its brakes",
     "See what else applies this unit: park and hand control, door, ramp and "
     "tipping interlocks; then check the supply pressure, the "
     "anti-compounding valve, and for a leaking valve.",
     CAUTION_INTERLOCK " " CAUTION_MOVE},
    {"park-in-service", BL_GROUP_UNIT, BL_SEVERITY_FAULT,
     "output, command; a park or spring brake state on the bus",
     "outside any application the output rises as for "
     "output-without-command, each time within 1.5 s of a message that the "
     "parking brake is on, and its control pressure does not rise",
     "no device sends such a state (the finding is then "
     "output-without-command); or control pressure rises too, which is how "
     "some combinations park",
     "Ask what parking does on this combination: it may apply the service "
     "brakes. If it does not, trace the pipes of park and service lines, which "
     "may be crossed, and look for a double check valve that sticks.",
     CAUTION_SPRING " " CAUTION_MOVE},
};
BL_FINDING_ROWS(bl_finding_kinds_unit, BL_FINDING_FIRST_AIR);
