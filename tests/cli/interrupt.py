# SPDX-License-Identifier: MIT
"""Interrupts, full disks and closed outputs while a result is written: what
lies at the path is the older file or a whole new one, nothing is left beside
it, and the exit code says what happened (docs: exit 5 is the system)."""
import json
import os
import signal
import subprocess
import sys
import tempfile
import time

program, trial = sys.argv[1:3]
OLD = "an older report\n"
failures = 0
number = 0


def check(name, truth, told=""):
    global failures, number
    number += 1
    failures += not truth
    print(f"{'ok' if truth else 'not ok'} {number} - {name}")
    if not truth:
        print(f"# {told}")


def measure(*more, **how):
    words = [program, "measure", trial, "--run", "R1", "--json", "--quiet"]
    return subprocess.Popen(words + list(more), stderr=subprocess.PIPE, **how)


with tempfile.TemporaryDirectory() as folder:
    path = os.path.join(folder, "report.json")
    start = time.monotonic()
    first = measure("-o", path)
    first.communicate()
    usual = time.monotonic() - start
    check("a report is written", first.returncode == 0 and os.path.exists(path))
    for kind in (signal.SIGINT, signal.SIGTERM):
        for share in (0.3, 0.8, 0.9, 0.95, 1.0, 1.05):
            with open(path, "w", encoding="utf-8") as file:
                file.write(OLD)
            run = measure("-o", path)
            time.sleep(usual * share)
            run.send_signal(kind)
            run.communicate()
            with open(path, encoding="utf-8") as file:
                text = file.read()
            whole = text == OLD
            if not whole:
                whole = json.loads(text)["schema"].startswith("brakelag-")
            beside = os.listdir(folder)
            check(f"{kind.name} after {share} of the usual time",
                  whole and beside == ["report.json"]
                  and run.returncode in (0, -kind), f"{beside} {text[:80]}")
    with open(path, "w", encoding="utf-8") as file:
        file.write(OLD)
    with open("/dev/full", "wb") as full:
        run = measure(stdout=full)
        told = run.communicate()[1].decode()
    check("a full disk is told in one line with exit 5",
          run.returncode == 5 and told.count("\n") == 1, told)
    run = measure(preexec_fn=lambda: os.close(1))
    told = run.communicate()[1].decode()
    check("a closed standard output is told in one line with exit 5",
          run.returncode == 5 and told.count("\n") == 1, told)
print(f"1..{number}")
sys.exit(failures > 0)
