# SPDX-License-Identifier: MIT
"""How docs/report.md says that values are written, said again for the test.

Nothing here is taken from the page: numbers are rounded as decimals, not as
the browser does it.
"""
import math
import re
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

MINUS = "\u2212"
DASH = "\u2013"
PLUS_MINUS = " \u00b1 "
# Characters that turn text around or show nothing.
HIDDEN = re.compile("[\u0000-\u001f\u007f-\u009f\u00ad\u061c\u200b-\u200f"
                    "\u2028-\u202e\u2060-\u206f\ufeff]")


def known(value):
    return value is not None and not isinstance(value, (dict, list, str)) \
        and math.isfinite(value)


def plain(text):
    return HIDDEN.sub(lambda m: "\u2039%04X\u203a" % ord(m[0]), str(text))


def cut(text, most):
    """A text that is at most so long."""
    whole = plain("" if text is None else text)
    return whole if len(whole) <= most else whole[:most - 1] + "\u2026"


def name(text, most=80):
    return cut(text, most)


def labels():
    """What docs/result.md says that screen and page show for its names."""
    text = (Path(__file__).parents[2] / "docs/result.md").read_text()
    part = text.split("## Names and what people read", 1)[1].split("\n## ")[0]
    return {key: words for row in part.splitlines() if row.startswith("| `")
            for names_, words in [row.strip("| ").split(" | ")[:2]]
            for key in re.findall("`([^`]+)`", names_)}


LABELS = labels()


def label(text):
    text = "" if text is None else str(text)
    return LABELS.get(text) or text.replace("_", " ")


def fixed(value, decimals):
    step = Decimal(1).scaleb(-decimals)
    size = abs(Decimal(value)).quantize(step, ROUND_HALF_UP)
    return (MINUS if value < 0 and size else "") + "{:f}".format(size)


def with_u(value, u, decimals):
    """k = 2, rounded up."""
    if not known(value):
        return DASH
    if not known(u):
        return fixed(value, decimals)
    steps = math.ceil(2 * u * 10 ** decimals - 1e-9)
    return fixed(value, decimals) + PLUS_MINUS + "{:f}".format(
        Decimal(steps).scaleb(-decimals))


def short_number(value):
    """Four digits, whole numbers as they are."""
    if not known(value):
        return DASH
    exact = Decimal(value)
    if exact == exact.to_integral_value():
        text = "{:f}".format(exact.quantize(Decimal(1)))
    else:
        digits = 3 - exact.adjusted()
        rounded = exact.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
        if abs(rounded) < Decimal("1e-6"):
            mantissa, exponent = ("%.3e" % float(rounded)).split("e")
            text = "%se%d" % (mantissa.rstrip("0").rstrip("."), int(exponent))
        else:
            text = "{:f}".format(rounded)
            if "." in text:
                text = text.rstrip("0").rstrip(".")
    return text.replace("-", MINUS)


def count(n, one, many=None):
    return "%d %s" % (n, one if n == 1 else many or one + "s")


def seconds(v):
    return with_u(v["s"], v["u_s"], 3) if v else DASH


class Words:
    """The unit of pressure and the meanings that the page was given."""

    def __init__(self, words):
        self.__dict__.update(words)
        self.decimals = 2 if self.pressure_factor > 50 else \
            1 if self.pressure_factor > 2 else 0

    def kpa(self, value):
        return fixed(value / self.pressure_factor, self.decimals) + " " + \
            self.pressure

    def stated(self, value):
        """Of a pressure that was stated: no decimals for their own sake."""
        text = fixed(value / self.pressure_factor, self.decimals)
        return (text.rstrip("0").rstrip(".") if "." in text else text) + \
            " " + self.pressure

    def level(self, v):
        if not v or not known(v["value"]):
            return DASH
        if v["unit"] != "kPa":
            return with_u(v["value"], v["u"], {"s": 3, "": 3, "V": 2}.get(
                v["unit"], 1)) + (" " + v["unit"] if v["unit"] else "")
        u = v["u"]
        return with_u(v["value"] / self.pressure_factor,
                      u / self.pressure_factor if known(u) else u,
                      self.decimals) + " " + self.pressure


FIGURES = {"demand_arrival": "demand arrives", "rise_start": "rise begins",
           "response": "first air (%s)", "apply_10": "10 % of settled",
           "apply_75": "75 % of settled", "apply_90": "90 % of settled",
           "level": "stated pressure",
           "release_start": "release to 90 % of settled",
           "release_10": "release to 10 % of settled",
           "release_end": "release ends (%s)",
           "stagger": "behind the first", "spread": "first to last"}
SUMMED = ("demand_arrival", "rise_start", "response", "apply_10", "apply_75",
          "apply_90", "release_start", "release_10", "release_end", "stagger")


def figure(name_, at):
    """`at`: response_at as it is written."""
    return (FIGURES.get(name_) or label(name_)).replace("%s", at)


def figure_cell(v):
    if not v or not known(v["s"]):
        why = v["reason"] if v and v.get("reason") else ""
        return DASH + (" " + label(why).replace("-", " ") if why else "")
    flags = v.get("flags") or []
    return seconds(v) + (" " + ", ".join(flags) if flags else "")


class Reading:
    """What has no form of its own: any part of a result as tables."""

    def __init__(self, words, unit_names):
        self.words = words
        self.unit_names = unit_names

    def value(self, v):
        if v is None:
            return DASH
        if isinstance(v, bool):
            return "yes" if v else "no"
        if isinstance(v, (int, float)):
            return short_number(v)
        if isinstance(v, str):
            return name(v, 300)
        if isinstance(v, list):
            return "; ".join(self.value(x) for x in v) if v else DASH
        if "s" in v:
            return seconds(v) + " s" if known(v["s"]) else \
                self.words.reasons.get(v.get("reason")) or DASH
        if "value" in v and "unit" in v:
            return self.words.level(v) if known(v["value"]) else \
                self.words.reasons.get(v.get("reason")) or v.get("reason") or \
                DASH
        if "value" in v and "u" in v:
            return with_u(v["value"], v["u"], 3)
        return ", ".join(label(k) + " " + self.value(x)
                         for k, x in v.items() if x is not None)

    def rows(self, caption, rows, skip=()):
        keys = list(dict.fromkeys(k for r in rows for k in r if k not in skip))
        return caption, [label(k) for k in keys], [
            [self.unit_names[r[k]] if k == "unit" and r.get(k) in
             self.unit_names else self.value(r.get(k)) for k in keys]
            for r in rows]

    def tables(self, title, part):
        """In the order in which the page has them."""
        if isinstance(part, list):
            if not part:
                return
            if not all(isinstance(p, dict) for p in part):
                yield title, [title], [[self.value(p)] for p in part]
                return
            deep = list(dict.fromkeys(k for p in part for k in p
                                      if is_deep(p[k])))
            flat = list(dict.fromkeys(k for p in part for k in p
                                      if k not in deep))
            if len(flat) > 16:
                for p in part:
                    yield ", ".join(plain(x) for x in (
                        self.unit_names.get(p.get("unit"), p.get("unit")),
                        p.get("run"), p.get("name"), title) if x), [
                            "what", "value"], [[label(k), self.value(p[k])]
                                          for k in flat if k in p]
            else:
                yield self.rows(title, part, deep)
            for p in part:
                for k in deep:
                    if is_deep(p.get(k)):
                        yield from self.tables(label(k), p[k])
        elif isinstance(part, dict):
            flat = [k for k, v in part.items() if not isinstance(
                v, (dict, list)) or is_value(v)]
            if flat:
                yield title, ["what", "value"], [[label(k), self.value(part[k])]
                                            for k in flat]
            for k, v in part.items():
                if k not in flat:
                    yield from self.tables(label(k), v)


def is_value(v):
    return isinstance(v, dict) and ("s" in v or "value" in v)


def is_deep(v):
    """Too much for a cell."""
    if isinstance(v, list):
        return any(isinstance(x, dict) and len(x) > 4 for x in v)
    return isinstance(v, dict) and not is_value(v) and any(
        isinstance(x, (dict, list)) and not is_value(x) for x in v.values())
