# SPDX-License-Identifier: MIT
"""Sound units at a second and at a sixth visit: how often `causes --history` accuses one.

A train of four trailers that are alike; its earlier visits, one a year, are its own
result with other recordings, each figure moved by what sound visits differ by (normal, 15 ms: half of it
common to the apply or release figures of a unit, half its own) and by another transducer
within its stated error (1 ms of delay). Every second round has five of them. Nothing of the program draws them. At most 2 %
of the units may be named.

usage: visits.py TOOL [ROUNDS]"""
import json
import os
import random
import subprocess
import sys
import tempfile

import made

HERE = os.path.dirname(os.path.abspath(__file__))
SPREAD, DELAY = 0.015, 0.001
tool = os.path.abspath(sys.argv[1])
rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 25
tap = made.Tap()


def run(words, **how):
    return subprocess.run(words, check=True, capture_output=True, text=True, **how)


def earlier(root, dice, years):
    """The same train so many years before, as sound as now."""
    root["trial"]["date"] = "%d-09-01" % (2026 - years)
    for number, recording in enumerate(root["recordings"]):
        recording["sha256"] = "%064x" % (100 * years + number)
    half = SPREAD / 2 ** 0.5
    moved = {}
    for r in root["runs"]:
        for a in r["applications"]:
            for u in a["units"]:
                for name, figure in u.items():
                    if not isinstance(figure, dict) or figure.get("s") is None:
                        continue
                    side = "release" if name.startswith("release") else "apply"
                    about = (u["unit"], r["condition"], a["kind"], name)
                    if about not in moved:
                        day = moved.setdefault((u["unit"], side),
                                               dice.gauss(0, half))
                        chain = moved.setdefault(u["unit"], dice.gauss(0, DELAY))
                        moved[about] = day + chain + dice.gauss(0, half)
                    figure["s"] += moved[about]


def main():
    dice = random.Random(2024)
    with tempfile.TemporaryDirectory() as folder:
        how = {"cwd": folder}
        run([sys.executable, os.path.join(HERE, "visit.py"), "sound"], **how)
        run([sys.executable, os.path.join(HERE, "earlier.py"), "state"], **how)
        path = os.path.join(folder, "trial.ini")
        with open(path, encoding="utf-8") as file:
            text = file.read()
        for unit in (2, 4):
            text = text.replace("[unit %d]\n" % unit,
                                "[unit %d]\nid = BT-%d\n" % (unit, unit))
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        now = run([tool, "measure", "trial.ini", "-q", "--json"], **how).stdout
        alone = json.loads(run([tool, "causes", "trial.ini", "-q", "--json"],
                               **how).stdout)["findings"]
        named, units = [], 0
        for number in range(rounds):
            kept = os.path.join(folder, "h%d" % number)
            for years in range(5 if number % 2 else 1, 0, -1):
                root = json.loads(now)
                earlier(root, dice, years)
                with open(os.path.join(folder, "then.json"), "w",
                          encoding="utf-8") as file:
                    json.dump(root, file)
                run([tool, "history", "add", "then.json", "--history", kept, "-q"],
                    **how)
            told = json.loads(run([tool, "causes", "trial.ini", "-q", "--json",
                                   "--history", kept], **how).stdout)
            named += [(number, f["unit"], f["text"]) for f in told["findings"]
                      if f["code"] not in [g["code"] for g in alone]]
            units += len(told["lives"])
            os.remove(kept)
        tap.check("of %d sound units at most 2 %% are named" % units,
                  units == 4 * rounds and len(named) <= 0.02 * units, named)
    sys.exit(tap.end())


main()
