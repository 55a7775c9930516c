# SPDX-License-Identifier: MIT
"""Writes a source tree that a Debian 12 can build packages from: the files of the
project and a folder debian/ with what dpkg-buildpackage asks for. Three packages:
brakelag (the tool, its tables, pages and the demo), libbrakelag0.2 and
libbrakelag-dev. The tests are not run by the build: sh tests/run is for them.

usage: debian.py FOLDER [NAME ADDRESS]
FOLDER/brakelag-VERSION is written; there, dpkg-buildpackage -us -uc -b builds. NAME
and ADDRESS are those of whoever makes the packages."""
import email.utils
import os
import re
import shutil
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
CHART_NOTICE = "/usr/share/doc/libjs-dygraphs/copyright"
NOBODY = ("nobody", "nobody@localhost")

CONTROL = """Source: brakelag
Section: science
Priority: optional
Maintainer: {maker}
Build-Depends: debhelper-compat (= 13), {needs}
Standards-Version: 4.6.2
Rules-Requires-Root: no

Package: brakelag
Architecture: any
Depends: libbrakelag{soname} (= ${{binary:Version}}), ${{shlibs:Depends}}, ${{misc:Depends}}
Suggests: www-browser
Description: brake timing evidence from recordings of truck-trailer trains
 Reads captures of vehicle buses and logs of pressure transducers that were
 recorded in a brake trial, and says which unit brakes late, by how much and
 why, each figure with its uncertainty.
 .
 This package has the tool brakelag, its mapping tables, its pages and a trial
 that was simulated, to try things on.

Package: libbrakelag{soname}
Section: libs
Architecture: any
Multi-Arch: same
Depends: ${{shlibs:Depends}}, ${{misc:Depends}}
Description: brake timing evidence from recordings, shared library
 Reads captures of vehicle buses and logs of pressure transducers that were
 recorded in a brake trial, and says which unit brakes late, by how much and
 why, each figure with its uncertainty.
 .
 This package has the library that the tool is built on.

Package: libbrakelag-dev
Section: libdevel
Architecture: any
Multi-Arch: same
Depends: libbrakelag{soname} (= ${{binary:Version}}), ${{misc:Depends}}
Description: brake timing evidence from recordings, development files
 Reads captures of vehicle buses and logs of pressure transducers that were
 recorded in a brake trial, and says which unit brakes late, by how much and
 why, each figure with its uncertainty.
 .
 This package has what a program needs that uses the library.
"""
# Pages are read with a pager and by the tool's own words, recordings by the tool:
# neither may be compressed. `copyright` holds the licences.
RULES = """#!/usr/bin/make -f
export DEB_BUILD_MAINT_OPTIONS = hardening=+all
%:
\tdh $@ --buildsystem=meson
override_dh_auto_configure:
\tdh_auto_configure -- --auto-features=disabled
override_dh_auto_test:
override_dh_auto_install:
\tdh_auto_install --destdir=debian/tmp
\trm debian/tmp/usr/share/doc/brakelag/LICENSE*
override_dh_compress:
\tdh_compress -X.md -X.ini -X.json -X.c
"""
INSTALL = {
    "brakelag": """usr/bin
usr/share/brakelag
usr/share/bash-completion
usr/share/doc/brakelag
usr/share/man
usr/share/zsh/site-functions/_brakelag usr/share/zsh/vendor-completions
""",
    "libbrakelag{soname}": "usr/lib/*/libbrakelag.so.*\n",
    "libbrakelag-dev": "usr/include\nusr/lib/*/libbrakelag.so\n"
                       "usr/lib/*/pkgconfig\n",
}


def read(path):
    with open(os.path.join(SOURCE, path), encoding="utf-8") as file:
        return file.read()


def write(folder, name, text, mode=0o644):
    path = os.path.join(folder, name)
    os.makedirs(os.path.dirname(path), exist_ok=True)
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    os.chmod(path, mode)


def git(*words):
    return subprocess.run(["git", "-C", SOURCE, *words], capture_output=True,
                          text=True)


def sources():
    """What git knows; of an archive, all but builds."""
    known = git("ls-files", "-z")
    if known.returncode == 0 and known.stdout:
        return known.stdout.split("\0")[:-1]
    found = []
    for folder, folders, names in os.walk(SOURCE):
        folders[:] = [f for f in folders if f != "__pycache__" and not (
            folder == SOURCE and f.startswith(("build", ".git")))]
        found += [os.path.relpath(os.path.join(folder, n), SOURCE)
                  for n in names]
    return [p for p in found if not p.startswith("captures-demo/out/")]


def when():
    """The day of the last commit, or of the newest page: no clock, so that the
    same source gives the same packages."""
    commit = git("log", "-1", "--format=%ct")
    if commit.returncode == 0 and commit.stdout.strip():
        return int(commit.stdout)
    return int(os.path.getmtime(os.path.join(SOURCE, "docs", "changelog.md")))


def licence():
    text = "brakelag\n\n" + read("LICENSE")
    with open(CHART_NOTICE, encoding="utf-8") as file:
        return text + "\n\nThe library holds the script of dygraphs, which goes " \
            "into report pages.\nIts notice:\n\n" + file.read()


def main():
    if len(sys.argv) not in (2, 4):
        sys.exit(__doc__)
    name, address = sys.argv[2:] or NOBODY
    version = re.search(r"version: '([^']+)'", read("meson.build")).group(1)
    soname = re.search(r"soversion: '([^']+)'",
                       read("src/meson.build")).group(1)
    needs = subprocess.run(["sh", os.path.join(SOURCE, "tests/support/packages"),
                            "--list", "build"], check=True, text=True,
                           capture_output=True).stdout.split()
    top = os.path.join(sys.argv[1], "brakelag-" + version)
    for path in sources():
        to = os.path.join(top, path)
        os.makedirs(os.path.dirname(to), exist_ok=True)
        shutil.copy2(os.path.join(SOURCE, path), to)
    maker = "%s <%s>" % (name, address)
    folder = os.path.join(top, "debian")
    write(folder, "control", CONTROL.format(
        maker=maker, soname=soname, needs=", ".join(
            n + (" (>= 1.0)" if n == "meson" else "") for n in needs
            if n != "build-essential")))
    write(folder, "rules", RULES, 0o755)
    write(folder, "copyright", licence())
    write(folder, "source/format", "3.0 (native)\n")
    write(folder, "changelog", "brakelag (%s) unstable; urgency=medium\n\n"
          "  * What changed: /usr/share/doc/brakelag/docs/changelog.md\n\n"
          " -- %s  %s\n" % (version.replace("-dev", "~dev"), maker,
                           email.utils.formatdate(when())))
    for package, lines in INSTALL.items():
        package = package.format(soname=soname)
        write(folder, package + ".install", lines)
    print(top)


main()
