# SPDX-License-Identifier: MIT
"""Frames and channels in one measurement file are one clock.

A simulated trial is measured from a pcapng and a CSV on one clock (`clock =
shared`), then from one MDF 4 file with the same frames and samples, whose trial
file says nothing of clocks: every figure and its uncertainty must be the same.
Then the treadle is written at half the rate in a group of its own, against a
file of its own. `survey --write-trial` must draft a run of this
file with both. Files are written by tests/data/mdf/writer.py.

usage: one_file.py TOOL FOLDER-OF-WRITER"""
import json
import os
import struct
import sys
import tempfile

import made

sys.path.insert(0, os.path.join(sys.argv[2], "mdf"))
from writer import Channel, File, FIXED, FLOAT, Group, UNSIGNED, master  # noqa

tool = os.path.abspath(sys.argv[1])
tap = made.Tap()
BASE_S = 1717200000


def clocks_alike(text):
    """Stamps in one clock: as they are, the offset of the scenario is 0."""
    begin = text.index("clock = ")
    return text[:begin] + "clock = shared\n"


def rows_of(path):
    lines = made.read(path).decode().splitlines()
    rows = [line.split(",") for line in lines[1:]]
    names = [name.split(" [")[0] for name in lines[0].split(",")]
    return lines[0], names, rows


def log(path, head, rows):
    made.write(path, ("\n".join([head] + [",".join(r) for r in rows]) +
                      "\n").encode())


def ms_of(text):
    seconds, fraction = text.split(".")
    return (int(seconds) - BASE_S) * 1000 + int(fraction.ljust(3, "0"))


def channel_group(f, name, names, columns, rows):
    """Stamps as whole milliseconds, values as doubles."""
    clock = master(type=UNSIGNED, bits=32, conversion=(1, [0, 0.001]))
    channels = [clock] + [
        Channel(names[c], FIXED, FLOAT, 4 + 8 * k, 64,
                unit="" if "switch" in names[c] else "kPa")
        for k, c in enumerate(columns)]
    data = b"".join(
        struct.pack("<I%dd" % len(columns), ms_of(r[0]),
                    *[float(r[c]) for c in columns]) for r in rows)
    f.set([Group(name, channels, 4 + 8 * len(columns), rows)],
          f.packed(data, turned=4 + 8 * len(columns)))


def frame_group(f, frames):
    clock = master(type=UNSIGNED, conversion=(1, [0, 1e-9]))
    at = [("BusChannel", 8, 8), ("ID", 9, 29), ("IDE", 12, 1),
          ("DataLength", 13, 8)]
    channels = [clock] + [
        Channel("CAN_DataFrame." + name, byte=byte, bits=bits,
                shift=7 if name == "IDE" else 0) for name, byte, bits in at]
    channels.append(Channel("CAN_DataFrame.DataBytes", type=10, byte=14,
                            bits=64))
    data = b"".join(
        struct.pack("<QBIB", x[0] - BASE_S * 10**9,
                    frames.names.index(x[1]), x[2], len(x[3])) +
        x[3].ljust(8, b"\0") for x in frames)
    f.set([Group("CAN", channels, 22, frames, flags=6)], f.plain(data))


def figures_alike(name, base, other, u_alike=True):
    """`u_alike` false: it may be smaller, for one recorder's stamps instead of
    those of two."""
    wrong = []
    if base.exit != 0 or other.exit != base.exit:
        wrong.append("exit %d and %d: %s" % (base.exit, other.exit, other.said))
    elif set(base.figures) != set(other.figures):
        wrong.append("other figures")
    else:
        for place, figure in base.figures.items():
            again = other.figures[place]
            alike = figure[2] == again[2] and all(
                (a is None) == (b is None) and
                (a is None or abs(a - b) <= 1e-9 or
                 (u and not u_alike and 0.5 * a < b < a))
                for u, a, b in zip((False, True), figure[:2], again[:2]))
            if not alike:
                wrong.append("%s: %s, %s" % (place, figure, again))
    tap.check(name + " (%d figures)" % len(base.figures),
              not wrong and len(base.figures) > 50, "\n".join(wrong[:20]))


CHANNEL = """[trial]
name = one channel
[unit 0]
name = a
command = %s
command_kind = treadle-pressure
command_at = 20 kPa
output = %s
[channel %s]
quantity = pressure
measured_in = kPa
[channel %s]
quantity = pressure
measured_in = kPa
[run P]
logs = %s
"""


def survey_alike(real, rows):
    """`survey` counts the record that the export lacks. Its value lies within
    the range of the others or is the range's end, so that either is held."""
    (file,) = json.loads(made.run(tool, "survey", "--json", real).stdout)["files"]
    wrong = []
    if file["rows"] != len(rows) + 1 or abs(
            file["last_s"] - float(rows[-1][0])) > 5e-7:
        wrong.append("%d rows to %g s" % (file["rows"], file["last_s"]))
    first = rows[0]
    for k, column in enumerate(file["columns"]):
        values = [float(r[k + 1]) for r in rows]
        # Within a tenth of a second a temperature moves by less than this.
        near = 0.05 + abs(float(first[k + 1]) - values[1])
        for word, value in (("smallest", min(values)), ("largest", max(values))):
            off = abs(column[word] - value)
            if off > 5e-7 and not (abs(value - values[0]) < near and off < near):
                wrong.append("%s %s %g, the export %g" %
                             (column["name"], word, column[word], value))
    tap.check("survey of a real file has the numbers of its export",
              not wrong and len(file["columns"]) == 7, wrong)


def a_real_file():
    """mdf4/export.csv is the file as text, but for its first record, to six
    decimals; its temperatures are taken for pressures here."""
    data = os.path.join(os.environ.get("BL_SHARED_DATA", "/nonexistent"), "mdf4")
    real = os.path.join(data, "KonvektionKalt1-20140123-143636.mf4")
    if not os.path.exists(real):
        tap.skip("a real file measures as its export",
                 "no real recording: mdf4/KonvektionKalt1-20140123-143636.mf4")
        return
    with tempfile.TemporaryDirectory() as folder:
        results = []
        with open(os.path.join(data, "export.csv"), encoding="utf-8") as file:
            rows = [r for r in map(str.split, file.readlines()[1:]) if r]
        log(os.path.join(folder, "export.csv"),
            "time [s]," + ",".join("c%d [kPa]" % c for c in range(7)), rows)
        for names, path in ((("TempLuft1", "TempLuft2"), real),
                            (("c4", "c5"), "export.csv")):
            trial = os.path.join(folder, "trial.ini")
            made.write(trial, (CHANNEL % (*names, *names, path)).encode())
            results.append(made.measure(tool, trial))
        ours, theirs = (r.figures for r in results)
        wrong = [p for p in ours if p not in theirs or
                 (ours[p][0] is None) != (theirs[p][0] is None) or
                 (ours[p][0] is not None and
                  abs(ours[p][0] - theirs[p][0]) > 5e-7)]
        numbers = sum(v[0] is not None for v in ours.values())
        survey_alike(real, rows)
        tap.check("a real file measures as its export (%d numbers)" % numbers,
                  not wrong and numbers >= 7 and set(ours) == set(theirs), wrong)


def parts_of_other_order(path, text, head, rows):
    """The second of two files has its columns in another order."""
    order = [0] + list(range(len(rows[0]) - 1, 0, -1))
    names, half, results = head.split(","), len(rows) // 2, []
    log(path("A.csv"), head, rows[:half])
    for columns in (range(len(names)), order):
        log(path("B.csv"), ",".join(names[c] for c in columns),
            [[r[c] for c in columns] for r in rows[half:]])
        made.write(path("parts.ini"),
                   text.replace("logs = P.csv\n", "").encode(),
                   b"[recording log]\nrun = P\nkind = log\n"
                   b"file = A.csv, B.csv\nclock = shared\n")
        results.append(made.measure(tool, path("parts.ini")))
    figures_alike("a second file with its columns in another order", *results)


def main():
    with tempfile.TemporaryDirectory() as folder:
        def path(name):
            return os.path.join(folder, name)
        made.make(tool, folder, 200)
        head, names, rows = rows_of(path("P.csv"))
        for r in rows:  # the log's clock is 1.25 s ahead of the bus
            r[0] = "%d.%03d" % divmod(BASE_S * 1000 + ms_of(r[0]) - 1250, 1000)
        frames = made.Frames(path("P.pcapng"))
        log(path("P.csv"), head, rows)
        text = clocks_alike(made.read(path("trial.ini")).decode())
        made.write(path("apart.ini"), text.encode())
        base = made.measure(tool, path("apart.ini"))
        parts_of_other_order(path, text, head, rows)
        one = text.replace("clock = shared\n", "")
        for k, name in enumerate(frames.names):
            one = one.replace("bus = %s\n" % name, "bus = can%d\n" % k)
        one = one.replace("P.pcapng", "P.mf4").replace("P.csv", "P.mf4")
        made.write(path("one.ini"), one.encode())

        f = File(BASE_S * 10**9)
        channel_group(f, "Chassis", names, range(1, len(names)), rows)
        frame_group(f, frames)
        f.save(path("P.mf4"))
        other = made.measure(tool, path("one.ini"))
        figures_alike("one file as two on one clock", base, other)
        ties = [r["clock"] for r in other.json["recordings"]]
        tap.check("the tie is the file", sorted(t["method"] for t in ties) ==
                  ["own", "same-file"] and
                  all(t["offset_s"] == 0 and t["claim"] == "absolute"
                      for t in ties), str(ties))

        # Named in two ways it is one file, whose clock needs no offset.
        begin = one.index("captures = P.mf4")
        end = one.index("logs = P.mf4") + len("logs = P.mf4")
        two = one[:begin] + "captures = P.mf4" + one[end:] + (
            "[recording l]\nrun = P\nkind = log\nfile = ./P.mf4\n"
            "clock = offset 5 s +- 1 ms\n")
        made.write(path("two.ini"), two.encode())
        again = made.measure(tool, path("two.ini"))
        figures_alike("one file named in two ways", other, again)
        tap.check("an offset between the two is not used, and said so",
                  "clock-same-file" in str(again.json), str(again.json)[:2000])

        # The same channels in two groups, one at half the rate.
        slow = names.index("treadle")
        others = [c for c in range(1, len(names)) if c != slow]
        for name, columns, some in (("fast", others, rows),
                                    ("slow", [slow], rows[::2])):
            f = File(BASE_S * 10**9)
            channel_group(f, name, names, columns, some)
            f.save(path(name + ".mf4"))
        made.write(path("apart.ini"), text.replace(
            "P.csv", "fast.mf4").encode(),
                   b"[recording slow]\nrun = P\nkind = log\nfile = slow.mf4\n"
                   b"clock = shared\n")
        base = made.measure(tool, path("apart.ini"))
        f = File(BASE_S * 10**9)
        frame_group(f, frames)
        channel_group(f, "Chassis", names, others, rows)
        channel_group(f, "Cab", names, [slow], rows[::2])
        f.save(path("P.mf4"))
        other = made.measure(tool, path("one.ini"))
        figures_alike("a slower group as a file of its own", base,
                      other, u_alike=False)

        done = made.run(tool, "survey", "P.mf4", "--write-trial",
                        "-o", "draft.ini", cwd=folder)
        draft = made.read(path("draft.ini")).decode()
        tap.check("the draft has one run of both",
                  done.returncode == 0 and draft.count("\n[run ") == 1 and
                  "captures = P.mf4" in draft and "logs = P.mf4" in draft and
                  "clock = auto" not in draft, draft)
    a_real_file()
    return tap.end()


sys.exit(main())
