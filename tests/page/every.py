# SPDX-License-Identifier: MIT
"""Every section and table of a page against its JSON: none may be unknown."""
import re

import drawings
import studies
import tables
from tables import kind_of
from writing import count, cut, fixed, known, plain, short_number, with_u

# What a section's tables are made from; None: it has none.
SECTIONS = {"first": None, "sheet": None, "wave": None, "answer": None,
            "tested": tables.tested, "findings": None,
            "looked": tables.looked, "setup": tables.setup,
            "lanes": None, "medians": tables.lanes, "applications": tables.applications,
            "comparison": studies.comparison, "reach": studies.reach,
            "characteristics": studies.characteristics,
            "transducers": studies.transducers, "clocks": tables.clocks,
            "supply": studies.supply, "limits": studies.limits,
            "dynamics": studies.dynamics, "predict": studies.predict,
            "budget": tables.budget, "method": None, "cautions": None,
            "exclusions": tables.exclusions}

# Everything that is shut is opened, and what is in it too.
OPEN_ALL = """
    for (let before = -1, now = 0; before !== now;) {
        before = now;
        const all = [...document.querySelectorAll('details')];
        all.forEach((d) => { d.open = true; if (d.fillIn) { d.fillIn(); } });
        now = all.length;
    }"""
WALK = """
    const words = (row) => [...row.cells].map((c) => c.textContent);
    return {sections: [...document.querySelectorAll('section')]
        .map((s) => s.id), stray: [...document.querySelectorAll('table')]
        .filter((t) => !t.closest('section') || !t.caption).length,
        tables: [...document.querySelectorAll('section table')].map((t) => [
            t.closest('section').id, t.caption.textContent,
            words(t.tHead.rows[0]), [...t.tBodies[0].rows].map(words)])};"""


def differs(found, expected):
    """The first difference of two tables, None where they are alike."""
    heads, rows = found
    if heads != expected[0]:
        return "heads %s, expected %s" % (heads, expected[0])
    if len(rows) != len(expected[1]):
        return "%d rows, expected %d" % (len(rows), len(expected[1]))
    for i, (row, want) in enumerate(zip(rows, expected[1])):
        for head, cell, text in zip(heads, row, want):
            if cell.strip() != text.strip():
                return "row %d, %s: %r, expected %r" % (i + 1, head, cell,
                                                        text)
        if len(row) != len(want):
            return "row %d has %d cells, expected %d" % (i + 1, len(row),
                                                         len(want))
    return None


def check_every(browser, result, words, what, check):
    """Returns how many cells were compared."""
    page = tables.Page(result, words)
    expected = {}
    for section, make in SECTIONS.items():
        for caption, heads, rows in make(page) if make else ():
            expected.setdefault((section, caption), []).append((heads, rows))
    browser.execute_script(OPEN_ALL)
    seen = browser.execute_script(WALK)
    unknown = [s for s in seen["sections"] if s not in SECTIONS]
    check("%s: every section is known to this test" % what, not unknown,
          unknown)
    check("%s: every table is in a section and has a caption" % what,
          seen["stray"] == 0, seen["stray"])
    wrong, cells, held = [], 0, 0
    for section, caption, heads, rows in seen["tables"]:
        known = expected.get((section, caption))
        if not known:
            wrong.append("%s: no check knows '%s'" % (section, caption))
            continue
        found = differs((heads, rows), known.pop(0))
        held += 1
        cells += sum(len(r) for r in rows)
        if found:
            wrong.append("%s, %s: %s" % (section, caption, found))
    missing = [k for k, left in expected.items() if left]
    check("%s: %d tables equal the JSON, cell by cell (%d)" % (
        what, held, cells), held > 0 and not wrong,
          "\n    " + "\n    ".join(wrong[:12]))
    check("%s: no table is missing" % what, not missing, missing[:5])
    drawings.check_drawings(browser, page, what, check)
    check_heads(browser, page, what, check)
    check_answer(browser, page, what, check)
    check_findings(browser, result, words, what, check)
    return cells


FINDINGS = """
    return [...document.querySelectorAll(
        '#findings .finding, #looked .finding')].map((f) => [
        f.className, f.textContent, f.querySelector('code').textContent]);"""


def evidence(page, e):
    if not known(e["value"]):
        return ""
    if e["unit"] == "kPa":
        return page.words.level(e)
    if e["unit"]:
        return with_u(e["value"], e["u"], 3 if e["unit"] == "s" else 1) + \
            " " + e["unit"]
    return short_number(e["value"]) if e["value"] == int(e["value"]) else \
        with_u(e["value"], e["u"], 3)


def check_findings(browser, result, words, what, check):
    """The page's findings are those of the result, no other ones, in its order:
    what was found, then what cannot be told."""
    page = tables.Page(result, words)
    shown = browser.execute_script(FINDINGS)
    expected = result.get("findings", []) + result.get("cannot_tell", [])
    wrong = []
    for (look, text, code), f in zip(shown, expected):
        # The unit's name is in front of it already.
        said = f["text"].removeprefix(page.names.get(f["unit"], "\0") + " ")
        wanted = [plain(said)] + [page.reading.value(e["label"]) + " " +
                                  evidence(page, e) for e in f["evidence"]]
        # Numbers keep their units on their line.
        plainly = text.replace("\u00a0", " ")
        wrong += [(code, w) for w in wanted
                  if w.replace("\u00a0", " ") not in plainly]
        if code != f["code"] or f["severity"] not in look:
            wrong.append((code, f["code"], look))
    check("%s: %d findings as in the JSON" % (what, len(shown)),
          len(shown) == len(expected) and not wrong,
          (len(shown), len(expected), wrong[:5]))


def head_of(page, a):
    """What an application's line says: each part, '' for what it has not."""
    c = a["command"]
    spread = a["spread"]
    return ["Application %d" % a["number"], kind_of(a),
            "command at %s s of the run" % fixed(c["apply_s"], 3)
            if known(c["apply_s"]) else "command began before the recording",
            {"last": "not settled, last ", "peak": "not settled, peak "}.get(
                c["hold"]["hold_from"], "settled at ") +
            page.words.level(c["hold"])
            if known(c["hold"]["value"]) else "",
            "released at %s s" % fixed(c["release_s"], 3)
            if known(c["release_s"]) else "release not seen",
            "first to last unit %s s" % with_u(spread["s"], spread["u_s"], 3)
            if known(spread["s"]) else ""]


def check_heads(browser, page, what, check):
    shown = browser.execute_script("""
        return [...document.querySelectorAll('.app > summary')].map(
            (s) => s.textContent);""")
    all_ = [a for r in page.ordered_runs() for a in r["applications"]]
    wrong = [(text, part) for text, a in zip(shown, all_)
             for part in head_of(page, a) if part not in text]
    check("%s: %d applications say what the JSON holds" % (what, len(shown)),
          len(shown) == len(all_) and not wrong, wrong[:4])


def check_answer(browser, page, what, check):
    """The page's answer is that of the result, sentence by sentence; how much
    was measured is counted anew."""
    shown = browser.execute_script("""
        return [...document.querySelectorAll('#answer li')].map(
            (l) => l.textContent);""")
    shown = browser.execute_script("""
        return [...document.querySelectorAll('.verdict .said')].map(
            (l) => l.textContent);""") + shown
    studies = {"compared": "comparison", "predicted": "predict",
               "curves": "characteristics"}
    for topic, section in studies.items():
        texts = [cut(s["text"], 900) for s in page.part("answer")
                 if s["topic"] == topic]
        there = browser.execute_script("""
            return [...document.querySelectorAll(arguments[0])].map(
                (l) => l.textContent);""", "#%s .answer.study li" % section)
        check("%s: %s begins with its answer (%d)" % (what, section, len(texts)),
              there == texts, (there, texts))
    wanted = [cut(s["text"], 900) for s in page.part("answer")
              if s["topic"] not in studies]
    wanted.sort(key=lambda t: not any(s["first"] and cut(s["text"], 900) == t
                                      for s in page.part("answer")))
    if not any(s["first"] for s in page.part("answer")):
        wanted = ["No answer could be given."] + wanted
    used = sum(not a["excluded"] for r in page.runs for a in r["applications"])
    said = "%s in %s" % (count(used, "application"), count(len(page.runs), "run"))
    shown = [s.replace("\u00a0", " ") for s in shown]  # numbers and their units
    check("%s: the answer says what the JSON holds" % what,
          shown == wanted and any(said in s for s in shown),
          (said, shown, wanted))


def check_catches(browser, result, words, check):
    """A wrong digit, a moved bar, a finding that is gone, a new table and a new
    section must not get by."""
    said = []
    browser.execute_script("""
        const cell = document.querySelector('#medians tbody td.n');
        cell.textContent = cell.textContent.replace(/[1-8]/, '9');
        const bar = document.querySelector('#lanes .pic rect.lane');
        bar.setAttribute('x', Number(bar.getAttribute('x')) + 9);
        document.querySelector('#findings .finding').remove();
        const old = document.querySelector('#clocks table');
        const other = old.cloneNode(true);
        other.caption.textContent = 'A table that came later';
        old.after(other);
        document.querySelector('#answer li').textContent += ' All is well.';
        document.querySelector('main').append(Object.assign(
            document.createElement('section'), {id: 'later'}));""")
    check_every(browser, result, words, "bent", lambda what, holds, found="":
                said.append("" if holds else "%s: %s" % (what, found)))
    text = " ".join(said)
    wanted = ("medians, Medians", "lanes, full, step: Apply", "findings as in",
              "the answer says",
              "A table that came later", "'later'")
    check("what is bent on purpose is seen", all(w in text for w in wanted),
          [w for w in wanted if w not in text])
