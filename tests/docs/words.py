# SPDX-License-Identifier: MIT
"""What is said to people is said in the words of the trade. Names that the
program keeps in JSON and trial files mean something else on a workshop floor,
or nothing (common practice): "response" is read as the rules' response time at
75 %, a "tap" is a cock, and a "characteristic" is anything. docs/result.md
("Names and what people read") maps them; here every sentence of text, page,
findings and cautions is held to it, and no advice to do what can hurt."""
import os
import re
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
sys.path.insert(0, os.path.join(SOURCE, "tests", "lint"))

from common import Tap, files, read, without_comments  # noqa: E402

# word -> what to say instead. Where the same letters are another word, the
# pattern says so.
MISLEADS = {
    r"\bresponses?\b(?! +$| times?)(?!_)": "first air",
    r"\bresponds? (?:last|late|later|first|after|before|within|\d|%|surely)":
        "gets its first air",
    r"\btaps?\b(?! of the pedal)": "listen-in lead",
    r"(?<!foot \()\btreadle\b": "foot (treadle) valve",
    r"\bcrack(?:s|ing)? ?pressures?\b|\bcrack\b": "opening pressure",
    r"\bthresholds?\b": "opening pressure, unit onset, push-rod start",
    r"\bpush-out\b": "push-rod start",
    r"\brelayed\b": "boosted by relay",
    r"\bcharacteristics?\b": "pressure curve",
    r"\bstagger\b": "behind the first",
    r"\bspread\b(?! alike)": "first to last",
    r"\bthe hold\b|\bholds\b (?:and|at)|\bits hold\b|\bheld output\b":
        "settled pressure",
    r"\b(?:at|its|of|above|earlier|to) rest\b|\brests (?:at|above|below)\b":
        "released pressure",
    r"\bservice (?:applications?|steps?|ramps?)\b": "medium",
}
# Advice that hurts or destroys the evidence.
HURTS = {
    r"\bopen the line\b": "vent at a test point",
    r"(?<!never )\bblow (?:or press|into)\b": "unplug one at a time",
    r"(?<!not )\bdrain the reservoirs?\b(?! goes)": "chock, then drain",
    r"\binside the (?:published )?limit\b": "below the number",
}
# Sentences in which the word is right, each with why.
RIGHT = {
    "not spread alike in time": "runs over the day",
}


def literals(path):
    """Texts of a source that may be sentences: they have a blank."""
    text = without_comments(read(path))
    if path.endswith(".js"):
        found = re.findall(r"'((?:[^'\\\n]|\\.)*)'", text)
        joined = re.sub(r"'\s*\+\s*'", "", text)
        found += re.findall(r"'((?:[^'\\\n]|\\.)*)'", joined)
    else:
        joined = re.sub(r'"\s*\n\s*"', "", text)
        joined = re.sub(r"#include.*", "", joined)
        found = re.findall(r'"((?:[^"\\\n]|\\.)*)"', joined)
    return [t for t in found if " " in t]


def sentences():
    for name in files("src", "include", ends=(".c", ".h", ".js")):
        if re.match(r"src/report/(?!model_|csv_|.*json)|src/study/|"
                    r"src/report/page/|include/brakelag/(?:names|traits|limits|"
                    r"reach|predict|characteristic|answer)\.h", name):
            for text in literals(name):
                yield name, text
    for line in read("docs/findings.md").split("\n"):
        if line.startswith("| `"):
            for cell in line.split("|")[3:]:
                yield "docs/findings.md", cell


# What the cautions must name; docs/findings.md has its own at each next check.
CAUTIONS = ("Local codes", "not force", "every unit chocked", "signals",
            "pedal depressor", "hot", "compounding", "interlock",
            "control_air = blocked", "maker says", "Chock first, then drain",
            "rods move", "suspension", "only chocks hold", "Low-air warning",
            "on a signal", "high voltage, trained persons only",
            "listening only", "terminating resistor", "leak test",
            "codes cleared", "Red lamp")


def lacking():
    """Cautions that a place where people look for them does not name."""
    code = read("src/report/words.c")
    places = {
        "src/report/words.c": re.sub(r'"\s*\n\s*"', "", code)
        .split("bl_words_caution(int index)", 1)[1]}
    for page in ("README.md", "docs/guide.md"):
        places[page] = read(page).split(
            "Before anything moves or breathes air", 1)[1].split("\n## ", 1)[0]
    for where, text in places.items():
        plain = " ".join(re.sub(r"[*`]", "", text).split())
        for caution in CAUTIONS:
            if caution not in plain:
                yield "%s: no word of: %s" % (where, caution)


def glossary():
    """Every part has its US, UK and Australian word."""
    rows = [line.strip("| ").split(" | ") for line in
            read("docs/glossary.md").split("| here | US | UK | Australia |", 1)[1]
            .split("\n\n", 1)[0].split("\n")[2:]]
    if len(rows) < 20:
        yield "docs/glossary.md: %d rows of words" % len(rows)
    for row in rows:
        if len(row) != 4 or not all(cell.strip() for cell in row):
            yield "docs/glossary.md: %s" % " | ".join(row)


def mapped():
    """docs/result.md says of every label what name of the result it is."""
    code = read("src/report/words.c").split("labels[] = {", 1)[1]
    code = code.split("};", 1)[0]
    page = read("docs/result.md").split("## Names and what people read", 1)[1]
    page = page.split("\n## ", 1)[0]
    for name, words in re.findall(r'\{"([^"]+)",\s*"([^"]+)"\}', code):
        if not re.search(r"\| [^|]*`%s`[^|]* \| %s \|" % (
                re.escape(name), re.escape(words)), page):
            yield "docs/result.md: no row for `%s`, %s" % (name, words)


def main():
    tap = Tap()
    wrong, seen = [], 0
    for where, text in sentences():
        seen += 1
        plain = re.sub(r"`[^`]*`|\[\w+\]|\w+_at\b|%[-.*\d]*[a-z]*", "", text)
        for why in RIGHT:
            plain = plain.replace(why, "")
        for table in (MISLEADS, HURTS):
            for pattern, instead in table.items():
                if re.search(pattern, plain, re.I):
                    wrong.append('%s: "%s": say "%s"' % (where, text, instead))
    tap.check("sentences use the words of the trade", wrong)
    tap.check("every place has the cautions", lacking())
    tap.check("the glossary has three columns", glossary())
    tap.check("names of the result are mapped", mapped())
    tap.check("they were read", [] if seen > 1500 else ["%d sentences" % seen])
    tap.finish()


if __name__ == "__main__":
    main()
