# SPDX-License-Identifier: MIT
"""What goes out is complete: an archive of the last commit is made, built with
a prefix of its own, tested and installed by meson; the installed program finds
its tables without being told where.

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
        clone, build = os.path.join(folder, "clone"), \
            os.path.join(folder, "build")
        prefix = os.path.join(folder, "prefix")
        env = {k: v for k, v in os.environ.items()
               if not k.startswith(("BRAKELAG_", "MESON_", "DESTDIR", "BL_",
                                    "LD_"))}
        tap.check("clone", last(run(["git", "clone", "-q", source, clone])))
        tap.check("meson setup", last(run(
            ["meson", "setup", build, clone, "--prefix", prefix,
             "--libdir=lib", "-Dbuildtype=release",
             "-Dc_link_args=-Wl,-rpath,$ORIGIN/../lib"], env=env)))
        tap.check("meson dist builds and tests", last(run(
            ["meson", "dist", "-C", build, "--formats", "gztar"], env=env)))
        tap.check("an archive lies there", [] if glob.glob(
            os.path.join(build, "meson-dist", "brakelag-*.tar.gz"))
            else ["none"])
        tap.check("meson install", last(run(
            ["meson", "install", "-C", build], env=env)))
        # The source is gone: what is found now is what was installed.
        os.rename(clone, clone + "-gone")
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
