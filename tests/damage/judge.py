# SPDX-License-Identifier: MIT
"""Holds a result against what is true of a trial.

A figure is *wrong* when it lies off the truth by more than 4 u and 2 ms (a
pressure: 2 kPa) and neither it, its unit nor its application carries a flag
made for damage, whatever the exit code. A figure's *stretch* runs from the rest
before the command, a second, to its passage; where it holds no damage the
figure must stay right and must not be flagged itself (`kept`)."""
import bisect

# What says that a figure may be off because of the recording.
FLAGS = {"in-gap", "near-damage"}
APPLY = ("rise_start", "response", "apply_10", "apply_75", "apply_90",
         "level")
RELEASE = ("release_start", "release_10", "release_end")
SHARES = ("apply_10", "apply_75", "apply_90", "release_start",
          "release_10")
MOST_S, MOST_KPA, REST_S = 0.002, 2.0, 1.0


class Damage:
    """What was done: where, to which stream, to which column (None: all)."""

    def __init__(self, kind, where, stream, column=None, place=None,
                 moves_clock=False, everywhere=False):
        self.kind, self.where, self.stream = kind, where, stream
        self.column, self.place = column, place
        self.moves_clock, self.everywhere = moves_clock, everywhere

    def touches(self, trial, begin, end, columns, frames, log):
        """Whether a stretch of these columns holds some of it. With a clock
        that moved, nothing across the tie is as it was."""
        if self.kind is None or (self.place is None and not self.everywhere):
            return False
        uses = frames if self.stream == "capture" else log
        if self.column is not None:
            uses = self.column in columns
        if not uses:
            return False
        if self.moves_clock and frames and log:
            return trial.tie == "auto" or end >= self.place[0]
        return self.everywhere or (begin <= self.place[1] and
                                   end >= self.place[0])


class Found:
    """One figure of a result against its truth."""
    __slots__ = ("app", "unit", "name", "outcome", "clean", "own", "told")

    def __init__(self, app, unit, name, outcome, clean, own, told):
        self.app, self.unit, self.name = app, unit, name
        self.outcome, self.clean, self.own = outcome, clean, own
        self.told = told


def true_times(rows, stamp):
    """Stretches of true time whose stamps lie about this one."""
    out = []
    for a, b in zip(rows, rows[1:]):
        if a.stamp <= stamp <= b.stamp or b.stamp <= stamp <= a.stamp:
            low, high = min(a.true, b.true), max(a.true, b.true)
            out.append((low, high))
    return out


def placed(rows):
    """The rows with the stamps that a result counts by: what follows a jump back
    of more than 200 ms that is not undone within 16 rows is placed one second
    behind what was before (docs/methods/time.md, note `part-moved`)."""
    out, shift, newest = [], 0, None
    for i, row in enumerate(rows):
        if newest is not None and row.stamp < newest - 200000000:
            later = rows[i:i + 17]
            if all(r.stamp < newest - 200000000 for r in later):
                shift = newest + shift + 1000000000 - row.stamp
                newest = row.stamp
        newest = row.stamp if newest is None else max(newest, row.stamp)
        out.append(row.but(stamp=row.stamp + shift))
    return out


def matches(trial, rows, t0, command):
    """Numbers of the applications in truth that this one can be."""
    out = set()
    for key, attribute in (("apply_s", "apply"), ("release_s", "release")):
        if command[key] is None:
            continue
        spans = true_times(rows, t0 + int(command[key] * 1e9))
        for app in trial.applications:
            at = getattr(app, attribute)
            if any(low - 0.15 <= at <= high + 0.15 for low, high in spans):
                out.add(app.number)
        if out:
            break
    return out


class Judge:
    def __init__(self, trial, damage, rows, frames, result, base_notes=()):
        self.trial, self.damage = trial, damage
        self.found, self.apps_wrong = [], []
        self.run = next((r for r in result["runs"] if r["name"] == "P"), None)
        self.notes = notes(result) - set(base_notes)
        self.seen = {}
        if self.run is None or "applications" not in self.run:
            if not self.notes:
                self.apps_wrong.append("no run, no note")
            return
        t0 = int(self.run["t0_ns"])
        clock = frames if trial.tie == "bus-command" else rows
        if any(code == "part-moved" for _, code in notes(result)):
            clock = placed(clock)
        for got in self.run["applications"]:
            self.match(got, matches(trial, clock, t0, got["command"]))
        self.missing()
        for number, got in self.seen.items():
            self.application(self.by_number(number), got)

    def by_number(self, number):
        return next(a for a in self.trial.applications if a.number == number)

    def match(self, got, numbers):
        free = sorted(n for n in numbers if n not in self.seen)
        if free:
            self.seen[free[0]] = got
        elif not marked(got) and not got["begun_before"] and not any(
                "command-below-noise" in text for _, text in self.notes):
            # Where the command cannot be read, the run says so.
            self.apps_wrong.append("application %d of the result is none" %
                                   got["number"])

    def missing(self):
        for app in self.trial.applications:
            if app.number in self.seen or self.notes:
                continue
            near = [g for n, g in self.seen.items()
                    if abs(n - app.number) == 1 and marked(g)]
            if not near:
                self.apps_wrong.append("application %d (%s, %.0f kPa) is lost "
                                       "without a note" % (
                                           app.number, app.shape, app.hold))

    def clean(self, begin, end, columns, frames, log=True):
        return not self.damage.touches(self.trial, begin - REST_S, end + 0.02,
                                       columns, frames, log)

    def put(self, app, unit, name, value, truth, most, flags, clean):
        """`value` is (value, u, reason, own flags); `truth` (value, slack)."""
        v, u, reason, own = value
        own_marked = bool(set(own) & FLAGS)
        if v is None:
            outcome, told = "null", reason
        else:
            off = abs(v - truth[0])
            right = off <= max(4 * u, most) + truth[1]
            told = "%.6g u %.3g, true %.6g, flags %s" % (
                v, u, truth[0], sorted(set(own) | set(flags)))
            if own_marked or set(flags) & FLAGS:
                outcome = "flagged" if right else "flagged-off"
            else:
                outcome = "right" if right else "wrong"
        self.found.append(Found(app.number, unit, name, outcome, clean,
                                own_marked, told))

    def application(self, app, got):
        on_bus = self.trial.tie == "bus-command"
        source = set() if on_bus else {"treadle"}
        command, flags = got["command"], got.get("flags", [])
        whole = self.clean(app.apply, app.release, source, on_bus, not on_bus)
        if command["apply_s"] is not None and command["release_s"] is not None:
            u = (command["apply_u_s"] ** 2 + command["release_u_s"] ** 2) ** .5
            span = command["release_s"] - command["apply_s"]
            self.put(app, "", "command_span", (span, u, None, []),
                     (app.release - app.apply, app.release_slack), MOST_S,
                     flags, whole)
        hold = command["hold"]
        rest = 0.0 if on_bus else self.trial.rests["treadle"] \
            if hasattr(self.trial, "rests") else 0.0
        if hold["value"] is not None and app.shape != "slip":
            self.put(app, "", "command_hold",
                     (hold["value"], hold["u"], None, hold.get("flags", [])),
                     (app.hold + rest, 0.0), MOST_KPA + self.step(), flags,
                     whole)
        self.kind(app, got, flags, whole)
        for unit in got["units"]:
            self.unit(app, unit, flags, source, on_bus)
        self.stagger(app, got, flags, source, on_bus)

    def step(self):
        return getattr(self.trial, "resolution", 0.0)

    def kind(self, app, got, flags, clean):
        if app.shape == "slip" or got["kind"] == "unknown":
            return
        limits = (150, 550)
        if min(abs(app.hold - l) for l in limits) < 15:
            return
        kind = "light" if app.hold < 150 else \
            "full" if app.hold > 550 else "service"
        self.put(app, "", "kind", (float(kind != got["kind"]), 0, None, []),
                 (0.0, 0.0), 0.5, flags, clean)

    def unit(self, app, got, flags, source, on_bus):
        truth = app.units[got["unit"]]
        columns = source | {"output_" + got["unit"]}
        flags = list(flags) + list(got.get("flags", []))
        self.pressures(app, got, truth, columns, flags, on_bus)
        for name in APPLY + RELEASE:
            value = got["levels"][0] if name == "level" else got[name]
            if name not in truth:
                self.nothing(app, got, name, value, truth, flags)
                continue
            true, slack, passage = truth[name]
            own = value.get("flags", [])
            if name in SHARES and not truth["settled"]:
                if "not-settled" in own + flags:
                    continue
            self.put(app, got["unit"], name,
                     (value["s"], value["u_s"], value.get("reason"), own),
                     (true, slack), MOST_S, flags,
                     self.clean(app.apply, passage, columns, on_bus))
        value = got["demand_arrival"]
        if "demand_arrival" in truth:
            true, slack, passage = truth["demand_arrival"]
            self.put(app, got["unit"], "demand_arrival",
                     (value["s"], value["u_s"], value.get("reason"),
                      value.get("flags", [])), (true, slack), MOST_S, flags,
                     self.clean(app.apply, passage, source, True, not on_bus))

    def nothing(self, app, got, name, value, truth, flags):
        """The output never reached it, and a figure is there."""
        peak = truth.get("pressures", {}).get("peak")
        level = {"response": 20.0, "level": 65.0}.get(name)
        if peak and level and truth.get("vented") and \
                peak[0] - truth["pressures"]["rest"][0] < level - 8 and \
                value["s"] is not None:
            self.put(app, got["unit"], name,
                     (1.0, 0.0, None, value.get("flags", [])), (0.0, 0.0),
                     0.5, flags, False)

    def pressures(self, app, got, truth, columns, flags, on_bus):
        for name, (true, slack) in truth.get("pressures", {}).items():
            value, most = got[name], MOST_KPA + self.step()
            if self.damage.kind == "noise" or (
                    name == "hold" and not truth["settled"]) or (
                    name == "rest" and not truth["vented"]):
                continue
            own = columns
            if name == "control_peak":
                own = source_of(columns) | {"control_" + got["unit"]}
            if name.endswith("peak"):
                if app.shape == "slip":
                    continue
                most += 6 * self.trial.noise
            if value["value"] is None:
                continue
            self.put(app, got["unit"], name,
                     (value["value"], value["u"], value.get("reason"),
                      value.get("flags", [])), (true, slack), most, flags,
                     self.clean(app.apply, app.release, own, on_bus))

    def stagger(self, app, got, flags, source, on_bus):
        first = got.get("stagger_from")
        units = {u["unit"]: u for u in got["units"]}
        if first not in app.units or "response" not in app.units[first]:
            return
        origin = app.units[first]["response"]
        flags = list(flags) + units[first].get("flags", [])
        for name, unit in units.items():
            true, value = app.units[name].get("response"), unit["stagger"]
            if true is None:
                continue
            own = value.get("flags", [])
            columns = source | {"output_" + name, "output_" + first}
            self.put(app, name, "stagger",
                     (value["s"], value["u_s"], value.get("reason"), own),
                     (true[2] - origin[2], 0.0), MOST_S,
                     flags + unit.get("flags", []),
                     self.clean(app.apply, max(true[2], origin[2]), columns,
                                on_bus))


def source_of(columns):
    return {c for c in columns if not c.startswith("output")}


def marked(got):
    """A flag made for damage, on the application, a unit or a figure."""
    if isinstance(got, dict):
        if set(got.get("flags") or ()) & FLAGS:
            return True
        return any(marked(v) for v in got.values())
    if isinstance(got, list):
        return any(marked(v) for v in got)
    return False


def notes(result):
    """What is said of recordings and runs, as codes or texts."""
    out = set()
    for recording in result.get("recordings", []):
        for warning in recording.get("warnings", []):
            out.add((recording["name"], warning["code"]))
        if recording.get("failure"):
            out.add((recording["name"], "failure"))
    for run in result.get("runs", []):
        if run["name"] != "P":
            continue
        for step, lines in (run.get("warnings") or {}).items():
            for line in lines:
                out.add((step, str(line)))
        if run.get("failure"):
            out.add(("run", "failure"))
    return out


def nearest(rows, t):
    return bisect.bisect_left(rows, t, key=lambda r: r.true)
