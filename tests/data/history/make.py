# SPDX-License-Identifier: MIT
"""Writes the results of this folder: good.json, and others with one defect each,
which their names say. Run it here after a change."""
import copy
import json

GOOD = {
    "schema": "brakelag-result/2", "tool": {"version": "0.2"},
    "trial": {
        "name": "yard day", "file": "trial.ini", "sha256": "0" * 64,
        "date": "2026-03-01", "place": "works yard", "supply_kpa": 830.0,
        "temperature_c": 20.0, "response_at_kpa": 20.0,
        "units": [{"unit": "0", "name": "truck", "id": None, "labels": [],
                   "control_line": "relayed", "command": "pedal",
                   "command_kind": "treadle-pressure", "command_at": "20 kPa",
                   "outputs": []},
                  {"unit": "1", "name": "trailer", "id": "BT-0417",
                   "labels": [{"label": "valve", "value": "R"}],
                   "control_line": "relayed",
                   "outputs": [{"label": "rear", "from": "out"}]}],
        "channels": [{"channel": "pedal", "instrument": "P-1"},
                     {"channel": "out", "instrument": "T-1"}], "record": []},
    "recordings": [{"name": "p.csv", "run": "P1", "sha256": "1" * 64}],
    "runs": [{
        "name": "P1", "condition": "powered", "block": "1", "power": "on",
        "data": "on", "applications": [{
            "number": 1, "combination": "A", "kind": "full", "shape": "step",
            "excluded": False, "command": {"own": {"apply_10": {"s": 0.02},
                                                   "apply_75": {"s": 0.14}}},
            "units": [{
                "unit": "1", "levels": [], "demand_arrival": {"s": None},
                "rise_start": {"s": None}, "response": {"s": None},
                "apply_10": {"s": None}, "apply_90": {"s": None},
                "release_start": {"s": None}, "release_10": {"s": None},
                "release_end": {"s": None}, "stagger": {"s": None},
                "apply_75": {"s": 0.4, "u_s": 0.002, "flags": ["held-value"],
                             "u_parts": {"crossing": 0.002, "gain": None}}}]}]}]}


def write(name, text):
    with open(name + ".json", "w", encoding="utf-8") as file:
        file.write(text)


def bent(name, *path):
    """good.json with what stands at the path replaced by the last word."""
    root = copy.deepcopy(GOOD)
    at = root
    for step in path[:-2]:
        at = at[step]
    at[path[-2]] = path[-1]
    write(name, json.dumps(root))


UNIT = ("runs", 0, "applications", 0, "units", 0)
text = json.dumps(GOOD)
write("good", text)
write("cut", text[:len(text) // 2])
write("empty", "")
write("list-in-place-of-result", "[%s]" % text)
write("member-twice", text.replace('"place"', '"date"'))
write("nested-too-deep", "[" * 5000)
write("not-utf8", "")
with open("not-utf8.json", "wb") as file:
    file.write(text.encode().replace(b"works yard", b"works \xff\xfe"))
write("zero-in-text", text.replace("works yard", "works\\u0000yard"))
bent("survey-in-place-of-result", "schema", "brakelag-survey/1")
bent("later-schema", "schema", "brakelag-result/9")
bent("date-of-no-calendar", "trial", "date", "2026-02-30")
bent("date-a-number", "trial", "date", 20260301)
bent("trial-a-text", "trial", "yard day")
bent("units-an-object", "trial", "units", {})
bent("unit-without-number", "trial", "units", 1, "unit", None)
bent("unit-a-letter", "trial", "units", 0, "unit", "A")
bent("unit-of-no-text", "trial", "units", 0, "unit", "")
bent("unit-of-two-letters", "trial", "units", 0, "unit", "AB.1")
bent("id-twice", "trial", "units", 0, "id", "BT-0417")
bent("label-without-name", "trial", "units", 1, "labels", [{"value": "R"}])
bent("label-twice", "trial", "units", 1, "labels",
     [{"label": "valve", "value": "R"}] * 2)
bent("text-too-long", "trial", "place", "y" * 5000)
bent("supply-negative", "trial", "supply_kpa", -830)
bent("hash-too-short", "recordings", 0, "sha256", "1111")
bent("runs-a-number", "runs", 7)
bent("application-without-kind", *UNIT[:4], "kind", None)
bent("application-number-zero", *UNIT[:4], "number", 0)
bent("unit-of-no-trial", *UNIT, "unit", "9")
bent("figure-a-text", *UNIT, "apply_75", "0.4 s")
bent("value-a-text", *UNIT, "apply_75", "s", "0.4")
bent("value-of-hours", *UNIT, "apply_75", "s", 4000)
bent("uncertainty-a-list", *UNIT, "apply_75", "u_parts", "crossing", [])
bent("flags-a-text", *UNIT, "apply_75", "flags", "held-value")
