# SPDX-License-Identifier: MIT
"""The demo's train after the repair of its slow unit, beside the visit before: what
the page says and draws of it, wide and narrow."""
import os
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
CLI = os.path.join(os.path.dirname(HERE), "cli")
SAID = ("Unit BT-0417 over its visits: 75 % of settled, full, powered: faster by "
        "0.4")
SHAPES = """
    return [[...document.querySelectorAll('#lives .one-life')].map((n) => [
        n.querySelector('h3').textContent, n.querySelector('p').textContent,
        [...n.querySelectorAll('.dot')].map((d) =>
            Math.round(d.getBoundingClientRect().top))]),
        [...document.querySelectorAll('#answer li')].map((n) => n.textContent),
        document.querySelector('#first .said, #first').textContent,
        document.documentElement.scrollWidth <= innerWidth]"""


def check_repair(browser, folder, tool, trial, open_page, check):
    tool = os.path.abspath(tool)
    after = os.path.join(folder, "after")
    words = {"cwd": folder, "check": True, "stdout": subprocess.DEVNULL}
    subprocess.run([sys.executable, os.path.join(CLI, "second_visit.py"), tool,
                    after], **words)
    subprocess.run([tool, "history", "add", trial, "--history", "kept", "-q"],
                   **words)
    subprocess.run([tool, "report", os.path.join(after, "trial.ini"), "-q",
                    "--history", "kept", "-o", "after.html"], **words)
    for width in (1280, 360):
        open_page(browser, os.path.join(folder, "after.html"), width, False)
        lives, answer, first, fits = browser.execute_script(SHAPES)
        what = "repair, %d wide: " % width
        check(what + "what was repaired is told before the rest",
              answer[0].startswith(SAID) and
              not any("over its visits" in a for a in answer[1:]), answer)
        check(what + "the unit that was slow is not named any more",
              "Bin trailer B" in first and "railer C fills" not in first, first)
        by = {title: (said, tops) for title, said, tops in lives}
        said, tops = by["Unit BT-0417, bin trailer C"]
        check(what + "its drawing falls from visit to visit",
              len(tops) == 2 and tops[1] - tops[0] > 40 and "faster" in said,
              (said, tops))
        others = [said for title, (said, _) in by.items() if "0417" not in title]
        check(what + "of the five others no difference is shown",
              len(others) == 5 and all("no difference is shown" in said
                                       for said in others), others)
        check(what + "nothing sticks out", fits)
