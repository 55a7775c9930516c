# SPDX-License-Identifier: MIT
"""A sound train whose truck has no transducer: no unit is marked, and a unit that
was not measured is not said to have shown nothing."""
import os
import subprocess
import sys

import first

HERE = os.path.dirname(os.path.abspath(__file__))
VISIT = os.path.join(os.path.dirname(HERE), "cli", "visit.py")
EMPTY = """
    return [[...document.querySelectorAll('#first .no-bar')].map((t) =>
        [t.dataset.unit, t.textContent]),
        units.filter((u) => !list(u.outputs).length).map((u) => u.unit)];"""


def check_sound(browser, folder, tool, open_page, check):
    """Returns the page's path."""
    place = os.path.join(folder, "sound")
    os.mkdir(place)
    subprocess.run([sys.executable, VISIT, "sound"], cwd=place, check=True)
    page = os.path.join(place, "sound.html")
    subprocess.run([os.path.abspath(tool), "report", "trial.ini", "-q", "-o",
                    page], cwd=place, check=True)
    first.check_first(browser, open_page, page, [], "sound", check)
    rows, unmeasured = browser.execute_script(EMPTY)
    check("sound: the unit without a transducer was not measured",
          unmeasured == ["0"] and rows and all(
              row == ["0", "not measured"] for row in rows), (rows, unmeasured))
    return page
