# SPDX-License-Identifier: MIT
"""Real recordings are asked for by name, listed in docs/testing.md, and looked
for where BL_SHARED_DATA points and nowhere else."""
import os
import re
import sys

from common import ROOT, Tap, read, tracked

sys.path.insert(0, os.path.join(ROOT, "tests", "support"))
import recordings  # noqa: E402

# Only the build machine's script knows a folder beside the project.
NEIGHBOUR = re.compile(r"shared[\"' ]*[/\\,][\"' ]*data\b")
KNOWS = (".ci/run", "tests/lint/recordings.py")
LITERAL = re.compile(r'shared_data\(\s*"([^"%]+)"')


def named(listed):
    """(file, recording) for each one that a test names: an argument of
    shared_data(), and any path below a listed folder."""
    folders = "|".join(sorted({re.escape(n.split("/")[0]) for n in listed}))
    below = re.compile(r"\b(?:%s)/[\w.-]+" % folders)
    for path in tracked():
        if path.startswith(("tests/unit/", "tests/cli/", "tests/page/")):
            text = read(path)
            for name in LITERAL.findall(text) + below.findall(text):
                yield path, name


def main():
    tap = Tap()
    listed = recordings.listed()
    sets = tuple(n for n in listed if n.endswith("/"))
    uses = [u for u in named(listed) if not u[1].endswith("/")]
    tap.check("every recording that a test names is listed in docs/testing.md",
              ["%s: %s" % use for use in uses
               if use[1] not in listed and not use[1].startswith(sets)])
    texts = [read(path) for path in {use[0] for use in uses}]
    tap.check("every listed recording is used",
              [name for name in listed if name not in sets and
               not any(os.path.basename(name) in text for text in texts)])
    tap.check("there are such tests", [] if uses else ["none found"])
    tap.check("no file but .ci/run knows the folder beside the project",
              [path for path in tracked()
               if path not in KNOWS and
               not path.startswith(("tests/fuzz/corpus/", "captures-demo/")) and
               NEIGHBOUR.search(read(path))])
    tap.finish()


main()
