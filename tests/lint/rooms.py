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


def main():
    tap = Tap()
    order = room_order()
    tap.check("the check finds what it should", self_test(order))
    found = []
    for path in files("src", "include", ends=(".c", ".h")):
        found += offences(path, without_comments(read(path)), order)
    tap.check("includes follow the order of the rooms", found)
    tap.finish()


sys.exit(main())
