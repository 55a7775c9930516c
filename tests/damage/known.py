# SPDX-License-Identifier: MIT
"""Single files of the damage matrix, each a figure that once was wrong without
a word, or a flag that nothing else asks for.

usage: known.py TOOL"""
import os
import sys
import tempfile

import judge
import matrix
import trials
from trials import made

# seed, number of the file, stream, kind, place, role: what was wrong.
ONCE_WRONG = (
    (26, 10, "log", "noise", "all", "treadle",
     "a press within the command's noise passes for a release 4 s late"),
    (12, 0, "capture", "still", "hold", "",
     "frames of a clock that stands pass for frames stored twice"),
)
# What must flag no figure outside of it: seed, number, stream, kind, place, role.
UNFLAGGED = (
    (40, 0, "log", "shuffled", "release", "",
     "rows written late put the tie in doubt"),
    (44, 9, "log", "stamp-last", "release", "",
     "a stamp that lost digits puts the tie in doubt"),
    (17, 11, "capture", "joined", "between", "",
     "lines left out put the tie in doubt"),
)


def judged(tool, seed, number, combination, folder):
    case = matrix.Case(matrix.parse([tool]), seed, folder)
    case.trial.kept = case.kept = set()
    base, _ = case.measure("base")
    clean = judge.Judge(case.trial, judge.Damage(None, "", ""),
                        case.trial.rows, case.trial.frames, base)
    case.trial.kept |= {(f.app, f.unit, f.name) for f in clean.found
                        if f.outcome == "right"}
    rows, frames, damage = case.damaged(*combination, number)
    case.write("case", rows, frames)
    result, _ = case.measure("case")
    return case.trial, judge.Judge(case.trial, damage, rows, frames, result,
                                   judge.notes(base))


def wrong(verdict):
    return ["application %d unit %s %s: %s" % (f.app, f.unit, f.name, f.told)
            for f in verdict.found if f.outcome == "wrong"] + \
        verdict.apps_wrong


def flagged(trial, verdict):
    """Of the applications that the damage does not touch."""
    touched = {f.app for f in verdict.found if not f.clean}
    return ["application %d unit %s %s: %s" % (f.app, f.unit, f.name, f.told)
            for f in verdict.found if f.app not in touched and f.own and
            (f.app, f.unit, f.name) in trial.kept]


def hidden_press(tool, seed, folder):
    """The capture that holds the command lacks a whole application, the log has
    it: the outputs' peak of the one before is that of the hidden one."""
    case = matrix.Case(matrix.parse([tool, "--tie", "bus-command"]), seed,
                       folder)
    apps = case.trial.applications
    pair = next(((a, b) for a, b in zip(apps, apps[1:])
                 if b.hold > a.hold + 50), None)
    if pair is None:
        return None
    begin, end = pair[1].apply - 0.3, pair[1].release + 0.6
    frames = [f for f in case.trial.frames if not begin <= f.true <= end]
    damage = judge.Damage("gap", "", "capture", place=(begin, end))
    case.write("case", case.trial.rows, frames)
    result, _ = case.measure("case")
    return judge.Judge(case.trial, damage, case.trial.rows, frames, result)


def main(tool):
    tap = made.Tap()
    tool = os.path.abspath(tool)
    for seed, number, *combination, what in ONCE_WRONG:
        with tempfile.TemporaryDirectory() as folder:
            _, verdict = judged(tool, seed, number, combination, folder)
        problems = wrong(verdict)
        tap.check(what, not problems and verdict.found, "\n".join(problems))
    for seed, number, *combination, what in UNFLAGGED:
        with tempfile.TemporaryDirectory() as folder:
            trial, verdict = judged(tool, seed, number, combination, folder)
        problems = wrong(verdict) + flagged(trial, verdict)
        tap.check("not so: " + what, not problems and verdict.found,
                  "\n".join(problems[:5]))
    off = 0
    for seed in range(1, 9):
        with tempfile.TemporaryDirectory() as folder:
            verdict = hidden_press(tool, seed, folder)
        if verdict is None:
            continue
        problems = wrong(verdict)
        off += sum(f.name in ("peak", "control_peak") and
                   f.outcome == "flagged-off" for f in verdict.found)
        tap.check("peaks of a hidden application are flagged, seed %d" % seed,
                  not problems, "\n".join(problems[:5]))
    tap.check("some of them were lent", off > 0, "")
    return tap.end()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
