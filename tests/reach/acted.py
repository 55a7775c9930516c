# SPDX-License-Identifier: MIT
"""Did a unit act on the demand? Trials of a train whose truth is known, made by
the plant of wires.py (nothing of the product makes them), in two forms:

- outputs alone: a powered run and one by air alone, pressures only, no capture
  and no pressure at a coupling. A unit that brakes by air in both, and late,
  did not use the demand; anything else must stay silent;
- one powered run with a capture, of a short train, in which air and demand come
  close together. A unit that acts on the demand is never said to ignore it. Or
  the same with a run by air alone; or the first unit alone does not use its
  demand, and its air is there as soon: it is never said to act.

Times: a unit that acts on a demand begins 0.1 to 0.25 s after it and is at 75 %
within 0.4 s (UN R13 Annex 6; the first response: common practice). Air needs
0.1 to 0.2 s to the first coupling and about 0.1 s and more for each further one
(common practice). Valves scatter by some 2 ms from application to application.

usage: acted.py TOOL [--seeds N] [--from SEED] [--only KIND]"""
import argparse
import collections
import json
import os
import random
import shutil
import sys
import tempfile

import wires

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)),
                                "..", "cli"))
import made  # noqa: E402

UNITS = (1, 2, 3)
RATE = 500
SETTLE_S = 1.6


class Pedal:
    """Full steps, and a light one between, at uneven pauses."""

    def __init__(self, dice):
        self.parts, t = [], 2.5
        for kpa in (650, 650, 150, 650, 650):
            hold = dice.uniform(2.0, 2.4)
            rise = dice.uniform(0.08, 0.14)
            self.parts.append((t, t + rise, t + rise + hold,
                               t + rise + hold + 0.2, kpa))
            t += rise + hold + 0.2 + dice.uniform(2.8, 4.2)
        self.end = t

    __call__ = wires.Pedal.__call__
    application = wires.Pedal.application


def lag(series, dead_s, tau_s, shifts, starts):
    """Dead time, of each application a little another one, then a first-order
    fill; `starts` are the rows at which applications begin."""
    out, value, gain, k = [], 0.0, 1 / (RATE * tau_s + 1), -1
    for i in range(len(series)):
        while k + 1 < len(starts) and i >= starts[k + 1]:
            k += 1
        dead = round((dead_s + (shifts[k] if k >= 0 else 0)) * RATE)
        value += gain * ((series[i - dead] if i >= dead else 0) - value)
        out.append(value if value > 0.01 else 0.0)
    return out


class Unit:
    """What a unit is like. `by_data`: it acts on the demand where there is
    one; `front_by_data`: what it passes on, the unit behind gets sooner."""

    def __init__(self, dice, line_s, by_data, data_s=0.08):
        self.line_s, self.by_data, self.data_s = line_s, by_data, data_s
        self.tau_s = dice.uniform(0.05, 0.09)
        self.own_s = dice.uniform(0.02, 0.05)


def run_of(dice, units, powered, relayed=False):
    """Pedal, controls and outputs over time. `relayed`: a powered unit sends
    the air on when it brakes itself, so that air comes sooner behind it."""
    pedal = Pedal(dice)
    rows = int(pedal.end * RATE)
    press = [pedal(i / RATE) for i in range(rows)]
    starts = [int(p[0] * RATE) for p in pedal.parts]
    controls, outputs, before = [], [], press
    for unit in units:
        def shifts():
            return [dice.gauss(0, 0.0015) for _ in starts]
        line = lag(before, unit.line_s, 0.05, [0] * len(starts), starts)
        output = lag(press, 0.02 + unit.data_s, unit.tau_s, shifts(), starts) \
            if powered and unit.by_data else \
            lag(line, unit.own_s, unit.tau_s, shifts(), starts)
        controls.append(line)
        outputs.append(output)
        before = output if relayed and powered else line
    return pedal, press, controls, outputs


def figures(press, output, starts):
    """The least of each full step's response (20 kPa) and 75 %, after the
    pedal's 20 kPa, of the plant itself, without noise."""
    response, at_75 = [], []
    for start in starts:
        until = start + int(2.5 * RATE)
        if max(press[start:until]) < 600:
            continue
        zero = next(i for i in range(start, until) if press[i] >= 20)
        response.append(next(i for i in range(start, until)
                             if output[i] >= 20) - zero)
        at_75.append(next(i for i in range(start, until)
                          if output[i] >= 0.75 * 650) - zero)
    return min(response) / RATE, min(at_75) / RATE


def write_log(path, dice, columns, names):
    with open(path, "w") as file:
        file.write("time [s]," + ",".join("%s [kPa]" % n for n in names) + "\n")
        for i in range(len(columns[0])):
            file.write("%.3f," % (1000 + i / RATE) + ",".join(
                "%.2f" % (c[i] + dice.gauss(0, 0.25)) for c in columns) + "\n")


def channels(names):
    return "".join("[channel %s]\ncolumn = %s\nquantity = pressure\n"
                   "measured_in = kPa\n" % (n, n) for n in names)


HEAD = ("[trial]\nname = acted\ntables = iso11992-2\nresponse_at = 20 kPa\n"
        "[unit 0]\naddress = 32\ncommand = pedal\n"
        "command_kind = treadle-pressure\ncommand_at = 20 kPa\n")


def write_alone(folder, dice, kind):
    """Two runs of outputs alone. Returns the units that did not use it, and
    whether these outputs show that."""
    late = [dice.uniform(0.22, 0.3) for _ in UNITS]
    units = [Unit(dice, s, True) for s in late]
    air = None
    guilty = dice.randrange(3)
    silent = relayed = False
    if kind == "not used":
        units[guilty].by_data = False
    elif kind == "short":
        # Air is there as soon as any demand: nobody can tell who used it.
        for unit in units:
            unit.line_s = dice.uniform(0.02, 0.04)
        units[guilty].by_data = False
        silent = True
    elif kind == "not used, air early":
        # The others show it, not its own times: they are no later than those of
        # who acts on a demand may be.
        for unit in units:
            unit.line_s = dice.uniform(0.07, 0.09)
        guilty = 2
        units[guilty].by_data = False
        silent = True
    elif kind == "late powered only":
        # Its own electronics are late, and not as late as its air.
        units[guilty].data_s = sum(late[:guilty + 1]) + dice.choice(
            (-0.1, 0.15, 0.3))
        silent = True
    elif kind == "slow by data":
        # It acts on its demand, if slowly.
        units[guilty].data_s = dice.uniform(0.12, 0.2)
        silent = True
    elif kind == "air sooner with power":
        # It ignores the demand, but a unit in front passes the air on sooner.
        guilty = 1 + dice.randrange(2)
        units[guilty].by_data = False
        relayed = silent = True
    elif kind == "other air":
        # It does not use it; the run by air was one of a better line.
        units[guilty].by_data = False
        air = [Unit(dice, u.line_s * 0.5, True) for u in units]
        silent = True
    names = ["pedal"] + ["output%d" % u for u in UNITS]
    for name, powered in (("P", True), ("U", False)):
        pedal, press, _, outputs = run_of(
            dice, units if powered or air is None else air, powered, relayed)
        # Later than who acts on a demand may be (docs/methods/reach.md).
        response_s, at_75_s = figures(press, outputs[guilty], [
            int(part[0] * RATE) for part in pedal.parts])
        silent = silent or kind != "sound" and (response_s < 0.42 or
                                                at_75_s < 0.62)
        write_log("%s/%s.csv" % (folder, name), dice, [press] + outputs, names)
    with open("%s/trial.ini" % folder, "w") as file:
        file.write(HEAD + "".join("[unit %d]\noutput = output%d\n" % (u, u)
                                  for u in UNITS) + channels(names))
        file.write("[run P]\ncondition = powered\npower = on\ndata = on\n"
                   "logs = P.csv\n[run U]\ncondition = unpowered\n"
                   "power = off\ndata = off\nlogs = U.csv\n")
    return {i + 1 for i, u in enumerate(units) if not u.by_data}, not silent


def send(folder, dice, pedal, outputs, at_once=False):
    """The capture of own links: demand and the units' braking state."""
    frames = []
    for unit in UNITS:
        sender = 32 if unit == 1 else wires.ADDRESS[unit - 1]
        own, bus, phase = wires.ADDRESS[unit], "link%d" % unit, dice.random()
        for k in range(int((pedal.end - 0.1) * 100)):
            t = 0.05 + (phase + k) * 0.01
            counts = round(pedal(t - 0.008 - 0.006 * unit) / wires.COUNT)
            frames.append((t, bus, 0x0C020000 | own << 8 | sender,
                           bytes((0xC0, 0xFC, counts & 255, counts >> 8, 0,
                                  0x7D, 255, 255))))
            on = counts > 0 if at_once else \
                outputs[unit - 1][min(int(t * RATE), len(outputs[0]) - 1)] > 20
            frames.append((t + 0.002, bus, 0x0C030000 | sender << 8 | own,
                           bytes((0xCF | (0x10 if on else 0),)) +
                           b"\xFF" * 7))
    with open("%s/P.log" % folder, "w") as file:
        file.writelines("(%.6f) %s %08X#%s\n" % (
            1000 + t, bus, number, data.hex().upper())
            for t, bus, number, data in sorted(frames))


def write_together(folder, dice, kind):
    """One run with a capture. A short train: the air is at a coupling 0.03 to
    0.2 s after the pedal, a unit begins 0.1 to 0.25 s after its demand."""
    by_data = kind != "ignores"
    early = kind == "first ignores early air"
    if kind in ("ignores", "reports, and stays at rest"):
        lines = [dice.uniform(0.25, 0.3)] + [dice.uniform(0.1, 0.2)] * 2
    else:
        lines = [dice.uniform(0.02, 0.08) for _ in UNITS]
    units = [Unit(dice, s, by_data, dice.uniform(0.08, 0.22)) for s in lines]
    units[0].by_data = by_data and not early
    pedal, press, controls, outputs = run_of(dice, units, True)
    names = ["pedal"] + ["%s%d" % (q, u) for q in ("control", "output")
                         for u in UNITS]
    seen = [list(o) for o in outputs]
    if kind == "reports, and stays at rest":
        seen[2] = [0.0] * len(seen[2])
    elif kind == "reports, light ones below":
        begin, _, _, end, _ = pedal.parts[2]
        for i in range(int(begin * RATE), min(int((end + 2) * RATE), len(seen[2]))):
            seen[2][i] = 0.0
    if kind == "by state":
        names = names[:4]
        write_log("%s/P.csv" % folder, dice, [press] + controls, names)
    else:
        write_log("%s/P.csv" % folder, dice, [press] + controls + seen, names)
    send(folder, dice, pedal, outputs, kind.startswith("reports"))
    air = kind == "acts, and by air" or early and dice.random() < 0.5
    if air:
        _, press, controls, outputs = run_of(dice, units, False)
        write_log("%s/U.csv" % folder, dice, [press] + controls + outputs,
                  names)
    with open("%s/trial.ini" % folder, "w") as file:
        file.write(HEAD)
        for u in UNITS:
            file.write("[unit %d]\naddress = %d\nbus = link%d\n"
                       "control = control%d\n" % (u, wires.ADDRESS[u], u, u))
            file.write("" if kind == "by state" else "output = output%d\n" % u)
        file.write(channels(names) + "[run P]\npower = on\ndata = on\n"
                   "captures = P.log\nlogs = P.csv\nclock = shared\n")
        file.write("[run U]\npower = off\ndata = off\nlogs = U.csv\n"
                   if air else "")
    if kind == "reports, and stays at rest":
        return {3}, False  # it is never said to act; this does not show why
    return {i + 1 for i, u in enumerate(units) if not u.by_data}, not early


ALONE = ("not used", "not used, air early", "sound", "short",
         "late powered only", "slow by data",
         "air sooner with power", "other air")
TOGETHER = ("acts", "acts, and by air", "by state", "ignores",
            "first ignores early air", "reports, and stays at rest",
            "reports, light ones below")


def ask(tool, *words):
    done = made.run(tool, *words, "--json", "--quiet")
    if done.returncode not in (0, 1, 4):
        raise RuntimeError("%s: exit %d: %s" % (words, done.returncode,
                                                done.stderr[-2000:]))
    return json.loads(done.stdout)


def judge(tool, kind, seed):
    """What went wrong, and whether each unit that did not use it was named."""
    dice = random.Random("%s %d" % (kind, seed))
    folder = tempfile.mkdtemp(prefix="brakelag-acted-")
    try:
        guilty, shown = (write_alone if kind in ALONE else write_together)(
            folder, dice, kind)
        path = "%s/trial.ini" % folder
        reach = ask(tool, "reach", path)["reach"]
        causes = ask(tool, "causes", path)["findings"]
    finally:
        shutil.rmtree(folder)
    powered = [r for r in reach if r["run"] == "P"][0]
    wrong, named = [], 0
    for said in powered["units"]:
        unit = int(said["unit"])
        answer = said["claims"]["acted_on"]["answer"]
        found = [f for f in causes + powered["findings"] if f["code"] == "demand-ignored" and
                 f.get("shown", "found") == "found" and
                 f["unit"] == said["unit"]]
        if answer != "no" and any(f in causes for f in found):
            wrong.append("unit %d: causes says it ignores its demand, reach %s"
                         % (unit, answer))
        if unit in guilty:
            named += shown and answer == "no" and bool(found)
            if answer == "yes":
                wrong.append("unit %d did not use it, and is said to act: %s" %
                             (unit, said["claims"]["acted_on"]["why"]))
            continue
        if answer == "no" or found:
            wrong.append("unit %d, false alarm: %s %s" % (
                unit, said["claims"]["acted_on"]["why"],
                [f["text"] for f in found]))
    return wrong, named, len(guilty) if shown else 0


def main(words):
    p = argparse.ArgumentParser()
    p.add_argument("tool")
    p.add_argument("--seeds", type=int, default=3)
    p.add_argument("--from", type=int, default=0, dest="first")
    p.add_argument("--only", default="")
    options = p.parse_args(words)
    tool, tap = os.path.abspath(options.tool), made.Tap()
    total = collections.Counter()
    for kind in ALONE + TOGETHER:
        if options.only not in kind:
            continue
        wrong, named, guilty = [], 0, 0
        for seed in range(options.first, options.first + options.seeds):
            said, n, of_them = judge(tool, kind, seed)
            wrong += ["seed %d: %s" % (seed, w) for w in said]
            named += n
            guilty += of_them
        tap.check("%s, %d trials: nothing said that is not so" % (
            kind, options.seeds), not wrong, "\n".join(wrong))
        total["named"] += named
        total["guilty"] += guilty
        if guilty:
            print("# %s: %d of %d named" % (kind, named, guilty))
    tap.check("%d of %d units that did not use it are named, at least 95 %%" % (
        total["named"], total["guilty"]),
        total["named"] >= 0.95 * total["guilty"])
    return tap.end()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
