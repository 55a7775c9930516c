# SPDX-License-Identifier: MIT
"""Counts what the programs of test runs counted, from Meson's logs: lines of
TAP, groups of cmocka, else one per program.
usage: count.py testlog.json..."""
import json
import re
import sys

TAP = re.compile(r"^(not )?ok\b([^\n]*)", re.M)
# What a check says that wants a real recording and finds none: testing.h and
# the programs that read BL_SHARED_DATA.
ABSENT = re.compile(r"no real recording: ")


def tap(output):
    passed = failed = skipped = 0
    for match in TAP.finditer(output):
        if re.search(r"#\s*skip", match.group(2), re.I):
            skipped += 1
        elif match.group(1):
            failed += 1
        else:
            passed += 1
    return passed, failed, skipped


def cmocka(output):
    def total(word):
        return sum(int(n) for n in re.findall(
            r"\[\s+%s\s+\] (\d+) test\(s\)" % word, output))
    return total("PASSED"), total("FAILED"), total("SKIPPED")


def count(test):
    output = test.get("stdout", "") + "\n" + test.get("stderr", "")
    good = test["result"] in ("OK", "EXPECTEDFAIL")
    if re.search(r"^TAP version|^1\.\.\d+", output, re.M):
        found = tap(output)
    else:
        found = cmocka(output)
    if test["result"] == "SKIP" and not any(found):
        return 0, 0, 1
    if not any(found):
        return (1, 0, 0) if good else (0, 1, 0)
    passed, failed, skipped = found
    if not good and failed == 0 and test["result"] != "SKIP":
        failed = 1  # ended early: a crash, a leak, a time limit
    return passed, failed, skipped


def main():
    total = [0, 0, 0]
    absent = 0
    for path in sys.argv[1:]:
        with open(path, encoding="utf-8") as file:
            tests = [json.loads(line) for line in file]
        for test in tests:
            numbers = count(test)
            absent += len(ABSENT.findall(test.get("stdout", "") +
                                         test.get("stderr", "")))
            total = [a + b for a, b in zip(total, numbers)]
            if numbers[1]:
                print("failed: " + test["name"])
    if absent:
        print("%d checks on real recordings did not run: docs/testing.md says "
              "which recordings they want" % absent)
    print("%d passed, %d failed, %d skipped" % tuple(total))
    return 1 if total[1] else 0


sys.exit(main())
