# SPDX-License-Identifier: MIT
"""The report as a browser shows it: browser.py TOOL TRIAL SCENARIO STEPS.

Expectations come from the JSON result, written out anew (tables.py, studies.py),
and from the browser (console, requests, layout, print); skipped (77) without
one. SCENARIO gives the largest trial that a page is meant for, STEPS the files
of one whose curves are made on paper.
"""
import base64
import csv
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time

try:
    from selenium import webdriver
except ImportError:
    if sys.executable != "/usr/bin/python3" and os.path.exists(
            "/usr/bin/python3"):
        os.execv("/usr/bin/python3", ["/usr/bin/python3"] + sys.argv)
    print("skipped: python3-selenium is not installed")
    sys.exit(77)
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

import every
import first
import hostile
import lives
import repair
import sound

TOOL, TRIAL, SCENARIO, STEPS = sys.argv[1:5]
FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic",
         "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync",
         "--window-size=1280,1000")
failed = []


def check(what, holds, found=""):
    print("%s %s%s" % ("ok  " if holds else "FAIL", what,
                       "" if holds else ": %s" % (found,)))
    if not holds:
        failed.append(what)


def start(folder):
    chrome = "/usr/bin/chromium"
    chromedriver = "/usr/bin/chromedriver"
    if not (os.path.exists(chrome) and os.path.exists(chromedriver)):
        print("skipped: chromium and chromium-driver are not installed")
        sys.exit(77)
    if not shutil.which("pdftotext"):
        print("skipped: pdftotext is not installed")
        sys.exit(77)
    options = Options()
    options.binary_location = chrome
    for flag in FLAGS + ("--user-data-dir=" + folder,):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs",
                           {"browser": "ALL", "performance": "ALL"})
    return webdriver.Chrome(service=Service(chromedriver), options=options)


def tool(*words):
    subprocess.run([TOOL, *words], check=True, stdin=subprocess.DEVNULL)


def check_written(*words):
    """A report that says what is wrong is a report: 1, 3 and 4 are fine."""
    code = subprocess.run([TOOL, *words], stdin=subprocess.DEVNULL).returncode
    check("the report is written", code in (0, 1, 3, 4), code)


def without_parts(value):
    """As docs/report.md says: the parts of an uncertainty are left out."""
    if isinstance(value, list):
        return [without_parts(v) for v in value]
    if not isinstance(value, dict):
        return value
    return {k: without_parts(v) for k, v in value.items() if k != "u_parts"}


def check_figures(browser, path, folder, what):
    """Every figure of the page against the JSON of the same trial."""
    data = os.path.join(folder, what + ".json")
    check_written("report", path, "-q", "--format", "json", "-o", data)
    with open(data, encoding="utf-8") as file:
        result = json.load(file)
    inside = browser.execute_script("return result")
    wrong = [k for k in result if without_parts(result[k]) != inside.get(k)]
    check("%s: the page holds the result" % what, set(inside) == set(result)
          and not wrong, wrong)
    words = browser.execute_script("return words")
    first.check_picture(result, what, check)
    every.check_every(browser, result, words, what, check)
    return result, words


def open_applications(browser):
    browser.execute_script(
        "document.querySelector('#applications .fold').open = true")


def check_chart(browser):
    open_applications(browser)
    browser.execute_script("document.querySelector('details.app[open] .chart')"
                           ".scrollIntoView({block: 'center'})")
    time.sleep(1)
    got = browser.execute_script("""
        const app = document.querySelector('details.app[open]');
        const holder = app.querySelector('.charts');
        const chart = holder.charts[0];
        const press = (key) => app.querySelector('.chart').dispatchEvent(
            new KeyboardEvent('keydown', {key: key, bubbles: true}));
        const range = () => chart.graph().xAxisRange();
        const before = range();
        press('+');
        const closer = range();
        press('0');
        const after = range();
        for (let i = 0; i < 60; i++) { press('ArrowRight'); }
        return {before: before, closer: closer, after: after,
            time: holder.querySelector('.time').textContent,
            values: [...holder.querySelectorAll('.value')].map(
                (v) => v.textContent)};""")
    width = [r[1] - r[0] for r in (got["before"], got["closer"], got["after"])]
    check("plus halves the time shown", abs(width[1] / width[0] - 0.5) < 0.01,
          width)
    check("0 shows all again", abs(width[2] / width[0] - 1) < 0.01, width)
    check("the cursor says its time", re.search(r"\d", got["time"]), got)
    check("the cursor says values",
          any(re.search(r"\d", v) for v in got["values"]), got)


def own(url, page):
    return url.startswith(("data:", "about:", "blob:")) or \
        url.split("#")[0] == page


def check_quiet(browser, page, what):
    errors = [e["message"] for e in browser.get_log("browser")]
    check("%s: nothing in the console" % what, not errors, errors[:3])
    asked = set()
    for entry in browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            if message["params"].get("documentURL", page) == page:
                asked.add(message["params"]["request"]["url"])
    others = [u for u in asked if not own(u, page)]
    check("%s: the page asks for nothing" % what, not others, others[:3])


def open_page(browser, path, width, dark, height=1000):
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
        "width": width, "height": height, "deviceScaleFactor": 1,
        "mobile": False})
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [
        {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    ]})
    begun = time.time()
    browser.get("file://" + path)
    ready = browser.execute_script(
        "return document.documentElement.dataset.ready")
    check("the page is built", ready == "yes", ready)
    return time.time() - begun


def check_layout(browser, path, folder):
    for width in (360, 1280, 2400):
        for dark in (False, True):
            open_page(browser, path, width, dark)
            size = browser.execute_script(
                "return document.documentElement.scrollWidth")
            check("%d px%s: only tables scroll sideways" %
                  (width, " dark" if dark else ""), size <= width, size)
            name = os.path.join(folder, "page-%d-%s.png" % (
                width, "dark" if dark else "light"))
            browser.save_screenshot(name)
            check("a picture of it", os.path.getsize(name) > 10000)


def check_hands(browser, page):
    """Mouse and keyboard as a reader has them."""
    chart = browser.find_element(By.CSS_SELECTOR, "details.app[open] .chart")
    browser.execute_script(
        "arguments[0].scrollIntoView({block: 'center'})", chart)
    time.sleep(0.5)

    def whole():
        return browser.execute_script("""
            return document.querySelector('details.app[open] .charts')
                .charts[0].graph().xAxisRange();""")
    first = whole()
    ActionChains(browser).move_to_element_with_offset(chart, -100, 0) \
        .click_and_hold().move_by_offset(200, 0).release().perform()
    time.sleep(0.3)
    zoomed = whole()
    check("a drag zooms", 0.05 < (zoomed[1] - zoomed[0]) /
          (first[1] - first[0]) < 0.5, (first, zoomed))
    ActionChains(browser).key_down(Keys.SHIFT) \
        .move_to_element_with_offset(chart, 0, 0).click_and_hold() \
        .move_by_offset(-60, 0).release().key_up(Keys.SHIFT).perform()
    time.sleep(0.3)
    moved = whole()
    check("shift and drag pan", moved[0] > zoomed[0] + 0.001 and
          abs((moved[1] - moved[0]) - (zoomed[1] - zoomed[0])) < 0.01,
          (zoomed, moved))
    ActionChains(browser).double_click(chart).perform()
    time.sleep(0.5)
    check("a double click shows all", abs(whole()[1] - first[1]) < 0.01,
          whole())
    ActionChains(browser).move_to_element_with_offset(chart, 40, 10).perform()
    said = browser.execute_script("""
        const holder = document.querySelector('details.app[open] .charts');
        return holder.querySelector('.time').textContent;""")
    check("the cursor follows the mouse", re.search(r"time \d", said), said)
    # By keyboard alone: Tab reaches every control, the chart takes keys.
    browser.get("file://" + page)
    names = []
    for _ in range(160):
        ActionChains(browser).send_keys(Keys.TAB).perform()
        names.append(browser.execute_script("""
            const e = document.activeElement;
            return e.className + ' ' + e.tagName + ' ' + (e.tagName ===
                'SUMMARY' ? e.textContent : '');"""))
        if names[-1].endswith("Every application"):
            ActionChains(browser).send_keys(Keys.ENTER).perform()
        if names[-1].startswith("chart "):
            break
    check("Tab reaches the way to the answer first", names[0].startswith("skip"),
          names[:3])
    check("Tab reaches a chart", names[-1].startswith("chart "), names[-3:])
    ActionChains(browser).send_keys("+").perform()
    closer = whole()
    check("a key zooms", abs((closer[1] - closer[0]) / (first[1] - first[0]) -
                             0.5) < 0.02, closer)
    ActionChains(browser).send_keys("0").perform()


# Inside of the page's margins of 13 mm, in CSS pixels of 1/96 inch.
PAPER = (("A4", 8.27, 11.69, 695), ("Letter", 8.5, 11, 717))


NOTE = "Linings of the rear bogie are new; hose 3 was swapped."


def printed(browser, path, width, height):
    """The page as the printer gets it, its text."""
    made = browser.execute_cdp_cmd("Page.printToPDF", {
        "paperWidth": width, "paperHeight": height})
    with open(path, "wb") as file:
        file.write(base64.b64decode(made["data"]))
    return subprocess.run(["pdftotext", "-layout", path, "-"],
                          check=True, capture_output=True).stdout.decode()


def check_first_sheet(browser, folder):
    """However much was found and to do, the job sheet is part of page one."""
    for paper, width, height, _ in PAPER:
        pages = printed(browser, os.path.join(folder, "one.pdf"), width,
                        height).split("\f")
        sheet = pages[0]
        check("%s: page one has the answer and the job sheet" % paper,
              "To check" in sheet and "signature" in sheet, sheet[:200])
        first.check_breaks(pages, paper, check)


def check_note(browser, folder):
    """`note` of [record] stands on the printed job sheet, before the room for
    another one; what else [record] says does not."""
    for paper, width, height, _ in PAPER:
        text = printed(browser, os.path.join(folder, "note.pdf"), width, height)
        sheet = text.split("\f")[0].partition("To check")[2]
        words = " ".join(sheet.partition("signature")[0].split())
        check("%s: the job sheet on page one has the note" % paper,
              "Note: " + NOTE in words and "weather" not in words, sheet[:600])


def check_print(browser, folder):
    for paper, width, height, _ in PAPER:
        path = os.path.join(folder, paper + ".pdf")
        text = printed(browser, path, width, height)
        check("%s prints" % paper, os.path.getsize(path) > 20000)
        check("%s: the cautions are there" % paper, "Cautions" in text)
        check("%s: at most 45 sheets" % paper, text.count("\f") <= 45,
              text.count("\f"))
        first.check_paper(text.split("\f"), paper, check)


def check_cut(browser):
    """On paper nothing scrolls: what is wider than the sheet is cut."""
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'));"
                           "document.querySelectorAll('.bulk').forEach((d) =>"
                           "{ d.open = true; d.fillIn(); });")
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    for paper, _, _, width in PAPER:
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": 1000, "deviceScaleFactor": 1,
            "mobile": False})
        seen, cut = browser.execute_script("""
            const all = [...document.querySelectorAll('table, .pic')];
            const shown = all.filter((t) => t.getClientRects().length);
            return [shown.length, shown.filter((t) => t.getBoundingClientRect()
                .right > innerWidth + 1).map((t) => (t.caption ?
                t.caption.textContent : t.getAttribute('aria-label')) + ' ' +
                t.getBoundingClientRect().right)];""")
        check("%s: no table or drawing of %d is cut" % (paper, seen),
              seen > 20 and not cut, cut[:5])
        check_letters(browser, paper)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    browser.execute_script("window.dispatchEvent(new Event('afterprint'))")


# 8 pt in pixels of 1/96 inch; a unit's name that is longer may break.
EIGHT_POINTS = 8 * 96 / 72
LETTERS = """
    const least = arguments[0];
    const small = [], broken = [];
    const walk = document.createTreeWalker(document.getElementById('page'),
        NodeFilter.SHOW_TEXT);
    for (let n = walk.nextNode(); n; n = walk.nextNode()) {
        const e = n.parentElement;
        if (!n.data.trim() || !e.getClientRects().length ||
            e.closest('title, .sr')) { continue; }
        const s = e.closest('svg');
        const scale = s ? s.getBoundingClientRect().width /
            s.viewBox.baseVal.width : 1;
        const size = parseFloat(getComputedStyle(e).fontSize) * scale;
        if (size < least - 0.02) { small.push([size, n.data.slice(0, 40)]); }
    }
    document.querySelectorAll('.unit-name').forEach((e) => {
        if (e.getClientRects().length > 1) { broken.push(e.textContent); }
    });
    return [small.length, small.slice(0, 5), broken.slice(0, 5)];"""


def check_letters(browser, paper):
    """On paper nothing is under 8 pt, and a unit's name stays in one piece."""
    many, small, broken = browser.execute_script(LETTERS, EIGHT_POINTS)
    check("%s: no letter under 8 pt" % paper, not many, (many, small))
    check("%s: no unit's name is broken" % paper, not broken, broken)


def check_hostile(browser, folder):
    page = os.path.join(folder, "hostile.html")
    tool("report", hostile.trial(folder), "-q", "-o", page)
    with open(page, "rb") as file:
        text = file.read().decode()
    open_page(browser, page, 1280, False)
    check_figures(browser, os.path.join(folder, "hostile.ini"), folder,
                  "hostile")
    found = browser.execute_script("""
        const text = document.getElementById('page').textContent;
        return {images: document.images.length, bold: document
            .querySelectorAll('[onmouseover]').length,
            bidi: /[\\u0000-\\u0009\\u000b-\\u001f\\u007f-\\u009f\\u202a-\\u202e\\u2066-\\u2069]/
            .test(text), shown: text.includes('</script><img'),
            title: document.title, scripts: document.scripts.length,
            wide: document.documentElement.scrollWidth};""")
    check("a hostile name makes no element", found["images"] == 0 and
          found["bold"] == 0 and found["scripts"] == 5 and
          found["title"] != "broken", found)
    check("a long name leaves the page its width", found["wide"] <= 1280,
          found)
    check("it is shown as text", found["shown"], found)
    check("what turns text around is written out", not found["bidi"], found)
    check("it is escaped in the file", "</script><img" not in text)
    shown = re.search("<noscript>(.*)</noscript>", text, re.S).group(1)
    check("the text without scripts writes them out too",
          not re.search("[\u202a-\u202e\u2066-\u2069]", shown) and
          "\u2039202E\u203a" in shown)
    check_quiet(browser, "file://" + page, "hostile names")
    picture(browser, "hostile.png")
    check_cut(browser)


def picture(browser, name):
    if "BL_PICTURES" in os.environ:
        browser.save_screenshot(os.path.join(os.environ["BL_PICTURES"], name))


def check_wide(browser, folder):
    """Size, and the time until the page can be used: of the page's own thread,
    because a test machine does other work too."""
    place = os.path.join(folder, "wide")
    page = os.path.join(place, "wide.html")
    os.mkdir(place)
    tool("simulate", SCENARIO, "-q", "--directory", place)
    begun = time.time()
    subprocess.run([TOOL, "report", os.path.join(place, "trial.ini"), "-q",
                    "-o", page], stdin=subprocess.DEVNULL)
    size = os.path.getsize(page)
    print("     report wrote %d bytes in %.2f s" % (size, time.time() - begun))
    check("6 runs, 8 units, 60 applications: at most 4 MB", size <= 4e6, size)
    browser.execute_cdp_cmd("Performance.enable", {"timeDomain": "threadTicks"})
    times = []
    for _ in range(3):
        wall = open_page(browser, page, 1280, False)
        busy = {m["name"]: m["value"] for m in browser.execute_cdp_cmd(
            "Performance.getMetrics", {})["metrics"]}["TaskDuration"]
        times.append((busy, wall))
    print("     usable after " + ", ".join("%.2f s (%.2f s at work)" %
                                           (w, b) for b, w in times))
    check("usable in under 1 s", min(times)[0] < 1, times)
    seen = browser.execute_script("""
        return [result.runs.length, units.length, result.runs.reduce((n, r) =>
            n + r.applications.length, 0), document.querySelectorAll(
            'details.app').length];""")
    check("all of it is there", seen == [6, 8, 60, 60], seen)
    check_quiet(browser, "file://" + page, "the wide train")
    check_figures(browser, os.path.join(place, "trial.ini"), place, "wide")
    first.check_names(browser, "wide", check)
    first.check_side(browser, open_page, page, "wide", check)
    check_first_sheet(browser, place)


def check_unread(browser, folder):
    """A run whose recordings are gone is named above the answer, on a
    telephone's first screen."""
    place = os.path.join(folder, "wide")
    page = os.path.join(place, "unread.html")
    for name in os.listdir(place):
        if name.startswith("P2."):
            os.remove(os.path.join(place, name))
    subprocess.run([TOOL, "report", os.path.join(place, "trial.ini"), "-q",
                    "-o", page], stdin=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL)
    open_page(browser, page, 360, False, 640)
    text, bottom = browser.execute_script("""
        const line = document.querySelector('header .unread');
        return [line.textContent, line.getBoundingClientRect().bottom];""")
    check("a run that was not measured is named first",
          text.startswith("Not measured: run P2.") and bottom < 640,
          (text, bottom))
    for name in sorted(os.listdir(place)):
        if name.startswith("P3.") and ".pcapng" in name:
            os.remove(os.path.join(place, name))
    subprocess.run([TOOL, "report", os.path.join(place, "trial.ini"), "-q",
                    "-o", page], stdin=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL)
    open_page(browser, page, 360, False, 640)
    lines = browser.execute_script("""
        return [...document.querySelectorAll('header .unread')].map((line) =>
            [line.textContent, line.getBoundingClientRect().bottom]);""")
    check("so is a bus recording that was not read", len(lines) == 2 and
          lines[1][0].startswith("Not read: the bus recording of run P3") and
          lines[1][1] < 640, lines)


def check_bundle(folder, result):
    """The findings in JSON and in the bundle's CSV are the same ones."""
    place = os.path.join(folder, "bundle")
    tool("report", TRIAL, "-q", "--bundle", place)
    with open(os.path.join(place, "findings.csv"), encoding="utf-8",
              newline="") as file:
        rows = {(r["code"], r["unit"], r["text"])
                for r in csv.DictReader(file)
                if r["shown"] != "not-looked-for"}
    known = {(f["code"], f["unit"] or "", f["text"])
             for f in result["findings"] + result["cannot_tell"]}
    check("findings.csv has the findings of the JSON (%d)" % len(known),
          rows == known, rows ^ known)


def check_steps(browser, folder):
    """Curves with points, candidates and a doubled transducer, from the golden
    case that makes them on paper."""
    place = os.path.join(folder, "steps")
    shutil.copytree(STEPS, place)
    subprocess.run(["awk", "-f", "make.awk"], check=True, cwd=place,
                   env=dict(os.environ, LC_ALL="C"))  # decimal points
    with open(os.path.join(place, "trial.ini"), "a", encoding="utf-8") as file:
        file.write("\n[record]\nnote = %s\nweather = dry\n" % NOTE)
    page = os.path.join(place, "steps.html")
    tool("report", os.path.join(place, "trial.ini"), "-q", "-o", page)
    open_page(browser, page, 1280, False)
    check_figures(browser, os.path.join(place, "trial.ini"), place, "steps")
    check_quiet(browser, "file://" + page, "steps")
    check_cut(browser)
    check_note(browser, folder)


def check_units(browser, folder):
    """Sentences of findings in another unit, the same cases as in the test of
    the text (tests/unit/report): 1 psi = 6.894757 kPa (NIST SP 811, B.8)."""
    page = os.path.join(folder, "psi.html")
    tool("report", TRIAL, "-q", "--pressure-unit", "psi", "-o", page)
    open_page(browser, page, 1280, False)
    cases = {"it fell from 640 to 571 kPa": "it fell from 92.8 to 82.8 psi",
             "at 35.0 ± 0.7 kPa of": "at 5.08 ± 0.10 psi of",
             "-14 to 5 kPa, 20 kPa/s": "-2.0 to 0.7 psi, 2.9 psi/s",
             "kN/kPa; to 7 kPa": "kN/kPa; to 1.0 psi",
             "no kPa, nor . kPa": "no kPa, nor . kPa"}
    found = {c: browser.execute_script("return inUnits(arguments[0])", c)
             for c in cases}
    check("sentences in psi", found == cases, found)
    check_quiet(browser, "file://" + page, "psi")


def check_release(browser, folder):
    """A real brake release, bus only: open data that may not be here."""
    name = "truck-brake-release/release_2if_us.pcapng"
    data = os.path.join(os.environ.get("BL_SHARED_DATA", "/nonexistent"), name)
    if not os.path.exists(data):
        print("     no real recording: %s" % name)
        return
    path = os.path.join(folder, "release.ini")
    page = os.path.join(folder, "release.html")
    with open(path, "w", encoding="utf-8") as file:
        file.write("[trial]\nname = release\ntables = j1939-brakes\n"
                   "[unit 0]\nname = truck\n"
                   "command = EBC1.pedal_position@0x0B\n"
                   "command_kind = control-movement\ncommand_at = 5 %%\n"
                   "[unit 1]\nname = trailer\n[run only]\ncaptures = %s\n" %
                   data)
    check_written("report", path, "-q", "-o", page)
    open_page(browser, page, 1280, False)
    said = browser.execute_script(
        "return document.getElementById('page').textContent")
    check("release: nothing is called unknown", "unknown" not in said,
          said[max(0, said.find("unknown") - 60):][:120])
    check("release: no fault is claimed of a link that nobody recorded",
          not browser.execute_script("return result.findings"))
    check("release: what was not recorded is marked so",
          "rise not recorded" in said and "began before the recording" in said)
    check_figures(browser, path, folder, "release")
    check_quiet(browser, "file://" + page, "release")


def main():
    with tempfile.TemporaryDirectory() as folder:
        page = os.path.join(folder, "report.html")
        tool("report", TRIAL, "-q", "-o", page)
        size = os.path.getsize(page)
        check("at most 4 MB", size <= 4e6, size)
        browser = start(os.path.join(folder, "profile"))
        try:
            open_page(browser, page, 1280, False)
            took = open_page(browser, page, 1280, False)
            print("     usable after %.2f s, %d bytes" % (took, size))
            check_chart(browser)
            check_hands(browser, page)
            check_print(browser, folder)
            known = check_figures(browser, TRIAL, folder, "demo")
            first.check_courses(browser, known[0], 1, "demo", check)
            first.check_names(browser, "demo", check)
            first.check_wave(browser, known[0], os.path.dirname(TRIAL), check)
            check_cut(browser)
            every.check_catches(browser, *known, check)
            check_bundle(folder, known[0])
            check_quiet(browser, "file://" + page, "report")
            check_layout(browser, page,
                         os.environ.get("BL_PICTURES", folder))
            check_quiet(browser, "file://" + page, "all widths")
            first.check_first(browser, open_page, page, ["4"], "demo", check)
            first.check_still(browser, open_page, page, check)
            check_steps(browser, folder)
            check_units(browser, folder)
            lives.check_lives(browser, folder, TOOL, open_page, check)
            check_quiet(browser, "file://" + lives.page_in(folder), "lives")
            repair.check_repair(browser, folder, TOOL, os.path.abspath(TRIAL),
                                open_page, check)
            page = sound.check_sound(browser, folder, TOOL, open_page, check)
            check_quiet(browser, "file://" + page, "sound")
            check_first_sheet(browser, folder)
            check_release(browser, folder)
            check_hostile(browser, folder)
            check_wide(browser, folder)
            check_unread(browser, folder)
        finally:
            browser.quit()
    sys.exit(1 if failed else 0)


main()
