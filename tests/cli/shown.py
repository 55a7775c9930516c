# SPDX-License-Identifier: MIT
"""What foreign names do to those who look at them: no format character (Unicode
category Cf, as Python knows it) and no control character reaches a terminal or
a drafted trial, no name is a formula in a spreadsheet, no page is poured into a
terminal, no message lands on the progress line.

usage: shown.py TOOL"""
import csv
import io
import os
import pty
import resource
import subprocess
import sys
import tempfile
import unicodedata

import made

tool = os.path.abspath(sys.argv[1])
tap = made.Tap()
DATA = os.path.abspath(os.path.join(os.environ["BL_TEST_DATA"], "cli"))
MARKS = [chr(c) for c in range(0x80, 0x110000)
         if unicodedata.category(chr(c)) == "Cf"]


def hidden(text):
    return sorted({"%04X" % ord(c) for c in text
                   if unicodedata.category(c) in ("Cf", "Cc", "Zl", "Zp")
                   and c not in "\n\t"})


def check_hidden(scratch):
    """A column name may be that long at least: 12 marks each."""
    log = os.path.join(scratch, "log.csv")
    parts = [MARKS[i:i + 12] for i in range(0, len(MARKS), 12)]
    names = ["out %d %s" % (i, "".join(part)) for i, part in enumerate(parts)]
    with open(log, "w", encoding="utf-8") as file:
        file.write("time [s]," + ",".join(names) + "\n")
        for i in range(200):
            file.write("%.2f," % (i / 100) + ",".join(
                "%d" % (100 + (i + k) % 7) for k in range(len(names))) + "\n")
    bus = os.path.join(scratch, "bus.log")
    with open(bus, "w", encoding="utf-8") as file:
        for i in range(50):
            file.write("(%d.%02d0000) can\u202e0 18F0010B#FF00FFFFFFFFFFFF\n" %
                       (1000 + i // 10, i % 10 * 10))
    table = os.path.join(scratch, "own.csv")
    with open(table, "w", encoding="utf-8") as file:
        with open(os.path.join(os.environ["BRAKELAG_TABLES"],
                               "j1939-brakes.csv"), encoding="utf-8") as row:
            file.write(row.readline())
        file.write("ZZ1,0xFF42,any,any,,number,1.1,8,,,,,,count,,,"
                   "\u202etxet\u202c \U000e0041,confirmed\n")
    for words in (["survey", log], ["survey", bus],
                  ["survey", "--write-trial", log, bus],
                  ["tables", "show", table],
                  ["explain", "--table", table, "ZZ1"]):
        done = made.run(tool, *words)
        text = done.stdout.decode()
        tap.check("%s: nothing hidden is shown" % " ".join(
            os.path.basename(w) for w in words),
            done.returncode == 0 and len(text) > 80 and "\u2039202E\u203a" in
            text and not hidden(text), "exit %d, %s %s" % (
                done.returncode, hidden(text), done.stderr.decode()))


def check_formulas(scratch):
    """The list of characters is OWASP's of CSV injection: = + - @ tab CR."""
    names = ["=HYPERLINK(1)", "+1+1", "-2+3", "@SUM(1)", '=1,"2"']
    with open(os.path.join(DATA, "trial.ini"), encoding="utf-8") as file:
        text = file.read().replace(
            "yard.csv", os.path.join(DATA, "yard.csv"))
    for name, old in zip(names, ("prime mover", "bin trailer A",
                                 "bin trailer B", "bin trailer C",
                                 "as found")):
        text = text.replace(old, name)
    # Findings and traits name the run beside the number of a unit.
    text = text.replace("[run A1]", "[run -A1]")
    trial = os.path.join(scratch, "formulas.ini")
    with open(trial, "w", encoding="utf-8") as file:
        file.write(text)
    for words in (["measure", trial, "--csv"], ["causes", trial, "--csv"],
                  ["causes", trial, "--csv", "--traits"],
                  ["characteristic", trial, "--csv"],
                  ["report", trial, "--format", "csv"]):
        done = made.run(tool, *words, "--quiet")
        rows = list(csv.reader(io.StringIO(done.stdout.decode())))
        cells = [cell for row in rows[1:] for cell in row]
        bare = [c for c in cells if c[:1] in tuple("=+-@\t\r") and
                not number(c)]
        guarded = {c for c in cells if c.startswith("'")}
        own = words[0] in ("measure", "report")  # of all units and conditions
        tap.check("%s %s: no name is a formula" % (words[0], words[-1]),
                  len(rows) > 1 and not bare and
                  (not own or guarded >= {"'" + n for n in names[1:]}), "%s %s %s" % (
                       bare[:5], sorted(guarded), done.stderr))
        tap.check("%s %s: numbers stay numbers" % (words[0], words[-1]),
                  not any(number(c[1:]) for c in guarded))


def number(text):
    try:
        float(text)
        return True
    except ValueError:
        return False


def on_terminal(words, out, env=None):
    """What a terminal gets of standard error, and of standard output with
    `out`; the exit code."""
    master, slave = pty.openpty()
    done = subprocess.Popen([tool, *words], stdin=subprocess.DEVNULL,
                            stdout=slave if out else subprocess.DEVNULL,
                            stderr=slave, env=env)
    os.close(slave)
    data = b""
    while True:
        try:
            part = os.read(master, 65536)
        except OSError:
            break
        if not part:
            break
        data += part
    os.close(master)
    return done.wait(), data.decode("utf-8", "replace")


def screen(text):
    """The lines that stay: CR goes back, ESC [ K clears (ECMA-48, EL)."""
    lines, line = [], ""
    for part in text.replace("\r\n", "\n").split("\n"):
        for piece in part.split("\r"):
            line = piece[3:] if piece.startswith("\033[K") else \
                piece + line[len(piece):]
        lines.append(line)
        line = ""
    return lines


def check_terminal(scratch):
    trial = os.path.join(DATA, "trial.ini")
    code, text = on_terminal(["report", trial], True)
    tap.check("report without -o does not fill a terminal with its page",
              code == 2 and "<" not in text and "-o report.html" in text, text)
    code, text = on_terminal(["report", trial, "--format", "text"], True)
    tap.check("its text is for a terminal", code == 0 and
              "Straight lines" in text, text[:200])
    # A log with a cell that is no number: a message while runs go by.
    with open(os.path.join(DATA, "yard.csv"), encoding="utf-8") as file:
        rows = file.read().splitlines()
    rows[500] = rows[500].replace(rows[500].split(",")[1], "@@", 1)
    with open(os.path.join(scratch, "yard.csv"), "w", encoding="utf-8") as file:
        file.write("\n".join(rows) + "\n")
    made.write(os.path.join(scratch, "trial.ini"), made.read(trial))
    for command in ("report", "causes"):
        words = [command, os.path.join(scratch, "trial.ini"), "-o",
                 os.path.join(scratch, "out")]
        code, text = on_terminal(words, False)
        lines = [line for line in screen(text) if line]
        tap.check("%s: no message on the progress line" % command,
                  code == 3 and "1 of 1: A1" in text and lines and
                  all(line.startswith("brakelag: ") for line in lines), text)


def check_memory(scratch):
    """RLIMIT_AS: where it becomes too tight, "out of memory" is said once. The
    sanitizers need more address space than that: tests/run --long does this
    with a release build."""
    if made.sanitized(tool):
        tap.skip("memory that ends is said once", "a tool with sanitizers")
        return
    trial = os.path.join(made.SOURCE, "captures-demo", "trial.ini")
    said = []
    for most in range(18000, 42000, 2000):
        done = made.run(tool, "measure", trial, "--run", "R1", "--run", "P1",
                        "-o", os.path.join(scratch, "out"), "--quiet",
                        preexec_fn=lambda: resource.setrlimit(
                            resource.RLIMIT_AS, (most * 1024, most * 1024)))
        if done.returncode == 5:
            said.append(done.stderr.decode())
    tap.check("memory that ends is said once (%d times tried)" % len(said),
              len(said) > 1 and all(
                  text == "brakelag: out of memory\n" for text in said), said)


def main():
    with tempfile.TemporaryDirectory() as scratch:
        check_hidden(scratch)
        check_formulas(scratch)
        check_terminal(scratch)
        check_memory(scratch)
    sys.exit(tap.end())


main()
