# SPDX-License-Identifier: MIT
"""What the tests of the installed copy share: TAP, and what must be there."""
import os
import re
import shutil
import subprocess
import sys

LINK = re.compile(r"\[[^\]\n]*\]\(([^)\s#]+)(?:#[^)]*)?\)")
HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
DOC = "share/doc/brakelag"
TABLES = ("iso11992-2", "j1939-brakes", "j1939-vehicle")


def run(command, **more):
    return subprocess.run(command, capture_output=True, text=True, **more)


def commands(tool, env):
    """The names of all commands, as the help lists them."""
    text = run([tool, "help"], env=env, check=True).stdout
    part = text.split("Commands:\n")[1].split("\n\n")[0]
    return [line.split()[0] for line in part.splitlines()
            if line.startswith("  ") and not line.startswith("   ")]


def headers():
    return sorted(n for n in os.listdir(os.path.join(SOURCE, "include",
                                                     "brakelag"))
                  if n.endswith(".h"))


def missing(prefix, names):
    """What should stand below the prefix and does not."""
    wanted = ["include/brakelag/" + name for name in headers()]
    wanted += ["share/brakelag/decoders/%s.csv" % name for name in TABLES]
    wanted += ["share/man/man1/brakelag.1", "bin/brakelag",
               "share/bash-completion/completions/brakelag",
               "share/zsh/site-functions/_brakelag",
               DOC + "/README.md", DOC + "/LICENSE",
               DOC + "/LICENSE.dygraphs", DOC + "/docs/trial-file.md",
               DOC + "/docs/examples/page.c", DOC + "/docs/examples/response.c",
               DOC + "/captures-demo/trial.ini"]
    wanted += ["share/man/man1/brakelag-%s.1" % name for name in names]
    return [path for path in wanted
            if not os.path.exists(os.path.join(prefix, path))]


def dead(prefix, tool, names, env):
    """Files that the installed pages link to and the examples of the help name,
    and that are not there."""
    top = os.path.join(prefix, DOC)
    wrong, asked = [], 0
    for folder, _, found in os.walk(top):
        for page in (os.path.join(folder, n) for n in found
                     if n.endswith(".md")):
            with open(page, encoding="utf-8") as file:
                text = re.sub(r"^```.*?^```", "", file.read(),
                              flags=re.S | re.M)
            for target in LINK.findall(text):
                asked += 1
                if "://" not in target and not os.path.exists(
                        os.path.join(folder, target)):
                    wrong.append("%s: %s" % (os.path.relpath(page, top), target))
    for name in names:
        text = run([tool, name, "--help"], env=env, check=True).stdout
        for word in text.partition("\nExample")[2].split():
            if "captures-demo/" in word:
                asked += 1
                if not os.path.exists(os.path.join(top, word)):
                    wrong.append("%s --help: %s" % (name, word))
    return wrong if asked > 100 else wrong + ["only %d were asked" % asked]


def runpath(program):
    """What the loader is told by the program, None where nobody can read it."""
    if not shutil.which("readelf"):
        return None
    text = run(["readelf", "-d", program], check=True).stdout
    return re.findall(r"\((?:RUNPATH|RPATH)\).*\[(.*)\]", text)


class Tap:
    def __init__(self):
        self.number = 0
        self.failed = 0
        print("TAP version 13")

    def check(self, name, wrong):
        self.number += 1
        self.failed += bool(wrong)
        print("%sok %d - %s" % ("not " if wrong else "", self.number, name))
        for line in list(wrong)[:40]:
            print("# " + str(line))
        sys.stdout.flush()

    def skip(self, name, why):
        self.number += 1
        print("ok %d - %s # SKIP %s" % (self.number, name, why))
        sys.stdout.flush()

    def check_runpath(self, name, program, expected):
        """Is `expected` what the loader is told? Skipped where nobody can read
        it."""
        found = runpath(program)
        if found is None:
            self.skip(name, "readelf is missing")
        else:
            self.check(name, [] if found == expected else [str(found)])

    def finish(self):
        print("1..%d" % self.number)
        sys.exit(1 if self.failed else 0)
