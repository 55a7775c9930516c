# SPDX-License-Identifier: MIT
"""Checks a result against docs/result-schema.json: the few words of JSON Schema
that the file uses, plus `nullMeans` (where a member is null, others must be
there), plus numbers that JSON does not know (NaN) and doubled members.

usage: check_result.py SCHEMA RESULT...         files, "-" is standard input
       check_result.py SCHEMA --run COMMAND...  the command's standard output"""
import copy
import json
import re
import subprocess
import sys

TYPES = {"object": dict, "array": list, "string": str, "boolean": bool,
         "null": type(None)}


def is_type(value, name):
    if name == "integer":
        return isinstance(value, int) and not isinstance(value, bool)
    if name == "number":
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    return isinstance(value, TYPES[name])


def check(value, schema, root, path):
    if "$ref" in schema:
        found = root
        for part in schema["$ref"][2:].split("/"):
            found = found[part]
        yield from check(value, found, root, path)
        return
    if "enum" in schema and not any(
            value is e or (value == e and type(value) is type(e))
            for e in schema["enum"]):
        yield "%s: %r is none of %r" % (path, value, schema["enum"])
    names = schema.get("type", [])
    names = [names] if isinstance(names, str) else names
    if names and not any(is_type(value, n) for n in names):
        yield "%s: %r is no %s" % (path, value, " or ".join(names))
        return
    if "pattern" in schema and isinstance(value, str) and \
            not re.search(schema["pattern"], value):
        yield "%s: %r does not match %s" % (path, value, schema["pattern"])
    if "minimum" in schema and is_type(value, "number") and \
            value < schema["minimum"]:
        yield "%s: %r is below %r" % (path, value, schema["minimum"])
    if isinstance(value, dict):
        yield from check_object(value, schema, root, path)
    if isinstance(value, list) and "items" in schema:
        for index, item in enumerate(value):
            yield from check(item, schema["items"], root,
                             "%s[%d]" % (path, index))


def check_object(value, schema, root, path):
    required = list(schema.get("required", []))
    rule = schema.get("nullMeans")
    if rule and value.get(rule["member"]) is None:
        required += rule["required"]
    for name in required:
        if name not in value:
            yield "%s: no member %s" % (path, name)
    for name, part in schema.get("properties", {}).items():
        if name in value:
            yield from check(value[name], part, root, path + "." + name)


def refuse(word):
    raise ValueError("%s is no JSON" % word)


def unique(pairs):
    names = [name for name, _ in pairs]
    if len(set(names)) != len(names):
        raise ValueError("a member is there twice: %r" % names)
    return dict(pairs)


def parse(text):
    return json.loads(text, parse_constant=refuse, object_pairs_hook=unique)


def spoil_run(result, spoil):
    """Of reach there are no runs, but its own entries."""
    if result["runs"]:
        spoil(result["runs"][0])
    else:
        result["reach"][0]["units"][0].pop("verdict")


def self_test(schema, sample):
    """A spoilt result must not pass."""
    spoilt = []
    for spoil in (lambda r: r.pop("schema"),
                  lambda r: r.update(schema="brakelag-result/1"),
                  lambda r: spoil_run(r, lambda run: run.pop("t0_ns")),
                  lambda r: spoil_run(r, lambda run: run.update(t0_ns=5)),
                  lambda r: r["recordings"].append(None),
                  lambda r: r["tool"].update(version="x")):
        copied = copy.deepcopy(sample)
        spoil(copied)
        spoilt.append(copied)
    for number, result in enumerate(spoilt):
        if not list(check(result, schema, schema, "result")):
            yield "spoilt result %d passes" % number
    missing = {"s": None, "u_s": None}
    if not list(check(missing, schema["definitions"]["figure"], schema, "x")):
        yield "a missing figure without a reason passes"


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        schema = json.load(file)
    texts = []
    if sys.argv[2] == "--run":
        texts.append(subprocess.run(sys.argv[3:], check=True,
                                    capture_output=True).stdout)
    else:
        for name in sys.argv[2:]:
            if name == "-":
                texts.append(sys.stdin.buffer.read())
            else:
                with open(name, "rb") as file:
                    texts.append(file.read())
    failed = 0
    for text in texts:
        result = parse(text.decode("utf-8"))
        wrong = list(check(result, schema, schema, "result"))
        wrong += self_test(schema, result)
        for line in wrong[:50]:
            print(line)
        failed += bool(wrong)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
