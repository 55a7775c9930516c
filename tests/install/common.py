# SPDX-License-Identifier: MIT
"""What the tests of the installed copy share: TAP, and what must be there."""
import os
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
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
               "share/doc/brakelag/trial-file.md",
               "share/doc/brakelag/examples/page.c",
               "share/doc/brakelag/examples/response.c"]
    wanted += ["share/man/man1/brakelag-%s.1" % name for name in names]
    return [path for path in wanted
            if not os.path.exists(os.path.join(prefix, path))]


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

    def finish(self):
        print("1..%d" % self.number)
        sys.exit(1 if self.failed else 0)
