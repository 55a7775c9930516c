# SPDX-License-Identifier: MIT
"""clang-format has nothing to change. Its versions differ in detail, so only
the one of Debian 12 is asked."""
import re
import shutil
import subprocess
import sys

from common import ROOT, Tap, files

VERSION = "14"


def main():
    tap = Tap()
    name = "clang-format changes nothing"
    program = shutil.which("clang-format-" + VERSION) or \
        shutil.which("clang-format")
    version = subprocess.run([program, "--version"], text=True,
                             capture_output=True).stdout if program else ""
    if not re.search(r"version %s\." % VERSION, version):
        tap.skip(name, "no clang-format " + VERSION)
        tap.finish()
    paths = files("src", "include", "tests", ends=(".c", ".h"))
    result = subprocess.run([program, "--dry-run"] + paths, cwd=ROOT,
                            text=True, capture_output=True)
    found = [line.split(": warning")[0] + ": run clang-format -i"
             for line in result.stderr.splitlines()
             if "clang-format-violations" in line]
    tap.check(name, found)
    tap.finish()


sys.exit(main())
