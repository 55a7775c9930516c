# SPDX-License-Identifier: MIT
"""Drawings of the page against the JSON: what is read off them by their own axes.

Positions come from the browser (boxes of shapes and of the texts at the ticks),
values from the result. A drawing that no function here knows is a failure.
"""
from tables import kind_of
from writing import MINUS, cut, known, plain
from writing import label as reads_as

SHAPES = """
    return [...document.querySelectorAll('section .pic')].filter((p) =>
        !p.closest('.print-only')).map((p) => {
        /* what is shut has no boxes */
        for (let d = p.closest('details'); d; d = d.parentNode
            .closest('details')) { d.open = true; }
        return [p.closest('section').id, p.getAttribute('aria-label'),
            [...p.querySelectorAll('rect, circle, path, text')].map((s) => {
                const b = s.getBBox();
                return [s.tagName, s.getAttribute('class') || '', b.x, b.y,
                    b.width, b.height, s.textContent];
            })];
    });"""
PIXEL = 1.7  # a shape is at least so wide, or it could not be seen


class Drawing:
    def __init__(self, shapes):
        self.shapes = shapes

    def of(self, tag, name):
        return [s for s in self.shapes if s[0] == tag and
                name in s[1].split()]

    def axis(self, name, across=True):
        """Value of a position, and the value of a pixel."""
        ticks = [(float(s[6].replace(MINUS, "-")), s[2] + s[4] / 2 if across
                  else s[3] + s[5] / 2 - 0.6)
                 for s in self.of("text", name)]
        (v0, p0), (v1, p1) = ticks[0], ticks[-1]
        slope = (v1 - v0) / (p1 - p0)
        return lambda p: v0 + (p - p0) * slope, abs(slope)

    def spans(self, shapes, name, across=True):
        value, pixel = self.axis(name, across)
        i = 2 if across else 3
        return [tuple(sorted((value(s[i]), value(s[i] + s[i + 2]))))
                for s in shapes], pixel

    def middles(self, shapes, name, across=True):
        spans, pixel = self.spans(shapes, name, across)
        return [(a + b) / 2 for a, b in spans], pixel


def near(found, expected, off):
    """Sorted lists of numbers or of tuples of them."""
    def flat(v):
        return v if isinstance(v, tuple) else (v,)
    found, expected = sorted(found), sorted(expected)
    if len(found) != len(expected):
        return "%d shapes, expected %d" % (len(found), len(expected))
    for a, b in zip(found, expected):
        if any(abs(x - y) > off for x, y in zip(flat(a), flat(b))):
            return "%s, expected %s (within %g)" % (a, b, off)
    return None


def lanes(page, label, d):
    pairs = {"Apply": ("response", "apply_75"),
             "Release": ("release_start", "release_end"),
             "Electronic demand": ("demand_arrival", "demand_arrival")}
    kind, what, _ = label.split(": ")
    bars, lines = [], []
    silent = 0
    for r in page.runs if what[0] != "E" else ():
        tried = [a for a in r["applications"]
                 if not a["excluded"] and kind_of(a) == kind]
        for u in page.units if tried else ():
            silent += all(v["responded"] is False for a in tried
                          for v in a["units"] if v["unit"] == u["unit"])
    said = sum(s[0] == "text" and s[6].startswith("no first air")
               for s in d.shapes)
    for r in page.runs:
        for u in page.units:
            mine = [next((s for s in r["summary"] if s["unit"] == u["unit"] and
                          kind_of(s) == kind and s["figure"] == f and
                          known(s["median_s"])), None) for f in pairs[what]]
            some = [s for s in mine if s]
            if some:
                ends = sorted((some[0]["median_s"], some[-1]["median_s"]))
                bars.append(tuple(ends))
            lines += [(s["low_s"], s["high_s"]) for s in some if s["n"] > 1]
    found, pixel = d.spans([s for s in d.shapes if s[0] == "rect" and
                            s[1].startswith("lane ")], "x-tick")
    wrong = near(found, bars, PIXEL * pixel)
    found, pixel = d.spans(d.of("path", "whisker"), "x-tick")
    if said != silent:
        return "%d lines of units without air, expected %d" % (said, silent)
    return wrong or near(found, lines, pixel)


def values_of(page, row, condition):
    for r in page.runs:
        if condition not in (r["condition"], r["name"]):
            continue
        for a in r["applications"]:
            if a["excluded"] or kind_of(a) != kind_of(row):
                continue
            for u in a["units"]:
                v = u.get(row["figure"])
                if u["unit"] == row["unit"] and v and known(v["s"]):
                    yield v["s"]


def comparison(page, label, d):
    rows = [r for r in page.part("comparison") if r["verdict"] != "no-values"
            and label == "%s: %s, %s (filled) against %s (hollow)" % (
                kind_of(r), page.figure(r["figure"]), r["against"], r["base"])]
    for side, name in (("base", "hollow"), ("against", "full")):
        shapes = [s for s in d.of("circle", "dot") if name in s[1].split()]
        found, pixel = d.middles(shapes, "x-tick")
        wrong = near(found, [v for r in rows
                             for v in values_of(page, r, r[side])], pixel)
        if wrong:
            return name + " marks: " + wrong
    spans = [(r["low_s"], r["high_s"]) for r in rows if known(r["low_s"])]
    if not spans:
        return None
    found, pixel = d.spans(d.of("rect", "interval"), "d-tick")
    return near(found, spans, PIXEL * pixel)


def reach(page, label, d):
    values = [u["demand_arrival"]["s"] for r in page.runs
              for a in r["applications"] for u in a["units"]
              if known(u["demand_arrival"]["s"])]
    found, pixel = d.middles(d.of("path", "dot"), "x-tick")
    return near(found, values, pixel)


def characteristics(page, label, d):
    factor = page.words.pressure_factor
    c = next(c for c in page.part("characteristics") if label ==
             "Pressure curve of %s, run %s" % (cut(page.names[c["unit"]], 999),
                                               c["run"]))
    curve = next(k for k in c["curves"] if k["input"] == c["input"])
    lag = curve["lag"]["value"] or 0
    xs, pixel = d.middles(d.of("path", "seen"), "x-tick")
    ys, pixel_y = d.middles(d.of("path", "seen"), "y-tick", False)
    expected = [(max(0, p["input_kpa"] - p["rate_kpa_s"] * lag) / factor,
                 p["output_kpa"] / factor) for p in curve["seen"]]
    begins, _ = d.middles(d.of("path", "begins"), "x-tick")
    return near(list(zip(xs, ys)), expected, 2 * max(pixel, pixel_y)) or \
        near(begins, [c["threshold"]["value"] / factor], 2 * pixel)


def transducers(page, label, d):
    factor = page.words.pressure_factor
    p = next(p for p in page.part("transducers") if label == "Difference of "
             "the doubled transducers of %s, run %s" % (
                 cut(page.names[p["unit"]], 999), p["run"]))
    found, pixel = d.spans(d.of("rect", "interval"), "y-tick", False)
    wrong = near(found, [(s["least_kpa"] / factor, s["most_kpa"] / factor)
                         for s in p["difference"]], PIXEL * pixel)
    xs, pixel = d.spans(d.of("rect", "interval"), "x-tick")
    return wrong or near(xs, [(s["from_s"], s["to_s"])
                              for s in p["difference"]], PIXEL * pixel)


def clocks(page, label, d):
    r = next(r for r in page.part("recordings") if label ==
             "Residuals of %s in milliseconds" % cut(r["name"], 999))
    points = r["clock"]["residuals"]
    dots = d.of("path", "dot")
    ys, pixel = d.middles(dots, "y-tick", False)
    return near(ys, [p["off_s"] * 1000 for p in points], pixel) or \
        (None if sum("left-out" in s[1] for s in dots) ==
         sum(not p["used"] for p in points) else "outliers differ")


def supply(page, label, d):
    """The least of each strip stands beside it; frames lost are in a table."""
    key = {"Least reservoir": "reservoir_least",
           "Least supply": "voltage_least"}.get(" ".join(label.split()[:2]))
    if key is None:
        return None
    factor = 1 if key == "voltage_least" else page.words.pressure_factor
    least = []
    for unit in page.units:
        values = [u[key]["value"] for r in page.runs
                  for a in r["applications"] for u in a["units"]
                  if u["unit"] == unit["unit"] and
                  known(u.get(key, {}).get("value"))]
        if values:
            least.append(min(values) / factor)
    found = [float(s[6][6:].replace(MINUS, "-")) for s in d.of(
        "text", "small") if s[6].startswith("least ")]
    decimals = 2 if key == "voltage_least" else page.words.decimals
    return near(found, least, 0.51 * 10 ** -decimals)


def predict(page, label, d):
    names = {"first air to 75 % of settled": "fill",
             page.figure("release_end"): "release_end",
             page.figure("response"): "response"}
    kind, what = label.split(": ")
    rows = [f for u in page.part("predict") for f in u["figures"]
            if reads_as(f["kind"]) == kind and f["figure"] == names[what]]
    found, pixel = d.spans(d.of("rect", "interval"), "x-tick")
    wrong = near(found, [(f["low_s"], f["high_s"]) for f in rows
                         if known(f["low_s"])], PIXEL * pixel)
    found, pixel = d.middles(d.of("path", "dot"), "x-tick")
    return wrong or near(found, [f["measured_s"] for f in rows
                                 if known(f["measured_s"])], pixel)


def first(page, label, d):
    """Bars and band of the first screen; the train has a box per unit, and the
    marked one is that of the answer. Courses: course()."""
    odd = page.odd()
    if label.startswith("The combination from the side"):
        boxes = d.of("rect", "body")
        marked = d.of("rect", "marked")
        return None if len(boxes) == len(page.units) and \
            len(marked) == len(odd) else "%d boxes, %d marked" % (
                len(boxes), len(marked))
    if label.startswith(("Rise of", "Release of")):
        return None
    group = next(g for g in page.part("picture")
                 if label.endswith(", " + plain(g["condition"])))
    what = label[:-len(plain(group["condition"])) - 2]
    side = group["release" if what.startswith("Release") else "apply"]
    bars = []
    for u in side["units"]:
        ends = [v["median_s"] for v in (u["first"], u["second"])
                if known(v["median_s"])]
        if ends:
            bars.append((max(0, min(ends)), max(ends)))
    found, pixel = d.spans(d.of("rect", "span"), "x-tick")
    wrong = near(found, bars, 2.6 * pixel)
    found, pixel = d.spans(d.of("rect", "others"), "x-tick")
    others = side["others"]
    band = [(others["low_s"], others["high_s"])] if found else []
    if odd and others["units"] > 1 and any(
            u["odd"] and known(u["second"]["median_s"])
            for u in side["units"]) and not found:
        return "no band"
    return wrong or near(found, band, 2.6 * pixel)


def wave(page, label, d):
    """What fills the units is held to the recording by wave.py."""
    return None if d.of("rect", "tank") else "no unit"


def tested(page, label, d):
    missing = [u for u in page.units if not any(
        s[6] == cut(page.names[u["unit"]], 24) for s in d.shapes)]
    return "no box for %s" % missing if missing else None


KNOWN = {"tested": tested, "first": first, "wave": wave, "lanes": lanes,
         "medians": lanes, "comparison": comparison,
         "reach": reach, "characteristics": characteristics,
         "transducers": transducers, "clocks": clocks, "supply": supply,
         "predict": predict}


def check_drawings(browser, page, what, check):
    wrong, held = [], 0
    for section, label, shapes in browser.execute_script(SHAPES):
        if section not in KNOWN:
            wrong.append("%s: no check knows '%s'" % (section, label))
            continue
        found = KNOWN[section](page, label, Drawing(shapes))
        held += 1
        if found:
            wrong.append("%s, %s: %s" % (section, label, found))
    check("%s: %d drawings show what the JSON holds" % (what, held),
          held > 0 and not wrong, "\n    " + "\n    ".join(wrong[:12]))
