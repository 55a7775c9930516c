# SPDX-License-Identifier: MIT
"""Disks that fail: short and interrupted reads and writes change nothing; a read
that fails leaves what was read before it; an output that cannot be written,
synced, closed or named is told in one line with exit code 5, and an older
result is untouched with nothing beside it. See tests/support/fail_io.c.

usage: failing.py TOOL FAIL_IO_LIBRARY"""
import errno
import json
import os
import sys
import tempfile

import made

tool, library = map(os.path.abspath, sys.argv[1:3])
tap = made.Tap()
OLD = b"an older result\n"


def failing(call, at, code=errno.EIO):
    return dict(os.environ, LD_PRELOAD=library, FAIL_CALL=call,
                FAIL_AT=str(at), FAIL_ERRNO=str(code),
                ASAN_OPTIONS="detect_leaks=1:verify_asan_link_order=0")


def made_to_fail(env, scratch):
    path = os.path.join(scratch, "told")
    if os.path.exists(path):
        os.remove(path)
    env["FAIL_TELL"] = path
    return lambda: os.path.getsize(path) if os.path.exists(path) else 0


with tempfile.TemporaryDirectory() as scratch:
    folder = made.make(tool, os.path.join(scratch, "base"))
    trial = os.path.join(folder, "trial.ini")
    base = made.measure(tool, trial)
    tap.check("the trial is measured", base.exit == 0, base.said)

    for at in ("short", "again"):
        env = failing("read", at)
        times = made_to_fail(env, scratch)
        again = made.measure(tool, trial, env=env)
        tap.check("%s reads change nothing (%d made)" % (at, times()),
                  again.exit == 0 and again.json == base.json and times() > 10,
                  again.said)
    reads = 0
    for number in list(range(1, 12)) + [20, 30, 60]:
        env = failing("read", number)
        times = made_to_fail(env, scratch)
        again = made.measure(tool, trial, env=env)
        if times() == 0:
            break
        reads += 1
        # A trial file that cannot be read is exit 2 or 5; a recording 3.
        lines = [line for line in again.said.splitlines()
                 if line.startswith("brakelag: ")]
        known = again.json is None or all(
            value[0] is None or place in base.figures
            for place, value in again.figures.items())
        tap.check("read %d fails: exit %d, %s" % (
            number, again.exit, lines[:1]), again.exit in (2, 3, 5) and lines
            and known and "Input/output error" in again.said, again.said)
    tap.check("%d reads were made to fail" % reads, reads >= 3)

    # A recording long enough to be read ahead, on a thread. Reads are of 256
    # KiB: what stood whole before the one that failed was delivered.
    line = "(%010d.%06d) can0 18FEF100#%016X\n"
    many = "".join(line % (1717200000 + i // 1000, i % 1000 * 1000, i)
                   for i in range(60000))
    path = os.path.join(scratch, "long.log")
    made.write(path, many.encode())
    before = -1  # reads of the tables
    told = ""
    while path not in told:
        before += 1
        told = made.run(tool, "survey", path,
                        env=failing("read", before + 1)).stderr.decode()
    for number in (2, 3, 4, 7, 9):  # the cut line is none
        env = failing("read", before + number)
        times = made_to_fail(env, scratch)
        done = made.run(tool, "survey", "--json", path, env=env)
        told = done.stderr.decode()
        found = json.loads(done.stdout)["files"]
        frames = found[0]["frames"] if found else -1
        whole = (number - 1) * 262144 // len(line % (0, 0, 0))
        tap.check("read %d of a long recording fails: exit %d, %d frames" % (
            number, done.returncode, frames), done.returncode == 3 and
            times() == 1 and frames == whole and
            "Input/output error" in told + done.stdout.decode(), told)
    for at in ("short", "again"):
        env = failing("read", at)
        times = made_to_fail(env, scratch)
        done = made.run(tool, "survey", "--json", path, env=env)
        tap.check("%s reads of a long recording change nothing (%d made)" % (
            at, times()), times() > 10 and done.stdout ==
            made.run(tool, "survey", "--json", path).stdout, done.stderr)

    result = os.path.join(folder, "result.json")
    for call in ("open", "write", "fsync", "close", "rename"):
        for code in (errno.ENOSPC, errno.EIO):
            made.write(result, OLD)
            before = sorted(os.listdir(folder))
            env = failing(call, 1, code)
            times = made_to_fail(env, scratch)
            done = made.run(tool, "measure", trial, "--json", "--quiet", "-o",
                            result, env=env)
            told = done.stderr.decode()
            after = sorted(os.listdir(folder))
            tap.check("%s of the result fails with %s" % (
                call, errno.errorcode[code]), done.returncode == 5 and
                times() == 1 and told.count("\n") == 1 and
                os.strerror(code) in told and made.read(result) == OLD and
                after == before,
                "exit %d, %d made: %s %s" % (done.returncode, times(), told,
                                             set(after) ^ set(before)))
    for at in ("short", "again"):
        env = failing("write", at)
        times = made_to_fail(env, scratch)
        done = made.run(tool, "measure", trial, "--json", "--quiet", "-o",
                        result, env=env)
        again = made.run(tool, "measure", trial, "--json", "--quiet")
        tap.check("%s writes change nothing (%d made)" % (at, times()),
                  done.returncode == 0 and times() > 0 and
                  made.read(result) == again.stdout, done.stderr.decode())
    for call in ("write", "close", "rename"):
        target = os.path.join(scratch, "to-" + call)
        os.mkdir(target)
        env = failing(call, 2, errno.ENOSPC)
        times = made_to_fail(env, scratch)
        done = made.run(tool, "simulate", os.path.join(folder, "scenario.ini"),
                        "--directory", target, env=env)
        told = done.stderr.decode()
        left = [n for n in os.listdir(target) if ".part" in n]
        tap.check("simulate: the second %s fails: exit %d" % (
            call, done.returncode), done.returncode == 5 and times() == 1 and
            told.count("\n") == 1 and not left, told + str(left))
sys.exit(tap.end())
