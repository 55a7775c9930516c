# SPDX-License-Identifier: MIT
"""Noise on every channel, from none to a fifth of full scale: every command
ends within 10 s, no application is made up, and what is given holds.

A small trial is simulated (its truth is written by `simulate`), then normal
noise of our own generator is added to all pressures or to one of them; the same
with a column in kPa that the trial declares to be in bar, and with a level far
within the noise. Noise hides figures: they may be null with a reason. What is
given lies within 4 u and 2 ms of the truth, or carries a flag; one in a hundred
may not, since so many are looked at.

usage: noise.py TOOL"""
import json
import os
import random
import resource
import subprocess
import sys
import tempfile

import made

tool = os.path.abspath(sys.argv[1])
tap = made.Tap()
FULL_SCALE = 1000.0  # kPa, of the usual transducer (common practice)
SHARES = (0, 0.0008, 0.002, 0.007, 0.02, 0.2)
LONGEST_S = 10
COMMANDS = (("measure",), ("check",), ("reach",), ("causes",), ("predict",),
            ("characteristic",), ("compare", "--base", "powered", "--against",
                                  "powered"), ("report", "-o", "x.html"))
FIGURES = ("response", "apply_10", "apply_75", "apply_90", "release_start",
           "release_10", "release_end")


class Trial:
    def __init__(self, folder):
        made.make(tool, folder, 250)
        self.folder = folder
        self.text = made.read(os.path.join(folder, "trial.ini")).decode()
        rows = made.read(os.path.join(folder, "P.csv")).decode().splitlines()
        self.head, self.rows = rows[0], [r.split(",") for r in rows[1:]]
        with open(os.path.join(folder, "truth.json"), encoding="utf-8") as f:
            self.truth = json.load(f)["runs"][0]["applications"]

    def write(self, share, chosen, seed):
        dice = random.Random(seed)
        names = self.head.split(",")
        at = [i for i, n in enumerate(names)
              if "[kPa]" in n and (chosen is None or n.startswith(chosen))]
        with open(os.path.join(self.folder, "P.csv"), "w",
                  encoding="utf-8") as file:
            file.write(self.head + "\n")
            for row in self.rows:
                cells = list(row)
                for i in at if share else ():
                    cells[i] = "%.1f" % (float(cells[i]) +
                                         dice.gauss(0, share * FULL_SCALE))
                file.write(",".join(cells) + "\n")

    def trial(self, *changes):
        text = self.text
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        made.write(os.path.join(self.folder, "trial.ini"), text.encode())


def cpu_s():
    """What programs run from here took so far: a busy machine is no fault."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def all_commands(t, name):
    """Every command ends in time, and none of them by a signal."""
    wrong = []
    for words in COMMANDS:
        begun = cpu_s()
        try:
            done = subprocess.run(
                [tool, words[0], "trial.ini", "--quiet", *words[1:]],
                cwd=t.folder, capture_output=True, check=False,
                timeout=6 * LONGEST_S)
        except subprocess.TimeoutExpired:
            wrong.append("%s does not end" % words[0])
            continue
        if cpu_s() - begun > LONGEST_S:
            wrong.append("%s takes %.1f s" % (words[0], cpu_s() - begun))
        if done.returncode not in (0, 1, 2, 3, 4):
            wrong.append("%s ends with %d: %s" % (
                words[0], done.returncode, done.stderr[-400:].decode()))
    tap.check(name + ": every command ends", not wrong, "\n".join(wrong))


def measured(t):
    done = subprocess.run([tool, "measure", "trial.ini", "--quiet", "--json"],
                          cwd=t.folder, capture_output=True, check=False,
                          timeout=6 * LONGEST_S)
    return json.loads(done.stdout)["runs"][0]["applications"] \
        if done.stdout else []


def holds(t, name, exactly):
    """Applications and figures against the truth."""
    found = measured(t)
    tap.check(name + ": %d applications" % len(found),
              len(found) <= len(t.truth) and
              (not exactly or len(found) == len(t.truth)))
    if len(found) != len(t.truth):
        done = made.run(tool, "measure", os.path.join(t.folder, "trial.ini"))
        tap.check(name + ": what is missing is said",
                  b"lies within the noise" in done.stdout + done.stderr,
                  done.stderr[-400:].decode())
        return
    seen = wrong = 0
    lines = []
    for a, true in zip(found, t.truth):
        for unit, is_true in zip(a["units"], true["units"]):
            for figure in FIGURES:
                is_ = unit[figure]
                if is_["s"] is None or is_true.get(figure) is None:
                    continue
                seen += 1
                off = abs(is_["s"] - is_true[figure])
                if off > 4 * is_["u_s"] + 0.002 and not is_.get("flags"):
                    wrong += 1
                    lines.append("application %d unit %s %s: %.4f, u %.4f, "
                                 "true %.4f" % (a["number"], unit["unit"],
                                                figure, is_["s"], is_["u_s"],
                                                is_true[figure]))
    tap.check(name + ": %d figures hold" % seen, wrong * 100 <= seen,
              "\n".join(lines))


def main():
    with tempfile.TemporaryDirectory() as folder:
        t = Trial(folder)
        for share in SHARES:
            t.write(share, None, 20240601)
            name = "noise of %g %% on every channel" % (100 * share)
            all_commands(t, name)
            holds(t, name, share <= 0.007)
        for channel in [n.split(" ")[0] for n in t.head.split(",")
                        if "[kPa]" in n]:
            t.write(0.2, channel, 7)
            name = "noise of 20 %% on %s" % channel
            all_commands(t, name)
            holds(t, name, channel != "treadle")
        t.write(0.0008, None, 3)
        for name, old, new in (
                ("kPa called bar", "measured_in = kPa", "measured_in = bar"),
                ("a level in the noise", "command_at = 20 kPa",
                 "command_at = 0.1 kPa")):
            t.trial((old, new))
            all_commands(t, name)
    return tap.end()


sys.exit(main())
