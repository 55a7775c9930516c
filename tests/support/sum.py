# SPDX-License-Identifier: MIT
"""Adds up the last counts ("1 passed, 2 failed, 3 skipped") of what several
runs of the suite said; a run that said none counts as one failed.
usage: sum.py SAID..."""
import re
import sys

COUNTS = re.compile(r"^(\d+) passed, (\d+) failed, (\d+) skipped$", re.M)


def main():
    total = [0, 0, 0]
    for path in sys.argv[1:]:
        with open(path, encoding="utf-8", errors="replace") as file:
            said = COUNTS.findall(file.read())
        last = [int(n) for n in said[-1]] if said else [0, 1, 0]
        total = [a + b for a, b in zip(total, last)]
    print("%d passed, %d failed, %d skipped" % tuple(total))
    return 1 if total[1] else 0


sys.exit(main())
