# SPDX-License-Identifier: MIT
"""report draws and writes, it does not compute: names arithmetic on figures and
comparisons of the result's texts in src/report, and medians, sums and orders by
value in the page's script. What is left stands below with its reason; it may
become less, never more."""
import re
import sys

from common import Tap, files, read, without_comments

# Members of structs and of the result that hold a figure.
FIGURES = (r"(?:s|u_s|value|u|median_s|low_s|high_s|difference_s|measured_s|u_mean|"
           r"response_s|u_response_s|mass_kg|force_n|by_s|tau|p)")
# A text's words or numbers of the result, read from the tree.
GET = r"bl_tree_get_number\((?:[^()]|\([^()]*\))*\)"
# A factor of a unit of measurement, a share in percent, milliseconds.
LITERAL = r"[0-9][0-9.e]*"
CALLS = (r"\b(?:bl_median|bl_median_float|bl_describe|bl_mean|bl_coverage_factor|"
         r"bl_effective_dof|bl_student_\w+|bl_normal_\w+|bl_sort\w*|qsort|hypot|"
         r"sqrt)\s*\(")

# path:function -> why it may reckon with figures.
DRAWS = {
    "src/report/decimate.c": "thins traces for drawing; no figure is read off "
    "them",
    "src/report/text_path.c:ladder": "where a bar's marks begin",
    "src/report/text_parts.c:bar_length": "length of a bar",
}
# path:function -> why it may compare texts of the result. A word of a closed
# list has its code beside it (bl_tree_is), so that no other need.
COMPARES = {
    "text_findings.c:evidence_line": "a column's type: pressures in the unit "
    "asked for",
    "text_parts.c:bl_text_level": "the same",
    "tree.c:bl_tree_row": "a row by its name",
    "tree.c:bl_tree_same_text": "rows under one heading",
}
# file: snippet -> why the page's script may do this.
MAY = {
    "charts.js": {
        "event + v.s - zero": "where a mark is in its window",
        "b.lines.length - a.lines.length": "panels with more lines first",
        "[...new Set(times)].sort((a, b) => a - b)": "one axis of time for "
        "several lines"},
    "parts.js": {
        "rankOf(a) - rankOf(b)": "conditions: powered first",
        "conditions.indexOf(a[0].condition)": "runs in the order of their "
        "conditions",
        "order.indexOf(a.split(',')[0])": "full before light"},
    "studies.js": {"[...groups.keys()].sort()": "figures in the order of time"},
    "first.js": {"places.sort((p, q) => p.from - q.from)": "labels of a drawing "
                 "in the order of its lines"},
}


def functions(text):
    """(name, first line, text) of every function of a C file, and what stands
    outside of them as ''."""
    name, start, lines = "", 0, text.split("\n")
    for number, line in enumerate(lines):
        if line == "{":
            head = " ".join(lines[max(0, number - 5):number])
            found = re.findall(r"(\w+)\s*\(", head.split(";")[-1].split("}")[-1])
            name, start = found[0] if found else "?", number
        elif line == "}" and name:
            yield name, start + 1, "\n".join(lines[start:number])
            name = ""


def reckoned(code):
    """Pieces of a function that reckon with figures."""
    for match in re.finditer(CALLS, code):
        yield match
    names = set(re.findall(r"\b(\w+)\s*=\s*" + GET + r"\s*;", code))
    names |= set(re.findall(r"\b(\w+)\s*=\s*\w+(?:->|\.)" + FIGURES + r"\s*;",
                            code))
    figure = r"(?:%s|\w+(?:->|\.)%s\b(?!\s*\()%s)" % (
        GET, FIGURES, "".join("|\\b%s\\b" % re.escape(n) for n in sorted(names)))
    other = r"(?![0-9]|to->pressure|\w+->factor|factor\b|scale\b)[\w(]"
    # A figure, an operator, and what is no literal and no unit.
    for match in re.finditer(figure + r"\s*(?:[-+/]|\*(?!/))=?\s*" + other, code):
        yield match
    # The other way round: "x - figure", not "1e3 * figure" and no sign.
    for match in re.finditer(r"([\w.)\]]+)\s+([-+*/])=?\s+" + figure, code):
        if re.fullmatch(LITERAL, match.group(1)) and match.group(2) == "*":
            continue
        if match.group(1) in ("return", "const", "double", "json_t", "char"):
            continue
        yield match


def arithmetic(path, text):
    code = without_comments(text, strings=False)
    if path in DRAWS:
        return
    for name, line, body in functions(code):
        if "%s:%s" % (path, name) in DRAWS:
            continue
        for match in reckoned(body):
            yield "%s:%d: %s: %s" % (path, line + body.count("\n", 0,
                                                            match.start()),
                                     name, " ".join(match.group(0).split()))


def comparisons(text):
    """Functions that compare a text of the tree, direct or through a name."""
    code = without_comments(text)
    got = r"(?:bl_tree_get_text|json_string_value)\("
    for function, _, body in functions(code):
        names = set(re.findall(r"\b(\w+)\s*=\s*" + got, body))
        for match in re.finditer(r"\bstr(?:n)?cmp\(((?:[^();]|\((?:[^()]|"
                                 r"\([^()]*\))*\))*)\)", body):
            inside = match.group(1)
            if re.search(got, inside) or any(
                    re.search(r"(?<![\w.>])%s\b" % n, inside) for n in names):
                yield function


def compared(path, text, seen):
    """What compares and is not listed; `seen` gathers what is."""
    for function in comparisons(text):
        name = "%s:%s" % (path.rsplit("/", 1)[-1], function)
        seen.add(name)
        if name not in COMPARES:
            yield "%s compares a text of the result: ask for its code " \
                "(bl_tree_is)" % name


def script(path, text):
    """Medians, sums and orders by value in the page's script."""
    base = path.rsplit("/", 1)[-1]
    code = re.sub(r"/\*.*?\*/|'(?:\\.|[^'\\\n])*'",
                  lambda m: re.sub(r"[^\n]", " ", m.group(0)[:-1]) + "'", text,
                  flags=re.S)
    members = (r"\.(?:s|u_s|median_s|low_s|high_s|difference_s|measured_s|u|"
               r"value)\b")
    rules = [(r"\bmedian\w*\s*\(|\b(?:mean|sum)(?:Of)?\s*\(", "a statistic"),
             (r"\.reduce\s*\(", "a sum, or a choice by value"),
             (r"\bMath\.(?:hypot|sqrt)\s*\(", "arithmetic on figures"),
             (r"\w" + members + r"\s+[-*/]\s+(?![0-9])[\w(]",
              "arithmetic on figures"),
             (r"[\w)]\s+[-*/]\s+\w+" + members, "arithmetic on figures"),
             (r"[\w)]\s+\+\s+\w+" + members + r"(?=\s*[;)\-*/])",
              "a sum of figures"),
             (r"\.sort\s*\(", "an order by value")]
    for pattern, why in rules:
        for match in re.finditer(pattern, code):
            near = text[max(0, match.start() - 60):match.end() + 80]
            if any(s in " ".join(near.split()) for s in MAY.get(base, {})):
                continue
            yield "%s:%d: %s: %s" % (path, code.count("\n", 0, match.start()) + 1,
                                     " ".join(match.group(0).split()), why)


def self_test():
    """Each check must see what is planted, and nothing else."""
    def body(line):
        return "static void f(void)\n{\n    %s\n}\n" % line
    planted = [
        "x = bl_tree_get_number(a, \"s\") - bl_tree_get_number(b, \"s\");",
        "const double s = bl_tree_get_number(a, \"s\");\n    y = s - t;",
        "const double s = bl_tree_get_number(a, \"s\");\n    end -= s;",
        "x = row->median_s - other;", "x = first - row->median_s;",
        "u = hypot(a, b);", "m = bl_median(value, n);",
        "x = bl_tree_get_number(json_object_get(a, \"f\"), \"s\") / mass;"]
    for line in planted:
        if not list(arithmetic("src/report/x.c", body(line))):
            yield "not seen: " + line
    plain_ = ["ms = 1e3 * bl_tree_get_number(a, \"u_s\");",
              "bl_tree_number(tree, o, \"s\", row->median_s);",
              "value /= to->pressure->factor;",
              "const double k = bl_tree_get_number(a, \"kpa\");\n"
              "    f(k / to->pressure->factor);",
              "f(bl_tree_get_number(r, \"p\") > 0 ? a : b);",
              "static const char *const t[] = {\"a\"}; /* s - t */"]
    for line in plain_:
        for found in arithmetic("src/report/x.c", body(line)):
            yield "taken for arithmetic: %s (%s)" % (line, found)
    texts = [("if (strcmp(bl_tree_get_text(a, \"unit\"), unit) == 0) {}", 1),
                ("const char *v = bl_tree_get_text(a, \"v\");\n"
                 "    b = strcmp(v, \"later\") == 0;", 1),
                ("b = strcmp(argument, \"later\") == 0;", 0)]
    for line, wanted in texts:
        if len(list(comparisons(body(line)))) != wanted:
            yield "comparisons of %r" % line
    if not list(compared("x.c", body(texts[0][0]), set())):
        yield "a comparison that is not listed is not seen"
    for line in ("const m = medianOf(list);", "x = a.reduce((p, q) => p + q);",
                 "a.sort((p, q) => p.s - q.s);", "x = b.median_s - a.median_s;",
                 "x = Math.hypot(c.u_s, c.u_bias_s);", "t = a.s + b.s;"):
        if not list(script("src/report/page/x.js", line)):
            yield "not seen: " + line
    for line in ("f('median of ' + fixed(s.median_s, 3) + ' s');",
                 "x(s.median_s) + ',' + y(s.unit)", "/* a.sort() */",
                 "const high = Math.max(...values);"):
        for found in script("src/report/page/x.js", line):
            yield "taken for arithmetic: %s (%s)" % (line, found)


def main():
    tap = Tap()
    tap.check("the checks find what they should", self_test())
    found, texts, seen = [], [], set()
    paths = [p for p in files("src/report", ends=(".c",))]
    for path in paths:
        text = read(path)
        found += arithmetic(path, text)
        texts += compared(path, text, seen)
    texts += ["%s is listed, and compares nothing" % name
              for name in sorted(set(COMPARES) - seen)]
    tap.check("report has no arithmetic on figures", found)
    tap.check("report compares no text of the result but the listed", texts)
    found = []
    for path in files("src/report/page", ends=(".js",)):
        found += script(path, read(path))
    tap.check("the page's script takes no median, sum or order by value", found)
    tap.finish()


sys.exit(main())
