# SPDX-License-Identifier: MIT
"""Whole trials with known truth: a log, a capture, the trial file.

`Known` draws one from a seed by signals.py; `Simulated` takes one from
`brakelag simulate` with its truth.json. Both are lists of rows and frames that
kinds.py damages: a row knows when it truly was."""
import json
import os
import random
import sys

import signals

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)),
                                "..", "cli"))
import made  # noqa: E402

CLASS = 0x80000000
BUSES = ("vehicle", "link1", "link2")
UNITS = ("0", "1", "2")
TIES = ("alone", "shared", "auto", "bus-command")


class Row:
    """A row or a frame: when it truly was, its stamp in ns, its cells (or bus,
    identifier, data), and its text where damage made it another."""
    __slots__ = ("true", "stamp", "cells", "raw")

    def __init__(self, true, stamp, cells, raw=None):
        self.true, self.stamp = true, stamp
        self.cells, self.raw = cells, raw

    def but(self, stamp=None, cells=None, raw=None):
        return Row(self.true, self.stamp if stamp is None else stamp,
                   self.cells if cells is None else cells, raw)


class Form:
    """How a log is written."""

    def __init__(self, dice, rate):
        self.delimiter, self.decimal = dice.choice(((",", "."), (",", "."),
                                                    (";", ","), ("\t", ".")))
        self.places = 4 if rate > 500 or dice.random() < 0.3 else 3
        self.start = dice.choice((0, 7, 1717200000))

    def stamp(self, ns):
        sign, ns = ("-", -ns) if ns < 0 else ("", ns)
        unit = 10 ** (9 - self.places)
        whole, part = divmod((ns + unit // 2) // unit, 10 ** self.places)
        return "%s%d%s%0*d" % (sign, whole, self.decimal, self.places, part)

    def line(self, row):
        if row.raw is not None:
            return row.raw
        return self.delimiter.join([self.stamp(row.stamp)] + row.cells)

    def text(self, head, rows):
        return ("\n".join([head] + [self.line(r) for r in rows]) +
                "\n").encode()


def capture_line(row):
    if row.raw is not None:
        return row.raw
    bus, number, data = row.cells
    return "(%d.%06d) %s %08X#%s" % (
        row.stamp // 10**9, row.stamp % 10**9 // 1000, bus,
        number & 0x1FFFFFFF, data.hex().upper())


def capture_text(rows):
    return ("\n".join(map(capture_line, rows)) + "\n").encode()


def capture_pcap(rows):
    frames = made.Frames()
    frames.names = list(BUSES)
    frames.extend((r.stamp,) + r.cells for r in rows)
    return b"".join(made.pcap(frames, made.LINK_SLL2))


class Trial:
    """Shared by both: rows, frames, channels, what is true, the trial file."""

    def ini(self, log, capture, more=""):
        text = "[trial]\nname = damage %s\nlevels = 65 kPa\n" % self.seed
        text += "tables = iso11992-2, j1939-brakes\n"
        for k, unit in enumerate(UNITS):
            text += "\n[unit %s]\naddress = %d\n" % (unit, (32, 200, 192)[k])
            if k == 0 and self.tie == "bus-command":
                text += ("command = EBS11.service_demand@32/link1\n"
                         "command_kind = electronic-demand\n"
                         "command_at = 20 kPa\n")
            elif k == 0:
                text += ("command = treadle\ncommand_kind = treadle-pressure\n"
                         "command_at = 20 kPa\n")
            else:
                text += "bus = link%d\ncontrol = control_%d\nline = 4 m\n" % (
                    k, k)
            text += "output = output_%d\n" % k
        for name in self.columns:
            text += "\n[channel %s]\nquantity = %s\n" % (
                name, "switch" if name == "pedal_switch" else "pressure")
            if name != "pedal_switch":
                text += "measured_in = kPa\n"
        text += "\n[run P]\ncondition = powered\npower = on\n"
        text += self.recordings(log, capture)
        if more:
            text += "\n[run Q]\ncondition = other\npower = on\n" + more
        return text

    def recordings(self, log, capture):
        text = "logs = %s\n" % log
        if self.tie != "alone":
            text += "data = on\ncaptures = %s\nclock = %s\n" % (
                capture, "auto" if self.tie == "auto" else "shared")
        return text

    def capture_bytes(self, rows):
        return (capture_pcap if self.pcap else capture_text)(rows)

    def log_bytes(self, rows):
        return self.form.text(self.head, rows)


class Known(Trial):
    """One trial drawn from a seed."""

    def __init__(self, seed, tie=None, few=0):
        dice = self.dice = random.Random(seed)
        self.seed, self.tie = seed, tie or dice.choice(TIES)
        self.pcap = self.tie != "alone" and dice.random() < 0.3
        self.rate = dice.choice((100, 200, 200, 500, 500, 1000))
        self.noise = dice.choice((0.2, 0.5, 1.0, 1.5))
        self.resolution = dice.choice((0.01, 0.1, 0.25, 1.0))
        self.form = Form(dice, self.rate)
        self.press_all(few or dice.randint(4, 6))
        self.air()
        self.write_frames()
        self.find_truth()
        self.write_rows()

    def press_all(self, count):
        dice, t = self.dice, self.dice.uniform(2.0, 3.0)
        knots, self.applications = [(0.0, 0.0)], []
        for number in range(1, count + 1):
            shape = dice.choice(("step",) * 6 + ("ramp", "overshoot", "dip",
                                                 "slip"))
            pressure = dice.choice((dice.uniform(90, 140),
                                    dice.uniform(180, 500),
                                    dice.uniform(560, 700)))
            app = signals.Application(number, t)
            app.shape = shape
            more, t = press(dice, shape, t, pressure)
            knots += more
            self.applications.append(app)
            t += dice.uniform(0.4, 0.6) if shape == "slip" else \
                dice.uniform(2.2, 4.5)
        self.length = t + 1.0
        self.command = signals.from_knots(knots, self.length)

    def air(self):
        dice = self.dice
        self.curves = {"treadle": self.command}
        self.rests = {"treadle": dice.uniform(-1.5, 2.5)}
        late = 0.0
        for k, unit in enumerate(UNITS):
            if k:
                late += dice.uniform(0.01, 0.06)
                self.curves["control_" + unit] = signals.follow(
                    self.command, late, dice.uniform(0.02, 0.06),
                    dice.uniform(0.02, 0.06))
            slow = dice.random() < 0.1
            self.curves["output_" + unit] = signals.follow(
                self.command, late + dice.uniform(0.01, 0.12),
                dice.uniform(0.3, 0.6) if slow else dice.uniform(0.03, 0.15),
                dice.uniform(0.04, 0.2), dice.uniform(0.9, 1.0),
                dice.choice((None, None, 0.3, 0.6)), dice.uniform(2, 15))
        for name in self.curves:
            self.rests.setdefault(name, dice.uniform(-1.5, 2.5))

    def write_frames(self):
        """A pedal switch on the vehicle's bus, demand on each link."""
        dice = self.dice
        self.offset = dice.uniform(-3.0, 3.0) if self.tie == "auto" else 0.0
        start = (self.form.start + 10 + self.offset) * 1e9
        self.frames, self.demand = [], {"link1": [], "link2": []}
        if self.tie == "alone":
            return
        beat = dice.choice((0.02, 0.05))
        for bus, period in (("vehicle", beat), ("link1", 0.01),
                            ("link2", 0.01)):
            t = dice.uniform(0, period)
            late = {"vehicle": 0.0, "link1": 0.005, "link2": 0.011}[bus]
            while t < self.length - 0.1:
                at = t + dice.gauss(0, 0.0001)
                value = self.command.at(at - late) if at > late else 0.0
                if bus == "vehicle":
                    number = 0x18F0010B
                    data = bytes([0x3F | (value > 2.0) << 6]) + b"\xff" * 7
                else:
                    number = 0x0C02C820 if bus == "link1" else 0x0C02C0C8
                    count = int(value / signals.DEMAND_STEP)
                    data = (b"\xff\xfc" + count.to_bytes(2, "little") +
                            b"\xff" * 4)
                    self.demand[bus].append((at, count * signals.DEMAND_STEP))
                self.frames.append(Row(at, int(start + at * 1e9) //
                                       1000 * 1000,
                                       (bus, number | CLASS, data)))
                t += period
        self.frames.sort(key=lambda f: f.true)

    def find_truth(self):
        apps = self.applications
        for app, after in zip(apps, apps[1:] + [None]):
            end = after.begin if after else self.length - 0.2
            if self.tie == "bus-command":
                signals.demand_truth(self.demand["link1"], app, end)
            else:
                signals.command_truth(self.command, app, end)
        for app, after in zip(apps, apps[1:] + [None]):
            for unit in UNITS:
                out = "output_" + unit
                app.units[unit] = signals.unit_truth(
                    self.curves[out], self.rests[out], app,
                    after.apply if after else None)
                control = "control_" + unit
                if control in self.curves and "pressures" in app.units[unit]:
                    app.units[unit]["pressures"]["control_peak"] = (
                        signals.peak_of(self.curves[control], app, app.end) +
                        self.rests[control], 0.0)
            for bus, frames in self.demand.items():
                first = [f[0] for f in frames if f[0] >= app.begin - 0.05 and
                         f[1] >= signals.COMMAND_AT]
                if first:
                    app.units[bus[-1]]["demand_arrival"] = (
                        first[0] - app.apply, 0.0, first[0])

    def write_rows(self):
        dice, interval = self.dice, 1.0 / self.rate
        jitter = dice.choice((0.0, 0.0, 0.02, 0.1)) * interval
        base = (self.form.start + 10) * 10**9
        self.columns = list(self.curves)
        if self.tie in ("auto", "bus-command"):
            self.columns.append("pedal_switch")
        names = self.columns[:]
        dice.shuffle(names)
        self.columns = names
        self.head = self.form.delimiter.join(
            ["time [s]"] + [n if n == "pedal_switch" else n + " [kPa]"
                            for n in names])
        self.rows, count = [], int((self.length - 0.3) * self.rate)
        for i in range(count):
            t = i * interval + (dice.gauss(0, jitter) if jitter else 0.0)
            t = max(t, 0.0)
            self.rows.append(Row(t, base + int(t * 1e9), self.cells(t)))

    def cells(self, t):
        out = []
        for name in self.columns:
            if name == "pedal_switch":
                out.append("1" if self.command.at(t) > 2.0 else "0")
                continue
            out.append(self.cell(self.curves[name].at(t) + self.rests[name] +
                                 self.dice.gauss(0, self.noise)))
        return out

    def cell(self, kpa):
        value = "%.2f" % (round(kpa / self.resolution) * self.resolution)
        return value if self.form.decimal == "." else value.replace(".", ",")


def press(dice, shape, t, pressure):
    return signals.press(dice, shape, t, pressure, dice.uniform(1.1, 2.6))


class Simulated(Trial):
    """The small trial of made.py from `brakelag simulate`, another seed, a log
    alone; truth as truth.json has it."""

    def __init__(self, seed, tool, folder):
        dice = self.dice = random.Random(seed)
        self.seed, self.tie, self.pcap = seed, "alone", False
        self.rate = dice.choice((200, 500))
        text = (made.SCENARIO % self.rate).replace("seed = 7", "seed = %d" %
                                                   (seed % 1000000))
        text += "\n"
        text = text.replace("[sensors]\n", "[sensors]\nzero = 0 kPa\n"
                            "gain = 0 %\ndelay = 0 ms\ndelay_spread = 0 ms\n")
        os.makedirs(folder, exist_ok=True)
        made.write(os.path.join(folder, "scenario.ini"), text.encode())
        done = made.run(tool, "simulate",
                        os.path.join(folder, "scenario.ini"), "--directory",
                        folder)
        if done.returncode != 0:
            raise ValueError(done.stderr.decode("utf-8", "replace"))
        self.form = Form(dice, self.rate)
        self.form.delimiter, self.form.decimal = ",", "."
        self.form.places = 3
        self.frames, self.noise = [], 0.5
        with open(os.path.join(folder, "truth.json"), "rb") as file:
            self.take(json.load(file)["runs"][0],
                      made.read(os.path.join(folder, "P.csv")).decode())

    def take(self, run, text):
        lines = text.splitlines()
        self.head = lines[0]
        self.columns = [c.split()[0] for c in lines[0].split(",")[1:]]
        t0 = int(run["t0_ns"])
        self.rows = []
        for line in lines[1:]:
            cells = line.split(",")
            whole, part = cells[0].split(".")
            ns = int(whole) * 10**9 + int(part.ljust(9, "0"))
            self.rows.append(Row((ns - t0) / 1e9, ns, cells[1:]))
        self.applications = []
        for a, after in zip(run["applications"],
                            run["applications"][1:] + [None]):
            app = signals.Application(a["number"], a["apply_s"] - 0.2)
            app.shape = "simulated"
            app.apply, app.release = a["apply_s"], a["release_s"]
            app.fall, app.release_slack = app.release, 0.0
            app.hold = a["command_hold_kpa"]
            app.end = after["apply_s"] if after else self.rows[-1].true
            app.units = {str(u["unit"]): self.unit(app, u)
                         for u in a["units"]}
            self.applications.append(app)

    @staticmethod
    def unit(app, u):
        out = {"settled": u["settled"], "vented": True,
               "pressures": {"hold": (u["hold_kpa"], 0.0),
                             "rest": (u["rest_kpa"], 0.0),
                             "peak": (u["peak_kpa"], 0.0)}}
        for name in ("rise_start", "response", "apply_10", "apply_75",
                     "apply_90", "release_start", "release_10", "release_end"):
            if u[name] is not None:
                origin = app.release if name.startswith("rel") else app.apply
                out[name] = (u[name], 0.0, origin + u[name])
        for level in u["levels"]:
            if level["s"] is not None:
                out["level"] = (level["s"], 0.0, app.apply + level["s"])
        return out
