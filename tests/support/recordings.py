# SPDX-License-Identifier: MIT
"""Real recordings: which tests look for them, and which ones they are.

usage: recordings.py BUILD   the names of the quick suite's tests that look for
                             one, a line each
       recordings.py --check FOLDER
                             holds a folder to the list of docs/testing.md"""
import hashlib
import json
import os
import re
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(
    os.path.abspath(__file__))))
# How a test asks for one: shared_data() of testing.h, or the variable itself.
ASKS = re.compile(r"\bshared_data\(|BL_SHARED_DATA")
HELPER = os.path.join(ROOT, "tests", "support", "testing.h")


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def listed():
    """{path below the folder: SHA-256}, as docs/testing.md lists them."""
    text = read(os.path.join(ROOT, "docs", "testing.md"))
    return {m.group(2): m.group(1) for m in re.finditer(
        r"^([0-9a-f]{64})  (\S+)$", text, re.M)}


def asks(path, seen):
    """True where the file, or a test header that it includes, asks for one."""
    if path in seen or path == HELPER or not os.path.isfile(path):
        return False
    seen.add(path)
    text = read(path)
    if ASKS.search(text):
        return True
    beside = [os.path.dirname(path), os.path.dirname(HELPER)]
    return any(asks(os.path.join(folder, name), seen)
               for name in re.findall(r'#include "([^"]+)"', text)
               for folder in beside)


def introspect(build, what):
    return json.loads(subprocess.run(
        ["meson", "introspect", build, "--" + what], check=True,
        capture_output=True).stdout)


def tests_that_ask(build):
    sources = {}
    for target in introspect(build, "targets"):
        for name in target["filename"]:
            sources[name] = [s for group in target["target_sources"]
                             for s in group.get("sources", [])]
    for test in introspect(build, "tests"):
        paths = [p for word in test["cmd"]
                 for p in sources.get(word, [word])
                 if p.endswith((".c", ".py"))]
        if "long" not in "".join(s.split(":")[-1] + " "
                                 for s in test["suite"]).split() and \
                any(asks(p, set()) for p in paths):
            yield test["name"]


def sha256(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


def sha256_of_set(folder):
    names = sorted(n for n in os.listdir(folder) if not n.startswith("LICENSE"))
    text = "".join("%s  %s\n" % (sha256(os.path.join(folder, n)), n)
                   for n in names)
    return hashlib.sha256(text.encode()).hexdigest()


def check(folder):
    """Each listed recording is there and is the one that was meant."""
    wrong = 0
    for name, wanted in sorted(listed().items()):
        path = os.path.join(folder, name)
        if not os.path.exists(path):
            print("missing: " + name)
            wrong += 1
            continue
        found = sha256_of_set(path) if name.endswith("/") else sha256(path)
        if found != wanted:
            print("another file: %s has SHA-256 %s" % (name, found))
            wrong += 1
    print("%d of %d recordings are as listed in docs/testing.md" % (
        len(listed()) - wrong, len(listed())))
    return 1 if wrong else 0


def main():
    if len(sys.argv) == 3 and sys.argv[1] == "--check":
        return check(sys.argv[2])
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    print("\n".join(tests_that_ask(sys.argv[1])))
    return 0


if __name__ == "__main__":
    sys.exit(main())
