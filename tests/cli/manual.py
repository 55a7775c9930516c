# SPDX-License-Identifier: MIT
"""Every command and every option that the help lists is in the manual pages
and is completed by bash and zsh; groff and the shells judge their syntax.

usage: manual.py TOOL"""
import os
import re
import shutil
import subprocess
import sys
import tempfile

TOOL = os.path.abspath(sys.argv[1])
number = failed = 0


def run(*words, **more):
    return subprocess.run(words, capture_output=True, text=True, **more)


def tool(*words):
    return run(TOOL, *words, check=True).stdout


def report(name, wrong, skip=None):
    global number, failed
    number += 1
    failed += bool(wrong)
    print("%sok %d - %s%s" % ("not " if wrong else "", number, name,
                              " # SKIP " + skip if skip else ""))
    for line in wrong[:20]:
        print("# " + line)


def commands():
    part = tool("help").split("Commands:\n")[1].split("\n\n")[0]
    return re.findall(r"^  (\w+)", part, re.M)


def options(command):
    found = re.findall(r"^ .*?--([a-z-]+)", tool(command, "--help"), re.M)
    return sorted(set(found))


def manual(wanted):
    wrong = []
    main = tool("help", "--manual").replace("\\-", "-")
    for command, names in wanted.items():
        page = tool("help", "--manual", command).replace("\\-", "-")
        if not re.search(r"^\.B %s( |$)" % command, main, re.M) or \
                ".BR brakelag-%s (1)" % command not in main:
            wrong.append("brakelag.1 lacks " + command)
        for name in names:
            for where, text in (("brakelag.1", main),
                                ("brakelag-%s.1" % command, page)):
                if not re.search(r"^\.B .*--%s( |$)" % name, text, re.M):
                    wrong.append("%s lacks --%s" % (where, name))
    report("the manual pages tell every command and option", wrong)


def groff(wanted):
    if not shutil.which("groff"):
        report("groff finds nothing to complain about", [], "no groff")
        return
    wrong = []
    for words in [[]] + [[command] for command in wanted]:
        said = run("groff", "-man", "-ww", "-Tutf8",
                   input=tool("help", "--manual", *words)).stderr
        wrong += said.splitlines()
    report("groff finds nothing to complain about", wrong)


TABLES = ["iso11992-2", "j1939-brakes", "j1939-vehicle"]
# As bash quotes it, as it is in the file; in the order of sort.
RUNS = [(r"\$\(touch\ ran\)", "$(touch ran)"), ("P1", "P1"),
        (r"U\ 1", "U 1")]


def write_trial(folder):
    with open(os.path.join(folder, "trial.ini"), "w", encoding="utf-8") as file:
        file.write("[trial]\nname = x\n")
        for _, name in reversed(RUNS):
            file.write("[run %s] ; of it\ncondition = %s\n" % (
                name, "powered ; so" if name == "P1" else "as found"))


BASH = r"""
. "$1"; shift
COMP_WORDS=("$@")
COMP_CWORD=$(($# - 1))
_brakelag 2>/dev/null
printf '%s\n' "${COMPREPLY[@]}"
"""


def bash(wanted, folder):
    name = "bash completes every command, option and choice"
    if not shutil.which("bash"):
        report(name, [], "no bash")
        return
    path = os.path.join(folder, "brakelag.bash")
    with open(path, "w", encoding="utf-8") as file:
        file.write(tool("help", "--completion", "bash"))

    def lines(*words):
        return run("bash", "-c", BASH, "bash", path, TOOL, *words,
                   cwd=folder).stdout.splitlines()

    def complete(*words):
        return " ".join(lines(*words)).split()
    wrong = []
    if sorted(complete("")) != sorted(wanted):
        wrong.append("commands: %s" % complete(""))
    for command, names in wanted.items():
        found = sorted(w[2:] for w in complete(command, "--"))
        if found != names:
            wrong.append("%s: %s, expected %s" % (command, found, names))
    for words, expected in (
            (("measure", "--pressure-unit", ""), ["kPa", "bar", "psi"]),
            (("measure", "--pressure-unit", "=", "b"), ["bar"]),
            (("tables", "s"), ["show"]),
            (("tables", "show", ""), TABLES),
            (("tables", "show", "j1939-b"), ["j1939-brakes"]),
            (("measure", "--bud"), ["--budget"]),
            (("measure", ""), []),
            (("help", "surv"), ["survey"])):
        if complete(*words) != expected:
            wrong.append("%s: %s, expected %s" % (words, complete(*words),
                                                  expected))
    # What a trial file calls its runs is data: nothing of it may be run.
    for words, expected in (
            (("measure", "trial.ini", "--run", ""), [
                quoted for quoted, _ in RUNS]),
            (("measure", "trial.ini", "--run", "P"), ["P1"]),
            (("measure", "--run", "=", "P"), []),
            (("compare", "trial.ini", "--base", ""),
             ["as\\ found", "powered"])):
        if lines(*words) != expected and lines(*words) + expected != [""]:
            wrong.append("%s: %s, expected %s" % (words, lines(*words),
                                                  expected))
    if os.path.exists(os.path.join(folder, "ran")):
        wrong.append("a name of a run was executed")
    report(name, wrong)


# Enough of zsh's completion system to see what would be offered.
ZSH = r"""
_arguments() { print -rl -- "$@" }
_describe() { print -rl -- "${commands[@]}" }
compadd() { [[ $1 == -a ]] && print -rl -- "${(P@)2}" || print -rl -- ${@:#--} }
_files() { print files }
brakelag() { "$TOOL" "$@" }
words=("${@[2,-1]}")
CURRENT=$#words
. "$1"
[[ $words[CURRENT-1] != (--run|show) ]] || { echo '=='; "$ASK" }
"""


def zsh(wanted, folder):
    name = "zsh completes every command and option"
    if not shutil.which("zsh"):
        report(name, [], "no zsh")
        return
    path = os.path.join(folder, "_brakelag")
    with open(path, "w", encoding="utf-8") as file:
        file.write(tool("help", "--completion", "zsh"))

    def complete(*words, ask=":"):
        return run("zsh", "-f", "-c", ZSH, "zsh", path, "brakelag", *words,
                   cwd=folder, env=dict(os.environ, TOOL=TOOL, ASK=ask))
    wrong = run("zsh", "-n", path).stderr.splitlines()
    first = complete("")
    wrong += first.stderr.splitlines()
    found = sorted(line.split(":")[0] for line in first.stdout.splitlines())
    if found != sorted(wanted):
        wrong.append("commands: %s" % found)
    for command, names in wanted.items():
        result = complete(command, "")
        wrong += result.stderr.splitlines()
        found = sorted(set(re.findall(r"^(?:\([^)]*\)|\*)?--([a-z-]+)=?\[",
                                      result.stdout, re.M)))
        if found != names:
            wrong.append("%s: %s, expected %s" % (command, found, names))
    for words, ask, expected in (
            (("measure", "trial.ini", "--run", ""), "_brakelag_runs",
             sorted(name for _, name in RUNS)),
            (("tables", "show", ""), "_brakelag_words", TABLES)):
        result = complete(*words, ask=ask)
        found = result.stdout.partition("==\n")[2].splitlines()
        if sorted(found) != expected or result.stderr:
            wrong.append("%s: %s, expected %s" % (words, found, expected))
            wrong += result.stderr.splitlines()
    if os.path.exists(os.path.join(folder, "ran")):
        wrong.append("a name of a run was executed")
    report(name, wrong)


def main():
    print("TAP version 13")
    wanted = {command: options(command) for command in commands()}
    report("the help lists commands and their options", [
        "%s: no --help" % c for c, names in wanted.items()
        if "help" not in names] if wanted else ["no command"])
    report("every command shows an example", [
        c for c in wanted if c != "version"
        and not re.search(r"\nExample(?: \(.*\))?:\n  brakelag ",
                          tool("help", c))])
    report("the help fits a screen of 80 columns", [
        "%s: %d columns: %s" % (" ".join(words), len(line), line)
        for words in [[]] + [[command] for command in wanted]
        for line in tool("help", *words).splitlines() if len(line) > 80])
    manual(wanted)
    groff(wanted)
    with tempfile.TemporaryDirectory() as folder:
        write_trial(folder)
        bash(wanted, folder)
        zsh(wanted, folder)
    print("1..%d" % number)
    return 1 if failed else 0


sys.exit(main())
