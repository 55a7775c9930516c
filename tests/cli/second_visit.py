# SPDX-License-Identifier: MIT
"""The demo's train at a second visit, after the repair of its slow unit: the demo's
own scenario with another seed and day, without the fault of bin trailer C. Writes
trial.ini and its recordings into FOLDER.

usage: second_visit.py TOOL FOLDER"""
import os
import re
import subprocess
import sys

DEMO = os.path.join(os.path.dirname(os.path.dirname(os.path.dirname(
    os.path.abspath(__file__)))), "captures-demo")
tool, folder = sys.argv[1:3]
with open(os.path.join(DEMO, "scenario.ini"), encoding="utf-8") as file:
    text = file.read()
text = re.sub(r"(?s)\[fault inlet\].*?(?=\[fault)", "", text)
for old, new in (("20240601", "20240914"), ("2024-06-01", "2024-09-14"),
                 ("start = 1717200000 s", "start = 1726272000 s")):
    if old not in text:
        sys.exit("the scenario has no '%s'" % old)
    text = text.replace(old, new)
os.makedirs(folder)
scenario = os.path.join(folder, "scenario.ini")
with open(scenario, "w", encoding="utf-8") as file:
    file.write(text)
subprocess.run([tool, "simulate", scenario, "--directory", folder, "--quiet"],
               check=True, stdout=subprocess.DEVNULL)
