# SPDX-License-Identifier: MIT
"""Installs the build into a folder of its own and uses what is there: files in
place, tables found, and a program that knows the library only by its headers
and pkg-config.

usage: installed.py BUILD SANITIZERS CC..."""
import glob
import json
import os
import re
import shlex
import sys
import tempfile

from common import SOURCE, Tap, commands, dead, missing, run

ROW = "ZZ1,0xFF42,any,any,,running_number,1.1,8,,,,,,count,,,test,confirmed\n"


def place(build, folder):
    """Install below `folder`; (prefix there, folder of the library)."""
    result = run(["meson", "install", "-C", build, "--no-rebuild", "--destdir",
                  folder])
    if result.returncode != 0:
        print("Bail out! meson install: " + result.stderr[-500:])
        sys.exit(1)
    found = glob.glob(folder + "/**/brakelag.pc", recursive=True)
    library = os.path.dirname(os.path.dirname(found[0]))
    include = glob.glob(folder + "/**/include/brakelag", recursive=True)[0]
    return os.path.dirname(os.path.dirname(include)), library


def tables_found(tool, prefix, env):
    """A message that only the installed table has is found."""
    path = os.path.join(prefix, "share", "brakelag", "decoders",
                        "iso11992-2.csv")
    show = [tool, "tables", "show", "iso11992-2", "ZZ1"]
    before = run(show, env=env).returncode
    with open(path, "a", encoding="utf-8") as file:
        file.write(ROW)
    result = run(show, env=env)
    if before != 2 or result.returncode != 0:
        return ["before: exit %d, after: exit %d" % (before,
                                                     result.returncode),
                result.stderr]
    return []


def knows(path, text):
    with open(path, "rb") as file:
        return text.encode() in file.read()


def after_install(prefix, library, env):
    """The script that `meson install` ends with (it is left out of DESTDIR)."""
    script = ["sh", os.path.join(SOURCE, "src", "cli", "installed.sh"),
              os.path.join(prefix, "bin"), library]
    known = run(script, env=env)
    unknown = run(script, env={k: v for k, v in env.items()
                               if k != "LD_LIBRARY_PATH"})
    wrong = [] if known.returncode == 0 and not known.stdout else \
        ["found, and yet: " + known.stdout]
    if unknown.returncode != 0 or "ldconfig" not in unknown.stdout or \
            library not in unknown.stdout:
        wrong.append("not found: " + unknown.stdout + unknown.stderr)
    return wrong


def build_example(name, words, prefix, library, folder, sanitizers, env):
    flags = run(["pkg-config", "--cflags", "--libs", "brakelag"], env=env)
    if flags.returncode != 0:
        return None, ["pkg-config: " + flags.stderr]
    program = os.path.join(folder, name)
    source = os.path.join(prefix, "share", "doc", "brakelag", "docs",
                          "examples", name + ".c")
    if sanitizers != "none":
        words = words + ["-fsanitize=" + sanitizers]
    result = run(words + ["-std=c11", "-Wall", "-Wextra", "-Werror", source] +
                 shlex.split(flags.stdout) +
                 ["-Wl,-rpath-link," + library, "-o", program], env=env)
    if result.returncode != 0:
        return None, [flags.stdout] + result.stderr.splitlines()[:20]
    return program, []


def example_tells_truth(program, env):
    """Every response lies within 10 ms of what the recordings were made with
    (a reference run: all transducers at one tee; 10 ms are ten intervals of
    its logger)."""
    demo = os.path.join(SOURCE, "captures-demo")
    with open(os.path.join(demo, "truth.json"), encoding="utf-8") as file:
        truth = {r["name"]: r for r in json.load(file)["runs"]}
    result = run([program, os.path.join(demo, "trial.ini")], env=env)
    wrong = result.stderr.splitlines()[:10]
    units, checked = None, 0
    for line in result.stdout.splitlines():
        head = re.match(r"run (\S+), application (\d+)$", line)
        figure = re.match(r"  unit (\d+) .* (-?\d+\.\d+) s \+- ", line)
        if head:
            units = truth[head.group(1)]["applications"][
                int(head.group(2)) - 1]["units"]
        elif figure:
            true = units[int(figure.group(1))]["response"]
            checked += 1
            if abs(float(figure.group(2)) - true) > 0.010:
                wrong.append("%s; the truth is %.4f s" % (line, true))
    if result.returncode != 0 or checked < 30:
        wrong.append("exit %d, %d figures" % (result.returncode, checked))
    return wrong


def short(prefix, name, most):
    path = os.path.join(prefix, "share", "doc", "brakelag", "docs",
                        "examples", name)
    with open(path, encoding="utf-8") as file:
        lines = len(file.readlines())
    return [] if lines < most else ["%s has %d lines" % (name, lines)]


def same_page(program, tool, folder, env):
    """Library and tool write the same bytes, of a trial of one run each way."""
    demo = os.path.join(SOURCE, "captures-demo")
    with open(os.path.join(demo, "trial.ini"), encoding="utf-8") as file:
        text = file.read()
    # Two runs are enough, and take a third of the time.
    parts = re.split(r"^(?=\[)", text, flags=re.M)
    parts = [p for p in parts
             if not p.startswith(("[run P2]", "[run U2]", "[run P3]",
                                  "[run U3]", "[run R1]"))]
    parts = [re.sub(r"(?<=[ ,])([PU]1\.\w+\.gz)",
                    lambda m: os.path.join(demo, m.group(1)), p)
             for p in parts]
    trial = os.path.join(folder, "trial.ini")
    with open(trial, "w", encoding="utf-8") as file:
        file.write("".join(parts))
    own = os.path.join(folder, "own.html")
    theirs = os.path.join(folder, "theirs.html")
    results = [run([program, trial, own], env=env),
               run([tool, "report", trial, "--quiet", "-o", theirs], env=env)]
    wrong = [line for r in results for line in r.stderr.splitlines()[:5]]
    if [r.returncode for r in results] != [0, 0]:
        return wrong + ["exit %s" % [r.returncode for r in results]]
    with open(own, "rb") as a, open(theirs, "rb") as b:
        pages = a.read(), b.read()
    if pages[0] != pages[1] or b"<html" not in pages[0]:
        return ["%d and %d bytes, not the same page" % tuple(map(len, pages))]
    return []


def main():
    build, sanitizers, words = sys.argv[1], sys.argv[2], sys.argv[3:]
    tap = Tap()
    with tempfile.TemporaryDirectory() as folder:
        prefix, library = place(build, folder)
        # As after ldconfig: the program has no path to its library.
        env = dict(os.environ, LC_ALL="C", LD_LIBRARY_PATH=library,
                   PKG_CONFIG_SYSROOT_DIR=folder,
                   PKG_CONFIG_PATH=os.path.join(library, "pkgconfig"),
                   BRAKELAG_TABLES=os.path.join(prefix, "share", "brakelag",
                                                "decoders"))
        tool = os.path.join(prefix, "bin", "brakelag")
        tap.check("all files are in place",
                  missing(prefix, commands(tool, env)))
        names = commands(tool, env)
        tap.check("what pages and help name is there",
                  dead(prefix, tool, names, env))
        tap.check_runpath("the program has no path to its library in it",
                          tool, [])
        tap.check("after an install that the loader does not know, it is said",
                  after_install(prefix, library, env))
        tap.check("pkg-config knows the folder of the tables",
                  [] if os.path.exists(folder + run(
                      ["pkg-config", "--variable=tablesdir", "brakelag"],
                      env=dict(env, PKG_CONFIG_SYSROOT_DIR="")).stdout.strip())
                  else ["it is not there"])
        tap.check("the program finds its tables where they were put",
                  tables_found(tool, prefix, env))
        tap.check("nothing that was installed knows the source's tables",
                  [path for path in [tool] + glob.glob(library + "/*.so*")
                   if knows(path, os.path.join(SOURCE, "decoders"))])
        program, wrong = build_example("response", words, prefix, library,
                                       folder, sanitizers, env)
        tap.check("a program builds against the installed copy", wrong)
        page, wrong = build_example("page", words, prefix, library, folder,
                                    sanitizers, env)
        tap.check("one that makes the page is under 40 lines",
                  wrong or short(prefix, "page.c", 40))
        tap.check("and tells when the units responded",
                  example_tells_truth(program, env) if program
                  else ["not built"])
        tap.check("and writes the page that the tool writes",
                  same_page(page, tool, folder, env) if page
                  else ["not built"])
    tap.finish()


main()
