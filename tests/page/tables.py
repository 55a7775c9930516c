# SPDX-License-Identifier: MIT
"""Every table of the page, written anew from the JSON result.

A function per section yields caption, heads and rows, cell by cell; every.py
holds the page against them. Those of studies are in studies.py.
"""
from writing import (DASH, SUMMED, Reading, Words, count, cut, figure,
                     figure_cell, fixed, known, label, name, plain, short_number,
                     with_u)

LANE_KINDS = ("full", "medium", "light")


class Page:
    def __init__(self, result, words):
        self.result = result
        self.words = Words(words)
        self.trial = result["trial"]
        self.units = self.trial["units"]
        self.runs = result["runs"]
        self.names = {u["unit"]: self.called(u) for u in self.units}
        self.reading = Reading(self.words, {k: name(v, 40) for k, v in
                                            self.names.items()})
        self.references = {c["reference"] for c in self.part("comparison")
                           if c["reference"]} | {"reference"}
        self.conditions = sorted(dict.fromkeys(
            r["condition"] for r in self.runs), key=self.rank)

    def called(self, unit):
        """By its name; by its number where it has none; by both where another
        one has the same name, or the name is a number."""
        name_, number = unit["name"], "unit " + unit["unit"]
        if not name_:
            return number
        alike = [u for u in self.units if u["name"] == name_]
        return "%s (%s)" % (name_, number) if len(alike) > 1 or \
            not name_.strip("0123456789.") else name_

    def part(self, key):
        return self.result.get(key) or []

    def odd(self):
        first = [s for s in self.part("answer") if s["first"]][:1]
        return [s["unit"] for s in first if s["unit"] in self.names]

    def rank(self, condition):
        if condition in self.references:
            return 3
        return 0 if any(r["condition"] == condition and r["power"] == "on"
                        for r in self.runs) else 1

    def unit(self, unit, most=40):
        return name(self.names.get(unit, unit), most)

    def figure(self, name_):
        return figure(name_, self.words.stated(self.trial["response_at_kpa"]))

    def ordered_runs(self):
        return sorted(self.runs, key=lambda r: self.conditions.index(
            r["condition"]))

    def reason(self, of, reason):
        return getattr(self.words, of).get(reason) or reason


def tonnes(kg):
    return fixed(kg / 1000, 1 if kg < 1e4 else 0) + " t"


def tested(page):
    record = page.trial["record"]
    if record:
        yield "Record of the trial", ["what", "stated"], [
            [name(label(p["key"]), 40), name(p["value"], 400)] for p in record]
    own = [u for u in page.units if u["id"] or u["labels"]]
    if own:
        yield "Units by their own numbers", ["unit", "id", "labels"], [
            [name(page.names[u["unit"]], 40), name(u["id"] or DASH, 40), name(
                ", ".join("%s: %s" % (l["label"], l["value"])
                          for l in u["labels"]) or DASH, 200)] for u in own]
    yield "Runs as the trial file declares them", [
        "run", "condition", "power", "data", "control air", "applications",
        "state"], [[name(r["name"], 20), name(r["condition"], 30),
                    r["power"] or "not stated", r["data"] or "not stated",
                    r["control_air"] or "not stated",
                    str(len(r["applications"])),
                    name(r["failure"]["text"], 300) if r.get("failure") else
                    "measured"] for r in page.runs]


def looked(page):
    by = {}
    for m in page.part("not_looked_for"):
        by.setdefault((m["code"], m["needs"]), []).append(m)

    def some(all_, key):
        return ", ".join(name(v, 20) for v in dict.fromkeys(
            m[key] for m in all_ if m[key] is not None))
    if by:
        yield "Not looked for, and what would be needed", [
            "code", "needs", "units", "runs"], [
                [code, page.reading.value(needs), some(all_, "unit"),
                 some(all_, "run")] for (code, needs), all_ in by.items()]


def wiring(page):
    def joined(*parts):
        return ", ".join(p for p in parts if p) or DASH
    rows = [[page.unit(u["unit"]),
             DASH if u["address"] is None else "0x%02X" % u["address"],
             name(u["bus"] or DASH, 30),
             name(joined(u["command"], u["control"], u["control_b"],
                         u["control_out"])),
             name(joined(*[(o["label"] + ": " if o["label"] else "") +
                           o["from"] for o in u["outputs"]])),
             name(joined(u["reservoir"], u["voltage"]), 60),
             tonnes(u["mass_kg"]) if known(u["mass_kg"]) else DASH,
             tonnes(u["load_kg"]) if u["load"] == "mass" else
             u["load"] or DASH,
             fixed(u["force_kn_per_kpa"], 3) if known(u["force_kn_per_kpa"])
             else DASH,
             fixed(u["line_m"], 1) if known(u["line_m"]) else DASH]
            for u in page.units]
    return ("Wiring, masses and lines; a dash is not stated. A line is the pipe "
            "from valve to valve, coiled hoses counted: 14 m of vehicle are 20 "
            "to 25 m of line"), [
        "unit", "address", "bus in front", "command or control", "outputs",
        "supply", "mass", "load", "force, kN/kPa", "line, m"], rows


def instruments(page):
    def percent(v):
        return fixed(100 * v, 2) + " %"

    def single(c, key):
        return short_number(c[key]) + " " + c["unit"] if known(c[key]) else DASH

    def range_of(c):
        if known(c["trips_at_kpa"]):
            return "trips at " + page.words.kpa(c["trips_at_kpa"])
        return "%s \u2026 %s %s" % (
            short_number(c["range_low"]), short_number(c["range_high"]),
            c["unit"]) if known(c["range_high"]) else DASH
    rows = []
    for c in page.trial["channels"]:
        accuracy = [single(c, "accuracy")] if known(c["accuracy"]) else []
        if known(c["accuracy_fraction"]):
            accuracy.append(percent(c["accuracy_fraction"]))
        rows.append([
            name(c["channel"], 30),
            name(": ".join(p for p in (c["log"], c["column"]) if p), 60),
            c["quantity"] + (" in " + c["measured_in"] if c["measured_in"]
                             else ""),
            ", ".join(accuracy) or DASH, single(c, "u_zero"),
            percent(c["u_gain_fraction"]) if known(c["u_gain_fraction"]) else
            DASH, single(c, "resolution"),
            with_u(c["delay_s"] * 1000, c["u_delay_s"] * 1000
                   if known(c["u_delay_s"]) else None, 1)
            if known(c["delay_s"]) else DASH, range_of(c),
            name(c["calibrated"] or DASH, 60)])
    return ("Instruments as stated; a dash is not stated, and then not included "
            "in the uncertainty", ["channel", "column", "measures", "accuracy",
                                   "u of zero", "u of gain", "resolution",
                                   "delay, ms", "range", "calibrated"], rows)


def files(page):
    def size(n):
        return count(n, "byte") if n < 1e5 else fixed(n / 1e6, 1) + " MB"

    def digest(is_):
        return is_["sha256"] or "not read to the end"
    rows = []
    for r in page.part("recordings"):
        for f in [r] + (r.get("more_files") or []):
            rows.append([name(f["file"], 60), name(r["run"], 20), r["kind"],
                         count(r["rows"], "row") if r["kind"] == "log" else
                         count(r["frames"], "frame"), size(f["bytes"]),
                         digest(f)])
    rows.append([name(page.trial["file"], 60), "", "trial file", "", "",
                 digest(page.trial)])
    for t in page.part("tables"):
        rows.append([name(t["name"], 40), "", "mapping table",
                     count(t["signals"], "signal") +
                     (", %d from memory" % t["from_memory"]
                      if t["from_memory"] else ""), "", digest(t)])
    return "Files, as stored", ["file", "run", "kind", "content", "size",
                                "SHA-256"], rows


def setup(page):
    yield wiring(page)
    if page.trial["channels"]:
        yield instruments(page)
    yield files(page)


def kind_of(s):
    return "%s, %s" % (
        "pressure not known" if s["kind"] == "unknown" else label(s["kind"]),
        "rise not recorded" if s["shape"] == "unknown" else s["shape"])


def in_time(figures, seen):
    """At light demand 10 % of the hold lie below response_at, so that column
    comes first where most of `seen` (figure to seconds, each) say so."""
    order = list(figures)
    for a, b in (("response", "apply_10"), ("release_10", "release_end")):
        both = [s for s in seen if known(s.get(a)) and known(s.get(b))]
        lead = sum((s[b] < s[a]) - (s[b] > s[a]) for s in both)
        if a in order and b in order and lead > 0:
            i, j = order.index(a), order.index(b)
            order[i], order[j] = b, a
    return order


def lanes(page):
    kinds = list(dict.fromkeys(kind_of(s) for r in page.runs
                               for s in r["summary"]))
    kinds.sort(key=lambda k: LANE_KINDS.index(k.split(",")[0])
               if k.split(",")[0] in LANE_KINDS else 8)
    for kind in kinds:
        used = [f for f in SUMMED if any(
            kind_of(s) == kind and s["figure"] == f for r in page.runs
            for s in r["summary"])]
        used = in_time(used, [
            {s["figure"]: s["median_s"] for s in r["summary"]
             if s["unit"] == u["unit"] and kind_of(s) == kind}
            for u in page.units for r in page.runs])
        rows = []
        for u in page.units:
            for r in page.ordered_runs():
                mine = [s for s in r["summary"] if s["unit"] == u["unit"] and
                        kind_of(s) == kind]
                if not mine:
                    continue
                most = max(s["n"] for s in mine)
                row = [page.unit(u["unit"]), name(r["name"], 16),
                       name(r["condition"], 20), str(most)]
                for f in used:
                    s = next((s for s in mine if s["figure"] == f), None)
                    row.append(DASH if s is None or not known(s["median_s"])
                               else fixed(s["median_s"], 3) +
                               fixed(s["low_s"], 3) + "\u2026" +
                               fixed(s["high_s"], 3) +
                               ("" if s["n"] == most else ", n %d" % s["n"]))
                rows.append(row)
        yield ("Medians, s: " + kind,
               ["unit", "run", "condition", "n"] + [page.figure(f) for f in used],
               rows)


def application(page, run, a):
    used = [f for f in SUMMED if any(
        f in u and (known(u[f]["s"]) or u[f].get("reason") != "no-channel")
        for u in a["units"])]
    used = in_time(used, [{f: u[f]["s"] for f in used if u.get(f)}
                          for u in a["units"]])
    levels = a["units"][0]["levels"] if a["units"] else []
    did = all(u["responded"] is True for u in a["units"])
    rows = []
    for u in a["units"]:
        hold = page.words.level(u["hold"])
        if u["hold"] and u["hold"].get("hold_from") not in (None, "settled"):
            hold += " not settled: " + u["hold"]["hold_from"]
        rows.append([page.unit(u["unit"]),
                     ("" if did else "yes") if u["responded"] is True else
                     "no" if u["responded"] is False else DASH, hold] +
                    [figure_cell(u.get(f)) for f in used] +
                    [figure_cell(v) for v in u["levels"]] +
                    ["; ".join(page.words.flags.get(f, f)
                               for f in u["flags"])])
    heads = ["unit", "responded", "settled pressure"] + [page.figure(f) for f in used] + \
        ["to " + page.words.stated(v["kpa"]) for v in levels] + ["keep in mind"]
    keep = [i for i in range(len(heads)) if i == 0 or not all(
        r[i] in ("", DASH) for r in rows)]
    return ("Application %d of run %s: seconds after the command (release "
            "figures: after its release), \u00b1 is k = 2%s" % (
                a["number"], plain(run["name"]), "; every unit responded" if did else
                ""), [heads[i] for i in keep], [[r[i] for i in keep]
                                                for r in rows])


LEGS = {"demand_sent": "to the first link",
        "demand_arrival": "to its own link", "unit_report": "to its report",
        "response": "to its output"}


def path(page, run, a):
    ends = list(dict.fromkeys(leg["to"] for u in a["units"]
                              for leg in u["path"] if known(leg["s"])))
    rows = []
    for u in a["units"]:
        legs = {leg["to"]: leg for leg in u["path"]}
        if any(known(leg["s"]) for leg in u["path"]):
            rows.append([page.unit(u["unit"])] +
                        [figure_cell(legs.get(e)) for e in ends] +
                        [figure_cell(u["response"])])
    if rows:
        yield ("Application %d of run %s: where the time to first air goes, s; each "
               "leg counts from the event before it" % (
                   a["number"], plain(run["name"])),
               ["unit"] + [LEGS[e] for e in ends] +
               [page.figure("response")], rows)


def pressures(page, run, a):
    of = {"rest": "released pressure", "hold": "settled pressure",
          "peak": "peak",
          "control_peak": "peak of the control air",
          "reservoir_least": "least of the reservoir",
          "voltage_least": "least voltage"}
    rows = {u["unit"]: {k: page.words.level(u.get(k)) for k in of}
            for u in a["units"]}
    said = [k for k in of if any(r[k] != DASH for r in rows.values())]
    yield ("Application %d of run %s: pressures" % (a["number"],
                                                    plain(run["name"])),
           ["unit"] + [of[k] for k in said],
           [[page.unit(u)] + [r[k] for k in said] for u, r in rows.items()])


def has_figures(a):
    return any(u["responded"] is not None or any(
        f in u and (known(u[f]["s"]) or u[f].get("reason") != "no-channel")
        for f in SUMMED) for u in a["units"])


def applications(page):
    for run in page.runs:
        for a in run["applications"]:
            if has_figures(a):
                yield application(page, run, a)
                yield from pressures(page, run, a)
                yield from path(page, run, a)


def budget(page):
    figures = ("demand_arrival", "response", "apply_75", "release_start",
               "release_end", "stagger")
    components = page.words.components
    rows = []
    for u in page.units:
        for f in figures:
            values = [x[f] for r in page.runs for a in r["applications"]
                      for x in a["units"] if x["unit"] == u["unit"] and
                      known(x.get(f, {}).get("s")) and x[f].get("u_parts")]
            if not values:
                continue
            row = [page.unit(u["unit"]), page.figure(f)]
            for c in components:
                m = median([v["u_parts"][c] for v in values])
                row.append("not included" if m is None else
                           fixed(m * 1000, 2))
            rows.append(row + [fixed(median([v["u_s"] for v in values]) * 1000,
                                     2)])
    if rows:
        yield "Uncertainty budget, ms", ["unit", "figure"] + components + \
            ["u"], rows


def median(values):
    v = sorted(x for x in values if known(x))
    return (v[(len(v) - 1) // 2] + v[len(v) // 2]) / 2 if v else None


def clocks(page):
    claims = {"absolute": "lags can be measured",
              "bounded": "lags include a systematic error, stated as its u",
              "differences-only": "only differences between units mean "
              "anything", "none": "no figure may cross to this recording",
              "ambiguous": "fits in several ways and is refused"}
    rows = []
    for r in page.part("recordings"):
        c = r["clock"]
        own = c["method"] == "own"
        u = c.get("u_s")
        rows.append([
            name(r["name"], 40), name(r["run"], 20), c["method"],
            c["claim"] + " " + ("its time is that of the run" if own else
                                claims.get(c["claim"], "")),
            DASH if own or not known(c["offset_s"]) else
            with_u(c["offset_s"], ((u ** 2 + (c["u_bias_s"] or 0) ** 2) ** 0.5)
                   if known(u) else None, 4),
            DASH if own or not known(c["drift_ppm"]) else
            with_u(c["drift_ppm"], c["u_drift_ppm"], 1),
            DASH if not c.get("pairs") else str(c["pairs"]) + (
                " (%d left out)" % c["outliers"] if c["outliers"] else ""),
            fixed(c["residual_s"] * 1000, 2) if known(c.get("residual_s")) else
            DASH, fixed(c["extrapolation_s"], 1)
            if known(c.get("extrapolation_s")) else DASH])
    if rows:
        yield "Clock ties", ["recording", "run", "method", "claim",
                             "offset, s", "drift, ppm", "pairs", "scatter, ms",
                             "reach beyond pairs, s"], rows


def exclusions(page):
    rows = []
    for r in page.runs:
        for a in r["applications"]:
            for key, why in (
                    ("begun_before", "began before the recording: no apply "
                     "figures"),
                    ("unfinished", "the recording ends before the release")):
                if a[key]:
                    rows.append([name(r["name"], 20), str(a["number"]),
                                 "command", why])
            if a["excluded"]:
                rows.append([name(r["name"], 20), str(a["number"]),
                             "whole application",
                             name(a.get("excluded_why") or "no reason given",
                                  300)])
    missing = {}
    for r in page.runs:
        for a in r["applications"]:
            for u in a["units"]:
                for f in SUMMED:
                    v = u.get(f)
                    if v and not known(v["s"]) and v.get("reason") not in (
                            None, "no-channel"):
                        key = (r["name"], u["unit"], f, v["reason"])
                        missing[key] = missing.get(key, 0) + 1
    for (run, unit, f, reason), n in missing.items():
        rows.append([name(run, 20), count(n, "application"),
                     plain_unit(page, unit) + ", " + page.figure(f),
                     page.reason("reasons", reason)])
    if rows:
        yield "Left out", ["run", "application", "what", "why"], rows


def plain_unit(page, unit):
    return cut(page.names[unit], 10 ** 6)
