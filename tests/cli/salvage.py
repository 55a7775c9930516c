# SPDX-License-Identifier: MIT
"""Damaged recordings: what is said, what is still used, and what is not.

The small trial is measured whole, then with bytes overwritten in one place, in
each kind of recording. Whatever the place: the exit code is 3, the damage is
told in one line, and a figure that carries neither `near-damage` nor `in-gap`
is the same as without the damage: to the digit where the capture was damaged,
within a third of its standard uncertainty where the log was (a rest is the
median of up to 10 s, and a noise that is other by little asks for another
window). Nothing may come out that did not without the damage.
Bytes are overwritten with such as no number or block can hold.

usage: salvage.py TOOL [PLACES]; so many places in each kind of recording"""
import gzip
import os
import random
import sys
import tempfile

import made

tool = os.path.abspath(sys.argv[1])
tap = made.Tap()
dice = random.Random(29)
places = int(sys.argv[2]) if len(sys.argv) > 2 else 3
UNSEEN = ("no-data", "unfinished", "clocks-unrelated", "part-split")


class Trial:
    def __init__(self, folder):
        made.make(tool, folder)
        self.folder = folder
        self.text = made.read(os.path.join(folder, "trial.ini")).decode()
        self.frames = made.Frames(os.path.join(folder, "P.pcapng"))
        self.base = made.measure(tool, os.path.join(folder, "trial.ini"))

    def path(self, name):
        return os.path.join(self.folder, name)

    def measure(self, old, new, data):
        made.write(self.path(new), data)
        made.write(self.path("changed.ini"),
                   self.text.replace(old, new).encode())
        return made.measure(tool, self.path("changed.ini"))


def flagged(result, place):
    """The figure's own flags, or those of its unit or application."""
    own = result.flags.get(place)
    flags = set(own or ())
    for end in range(2, len(place)):
        flags |= set(result.flags.get(place[:end], ()))
    if "path" in place or "demand_arrival" in place:
        # Legs of a path rest on the demand of the units in front.
        for other, its in result.flags.items():
            if other[:2] == place[:2] and "demand_arrival" in other:
                flags |= set(its)
    return bool(flags & {"near-damage", "in-gap"})


def joined(base, place):
    """A leg of a path that lacks a point in between is the sum of the legs
    around that point: value and uncertainty; None where there are none."""
    if "path" not in place:
        return None
    point, end = place[-1].split(" to ")
    value, u = 0.0, 0.0
    legs = {leg[-1].split(" to ")[0]: (leg[-1].split(" to ")[1], is_)
            for leg, is_ in base.figures.items() if leg[:-1] == place[:-1]}
    while point != end:
        point, leg = legs.pop(point, (end, (None, None, None)))
        if leg[0] is None:
            return None
        value, u = value + leg[0], u + leg[1]
    return value, u, None


def compare(name, base, other, share_of_u):
    wrong, compared, marked = [], 0, 0
    for place, (value, u, reason) in other.figures.items():
        if value is None:
            continue
        was = base.figures.get(place) or joined(base, place)
        if was is None or was[0] is None:
            wrong.append("%s: %s out of nothing" % (place, value))
        elif flagged(other, place):
            marked += 1
        elif abs(value - was[0]) > share_of_u * was[1] + 1e-12:
            wrong.append("%s: %s, was %s, u %s" % (place, value, was[0],
                                                    was[1]))
        else:
            compared += 1
    # What is missing now must lie near the damage, or say that nothing was seen.
    for place, (value, u, reason) in base.figures.items():
        again = other.figures.get(place)
        if value is None or (again and again[0] is not None):
            continue
        unseen = again and again[2] in UNSEEN
        if "path" in place:
            unseen = any(f[0] is None and f[2] in UNSEEN
                         for p, f in other.figures.items()
                         if p[:2] == place[:2] and "demand_arrival" in p)
        if not unseen and not flagged(other, place):
            wrong.append("%s: %s is lost: %s" % (place, value, again))
    lines = [line for line in other.said.splitlines() if "damaged" in line or
             "expected" in line or "spike" in line]
    tap.check("%s: exit %d, %d the same, %d marked" % (
        name, other.exit, compared, marked),
        other.exit == 3 and lines and not wrong,
        "\n".join(wrong) + "\n" + other.said)


def overwritten(data, at, size, byte):
    return data[:at] + bytes([byte]) * size + data[at + size:]


def everywhere(t, old, new, whole, share_of_u, sizes):
    """Single places all over the file, behind its head."""
    for _ in range(places):
        at = dice.randrange(len(whole) // 50 + 400, len(whole) - 200)
        size = dice.choice(sizes)
        byte = dice.choice((0x00, 0xFF, 0x3F))
        compare("%s, %d bytes at %d" % (new, size, at), t.base,
                t.measure(old, new, overwritten(whole, at, size, byte)),
                share_of_u)


def rise_rows(t, rows):
    """The row at which unit 1's output passes 65 kPa in the third application,
    a full one, by looking at the log."""
    head = rows[0].split(",")
    column = [i for i, h in enumerate(head) if h.startswith("output_1")][0]
    treadle = [i for i, h in enumerate(head) if h.startswith("treadle")][0]
    presses, pressed = 0, False
    for i, line in enumerate(rows[1:], 1):
        cells = line.split(",")
        if not pressed and float(cells[treadle]) > 60:
            presses, pressed = presses + 1, True
        if pressed and float(cells[treadle]) < 20:
            pressed = False
        if presses == 3 and float(cells[column]) > 65:
            return i
    raise SystemExit("no rise in the log")


def rows_lost(t):
    """One row at the passage itself: a short gap is a gap too. Its width is two
    intervals of 2 ms, of which the midpoint is given (GUM 4.3.7)."""
    rows = made.read(t.path("P.csv")).decode().splitlines()
    at = rise_rows(t, rows)
    place = ("P", 3, "units", "1", "levels", 0)
    for lost in (1, 2, 10):
        first = at - lost // 2
        bad = rows[:first] + ["?????" for _ in range(lost)] + \
            rows[first + lost:]
        other = t.measure("P.csv", "lost.csv", "\n".join(bad).encode())
        value, u, _ = other.figures[place]
        flags = set(other.flags.get(place, ()))
        width = (lost + 1) * 0.002
        truth = t.base.figures[place][0]
        tap.check("%d rows lost at a passage: %s" % (lost, sorted(flags)),
                  {"in-gap", "near-damage"} <= flags and
                  u >= width / 12 ** 0.5 and
                  abs(value - truth) <= width / 2 + 0.002,
                  "%s u %s, was %s" % (value, u, truth))
        before = ("P", 2, "units", "1", "response")
        tap.check("%d rows lost: the application before is untouched" % lost,
                  other.figures[before] == t.base.figures[before] and
                  not flagged(other, before))


def with_cell(row, column, text):
    cells = row.split(",")
    cells[column] = text
    return ",".join(cells)


def forms(t):
    """Rows and cells whose form or value cannot be, as numbers can hold them:
    each with its own exit code and note. `simulate` writes two decimals."""
    rows = made.read(t.path("P.csv")).decode().splitlines()
    column = [i for i, h in enumerate(rows[0].split(","))
              if h.startswith("output_1")][0]
    kinds = (
        ("cut row", lambda row: "171720", "expected"),
        ("cut cell", lambda row: row.rsplit(",", 1)[0] + ",1", "expected"),
        ("two points", lambda row: with_cell(row, column, "651.650.00"),
         "expected"),
        ("a spike", lambda row: with_cell(row, column, "10202.00"), "spike"),
        ("a dip", lambda row: with_cell(row, column, "-300.00"), "spike"))
    for name, bend, word in kinds:
        for _ in range(places):
            at = dice.randrange(600, len(rows) - 100)
            bad = rows[:at] + [bend(rows[at])] + rows[at + 1:]
            other = t.measure("P.csv", "form.csv",
                              ("\n".join(bad) + "\n").encode())
            compare("%s in row %d" % (name, at), t.base, other, 1 / 3)
            told = made.run(tool, "measure", t.path("changed.ini"))
            tap.check("%s: said" % name, word in told.stderr.decode(),
                      told.stderr.decode())


def twice(t):
    """The log twice in one file, and rows twice: the same figures, exit 0."""
    rows = made.read(t.path("P.csv")).decode().splitlines(True)
    for name, text in (("log", rows + rows),
                       ("rows", [r for i, r in enumerate(rows)
                                 for _ in range(1 + (i % 9 == 4))])):
        other = t.measure("P.csv", "twice.csv", "".join(text).encode())
        tap.check("%s twice: exit %d, the same figures" % (name, other.exit),
                  other.exit == 0 and other.figures == t.base.figures and
                  other.flags == t.base.flags, other.said)
        told = made.run(tool, "measure", t.path("changed.ini"))
        tap.check("%s twice: said" % name,
                  "occurs earlier in the log" in told.stderr.decode(),
                  told.stderr.decode())


with tempfile.TemporaryDirectory() as scratch:
    trial = Trial(os.path.join(scratch, "base"))
    tap.check("the trial is measured", trial.base.exit == 0, trial.base.said)
    everywhere(trial, "P.pcapng", "x.pcapng",
               b"".join(made.pcapng(trial.frames)), 0, (60, 200, 3000))
    everywhere(trial, "P.pcapng", "x.log", b"".join(made.text(trial.frames)),
               0, (30, 200, 3000))
    whole = b"".join(made.pcap(trial.frames, made.LINK_SLL2))
    renamed = trial.text
    for i, bus in enumerate(trial.frames.names):
        trial.text = trial.text.replace("bus = " + bus, "bus = if%d" % i)
    everywhere(trial, "P.pcapng", "x.pcap", whole, 0, (60, 200))
    trial.text = renamed
    everywhere(trial, "P.pcapng", "x.pcapng.gz",
               gzip.compress(b"".join(made.pcapng(trial.frames)), 1, mtime=0),
               0, (40,))
    everywhere(trial, "P.csv", "x.csv", made.read(trial.path("P.csv")), 1 / 3,
               (70, 200, 3000))
    rows_lost(trial)
    forms(trial)
    twice(trial)
sys.exit(tap.end())
