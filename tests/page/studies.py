# SPDX-License-Identifier: MIT
"""Tables of the studies, as tables.py has those of every report."""

from tables import kind_of
from writing import (DASH, count, cut, fixed, known, label, name,
                     seconds, short_number, with_u)

VERDICTS = {"no-values": "no values",
            "run-more": "of these runs only: make more runs",
            "no-change-shown": "no change shown",
            "same": "the same within the margin",
            "command-differs": "the command differs"}

def differences(page, caption, rows):
    """What is the same in every row is in the caption."""
    order = ("full", "service", "light", "unknown")
    rows = sorted(rows, key=lambda r: order.index(r["kind"]))
    if not rows:
        return
    speeds = list(dict.fromkeys(t["kmh"] for r in rows
                                for t in r["travel_in_lag"]))
    heads = ["unit", "kind", "figure", "compared", "n", "difference, s",
             "interval, s", "p", "shown"] + [
                 "m at %s km/h" % short_number(s) for s in speeds]
    out = []
    for r in rows:
        travel = {t["kmh"]: t for t in r["travel_in_lag"]}
        out.append([
            page.unit(r["unit"]), kind_of(r),
            page.figure(r["figure"]) + (" " + page.words.stated(r["kpa"])
                                   if known(r.get("kpa")) else ""),
            cut(r["against"] + " against " + r["base"], 60),
            "%d and %d%s" % (r["n_against"], r["n_base"],
                             ", paired" if r["paired"] else ""),
            with_u(r["difference_s"], r["u_s"], 3),
            fixed(r["low_s"], 3) + " \u2026 " + fixed(r["high_s"], 3)
            if known(r["low_s"]) else DASH,
            DASH if not known(r["p"]) else "<\u00a00.001" if r["p"] < 0.001 else
            fixed(r["p"], 3), VERDICTS.get(r["verdict"]) or r["verdict"] or
            DASH] + [with_u(travel[s]["m"], travel[s]["u_m"], 2)
                     if s in travel else DASH for s in speeds])
    same = [i for i in (2, 3) if len({row[i] for row in out}) == 1]
    if same:
        caption += ": " + ", ".join(out[0][i] for i in same)
    keep = [i for i in range(len(heads)) if i not in same]
    yield caption, [heads[i] for i in keep], [[row[i] for i in keep]
                                              for row in out]


def comparison(page):
    rows = [r for r in page.part("comparison") if r["figure"]]
    if not rows:
        return
    yield from differences(page, "Differences", [
        r for r in rows if r["figure"] == "apply_75" and
        r["verdict"] != "no-values"])
    yield from differences(page, "All differences", rows)
    if page.part("compared"):
        yield from page.reading.tables("How it was compared",
                                       page.result["compared"])


REACHED = {"reached": "\u25cf\u00a0reached",
           "reached-with-defects": "\u25b2\u00a0with\u00a0defects",
           "not-reached": "\u25a0\u00a0not\u00a0reached",
           "cannot-tell": "\u25cb\u00a0cannot\u00a0tell"}

CLAIMS = {"yes": "yes", "no": "no", "cannot-tell": "?"}

def milliseconds(v):
    if not v or not known(v["s"]):
        return DASH
    return with_u(v["s"] * 1000, v["u_s"] * 1000 if known(v["u_s"]) else None,
                  1)

def share(v):
    return fixed(100 * v, 2 if 0 < v < 0.01 else 1) + " %" if known(v) else DASH

def reach_row(page, u):
    d = u["demand"]
    row = [page.unit(u["unit"]), REACHED.get(u["verdict"], u["verdict"])]
    row += [CLAIMS[u["claims"][claim]["answer"]] for claim in
            ("arrives", "unchanged", "at_its_rate", "in_time", "acted_on")]
    if d["present"]:
        lost, every = d["without_value"], d["interval"]
        delay = d["delay"]
        row += [name(u["bus"] or DASH, 20), str(d["frames"]),
                "%s (most %s)" % tuple(
                    fixed(every[k] * 1000, n) if known(every[k]) else DASH
                    for k, n in (("median_s", 2), ("most_s", 1))),
                "%d (%s)" % (d["lost"], share(d["lost_share"])),
                str(lost["not_available"] + lost["error"] + lost["other"]),
                "first link" if delay["s"] == 0 and delay["u_s"] == 0 else
                milliseconds(delay), milliseconds(d["added"])]
    else:
        row += ["no demand seen"] + [DASH] * 6
    return row + ["cannot tell" if u["follows"] == "unknown" else
                  label(u["follows"]), name(u["called_for"] or DASH, 30),
                  "; ".join(name(w, 200) for w in u["why"])]

def reach(page):
    heads = ["unit", "verdict", "arrives", "unchanged", "at its rate",
             "in time", "acted on", "link", "frames", "interval, ms", "lost",
             "without value", "after the first link, ms",
             "added by the hop, ms", "follows", "called for", "why"]
    for run in page.part("reach"):
        if not run["declared_off"]:
            rows = [reach_row(page, u) for u in run["units"]]
            keep = [i for i in range(len(heads)) if i == 0 or any(
                r[i] not in ("", DASH) for r in rows)]
            yield ("Run %s: the demand at each unit" % cut(run["run"], 40),
                   [heads[i] for i in keep],
                   [[r[i] for i in keep] for r in rows])
    yield from page.reading.tables("Demand path", page.part("reach"))

CURVE_REASONS = {
    "too-fast": "the pressure moved too fast: keep it at several levels or "
    "ramp it slowly", "no-input": "no input was recorded",
    "few-points": "too few steady pressures and slow ramps",
    "no-output": "no output was recorded"}

def curves(page, all_):
    level = page.words.level
    seen = [c for c in all_ if known(c["threshold"]["value"])]
    if seen:
        yield "Units with a curve", [
            "unit", "run", "against", "opens at", "gain", "hysteresis",
            "fits", "the demand explains it better"], [
                [page.unit(c["unit"]), name(c["run"], 20),
                 label(c["input"] or DASH).replace("-", " "),
                 level(c["threshold"]), with_u(c["gain"]["value"],
                                               c["gain"]["u"], 3),
                 level(c["hysteresis"]), name(c["choice"] or (
                     "none of the candidates" if all(
                         k["fits"] is False for k in c["candidates"]) else
                     "cannot tell"), 40),
                 "cannot tell" if c["demand_explains_better"] is None else
                 "yes" if c["demand_explains_better"] else "no"]
                for c in seen]
    by = {}
    for c in all_:
        if known(c["threshold"]["value"]):
            continue
        reasons = dict.fromkeys(
            b["reason"] for k in c["curves"] for b in (k["rising"],
                                                       k["falling"])
            if b.get("reason"))
        by.setdefault((c["unit"], "; ".join(
            CURVE_REASONS.get(r) or label(r).replace("-", " ")
            for r in reasons)), []).append(c["run"])
    alike = {}
    for (unit, why), runs in by.items():
        alike.setdefault((tuple(runs), why), []).append(unit)
    if by:
        yield "No curve could be read", ["units", "runs", "why"], [
            [", ".join(page.unit(u) for u in who),
             ", ".join(name(r, 20) for r in runs), why or "no reason given"]
            for (runs, why), who in alike.items()]

def rear(page, r):
    level = page.words.level
    if r["light"]:
        units = [u["unit"] for u in r["light"][0]["units"]]
        times = {}
        for row in r["light"]:
            said = (level(row["demand"]),) + tuple(
                level(u["output"]) + " " + (
                    "" if u["braked"] is True else "not braking"
                    if u["braked"] is False else "cannot tell")
                for u in row["units"])
            times[said] = times.get(said, 0) + 1
        yield ("What a light demand leaves, run %s; a unit brakes from %s of "
               "output on (common practice)" % (
                   cut(r["run"], 30), page.words.kpa(r["brakes_at_kpa"])),
               ["demand", "times"] + [page.unit(u, 24) for u in units],
               [[said[0], str(n)] + list(said[1:])
                for said, n in times.items()])
    if r["coupling_loss"]:
        yield page.reading.rows("Coupling loss, run " + cut(r["run"], 30),
                                r["coupling_loss"])

def characteristics(page):
    all_ = page.part("characteristics")
    rears = [r for r in page.part("rear") if r["light"] or r["coupling_loss"]]
    if not all_ and not rears:
        return
    yield from curves(page, all_)
    if all_:
        yield from page.reading.tables("Pressure curves", all_)
    for r in rears:
        yield from rear(page, r)

def pair_row(page, p):
    level = page.words.level
    row = [page.unit(p["unit"]), name(p["run"], 20),
           name(p["b"], 24) + " and " + name(p["a"], 24)]
    if not p["compared"]:
        return row + [DASH] * 4 + ["not compared: not both recorded on tied "
                                   "clocks", DASH, DASH]

    def off(key, text):
        return text + (" off" if p[key] else "")
    delay = p["delay"]
    return row + [
        off("offset_off", level(p["offset_rest"])), level(p["offset_hold"]),
        off("gain_off", with_u(p["gain"]["value"], p["gain"]["u"], 3)),
        off("delay_off", with_u(delay["value"] * 1000, delay["u"] * 1000
                                if known(delay["u"]) else None, 1)
            if known(delay["value"]) else DASH),
        "identical to the bit: one is wired twice" if p["identical"] else
        count(p["disagreements"], "time") + ", " + fixed(p["disagree_s"], 1) +
        " s" if p["disagreements"] else "never",
        page.words.kpa(p["largest_kpa"]) if (p["largest_kpa"] or 0) > 0 else
        DASH,
        name(p[p["wrong"]], 24) + ": " + name(p["wrong_by"] or "", 120)
        if p["wrong"] else "cannot tell"]


def transducers(page):
    all_ = page.part("transducers")
    if all_:
        yield ("Pairs side by side; differences are the second less the first",
               ["unit", "run", "second and first", "offset at released",
                "offset at settled", "gain", "delay, ms", "they part",
                "furthest apart", "which is wrong"],
               [pair_row(page, p) for p in all_])
    yield from page.reading.tables("Pairs", page.part("transducers"))

def supply(page):
    rows = []
    for unit in page.units:
        mine = []
        for run in page.runs:
            links = next((x for x in page.part("reach")
                          if x["run"] == run["name"]), None)
            link = next((u for u in links["units"] if u["unit"] ==
                         unit["unit"]), None) if links else None
            for a in run["applications"]:
                here = next((u for u in a["units"] if u["unit"] ==
                             unit["unit"]), {})
                n = next((c for c in link["demand"].get("by_application", [])
                          if c["application"] == a["number"]), None) \
                    if link else None
                mine.append([run["name"], a["number"],
                             here.get("reservoir_least"),
                             here.get("voltage_least"), n])
        if any(n or known((res or {}).get("value")) or
               known((volt or {}).get("value"))
               for _, _, res, volt, n in mine):
            rows += [[page.unit(unit["unit"]), name(run, 20), str(number),
                      least(page, res), least(page, volt),
                      str(n["frames"]) if n else DASH,
                      str(n["lost"]) if n else DASH]
                     for run, number, res, volt, n in mine]
    if rows:
        yield "Least values and frames of each application", [
            "unit", "run", "application", "reservoir", "voltage", "frames",
            "lost"], rows

def least(page, v):
    if v and v["unit"] == "V" and known(v["value"]):
        return with_u(v["value"], v["u"], 2) + " V"
    return page.words.level(v)

LIMIT_MARKS = {"inside": "\u25cf", "outside": "\u25a0", "not-decided": "?"}

def rule(page, mine, names):
    first = mine[0]
    by = {}
    for r in mine:
        by.setdefault((r["unit"], r.get("class"), r["limit"]), {})[
            r["run"]] = r
    classes = any(r.get("class") for r in mine)
    rows = []
    for (unit, taken_as, limit), found in by.items():
        row = [page.unit(unit) if unit in page.names else
               page.reading.value(unit)]
        if classes:
            row.append(label(taken_as).replace("-", " "))
        row.append(short_number(limit) + " " + first["limit_unit"])
        for run in names:
            r = found.get(run)
            row.append("" if r is None else DASH if not known(r["high"]) else
                       LIMIT_MARKS.get(r["verdict"], "") + " " + with_u(
                           r["high"], r["u"],
                           3 if r["limit_unit"] == "s" else 1))
        rows.append(row)
    return (cut(limit_title(first), 60) + ": " + (
        page.figure(first["figure"]) if first["kind"] == "own" else
        first["from"] + " to " + first["to"]),
            ["unit"] + (["taken as"] if classes else []) + ["at most"] +
            [cut(n, 20) for n in names], rows)


def limit_title(r):
    if r["kind"] == "own":
        return r.get("limit_name") or r.get("name") or "of the trial"
    return r["regulation"] + " " + r["clause"]


def limits(page):
    rows = page.part("limits")
    names = [run["name"] for run in page.ordered_runs()
             if any(r["run"] == run["name"] for r in rows)]
    groups = {}
    for r in rows:
        groups.setdefault((r["kind"], limit_title(r), r.get("figure"),
                           r.get("kpa"), r.get("from"), r.get("to"),
                           r["limit_unit"]), []).append(r)
    for mine in groups.values():
        judged = [r for r in mine if r["run"] in names]
        if judged:
            yield rule(page, judged, names)


def dynamics(page):
    of = page.part("dynamics")
    conditions = {r["name"]: r["condition"] for r in page.runs}
    shown = [r for r in of["rows"] if r["speeds"] and
             conditions[r["run"]] not in page.references] if of else []
    if not shown:
        return

    def metres(v, u):
        return with_u(v, u, 1)
    heads = ["run", "kind", "n"]
    for s in shown[0]["speeds"]:
        heads += ["from %s km/h" % fixed(s["kmh"], 0), "added by lag",
                  "behind the first unit"]
    rows = []
    for r in shown:
        row = [name(r["run"], 20), r["kind"], str(r["n"])]
        for s in r["speeds"]:
            row += [metres(s["stopping_m"], None),
                    metres(s["extra_stopping_m"], s["u_extra_stopping_m"]),
                    metres(s["extra_against_first_m"], None)]
        rows.append(row)
    yield ("Stopping distance, metres: whole, what lag adds to it, and what of "
           "that would go if every unit kept up with the first", heads, rows)
    fast = [max(r["speeds"], key=lambda s: s["kmh"]) for r in shown]
    heads = ["%s, %s" % (cut(r["run"], 16), r["kind"]) for r in shown]

    def percent(speed, unit, key):
        u = next((u for u in speed["units"] if u["unit"] == unit), None)
        return fixed(100 * u[key], 1) if u and known(u[key]) else DASH
    seen = [u["unit"] for u in page.units
            if any(u["unit"] == x["unit"] for s in fast for x in s["units"])]
    if seen:
        yield ("Share of mass, and of the braking work at %s km/h, %%" %
               fixed(fast[0]["kmh"], 0), ["unit", "mass"] + heads,
               [[page.unit(u), percent(fast[0], u, "mass_share")] +
                [percent(s, u, "work_share") for s in fast] for u in seen])
    if fast[0]["couplings"]:
        rows = []
        for c in fast[0]["couplings"]:
            row = [page.unit(c["front"], 24) + " \u2013 " +
                   page.unit(c["rear"], 24)]
            for s in fast:
                x = next((x for x in s["couplings"] if (
                    x["front"], x["rear"]) == (c["front"], c["rear"])), None)
                row.append(fixed(x["push_most_kn"], 1)
                           if x and known(x["push_most_kn"]) else DASH)
            rows.append(row)
        yield "Most push at each coupling, kN", ["coupling"] + heads, rows
    yield from page.reading.tables("What lag costs", of)

PREDICTED = {"fill": "first air to 75 % of settled",
             "fall": "release, 90 to 10 % of settled"}

def predict(page):
    rows = [(u, f) for u in page.part("predict") for f in u["figures"]]
    if not rows:
        return
    yield "Bands of air alone, s", [
        "unit", "run", "kind", "figure", "band", "measured", "n", "judged"], [
            [page.unit(u["unit"]), name(u["run"], 20),
             kind_of(f),
             PREDICTED.get(f["figure"]) or page.figure(f["figure"]),
             fixed(f["low_s"], 3) + " \u2026 " + fixed(f["high_s"], 3)
             if known(f["low_s"]) else DASH,
             with_u(f["measured_s"], f["u_s"], 3), str(f["n"]),
             label(f["verdict"]).replace("-", " ") if f["verdict"] else
             page.words.predict_reasons.get(f["reason"]) or DASH]
            for u, f in rows]
    yield from page.reading.tables("Prediction", page.part("predict"))
