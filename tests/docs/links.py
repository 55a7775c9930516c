# SPDX-License-Identifier: MIT
"""Every link from page to page leads somewhere, every page can be reached from
README.md, and every decision is in its index.

usage: links.py"""
import os
import re
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
LINK = re.compile(r"\[[^\]\n]*\]\(([^)\s#]+)(?:#[^)]*)?\)")


def pages():
    found = ["README.md", "DEVELOPERS.md"]
    for folder, _, names in os.walk(os.path.join(SOURCE, "docs")):
        found += [os.path.relpath(os.path.join(folder, n), SOURCE)
                  for n in names if n.endswith(".md")]
    return sorted(found)


def links(page):
    with open(os.path.join(SOURCE, page), encoding="utf-8") as file:
        text = re.sub(r"^```.*?^```", "", file.read(), flags=re.S | re.M)
    for target in LINK.findall(text):
        if "://" not in target:
            yield os.path.normpath(os.path.join(os.path.dirname(page), target))


NAMED = re.compile(r"`((?:src|tests|docs|decoders|include|captures-demo|\.ci)/"
                   r"[\w./-]*)`")
WALK = re.compile(r"^## The life of one sample\n(.*?)^## ", re.S | re.M)


def named_places():
    """Places that DEVELOPERS.md names, and in its walk files without a folder:
    they are in the room named last."""
    with open(os.path.join(SOURCE, "DEVELOPERS.md"), encoding="utf-8") as file:
        text = file.read()
    for name in NAMED.findall(text):
        if "<" not in name and "NAME" not in name:
            yield name
    room = None
    for name in re.findall(r"`((?:src/[\w/]+/)?\w+\.c)`",
                           WALK.search(text).group(1)):
        if "/" in name:
            room = os.path.dirname(name)
        yield name if "/" in name else room + "/" + name


def report(number, name, wrong):
    print("%sok %d - %s" % ("not " if wrong else "", number, name))
    for line in wrong:
        print("# " + line)
    return bool(wrong)


def main():
    all_links = {page: list(links(page)) for page in pages()}
    broken = ["%s: no %s" % (page, target)
              for page, targets in all_links.items() for target in targets
              if not os.path.exists(os.path.join(SOURCE, target))]
    reached, todo = set(), ["README.md"]
    while todo:
        page = todo.pop()
        if page not in reached:
            reached.add(page)
            todo += [t for t in all_links.get(page, []) if t in all_links]
    print("TAP version 13\n1..3")
    failed = report(1, "every link leads somewhere", broken)
    failed |= report(2, "every page can be reached from README.md",
                     ["%s is linked from nowhere" % page
                      for page in all_links if page not in reached])
    failed |= report(3, "DEVELOPERS.md names places that are there",
                     ["no " + name for name in named_places()
                      if not os.path.exists(os.path.join(SOURCE, name))])
    return 1 if failed else 0


sys.exit(main())
