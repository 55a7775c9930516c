# SPDX-License-Identifier: MIT
"""The report as a browser shows it: browser.py TOOL TRIAL.

Expectations come from the JSON that `measure` writes, formatted here anew, and
from the browser (console, requests, layout, print); skipped (77) without one.
"""
import base64
import json
import math
import os
import re
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
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

TOOL, TRIAL = sys.argv[1:3]
FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic",
         "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync",
         "--window-size=1280,1000")
HOSTILE = ("</script><img src=x onerror=document.title='broken'> \"'&"
           "\u202eevil\u202c " + "long" * 20)
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
    options = Options()
    options.binary_location = chrome
    for flag in FLAGS + ("--user-data-dir=" + folder,):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs",
                           {"browser": "ALL", "performance": "ALL"})
    return webdriver.Chrome(service=Service(chromedriver), options=options)


def tool(*words):
    subprocess.run([TOOL, *words], check=True, stdin=subprocess.DEVNULL)


def minus(text):
    return "\u2212" + text[1:] if text.startswith("-") and \
        float(text) != 0 else text.lstrip("-")


def seconds(value, u):
    """As docs/report.md says: three decimals, twice u, rounded up."""
    wide = math.ceil(2 * u / 0.001 - 1e-9) * 0.001
    return "%s \u00b1 %.3f" % (minus("%.3f" % value), wide)


def figures(result):
    for run in result["runs"]:
        for a in run["applications"]:
            for unit in a["units"]:
                at = "|".join([run["name"], a["combination"],
                               str(a["number"]), unit["unit"]])
                for name, value in unit.items():
                    if isinstance(value, dict) and "s" in value:
                        yield at + "|" + name, value
                for value in unit["levels"]:
                    yield "%s|level %g" % (at, value["kpa"]), value


def near(shown, expected):
    """Equal, or off by one in the last place: both round a decimal half."""
    a, b = ([float(x.replace("\u2212", "-")) for x in t.split(" \u00b1 ")]
            for t in (shown, expected))
    return len(a) == len(b) and all(abs(x - y) < 0.00101 for x, y in zip(a, b))


def check_figures(browser, result):
    shown = browser.execute_script("""
        document.querySelectorAll('details').forEach((d) => {
            if (d.fillIn) { d.fillIn(); } });
        return Object.fromEntries([...document.querySelectorAll('[data-at]')]
            .map((c) => [c.dataset.at, c.firstChild.textContent]));""")
    wrong, seen = [], 0
    for at, value in figures(result):
        if at not in shown:
            if value.get("reason") != "no-channel":
                wrong.append((at, "not in the page"))
            continue
        seen += 1
        if value["s"] is None:
            if not shown[at].startswith("\u2013"):
                wrong.append((at, shown[at]))
        elif not near(shown[at], seconds(value["s"], value["u_s"])):
            wrong.append((at, shown[at], seconds(value["s"], value["u_s"])))
    check("every figure equals the JSON (%d)" % seen, seen > 100 and not wrong,
          wrong[:5])


def check_chart(browser):
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


def open_page(browser, path, width, dark):
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
        "width": width, "height": 1000, "deviceScaleFactor": 1,
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


def check_print(browser, folder):
    for paper, size in (("A4", (8.27, 11.69)), ("Letter", (8.5, 11))):
        made = browser.execute_cdp_cmd("Page.printToPDF", {
            "paperWidth": size[0], "paperHeight": size[1]})
        path = os.path.join(folder, paper + ".pdf")
        with open(path, "wb") as file:
            file.write(base64.b64decode(made["data"]))
        check("%s prints" % paper, os.path.getsize(path) > 20000)
        text = subprocess.run(["pdftotext", "-layout", path, "-"],
                              check=True, capture_output=True).stdout.decode()
        check("%s: the cautions are there" % paper, "Cautions" in text)
    # A table is cut where it is wider than what holds it on paper.
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
        "width": 680, "height": 1000, "deviceScaleFactor": 1, "mobile": False})
    cut = browser.execute_script("""
        return [...document.querySelectorAll('.wide')].filter((w) =>
            w.scrollWidth > w.clientWidth + 1).map((w) => w.ariaLabel + ' ' +
            w.scrollWidth + ' of ' + w.clientWidth);""")
    check("no table is cut in print", not cut, cut[:5])
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def hostile_trial(folder):
    """A trial whose every name tries to be markup."""
    path = os.path.join(folder, "hostile.ini")
    name = HOSTILE.strip()
    with open(path, "w", encoding="utf-8") as file:
        file.write("[trial]\nname = %s\ntables = j1939-brakes\n"
                   "[unit 0]\nname = %s\ncommand = p\n"
                   "command_kind = treadle-pressure\ncommand_at = 20 kPa\n"
                   "output = q\n[channel p]\nquantity = pressure\n"
                   "measured_in = kPa\n[channel q]\nquantity = pressure\n"
                   "measured_in = kPa\n[run R]\ncondition = %s\n"
                   "logs = hostile.csv\n[record]\nplace = %s\n"
                   % (name, name, name, name))
    with open(os.path.join(folder, "hostile.csv"), "w") as file:
        file.write("time,p,q\n")
        for i in range(1200):
            on = 300 if 400 <= i < 800 else 0
            late = 300 if 420 <= i < 830 else 0
            file.write("%.3f,%d,%d\n" % (i / 100, on, late))
    return path


def check_hostile(browser, folder):
    page = os.path.join(folder, "hostile.html")
    tool("report", hostile_trial(folder), "-q", "-o", page)
    with open(page, "rb") as file:
        text = file.read().decode()
    open_page(browser, page, 1280, False)
    found = browser.execute_script("""
        const text = document.getElementById('page').textContent;
        return {images: document.images.length, bidi: /[\\u202a-\\u202e]/
            .test(text), shown: text.includes('</script><img'),
            scripts: document.scripts.length};""")
    check("a hostile name makes no element", found["images"] == 0 and
          found["scripts"] == 5, found)
    check("it is shown as text", found["shown"], found)
    check("what turns text around is written out", not found["bidi"], found)
    check("it is escaped in the file", "</script><img" not in text)
    check_quiet(browser, "file://" + page, "hostile names")


def main():
    with tempfile.TemporaryDirectory() as folder:
        page = os.path.join(folder, "report.html")
        data = os.path.join(folder, "result.json")
        tool("report", TRIAL, "-q", "-o", page)
        tool("measure", TRIAL, "-q", "--json", "-o", data)
        with open(data, encoding="utf-8") as file:
            result = json.load(file)
        size = os.path.getsize(page)
        check("at most 4 MB", size <= 4e6, size)
        browser = start(os.path.join(folder, "profile"))
        try:
            open_page(browser, page, 1280, False)
            took = open_page(browser, page, 1280, False)
            print("     usable after %.2f s, %d bytes" % (took, size))
            check_chart(browser)
            check_print(browser, folder)
            check_figures(browser, result)
            check_quiet(browser, "file://" + page, "report")
            check_layout(browser, page,
                         os.environ.get("BL_PICTURES", folder))
            check_quiet(browser, "file://" + page, "all widths")
            check_hostile(browser, folder)
        finally:
            browser.quit()
    sys.exit(1 if failed else 0)


main()
