# SPDX-License-Identifier: MIT
"""What the tool writes: it replaces nothing that it did not write, follows no
link out of a folder, and what belongs together appears together or not at all.
A limit on the size of files stands for a full disk (setrlimit(2): write then
fails with EFBIG; unless it is ignored the program gets SIGXFSZ).

usage: writing.py TOOL FAIL_IO_LIBRARY"""
import hashlib
import os
import re
import resource
import shutil
import sys
import tempfile

import made

tool, library = map(os.path.abspath, sys.argv[1:3])
tap = made.Tap()
DATA = os.path.abspath(os.path.join(os.environ["BL_TEST_DATA"], "cli"))
TRIAL, LOG = os.path.join(DATA, "trial.ini"), os.path.join(DATA, "yard.csv")
OWN = (b"message,pgn,sender,direction,period_ms,signal,start,bits,scale,offset,"
       b"unit,low,high,kind,role,states,source,confidence\n"
       b"ASK%d,id:0x12%d,any,down,20,asked,2.1,8,5,0,kPa,0,1250,number,,,made "
       b"for this test,confirmed\n")
OLD = b"somebody's own work\n"


def lowered(most=20000):
    return {"preexec_fn": lambda: resource.setrlimit(
        resource.RLIMIT_FSIZE, (most, most))}


def listing(folder):
    """{name: bytes, or where a link leads}."""
    found = {}
    for name in os.listdir(folder):
        path = os.path.join(folder, name)
        found[name] = os.readlink(path) if os.path.islink(path) else \
            None if os.path.isdir(path) else made.read(path)
    return found


def refused(name, done, folder, before, *words):
    """Exit 2, the reason in plain words, and everything as it was."""
    told = done.stderr.decode()
    after = listing(folder)
    tap.check(name, done.returncode == 2 and after == before and
              all(word in told for word in words),
              "exit %d, changed %s: %s" % (
                  done.returncode,
                  [n for n in set(before) | set(after)
                   if before.get(n) != after.get(n)], told))


def bundle(folder, trial=TRIAL, **how):
    return made.run(tool, "report", trial, "--quiet", "--bundle", folder, **how)


def list_holds(folder):
    """As sha256sum -c would say it; every file of the list, once."""
    lines = made.read(os.path.join(folder, "SHA256SUMS")).decode().splitlines()
    names = [line[66:] for line in lines]
    return len(set(names)) == len(names) > 10 and all(
        hashlib.sha256(made.read(os.path.join(folder, line[66:]))).hexdigest()
        == line[:64] for line in lines)


def failing(call, at):
    return {"env": dict(os.environ, LD_PRELOAD=library, FAIL_CALL=call,
                        FAIL_AT=str(at),
                        ASAN_OPTIONS="detect_leaks=1:verify_asan_link_order=0")}


def check_bundles(scratch):
    folder = os.path.join(scratch, "handover")
    done = bundle(folder)
    tap.check("a bundle is written and its list holds",
              done.returncode == 0 and list_holds(folder), done.stderr)
    done = bundle(folder)
    tap.check("an older bundle that nobody changed is replaced",
              done.returncode == 0 and list_holds(folder), done.stderr)
    for at, name in enumerate(("report.html", "trial.ini", "SHA256SUMS")):
        other = os.path.join(scratch, "foreign-%d" % at)
        os.mkdir(other)
        made.write(os.path.join(other, name), OLD)
        refused("a foreign %s stays" % name, bundle(other), other,
                {name: OLD}, name, "name another folder")
    # What a careful person keeps beside recordings: a list of everything.
    other = os.path.join(scratch, "careful")
    os.mkdir(other)
    made.write(os.path.join(other, "trial.ini"), OLD)
    made.write(os.path.join(other, "P1.csv"), OLD)
    made.write(os.path.join(other, "SHA256SUMS"), b"".join(
        b"%s  %s\n" % (hashlib.sha256(OLD).hexdigest().encode(), name)
        for name in (b"trial.ini", b"P1.csv")))
    refused("a foreign trial in a foreign list stays", bundle(other), other,
            listing(other), "trial.ini")
    changed = os.path.join(scratch, "changed")
    shutil.copytree(folder, changed)
    with open(os.path.join(changed, "report.txt"), "ab") as file:
        file.write(b"my notes\n")
    refused("a report with somebody's notes stays", bundle(changed), changed,
            listing(changed), "report.txt")
    outside = os.path.join(scratch, "outside")
    made.write(outside, OLD)
    for name in ("report.html", "SHA256SUMS"):
        planted = os.path.join(scratch, "planted-" + name)
        shutil.copytree(folder, planted)
        os.remove(os.path.join(planted, name))
        os.symlink(outside, os.path.join(planted, name))
        refused("a link at %s is not followed" % name, bundle(planted),
                planted, listing(planted), name)
        tap.check("what it leads to is as it was", made.read(outside) == OLD)
    before = listing(folder)
    done = bundle(folder, **lowered())
    tap.check("a full disk: exit 5, the older bundle is as it was",
              done.returncode == 5 and listing(folder) == before and
              b"File too large" in done.stderr,
              "exit %d: %s" % (done.returncode, done.stderr))
    check_half_bundle(scratch, folder)
    check_tables(scratch)


def check_half_bundle(scratch, folder):
    """A name that cannot be given in the middle: no list says otherwise."""
    half = os.path.join(scratch, "half")
    shutil.copytree(folder, half)
    other = os.path.join(scratch, "other.ini")
    text = made.read(TRIAL).replace(b"response_at = 20", b"response_at = 30")
    made.write(other, text.replace(b"yard.csv", LOG.encode()))
    done = bundle(half, other, **failing("rename", 4))
    left = os.listdir(half)
    tap.check("the fourth name cannot be given: exit 5, no list, no part",
              done.returncode == 5 and "SHA256SUMS" not in left and
              not any(".part" in n for n in left),
              "exit %d: %s %s" % (done.returncode, left, done.stderr))


def check_tables(scratch):
    for at in (1, 2):
        os.mkdir(os.path.join(scratch, "t%d" % at))
        made.write(os.path.join(scratch, "t%d" % at, "own.csv"),
                   OWN % (at, at))
    trial = os.path.join(scratch, "tables.ini")
    made.write(trial, made.read(TRIAL).replace(
        b"yard.csv", LOG.encode()).replace(
            b"[trial]\n", b"[trial]\ntables = t1/own.csv, t2/own.csv\n"))
    folder = os.path.join(scratch, "twice")
    done = bundle(folder, trial)
    tables = [n for n in os.listdir(folder) if n.startswith("table-")]
    tap.check("two tables of one name: both are there, the list holds",
              done.returncode == 0 and len(tables) == 2 and list_holds(folder)
              and {made.read(os.path.join(folder, n)) for n in tables} ==
              {OWN % (1, 1), OWN % (2, 2)}, "%s %s" % (tables, done.stderr))


def simulate(folder, scenario, **how):
    return made.run(tool, "simulate", scenario, "--directory", folder, **how)


def place(scratch, name, **files):
    folder = os.path.join(scratch, name)
    os.mkdir(folder)
    for file, data in files.items():
        made.write(os.path.join(folder, file), data)
    return folder


def check_simulations(scratch):
    text = made.SCENARIO % 100
    scenario = os.path.join(scratch, "scenario.ini")
    made.write(scenario, text.encode())
    for at, name in enumerate(("P.csv", "P.pcapng", "truth.json", "trial.ini")):
        folder = place(scratch, "real-%d" % at, **{name: OLD})
        refused("simulate spares a %s that is there" % name,
                simulate(folder, scenario), folder, {name: OLD}, name,
                "name another folder")
    mark = b"; Written with scenario seed 7.\n"
    folder = place(scratch, "mixed", **{"trial.ini": mark, "P.csv": OLD})
    refused("a simulated trial beside real recordings too",
            simulate(folder, scenario), folder,
            {"trial.ini": mark, "P.csv": OLD})
    for name in ("trial.ini", "truth.json", "P.csv"):
        folder = place(scratch, "self-" + name, **{name: text.encode()})
        refused("simulate does not replace its own scenario %s" % name,
                simulate(folder, os.path.join(folder, name)), folder,
                {name: text.encode()})
    outside = os.path.join(scratch, "outside")
    folder = place(scratch, "link")
    os.symlink(outside, os.path.join(folder, "P.csv"))
    refused("nor follows a link", simulate(folder, scenario), folder,
            listing(folder), "P.csv")
    folder = place(scratch, "full")
    done = simulate(folder, scenario, **lowered())
    tap.check("simulate, full disk: exit 5 and nothing is there",
              done.returncode == 5 and not os.listdir(folder),
              "exit %d: %s %s" % (done.returncode, os.listdir(folder),
                                  done.stderr))
    for call, at in (("open", 3), ("write", 3), ("fsync", 2), ("rename", 3)):
        folder = place(scratch, "at-" + call)
        done = simulate(folder, scenario, **failing(call, at))
        tap.check("simulate, %s %d fails: exit 5 and nothing is there" % (
            call, at), done.returncode == 5 and not os.listdir(folder),
            "exit %d: %s %s" % (done.returncode, os.listdir(folder),
                                done.stderr))
    check_one_bus(scratch, text)
    check_own_tables(scratch, text)


def check_one_bus(scratch, text):
    """Classic pcap names no bus (draft-ietf-opsawg-pcap): three do not fit."""
    scenario = os.path.join(scratch, "pcap.ini")
    made.write(scenario, text.replace("compress = no\n",
                                      "compress = no\ncapture_format = pcap\n")
               .encode())
    folder = place(scratch, "pcap")
    line = made.read(scenario).decode().splitlines().index(
        "capture_format = pcap") + 1
    refused("several buses in pcap are refused with file and line",
            simulate(folder, scenario), folder, {},
            "%s:%d: capture_format" % (scenario, line), "vehicle", "link1")
    one = re.sub("bus = .*", "bus = one", made.read(scenario).decode())
    made.write(scenario, one.encode())
    done = simulate(folder, scenario)
    tap.check("one bus in pcap is written", done.returncode == 0 and
              "P.pcap" in os.listdir(folder), done.stderr)


def check_own_tables(scratch, text):
    base = place(scratch, "owner", **{"own.csv": OWN % (1, 1)})
    os.mkdir(os.path.join(base, "deep"))
    made.write(os.path.join(base, "deep", "own.csv"), OWN % (2, 2))
    made.write(os.path.join(base, "P.csv"), OWN % (3, 3))
    scenario = os.path.join(base, "scenario.ini")
    made.write(scenario, text.replace(
        "j1939-brakes", "j1939-brakes, own.csv, deep/own.csv, P.csv").encode())
    folder = place(scratch, "elsewhere")
    done = simulate(folder, scenario)
    again = made.run(tool, "measure", os.path.join(folder, "trial.ini"),
                     "--json", "--quiet", cwd=scratch)
    found = listing(folder)
    tap.check("tables of one's own go with the trial, each under a name of its "
              "own", done.returncode == 0 and again.returncode == 0 and
              all(OWN % (n, n) in found.values() for n in (1, 2, 3)),
              "%s %s" % (done.stderr, again.stderr))
    folder = place(scratch, "beside", **{"own.csv": OWN % (1, 1)})
    scenario = os.path.join(folder, "scenario.ini")
    made.write(scenario, text.replace("j1939-brakes",
                                      "j1939-brakes, own.csv").encode())
    done = simulate(folder, scenario)
    again = made.run(tool, "measure", os.path.join(folder, "trial.ini"),
                     "--json", "--quiet", cwd=scratch)
    tap.check("one that lies there already is used as it is",
              done.returncode == 0 and again.returncode == 0 and
              [n for n in os.listdir(folder) if n.startswith("own")] ==
              ["own.csv"], "%s %s" % (done.stderr, again.stderr))


def check_limit(scratch):
    path = os.path.join(place(scratch, "one"), "result.json")
    made.write(path, OLD)
    done = made.run(tool, "measure", TRIAL, "--json", "--quiet", "-o", path,
                    **lowered(1000))
    tap.check("a file that may not grow: exit 5, the older one is as it was",
              done.returncode == 5 and
              listing(os.path.dirname(path)) == {"result.json": OLD} and
              done.stderr.count(b"\n") == 1,
              "exit %d: %s %s" % (done.returncode, done.stderr,
                                  os.listdir(os.path.dirname(path))))


def main():
    with tempfile.TemporaryDirectory() as scratch:
        check_bundles(scratch)
        check_simulations(scratch)
        check_limit(scratch)
    sys.exit(tap.end())


main()
