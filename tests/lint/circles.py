# SPDX-License-Identifier: MIT
"""Files of a room call one way: no file calls, straight or through others, a
file that calls it. Walks every call from one file of a room to a function that
another file of the room defines."""
import re
import sys

from common import Tap, files, read, without_comments

# Circles that stand, by the files in them, or the folder of a study whose files
# share one struct and one header. They may only become fewer: what is no circle
# any more fails.
STANDING = {
    "study": ["answer/", "causes/", "reach/"],
}

DEFINED = re.compile(r"^(?!static|typedef|struct \w+ \{)[A-Za-z_][\w \t*\n]*?"
                     r"[\s*](\w+)\([^;{}]*\)\s*\{", re.M)


def calls(sources, text_of=read):
    """file -> files of the same folder tree that define what it names."""
    code = {path: without_comments(text_of(path), strings=False)
            for path in sources}
    home = {}
    for path, text in code.items():
        for name in DEFINED.findall(text):
            home.setdefault(name, set()).add(path)
    edges = {path: set() for path in sources}
    for path, text in code.items():
        text = re.sub(r"\bstruct \w+", "", text)
        for name in set(re.findall(r"\b[a-z]\w+", text)):
            where = home.get(name, set())
            if len(where) == 1 and path not in where:
                edges[path] |= where
    return edges


def reached(edges, start):
    seen = set()
    todo = [start]
    while todo:
        for other in edges[todo.pop()]:
            if other not in seen:
                seen.add(other)
                todo.append(other)
    return seen


def circles(edges):
    """Sets of files that reach each other."""
    reach = {path: reached(edges, path) for path in edges}
    found = set()
    for path in edges:
        circle = frozenset(other for other in reach[path]
                           if path in reach[other])
        if len(circle) > 1:
            found.add(circle)
    return sorted(found, key=sorted)


def room(name):
    return [p for p in files("src/" + name, ends=(".c",)) if "/page/" not in p]


def offences(found, standing):
    unused = list(standing)
    for circle in found:
        names = " ".join(sorted(circle))
        allowed = [s for s in standing if names == s or (
            s.endswith("/") and all(path.startswith(s) for path in circle))]
        if not allowed:
            yield "files that call each other: " + names
        unused = [s for s in unused if s not in allowed]
    for names in unused:
        yield "need not be excepted any more: " + names


def self_test():
    ring = {"src/a/x.c": "int bl_x(void)\n{\n    return bl_y();\n}\n",
            "src/a/y.c": "int bl_y(void)\n{\n    return bl_z();\n}\n",
            "src/a/z.c": "int bl_z(void)\n{\n    return bl_x();\n}\n"}
    found = circles(calls(list(ring), ring.get))
    if found != [frozenset(ring)]:
        yield "a circle of three was not found"
    ring["src/a/z.c"] = "int bl_z(void)\n{\n    return 1;\n}\n"
    if circles(calls(list(ring), ring.get)):
        yield "a chain was taken for a circle"
    if not list(offences([], ["src/a/x.c src/a/y.c"])):
        yield "an exception that is not needed: not found"


def main():
    tap = Tap()
    tap.check("the check finds what it should", self_test())
    rooms = sorted({p.split("/")[1] for p in files("src", ends=(".c",))})
    for name in rooms:
        standing = [" ".join("src/%s/%s%s" % (name, one,
                                              "" if one[-1] == "/" else ".c")
                             for one in circle.split())
                    for circle in STANDING.get(name, [])]
        tap.check("no circle of files in " + name,
                  offences(circles(calls(room(name))), standing))
    tap.finish()


sys.exit(main())
