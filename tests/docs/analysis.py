# SPDX-License-Identifier: MIT
"""The lines of pandas and SQL in docs/analysis.md, on the demo's figures: both
are run where they are installed, and each is held to means that are taken here
from the same file by hand.

usage: analysis.py TOOL"""
import csv
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))


def block(info):
    with open(os.path.join(SOURCE, "docs", "analysis.md"),
              encoding="utf-8") as file:
        return re.search(r"^```%s\n(.*?)^```" % info, file.read(),
                         re.S | re.M).group(1)


def mean(values):
    return sum(values) / len(values)


def by_hand(path):
    """unit -> difference of means of runs, powered less unpowered."""
    with open(path, encoding="utf-8", newline="") as file:
        rows = [r for r in csv.DictReader(file)
                if r["figure"] == "apply_75" and r["kind"] == "full" and
                r["excluded"] == "no" and r["value"]]
    runs = {}
    for r in rows:
        runs.setdefault((r["unit"], r["condition"], r["run"]), []).append(
            float(r["value"]))
    def side(unit, condition):
        return mean([mean(v) for k, v in runs.items()
                     if k[:2] == (unit, condition)])
    return {u: side(u, "powered") - side(u, "unpowered")
            for u in {k[0] for k in runs}}


def told(number, name, wrong):
    print("%sok %d - %s" % ("not " if wrong else "", number, name))
    for line in wrong:
        print("# " + line)
    return bool(wrong)


def agree(found, expected):
    return ["%s: %s, by hand %.4f" % (unit, found.get(unit), value)
            for unit, value in expected.items()
            if not abs(found.get(unit, 9e9) - value) <= 0.0011]


def with_sql(folder):
    text = subprocess.run(["sqlite3"], input=block("sql"), text=True,
                          cwd=folder, stdout=subprocess.PIPE, check=True).stdout
    return {u: float(v) for u, v in
            (line.split("|") for line in text.split())}


def with_pandas(folder):
    text = subprocess.run([sys.executable, "-c", block("python")], text=True,
                          cwd=folder, stdout=subprocess.PIPE, check=True).stdout
    lines = [line.split() for line in text.splitlines()[2:]]
    return {line[0]: float(line[-1]) for line in lines}


def main():
    tool = os.path.abspath(sys.argv[1])
    print("TAP version 13")
    failed = False
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "long.csv")
        subprocess.run([tool, "measure", "--quiet", "--csv", "--long", "-o",
                        path, os.path.join(SOURCE, "captures-demo",
                                           "trial.ini")], check=True)
        expected = by_hand(path)
        failed |= told(1, "every unit of the demo has its difference",
                       [] if len(expected) == 6 else [str(expected)])
        for number, name, there, run in (
                (2, "SQL", shutil.which("sqlite3"), with_sql),
                (3, "pandas", importlib.util.find_spec("pandas"),
                 with_pandas)):
            if there:
                failed |= told(number, name, agree(run(folder), expected))
            else:
                print("ok %d - %s # SKIP not installed" % (number, name))
    print("1..3")
    return failed


sys.exit(main())
