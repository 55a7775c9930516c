# SPDX-License-Identifier: MIT
"""Units over their visits on the page, held to the JSON of the same report."""
import json
import os
import subprocess
import sys

CLI = os.path.join(os.path.dirname(os.path.dirname(os.path.abspath(__file__))), "cli")


def page_in(folder):
    return os.path.join(folder, "lives", "lives.html")


def check_lives(browser, folder, tool, open_page, check):
    """Units over their visits, from the golden case of it: what the page draws
    against the JSON."""
    tool = os.path.abspath(tool)
    place = os.path.join(folder, "lives")
    os.mkdir(place)
    words = {"cwd": place, "check": True, "stdout": subprocess.DEVNULL}
    subprocess.run([sys.executable, os.path.join(CLI, "visit.py"), "sound"], **words)
    subprocess.run([sys.executable, os.path.join(CLI, "earlier.py"), "state"], **words)
    subprocess.run([tool, "measure", "trial.ini", "-q", "--json", "-o", "now.json"],
                   **words)
    subprocess.run([sys.executable, os.path.join(CLI, "earlier.py"), "visits"], **words)
    subprocess.run([tool, "history", "add", "--history", "h", "-q"] +
                   ["v%d.json" % v for v in range(5)], **words)
    for form, name in (("page", "lives.html"), ("json", "lives.json")):
        subprocess.run([tool, "report", "trial.ini", "-q", "--history", "h",
                        "--format", form, "-o", name], **words)
    with open(os.path.join(place, "lives.json"), encoding="utf-8") as file:
        told = json.load(file)["lives"]
    page = page_in(folder)
    for width, dark in ((1280, False), (360, True)):
        open_page(browser, page, width, dark)
        drawn = browser.execute_script(
            "return [...document.querySelectorAll('#lives .one-life')].map((n) => ["
            "n.querySelectorAll('p').length, n.querySelectorAll('.dot').length,"
            "n.querySelectorAll('.whisker').length,"
            "n.querySelectorAll('.life-band').length, n.querySelector('h3')"
            "  .textContent, document.documentElement.scrollWidth <= innerWidth])")
        wanted = []
        for life in told:
            lead = [s for s in life["series"] if s["lead"]][0]
            points = len(lead["points"])
            wanted.append([len(life["answer"]), points, points,
                           int(lead["control_low_s"] is not None),
                           "Unit %s, %s" % (life["unit_id"], life["name"]), True])
        check("lives: what is drawn is what was found, %d wide" % width,
              drawn == wanted and len(told) == 2, (drawn, wanted))
    check("lives: every figure of every unit, and no part of the result raw",
          browser.execute_script(
              "document.querySelectorAll('#lives-figures details').forEach((d) => {"
              "d.open = true; if (d.fillIn) d.fillIn();});"
              "return [[...document.querySelectorAll('#lives-figures tbody')].map("
              "(b) => b.rows.length), document.querySelectorAll('[id^=part-]').length]")
          == [[len(life["series"]) for life in told], 0], told[0]["unit_id"])
    slow = [life for life in told if life["unit"] == "3"][0]
    check("lives: the one that drifts has no band", [s["control_low_s"] for s in
          slow["series"] if s["lead"]] == [None], slow)
    heights = browser.execute_script(
        "return [...document.querySelectorAll('#lives .one-life')].map((n) => ["
        "...n.querySelectorAll('.dot')].map((d) => d.getBoundingClientRect().top))")
    check("lives: later stands higher", heights[1] == sorted(heights[1], reverse=True)
          and heights[1][0] - heights[1][-1] > 40, heights)
