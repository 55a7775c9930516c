# SPDX-License-Identifier: MIT
"""Damage in time. The demo's run P1, whose truth simulate wrote, with stamps that
jump, stand still or step back, rows that are missing, and stray stamps: no figure
may lie off its truth by more than 4 u and 2 ms without near-damage or in-gap on
it, the undamaged run has no flag, applications are matched by their time, and
where one is missing or two are one, a note or a flag says so. survey, check and
causes say where.

usage: time_places.py TOOL DEMO"""
import gzip
import json
import os
import shutil
import sys
import tempfile

import made

tool = os.path.abspath(sys.argv[1])
demo = os.path.abspath(sys.argv[2])
tap = made.Tap()


def check(name, problems):
    tap.check(name, not problems, "\n".join(problems))


FIGURES = ("demand_arrival", "rise_start", "response", "apply_10", "apply_75",
           "apply_90", "release_start", "release_10", "release_end", "stagger")
DAMAGED = {"near-damage", "in-gap"}


class Demo:
    def __init__(self, folder):
        self.folder = folder
        for name in os.listdir(demo):
            if name.startswith("P1") or name in ("trial.ini", "truth.json"):
                shutil.copy(os.path.join(demo, name), folder)
        with gzip.open(os.path.join(demo, "P1.csv.gz"), "rt") as f:
            self.head, *rows = f.read().split("\n")
        cells = [row.split(",", 1) for row in rows if row]
        # Whole milliseconds, as the file has them.
        self.ms = [int(time.replace(".", "")) for time, _ in cells]
        self.rest = [rest for _, rest in cells]
        with open(os.path.join(folder, "truth.json")) as f:
            runs = json.load(f)["runs"]
        self.truth = [run for run in runs if run["name"] == "P1"][0]

    def at(self, application, event, more=0):
        return self.ms[0] + more + int(
            1e3 * self.truth["applications"][application][event + "_s"])

    def write(self, ms, rest):
        with gzip.open(os.path.join(self.folder, "P1.csv.gz"), "wt",
                       compresslevel=1) as f:
            f.write(self.head + "\n")
            for t, cells in zip(ms, rest):
                f.write("%d.%03d,%s\n" % (t // 1000, t % 1000, cells))

    def run(self, *words):
        return made.run(tool, words[0], os.path.join(self.folder, words[1]),
                        *words[2:])

    def measure(self, ms, rest=None):
        self.write(ms, rest or self.rest)
        done = self.run("measure", "trial.ini", "--run", "P1", "--json")
        return done.returncode, json.loads(done.stdout)


def silently_wrong(found, truth):
    """Figures off by more than 4 u and 2 ms with no flag on them, and how many
    figures are flagged; the application's number is not relied on."""
    wrong, flagged = [], 0
    for a in found:
        if a["command"]["apply_s"] is None:
            continue
        nearest = min(truth["applications"], key=lambda t: abs(
            t["apply_s"] - a["command"]["apply_s"]))
        for unit, true in zip(a["units"], nearest["units"]):
            for name in FIGURES:
                figure = unit.get(name)
                if (figure is None or figure["s"] is None or
                        true.get(name) is None):
                    continue
                off = abs(figure["s"] - true[name])
                is_flagged = bool(DAMAGED & set(figure.get("flags") or ()))
                flagged += is_flagged
                of_all = set(a.get("flags") or ()) | set(unit.get("flags") or ())
                if (off > 4 * figure["u_s"] and off > .002 and not is_flagged
                        and not (DAMAGED & of_all and name.startswith("rel"))):
                    wrong.append("application %s unit %s %s %.4f, true %.4f, "
                                 "u %.4f" % (a["number"], unit["unit"], name,
                                             figure["s"], true[name],
                                             figure["u_s"]))
    return wrong, flagged


def applications(result):
    return [a for run in result["runs"] for a in run["applications"]]


def damages(d):
    """Name, stamps, rows; the kinds of damage and the places of the issue."""
    rise, fall = d.at(0, "apply", 60), d.at(0, "release", 10)

    def moved(at, by):
        return [t if t < at else t + by for t in d.ms], d.rest

    def without(at, until):
        kept = [i for i, t in enumerate(d.ms) if not at <= t < until]
        return [d.ms[i] for i in kept], [d.rest[i] for i in kept]

    def still(at, until, on):
        return [t if t < at else at if t < until else t - on * (until - at)
                for t in d.ms], d.rest

    for by in (500, 300, 20, 4, -4, -20, -100, -180):
        for place, at in (("rise", rise), ("release", fall),
                          ("command", d.at(0, "apply", 2)),
                          ("hold", d.at(0, "apply", 1200))):
            yield "%+d ms in the %s" % (by, place), moved(at, by)
    for width in (6, 50, 500):
        for on in (0, 1):
            yield ("still for %d ms in the rise, %d" % (width, on),
                   still(rise, rise + width, on))
            yield ("still for %d ms in the release, %d" % (width, on),
                   still(fall, fall + width, on))
        yield "%d ms missing in the rise" % width, without(rise, rise + width)
        yield "%d ms missing in the release" % width, without(fall, fall + width)
    yield "-5 s after the release", moved(fall, -5000)
    for by in (3600000, -3600000, 700, -700, 60, -60):
        ms = list(d.ms)
        ms[[i for i, t in enumerate(ms) if t >= rise][0]] += by
        yield "one stamp off by %d ms in the rise" % by, (ms, d.rest)


def check_figures(d):
    code, clean = d.measure(d.ms)
    wrong, flagged = silently_wrong(applications(clean), d.truth)
    check("undamaged: exit 0, nothing wrong, nothing flagged",
              [] if (code, wrong, flagged) == (0, [], 0) else
              ["exit %d, %d flagged" % (code, flagged)] + wrong)
    for name, (ms, rest) in damages(d):
        code, result = d.measure(ms, rest)
        wrong, flagged = silently_wrong(applications(result), d.truth)
        found = [r["time_places"] for r in result["recordings"]
                 if r["kind"] == "log"][0]
        problems = wrong[:3]
        if not found:
            problems.append("no place is listed")
        if code != (3 if name.startswith("one") else 0):
            problems.append("exit %d" % code)
        check(name, problems)


def check_the_issue(d):
    """+0.5 s from just after the first release: release_10 of unit 0 was 0.6696
    with u 0.0005 where 0.1696 is true."""
    at = d.at(0, "release", 10)
    _, result = d.measure([t if t < at else t + 500 for t in d.ms])
    first = applications(result)[0]["units"][0]["release_10"]
    true = d.truth["applications"][0]["units"][0]["release_10"]
    check("release_10 across +0.5 s", [] if
              "near-damage" in first["flags"] and
              abs(first["s"] - true) < 2 * first["u_s"] else [str(first)])
    when = "%.1f" % ((at - d.ms[0]) // 100 / 10)
    said = d.run("survey", "P1.csv.gz").stdout.decode()
    check("survey lists it with its time",
              [] if "at " + when in said and "502 ms" in said else [said[:600]])
    done = d.run("check", "trial.ini", "--run", "P1")
    said = done.stdout.decode()
    check("check is not ready, with its time", [] if
              done.returncode == 4 and "NOT READY" in said and
              when in said.split("Good")[0] else [said[:900]])
    said = d.run("causes", "trial.ini", "--run", "P1").stdout.decode()
    check("causes says recording-gap",
              [] if "recording-gap" in said else [said[:900]])


def check_applications(d):
    def without(at, until):
        kept = [i for i, t in enumerate(d.ms) if not at <= t < until]
        return [d.ms[i] for i in kept], [d.rest[i] for i in kept]

    for name, rows in (
            ("from a release to the next application",
             without(d.at(0, "release", -20), d.at(1, "apply", 500))),
            ("a whole application",
             without(d.at(1, "apply", -200), d.at(1, "release", 3000)))):
        d.write(*rows)
        done = d.run("measure", "trial.ini", "--run", "P1", "--json")
        result = json.loads(done.stdout)
        notes = [note for run in result["runs"]
                 for note in run["warnings"]["measuring"]]
        wrong, _ = silently_wrong(applications(result), d.truth)
        problems = wrong[:3]
        if "command-unseen" not in [note["code"] for note in notes]:
            problems.append("no note says that one may be missing")
        if len(applications(result)) != len(d.truth["applications"]) - 1:
            problems.append("the damage did not hide one")
        check("rows missing: %s" % name, problems)


with tempfile.TemporaryDirectory() as where:
    the_demo = Demo(where)
    check_figures(the_demo)
    check_the_issue(the_demo)
    check_applications(the_demo)
sys.exit(tap.end())
