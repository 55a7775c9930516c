# SPDX-License-Identifier: MIT
"""Debian packages: debian.py's tree is built by dpkg-buildpackage, lintian finds no
error, and what the packages hold, unpacked into one folder, measures the demo to the
same bytes as the tool that was built here. Skipped where one of these programs or a
package that the build needs is missing.

usage: package.py TOOL"""
import glob
import os
import re
import shutil
import sys
import tempfile

from common import DOC, SOURCE, Tap, commands, dead, run

PROGRAMS = ("dpkg-buildpackage", "dpkg-deb", "dpkg-checkbuilddeps", "dh",
            "lintian", "fakeroot")
# Whoever makes the packages gives the address; this one is no real host.
ADDRESS = "bogus-mail-host,bogus-mail-host-in-debian-changelog"


def last(result):
    return [] if result.returncode == 0 else \
        (result.stdout + result.stderr).splitlines()[-40:]


def fields(deb):
    text = run(["dpkg-deb", "-f", deb], check=True).stdout
    return dict(re.findall(r"^([A-Z][\w-]*): (.*)$", text, re.M))


def depends(debs):
    wanted = {"brakelag": (r"libbrakelag0\.\d+ \(= ", r"libc6 "),
              "libbrakelag-dev": (r"libbrakelag0\.\d+ \(= ",)}
    wanted[next((n for n in debs if re.match(r"libbrakelag\d", n)), "none")] = \
        ("libpcap", "libjansson", "libinih", "libsqlite3", "libssl", "zlib1g")
    return ["%s: Depends lacks %s" % (name, one)
            for name, words in wanted.items() for one in words
            if not re.search(one, debs.get(name, {}).get("Depends", ""))]


def compressed(root):
    """Pages and recordings are read as they lie there."""
    return [path for path in glob.glob(os.path.join(root, "usr", DOC, "**", "*.gz"),
                                       recursive=True)
            if not re.search(r"\.(csv|pcapng)\.gz$|/changelog\.gz$", path)]


def measured(tool, top, env):
    result = run([tool, "measure", "captures-demo/trial.ini", "--run", "P1",
                  "--quiet"], cwd=top, env=env)
    return result.stdout if result.returncode == 0 else result.stderr


def used(root, tool, tap):
    prefix = os.path.join(root, "usr")
    program = os.path.join(prefix, "bin", "brakelag")
    library = os.path.dirname(glob.glob(
        os.path.join(prefix, "lib", "*", "libbrakelag.so.*"))[0])
    env = dict(os.environ, LD_LIBRARY_PATH=library, LC_ALL="C",
               BRAKELAG_TABLES=os.path.join(prefix, "share", "brakelag",
                                            "decoders"))
    names = commands(program, env)
    tap.check("what pages and help name is there",
              dead(prefix, program, names, env))
    tap.check("nothing that is read is compressed", compressed(root))
    tap.check_runpath("the program has no path to its library in it", program,
                      [])
    own = dict(os.environ, LC_ALL="C",
               BRAKELAG_TABLES=os.path.join(SOURCE, "decoders"))
    theirs = measured(program, os.path.join(prefix, DOC), env)
    tap.check("the demo is measured, to the same bytes",
              [] if "Bin trailer C fills slowly" in theirs and theirs == measured(tool, SOURCE, own)
              else theirs.splitlines()[:10])
    manual = glob.glob(os.path.join(prefix, "share", "man", "man1", "*.gz"))
    tap.check("a manual page for every command",
              [] if len(manual) == len(names) + 1 else manual)


def main():
    absent = [p for p in PROGRAMS if not shutil.which(p)]
    if absent:
        print("1..0 # SKIP not here: " + ", ".join(absent))
        return
    tap = Tap()
    with tempfile.TemporaryDirectory() as folder:
        top = run([sys.executable, os.path.join(SOURCE, "tests", "install",
                                                "debian.py"), folder],
                  check=True).stdout.strip()
        needed = run(["dpkg-checkbuilddeps"], cwd=top)
        if needed.returncode != 0:
            print("1..0 # SKIP " + needed.stderr.strip())
            return
        env = {k: v for k, v in os.environ.items() if not k.startswith(
            ("BRAKELAG_", "BL_", "MESON_", "DESTDIR", "CFLAGS", "LDFLAGS",
             "LD_"))}
        tap.check("dpkg-buildpackage", last(run(
            ["dpkg-buildpackage", "-us", "-uc", "-b"], cwd=top, env=env)))
        debs = {fields(d)["Package"]: fields(d)
                for d in glob.glob(os.path.join(folder, "*.deb"))
                if "dbgsym" not in d}
        tap.check("three packages", [] if len(debs) == 3 else sorted(debs))
        tap.check("each depends on what it uses", depends(debs))
        tap.check("lintian finds no error", last(run(
            ["lintian", "--fail-on", "error", "--suppress-tags", ADDRESS] +
            glob.glob(os.path.join(folder, "*.changes")))))
        root = os.path.join(folder, "root")
        for deb in glob.glob(os.path.join(folder, "*.deb")):
            run(["dpkg-deb", "-x", deb, root], check=True)
        used(root, os.path.abspath(sys.argv[1]), tap)
    tap.finish()


main()
