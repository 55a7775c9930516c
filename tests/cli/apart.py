# SPDX-License-Identifier: MIT
"""Every trial file that a golden case hands to `causes` or `report`: is any code
called looked for and not looked for at once, in one unit and run?

usage: apart.py TOOL CHECK [--every N | CASE...]; a script of the tool's name stands
before it on the PATH and hands each trial file to CHECK (apart.c) instead."""
import os
import sys
import tempfile

import golden

FOLDER = os.path.dirname(os.path.abspath(__file__))
BEFORE = """#!/bin/sh
case "$1" in causes | report)
    for word in "$@"; do
        case "$word" in *.ini) '%s' "$word" >>'%s' 2>&1 ;; esac
    done
    exit 0 ;;
esac
exec '%s' "$@"
"""


def asks(name):
    with open(os.path.join(FOLDER, name, "cmd"), encoding="utf-8") as file:
        text = file.read()
    return "causes" in text or "report" in text


def main():
    tool, check = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
    names = sys.argv[3:]
    every = int(names[1]) if names[:1] == ["--every"] else 1
    if not names or every > 1:
        names = sorted(
            n for n in os.listdir(FOLDER)
            if os.path.exists(os.path.join(FOLDER, n, "cmd")) and asks(n))
        names = names[every // 2::every]
    print("TAP version 13\n1..%d" % (len(names) + 1))
    failed = places = 0
    for number, name in enumerate(names, 1):
        with tempfile.TemporaryDirectory() as scratch:
            log = os.path.join(scratch, "log")
            before = os.path.join(scratch, "brakelag")
            with open(before, "w", encoding="utf-8") as file:
                file.write(BEFORE % (check, log, tool))
            os.chmod(before, 0o755)
            golden.run(before, os.path.join(FOLDER, name), False)
            lines = []
            if os.path.exists(log):
                with open(log, encoding="utf-8") as file:
                    lines = file.read().splitlines()
        wrong = [l for l in lines if not l.startswith("places ")]
        places += sum(int(l.split()[1]) for l in lines if l not in wrong)
        failed += bool(wrong)
        print("%sok %d - %s" % ("not " if wrong else "", number, name))
        for line in wrong[:20]:
            print("# " + line)
        sys.stdout.flush()
    enough = len(names) < 10 or places > 1000
    print("%sok %d - %d places compared" % (
        "" if enough else "not ", len(names) + 1, places))
    return 1 if failed or not enough else 0


if __name__ == "__main__":
    sys.exit(main())
