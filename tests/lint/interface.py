# SPDX-License-Identifier: MIT
"""What an interface must keep: few parameters, an initialiser for every struct
of options, one verb for each making and ending."""
import re
import sys

from common import HEADER_ROOM, Tap, files, read, without_comments

MAX_PARAMETERS = 6

# Verbs that stand for one that is used already (DEVELOPERS.md, house rules).
OTHER_VERBS = {"free": "destroy", "delete": "destroy", "dispose": "destroy",
               "make": "create", "new": "create", "alloc": "create",
               "init": "default, or zero-initialise", "defaults": "default",
               "end": "close or finish", "stop": "close or finish"}


# What no room, no command and no example uses, though it is promised: why.
PROMISED = {
    "bl_bytes_open_memory": "a recording that a program holds in memory",
    "bl_scenario_read": "a scenario that a program holds in memory",
    "bl_tables_add": "a table that a program holds in memory",
}


def parameters(arguments):
    if arguments.strip() in ("", "void"):
        return 0
    depth = 0
    count = 1
    for letter in arguments:
        depth += (letter in "([{") - (letter in ")]}")
        count += letter == "," and depth == 0
    return count


HEAD = re.compile(r"^(?!return|else|case|typedef)[A-Za-z_][\w \t*\n]*?[\s*](\w+)\(",
                  re.M)


def functions(text):
    """(line, name, parameters) of every declaration and definition that begins
    in the first column."""
    code = without_comments(text, strings=False)
    for match in HEAD.finditer(code):
        depth = 1
        end = match.end()
        while end < len(code) and depth > 0:
            depth += (code[end] == "(") - (code[end] == ")")
            end += 1
        if re.match(r"\s*(\{|;|BL_PRINTF)", code[end:]):
            yield (code.count("\n", 0, match.start(1)) + 1, match.group(1),
                   parameters(code[match.end():end - 1]))


def many_parameters(paths, text_of=read):
    for path in paths:
        for line, name, count in functions(text_of(path)):
            if count > MAX_PARAMETERS:
                yield "%s:%d: %s has %d parameters, %d is the limit" % (
                    path, line, name, count, MAX_PARAMETERS)


def initialisers(text):
    """Structs of options without bl_..._default."""
    code = without_comments(text)
    for name in re.findall(r"struct (bl_\w+_(?:options|rules)) \{", code):
        if not re.search(r"struct %s\s+%s_default\(void\)" % (name, name), code):
            yield "struct %s has no %s_default" % (name, name)


def verbs(path, text):
    for line, name, _ in functions(text):
        verb = name.rsplit("_", 1)[-1]
        if name.startswith("bl_") and verb in OTHER_VERBS:
            yield "%s:%d: %s: the verb is %s" % (path, line, name,
                                                 OTHER_VERBS[verb])


def endings(headers):
    """What a call hands out through `struct bl_x **out` needs an ending."""
    code = "\n".join(without_comments(read(p)) for p in headers)
    made = set(re.findall(r"\(\s*struct (bl_\w+) \*\*out", code))
    ended = set(re.findall(
        r"_(?:destroy|close|commit|discard)\(\s*struct (bl_\w+) \*", code))
    for name in sorted(made - ended):
        yield "struct %s: made, but no destroy or close takes it" % name


def users(headers, sources, text_of=read, promised=None):
    """What a header exports is used: by another room, the tool or an example.
    Initialisers of options are for the programs of others."""
    promised = dict(PROMISED if promised is None else promised)
    rooms = {}
    for path in sources:
        for name in re.findall(r"\bbl_\w+", without_comments(text_of(path))):
            rooms.setdefault(name, set()).add(path.split("/")[1])
    for path in headers:
        header = path.rsplit("/", 1)[-1][:-2]
        home = HEADER_ROOM.get(header, header)
        for name in re.findall(r"\bBL_API\b[^;(]*?\b(bl_\w+)\s*\(",
                               without_comments(text_of(path))):
            used = rooms.get(name, set()) - {home} or name.endswith("_default")
            if not used and promised.pop(name, None) is None:
                yield "%s: %s: no other room, no command and no example " \
                    "uses it" % (path, name)
            elif used and promised.pop(name, None) is not None:
                yield "%s: need not be excepted any more" % name
    for name in sorted(promised):
        yield "%s: need not be excepted any more" % name


# Folders and files in which variables are still called so. May only become
# shorter.
NAMELESS = ()


def nameless(paths, text_of=read, allowed=NAMELESS):
    """Variables, parameters and members say what they are."""
    needed = set()
    for path in paths:
        code = without_comments(text_of(path), strings=False)
        for match in re.finditer(r"\b(is|of)\b", code):
            folder = [a for a in allowed if path.startswith(a)]
            needed.update(folder)
            if not folder:
                yield "%s:%d: '%s' says not what it is" % (
                    path, code.count("\n", 0, match.start()) + 1,
                    match.group(1))
    for folder in sorted(set(allowed) - needed):
        yield "%s: need not be excepted any more" % folder


def self_test():
    seven = "int f(int a, int b, int c, int d, int e, int g, int h)\n{\n}\n"
    if not list(many_parameters(["a.c"], lambda _: seven)):
        yield "seven parameters: not found"
    if list(many_parameters(
            ["a.c"], lambda _: "int f(int (*g)(int, int, int), int a[2], int b,"
            " int c, int d, int e)\n{\n}\n")):
        yield "six parameters were taken for more"
    if not list(initialisers("struct bl_a_options {\n    int b;\n};\n")):
        yield "no initialiser: not found"
    if not list(verbs("a.h", "BL_API void bl_a_free(struct bl_a *a);\n")):
        yield "another verb: not found"
    if not list(nameless(["a.c"], lambda _: "int is;\n", ())) or \
            list(nameless(["a.c"], lambda _: "int a; /* is */\n", ())):
        yield "a variable called is: not found, or a comment was"
    exported = {"include/brakelag/lag.h": "BL_API int bl_lag_x(int a);\n",
                "src/lag/x.c": "int bl_lag_x(int a) { return a; }\n",
                "src/report/x.c": "int y(void) { return bl_lag_x(1); }\n"}
    header = ["include/brakelag/lag.h"]
    if not list(users(header, ["src/lag/x.c"], exported.get, {})):
        yield "an export without a user: not found"
    if list(users(header, ["src/lag/x.c", "src/report/x.c"], exported.get, {})):
        yield "a user was not seen"


def main():
    tap = Tap()
    headers = files("include", ends=(".h",))
    tap.check("the checks find what they should", self_test())
    tap.check("no function with over %d parameters" % MAX_PARAMETERS,
              many_parameters(files("src", "include", "tests",
                                    ends=(".c", ".h"))))
    tap.check("options have an initialiser",
              [f for p in headers for f in initialisers(read(p))])
    tap.check("one verb for each making and ending",
              [f for p in headers for f in verbs(p, read(p))])
    tap.check("what is made can be ended", endings(headers))
    tap.check("no variable is called is or of",
              nameless(files("src", "include", ends=(".c", ".h"))))
    tap.check("what is exported has a user",
              users(headers, files("src", "docs/examples", ends=(".c", ".h"))))
    tap.finish()


sys.exit(main())
