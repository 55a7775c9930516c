# SPDX-License-Identifier: MIT
"""What a machine lacks is named all at once: by tests/support/packages with apt
and without, as root and not, each on a PATH of stand-ins; and by meson.

usage: packages.py"""
import os
import shutil
import tempfile

from common import SOURCE, Tap, run

SCRIPT = os.path.join("tests", "support", "packages")
CHART = "/usr/share/javascript/dygraphs/dygraph.min.js"
# Own names of what the groups need on another system.
BUILD = ("a C compiler", "meson 1.0", "ninja", "pkg-config", "python3",
         "libpcap", "zlib", "jansson", "inih", "libcrypto", "sqlite3")
TESTS = ("cmocka", "Python module can", "Python module scapy",
         "Python module selenium")


def world(folder, programs):
    """A PATH of nothing but these: name -> script, None for the real one."""
    path = tempfile.mkdtemp(dir=folder)
    for name, script in programs.items():
        to = os.path.join(path, name)
        if script is None:
            os.symlink(shutil.which(name), to)
            continue
        with open(to, "w", encoding="utf-8") as file:
            file.write("#!/bin/sh\n" + script)
        os.chmod(to, 0o755)
    return path


def packages(folder, programs, *groups):
    """In a copy that nobody has set up a build in."""
    place = tempfile.mkdtemp(dir=folder)
    return run(["/bin/sh", os.path.join(SOURCE, SCRIPT), *groups], cwd=place,
               env={"PATH": world(folder, programs)})


def lacking(text, names):
    return ["not named once: %s in\n%s" % (name, text) for name in names
            if text.partition("On Debian")[0].count(name) != 1]


def without_apt(tap, folder):
    nothing = packages(folder, {}, "build", "tests")
    tap.check("without apt everything is named, and it fails",
              lacking(nothing.stderr, BUILD + TESTS) +
              ([] if nothing.returncode == 1 else ["exit 0"]))
    tools = {"cc": "", "meson": "", "ninja": "", "python3": "",
             "pkg-config": ""}
    whole = packages(folder, tools, "build", "tests")
    ready = os.path.exists(CHART)
    tap.check("where all is, nothing is said of it",
              [] if (whole.returncode == 0) == ready and
              ("missing:" in whole.stderr) != ready else [whole.returncode, whole.stderr])
    tools["pkg-config"] = '[ "$2" != jansson ]\n'
    tools["python3"] = '[ "$2" != "import can" ]\n'
    one = packages(folder, tools, "build", "tests")
    said = one.stderr.partition("On Debian")[0]
    tap.check("only what is missing is named; a module only stops its tests",
              [] if one.returncode == 1 and "jansson" in said and
              "Python module can" in said and "done without" in said and
              not any(n in said for n in BUILD[:7] + ("scapy", "cmocka"))
              else [one.returncode, one.stderr])


def with_apt(tap, folder):
    log = os.path.join(folder, "apt.log")
    tools = {"dpkg-query": '[ "$4" = zlib1g-dev ] && echo installed\n',
             "apt-get": 'echo "$@" >>%s\n' % log, "id": "echo 1000\n"}
    user = packages(folder, tools, "build", "tests")
    line = user.stderr.strip()
    tap.check("a user gets one line that works on a bare system",
              [] if user.returncode == 1 and "\n" not in line and
              "apt-get update && apt-get install -y" in line and
              "libjansson-dev" in line and "chromium" in line and
              "zlib1g-dev" not in line and not os.path.exists(log)
              else [user.returncode, line])
    tools["id"] = "echo 0\n"
    root = packages(folder, tools, "build")
    with open(log, encoding="utf-8") as file:
        calls = file.read().splitlines()
    tap.check("root: the lists first, then the packages",
              [] if root.returncode == 0 and len(calls) == 2 and
              calls[0].startswith("update") and "libjansson-dev" in calls[1]
              and "chromium" not in calls[1] else [root.returncode] + calls)


def by_meson(tap, folder):
    """The others may be found in other ways than by pkg-config."""
    place = os.path.join(folder, "none")
    os.mkdir(place)
    machine = os.path.join(folder, "machine.ini")
    with open(machine, "w", encoding="utf-8") as file:
        file.write("[properties]\nchart = '/none/chart.js'\n")
    result = run(["meson", "setup", os.path.join(folder, "build"), SOURCE,
                  "--native-file", machine],
                 env=dict(os.environ, PKG_CONFIG_LIBDIR=place,
                          PKG_CONFIG_PATH=place))
    line = [text for text in result.stdout.splitlines() if "ERROR" in text]
    wanted = ("jansson", "inih", "/none/chart.js", "property chart")
    tap.check("meson names all that is missing in one line",
              [] if result.returncode and len(line) == 1 and
              all(w in line[0] for w in wanted)
              else line or result.stdout.splitlines()[-10:])


def main():
    tap = Tap()
    with tempfile.TemporaryDirectory() as folder:
        without_apt(tap, folder)
        with_apt(tap, folder)
        by_meson(tap, folder)
    tap.finish()


main()
