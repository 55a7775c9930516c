# SPDX-License-Identifier: MIT
"""What the checks of the house rules share: the file list, C text without
comments, and TAP output. Plain standard library, so that it runs anywhere."""
import os
import re
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))

# Fixtures are bytes as some recorder would write them: no style applies.
UNSTYLED = ("tests/data/", "tests/fuzz/corpus/", "captures-demo/")


def read(path):
    with open(os.path.join(ROOT, path), encoding="utf-8", errors="replace",
              newline="") as file:
        return file.read()


def files(*tops, ends=()):
    """Paths relative to the root, '/' separated, sorted."""
    found = []
    for top in tops:
        full = os.path.join(ROOT, top)
        if os.path.isfile(full):
            found.append(top)
        for folder, folders, names in os.walk(full):
            folders[:] = [f for f in folders
                          if not f.startswith("build") and f != "__pycache__"]
            for name in names:
                if not ends or name.endswith(tuple(ends)):
                    path = os.path.relpath(os.path.join(folder, name), ROOT)
                    found.append(path.replace(os.sep, "/"))
    return sorted(set(found))


def tracked():
    """All files of the project: what git knows, or all that lies about."""
    try:
        text = subprocess.run(["git", "-C", ROOT, "ls-files", "-z", "-co",
                               "--exclude-standard"], check=True,
                              capture_output=True).stdout.decode()
        names = [n for n in text.split("\0") if n]
    except (OSError, subprocess.CalledProcessError):
        names = files(*[n for n in os.listdir(ROOT)
                        if n != ".git" and not n.startswith("build")])
    return sorted(n for n in names if os.path.isfile(os.path.join(ROOT, n)))


TOKEN = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'',
                   re.S)


def without_comments(text, strings=True):
    """C text with comments (and, with strings=False, the insides of literals)
    blanked; line numbers stay."""
    def blank(match):
        part = match.group(0)
        if part.startswith("/"):
            return " " + "\n" * part.count("\n")
        if strings:
            return part
        return part[0] + part[-1]
    return TOKEN.sub(blank, text)


def room_order():
    """The rooms as src/meson.build lists them, then the tool."""
    text = read("src/meson.build")
    listed = re.search(r"room_names\s*=\s*\[(.*?)\]", text, re.S).group(1)
    return re.findall(r"'([a-z0-9]+)'", listed) + ["cli"]


# Public headers whose name is not that of their room.
HEADER_ROOM = {"status": "base", "units": "base", "words": "base", "pace": "base",
               "names": "terms", "series": "signal",
               "budget": "lag"}
# Each study has a header of its own; the room is one.
HEADER_ROOM.update((study, "study") for study in (
    "answer", "picture", "check", "compare", "reach", "characteristic", "traits", "transducers", "choice", "limits",
    "dynamics", "predict", "causes", "findings", "life"))


class Tap:
    """Collects findings per check; one line of TAP each."""

    def __init__(self):
        self.number = 0
        self.failed = 0
        print("TAP version 13")

    def check(self, name, findings):
        self.number += 1
        findings = list(findings)
        print("%sok %d - %s" % ("not " if findings else "", self.number, name))
        for finding in findings[:40]:
            print("# " + finding)
        if len(findings) > 40:
            print("# ... and %d more" % (len(findings) - 40))
        self.failed += bool(findings)

    def skip(self, name, why):
        self.number += 1
        print("ok %d - %s # SKIP %s" % (self.number, name, why))

    def finish(self):
        print("1..%d" % self.number)
        sys.exit(1 if self.failed else 0)
