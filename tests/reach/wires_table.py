# SPDX-License-Identifier: MIT
"""Is the demand called reached where it is not? All layouts times all faults of
wires.py, as a table: `brakelag reach` against what was put in, and `check` and
`report` against `reach` (tests/cli/agree.py); the same from trials that `brakelag survey` drafted,
where the draft has the units in their order.

A layout cannot show everything. Split: the units behind the first have no
demand of their own; their output shows it. Untied: how late the third unit's
demand is, nobody can tell; what it lacks against the command is told by the
first demand in the same recording, of which there is none.

usage: wires_table.py TOOL [--seeds N] [--few] [--show]"""
import argparse
import collections
import concurrent.futures
import json
import os
import re
import shutil
import sys
import tempfile

import wires

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)),
                                "..", "cli"))
import agree  # noqa: E402
import made  # noqa: E402

CLAIM = {"missing": "arrives", "all FFFF": "arrives", "half FFFF": "arrives",
         "FFFF while braking": "arrives", "frozen at 0": "arrives",
         "frozen high": "arrives", "frozen from": "arrives",
         "scaled": "unchanged", "clipped": "unchanged", "late": "in_time",
         "slow": "at_its_rate", "thinned": "at_its_rate",
         "second sender": "unchanged", "other address": "arrives",
         "from the third on": "arrives", "until the middle": "arrives",
         "none moves": "arrives"}
# Faults that leave it open whether the command's shape was meant: a demand that
# is less than the pedal's pressure on the first link may be so by design.
BY_DESIGN = ("scaled", "clipped")


def hidden(train, unit):
    """Why the recordings cannot show this fault at this unit to anybody, or
    None: they can. What remains here was gone through one by one: each could be
    told only with another recording, or with a word from whoever built the
    train. The verdict is then still not to be "reached" (one exception below),
    and the claim not yes."""
    if train.fault in BY_DESIGN and (unit == 1 or train.layout == "split"):
        # A towing vehicle may ask its trailers for less, or for more, than the
        # pedal's pressure (coupling force control, a retarder that takes its
        # share): the same frames would be sound there. To be told by what its
        # maker says it asks for.
        return "by design, or altered"
    if train.layout == "untied" and unit == 3 and train.fault == "late":
        # Its recording shares no time with the pedal's. The unit's own state in
        # it does not help: nothing says how long a unit takes to report that it
        # brakes. A demand 0.5 s late is then "reached", "in time" is not said.
        return "no clock ties its recording"
    if train.drafted and train.fault == "late" and (
            unit == 1 or train.layout == "split" or
            train.layout in ("tied", "untied") and unit == 3):
        # A draft knows of no common clock: what ties capture and log is that
        # demand and pedal move alike, and how late one is against the other
        # lies in that very offset.
        return "the demand itself is what ties the clocks"
    if train.fault == "frozen high" and (
            train.layout == "untied" and unit == 3 or
            train.drafted and unit == 1 and train.layout != "towing"):
        # Nothing moves in that recording: the demand stands, and the unit
        # brakes all the time. It may have been made between two presses.
        return "nothing in the recording moves"
    return None


def hidden_late(train, unit):
    """Is it late on, or behind, a link of which nobody can say how late?"""
    return any(hidden(train, u) for u in range(train.unit, unit + 1))


class Outcome:
    """One trial: what was wrong with what the tool said."""

    def __init__(self, train, reach, disagree):
        self.train, self.wrong = train, []
        self.false_reached = self.false_alarm = 0
        self.sound = self.sound_reached = 0
        self.named = None       # right unit and claim; None: cannot be shown
        said = {int(u["unit"]): u for u in reach["units"]}
        verdicts = {u: said[n] for u, n in train.number.items()}
        for unit in wires.UNITS:
            self.one(unit, verdicts[unit])
        for number, other in said.items():
            if number not in train.number.values() and \
                    other["verdict"] == "reached":
                self.false_reached += 1
                self.wrong.append("unit %d of the draft is none, FALSE "
                                  "REACHED" % number)
        self.disagree = len(disagree)
        self.wrong += disagree
        if train.bad:
            self.name(verdicts)
        elif [f for f in reach["findings"] if f["severity"] != "note" and
              f["shown"] == "found"]:
            self.false_alarm += 1
            self.wrong.append("false alarm: %s" % [
                f["code"] for f in reach["findings"]])
        if train.fault == "doubled":
            here = verdicts[train.unit]["demand"]
            if not here.get("stored_twice"):
                self.wrong.append("stored twice is not said")
                self.false_alarm += 1

    def one(self, unit, said):
        train = self.train
        if unit in train.open:
            return
        if unit in train.bad:
            # A demand that is late behind an untied clock is the one that may
            # be called reached: "in time" is then not a yes.
            open_ = said["claims"][CLAIM[train.fault]]["answer"] != "yes"
            moves = [a["moves"] for a in said["demand"].get("by_application",
                                                            ())]
            if said["verdict"] == "reached-with-defects" and \
                    "yes" not in moves:
                self.false_reached += 1
                self.wrong.append("unit %d never moves, and is called reached "
                                  "with defects" % unit)
            if said["verdict"] == "reached" and not (
                    train.fault == "late" and hidden_late(train, unit) and
                    open_):
                self.false_reached += 1
                self.wrong.append("unit %d FALSE REACHED" % unit)
            return
        self.sound += 1
        self.sound_reached += said["verdict"] == "reached"
        if said["verdict"] in ("not-reached", "reached-with-defects"):
            self.false_alarm += 1
            self.wrong.append("unit %d sound, %s: %s" % (
                unit, said["verdict"], said["why"]))
        elif said["verdict"] != "reached":
            self.wrong.append("unit %d sound, cannot tell: %s" % (
                unit, said["why"]))

    def name(self, verdicts):
        """The claim that fails, at the unit where the fault is."""
        train = self.train
        unit = 1 if train.fault == "none moves" else train.unit
        if hidden(train, unit):
            return
        answer = verdicts[unit]["claims"][CLAIM[train.fault]]["answer"]
        self.named = answer == "no"
        if not self.named:
            self.wrong.append("unit %d: %s is %s: %s" % (
                unit, CLAIM[train.fault], answer,
                verdicts[unit]["claims"][CLAIM[train.fault]]["why"]))


def read(tool, *words):
    done = made.run(tool, *words, "--json", "--quiet")
    if done.returncode not in (0, 1, 4):
        raise RuntimeError("%s: exit %d: %s" % (words, done.returncode,
                                                done.stderr[-2000:]))
    return json.loads(done.stdout)


def section_of(parts, train, unit):
    """Of a draft's [unit N] sections the one that is this unit of the train: on
    its link, at its address. None: none, or several."""
    found = []
    for number, part in parts.items():
        bus = re.search(r"(?m)^bus = (\S+)", part)
        address = re.search(r"(?m)^(?:; )?address = (\S+)", part)
        if bus and bus.group(1) == train.bus(unit) and address and \
                int(address.group(1), 0) == train.own(unit):
            found.append(number)
    return found[0] if len(found) == 1 else None


def wire(part, unit):
    """A section with its pressures, which only who wired them knows; unit None:
    it has none."""
    for name in ("control", "output"):
        part = re.sub(r"(?m)^(; )?%s = .*" % name, "; none" if unit is None
                      else "%s = %s%d" % (name, name, unit), part)
    return part


def draft(tool, folder, train):
    """The trial that survey drafts; nothing but outputs and control lines is
    written into it. Returns its path and the number that each unit of the train
    has there; None: a unit of the train is not in it."""
    files = [c[0] for c in train.captures()] + ["p.csv"]
    done = made.run(tool, "survey", "--write-trial", "-o", "draft.ini",
                    "--quiet", *files, cwd=folder)
    path = os.path.join(folder, "draft.ini")
    if done.returncode != 0 or not os.path.exists(path):
        raise RuntimeError("survey: exit %d: %s" % (done.returncode,
                                                    done.stderr[-2000:]))
    with open(path) as file:
        text = file.read()
    parts = re.split(r"(?m)^(?=\[)", text)
    sections = {int(p[6:p.index("]")]): p for p in parts
                if p.startswith("[unit ")}
    number = {u: section_of(sections, train, u) for u in wires.UNITS}
    unit_at = {n: u for u, n in number.items()}
    with open(path, "w") as file:
        for part in parts:
            if part.startswith("[unit ") and not part.startswith("[unit 0]"):
                part = wire(part, unit_at.get(int(part[6:part.index("]")])))
            file.write(part)
    return None if None in number.values() else (path, number)


def one(work):
    tool, layout, fault, seed, drafted = work
    folder = tempfile.mkdtemp(prefix="brakelag-wires-")
    try:
        train = wires.Train(layout, fault, seed)
        train.drafted = drafted
        train.write(folder)
        path, train.number = os.path.join(folder, "trial.ini"), {
            u: u for u in wires.UNITS}
        if drafted:
            found = draft(tool, folder, train)
            if found is None:
                return None
            path, train.number = found
        reach = read(tool, "reach", path)
        return Outcome(train, reach["reach"][0],
                       agree.compare(tool, path, reach))
    finally:
        shutil.rmtree(folder)


def works(options):
    few = ("missing", "scaled", "slow", "second sender", "frozen from",
           "doubled")
    for layout in wires.LAYOUTS:
        for drafted in (False, True):
            for fault in ("sound",) + wires.FAULTS:
                for seed in range(options.seeds):
                    if options.few and (drafted and fault != "missing" or
                                        fault not in few + ("sound",)):
                        continue
                    # Of one seed each layout and fault has another unit.
                    yield (options.tool, layout, fault, seed + (
                        wires.LAYOUTS.index(layout) if options.few else 0),
                        drafted)


def parse(words):
    p = argparse.ArgumentParser()
    p.add_argument("tool")
    p.add_argument("--seeds", type=int, default=3)
    p.add_argument("--few", action="store_true")
    p.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1))
    p.add_argument("--only", default="")
    options = p.parse_args(words)
    options.tool = os.path.abspath(options.tool)
    return options


def main(words):
    options = parse(words)
    tap = made.Tap()
    rows = collections.defaultdict(collections.Counter)
    every = collections.Counter()
    todo = [w for w in works(options) if options.only in "%s %s%s" % (
        w[1], w[2], " drafted" if w[4] else "")]
    with concurrent.futures.ProcessPoolExecutor(options.jobs) as pool:
        for work, got in zip(todo, pool.map(one, todo)):
            key = work[1] + (", drafted" if work[4] else "")
            if got is None:
                rows[key]["other order"] += 1
                continue
            for name in ("false_reached", "false_alarm", "sound",
                         "sound_reached", "disagree"):
                rows[key][name] += getattr(got, name)
            rows[key]["trials"] += 1
            rows[key]["named"] += got.named is True
            rows[key]["to name"] += got.named is not None
            rows[key]["hidden"] += bool(got.train.bad) and got.named is None
            for line in got.wrong:
                print("# %s, %s, seed %d%s (unit %d, %s): %s" % (
                    work[1], work[2], work[3], " drafted" if work[4] else "",
                    got.train.unit, got.train.amount, line))
    columns = ("trials", "false_reached", "sound_reached", "sound",
               "false_alarm", "named", "to name", "hidden", "other order")
    print("# layout | " + " | ".join(columns))
    for key in sorted(rows):
        print("# %s | %s" % (key, " | ".join(str(rows[key][c])
                                             for c in columns)))
        every.update(rows[key])
    tap.check("%d trials, %d times reached where it is not" % (
        every["trials"], every["false_reached"]), every["false_reached"] == 0)
    tap.check("%d of %d sound units reached, at least 98 %%" % (
        every["sound_reached"], every["sound"]),
        every["sound_reached"] >= 0.98 * every["sound"])
    tap.check("%d contradictions between commands" % every["disagree"],
              every["disagree"] == 0)
    tap.check("%d false alarms" % every["false_alarm"],
              every["false_alarm"] == 0)
    tap.check("unit and claim right in %d of %d faults, at least 95 %%" % (
        every["named"], every["to name"]),
        every["named"] >= 0.95 * every["to name"])
    return tap.end()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
