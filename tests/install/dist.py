# SPDX-License-Identifier: MIT
"""What goes out is complete: an archive of the last commit is made, unpacked,
built with a prefix of its own, tested where no repository is, and installed by
meson; the installed program finds its tables without being told where. Of the
tests those in C run here: the others were run on the same files already.

usage: dist.py SOURCE"""
import glob
import os
import sys
import tempfile

from common import Tap, commands, missing, run


def last(result):
    return [] if result.returncode == 0 else \
        (result.stdout + result.stderr).splitlines()[-40:]


def library(prefix):
    found = glob.glob(prefix + "/lib*/**/libbrakelag.so.*", recursive=True)
    return os.path.relpath(os.path.dirname(found[0]), prefix)


def main():
    source = sys.argv[1]
    if run(["git", "-C", source, "rev-parse", "HEAD"]).returncode != 0:
        print("1..0 # SKIP not a git checkout: no archive can be made")
        return
    tap = Tap()
    with tempfile.TemporaryDirectory() as folder:
        clone, first, unpacked, build, prefix = (
            os.path.join(folder, name)
            for name in ("clone", "first", "unpacked", "build", "prefix"))
        env = {k: v for k, v in os.environ.items()
               if not k.startswith(("BRAKELAG_", "MESON_", "DESTDIR", "BL_",
                                    "LD_"))}
        tap.check("clone", last(run(["git", "clone", "-q", source, clone])))
        options = ["--prefix", prefix, "--libdir=lib", "-Dbuildtype=release",
                   "-Dc_link_args=-Wl,-rpath,$ORIGIN/../lib"]
        tap.check("meson setup", last(run(
            ["meson", "setup", first, clone, *options], env=env)))
        tap.check("meson dist", last(run(
            ["meson", "dist", "-C", first, "--formats", "gztar", "--no-tests"],
            env=env)))
        archives = glob.glob(
            os.path.join(first, "meson-dist", "brakelag-*.tar.gz"))
        tap.check("an archive lies there", [] if archives else ["none"])
        os.mkdir(unpacked)
        tap.check("it unpacks", last(run(
            ["tar", "-xzf", *archives, "-C", unpacked,
             "--strip-components=1"])))
        tap.check("meson setup of what was unpacked", last(run(
            ["meson", "setup", build, unpacked, *options], env=env)))
        tap.check("it builds", last(run(["ninja", "-C", build], env=env)))
        tap.check("its tests pass", last(run(
            ["meson", "test", "-C", build, "--no-rebuild", "--suite", "unit"],
            env=env)))
        tap.check("meson install", last(run(
            ["meson", "install", "-C", build, "--no-rebuild"], env=env)))
        # The source is gone: what is found now is what was installed.
        os.rename(unpacked, unpacked + "-gone")
        tool = os.path.join(prefix, "bin", "brakelag")
        tap.check("all files are in place",
                  missing(prefix, commands(tool, env)))
        tap.check_runpath("the program looks for its library beside itself",
                          tool, ["$ORIGIN/../" + library(prefix)])
        tap.check("the program finds its tables",
                  last(run([tool, "tables", "show", "iso11992-2", "EBS11"],
                           env=env)))
    tap.finish()


main()
