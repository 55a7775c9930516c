# SPDX-License-Identifier: MIT
"""Interrupts, full disks and closed outputs while a result is written: what
lies at the path is the older file or a whole new one, nothing is left beside
it, and the exit code says what happened (docs: exit 5 is the system).

tests/support/fail_io.c sends the signal from within a call that creates,
writes, stores, closes or names the file, so that each arrives while the file is
being written: it must wait until the file is whole, and end the tool then. Its
count of hits is part of each check.

usage: interrupt.py TOOL TRIAL FAIL_IO_LIBRARY"""
import json
import os
import signal
import subprocess
import sys
import tempfile

import made

program, trial, library = sys.argv[1:4]
SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT)
# Whoever started this may ignore some, and children would too.
for number in SIGNALS:
    signal.signal(number, signal.SIG_DFL)
OLD = b"an older report\n"
tap = made.Tap()


def measure(*more, **how):
    words = [program, "measure", trial, "--run", "R1", "--json", "--quiet"]
    return subprocess.Popen(words + list(more), stderr=subprocess.PIPE, **how)


def hit(call, at, kind, tell):
    """An environment that raises `kind` within the call."""
    if os.path.exists(tell):
        os.remove(tell)
    return dict(os.environ, LD_PRELOAD=library, FAIL_CALL=call,
                FAIL_AT=str(at), FAIL_SIGNAL=str(int(kind)), FAIL_TELL=tell,
                ASAN_OPTIONS="detect_leaks=1:verify_asan_link_order=0")


def hits(tell):
    return os.path.getsize(tell) if os.path.exists(tell) else 0


def check_one_file(folder, tell):
    path = os.path.join(folder, "report.json")
    for call in ("open", "write", "fsync", "close", "rename"):
        for kind in SIGNALS:
            made.write(path, OLD)
            run = measure("-o", path, env=hit(call, 1, kind, tell))
            told = run.communicate()[1].decode()
            text = made.read(path)
            whole = text != OLD and json.loads(text)["schema"].startswith(
                "brakelag-")
            tap.check("%s within %s of the file: whole, then ended by it" % (
                kind.name, call), hits(tell) == 1 and whole and
                run.returncode == -kind and
                os.listdir(folder) == ["report.json"],
                "%d hits, exit %d: %s %s" % (hits(tell), run.returncode, told,
                                             os.listdir(folder)))


def check_folders(scratch, tell):
    """The same for files that belong together, in the midst of them."""
    scenario = os.path.join(scratch, "scenario.ini")
    made.write(scenario, (made.SCENARIO % 100).encode())
    for what, words, last in (
            ("bundle", ["report", trial, "--run", "R1", "--bundle"],
             "SHA256SUMS"),
            ("simulate", ["simulate", scenario, "--directory"], "trial.ini")):
        for call, at in (("open", 2), ("write", 2), ("fsync", 2), ("close", 2),
                         ("rename", 1), ("rename", 3)):
            folder = os.path.join(scratch, "%s-%s-%d" % (what, call, at))
            os.mkdir(folder)
            done = made.run(program, *words, folder, "--quiet",
                            env=hit(call, at, signal.SIGTERM, tell))
            left = os.listdir(folder)
            tap.check("%s: SIGTERM within %s %d: all are there, then ended" % (
                what, call, at), hits(tell) == 1 and
                done.returncode == -signal.SIGTERM and last in left and
                not any(".part" in name for name in left),
                "%d hits, exit %d: %s %s" % (hits(tell), done.returncode,
                                             left, done.stderr))


def check_refused():
    with open("/dev/full", "wb") as full:
        run = measure(stdout=full)
        told = run.communicate()[1].decode()
    tap.check("a full disk is told in one line with exit 5",
              run.returncode == 5 and told.count("\n") == 1, told)
    run = measure(preexec_fn=lambda: os.close(1))
    told = run.communicate()[1].decode()
    tap.check("a closed standard output is told in one line with exit 5",
              run.returncode == 5 and told.count("\n") == 1, told)


def main():
    with tempfile.TemporaryDirectory() as scratch:
        folder = os.path.join(scratch, "one")
        os.mkdir(folder)
        tell = os.path.join(scratch, "hits")
        check_one_file(folder, tell)
        check_folders(scratch, tell)
    check_refused()
    sys.exit(tap.end())


main()
