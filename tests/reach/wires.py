# SPDX-License-Identifier: MIT
"""Trains of a towing vehicle and three towed units whose electronic demand has
a known fault: frames as they stand on the wire, pressures as they are in the
brakes, and the trial file.

Nothing of the product makes them. Identifiers and layouts: public tables of ISO
11992-2 messages (demand 0x0C02 from 32 to 200, 5/256 kPa per count in bytes 3
and 4: UN R13 Annex 17; replies 0x0C03 and 0x18FEC4), sent every 10 and 100 ms.
Times of air and valves: common practice (a unit that hears its demand answers
some 0.1 s after the pedal, the third one by air alone after 0.6 s)."""
import math
import random

RATE = 200                      # of the log, per second
COUNT = 5 / 256                 # kPa
UNITS = (1, 2, 3)
TOWING, ADDRESS = 32, {1: 200, 2: 192, 3: 184}
STRANGER, SECOND = 99, 11       # of no unit; of a brake controller (J1939)
MISSING = 0xFFFF
LAYOUTS = ("own", "predecessor", "towing", "split", "tied", "untied", "first")
FAULTS = ("missing", "all FFFF", "half FFFF", "FFFF while braking",
          "frozen at 0", "frozen high", "frozen from", "scaled", "clipped",
          "late", "slow", "thinned", "doubled", "second sender",
          "other address", "from the third on", "until the middle",
          "none moves")


class Pedal:
    """Six applications: uneven pauses, heights and holds from the seed."""

    def __init__(self, dice):
        self.parts, t = [], 3.0
        heights = [650, 120, 400, 650, 250, 500]
        dice.shuffle(heights)
        for kpa in heights:
            hold = dice.uniform(1.2, 2.0)
            self.parts.append((t, t + 0.15, t + 0.15 + hold, t + 0.4 + hold,
                               kpa))
            t += 0.4 + hold + dice.uniform(1.8, 4.2)
        self.end = t + 1.0

    def __call__(self, t):
        for up, top, down, low, kpa in self.parts:
            if up <= t < low:
                return kpa * min(1, (t - up) / (top - up),
                                 (low - t) / (low - down))
        return 0.0

    def application(self, t):
        """Number of the application that is on, 0 between."""
        for i, part in enumerate(self.parts):
            if part[0] <= t < part[3]:
                return i + 1
        return 0


class Train:
    """One train with one fault at one unit. `frames` are (time, bus, id, data),
    `log` is rows of pedal, control and output."""

    def __init__(self, layout, fault, seed, unit=None):
        self.dice = random.Random("%s %s %d" % (layout, fault, seed))
        self.layout, self.fault = layout, fault
        self.unit = unit or (1 + seed % 3)
        if layout == "split":
            self.unit = 1
        self.pedal = Pedal(self.dice)
        d = self.dice
        self.amount = {"scaled": d.choice((0.3, 0.5, 0.7, 1.3)),
                       "clipped": d.choice((200, 300)),
                       "late": d.uniform(0.35, 0.6),
                       "slow": d.choice((2, 3, 5, 10)),
                       "thinned": d.uniform(0.05, 0.3),
                       "frozen high": d.choice((100, 300, 640)),
                       }.get(fault)
        self.at = {"frozen from": self.pedal.parts[2][1] + 0.3,
                   "from the third on": self.pedal.parts[2][0] - 0.8,
                   "until the middle": self.pedal.parts[3][0] - 0.8,
                   }.get(fault)
        self.frames = []
        self.heard = {}         # unit: [(time, counts)] as it stands on its link
        self.bad = set()        # units whose frames are not as they should be
        self.send_demands()
        self.brake()
        self.send_rest()
        self.frames.sort(key=lambda f: f[0])

    # ---- addresses and buses

    def bus(self, unit):
        return "can0" if self.layout in ("predecessor", "towing",
                                         "split") else "link%d" % unit

    def pair(self, unit):
        """Sender and receiver of the demand to a unit."""
        if self.layout == "first":
            return TOWING, ADDRESS[1]
        if self.layout == "towing":
            return TOWING, ADDRESS[unit]
        if self.layout == "split":
            return TOWING, ADDRESS[1]
        return (TOWING if unit == 1 else ADDRESS[unit - 1]), ADDRESS[unit]

    def own(self, unit):
        return ADDRESS[1] if self.layout == "first" else ADDRESS[unit]

    # ---- the demand

    def source(self, unit):
        """The demand as its sender would make it: a function of time."""
        if self.layout in ("towing", "split") or unit == 1:
            still = self.fault == "none moves"
            return lambda t: 0 if still else round(self.pedal(t - 0.012) /
                                                   COUNT)
        heard = self.heard[unit - 1]
        at = [0]

        def passed_on(t):
            """What the unit in front had 4 ms ago; None: nothing for 0.1 s."""
            while at[0] + 1 < len(heard) and heard[at[0] + 1][0] <= t - 0.004:
                at[0] += 1
            if not heard or heard[at[0]][0] > t - 0.004 or \
                    t - heard[at[0]][0] > 0.2:
                return None
            return heard[at[0]][1]
        return passed_on

    def spoil(self, t, counts, k):
        """The k-th frame of the faulty link; None: it is not sent."""
        fault = self.fault
        if fault == "missing":
            return None
        if fault == "all FFFF" or (fault == "half FFFF" and k % 2):
            return MISSING
        if fault == "FFFF while braking" and self.pedal.application(t):
            return MISSING
        if fault == "frozen at 0":
            return 0
        if fault == "frozen high":
            return round(self.amount / COUNT)
        if fault == "frozen from" and t > self.at:
            self.frozen = getattr(self, "frozen", counts)
            return self.frozen
        if fault == "scaled" and counts not in (None, MISSING):
            return round(counts * self.amount)
        if fault == "clipped" and counts not in (None, MISSING):
            return min(counts, round(self.amount / COUNT))
        if fault == "slow" and k % self.amount:
            return None
        if fault == "thinned" and self.dice.random() < self.amount:
            return None
        if fault == "from the third on" and t < self.at:
            return None
        if fault == "until the middle" and t > self.at:
            return None
        return counts

    def send_demands(self):
        for unit in (1,) if self.layout == "split" else UNITS:
            source = self.source(unit)
            sender, receiver = self.pair(unit)
            here = unit == self.unit
            if here and self.fault == "other address":
                receiver = STRANGER
            phase = self.dice.uniform(0, 0.01)
            late = self.amount if here and self.fault == "late" else 0
            heard = self.heard[unit] = []
            for k in range(int((self.pedal.end - 0.1) * 100)):
                t = 0.05 + phase + k * 0.01 + self.dice.uniform(0, 0.0004)
                counts = source(t - late)
                if here:
                    counts = self.spoil(t, counts, k)
                if counts is None:
                    continue
                self.put(t, unit, 0x0C020000 | receiver << 8 | sender, counts)
                heard.append((t, counts))
            if receiver == STRANGER:
                heard.clear()
        if self.layout == "split":
            self.heard.update({2: self.heard[1], 3: self.heard[1]})
        self.find_bad()

    def put(self, t, unit, number, counts):
        data = bytes((0xC0, 0xFC, counts & 255, counts >> 8, 0, 0x7D, 255, 255))
        here = unit == self.unit
        self.frames.append((t, self.bus(unit), number, data))
        if here and self.fault == "doubled":
            self.frames.append((t + 0.0001, self.bus(unit), number, data))
        if here and self.fault == "second sender":
            self.frames.append((t + 0.0031, self.bus(unit),
                                number & ~255 | SECOND, data[:2] + b"\0\0" +
                                data[4:]))

    def find_bad(self):
        """Whose frames are wrong: the unit's, and those that follow from them
        because a unit passes on what it gets. A second sender, another rate and
        lost frames end at that link."""
        self.open = set()       # units of which nothing is asked
        if self.fault in ("sound", "doubled"):
            return
        if self.fault == "none moves" or self.layout == "split":
            self.bad = set(UNITS)
        elif self.layout == "towing" or self.fault in ("second sender", "slow",
                                                       "thinned"):
            self.bad = {self.unit}
            if self.fault == "slow" and self.layout != "towing":
                # What comes seldom is passed on late.
                self.open = {u for u in UNITS if u > self.unit}
        else:
            self.bad = {u for u in UNITS if u >= self.unit}

    # ---- brakes, and what units say

    def brake(self):
        """Control air and outputs at the log's rate. A unit answers to the
        higher of demand and air."""
        n = int(self.pedal.end * RATE)
        times = [i / RATE for i in range(n)]
        pedal = [self.pedal(t) for t in times]
        self.control, self.output = {}, {}
        before = pedal
        for unit in UNITS:
            line = self.lag(before, 0.09 + 0.03 * unit, 0.05)
            self.control[unit] = line
            before = line
            asked, at, now = [], 0, 0
            heard = self.heard[unit]
            for t in times:
                while at < len(heard) and heard[at][0] <= t:
                    now = 0 if heard[at][1] == MISSING else heard[at][1]
                    at += 1
                asked.append(now * COUNT)
            by_data = self.lag(asked, 0.05, 0.06)
            by_air = self.lag(line, 0.03, 0.06)
            self.output[unit] = [max(a, b) for a, b in zip(by_data, by_air)]
        self.log = [(t, pedal[i]) + tuple(self.control[u][i] for u in UNITS) +
                    tuple(self.output[u][i] for u in UNITS)
                    for i, t in enumerate(times)]

    @staticmethod
    def lag(series, dead_s, tau_s):
        """Dead time, then a first-order fill."""
        dead, gain = round(dead_s * RATE), 1 - math.exp(-1 / (RATE * tau_s))
        out, value = [], 0.0
        for i in range(len(series)):
            value += gain * ((series[i - dead] if i >= dead else 0) - value)
            out.append(value if value > 0.01 else 0.0)
        return out

    def send_rest(self):
        """EBS12 rearwards; EBS21 and EBS22 forwards, with the braking state."""
        for unit in UNITS:
            sender, _ = self.pair(unit)
            own, bus = self.own(unit), self.bus(unit)
            phase = self.dice.uniform(0, 0.01)
            for k in range(int((self.pedal.end - 0.1) * 100)):
                t = 0.052 + phase + k * 0.01
                on = self.output[unit][min(int(t * RATE),
                                           len(self.output[unit]) - 1)] > 20
                state = 0xCF | (0x10 if on else 0)
                self.frames.append((t, bus, 0x0C030000 | sender << 8 | own,
                                    bytes((state,)) + b"\xFF" * 7))
                if k % 10 == 5:
                    self.frames.append((t + 0.002, bus, 0x18FEC400 | own,
                                        bytes((state, 0xC1)) + b"\xFF" * 6))
                if k % 10 == 7 and (self.layout not in ("towing", "split") or
                                    unit == 1):
                    self.frames.append((t + 0.003, bus, 0x18FEC900 | sender,
                                        b"\xFF" * 8))

    # ---- files

    def captures(self):
        """Name, frames and clock offset of every capture."""
        if self.layout not in ("tied", "untied"):
            return [("p.log", self.frames, 0.0)]
        rear = [f for f in self.frames if f[1] == "link3"]
        front = [f for f in self.frames if f[1] != "link3"]
        return [("p-front.log", front, 0.0), ("p-rear.log", rear, 7.25)]

    def write(self, folder):
        for name, frames, offset in self.captures():
            with open("%s/%s" % (folder, name), "w") as file:
                file.writelines("(%.6f) %s %08X#%s\n" % (
                    1000 + t + offset, bus, number, data.hex().upper())
                    for t, bus, number, data in frames)
        noise = [self.dice.gauss(0, 0.25) for _ in range(4096)]
        with open("%s/p.csv" % folder, "w") as file:
            file.write("time [s],pedal [kPa],control1 [kPa],control2 [kPa],"
                       "control3 [kPa],output1 [kPa],output2 [kPa],"
                       "output3 [kPa]\n")
            for i, row in enumerate(self.log):
                file.write("%.3f," % (1000 + row[0]) + ",".join(
                    "%.2f" % (v + noise[(i * 7 + c * 577) % 4096])
                    for c, v in enumerate(row[1:])) + "\n")
        with open("%s/trial.ini" % folder, "w") as file:
            file.write(self.trial())

    def trial(self):
        text = ["[trial]", "name = wires", "tables = iso11992-2",
                "response_at = 20 kPa", "[unit 0]", "address = %d" % TOWING,
                "command = pedal", "command_kind = treadle-pressure",
                "command_at = 20 kPa"]
        for unit in UNITS:
            text += ["[unit %d]" % unit, "bus = %s" % self.bus(unit),
                     "control = control%d" % unit, "output = output%d" % unit]
            # Where all answer as the first, the file may leave it open.
            if self.layout != "first" or unit == 1 or self.unit % 2:
                text += ["address = %d" % self.own(unit)]
        for name in ("pedal",) + tuple("%s%d" % (q, u) for q in (
                "control", "output") for u in UNITS):
            text += ["[channel %s]" % name, "column = %s" % name,
                     "quantity = pressure", "measured_in = kPa"]
        text += ["[run P]", "power = on", "data = on", "logs = p.csv"]
        if len(self.captures()) == 1:
            text += ["captures = p.log", "clock = shared"]
        else:
            clock = {"tied": "offset -7.25 s +- 0.5 ms",
                     "untied": "own"}[self.layout]
            text += ["[recording a]", "run = P", "kind = capture",
                     "file = p-front.log", "clock = shared", "[recording b]",
                     "run = P", "kind = capture", "file = p-rear.log",
                     "clock = %s" % clock]
        return "\n".join(text) + "\n"
