# SPDX-License-Identifier: MIT
"""Is the judge one? A result made of the truth itself is judged, then the same
with one known fault each: the fault must be found, and nothing else."""
import copy

import judge
import kinds
import trials


def pressure(value, u=0.1):
    return {"value": value, "unit": "kPa", "u": u}


def time(value, u=0.0002):
    return {"s": value, "u_s": u}


def of_truth(trial):
    """What a program would write that reads everything right."""
    t0, zero = trial.rows[0].stamp, trial.rows[0].true
    apps = []
    for a in trial.applications:
        units = []
        for name, truth in a.units.items():
            unit = {"unit": name, "flags": []}
            for what, value in truth["pressures"].items():
                unit[what] = pressure(value[0])
            for figure in judge.APPLY + judge.RELEASE + ("demand_arrival",):
                value = truth.get(figure)
                unit[figure] = time(value[0]) if value else \
                    {"s": None, "u_s": None, "reason": "not-reached"}
            unit["levels"] = [unit.pop("level")]
            first = a.units["0"].get("response")
            own = truth.get("response")
            unit["stagger"] = time(own[2] - first[2]) if first and own else \
                {"s": None, "u_s": None, "reason": "no"}
            units.append(unit)
        apps.append({
            "number": a.number, "begun_before": False, "flags": [],
            "kind": "light" if a.hold < 150 else "full" if a.hold >= 550
            else "service", "stagger_from": "0", "units": units,
            "command": {"apply_s": a.apply - zero, "apply_u_s": 0.0002,
                        "release_s": a.release - zero, "release_u_s": 0.0002,
                        "hold": pressure(a.hold + trial.rests["treadle"])}})
    return {"recordings": [{"name": "P.csv", "warnings": []}],
            "runs": [{"name": "P", "t0_ns": str(t0), "applications": apps,
                      "warnings": {"loading": [], "measuring": []}}]}


def shift(app, figure="response", by=0.003, flag=None, on="figure"):
    unit = app["units"][1]
    unit[figure]["s"] += by
    if flag:
        {"figure": unit[figure], "unit": unit, "app": app}[on].setdefault(
            "flags", []).append(flag)


def lose(apps, note=None, result=None):
    del apps[1]
    if note:
        result["recordings"][0]["warnings"].append({"code": note})


def merge(apps):
    """The first goes on to the end of the second."""
    apps[0]["command"]["release_s"] = apps[1]["command"]["release_s"]
    del apps[1]


def add(apps):
    extra = copy.deepcopy(apps[0])
    extra["command"]["apply_s"] -= 1.5
    extra["command"]["release_s"] = extra["command"]["apply_s"] + 0.5
    apps.insert(0, extra)


def nothing(figure):
    figure.update(s=None, u_s=None, reason="no-data")


PLANTED = (
    # name, what is done to the result, wrong figures, applications wrong
    ("the truth", lambda r, a: None, 0, 0),
    ("a figure off by 3 ms, u 0.2 ms", lambda r, a: shift(a[1]), 1, 0),
    ("off by 1.5 ms", lambda r, a: shift(a[1], by=0.0015), 0, 0),
    ("off by 3 ms, in-gap", lambda r, a: shift(a[1], flag="in-gap"), 0, 0),
    ("off by 3 ms, near-damage on its unit",
     lambda r, a: shift(a[1], flag="near-damage", on="unit"), 0, 0),
    ("off by 3 ms, near-damage on its application",
     lambda r, a: shift(a[1], flag="near-damage", on="app"), 0, 0),
    ("off by 3 ms, flagged held-value",
     lambda r, a: shift(a[1], flag="held-value"), 1, 0),
    ("release_10 off by 0.5 s",
     lambda r, a: shift(a[0], "release_10", 0.5), 1, 0),
    ("stagger off by 3 ms", lambda r, a: shift(a[0], "stagger"), 1, 0),
    ("hold off by 5 kPa", lambda r, a: a[0]["units"][2]["hold"].update(
        value=a[0]["units"][2]["hold"]["value"] + 5), 1, 0),
    ("the command's span off by 5 ms",
     lambda r, a: a[0]["command"].update(
         release_s=a[0]["command"]["release_s"] + 0.005), 1, 0),
    ("null", lambda r, a: nothing(a[0]["units"][1]["response"]), 0, 0),
    ("an application lost", lambda r, a: lose(a), 0, 1),
    ("an application lost with a note",
     lambda r, a: lose(a, "rows-missing", r), 0, 0),
    ("an application added", lambda r, a: add(a), 0, 1),
    ("two applications merged", lambda r, a: merge(a), 1, 1),
)


def plain(seed):
    """A trial of steps that settle, so that every figure is judged."""
    while True:
        trial = trials.Known(seed, "alone", 3)
        if all(a.shape == "step" and
               all(u.get("settled") and u.get("vented") and "level" in u
                   for u in a.units.values()) for a in trial.applications):
            trial.kept = set()
            return trial
        seed += 1


def clean_or_not(tap, trial, truth):
    """Damage in a stretch does not count against a figure; elsewhere it does."""
    app = trial.applications[1]
    whole = judge.Damage("gap", "hold", "log", None,
                         (app.apply + 0.001, app.apply + 0.2))
    found = judge.Judge(trial, whole, trial.rows, [], truth).found
    tap.check("a gap after the command: its application's figures hold "
              "damage, no other's",
              all(f.clean == (f.app != 2) for f in found
                  if f.name == "apply_75"))
    one = judge.Damage("spike", "hold", "log", "output_1", whole.place)
    found = judge.Judge(trial, one, trial.rows, [], truth).found
    tap.check("a spike on one output: its figures hold damage, no other's",
              all(f.clean == ((f.app, f.unit) != (2, "1")) for f in found
                  if f.name == "apply_75"))
    flagged = copy.deepcopy(truth)
    flagged["runs"][0]["applications"][2]["units"][1]["response"][
        "flags"] = ["near-damage"]
    found = judge.Judge(trial, whole, trial.rows, [], flagged).found
    tap.check("a flag without damage in the stretch is seen",
              sum(f.own and f.clean for f in found) == 1)


def shifted_stamps(tap, trial, truth):
    """Behind a step of the clock applications are found by their stamps."""
    at = kinds.index(trial.rows, trial.applications[1].apply - 1.5)
    rows = kinds.shifted(trial.rows, at, 5 * 10**9)
    moved = copy.deepcopy(truth)
    for got in moved["runs"][0]["applications"][1:]:
        got["command"]["apply_s"] += 5.0
        got["command"]["release_s"] += 5.0
    verdict = judge.Judge(trial, judge.Damage(None, "", ""), rows, [], moved)
    tap.check("after a step of 5 s the same applications are found",
              not verdict.apps_wrong and len(verdict.seen) == 3 and
              all(f.outcome != "wrong" for f in verdict.found),
              verdict.apps_wrong)


def run(tap):
    trial = plain(1)
    truth = of_truth(trial)
    for name, plant, wrong, applications in PLANTED:
        result = copy.deepcopy(truth)
        plant(result, result["runs"][0]["applications"])
        verdict = judge.Judge(trial, judge.Damage(None, "", ""), trial.rows,
                              [], result)
        seen = [f for f in verdict.found if f.outcome == "wrong"]
        tap.check("judge: %s: %d wrong, %d applications" % (
            name, wrong, applications),
            (len(seen), len(verdict.apps_wrong)) == (wrong, applications),
            "%s %s" % ([(f.name, f.told) for f in seen], verdict.apps_wrong))
    clean_or_not(tap, trial, truth)
    shifted_stamps(tap, trial, truth)
