# SPDX-License-Identifier: MIT
"""Results of six visits half a year apart as JSON, r1.json to r6.json in the working
folder, written by hand and not by the program. A truck and five trailers:

  BT-DRIFT   75 % of settled 0.05 s later every half year
  BT-STEP    release to 10 % 0.12 s later from the fourth visit on
  BT-SOUND   nothing changes
  BT-BARE    drifts as the first, but nobody wrote down where it was measured
  BT-MOVED   measured at the front at the second visit, at the rear else

usage: lives.py [VISITS]"""
import json
import random
import sys

VISITS = int(sys.argv[1]) if len(sys.argv) > 1 else 6
IDS = ("", "BT-DRIFT", "BT-STEP", "BT-SOUND", "BT-BARE", "BT-MOVED")
FIGURES = ("demand_arrival", "rise_start", "response", "apply_10", "apply_75",
           "apply_90", "release_start", "release_10", "release_end", "stagger")
USUAL = {"apply_75": 0.40, "release_10": 0.55}


def figure(name, unit, visit, dice, day):
    if name not in USUAL:
        return {"s": None, "u_s": None, "reason": "no-channel"}
    s = USUAL[name] + day[unit] + dice.gauss(0, 0.003)
    if name == "apply_75" and IDS[unit] in ("BT-DRIFT", "BT-BARE"):
        s += 0.05 * visit
    if name == "release_10" and IDS[unit] == "BT-STEP" and visit >= 3:
        s += 0.12
    parts = dict.fromkeys(("gain", "zero", "rest", "clock", "resolution"), 0.0)
    parts.update(crossing=0.002, sampling=0.001, delay=0.0003, command=0.0004)
    return {"s": round(s, 9), "u_s": 0.0023, "u_parts": parts}


def trial(visit):
    units, channels = [], [{"channel": "pedal", "instrument": "P-1"}]
    for number, name in enumerate(IDS):
        where = None if name == "BT-BARE" else \
            "front" if name == "BT-MOVED" and visit == 1 else "rear"
        units.append({
            "unit": str(number), "name": "trailer %d" % number if number else "truck",
            "id": name or None, "control_line": "relayed", "labels":
            [{"label": "valve", "value": "relay RS"[:6 + number % 3]}],
            "command": None if number else "pedal", "command_at": "20 kPa",
            "command_kind": None if number else "treadle-pressure", "outputs":
            [{"label": where, "from": "out%d" % number}] if number else []})
        channels.append({"channel": "out%d" % number,
                         "instrument": "T-%d" % number})
    return {"name": "yard day %d" % (visit + 1), "file": "trial.ini",
            "sha256": "%064x" % visit,
            "date": "%d-%s-01" % (2024 + visit // 2, "03" if visit % 2 == 0 else "09"),
            "place": "works yard", "supply_kpa": 830.0, "temperature_c": 20.0,
            "response_at_kpa": 20.0, "units": units, "channels": channels,
            "record": []}


def main():
    dice = random.Random(417)
    for visit in range(VISITS):
        day = [dice.gauss(0, 0.006) for _ in IDS]
        runs, recordings = [], []
        for r in range(3):
            name = "P%d" % (r + 1)
            applications = [{
                "number": a + 1, "combination": "A", "kind": "full", "shape": "step",
                "excluded": False,
                "command": {"own": {"apply_10": {"s": 0.02}, "apply_75": {"s": 0.14}}},
                "units": [dict([("unit", str(u)), ("name", "trailer %d" % u),
                                ("levels", [])] +
                               [(f, figure(f, u, visit, dice, day)) for f in FIGURES])
                          for u in range(1, len(IDS))]} for a in range(4)]
            runs.append({"name": name, "condition": "powered", "block": None,
                         "power": "on", "data": "on", "applications": applications})
            recordings.append({"name": name, "run": name,
                               "sha256": "%064x" % (visit * 16 + r + 1)})
        with open("r%d.json" % (visit + 1), "w", encoding="utf-8") as to:
            json.dump({"schema": "brakelag-result/2", "tool": {"version": "0.2"},
                       "trial": trial(visit), "recordings": recordings,
                       "runs": runs}, to)


main()
