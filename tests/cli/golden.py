# SPDX-License-Identifier: MIT
"""Runs the tool as a user would and compares everything that comes out.

A case is a folder with
  cmd      shell text; `brakelag` is on the PATH; runs in an empty folder of its
           own that holds copies of the files in `in/`
  exit     expected exit code; no such file: 0
  stdout   expected, byte for byte; no such file: nothing
  stderr   the same
  needs    optional: a recording that the case wants, else skipped
A cmd that ends with 77 is skipped.
The variables CASE, DATA (tests/data), SOURCE (the project) and SHARED (real
recordings, BL_SHARED_DATA) may be used in cmd and needs.

usage: golden.py TOOL FOLDER [--update] [CASE...]; --update, or BL_UPDATE=1 in
the environment, writes what came out as the new expectation, to be read in the
diff before it is kept. It refuses what is no expectation: another exit code
than the case has (change `exit` by hand, if it is meant), a crash, a sanitizer's
report, a failed check of the case."""
import concurrent.futures
import difflib
import os
import re
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))


def environment(tool, case, scratch):
    env = dict(os.environ)
    shared = os.path.abspath(env.get("BL_SHARED_DATA", "/nonexistent"))
    env.update(PATH=os.path.dirname(os.path.abspath(tool)) + os.pathsep +
               env.get("PATH", ""), LC_ALL="C", TZ="UTC", HOME=scratch,
               CASE=case, DATA=os.path.join(SOURCE, "tests", "data"),
               SOURCE=SOURCE, SHARED=shared,
               BRAKELAG_TABLES=os.path.join(SOURCE, "decoders"))
    return env


def expected(case, name, default):
    path = os.path.join(case, name)
    if not os.path.exists(path):
        return default
    with open(path, "rb") as file:
        return file.read()


def keep(case, name, value, default):
    path = os.path.join(case, name)
    if value == default:
        if os.path.exists(path):
            os.remove(path)
        return
    with open(path, "wb") as file:
        file.write(value)


BROKEN = re.compile(rb"Sanitizer|runtime error: |Traceback \(most recent call|"
                    rb"AssertionError|Segmentation fault|Aborted")


def refused(found, wanted_exit):
    """Why this must not become an expectation; None if it may."""
    code = int(found["exit"])
    broken = BROKEN.search(found["stdout"] + found["stderr"])
    if broken:
        return "not recorded: '%s' in what came out" % broken.group().decode()
    if code < 0 or code >= 128:
        return "not recorded: ended by a signal, exit code %d" % code
    if found["exit"] != wanted_exit:
        return ("not recorded: exit code %d, the case expects %d; write the "
                "file 'exit' by hand if it is meant" % (code, int(wanted_exit)))
    return None


def difference(name, wanted, found):
    return list(difflib.unified_diff(
        wanted.decode("utf-8", "replace").splitlines(),
        found.decode("utf-8", "replace").splitlines(),
        "expected " + name, "found " + name, lineterm="", n=1))


def run(tool, case, update):
    """None: skipped (with why), else the list of differences."""
    with tempfile.TemporaryDirectory() as scratch:
        env = environment(tool, case, scratch)
        needs = expected(case, "needs", b"").decode().strip()
        if needs:
            path = os.path.expandvars(needs) if "$" not in needs else \
                subprocess.run(["sh", "-c", "printf %s " + needs], env=env,
                               capture_output=True, text=True).stdout
            if not os.path.exists(path):
                return None, "no real recording: " + needs
        work = os.path.join(scratch, "work")
        inputs = os.path.join(case, "in")
        if os.path.isdir(inputs):
            shutil.copytree(inputs, work)
        else:
            os.mkdir(work)
        try:
            result = subprocess.run(["sh", os.path.join(case, "cmd")], cwd=work,
                                    env=env, stdin=subprocess.DEVNULL,
                                    capture_output=True, timeout=240)
        except subprocess.TimeoutExpired:
            return ["took over 240 s"], None
    if result.returncode == 77:
        return None, "this system lacks what the case needs"
    found = {"exit": b"%d\n" % result.returncode, "stdout": result.stdout,
             "stderr": result.stderr}
    lines = []
    if update:
        why = refused(found, expected(case, "exit", b"0\n"))
        if why is not None:
            return [why], None
    for name, default in (("exit", b"0\n"), ("stdout", b""), ("stderr", b"")):
        if update:
            keep(case, name, found[name], default)
        else:
            wanted = expected(case, name, default)
            if wanted != found[name]:
                lines += difference(name, wanted, found[name])
    return lines, None


def main():
    words = [w for w in sys.argv[1:] if w != "--update"]
    update = len(words) != len(sys.argv) - 1 or os.environ.get("BL_UPDATE")
    tool, folder = os.path.abspath(words[0]), os.path.abspath(words[1])
    names = words[2:] or sorted(
        n for n in os.listdir(folder)
        if os.path.exists(os.path.join(folder, n, "cmd")))
    failed = 0
    print("TAP version 13\n1..%d" % len(names))
    # Each case has a folder of its own: as many at once as there are cores.
    pool = concurrent.futures.ThreadPoolExecutor(os.cpu_count() or 1)
    results = pool.map(
        lambda name: run(tool, os.path.join(folder, name), update), names)
    for number, (name, (lines, why)) in enumerate(zip(names, results), 1):
        if lines is None:
            print("ok %d - %s # SKIP %s" % (number, name, why))
            continue
        failed += bool(lines)
        print("%sok %d - %s" % ("not " if lines else "", number, name))
        for line in lines[:60]:
            print("# " + line)
        sys.stdout.flush()
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
