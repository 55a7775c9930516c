# SPDX-License-Identifier: MIT
"""A cross build: the compiler of this machine, called foreign, so that what it
builds may not be run. Manual pages and completions then come from a program that
is named, or that was built here before; else they are left out, and that is said.

usage: cross.py TOOL CC..."""
import os
import shutil
import sys
import tempfile

from common import SOURCE, Tap, run

FILE = """[binaries]
c = [%s]
ar = 'ar'
strip = 'strip'
pkgconfig = 'pkg-config'
[host_machine]
system = 'linux'
cpu_family = 'aarch64'
cpu = 'aarch64'
endian = 'little'
[properties]
needs_exe_wrapper = true
%s"""
PAGES = ["docs/brakelag.1", "docs/brakelag-measure.1", "docs/_brakelag"]


def setup(folder, name, manual_by, path):
    """Neither cmocka nor its tests: what is asked is the program's own build."""
    build = os.path.join(folder, name)
    cross = os.path.join(folder, name + ".ini")
    with open(cross, "w", encoding="utf-8") as file:
        file.write(FILE % (", ".join("'%s'" % w for w in sys.argv[2:]),
                           "manual_by = '%s'\n" % manual_by
                           if manual_by else ""))
    return build, run(["meson", "setup", build, SOURCE, "--cross-file", cross,
                       "--auto-features=disabled"],
                      env=dict(os.environ, PATH=path))


def last(result):
    return (result.stdout + result.stderr).splitlines()[-8:]


def without(tap, folder, path):
    build, result = setup(folder, "without", None, path)
    targets = run(["ninja", "-C", build, "-t", "targets", "all"]).stdout
    said = "without manual pages and completions" in result.stdout
    tap.check("no program that runs here: left out, and said",
              [] if result.returncode == 0 and said and
              "src/cli/brakelag:" in targets and
              not any(page + ":" in targets for page in PAGES)
              else last(result))


def named(tap, folder, path, tool):
    build, result = setup(folder, "named", tool, path)
    made = run(["ninja", "-C", build, *PAGES]) if result.returncode == 0 \
        else result
    ours = os.path.dirname(os.path.dirname(os.path.dirname(tool)))
    wrong = [] if made.returncode == 0 else last(made)
    for page in PAGES if not wrong else []:
        with open(os.path.join(build, page), "rb") as a, \
                open(os.path.join(ours, page), "rb") as b:
            if a.read() != b.read():
                wrong.append(page + " is another")
    tap.check("with a program named: the pages of a native build", wrong)


def refused(tap, folder, path):
    other = os.path.join(folder, "other")
    with open(other, "w", encoding="utf-8") as file:
        file.write("#!/bin/sh\necho brakelag 0.0.1\n")
    os.chmod(other, 0o755)
    _, result = setup(folder, "other-version", other, path)
    tap.check("one of another version is refused",
              [] if result.returncode != 0 and "brakelag 0.0.1" in
              result.stdout else last(result))


def main():
    tool = os.path.abspath(sys.argv[1])
    # No brakelag that was installed is found.
    path = os.pathsep.join(
        p for p in os.environ.get("PATH", "").split(os.pathsep)
        if not os.path.exists(os.path.join(p, "brakelag")))
    if not shutil.which("meson", path=path):
        print("1..0 # SKIP a brakelag is installed beside meson")
        return
    tap = Tap()
    with tempfile.TemporaryDirectory() as folder:
        without(tap, folder, path)
        named(tap, folder, path, tool)
        refused(tap, folder, path)
    tap.finish()


main()
