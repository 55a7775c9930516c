# SPDX-License-Identifier: MIT
"""Do the commands say the same of the demand's reach? Every trial file that a
golden case hands to `brakelag` is also asked by `reach`, `check` and `report`
(with findings and the answer), and what they say is compared:

- verdict and claims of every unit are those of `reach` everywhere;
- `check` calls the demand to a unit good if and only if `reach` calls it reached, or
  all that is wrong is that other units show that it did not act: `check` takes one
  run and unit at a time, and then says that acting on it was not shown;
- the answer says "arrived at every towed unit" of a run if and only if `reach`
  calls all its units reached;
- a unit that `reach` calls reached has no finding that its demand is missing,
  stands, or is ignored, from any command.

usage: agree.py TOOL [FOLDER [CASE...]]; the tool itself is put aside for a
program of the same name, which this file is too (BL_AGREE_TOOL, BL_AGREE_LOG)."""
import json
import os
import re
import stat
import subprocess
import sys
import tempfile

NOT_WITH_REACHED = ("demand-missing", "demand-stands", "demand-ignored",
                    "demand-altered")
EVERY = "arrived at every towed unit"


def ask(tool, *words):
    """The JSON that a command gives; None: it has none to give."""
    done = subprocess.run([tool, *words, "--quiet"], capture_output=True,
                          check=False, timeout=120)
    if done.returncode not in (0, 1, 3, 4) or not done.stdout.startswith(b"{"):
        return None
    return json.loads(done.stdout)


def of_units(run):
    return {u["unit"]: (u["verdict"], json.dumps(u["claims"], sort_keys=True))
            for u in run["units"]}


def unseen_by_check(claims, items):
    """Only what other units show is wrong, and `check` promises nothing."""
    wrong = [c for c in json.loads(claims).values() if c["answer"] != "yes"]
    return len(wrong) == 1 and "beside the other units" in wrong[0]["why"] and \
        all("acts on it was not shown" in i["text"] for i in items)


def compare_run(run, check, report):
    """What is contradicted of one run of `reach`."""
    name, said = run["run"], of_units(run)
    wrong = []
    for other in report.get("reach", []) if report else []:
        if other["run"] == name and of_units(other) != said:
            wrong.append("run %s: report says %s, reach %s" % (
                name, of_units(other), said))
    items = [i for c in (check or {}).get("check", []) if c["run"] == name
             for i in c["items"] if i["code"] == "demand"]
    called = {u["unit"]: u["called"] for u in
              (check or {}).get("trial", {}).get("units", [])}
    if any(": electronic demand" in i["text"] for i in items) and not any(
            i["text"].startswith(called[unit] + ":")
            for unit in said for i in items):
        wrong.append("run %s: check names no unit" % name)
    for unit, (verdict, claims) in said.items():
        mine = [i for i in items if i["text"].startswith(called[unit] + ":")]
        good = any(i["state"] == "good" for i in mine)
        if mine and good != (verdict == "reached") and not (
                good and unseen_by_check(claims, mine)):
            wrong.append("run %s, unit %s: reach says %s, check %s" % (
                name, unit, verdict, [i["state"] for i in mine]))
        if verdict != "reached" or not report:
            continue
        for f in report.get("findings", []):
            if f["code"] in NOT_WITH_REACHED[:3] and f["unit"] == unit and \
                    name in [f["run"]] + f["runs"]:
                wrong.append("run %s, unit %s: reached, and %s: %s" % (
                    name, unit, f["code"], f["text"]))
    texts = [s["text"] for s in (report or {}).get("answer") or []
             if s["topic"] == "reached"]
    every = any(EVERY in t and re.search(r"\b%s\b" % re.escape(name), t)
                for t in texts)
    all_reached = bool(said) and not run["declared_off"] and all(
        v == "reached" for v, _ in said.values())
    if texts and every != all_reached:
        wrong.append("run %s: the answer says %s, reach %s" % (name, texts,
                                                               said))
    return wrong


def compare(tool, trial, reach=None):
    """Contradictions about one trial file; None: reach has nothing to say."""
    reach = reach or ask(tool, "reach", trial, "--json")
    if not reach or not reach.get("reach"):
        return None
    check = ask(tool, "check", trial, "--json")
    report = ask(tool, "report", trial, "--format", "json")
    return [w for run in reach["reach"] for w in compare_run(run, check, report)]


def stand_in(words):
    """In the tool's place: ask about the trial, then do what was asked."""
    tool = os.environ["BL_AGREE_TOOL"]
    for word in words[1:]:
        if word.endswith(".ini") and os.path.isfile(word):
            try:
                wrong = compare(tool, word)
            except (subprocess.TimeoutExpired, ValueError, KeyError) as error:
                wrong = ["%s: %r" % (word, error)]
            with open(os.environ["BL_AGREE_LOG"], "a") as log:
                log.write(json.dumps({"trial": word, "wrong": wrong}) + "\n")
            break
    os.execv(tool, [tool] + words)


def main(words):
    here = os.path.dirname(os.path.abspath(__file__))
    sys.path.insert(0, here)
    import golden
    import made
    tool, folder = os.path.abspath(words[0]), here
    cases = words[1:] or sorted(
        n for n in os.listdir(folder)
        if os.path.exists(os.path.join(folder, n, "cmd")))
    tap, asked, trials = made.Tap(), 0, 0
    with tempfile.TemporaryDirectory() as scratch:
        program = os.path.join(scratch, "brakelag")
        log = os.path.join(scratch, "log")
        with open(program, "w") as file:
            file.write("#!/bin/sh\nexec %s %s --stand-in \"$@\"\n" % (
                sys.executable, os.path.abspath(__file__)))
        os.chmod(program, os.stat(program).st_mode | stat.S_IXUSR)
        os.environ.update(BL_AGREE_TOOL=tool, BL_AGREE_LOG=log)
        for case in cases:
            open(log, "w").close()
            golden.run(program, os.path.join(folder, case), False)
            with open(log) as file:
                said = [json.loads(line) for line in file]
            trials += len(said)
            asked += sum(s["wrong"] is not None for s in said)
            wrong = [w for s in said for w in s["wrong"] or []]
            if wrong:
                tap.check("%s: commands agree on reach" % case, False,
                          "\n".join(wrong))
    tap.check("%d trials of %d golden cases, %d with a demand to judge: all "
              "commands agree" % (trials, len(cases), asked), not tap.failed)
    tap.check("at least twenty were asked", asked >= 20 or len(words) > 1)
    return tap.end()


if __name__ == "__main__":
    if sys.argv[1:2] == ["--stand-in"]:
        stand_in(sys.argv[2:])
    sys.exit(main(sys.argv[1:]))
