# SPDX-License-Identifier: MIT
"""The demo of README (captures-demo/run) as a newcomer sees it: it fits a screen,
names what it wrote and nothing else, and says whose folder it is where it may not
write. The build is done already: ninja is a stand-in here.

usage: demo.py TOOL"""
import os
import shutil
import subprocess
import sys
import tempfile

import made

LINES, COLUMNS = 52, 80
FILES = ["measure.txt", "measure.json", "measure.csv", "compare.txt",
         "report.html"]
# Writes what it is asked for, but no comparison and no page.
FAILING = """#!/bin/sh
case $1 in
measure) while [ "$1" != -o ]; do shift; done; echo told >"$2" ;;
*) exit 4 ;;
esac
"""
tool = os.path.abspath(sys.argv[1])
tap = made.Tap()


def project(folder, program):
    """As after a build; (its place, the environment)."""
    place = tempfile.mkdtemp(dir=folder)
    shutil.copytree(os.path.join(made.SOURCE, "captures-demo"),
                    os.path.join(place, "captures-demo"),
                    ignore=shutil.ignore_patterns("out"))
    shutil.copytree(os.path.join(made.SOURCE, "decoders"),
                    os.path.join(place, "decoders"))
    for name, text in (("tests/support/packages", "exit 0\n"),
                       ("build/build.ninja", ""),
                       ("bin/ninja", "#!/bin/sh\n"),
                       ("build/src/cli/brakelag", program)):
        path = os.path.join(place, name)
        os.makedirs(os.path.dirname(path), exist_ok=True)
        if program and name.endswith("brakelag") and not program.startswith("#"):
            os.symlink(program, path)
            continue
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(path, 0o755)
    os.chmod(place, 0o755)
    return place, dict(os.environ, LC_ALL="C.UTF-8", PATH=os.path.join(
        place, "bin") + os.pathsep + os.environ["PATH"])


def demo(place, env, **more):
    return subprocess.run(["sh", "captures-demo/run"], cwd=place, env=env,
                          capture_output=True, text=True, **more)


def named(text):
    part = ("\n" + text).partition("\nwritten: ")[2]
    return [line.split()[0].rpartition("/")[2] for line in part.splitlines()]


def written(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def check_screen(folder):
    done = demo(*project(folder, tool))
    lines = done.stdout.splitlines()
    wide = [line for line in lines if len(line) > COLUMNS]
    tap.check("it ends well and fits %d lines of %d columns" % (LINES, COLUMNS),
              done.returncode == 0 and not wide and 30 < len(lines) <= LINES,
              "exit %d, %d lines, %s %s" % (done.returncode, len(lines), wide,
                                            done.stderr[-500:]))
    tap.check("the answer, both runs and what power changes are on it",
              all(part in done.stdout for part in (
                  "Bin trailer C fills slowly", "\nThe answer\n",
                  "Run P1, powered", "Run U1, unpowered", "5 bin trailer D",
                  "What changed", "Bin trailer D, full steps")),
              done.stdout)
    tap.check("all that was written is named", named(done.stdout) == FILES,
              done.stdout[-600:])


def check_named(folder):
    place, env = project(folder, FAILING)
    out = os.path.join(place, "captures-demo", "out")
    os.makedirs(out)
    for name in FILES:
        with open(os.path.join(out, name), "w", encoding="utf-8") as file:
            file.write("of yesterday")
    done = demo(place, env)
    tap.check("what could not be written is not named, nor yesterday's",
              done.returncode == 4 and named(done.stdout) == FILES[:3] and
              sorted(os.listdir(out)) == sorted(FILES[:3]) and
              all(written(os.path.join(out, name)) == "told\n"
                  for name in FILES[:3]), done.stdout + done.stderr)


def check_owner(folder):
    place, env = project(folder, FAILING)
    os.chmod(folder, 0o755)
    out = os.path.join(place, "captures-demo", "out")
    os.makedirs(out)
    for path in (out, place):
        os.chmod(path, 0o555)
    more = {"user": 65534, "group": 65534, "extra_groups": []} \
        if os.geteuid() == 0 else {}
    done = demo(place, env, **more)
    owner = subprocess.run(["id", "-un"], capture_output=True,
                           text=True).stdout.strip()
    for path in (out, place):
        os.chmod(path, 0o755)
    tap.check("a folder of somebody else is called that",
              done.returncode == 5 and done.stderr.count("\n") == 1 and
              "belongs to %s," % owner in done.stderr and not done.stdout,
              "exit %d %s %s" % (done.returncode, done.stderr, done.stdout))


def main():
    with tempfile.TemporaryDirectory() as folder:
        check_screen(folder)
        check_named(folder)
        check_owner(folder)
    sys.exit(tap.end())


main()
