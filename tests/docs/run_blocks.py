# SPDX-License-Identifier: MIT
"""Runs the commands that the documentation shows. A fenced block with the info
string `sh run` is executed by sh in a scratch copy of the files it may use
(captures-demo, decoders); a fenced block `text output` right after it must be
what came out. `sh run 2` expects that exit code. Where only the output is to be
read, the commands are in a comment: <!-- sh run, the commands, -->.

usage: run_blocks.py TOOL [--update]; --update, or BL_UPDATE=1 in the environment,
writes what came out into the pages, to be read in the diff before it is kept, unless
the exit code is another."""
import os
import re
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
FENCE = re.compile(r"^```([^\n`]*)\n(.*?)^```[^\S\n]*$|"
                   r"^<!-- (sh run[^\n]*)\n(.*?)^-->[^\S\n]*$", re.S | re.M)


def blocks(text):
    """(line, exit code, commands, expected output or None, where that stands)"""
    found = list(FENCE.finditer(text))
    for index, match in enumerate(found):
        info = (match.group(1) or match.group(3) or "").split()
        if info[:2] != ["sh", "run"]:
            continue
        output, place = None, None
        if index + 1 < len(found):
            after = found[index + 1]
            between = text[match.end():after.start()]
            if (after.group(1) or "").split() == ["text", "output"] and \
                    not between.strip():
                output, place = after.group(2), after.span(2)
        yield (text.count("\n", 0, match.start()) + 1,
               int(info[2]) if len(info) > 2 else 0,
               match.group(2) or match.group(4), output, place)


def pages():
    found = [os.path.join(SOURCE, n) for n in ("README.md", "DEVELOPERS.md")]
    for folder, _, names in os.walk(os.path.join(SOURCE, "docs")):
        found += [os.path.join(folder, n) for n in names if n.endswith(".md")]
    return sorted(path for path in found if os.path.exists(path))


def main():
    tool = os.path.abspath(sys.argv[1])
    update = "--update" in sys.argv[2:] or os.environ.get("BL_UPDATE") == "1"
    jobs, news = [], {}
    for path in pages():
        with open(path, encoding="utf-8") as file:
            jobs += [(os.path.relpath(path, SOURCE),) + block
                     for block in blocks(file.read())]
    if not jobs:
        print("1..0 # SKIP no page shows a command")
        return 0
    print("TAP version 13\n1..%d" % len(jobs))
    failed = 0
    env = dict(os.environ, LC_ALL="C", TZ="UTC",
               BRAKELAG_TABLES=os.path.join(SOURCE, "decoders"),
               PATH=os.path.dirname(tool) + os.pathsep + os.environ["PATH"])
    with tempfile.TemporaryDirectory() as scratch:
        for name in ("captures-demo", "decoders"):
            if os.path.isdir(os.path.join(SOURCE, name)):
                shutil.copytree(os.path.join(SOURCE, name),
                                os.path.join(scratch, name))
        for number, (path, line, code, text, output, place) in enumerate(jobs,
                                                                         1):
            result = subprocess.run(["sh", "-e", "-c", text], cwd=scratch,
                                    env=env, stdin=subprocess.DEVNULL,
                                    capture_output=True, text=True,
                                    timeout=600)
            wrong = []
            if result.returncode != code:
                wrong.append("exit %d, expected %d" % (result.returncode, code))
                wrong += result.stderr.splitlines()[:10]
            if output is not None and output != result.stdout and update and \
                    not wrong:
                news.setdefault(path, []).append((place, result.stdout))
            elif output is not None and output != result.stdout:
                wrong.append("expected:")
                wrong += output.splitlines()
                wrong.append("found:")
                wrong += result.stdout.splitlines()
            failed += bool(wrong)
            print("%sok %d - %s:%d" % ("not " if wrong else "", number, path,
                                      line))
            for part in wrong[:80]:
                print("# " + part)
    for path, parts in news.items():
        with open(os.path.join(SOURCE, path), encoding="utf-8") as file:
            text = file.read()
        for (start, end), output in reversed(parts):
            text = text[:start] + output + text[end:]
        with open(os.path.join(SOURCE, path), "w", encoding="utf-8") as file:
            file.write(text)
    return 1 if failed else 0


sys.exit(main())
