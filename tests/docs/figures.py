# SPDX-License-Identifier: MIT
"""Every figure of the one list (BL_FIGURE_LIST) stands where people and
programs look for it: its definition in docs/methods/figures.md, the pages of
the result and of the trial file, and the schema; and no page knows another."""
import json
import os
import re
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))


def read(*path):
    with open(os.path.join(SOURCE, *path), encoding="utf-8") as file:
        return file.read()


def entries():
    """Name, side, what is passed and since what, of each entry."""
    text = re.search(r"#define BL_FIGURE_LIST\(X\)(.*?[^\\])\n",
                     read("include", "brakelag", "names.h"), re.S).group(1)
    text = text.replace("\\\n", " ")
    for entry in re.findall(r'X\((\w+,(?:[^"()]|"[^"]*")*)\)', text):
        parts = [p.strip().strip('"') for p in
                 re.findall(r'"[^"]*"|[^,"]+', entry) if p.strip()]
        yield parts[1], parts[4], parts[5], parts[7]


def rows(page, heading):
    """First cells of a table, by the names between its backquotes."""
    table = read("docs", *page).split(heading, 1)[1].split("\n\n", 1)[0]
    return {name: line for line in table.split("\n")
            for name in re.findall(r"`([a-z_0-9]+)(?:\[\])?`",
                                   line.split("|")[1] if "|" in line else "")}


def problems():
    listed = list(entries())
    names = [name for name, *_ in listed]
    defined = rows(("methods", "figures.md"), "| figure | counted from |")
    if sorted(defined) != sorted(names):
        yield "docs/methods/figures.md defines %s" % sorted(
            set(defined) ^ set(names))
    since = {"COMMAND_APPLY": "command_apply", "FIRST_UNIT": "first braked",
             "COMMAND_RELEASE": "command_release", "FIRST_RESPONSE": ""}
    for name, _, _, origin in listed:
        cell = defined.get(name, "| | |").split("|")[2]
        if since[origin] not in cell:
            yield "docs/methods/figures.md counts %s from%s" % (name, cell)
    unit = [n for n in names if n not in ("level", "spread")]
    written = set(rows(("result.md",), "| figure | counts from |"))
    if written != set(unit) | {"levels"}:
        yield "docs/result.md lists %s" % sorted(
            written ^ (set(unit) | {"levels"}))
    limits = re.search(r"\| `figure` \| the figure that is limited \|([^|]*)",
                       read("docs", "trial-file.md")).group(1)
    if re.findall(r"`(\w+)`", limits) != names:
        yield "docs/trial-file.md limits %s" % limits
    predicted = read("docs", "methods", "predict.md")
    for name, _, at, _ in listed:
        if at in ("HOLD", "RESPONSE_AT") and "`%s`" % name not in predicted:
            yield "docs/methods/predict.md lacks %s" % name
    schema = json.loads(read("docs", "result-schema.json"))
    for name in unit:
        if not any_unit(schema, name):
            yield "docs/result-schema.json lacks %s" % name


def any_unit(schema, name):
    """Is there an object that requires and describes it beside responded?"""
    if isinstance(schema, list):
        return any(any_unit(part, name) for part in schema)
    if not isinstance(schema, dict):
        return False
    if "responded" in schema.get("properties", {}) and \
            name in schema["properties"] and name in schema.get("required", []):
        return True
    return any(any_unit(part, name) for part in schema.values())


def main():
    found = list(problems())
    for problem in found:
        print("# " + problem)
    print("%sok 1 - the list of figures and the pages agree" %
          ("not " if found else ""))
    print("ok 2 - the list was read" if len(list(entries())) > 9
          else "not ok 2 - the list was not read")
    print("1..2")
    return 1 if found else 0


sys.exit(main())
