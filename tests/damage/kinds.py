# SPDX-License-Identifier: MIT
"""Kinds of damage, as recorders, memory sticks and editors make it, from the
smallest size that must be seen.

A kind takes rows (or frames), the place, and gives the rows as they are found
afterwards and the true times between which they are damaged. `cells` kinds
damage one channel only, the others the whole recording."""
import bisect

import measurement


def index(rows, t):
    return min(max(bisect.bisect_left(rows, t, key=lambda r: r.true), 2),
               len(rows) - 3)


class At:
    """Where: rows from i on, their interval; which column."""

    def __init__(self, trial, rows, t, dice, column=None, stream="log"):
        self.trial, self.dice, self.column = trial, dice, column
        self.capture = stream == "capture"
        self.i = index(rows, t)
        # All frames share the bus; three links send every 10 ms.
        self.interval = 0.01 if self.capture else 1.0 / trial.rate
        self.per = 2 if self.capture else 1

    def line(self, row):
        from trials import capture_line
        return (capture_line if self.capture else self.trial.form.line)(row)

    def seconds(self, smallest, most):
        """Some small numbers of intervals, or any time up to `most`."""
        if self.dice.random() < 0.5:
            return self.interval * self.dice.choice(
                (smallest, smallest, smallest + 1, smallest + 3, 10, 25))
        return self.dice.uniform(smallest * self.interval, most)


def between(rows, a, b):
    return (rows[max(a, 0)].true, rows[min(b, len(rows) - 1)].true)


def gap(rows, at):
    width = at.seconds(3, 1.5)
    end = index(rows, rows[at.i - 1].true + width - 0.3 * at.interval)
    end = max(end, at.i + 2 * at.per)
    return rows[:at.i] + rows[end:], between(rows, at.i - 1, end)


def shifted(rows, i, ns):
    return rows[:i] + [r.but(stamp=r.stamp + ns) for r in rows[i:]]


def forward(rows, at):
    ns = int(at.seconds(2, 1.2) * 1e9)
    return shifted(rows, at.i, ns), between(rows, at.i - 1, at.i)


def back(rows, at):
    """Rows behind the step tell again of times that were already there."""
    s = at.seconds(2, 0.8)
    return (shifted(rows, at.i, -int(s * 1e9)),
            (rows[at.i - 1].true - s, rows[at.i].true + s))


def frozen(rows, at):
    n = at.per * max(3, int(at.seconds(3, 0.6) / at.interval))
    end = min(at.i + n, len(rows) - 2)
    stamp = rows[at.i].stamp
    return end, [r.but(stamp=stamp) for r in rows[at.i:end]]


def repeat(rows, at):
    """So many rows with one stamp; then the clock is right again."""
    end, same = frozen(rows, at)
    return rows[:at.i] + same + rows[end:], between(rows, at.i - 1, end)


def still(rows, at):
    """The clock stands, then goes on from where it stood."""
    end, same = frozen(rows, at)
    ns = rows[at.i].stamp - rows[end - 1].stamp
    return (rows[:at.i] + same + shifted(rows[end:], 0, ns),
            between(rows, at.i - 1, end))


def in_text(rows, at, change, most=3):
    """One to three rows written otherwise."""
    n, out = at.dice.randint(1, most), []
    for row in rows[at.i:at.i + n]:
        text = change(at.line(row))
        out += [row.but(raw=text)] if text is not None else []
    return (rows[:at.i] + out + rows[at.i + n:],
            between(rows, at.i - 1, at.i + n))


def stamp_first(rows, at):
    """The stamp loses its first digits."""
    lost, lead = at.dice.randint(1, 5), 1 if at.capture else 0
    return in_text(rows, at, lambda t: t[:lead] + t[lead + lost:])


def stamp_last(rows, at):
    lost = at.dice.randint(1, 4)
    end = ")" if at.capture else at.trial.form.delimiter
    return in_text(rows, at, lambda t: t[:t.index(end) - lost] +
                   t[t.index(end):])


def cut(rows, at):
    return in_text(rows, at, lambda t: t[:at.dice.randint(1, len(t) - 1)])


def joined(rows, at):
    """The end of a row and its line end are lost."""
    first, second = at.line(rows[at.i]), at.line(rows[at.i + 1])
    text = first[:at.dice.randint(1, len(first))] + second
    return (rows[:at.i] + [rows[at.i].but(raw=text)] + rows[at.i + 2:],
            between(rows, at.i - 1, at.i + 2))


def garbage(rows, at):
    size = at.dice.randint(1, 8)
    byte = at.dice.choice("\x01\x7f?")

    def change(text):
        k = at.dice.randint(0, len(text) - 1)
        return text[:k] + byte * size + text[k + size:]
    return in_text(rows, at, change)


def in_cells(rows, at, change, n):
    out = []
    for row in rows[at.i:at.i + n]:
        cells = list(row.cells)
        cells[at.column] = change(cells[at.column])
        out.append(row.but(cells=cells))
    return (rows[:at.i] + out + rows[at.i + n:],
            between(rows, at.i - 1, at.i + n))


def digits_first(rows, at):
    lost = at.dice.randint(1, 2)
    return in_cells(rows, at, lambda c: c[min(lost, len(c) - 1):],
                    at.dice.randint(1, 3))


def digits_last(rows, at):
    lost = at.dice.randint(1, 4)
    return in_cells(rows, at, lambda c: c[:max(len(c) - lost, 1)],
                    at.dice.randint(1, 3))


def spike(rows, at):
    size = at.dice.choice((20, 50, 100, 300, 1000, 10202)) * \
        at.dice.choice((1, 1, -1))
    trial = at.trial

    def change(cell):
        value = float(cell.replace(",", ".")) + size
        return ("%.2f" % value).replace(".", trial.form.decimal)
    return in_cells(rows, at, change, at.dice.randint(1, 3))


def separator(rows, at):
    """A cell with a separator that contradicts the rest."""
    how = at.dice.randint(0, 3)

    def change(cell):
        point = cell.replace(",", ".").split(".")
        return ("%s.%s.00" % (point[0], point[-1]),
                cell.replace(".", "#").replace(",", ".").replace("#", ","),
                cell[:1] + " " + cell[1:],
                point[0] + "," + point[-1].zfill(3) + ".5")[how]
    return in_cells(rows, at, change, at.dice.randint(1, 3))


def empty(rows, at):
    word = at.dice.choice(("", "NaN", "-", "OVER"))
    n = max(1, int(at.seconds(1, 0.3) / at.interval))
    return in_cells(rows, at, lambda c: word, n)


def other_delimiter(rows, at):
    own = at.trial.form.delimiter
    other = ";" if own != ";" else "\t"
    return in_text(rows, at, lambda t: t.replace(own, other))


def twice_rows(rows, at):
    n = at.dice.choice((1, 2, 3, 10, 50, 300))
    block = rows[at.i:at.i + n]
    if at.dice.random() < 0.5:
        block = [r for r in block for _ in (0, 1)]
    else:
        block = block + block
    return (rows[:at.i] + block + rows[at.i + n:],
            between(rows, at.i - 1, at.i + n))


def twice_file(rows, at):
    """Nothing is lost: every figure should stay."""
    return rows + rows, None


def shuffled(rows, at):
    """Two blocks change places, their stamps with them."""
    n = at.dice.choice((1, 2, 3, 8)) * at.per
    a, b, c = at.i, at.i + n, min(at.i + 2 * n, len(rows))
    return rows[:a] + rows[b:c] + rows[a:b] + rows[c:], between(rows, a - 1, c)


def noise(rows, at):
    """On one channel over the whole file, up to 20 % of 800 kPa."""
    sigma = 800.0 * at.dice.choice((0.01, 0.02, 0.05, 0.1, 0.2))
    decimal, out = at.trial.form.decimal, []
    for row in rows:
        cells = list(row.cells)
        value = float(cells[at.column].replace(",", ".")) + \
            at.dice.gauss(0, sigma)
        cells[at.column] = ("%.2f" % value).replace(".", decimal)
        out.append(row.but(cells=cells))
    return out, (rows[0].true, rows[-1].true)


def lost(rows, at):
    """Frames of one identifier are lost, from three intervals on."""
    width, number = at.seconds(3, 0.5), at.dice.choice((0x0C02C820,
                                                        0x0C02C0C8))
    begin = rows[at.i].true
    return ([r for r in rows if r.cells[1] & 0x1FFFFFFF != number or
             not begin <= r.true < begin + width],
            (begin - 0.01, begin + width + 0.01))


def block(rows, at):
    """A packed block of a measurement file is damaged: its rows are lost."""
    n = at.per * at.dice.choice((3, 5, 10, 40, 150))
    lost_rows = [r.but(raw=measurement.LOST) for r in rows[at.i:at.i + n]]
    return (rows[:at.i] + lost_rows + rows[at.i + n:],
            between(rows, at.i - 1, at.i + n))


RECORDING = {"gap": gap, "forward": forward, "back": back, "repeat": repeat,
             "still": still, "twice-rows": twice_rows,
             "twice-file": twice_file, "shuffled": shuffled}
TEXT = {"stamp-first": stamp_first, "stamp-last": stamp_last, "cut": cut,
        "joined": joined, "garbage": garbage}
CELLS = {"digits-first": digits_first, "digits-last": digits_last,
         "spike": spike, "separator": separator, "empty": empty,
         "noise": noise}
LOG = {**RECORDING, **TEXT, **CELLS, "other-delimiter": other_delimiter}
CAPTURE_BINARY = {**RECORDING, "lost": lost}
CAPTURE = {**CAPTURE_BINARY, **TEXT}
# Of measurement files, whose numbers are no text and which nobody puts behind each
# other.
RECORDING_MDF = {k: v for k, v in RECORDING.items() if k != "twice-file"}
LOG_MDF = {**RECORDING_MDF, "spike": spike, "empty": empty, "noise": noise,
           "block": block}
CAPTURE_MDF = {**RECORDING_MDF, "lost": lost, "block": block}
# The recorder's clock is another one behind it: no figure across the tie.
MOVES_CLOCK = ("forward", "back", "still")
EVERYWHERE = ("noise", "twice-file")
PLACES = ("rest", "command", "rise", "hold", "release", "between")


def place(trial, dice, where):
    """A true time in that part of some application of some unit."""
    app = dice.choice(trial.applications)
    unit = app.units[dice.choice(list(app.units))]
    response = unit.get("response", (0, 0, app.apply + 0.05))[2]
    rise = unit.get("apply_75", (0, 0, response + 0.1))[2]
    ended = unit.get("release_end", (0, 0, app.release + 0.3))[2]
    low, high = {
        "rest": (app.apply - 0.9, app.apply - 0.03),
        "command": (app.apply - 0.02, max(response, app.apply + 0.01)),
        "rise": (response - 0.005, rise + 0.01),
        "hold": (rise + 0.05, app.release - 0.02),
        "release": (app.release - 0.01, ended + 0.01),
        "between": (ended + 0.1, ended + 1.0)}[where]
    return dice.uniform(low, max(high, low + 0.01))
