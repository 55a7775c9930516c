# SPDX-License-Identifier: MIT
"""Style that a program can hold: blanks, ends of lines, banned calls, lengths,
licence lines, paths of one machine, message knowledge outside the tables, sources
that nothing builds, fuzz targets without a corpus."""
import csv
import os
import re
import sys

from common import ROOT, UNSTYLED, Tap, files, read, tracked, without_comments

TEXT = (".c", ".h", ".py", ".sh", ".md", ".build", ".csv", ".ini", ".css",
        ".js", ".html", ".1")
MAX_FUNCTION = 80
MAX_FUNCTION_P90 = 50
MAX_FILE = 600
# path:function -> reason why it may be longer. Keep this list short.
LONG_FUNCTIONS = {}
LONG_FILES = {}

# call -> (reason, files that may use it)
BANNED = {
    r"v?sprintf|strcpy|strcat|gets|strncpy|strncat|stpcpy":
        ("writes without a bound", ()),
    r"strtok|strtok_r|rand|srand|localtime|gmtime|asctime|ctime|setlocale":
        ("hidden state", ()),
    r"atoi|atol|atoll|atof|strtod|strtof|strtold|strtol|strtoul|strtoll|"
    r"strtoull|sscanf|scanf|fscanf":
        ("depends on the locale or hides overflow: base/number.h",
         ("src/base/number.c",)),
    r"alloca": ("no variable stack", ()),
}
# The library keeps its mouth shut, stays alive and takes memory in one place.
LIBRARY_BANNED = {
    r"printf|puts|putchar|vprintf|perror|syslog":
        ("the library prints nothing", ()),
    r"exit|_exit|_Exit|abort|quick_exit":
        ("the library never ends the process", ()),
    r"malloc|calloc|realloc|strdup|strndup":
        ("memory comes from base/alloc.h", ("src/base/alloc.c",)),
}
FREE_ALLOWED = {
    "src/base/alloc.c": "the one place",
}


def source_files():
    return files("src", "include", ends=(".c", ".h"))


def c_files():
    return files("src", "include", "tests", ends=(".c", ".h"))


def styled():
    return [p for p in tracked()
            if p.endswith(TEXT) and not p.startswith(UNSTYLED)]


def lines_with(path, text, pattern, why):
    for match in re.finditer(pattern, text):
        line = text.count("\n", 0, match.start()) + 1
        yield "%s:%d: %s: %s" % (path, line, match.group(0).strip(), why)


def blanks(path, text):
    # Expected output of a command is kept byte for byte.
    if "\r" in text:
        yield "%s: carriage return" % path
    if text and not text.endswith("\n"):
        yield "%s: no newline at the end" % path
    if text.endswith("\n\n"):
        yield "%s: blank lines at the end" % path
    if not path.endswith(".csv"):
        for number, line in enumerate(text.split("\n"), 1):
            if "\t" in line:
                yield "%s:%d: tab" % (path, number)
            if line != line.rstrip():
                yield "%s:%d: trailing blank" % (path, number)
    if path.endswith((".c", ".h")):
        for number, line in enumerate(text.split("\n"), 1):
            if len(line) > 80:
                yield "%s:%d: %d columns, 80 is the limit" % (path, number,
                                                            len(line))


def calls(path, text):
    code = without_comments(text, strings=False)
    # Tests compare with these very functions; only the unbounded ones are
    # kept from them.
    rules = dict(list(BANNED.items())[:1 if path.startswith("tests/") else None])
    if path.startswith("src/") and not path.startswith("src/cli/"):
        rules.update(LIBRARY_BANNED)
        if path not in FREE_ALLOWED:
            rules[r"free"] = ("memory goes back through base/alloc.h", ())
    for names, (why, allowed) in rules.items():
        if path in allowed:
            continue
        yield from lines_with(path, code,
                              r"(?<![\w.>])(?:%s)\s*\(" % names, why)
    if path.startswith("src/") and not path.startswith(("src/cli/", "src/io/")):
        yield from lines_with(path, code, r"\b(?:stdout|stderr)\b",
                              "the library prints nothing")


def functions(text):
    """(line, name, length) of every function; the house brace style makes its
    body start and end in the first column."""
    lines = text.split("\n")
    start = None
    for number, line in enumerate(lines):
        if line == "{":
            start = number
        elif line == "}" and start is not None:
            head = " ".join(lines[max(0, start - 6):start])
            names = re.findall(r"(\w+)\s*\(", head)
            first = start
            while first > 0 and lines[first - 1].strip() and \
                    not lines[first - 1].startswith(("}", "#", "/", " *")) and \
                    not lines[first - 1].endswith(";"):
                first -= 1
            head = " ".join(lines[first:start])
            names = re.findall(r"(\w+)\s*\(", head) or names
            yield start + 1, names[0] if names else "?", number - start - 1
            start = None


def long_functions(path, text):
    for line, name, length in functions(text):
        if length > MAX_FUNCTION and path + ":" + name not in LONG_FUNCTIONS:
            yield "%s:%d: %s has %d lines, %d is the limit" % (
                path, line, name, length, MAX_FUNCTION)


def most_functions_short():
    lengths = sorted(length for path in source_files()
                     for _, _, length in functions(read(path)))
    if lengths and lengths[len(lengths) * 9 // 10] > MAX_FUNCTION_P90:
        yield "one function in ten has over %d lines" % MAX_FUNCTION_P90


def long_files(path, text):
    count = text.count("\n")
    if count > MAX_FILE and path not in LONG_FILES:
        yield "%s: %d lines, %d is the limit" % (path, count, MAX_FILE)


def licence(path, text):
    if path.endswith((".c", ".h")):
        if not text.startswith("/* SPDX-License-Identifier: MIT */\n"):
            yield "%s: does not start with its SPDX line" % path
    elif path.endswith((".py", ".sh", ".js", ".css")) or \
            text.startswith("#!"):
        if "SPDX-License-Identifier: MIT" not in text[:400]:
            yield "%s: no SPDX line" % path


def machine_paths(path, text):
    places = "|".join(("ro" + "ot", "ho" + "me", "wo" + "rk", "tm" + "p",
                       "Us" + "ers"))
    yield from lines_with(path, text, r"(?<![\w.$}\-])/(?:%s)/\w+" % places,
                          "path of one machine")


def message_names():
    names = set()
    numbers = set()
    for path in files("decoders", ends=(".csv",)):
        if path.startswith("decoders/vectors/"):
            continue
        with open(os.path.join(ROOT, path), encoding="utf-8",
                  newline="") as file:
            for row in csv.DictReader(file):
                name = row.get("message") or ""
                number = row.get("pgn") or ""
                if len(name) >= 3:
                    names.add(name)
                if number.isdigit() and int(number) > 4096:
                    numbers.add(int(number))
    return names, numbers


def message_knowledge(path, text, names, numbers):
    # The family's own protocol (transport, claims, codes) is src/j1939's.
    if path.startswith(("src/decoder/", "src/j1939/")) or \
            path in ("include/brakelag/decoder.h", "include/brakelag/j1939.h"):
        return
    code = without_comments(text)
    for match in re.finditer(r"\b(?:0[xX][0-9A-Fa-f]+|\d+|[A-Za-z_]\w*)\b",
                             code):
        word = match.group(0)
        if word[0].isdigit():
            value = int(word, 16 if word[1:2] in "xX" else 10)
            bad = value in numbers and value & (value - 1) != 0
        else:
            bad = word in names
        if bad:
            yield "%s:%d: %s belongs in a mapping table" % (
                path, code.count("\n", 0, match.start()) + 1, word)


def fuzz_corpora():
    listed = re.search(r"fuzz_targets\s*=\s*\[(.*?)\]",
                       read("tests/fuzz/meson.build"), re.S)
    listed = set(re.findall(r"'(\w+)'", listed.group(1))) if listed else set()
    sources = {os.path.basename(p)[:-len("_fuzz.c")]
               for p in files("tests/fuzz", ends=("_fuzz.c",))}
    for name in sorted(sources - listed):
        yield "tests/fuzz/%s_fuzz.c: not in fuzz_targets" % name
    for name in sorted(listed - sources):
        yield "tests/fuzz/meson.build: %s has no %s_fuzz.c" % (name, name)
    for name in sorted(sources):
        seeds = files("tests/fuzz/corpus/" + name)
        if not seeds:
            yield "tests/fuzz/corpus/%s: no seed" % name
        size = sum(os.path.getsize(os.path.join(ROOT, p)) for p in seeds)
        if size > 100 * 1024:
            yield "tests/fuzz/corpus/%s: %d bytes, 100 KB is the limit" % (
                name, size)


def builds(path, text):
    """Does this meson.build's folder build `path`, relative to it?"""
    stem = re.sub(r"(_test|_fuzz)?\.c$", "", path)
    return re.search("'(?:%s|%s)'" % (re.escape(path), re.escape(stem)),
                     text) is not None


def not_built():
    """A source or a test that is named nowhere is silently not there."""
    all_text = "".join(read(p) for p in files("src", "tests",
                                              ends=("meson.build",)))
    for path in files("src", "tests", ends=(".c",)):
        folder = os.path.dirname(path)
        while not os.path.isfile(os.path.join(ROOT, folder, "meson.build")):
            folder = os.path.dirname(folder)
        lent = "/ '%s'" % os.path.basename(path) in all_text
        if not lent and not builds(path[len(folder) + 1:],
                                   read(folder + "/meson.build")):
            yield "%s: not in %s/meson.build" % (path, folder)


TOP = ("README.md", "DEVELOPERS.md", "LICENSE", "meson.build", "src",
       "include", "tests", "decoders", "captures-demo", "docs")


def top_level(paths):
    """What lies beside the rooms: a tool's droppings, a forgotten draft."""
    return ["%s: not at the top level" % name
            for name in sorted({p.split("/")[0] for p in paths})
            if name not in TOP and not name.startswith(".")]


def self_test():
    """Each check must see an offence when there is one."""
    body = "int f(void)\n{\n" + "    x();\n" * 81 + "}\n"
    cases = [
        ("tab", list(blanks("a.py", "\tx\n"))),
        ("trailing", list(blanks("a.md", "x \n"))),
        ("newline", list(blanks("a.md", "x"))),
        ("sprintf", list(calls("src/io/a.c", "x = sprintf(b, f);\n"))),
        ("printf", list(calls("src/io/a.c", "printf(f);\n"))),
        ("stdout", list(calls("src/lag/a.c", "f(stdout);\n"))),
        ("function", list(long_functions("a.c", body))),
        ("file", list(long_files("a.c", "\n" * 601))),
        ("licence", list(licence("a.c", "int x;\n"))),
        ("top", top_level(["src/a.c", "a.gcov"])),
        ("path", list(machine_paths("a.md", "see /ho" + "me/someone/x\n"))),
        ("message", list(message_knowledge("src/lag/a.c", "f(\"AB1\", 61441);\n",
                                           {"AB1"}, {61441}))),
    ]
    for name, found in cases:
        if not found:
            yield name + ": not found"
    if builds("reach/a.c", "['reach/ab.c', 'a.c']") or \
            builds("a_test.c", "['aa']"):
        yield "a source that is not built was taken for one that is"
    if not builds("reach/a.c", "['reach/a.c']") or \
            not builds("a_test.c", "['b', 'a']"):
        yield "a source that is built was not seen"
    if list(calls("src/io/a.c", "/* printf(x) */ snprintf(a, b, c);\n")):
        yield "a comment or a longer name was taken for a call"


def every(check, paths):
    found = []
    for path in paths:
        found += check(path, read(path))
    return found


def main():
    tap = Tap()
    tap.check("the checks find what they should", self_test())
    tap.check("blanks, tabs, columns, final newline", every(blanks, styled()))
    tap.check("no banned calls", every(calls, c_files()))
    tap.check("every source is built", not_built())
    tap.check("no function over %d lines" % MAX_FUNCTION,
              every(long_functions, c_files()))
    tap.check("nine functions in ten up to %d lines" % MAX_FUNCTION_P90,
              most_functions_short())
    tap.check("no file over %d lines" % MAX_FILE,
              every(long_files, files("src", "include", "tests",
                                      ends=(".c", ".h", ".py"))))
    tap.check("licence lines", every(licence, [
        p for p in tracked() if not p.startswith(UNSTYLED) or
        p.endswith((".py", ".sh", "/run"))]))
    tap.check("no paths of one machine",
              every(machine_paths, styled() + [
                  p for p in tracked()
                  if p.endswith("/run") or p.startswith("captures-demo/")
                  and p.endswith((".ini", ".json"))]))
    names, numbers = message_names()
    found = []
    for path in source_files():
        found += message_knowledge(path, read(path), names, numbers)
    tap.check("messages are known to tables only", found)
    tap.check("every fuzz target has a corpus", fuzz_corpora())
    tap.check("the top level holds what DEVELOPERS.md names",
              top_level(tracked()))
    tap.finish()


sys.exit(main())
