# SPDX-License-Identifier: MIT
"""Earlier visits of the train of visit.py. `earlier.py state` gives its trial.ini a
date, ids of trailers 1 and 3, places of the outputs, instruments, supply and
temperature. `earlier.py visits` writes v0.json to v4.json from the result now.json, with
other days, hashes and times: half a year apart, trailer 3 faster by 0.06 s each."""
import json
import re
import sys

STEPS = (0.004, -0.003, 0.002, -0.005, 0.003)


def state():
    with open("trial.ini", encoding="utf-8") as file:
        text = file.read()
    for unit in (1, 3):
        text = text.replace("[unit %d]\n" % unit,
                            "[unit %d]\nid = BT-%d\n" % (unit, unit))
    text = re.sub(r"output = ", "output.rear = ", text)
    text = re.sub(r"(\[channel (\w+)\]\n)",
                  r"\1instrument = T-\2\nu_delay = 1 ms\n", text)
    with open("trial.ini", "w", encoding="utf-8") as file:
        file.write(text + "[record]\ndate = 2026-09-01\nsupply = 830 kPa\n"
                   "temperature = 20 degC\n")


def visits():
    for visit, step in enumerate(STEPS):
        with open("now.json", encoding="utf-8") as file:
            root = json.load(file)
        root["trial"]["date"] = "%d-%s-01" % (2024 + visit // 2,
                                              ("03", "09")[visit % 2])
        for i, recording in enumerate(root["recordings"]):
            recording["sha256"] = "%064x" % (16 * visit + i + 1)
        for unit in (u for run in root["runs"] for a in run["applications"]
                     for u in a["units"]):
            for name, figure in unit.items():
                if isinstance(figure, dict) and figure.get("s") is not None:
                    figure["s"] += step
                    if unit["unit"] == "3" and name in ("apply_75", "apply_90"):
                        figure["s"] -= 0.06 * (len(STEPS) - visit)
        with open("v%d.json" % visit, "w", encoding="utf-8") as file:
            json.dump(root, file)


{"state": state, "visits": visits}[sys.argv[1]]()
