# SPDX-License-Identifier: MIT
"""The SQL of docs/fleet.md, on a simulated fleet of exports, in the engines that
are installed; each answer is counted again here, from the same rows.

usage: fleet.py TOOL"""
import csv
import datetime
import io
import math
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
QUESTIONS = ("drifted", "valves", "yards")
VALVES = ("relay R", "relay S", "relay T, with booster", "")
YARDS = ("north", "south", "depot, \"old\"", "")
SEED = 20260301


def block(info):
    with open(os.path.join(SOURCE, "docs", "fleet.md"),
              encoding="utf-8") as file:
        return re.search(r"^```sql %s\n(.*?)^```" % info, file.read(),
                         re.S | re.M).group(1)


def head(tool, folder):
    """The columns that the tool writes, from the demo."""
    path = os.path.join(folder, "head.csv")
    subprocess.run([tool, "measure", "--quiet", "--csv", "--long", "--run",
                    "R1", "-o", path,
                    os.path.join(SOURCE, "captures-demo", "trial.ini")],
                   check=True)
    with open(path, encoding="utf-8", newline="") as file:
        return next(csv.reader(file))


class Fleet:
    """Trains of five units at six visits: every visit a trial of its own, with
    rows that must not be counted among those that must."""

    def __init__(self, trains, columns):
        self.dice = random.Random(SEED)
        self.columns = columns
        self.trials = []
        for train in range(trains):
            units = [self.unit(train, k) for k in range(5)]
            for visit in range(6):
                self.trials.append(self.trial(train, units, visit))
        self.odd_ones()

    def odd_ones(self):
        """Units of which little can be said: seen once, thrice on one day (by
        one date, and by three), with two labels at one visit, alone with their
        valve; twins, which tie; a valve of which all units are alike."""
        days = ["2023-02-01", "2024-02-01", "2025-02-01"]
        plan = [("once", days[:1], ["relay R"]),
                ("one date", days[:1] * 3, ["relay R", "relay R", ""]),
                ("one day", [days[0] + "T0%d:00" % h for h in (7, 8, 9)],
                 ["relay S"] * 3),
                ("two labels", days + days[2:],
                 ["relay R", "relay R", "relay R", "relay S"]),
                ("label lost", days + days[2:],
                 ["relay S", "relay S", "relay S", ""]),
                ("rare", days, ["relay U"] * 3)]
        plan += [("alike %d" % k, days, ["relay V"] * 3) for k in range(5)]
        for number, (name, dates, valves) in enumerate(plan):
            for count, (date, valve) in enumerate(zip(dates, valves)):
                rows = []
                for run in range(2):
                    value = 0.4 + 0.05 * run + 0.1 * count
                    rows += [self.row(run, 1, value, {
                        "unit": 1, "unit_id": name, "shape": "step",
                        "label.valve": valve}),
                             self.row(run, 2, 3 * value, {
                                 "unit": 1, "unit_id": name, "shape": "ramp",
                                 "label.valve": valve})]
                for row in rows:
                    row.update({"trial": "odd %d %d" % (number, count),
                                "date": date, "place": "north"})
                self.trials.append(rows)

    @staticmethod
    def row(run, application, value, more):
        row = {"run": "P%d" % run, "condition": "powered",
               "application": application, "combination": "A",
               "kind": "full", "shape": "step", "excluded": "no",
               "unit_name": "trailer", "figure": "apply_75",
               "value": "%.6f" % value, "measured_in": "s",
               "u_random": "0.003", "u_common": "0.002", "reason": ""}
        row.update(more)
        return row

    def unit(self, train, number):
        drift = self.dice.choice((0, 0, 0, 0.03, -0.02, 0.1))
        return {"id": "" if self.dice.random() < 0.05
                else "U-%03d/%d" % (train, number),
                "valve": self.dice.choice(VALVES), "number": number,
                "base": self.dice.uniform(0.3, 0.6),
                "drift": drift * self.dice.uniform(0.5, 1.5)}

    def trial(self, train, units, visit):
        day = datetime.date(2023, 1, 10) + datetime.timedelta(
            days=182 * visit + self.dice.randrange(-20, 20))
        date = day.isoformat() + ("T09:30" if self.dice.random() < 0.3 else "")
        place = self.dice.choice(YARDS)
        labelled = self.dice.random() < 0.9
        off = {"north": 0, "south": 0.02}.get(place, 0.01)
        rows = []
        for unit in units:
            now = unit["base"] + off + unit["drift"] * visit / 2 + \
                self.dice.gauss(0, 0.01)
            for run in range(3):
                rows += self.run(unit, run, now, day)
        name = "train %d, visit %d" % (train, visit)
        for row in rows:
            row.update({"trial": name, "date": date, "place": place})
            if not labelled:
                del row["label.valve"]
        return rows

    def run(self, unit, run, now, day):
        now += self.dice.gauss(0, 0.004)
        for application in range(1, self.dice.randrange(2, 5)):
            for figure in ("response", "apply_75"):
                for kind in ("light", "full"):
                    lost = self.dice.random() < 0.04
                    value = now * (1 if figure == "apply_75" else 0.4) * \
                        (1 if kind == "full" else 1.3) + \
                        self.dice.gauss(0, 0.003)
                    yield {"run": "P%d" % run,
                           "condition": "powered" if run < 2 else "unpowered",
                           "application": application, "combination": "A",
                           "kind": kind, "shape": "step",
                           "excluded": "yes" if self.dice.random() < 0.05
                           else "no",
                           "unit": unit["number"], "unit_name": "trailer",
                           "figure": figure,
                           "value": "" if lost else "%.6f" % value,
                           "measured_in": "s", "u_random": "0.003",
                           "u_common": "0.002",
                           "reason": "no-data" if lost else "",
                           "unit_id": unit["id"],
                           "label.valve": unit["valve"]}

    def write(self, folder):
        """exports/*.csv as the tool writes them, and all of them in fleet.csv."""
        os.mkdir(os.path.join(folder, "exports"))
        every = self.columns + ["label.valve"]
        with open(os.path.join(folder, "fleet.csv"), "w", encoding="utf-8",
                  newline="") as whole:
            one = csv.DictWriter(whole, every, lineterminator="\n")
            one.writeheader()
            for number, rows in enumerate(self.trials):
                columns = every if "label.valve" in rows[0] else self.columns
                path = os.path.join(folder, "exports", "%04d.csv" % number)
                with open(path, "w", encoding="utf-8", newline="") as file:
                    part = csv.DictWriter(file, columns, lineterminator="\n")
                    part.writeheader()
                    part.writerows(rows)
                one.writerows(rows)


def mean(values):
    values = list(values)
    return sum(values) / len(values)


def visits_of(fleet):
    """What the table `visit` should hold, by other means: one value per unit,
    place and date."""
    runs, named = {}, {}
    for rows in fleet.trials:
        for r in rows:
            if r["figure"] == "apply_75" and r["kind"] == "full" and \
                    r["condition"] == "powered" and r["excluded"] == "no" and \
                    r["shape"] == "step" and r["value"] and r["unit_id"]:
                key = (r["unit_id"], r["place"], r["date"])
                runs.setdefault(key, {}).setdefault(
                    (r["trial"], r["run"]), []).append(float(r["value"]))
                if r.get("label.valve"):
                    named.setdefault(key, set()).add(r["label.valve"])
    first = datetime.date(2000, 1, 1)
    return [{"unit": k[0],
             "valve": list(named[k])[0] if len(named.get(k, ())) == 1 else "",
             "place": k[1],
             "year": (datetime.date.fromisoformat(k[2][:10]) -
                      first).days / 365.25,
             "s": mean(mean(v) for v in of_runs.values())}
            for k, of_runs in runs.items()]


def by(rows, *names):
    groups = {}
    for row in rows:
        groups.setdefault(tuple(row[n] for n in names), []).append(row)
    return groups


def slope(rows):
    x, y = mean(r["year"] for r in rows), mean(r["s"] for r in rows)
    return sum((r["year"] - x) * (r["s"] - y) for r in rows) / \
        sum((r["year"] - x) ** 2 for r in rows)


def drifted(visits):
    found = []
    for (unit,), rows in by(visits, "unit").items():
        years = max(r["year"] for r in rows) - min(r["year"] for r in rows)
        if len(rows) >= 3 and years > 0.5:
            found.append([unit, len(rows), years, slope(rows)])
    return sorted(found, key=lambda f: (-abs(f[3]), f[0]))[:100]


def deviation(values):
    """Of one value none, an empty cell."""
    values = list(values)
    middle = mean(values)
    return None if len(values) == 1 else math.sqrt(sum((v - middle) ** 2 for v in values) /
                     (len(values) - 1))


def valves(visits):
    units = {}
    for (_, valve), rows in by(visits, "unit", "valve").items():
        if valve:
            units.setdefault(valve, []).append(mean(r["s"] for r in rows))
    return sorted(([valve, len(s), mean(s), deviation(s), min(s), max(s)]
                   for valve, s in units.items()),
                  key=lambda f: (-f[2], f[0]))


def yards(visits):
    found = []
    for (place,), rows in sorted(by(visits, "place").items()):
        squares, later, units = 0, [], 0
        for (unit,), here in by(rows, "unit").items():
            there = [r["s"] for r in visits
                     if r["unit"] == unit and r["place"] not in (place, "")]
            if len(here) >= 2 and there:
                units += 1
                middle = mean(r["s"] for r in here)
                squares += sum((r["s"] - middle) ** 2 for r in here)
                later += [r["s"] - mean(there) for r in here]
        if place and units:
            found.append([place, units, len(later), mean(later),
                          math.sqrt(squares / (len(later) - units))])
    return found


def agree(found, expected, steps):
    """Rows of text against rows of values; numbers within half a last place."""
    if len(found) != len(expected):
        return ["%d rows, counted %d" % (len(found), len(expected))]
    wrong = []
    for number, (row, values) in enumerate(zip(found, expected), 1):
        for text, value, step in zip(row, values, steps):
            same = text == value if step is None \
                else text in ("", "NULL") if value is None \
                else text != "" and \
                abs(float(text) - value) <= 0.5001 * step
            if not same:
                wrong.append("row %d: %s, counted %s" % (number, text, value))
    return wrong


def rows_of(text):
    """Rows behind the head line."""
    return [row for row in csv.reader(io.StringIO(text))][1:]


def sqlite3(folder, questions):
    text = block("sqlite3") + ".headers on\n" + block(questions)
    return rows_of(subprocess.run(
        ["sqlite3", "-batch"], input=text, text=True, cwd=folder,
        stdout=subprocess.PIPE, check=True).stdout)


def ask_duckdb(folder, text):
    return rows_of(subprocess.run(
        ["duckdb", "-csv"], input=text, text=True, cwd=folder,
        stdout=subprocess.PIPE, check=True).stdout)


def duckdb(folder, question):
    return ask_duckdb(folder, block("duckdb") + block(question))


def parquet(folder, question):
    ask_duckdb(folder, block("duckdb parquet"))
    table = re.sub(r"read_csv\('exports/.*?\)", "'fleet.parquet'",
                  block("duckdb"))
    return ask_duckdb(folder, table + block(question))


STEPS = {"drifted": (None, 1, 0.01, 0.0001),
         "valves": (None, 1, 0.001, 0.001, 0.001, 0.001),
         "yards": (None, 1, 1, 0.0001, 0.0001)}
COUNT = {"drifted": drifted, "valves": valves, "yards": yards}


def engines():
    return (("sqlite3", shutil.which("sqlite3"), sqlite3),
            ("duckdb", shutil.which("duckdb"), duckdb),
            ("duckdb, Parquet", shutil.which("duckdb"), parquet))


def told(number, name, wrong):
    print("%sok %d - %s" % ("not " if wrong else "", number, name))
    for line in wrong[:20]:
        print("# " + line)
    return bool(wrong)


def plausible(expected):
    """The fleet has what is asked for, so that an empty answer is no answer."""
    return ["%s: %d" % (q, len(e)) for q, e in expected.items()
            if len(e) < {"drifted": 100, "valves": 3, "yards": 3}[q]]


def main():
    tool = os.path.abspath(sys.argv[1])
    print("TAP version 13\n1..%d" % (1 + len(QUESTIONS) * len(engines())))
    failed = False
    with tempfile.TemporaryDirectory() as folder:
        fleet = Fleet(30, head(tool, folder))
        fleet.write(folder)
        print("# seed %d, %d trials, %d rows" % (
            SEED, len(fleet.trials), sum(map(len, fleet.trials))))
        visits = visits_of(fleet)
        expected = {q: COUNT[q](visits) for q in QUESTIONS}
        failed |= told(1, "the fleet answers every question",
                       plausible(expected))
        number = 1
        for name, there, ask in engines():
            for question in QUESTIONS:
                number += 1
                if there:
                    failed |= told(number, name + ": " + question, agree(
                        ask(folder, question), expected[question],
                        STEPS[question]))
                else:
                    print("ok %d - %s: %s # SKIP not installed" % (
                        number, name, question))
    return failed


if __name__ == "__main__":
    sys.exit(main())
