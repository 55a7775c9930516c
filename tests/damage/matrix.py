# SPDX-License-Identifier: MIT
"""The damage matrix: is any figure wrong without a word?

Trials with known truth (trials.py) are damaged in every way of kinds.py, at
every place relative to command, rise, hold and release, in every channel and in
the capture, with and without a tie, and measured; judge.py holds every figure
against the truth. The table is printed by kind and place.

usage: matrix.py TOOL [--seeds FIRST[,COUNT]] [--figures N] [--kind NAME]...
  [--stream log|capture] [--tie NAME] [--jobs N] [--seconds N]
  [--commands N] [--keep FOLDER] [--judge-only] [--mdf]

--figures N ends when so many figures were judged, --seconds N when so much time
has passed; --commands N gives every Nth file to every other command too; --keep
writes what failed into folders with the reason beside; --mdf writes measurement
files instead of text and pcap. For looking: --new (only
figures that are right undamaged), --unkept (figures that a place of damage far
off has cost), --per N (files of each trial), --few (three applications)."""
import argparse
import collections
import json
import multiprocessing
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
import zlib

import judge
import judge_test
import kinds
import measurement
import trials
from trials import made

PER_TRIAL = 12
# Of processor time; of the clock, where other work is done beside it.
SLOW_S, STOP_S = 10.0, 120


def children_s():
    """Processor time of the commands that ended, s."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def combinations(log, capture):
    """Every kind x place x channel, in an order of their own."""
    out = []
    for stream, list_of in (("log", log), ("capture", capture)):
        for kind in list_of:
            places = kinds.PLACES
            if kind in kinds.EVERYWHERE:
                places = ("all",) * (4 if kind == "noise" else 2)
            roles = ("treadle", "control", "output") \
                if kind in kinds.CELLS else ("",)
            out += [(stream, kind, p, r) for p in places for r in roles]
    random.Random(5).shuffle(out)
    return out


ALL = combinations(kinds.LOG, kinds.CAPTURE)
ALL_MDF = combinations(kinds.LOG_MDF, kinds.CAPTURE_MDF)


class Case:
    """One trial in one folder, undamaged and damaged."""

    def __init__(self, options, seed, folder):
        self.options, self.folder, self.seed = options, folder, seed
        if seed % 12 == 11 and not options.tie:
            self.trial = trials.Simulated(seed, options.tool, folder)
        else:
            self.trial = trials.Known(seed, options.tie,
                                      few=3 if options.few else 0)
        self.mdf = options.mdf
        self.trial.pcap = self.trial.pcap and not self.mdf
        self.log = ".mf4" if self.mdf else ".csv"
        self.suffix = "-bus.mf4" if self.mdf else \
            ".pcap" if self.trial.pcap else ".log"
        self.write("base", self.trial.rows, self.trial.frames)

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, rows, frames):
        trial = self.trial
        made.write(self.path(name + self.log),
                   measurement.log_bytes(trial, rows) if self.mdf
                   else trial.log_bytes(rows))
        if trial.frames:
            made.write(self.path(name + self.suffix),
                       measurement.capture_bytes(trial, frames, trials.BUSES)
                       if self.mdf else trial.capture_bytes(frames))
        text = trial.ini(name + self.log, name + self.suffix)
        if trial.pcap or self.mdf:
            called = "can%d" if self.mdf else "if%d"
            for k, bus in enumerate(trials.BUSES):
                text = text.replace("bus = " + bus + "\n",
                                    "bus = " + called % k + "\n")
                text = text.replace("@32/" + bus, "@32/" + called % k)
        made.write(self.path(name + ".ini"), text.encode())
        return text

    def measure(self, name):
        begin = children_s()
        try:
            done = made.run(self.options.tool, "measure",
                            self.path(name + ".ini"), "--json", "--quiet",
                            timeout=STOP_S)
        except subprocess.TimeoutExpired:
            return None, "measure: no end within %d s" % STOP_S
        took = children_s() - begin
        if done.returncode not in (0, 1, 3, 4) or took > SLOW_S:
            return None, "measure: exit %d after %.1f s: %s" % (
                done.returncode, took, done.stderr[-800:])
        return json.loads(done.stdout), done.returncode

    def damaged(self, stream, kind, where, role, number):
        """Rows, frames and what was done to them."""
        trial = self.trial
        dice = random.Random(zlib.crc32(("%d %d %s %s %s %s" % (
            self.seed, number, stream, kind, where, role)).encode()))
        rows, frames, column = trial.rows, trial.frames, None
        if role:
            names = [c for c in trial.columns if c.startswith(role)]
            column = dice.choice(names)
        t = kinds.place(trial, dice, where if where != "all" else "hold")
        at = kinds.At(trial, rows if stream == "log" else frames, t, dice,
                      trial.columns.index(column) if column else None, stream)
        if stream == "log":
            rows, place = {**kinds.LOG, **kinds.LOG_MDF}[kind](rows, at)
        else:
            frames, place = {**kinds.CAPTURE, **kinds.CAPTURE_MDF}[kind](
                frames, at)
        return rows, frames, judge.Damage(
            kind, where, stream, column, place, kind in kinds.MOVES_CLOCK,
            kind == "noise")

    def fits(self, combination):
        stream, kind, _, role = combination
        options, trial = self.options, self.trial
        if options.kind and kind not in options.kind or \
                options.stream and stream != options.stream:
            return False
        if stream == "capture":
            return bool(trial.frames) and (
                not trial.pcap or kind in kinds.CAPTURE_BINARY)
        return not role or any(c.startswith(role) for c in trial.columns)


def other_commands(case, text):
    """Each of the other commands ends, in time, with a code of the list."""
    wrong = []
    pair = text + "\n[run Q]\ncondition = other\npower = on\n" + \
        case.trial.recordings("base" + case.log, "base" + case.suffix)
    made.write(case.path("pair.ini"), pair.encode())
    survey = ["survey", case.path("case" + case.log)]
    if case.trial.frames:
        survey.append(case.path("case" + case.suffix))
    ini = case.path("case.ini")
    for words in (["check", ini], ["reach", ini], ["causes", ini],
                  ["predict", ini], ["characteristic", ini],
                  ["report", ini, "-o", case.path("page.html")],
                  ["compare", case.path("pair.ini"), "--base", "powered",
                   "--against", "other"], survey):
        begin = children_s()
        try:
            done = made.run(case.options.tool, *words, "--quiet",
                            timeout=STOP_S)
        except subprocess.TimeoutExpired:
            wrong.append("%s: no end within %d s" % (words[0], STOP_S))
            continue
        took = children_s() - begin
        if took > SLOW_S:
            wrong.append("%s: %.1f s" % (words[0], took))
        if done.returncode not in (0, 1, 3, 4):
            wrong.append("%s: exit %d: %s" % (
                words[0], done.returncode,
                done.stderr.decode("utf-8", "replace")[-500:]))
    return wrong


def one_file(case, combination, number, base_notes):
    """Damage, measure, judge; counts and what failed."""
    rows, frames, damage = case.damaged(*combination, number)
    text = case.write("case", rows, frames)
    result, code = case.measure("case")
    key = combination[:3] + (case.trial.tie,)
    counts, failures = collections.Counter(), []
    counts[key + ("files",)] = 1
    if result is None:
        failures.append(("command", code))
    else:
        verdict = judge.Judge(case.trial, damage, rows, frames, result,
                              base_notes)
        if case.options.new:
            verdict.found = [f for f in verdict.found if (
                f.app, f.unit, f.name) in case.kept]
        failures += [("application", line) for line in verdict.apps_wrong]
        count(counts, key, verdict)
        failures += [("figure", "application %d unit %s %s: %s" % (
            f.app, f.unit, f.name, f.told)) for f in verdict.found
            if f.outcome == "wrong"]
        if case.options.unkept:
            failures += [("unkept", "application %d unit %s %s: %s %s" % (
                f.app, f.unit, f.name, f.outcome, f.told))
                for f in verdict.found if f.clean and
                (f.own or f.outcome not in ("right", "flagged")) and
                (f.app, f.unit, f.name) in case.kept]
    counts[key + ("lost",)] = sum(f[0] == "application" for f in failures)
    every = case.options.commands
    if every and number % every == case.seed % every:
        failures += [("command", w) for w in other_commands(case, text)]
        counts[key + ("commands",)] = 8
    if failures and case.options.keep:
        keep(case, combination, number, damage, failures)
    return counts, failures


def count(counts, key, verdict):
    for f in verdict.found:
        counts[key + ("judged",)] += 1
        counts[key + (f.outcome,)] += 1
        if (f.app, f.unit, f.name) in verdict.trial.kept and f.clean:
            counts[key + ("clean",)] += 1
            counts[key + ("kept",)] += not f.own and \
                f.outcome in ("right", "flagged")


def keep(case, combination, number, damage, failures):
    name = "-".join(w for w in combination if w) + "-%d-%d" % (case.seed,
                                                               number)
    folder = os.path.join(case.options.keep, name)
    os.makedirs(folder, exist_ok=True)
    for file in os.listdir(case.folder):
        if file.startswith(("case.", "base.", "pair.")):
            made.write(os.path.join(folder, file), made.read(case.path(file)))
    lines = ["%s: %s" % f for f in failures]
    lines.append("tie %s, rate %d, column %s, damaged at %s" % (
        case.trial.tie, case.trial.rate, damage.column, damage.place))
    for a in case.trial.applications:
        lines.append("application %d: %s, apply %.4f release %.4f hold %.1f" %
                     (a.number, a.shape, a.apply, a.release, a.hold))
    made.write(os.path.join(folder, "why.txt"),
               ("\n".join(lines) + "\n").encode())


def one_seed(work):
    """All files of one trial. What goes wrong in it is a failure of that seed: a
    worker that ends leaves the pool waiting for ever."""
    try:
        return whole_seed(*work)
    except (Exception, SystemExit) as error:
        return collections.Counter(), [("undamaged", work[1], (
            "command", "%s: %s" % (type(error).__name__, error)))]


def whole_seed(options, seed):
    counts, failures = collections.Counter(), []
    with tempfile.TemporaryDirectory() as folder:
        case = Case(options, seed, folder)
        trial = case.trial
        trial.kept = case.kept = set()
        base, code = case.measure("base")
        if base is None:
            return counts, [("undamaged", seed, ("command", code))]
        verdict = judge.Judge(trial, judge.Damage(None, "", ""), trial.rows,
                              trial.frames, base)
        # What the undamaged recording gives right and without a flag.
        trial.kept |= {(f.app, f.unit, f.name) for f in verdict.found
                       if f.outcome == "right"}
        key = ("none", "undamaged", "", trial.tie)
        count(counts, key, verdict)
        counts[key + ("files",)] = 1
        counts[key + ("lost",)] = len(verdict.apps_wrong)
        told = [("application", w) for w in verdict.apps_wrong]
        told += [("figure", "application %d unit %s %s: %s" % (
            f.app, f.unit, f.name, f.told)) for f in verdict.found
            if f.outcome == "wrong"]
        failures += [("undamaged", seed, t) for t in told]
        base_notes = judge.notes(base)
        fitting = [c for c in (ALL_MDF if case.mdf else ALL)
                   if case.fits(c)]
        begin = seed * options.per % max(len(fitting), 1)
        chosen = (fitting + fitting)[begin:begin + min(options.per,
                                                       len(fitting))]
        for number, combination in enumerate(chosen):
            more, wrong = one_file(case, combination, number, base_notes)
            counts.update(more)
            failures += [(" ".join(combination), seed, w) for w in wrong]
    return counts, failures


def table(counts):
    """By stream and kind, and place."""
    rows = collections.defaultdict(collections.Counter)
    for (stream, kind, where, tie, what), n in counts.items():
        rows[(stream, kind, where)][what] += n
        rows[(stream, kind, "")][what] += 0 if where == "" else n
    print("# %-7s %-15s %-8s %6s %8s %6s %8s %6s %8s %8s %6s" % (
        "stream", "kind", "place", "files", "judged", "wrong", "flagged",
        "null", "clean", "kept %", "lost"))
    for (stream, kind, where), c in sorted(rows.items()):
        print("# %-7s %-15s %-8s %6d %8d %6d %8d %6d %8d %8s %6d" % (
            stream, kind, where, c["files"], c["judged"], c["wrong"],
            c["flagged"] + c["flagged-off"], c["null"], c["clean"],
            "%.1f" % (100.0 * c["kept"] / c["clean"]) if c["clean"] else "-",
            c["lost"]))


def totals(counts, damaged):
    out = collections.Counter()
    for key, n in counts.items():
        if (key[0] != "none") == damaged:
            out[key[4]] += n
    return out


def parse(words):
    p = argparse.ArgumentParser(add_help=False)
    p.add_argument("tool", type=os.path.abspath)
    p.add_argument("--seeds", default="1,100000")
    p.add_argument("--figures", type=int, default=0)
    p.add_argument("--seconds", type=float, default=0)
    p.add_argument("--kind", action="append")
    p.add_argument("--stream")
    p.add_argument("--tie")
    p.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1))
    p.add_argument("--per", type=int, default=PER_TRIAL)
    p.add_argument("--commands", type=int, default=0)
    p.add_argument("--few", action="store_true")
    p.add_argument("--unkept", action="store_true")
    p.add_argument("--new", action="store_true")
    p.add_argument("--keep")
    p.add_argument("--judge-only", action="store_true")
    p.add_argument("--mdf", action="store_true")
    options = p.parse_args(words)
    first, _, many = options.seeds.partition(",")
    options.first, options.many = int(first), int(many or 1)
    return options


def collect(options):
    counts, failures, begin = collections.Counter(), [], time.monotonic()
    work = ((options, s) for s in range(options.first,
                                        options.first + options.many))
    seeds = 0
    with multiprocessing.Pool(options.jobs, os.nice, (5,)) as pool:
        for more, wrong in pool.imap(one_seed, work):
            counts.update(more)
            failures += wrong
            seeds += 1
            if options.figures and \
                    totals(counts, True)["judged"] >= options.figures or \
                    options.seconds and \
                    time.monotonic() - begin > options.seconds:
                pool.terminate()
                break
    print("# seeds %d to %d, %.0f s" % (options.first,
                                       options.first + seeds - 1,
                                       time.monotonic() - begin))
    return counts, failures


def main(words):
    options = parse(words)
    tap = made.Tap()
    judge_test.run(tap)
    if options.judge_only:
        return tap.end()
    counts, failures = collect(options)
    table(counts)
    shown = collections.Counter()
    for place, seed, (what, line) in failures:
        shown[place.split()[0] + what] += 1
        if shown[place.split()[0] + what] <= 400:
            print("# %s, seed %s: %s: %s" % (place, seed, what, line))
    for damaged in (True, False):
        verdict(tap, counts, damaged, failures)
    if options.figures:
        n = totals(counts, True)["judged"]
        tap.check("%d figures judged, wanted are %d" % (n, options.figures),
                  n >= options.figures)
    return tap.end()


def verdict(tap, counts, damaged, failures):
    name = "damaged" if damaged else "undamaged"
    c = totals(counts, damaged)
    failures = [f for f in failures if damaged == (f[0] != "undamaged")]
    wrong, lost, slow = (sum(f[2][0] == what for f in failures)
                         for what in ("figure", "application", "command"))
    tap.check("%s: %d of %d figures wrong without a word, at most 1 in 10,000"
              % (name, wrong, c["judged"]), wrong * 10000 <= c["judged"])
    tap.check("%s: %d applications lost or added without a note" % (
        name, lost), lost == 0)
    tap.check("%s: %d calls of commands end within 10 s" % (
        name, c["commands"] + c["files"]), slow == 0)
    if damaged:
        tap.check("of %d figures whose stretch holds no damage %d stay right "
                  "and unflagged, at least 95 %%" % (c["clean"], c["kept"]),
                  c["kept"] >= 0.95 * c["clean"])
    else:
        given = c["judged"] - c["null"]
        tap.check("undamaged: %d of %d figures given right and unflagged, at "
                  "least 98 %%" % (c["right"], given),
                  c["right"] >= 0.98 * given)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
