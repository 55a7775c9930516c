# SPDX-License-Identifier: MIT
"""Chains of units by air, through the tool: trial files and logs as a user has
them, one command, its JSON. Trains of this test's own (dead times and first-order
lags, nothing of the program): 0.1 to 0.3 s from unit to unit of 11 m (common
practice), units of 8 to 14 m, 9 % from unit to unit. Sound ones must be left
alone: no rule that rests on a prediction or a stage may call more than 1.5 % of
their units late or slow. One restriction that adds 0.15 to 0.3 s on apply or 0.3
to 0.6 s on release must be seen at its unit and edge in 90 % of those that have
three or more other stages.
Seeds are SEED (else 1) and on, and 100,000 more for those with a restriction.
    python3 trains.py BRAKELAG SOUND RESTRICTED [SEED]"""
import concurrent.futures
import json
import math
import os
import random
import subprocess
import sys
import tempfile

RATE = 200
HOLD_S, PERIOD_S, FIRST_S = 4.0, 10.0, 2.0
FULL_KPA = 650.0
APPLICATIONS = 3
SLOW = ("late-apply", "slow-fill", "late-release", "slow-release", "hose-restricted",
        "control-late-apply", "control-late-release")
AT_STAGE = {"apply": ("late-apply", "control-late-apply"),
            "release": ("late-release", "control-late-release")}


class Train:
    """Drawn from its seed. Units count from 1."""

    def __init__(self, seed, restricted):
        dice = random.Random(seed)
        self.dice = dice
        self.units = dice.randint(5 if restricted else 2, 6)
        self.length_m = [dice.uniform(8, 14) for _ in range(self.units)]
        self.wired = dice.random() < 0.5
        self.by_line = dice.random() < 0.5
        self.rise_s = dice.uniform(0.15, 0.45)
        self.fall_s = dice.uniform(0.1, 0.3)
        self.delay_s = {"apply": dice.uniform(0.1, 0.3), "release": dice.uniform(0.1, 0.3)}
        self.fixed = dice.uniform(0.15, 0.4)
        self.dead = dice.uniform(0.6, 0.9)
        self.keeps = [dice.uniform(20, 50) for _ in range(self.units)]
        make = dice.uniform(0.06, 0.12), dice.uniform(0.15, 0.3), dice.uniform(0.02, 0.04)
        self.fill_s, self.vent_s, self.valve_s = (
            [part * self.scatter() for _ in range(self.units)] for part in make)
        self.opens = [dice.uniform(30, 60) for _ in range(self.units)]
        self.part = [self.scatter() for _ in range(self.units)]
        self.at = self.edge = None
        self.more_s = 0.0
        if restricted:
            self.at = dice.randint(2, self.units)
            self.edge = dice.choice(("apply", "release"))
            self.more_s = dice.uniform(0.15, 0.3) * (1 if self.edge == "apply" else 2)
        self.noise = [dice.gauss(0, 0.5) for _ in range(4096)]

    def scatter(self):
        return 1 + 0.09 * self.dice.gauss(0, 1)

    def stage_s(self, unit, edge):
        share = self.fixed + (1 - self.fixed) * self.length_m[unit - 1] / 11
        return self.delay_s[edge] * share * self.part[unit - 1]

    def traces(self):
        """One application: pedal, and control and output of every unit."""
        rows = int(PERIOD_S * RATE)
        half = int((1 + HOLD_S) * RATE)
        pedal = []
        for i in range(rows):
            s = i / RATE - 1
            up = min(max(s / self.rise_s, 0), 1)
            down = min(max((s - HOLD_S) / self.fall_s, 0), 1)
            pedal.append(FULL_KPA * up * up * (3 - 2 * up)
                         * (1 - down * down * (3 - 2 * down)))
        air, control, output = pedal, [], []
        for u in range(1, self.units + 1):
            keeps = 0 if u == 1 else self.keeps[u - 1]
            dead = {e: self.dead * self.stage_s(u, e)
                    + (self.more_s if (u, e) == (self.at, self.edge) else 0)
                    for e in ("apply", "release")}
            slow = {e: (1 - self.dead) * self.stage_s(u, e) for e in dead}
            air = lagged(edges([max(0, p - keeps) for p in air], half, dead), slow)
            control.append(air)
            valve = {"apply": self.valve_s[u - 1], "release": self.valve_s[u - 1]}
            wanted = [p - min(35, self.opens[u - 1]) if p > self.opens[u - 1] else 0
                      for p in edges(air, half, valve)]
            output.append(lagged(wanted, {"apply": self.fill_s[u - 1],
                                          "release": self.vent_s[u - 1]}))
        return pedal, control, output

    def write(self, folder):
        pedal, control, output = self.traces()
        columns = [("pedal", pedal)]
        columns += [("out%d" % (u + 1), o) for u, o in enumerate(output)]
        if self.wired:
            columns += [("con%d" % (u + 1), c) for u, c in enumerate(control)]
        with open(os.path.join(folder, "u.csv"), "w") as to:
            to.write("time," + ",".join(name for name, _ in columns) + "\n")
            cell, lines = 0, []
            before = [0.0] * int(FIRST_S * RATE)
            series = [before + trace * APPLICATIONS for _, trace in columns]
            for i, row in enumerate(zip(*series)):
                cells = ["%.3f" % (1000 + i / RATE)]
                for value in row:
                    cell = cell * 5 + 1 & 4095
                    # A transducer gives steps of 0.5 kPa.
                    cells.append("%.1f" % (round(2 * (value + self.noise[cell]
                                                      )) / 2))
                    cell = cell + i & 4095
                lines.append(",".join(cells))
            to.write("\n".join(lines) + "\n")
        self.write_trial(os.path.join(folder, "trial.ini"), columns)

    def write_trial(self, path, columns):
        say = ["[trial]", "name = chain", "control_line = relayed", "[unit 0]",
               "name = truck", "command = pedal", "command_kind = treadle-pressure",
               "command_at = 20 kPa"]
        for u in range(1, self.units + 1):
            say += ["[unit %d]" % u, "name = trailer %d" % u, "output = out%d" % u]
            metres = self.length_m[u - 1]
            say.append("line = %.1f m" % (1.3 * metres) if self.by_line
                       else "length = %.1f m" % metres)
            if self.wired:
                say.append("control = con%d" % u)
        for name, _ in columns:
            say += ["[channel %s]" % name, "measured_in = kPa", "quantity = pressure"]
        say += ["[run U]", "condition = unpowered", "power = off", "data = off",
                "logs = u.csv", ""]
        with open(path, "w") as to:
            to.write("\n".join(say))


def edges(trace, half, delay_s):
    """Later by one time until the pedal is let go, by another from then on."""
    up, down = int(delay_s["apply"] * RATE + 0.5), int(delay_s["release"] * RATE + 0.5)
    early = [0.0] * up + trace[:half - up]
    late = trace[half - down:len(trace) - down]
    return early + late


def lagged(trace, tau_s):
    up = 1 - math.exp(-1 / (RATE * tau_s["apply"]))
    down = 1 - math.exp(-1 / (RATE * tau_s["release"]))
    value, rows = 0.0, []
    for wanted in trace:
        value += (wanted - value) * (up if wanted > value else down)
        rows.append(value)
    return rows


def ask(tool, seed, restricted):
    """(train, units called late or slow and why, seen at the right place, put down
    to the delay that it is, where control is wired)"""
    train = Train(seed, restricted)
    with tempfile.TemporaryDirectory() as folder:
        train.write(folder)
        done = subprocess.run(
            [tool, "report", "trial.ini", "--format", "json", "-o", "result.json",
             "--quiet"], cwd=folder, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise SystemExit("seed %s: exit %d\n%s%s" % (
                seed, done.returncode, done.stdout, done.stderr))
        with open(os.path.join(folder, "result.json")) as file:
            result = json.load(file)
    called = {}
    for unit in result["predict"]:
        name = unit["unit"]
        assert unit["reason"] is None or name == "0", (seed, unit["reason"])
        for row in unit["figures"]:
            if row["verdict"] == "later":
                called.setdefault(name, []).append("later " + row["figure"])
        for edge, stage in unit["stage"].items():
            if stage is not None and stage["late"]:
                called.setdefault(name, []).append("stage " + edge)
    for finding in result["findings"]:
        if finding["code"] in SLOW:
            called.setdefault(finding["unit"], []).append(finding["code"])
    seen = by_delay = False
    if restricted:
        why = called.get(str(train.at), [])
        seen = "stage " + train.edge in why and any(
            code in why for code in AT_STAGE[train.edge])
        fit = next(u["stage"][train.edge]["fit"] for u in result["predict"]
                   if u["unit"] == str(train.at))
        assert (fit is not None) == train.wired, seed
        by_delay = fit is not None and fit["slow_by"] == "delay"
    return train, called, seen, by_delay


def main():
    tool, sound, restricted = os.path.abspath(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    first = int(sys.argv[4]) if len(sys.argv) > 4 else 1
    jobs = [(first + i, False) for i in range(sound)]
    jobs += [(first + 100000 + i, True) for i in range(restricted)]
    units = called_units = seen = elsewhere = others = wired = by_delay = 0
    reasons = {}
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        for (seed, fault), (train, called, right, delay) in zip(
                jobs, pool.map(lambda job: ask(tool, *job), jobs)):
            if fault:
                seen += right
                wired += train.wired and right
                by_delay += delay and right
                others += train.units - 1
                wrong = [n for n in called if n != str(train.at)
                         and any(w.startswith("stage") for w in called[n])]
                elsewhere += len(wrong)
                if not right or wrong:
                    print("# seed %d: unit %d, %s, %.2f s; called: %s" % (
                        seed, train.at, train.edge, train.more_s, called))
            else:
                units += train.units
                called_units += len(called)
                if called:
                    print("# seed %d, sound: %s" % (seed, called))
                for why in {w for all_of in called.values() for w in all_of}:
                    reasons[why] = reasons.get(why, 0) + sum(
                        why in all_of for all_of in called.values())
    for why in sorted(reasons):
        print("#     %-28s %d" % (why, reasons[why]))
    # Few trains allow for one unit by chance.
    say = [(called_units <= max(0.015 * units, 1),
            "%d sound trains: %d of %d units called late or slow (%.2f %%)" % (
                sound, called_units, units, 100 * called_units / max(units, 1))),
           (seen >= 0.9 * restricted,
            "%d trains with one restriction: %d seen at its unit and edge" % (
                restricted, seen)),
           (elsewhere <= max(0.015 * others, 1),
            "the same: %d of %d other units late at a stage" % (elsewhere, others)),
           (by_delay >= 0.9 * wired,
            "the same: %d of %d with control pressures put down to delay" % (
                by_delay, wired))]
    print("1..%d" % len(say))
    for number, (good, text) in enumerate(say, 1):
        print("%sok %d - %s" % ("" if good else "not ", number, text))
    return 0


if __name__ == "__main__":
    sys.exit(main())
