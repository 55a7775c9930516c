# SPDX-License-Identifier: MIT
"""Every malformed file that there is, given to the tool: a table of file, exit
code and message.

The files of tests/data are named after their defect; `hostile-captures` of the
shared data made other readers fail. Each must end with an exit code of the
documented list and say what is wrong in one line that names the file: on
standard error, or as a note of `survey` where the rest is good. What the
sanitizers say, a crash and more than 10 s fail.

usage: malformed.py TOOL TESTDATA"""
import concurrent.futures
import os
import re
import subprocess
import sys

import made

tool, data = os.path.abspath(sys.argv[1]), sys.argv[2]
shared = os.environ.get("BL_SHARED_DATA", "/nonexistent")
tap = made.Tap()
HOW = {"bus": ("survey",), "log": ("survey",), "io": ("survey",),
       "decoder": ("tables", "check"), "trial": ("check",),
       "simulate": ("simulate", "--directory", "/nonexistent")}
# How `survey` tells what it left out or took in another way.
NOTED = re.compile(r"^ *(note|damaged):|[1-9]\d* (overflow|late|packets of other "
                   r"kinds)|read as: latin-1")
EXITS = (0, 1, 2, 3, 4)
REPORTS = ("AddressSanitizer", "runtime error", "LeakSanitizer",
           "ThreadSanitizer", "Assertion")


def said(done, path):
    """The first line that tells the defect."""
    name = os.path.basename(path)
    for line in done.stderr.decode("utf-8", "replace").splitlines():
        if name in line or "expected" in line:
            return line[line.find(name):] if name in line else line
    for line in done.stdout.decode("utf-8", "replace").splitlines():
        if NOTED.search(line):
            return line.strip()
    return ""


def start(path, how):
    try:
        return made.run(tool, *how, path, timeout=10)
    except subprocess.TimeoutExpired:
        return None


def judge(path, done):
    if done is None:
        tap.check(os.path.basename(path) + ": over 10 s", False)
        return
    text = done.stderr.decode("utf-8", "replace")
    line = said(done, path)
    clean = all(c >= " " for c in line)
    good = done.returncode in EXITS and line and clean and not any(
        word in text for word in REPORTS)
    if done.returncode != 0:
        good = good and text.startswith("brakelag: ")
    tap.check("%s | %d | %s" % (os.path.basename(path), done.returncode,
                                line.replace("#", "\\#")), good, text)


def malformed(folder):
    for base, folders, names in os.walk(folder):
        folders.sort()
        for name in sorted(names):
            if not name.startswith("good") and not name.endswith(".py"):
                yield os.path.join(base, name)


ours = []
for room, how in HOW.items():
    folder = os.path.join(data, room)
    if room == "trial":
        folder = os.path.join(folder, "bad")
    ours += [(path, how) for path in malformed(folder)
             if room != "trial" or path.endswith(".ini")]
hostile = os.path.join(shared, "hostile-captures")
others = [(path, ("survey",)) for path in malformed(hostile)
          if not path.endswith(".txt")]
with concurrent.futures.ThreadPoolExecutor(2) as pool:
    for (path, how), done in zip(ours + others,
                                 pool.map(start, *zip(*ours + others))):
        judge(path, done)
tap.check("%d malformed files of our own" % len(ours), len(ours) >= 150)
if not others:
    tap.skip("hostile-captures", "no real recording: hostile-captures")
sys.exit(tap.end())
