# SPDX-License-Identifier: MIT
"""Every section and table of a page against its JSON: none may be unknown."""
import studies
import tables

# What a section's tables are made from; None: it has none.
SECTIONS = {"tested": tables.tested, "answer": None,
            "findings": tables.findings, "setup": tables.setup,
            "lanes": tables.lanes, "applications": tables.applications,
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
    check("%s: every table stands in a section and has a caption" % what,
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
    return cells


def check_catches(browser, result, words, check):
    """A wrong digit, a new table and a new section must not get by."""
    said = []
    browser.execute_script("""
        const cell = document.querySelector('#lanes tbody td.n');
        cell.textContent = cell.textContent.replace(/[1-8]/, '9');
        const old = document.querySelector('#clocks table');
        const other = old.cloneNode(true);
        other.caption.textContent = 'A table that came later';
        old.after(other);
        document.querySelector('main').append(Object.assign(
            document.createElement('section'), {id: 'later'}));""")
    check_every(browser, result, words, "bent",
                lambda what, holds, found="": said.append((holds, str(found))))
    text = " ".join(found for holds, found in said if not holds)
    check("a wrong digit, a new table and a new section are seen",
          "lanes, Medians" in text and "A table that came later" in text and
          "later" in said[0][1], said)
