# SPDX-License-Identifier: MIT
"""Data flows one way: a room includes its own and earlier rooms' headers, the
tool includes public headers only. Walks every #include and names the edge that
offends."""
import re
import sys

from common import HEADER_ROOM, Tap, files, read, room_order, without_comments

INCLUDE = re.compile(r'^\s*#\s*include\s*["<]([^">]+)[">]', re.M)


def room_of(path):
    """Room that a file of the project belongs to; None: belongs to none."""
    public = re.fullmatch(r"include/brakelag/(\w+)\.h", path)
    if public:
        name = public.group(1)
        return "all" if name == "brakelag" else HEADER_ROOM.get(name, name)
    private = re.match(r"src/(\w+)/", path)
    return private.group(1) if private else None


def target_of(name):
    """Path in the project that an include names; None: outside of it."""
    if name.startswith("brakelag/"):
        return "include/" + name
    if "/" in name and name.split("/")[0] in room_order():
        return "src/" + name
    return None


def offences(path, text, order):
    own = room_of(path)
    if own is None:
        return
    if own not in order and own != "all":
        yield "%s: belongs to no room of src/meson.build" % path
        return
    for match in INCLUDE.finditer(text):
        name = match.group(1)
        line = text.count("\n", 0, match.start()) + 1
        target = target_of(name)
        if target is None:
            # A bare quoted name is a file of the same folder.
            continue
        room = room_of(target)
        edge = "%s:%d: %s -> %s (%s)" % (path, line, own, room, name)
        if own == "cli":
            if target.startswith("src/") and room != "cli":
                yield edge + ": the tool uses public headers only"
        elif own == "all":
            continue
        elif room == "all":
            if path.startswith("include/"):
                yield edge + ": a header includes what it needs"
        elif room not in order:
            yield edge + ": no such room"
        elif order.index(room) > order.index(own):
            yield edge + ": %s comes after %s" % (room, own)
        elif path.startswith("include/") and target.startswith("src/"):
            yield edge + ": a public header includes a private one"


# A study asks for these without any order: a list of what a link should show.
NO_ORDER = {"bl_reach_ids"}
MAKER = re.compile(r"\b(bl_\w+)\s*\(\s*struct\s+bl_\w+\s*\*\*")


def makers():
    """Functions that make a part of an analysis: they hand out an object, and
    are in a header of a room between load and study."""
    order = room_order()
    rooms = order[order.index("load"):order.index("assess")]
    names = {"bl_causes"}
    for path in files("include/brakelag", ends=(".h",)):
        if room_of(path) in rooms and room_of(path) != "survey":
            names |= set(MAKER.findall(without_comments(read(path))))
    return names - NO_ORDER


def ordering(path, text, steps):
    """The tool asks assess for a whole trial; it takes no step of its own, and
    leaves to report how results are put together."""
    for match in re.finditer(r"\b(bl_\w+)\s*\(", text):
        name = match.group(1)
        if name in steps or name.startswith("bl_result_add_"):
            yield "%s:%d: %s is a step of an analysis: src/assess has the " \
                "order" % (path, text.count("\n", 0, match.start()) + 1, name)


def self_test(order):
    """The check must see an offence when there is one."""
    cases = [
        ("src/base/x.c", '#include "io/x.h"\n', 1),
        ("src/io/x.c", '#include "base/alloc.h"\n#include <stdio.h>\n', 0),
        ("include/brakelag/bus.h", '#include "brakelag/load.h"\n', 1),
        ("include/brakelag/bus.h", '#include "base/alloc.h"\n', 1),
        ("src/cli/x.c", '#include "base/alloc.h"\n', 1),
        ("src/cli/x.c", '#include "brakelag/lag.h"\n#include "x.h"\n', 0),
        ("src/nowhere/x.c", "", 1),
    ]
    for path, text, wanted in cases:
        found = list(offences(path, text, order))
        if len(found) != wanted:
            yield "%s with %r: %d found, %d expected" % (path, text, len(found),
                                                         wanted)


def self_test_ordering(steps):
    for name in ("bl_load_run", "bl_clock_tie_run", "bl_measure_run",
                 "bl_reach_run", "bl_causes", "bl_compare", "bl_limits_create"):
        if len(list(ordering("x.c", "a = %s(&b, c);" % name, steps))) != 1:
            yield "%s is no step" % name
    for text in ("bl_result_write(r, o, p, e);", "bl_reach_ids(&i, &n, t, e);",
                 "bl_assess(&a, t, o, p, e);", "bl_survey_make(&s, e);"):
        if list(ordering("x.c", text, steps)):
            yield "%s is a step" % text


def main():
    tap = Tap()
    steps = makers()
    order = room_order()
    tap.check("the check finds what it should", self_test(order))
    found = []
    for path in files("src", "include", ends=(".c", ".h")):
        found += offences(path, without_comments(read(path)), order)
    tap.check("includes follow the order of the rooms", found)
    tap.check("the check of the tool finds what it should",
              self_test_ordering(steps))
    found = []
    for path in files("src/cli", ends=(".c", ".h")):
        found += ordering(path, without_comments(read(path)), steps)
    tap.check("the tool holds no order of analysis", found)
    tap.finish()


sys.exit(main())
