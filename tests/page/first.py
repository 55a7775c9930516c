# SPDX-License-Identifier: MIT
"""The first screen and the wave: where the verdict and the marked unit stand on
a telephone and on a desk, the courses against the result, what fills the units
against the log itself, and how still all of it is."""
import csv
import gzip
import math
import os
import re
import statistics
import time
from bisect import bisect_right

from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from writing import known

SCREENS = ((360, 640), (1280, 720))
FIRST_PIXELS = 640  # of the height: what is seen without a scroll on both
SIDE = """
    const side = document.querySelector('#first .side svg');
    return [...side.querySelectorAll('text:not(.unit-number)')].filter((t) =>
        t.firstChild.nodeType === 3).map((t) => { const b =
        t.getBoundingClientRect(); return [t.textContent, b.left, b.right,
        b.top]; });"""
BOXES = """
    const box = (e) => { const b = e.getBoundingClientRect();
        return [b.left, b.top + scrollY, b.right, b.bottom + scrollY]; };
    return {verdict: box(document.querySelector('.verdict')),
        said: document.querySelector('.said').textContent,
        marked: [...document.querySelectorAll('#first .body.marked')].map(
            (e) => [e.dataset.unit, box(e)]),
        share: document.querySelector('.verdict .words').offsetWidth /
            document.querySelector('.verdict').offsetWidth,
        wide: document.documentElement.scrollWidth};"""


def check_first(browser, open_page, path, odd, what, check):
    """`odd`: units that the picture marks, none of a sound train."""
    for width, height in SCREENS:
        open_page(browser, path, width, False, height)
        seen = browser.execute_script(BOXES)
        boxes = [seen["verdict"]] + [b for _, b in seen["marked"]]
        check("%s, %d x %d: the verdict is on the first screen" % (
            what, width, height), seen["said"] and all(
                b[3] <= FIRST_PIXELS and b[0] >= 0 and b[2] <= width
                for b in boxes), boxes)
        check("%s, %d px: the marked unit is that of the answer" % (what, width),
              [u for u, _ in seen["marked"]] == odd, seen["marked"])
        check("%s, %d px: words have more room than numbers" % (what, width),
              seen["share"] > 0.5, seen["share"])
        check("%s, %d px: nothing scrolls sideways" % (what, width),
              seen["wide"] <= width, seen["wide"])


def check_side(browser, open_page, path, what, check):
    """Where units have names above them, these are whole and apart."""
    for width in (768, 1280, 1920):
        open_page(browser, path, width, False, 720)
        seen = browser.execute_script(SIDE)
        names = browser.execute_script("return units.map(calledOf)")
        words = " ".join(t for t, *_ in seen)
        cut = [n for n in names if not all(w in words for w in n.split())]
        check("%s, %d px: units' names are whole" % (what, width),
              "\u2026" not in words and not cut, (words, cut))
        over = [(a, b) for i, a in enumerate(seen) for b in seen[i + 1:]
                if abs(a[3] - b[3]) < 8 and a[1] < b[2] and b[1] < a[2]]
        check("%s, %d px: no name lies over another" % (what, width),
              not over, over[:2])


def check_picture(result, what, check):
    """`picture` anew from `runs`: medians, extremes, band, marks, conditions."""
    found = {f["unit"] for f in result.get("findings", [])
             if f["severity"] != "note"}
    first = [s for s in result["answer"] if s["first"]][:1]
    lead = {s["unit"] for s in first if s["unit"]}
    condition = {r["name"]: r["condition"] for r in result["runs"]}
    wrong = []
    for group in result["picture"]:
        # A unit of which only the demand is wrong is odd where that was seen.
        odd = {u for u in lead if u not in found or any(
            f["group"] != "demand" or not f["run"] or group["condition"] in
            [condition[r] for r in f["runs"]]
            for f in result["findings"]
            if f["unit"] == u and f["severity"] != "note")}
        mine = [a for r in result["runs"] for a in r["applications"]
                if r["condition"] == group["condition"] and not a["excluded"]
                and all(a[k] == group[k] for k in ("combination", "kind",
                                                   "shape"))]
        if len(mine) != group["applications"]:
            wrong.append((group["condition"], len(mine)))
        for side in (group["apply"], group["release"]):
            others = []
            for u in side["units"]:
                for end in ("first", "second"):
                    values = [x[side[end]]["s"] for a in mine
                              for x in a["units"] if x["unit"] == u["unit"]
                              and known(x[side[end]]["s"]) and "near-damage"
                              not in (x[side[end]].get("flags") or [])]
                    expected = [len(values), statistics.median(values),
                                min(values), max(values)] if values else \
                        [0, None, None, None]
                    if not alike([u[end][k] for k in ("n", "median_s", "low_s",
                                                      "high_s")], expected):
                        wrong.append((u["unit"], end, u[end], expected))
                if u["odd"] != (u["unit"] in odd) or u["found"] != (
                        u["unit"] in lead | found):
                    wrong.append((u["unit"], u["odd"], u["found"]))
                if not u["found"] and u["second"]["n"]:
                    others.append(u["second"]["median_s"])
            band = [len(others), min(others), max(others)] if others else \
                [0, None, None]
            if not alike([side["others"][k] for k in ("units", "low_s",
                                                      "high_s")], band):
                wrong.append((side["others"], band))
    references = {c["reference"] for c in result.get("comparison", [])
                  if c["reference"]} | {"reference"}
    wrong += [g["condition"] for g in result["picture"]
              if g["condition"] in references]
    check("%s: %d pictures hold what the runs give" % (
        what, len(result["picture"])), not wrong, wrong[:4])


def alike(found, expected):
    return all(a == b if a is None or b is None else abs(a - b) < 1e-8
               for a, b in zip(found, expected))


COURSES = """
    return [...document.querySelectorAll('#first .pic')].filter((p) =>
        p.querySelector('.course')).map((p) => [p.getAttribute('aria-label'),
        ['x-tick', 'y-tick'].map((t) => [...p.querySelectorAll('text.' + t)].map(
            (e) => { const b = e.getBBox(); return [e.textContent, b.x + b.width
            / 2, b.y + b.height / 2]; })),
        [...p.querySelectorAll('.course')].map((c) => [c.dataset.unit,
            c.getAttribute('d')])]);"""


def check_courses(browser, result, factor, what, check):
    """Every point of every course against `picture` of the JSON, read by the
    drawing's own axes."""
    wrong, points = [], 0
    seen = browser.execute_script(COURSES)
    for title, (x_ticks, y_ticks), lines in seen:
        group = next(g for g in result["picture"]
                     if ", %s: " % g["condition"] in title)
        side = group["apply" if title.startswith("Rise") else "release"]

        def axis(ticks, place):
            a, b = ((float(t[0].replace("\u2212", "-")), t[place])
                    for t in (ticks[0], ticks[-1]))
            slope = (b[0] - a[0]) / (b[1] - a[1])
            return lambda p: a[0] + (p - a[1]) * slope, abs(slope)
        (x, px), (y, py) = axis(x_ticks, 1), axis(y_ticks, 2)
        for unit, path in lines:
            u = next(u for u in side["units"] if u["unit"] == unit)
            expected = [(side["from_s"] + i * side["step_s"], v / factor)
                        for i, v in enumerate(u["kpa"]) if known(v)]
            found = [tuple(map(float, p.split(",")))
                     for p in re.findall(r"[ML]([-0-9.]+,[-0-9.]+)", path)]
            points += len(found)
            if len(found) != len(expected) or any(
                    abs(x(a) - s) > px or abs(y(b) - v) > 1.5 * py
                    for (a, b), (s, v) in zip(found, expected)):
                wrong.append((title, unit, len(found), len(expected)))
    check("%s: %d points of courses are those of the JSON" % (what, points),
          points > 0 and not wrong, wrong[:4])


def check_names(browser, what, check):
    """Labels at the ends of courses are in the order of the courses; a name that
    is cut keeps what tells it from the others; red is a bar that ends after all of theirs."""
    leads, names, bars = browser.execute_script("""
        return [[...document.querySelectorAll('#first .pic')].map((p) =>
            [...p.querySelectorAll('.lead')].map((e) => e.getAttribute('d')
                .match(/[-0-9.]+/g).map(Number))).filter((l) => l.length),
            [6, 8, 11, 14, 20].map((n) => units.map((u) => shortOf(u, n))),
            [...document.querySelectorAll('#first .pic')].map((p) =>
                ['.span.marked', '.others'].map((c) => p.querySelector(c)).map(
                (e) => e && [Number(e.getAttribute('x')) +
                    Number(e.getAttribute('width')), Number(e.getAttribute('x'))])
                )];""")
    wrong = [l for l in leads if [e[3] for e in sorted(l, key=lambda e: e[1])] !=
             sorted(e[3] for e in l)]
    check("%s: %d drawings have their labels in order" % (what, len(leads)),
          leads and not wrong, wrong[:2])
    check("%s: cut names are told apart" % what, all(
        len(set(row)) == len(row) for row in names), names)
    check("%s: no bar that ends before the last of the others is red" % what,
          not any(mark and band and mark[0] < band[0] - 0.1
                  for mark, band in bars), bars)


INSTANTS = 20
# The page thins what lies close to a line (docs/report.md), and a unit's fill is
# drawn to a hundredth of a pixel of 52: what both may be off, as a share.
OFF = 0.015


def column_of(folder, run, unit):
    """Times and pressures of a demo unit's output, from the log as written."""
    with gzip.open(os.path.join(folder, run + ".csv.gz"), "rt",
                   encoding="utf-8") as file:
        rows = csv.reader(file)
        at = next(rows).index("output_%s [kPa]" % unit)
        kept = [(float(r[0]), float(r[at])) for r in rows if r[at]]
    return [k[0] for k in kept], [k[1] for k in kept]


def measured(times, values, at):
    i = bisect_right(times, at)
    if i == 0 or i == len(times):
        return math.nan
    share = (at - times[i - 1]) / (times[i] - times[i - 1])
    return values[i - 1] + share * (values[i] - values[i - 1])


DELAY_S = 0.001  # of every pressure channel of the demo's trial file
SHOW = """
    const player = document.querySelector('.player');
    player.wave.show(arguments[0]);
    return [...player.querySelectorAll('svg')].map((p) => [...p
        .querySelectorAll('.fill')].map((f) => [f.dataset.unit,
        Number(f.getAttribute('height')) / Number(f.dataset.high)]));"""


def check_wave(browser, result, folder, check):
    """The demo's log is read anew: t0, command and instants from the result."""
    wave = browser.execute_script(
        "return document.querySelector('.player').wave")
    end, lengths, top = wave["end"], wave["lengths"], wave["top"]
    logs, worst, many = {}, 0, 0
    for k in range(INSTANTS):
        at = end * (k + 0.5) / INSTANTS
        shown = browser.execute_script(SHOW, at)
        for group, units in zip(result["picture"], shown):
            run = next(r for r in result["runs"]
                       if r["name"] == group["replay"]["run"])
            a = next(a for a in run["applications"]
                     if a["number"] == group["replay"]["number"])
            late = at >= lengths["apply"]
            event = a["command"]["release_s" if late else "apply_s"]
            s = at - (lengths["apply"] if late else 0) + lengths["from"]
            stamp = int(run["t0_ns"]) * 1e-9 + event + s + DELAY_S
            for unit, share in units:
                key = (run["name"], unit)
                if key not in logs:
                    logs[key] = column_of(folder, *key)
                p = measured(*logs[key], stamp)
                worst = max(worst, abs(share - max(0, min(1, p / top))))
                many += 1
    check("the wave: %d fills at %d instants are what the log says (off by at "
          "most %.4f)" % (many, INSTANTS, worst), many == INSTANTS * sum(
              len(u) for u in shown) and many > 0 and worst < OFF, worst)


def value(browser):
    return float(browser.execute_script(
        "return document.querySelector('.player input').value"))


def check_still(browser, open_page, path, check):
    """Still until asked, keys step, reduced motion never moves by itself."""
    open_page(browser, path, 1280, False)
    time.sleep(0.4)
    check("the wave starts still", value(browser) == 0, value(browser))
    browser.find_element(By.XPATH, "//div[@class='player']//button[.='play']"
                         ).click()
    time.sleep(0.6)
    moved = value(browser)
    check("it plays when asked", moved > 0.02, moved)
    browser.find_element(By.XPATH, "//div[@class='player']//button[.='pause']"
                         ).click()
    held = value(browser)
    time.sleep(0.3)
    check("and stops when asked", value(browser) == held, value(browser))
    slider = browser.find_element(By.CSS_SELECTOR, ".player input")
    slider.send_keys(Keys.ARROW_RIGHT)
    check("an arrow key is a step of 0.1 s", abs(value(browser) - held - 0.1) <
          0.006, value(browser))
    said = slider.get_attribute("aria-valuetext")
    check("a screen reader gets every unit's pressure",
          "bin trailer C" in said and said.count(",") >= 10, said)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [
        {"name": "prefers-reduced-motion", "value": "reduce"}]})
    browser.get("file://" + path)
    names = browser.execute_script("""
        return [...document.querySelectorAll('.player button')].map((b) =>
            b.textContent);""")
    check("with reduced motion there are steps only", "play" not in names and
          len(names) == 2, names)
    browser.find_elements(By.CSS_SELECTOR, ".player button")[1].click()
    first = value(browser)
    time.sleep(0.3)
    check("a step is a step", abs(first - 0.1) < 0.006 and
          value(browser) == first, (first, value(browser)))


def check_breaks(pages, what, check):
    """Up to four sheets for people; no table's head and no key stays behind."""
    begins = [i for i, p in enumerate(pages) if "Appendix:" in p]
    check("%s: up to four pages for people, then the appendix" % what,
          len(begins) == 1 and 1 <= begins[0] <= 4, begins)
    last = [(p.rstrip().splitlines() or [""])[-1].strip() for p in pages]
    alone = [i + 1 for i, (p, line) in enumerate(zip(pages, last))
             if re.match(r"unit\s+(run|figure)\b", line)]
    check("%s: no table's head ends a sheet" % what, not alone, alone)
    more = [p.split("Further applications, and", 1)[1] for p in pages
            if "Further applications, and" in p]
    check("%s: further applications follow their heading" % what,
          more and "step \u2013 " in more[-1], more[-1:])


def check_paper(pages, what, check):
    """`pages`: the texts of a print's sheets."""
    first = pages[0]
    check("%s: page one has the answer and the job sheet" % what,
          "To check" in first and "signature" in first and "Apply" in first,
          first[:200])
    begins = [i for i, p in enumerate(pages) if "Appendix:" in p]
    check_breaks(pages, what, check)
    check("%s: hashes stand behind the appendix' heading only" % what,
          not any(re.search("[0-9a-f]{40}", p) for p in pages[:begins[0]])
          if begins else False)
    check("%s: four frames of the wave" % what, sum(
        len(re.findall(r"\d\.\d\d s after (?:the command|it is let go)", p))
        for p in pages[:4]) == 4)
