# SPDX-License-Identifier: MIT
"""Every member of every result has its place in docs/result.md and in
docs/result-schema.json, and no other way round either: what each command writes
of two runs of the demo is walked beside the schema.

usage: members.py TOOL"""
import json
import os
import re
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
DEMO = os.path.join(SOURCE, "captures-demo")
KEPT = ("P1", "U1")
COMMANDS = (["report", "--format", "json", "--history", "HISTORY"], ["reach", "--json"],
            ["compare", "--json", "--with", "EARLIER"], ["characteristic", "--json"], ["check", "--json"],
            ["measure", "--json", "--budget", "apply_75@4@1", "--run", "P1"])
# Named after what was seen, not by the program.
FREE = {"error_classes"}


def short_trial(folder):
    """The demo's trial with two of its runs, a limit and an [expect]."""
    with open(os.path.join(DEMO, "trial.ini"), encoding="utf-8") as file:
        parts = re.split(r"(?m)^(?=\[)", file.read())
    kept = [p for p in parts if not p.startswith("[run ") or
            p.startswith(tuple("[run %s]" % run for run in KEPT))]
    for run in KEPT:
        for end in (".pcapng.gz", ".csv.gz"):
            os.symlink(os.path.join(DEMO, run + end),
                       os.path.join(folder, run + end))
    path = os.path.join(folder, "trial.ini")
    text = "".join(kept)
    with open(path, "w", encoding="utf-8") as file:
        file.write(text + "\n[limit fill]\nfigure = apply_75\n"
                   "max = 0.4 s\n\n[expect]\nreach = yes\n")
    return path


def earlier_result(tool, trial, folder):
    """The trial's own result as of another day, other recordings and pressure."""
    result = json.loads(subprocess.run(
        [tool, "measure", trial, "--quiet", "--json"], capture_output=True,
        check=False).stdout)
    result["trial"].update(date="2023-06-01", supply_kpa=700)
    result["trial"]["units"][1]["id"] = "another"
    for number, recording in enumerate(result["recordings"]):
        recording["sha256"] = "%064x" % number
    path = os.path.join(folder, "earlier.json")
    with open(path, "w", encoding="utf-8") as file:
        json.dump(result, file)
    return path


def words_of_page():
    """All that stands between single backquotes outside of blocks."""
    with open(os.path.join(SOURCE, "docs", "result.md"),
              encoding="utf-8") as file:
        text = re.sub(r"(?ms)^```.*?^```", "", file.read())
    return {word for code in re.findall(r"`([^`]+)`", text)
            for word in re.findall(r"[a-z][a-z0-9_-]*", code)}


def resolve(schema, root):
    while "$ref" in schema:
        found = root
        for part in schema["$ref"][2:].split("/"):
            found = found[part]
        schema = found
    return schema


def unlisted(value, schema, root, path):
    """Paths of members that the schema does not list where they stand."""
    schema = resolve(schema, root)
    if isinstance(value, list):
        for item in value:
            yield from unlisted(item, schema.get("items", {}), root,
                                path + "[]")
    elif isinstance(value, dict) and path.split(".")[-1] not in FREE:
        for name, part in value.items():
            if name not in schema.get("properties", {}):
                yield path + "." + name
            else:
                yield from unlisted(part, schema["properties"][name], root,
                                    path + "." + name)


def names(schema):
    """All members that the schema lists anywhere."""
    if isinstance(schema, list):
        return {n for part in schema for n in names(part)}
    if not isinstance(schema, dict):
        return set()
    found = set(schema.get("properties", {}))
    for part in schema.values():
        found |= names(part)
    return found


def report(number, name, wrong):
    print("%sok %d - %s" % ("not " if wrong else "", number, name))
    for line in wrong[:60]:
        print("# " + line)
    return bool(wrong)


def main():
    tool = os.path.abspath(sys.argv[1])
    with open(os.path.join(SOURCE, "docs", "result-schema.json"),
              encoding="utf-8") as file:
        schema = json.load(file)
    page = words_of_page()
    failed, listed = 0, names(schema)
    print("TAP version 13\n1..%d" % (len(COMMANDS) + 2))
    with tempfile.TemporaryDirectory() as folder:
        trial = short_trial(folder)
        history = os.path.join(folder, "history")
        subprocess.run([tool, "history", "add", trial, "--quiet", "--history",
                        history], stdout=subprocess.DEVNULL, check=False)
        earlier = earlier_result(tool, trial, folder)
        for number, words in enumerate(COMMANDS, 1):
            words = [{"HISTORY": history, "EARLIER": earlier}.get(w, w)
                     for w in words]
            ran = subprocess.run([tool] + words + [trial, "--quiet"],
                                 capture_output=True)
            # 1: the limit is not kept; 4: units that are not ready.
            wrong = [] if ran.returncode in (0, 1, 4) else \
                ["exit %d" % ran.returncode, ran.stderr.decode()]
            if not wrong:
                wrong = sorted(set(unlisted(json.loads(ran.stdout), schema,
                                            schema, "result")))
            failed += report(number, "the schema lists all of " +
                             " ".join(words), wrong)
    failed += report(len(COMMANDS) + 1, "result.md has every member",
                     sorted(listed - page))
    # A member that neither has must be told.
    spoilt = list(unlisted({"runs": [{"zz_new": 1}]}, schema, schema, "result"))
    failed += report(len(COMMANDS) + 2, "a new member is told",
                     [] if spoilt == ["result.runs[].zz_new"] and
                     "zz_new" not in page else ["it is not: %r" % spoilt])
    sys.exit(1 if failed else 0)


main()
