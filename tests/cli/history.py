# SPDX-License-Identifier: MIT
"""A history whose writers meet, are killed or find the disk full, at random moments:
the file is whole (SQLite's own check, through Python), every visit that was ever
added is in it with every figure, and no visit is there in part.

A round adds six results of 600 figures each, in one of three ways: two programs at
once, of which both have two of the results; one that is killed; one whose files may
not grow (RLIMIT_FSIZE), or whose file system is full (tmpfs, where this may be
mounted). What was killed or refused is added again at the end of the round.

usage: history.py TOOL [ROUNDS]"""
import os
import random
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

import made

tool = os.path.abspath(sys.argv[1])
rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 12
LIVES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "lives.py")
FIGURES, MEMBERS, APPLICATIONS, RECORDINGS, RESULTS = 600, 5, 12, 3, 6
tap = made.Tap()
dice = random.Random(25)


def add(history, names, **how):
    return subprocess.Popen([tool, "history", "add", "--history", history,
                             "--quiet"] + names, stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True, **how)


def ended(process):
    out, said = process.communicate(timeout=120)
    return process.returncode, out, said


def whole(history):
    """Hashes of the visits that are there; what is wrong with them."""
    wrong = []
    base = sqlite3.connect(history)
    check = base.execute("PRAGMA integrity_check").fetchall()
    if check != [("ok",)]:
        wrong.append("integrity: %s" % check[:3])
    if base.execute("PRAGMA foreign_key_check").fetchall():
        wrong.append("rows without what they belong to")
    if base.execute("PRAGMA user_version").fetchone()[0] == 0:
        return set(), wrong  # killed before anything was in it
    for visit, name in base.execute("SELECT id, trial FROM visit").fetchall():
        counts = [base.execute(sql, (visit,)).fetchone()[0] for sql in (
            "SELECT count(*) FROM figure JOIN member ON member.id = member "
            "WHERE visit = ?", "SELECT count(*) FROM member WHERE visit = ?",
            "SELECT count(*) FROM application WHERE visit = ?",
            "SELECT count(*) FROM recording WHERE visit = ?")]
        if counts != [FIGURES, MEMBERS, APPLICATIONS, RECORDINGS]:
            wrong.append("%s in part: %s" % (name, counts))
    found = [row[0] for row in base.execute("SELECT trial FROM visit")]
    if len(found) != len(set(found)):
        wrong.append("a visit twice: %s" % found)
    base.close()
    return set(found), wrong


def two_at_once(history, names, _):
    first, second = add(history, names[:4]), add(history, names[2:])
    results = [ended(first), ended(second)]
    return set(names), ["%d: %s" % (code, said) for code, _, said in results
                        if code != 0]


def killed(history, names, seconds):
    process = add(history, names)
    time.sleep(dice.random() * seconds * 1.1)
    process.send_signal(signal.SIGKILL)
    ended(process)
    return set(), []


def no_room(history, names, _):
    size = os.path.getsize(history) if os.path.exists(history) else 0
    limit = dice.randrange(4096, size + 400000)
    process = add(history, names, preexec_fn=lambda: resource.setrlimit(
        resource.RLIMIT_FSIZE, (limit, limit)))
    code, out, said = ended(process)
    lines = said.splitlines()
    good = code == 0 or (code == 5 and lines and all(
        line.startswith("brakelag: ") for line in lines))
    sure = {line.split(":")[0] for line in out.splitlines()
            if ": added as" in line}
    return sure, [] if good else ["%d: %s" % (code, said)]


def titles(names):
    """A result's trial, by its file."""
    return {"yard day %s" % name[1:].split(".")[0] for name in names}


def run_round(number, names, seconds):
    history = os.path.join(os.getcwd(), "h%d" % number)
    way = (two_at_once, killed, no_room)[number % 3]
    before = dice.sample(names, dice.randrange(3))
    sure = set()
    wrong = []
    if before:
        code, _, said = ended(add(history, before))
        wrong += [] if code == 0 else ["before: %d: %s" % (code, said)]
        sure |= titles(before)
    more, found = way(history, names, seconds)
    wrong += found
    sure |= titles(more)
    if os.path.exists(history):
        there, found = whole(history)
        wrong += found + ["lost: %s" % name for name in sorted(sure - there)]
    code, out, said = ended(add(history, names))
    wrong += [] if code == 0 else ["again: %d: %s" % (code, said)]
    there, found = whole(history)
    wrong += found
    if there != titles(names):
        wrong.append("not all there: %s" % sorted(there))
    for end in ("", "-wal", "-shm"):
        if os.path.exists(history + end):
            os.remove(history + end)
    return way.__name__.replace("_", " "), wrong


def full_file_system(names):
    """Where a small file system may be mounted."""
    os.mkdir("small")
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=300k", "none",
                              "small"], stderr=subprocess.DEVNULL)
    if mounted.returncode != 0:
        tap.skip("a full file system", "no tmpfs may be mounted here")
        return
    try:
        code, out, said = ended(add("small/h", names))
        there, wrong = whole("small/h")
        tap.check("a full file system is said, and what was added is there",
                  code == 5 and "disk is full" in said and not wrong and
                  there == titles(l.split(":")[0] for l in out.splitlines()),
                  (code, out, said, wrong, there))
        code, _, said = ended(subprocess.Popen(
            [tool, "history", "list", "--history", "small/h"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))
        tap.check("a full file system can still be read", code == 0, said)
    finally:
        subprocess.run(["umount", "small"], check=True)


def main():
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        subprocess.run([sys.executable, LIVES, str(RESULTS)], check=True)
        names = ["r%d.json" % (i + 1) for i in range(RESULTS)]
        begin = time.monotonic()
        ended(add("first", names))
        seconds = time.monotonic() - begin
        bad = {}
        done = {}
        for number in range(rounds):
            way, wrong = run_round(number, names, seconds)
            done[way] = done.get(way, 0) + 1
            if wrong:
                bad.setdefault(way, []).append("round %d: %s" % (number, wrong))
        for way in sorted(done):
            tap.check("%s, %d times" % (way, done[way]), way not in bad,
                      bad.get(way, [])[:5])
        full_file_system(names)
        os.chdir("/")
    sys.exit(tap.end())


main()
