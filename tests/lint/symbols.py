# SPDX-License-Identifier: MIT
"""The shared library exports bl_ names only, and every one of them is in a
public header. The rooms, of which a static library consists, hold no other global
names either: there nothing is hidden.
usage: symbols.py LIBRARY ROOM..."""
import re
import subprocess
import sys

from common import Tap, files, read, without_comments

# What a sanitizer or the linker adds.
NOT_OURS = re.compile(r"^(_init|_fini|__asan|__ubsan|__odr_asan|_edata|_end|"
                      r"__bss_start|__sanitizer)")

# Lists that a program is given: it reads them, studies fill them.
LIBRARY_FILLS = re.compile(r"^bl_findings?_(add|looked|missing|say|note|evidence|"
                           r"judge|merge|rank)$|^bl_answer_(add|say)")


def defined(*words):
    text = subprocess.run(["nm", "--defined-only", *words], check=True, text=True,
                          capture_output=True).stdout
    names = [line.split()[-1].split("@")[0] for line in text.splitlines()
             if len(line.split()) == 3]
    return [name for name in names if not NOT_OURS.match(name)]


def main():
    tap = Tap()
    try:
        symbols = defined("-D", sys.argv[1])
    except OSError:
        tap.skip("exported symbols", "no nm")
        tap.finish()
    declared = set()
    promised = set()
    for path in files("include", ends=(".h",)):
        code = without_comments(read(path))
        declared |= set(re.findall(r"\b(bl_\w+)\s*\(", code))
        promised |= set(re.findall(r"\bBL_API\b[^;(]*?\b(bl_\w+)\s*\(", code))
    tap.check("something is exported", [] if symbols else ["nothing is"])
    tap.check("exported names start with bl_",
              [s for s in symbols if not s.startswith("bl_")])
    tap.check("exported names are in a public header",
              [s for s in symbols
               if s.startswith("bl_") and s not in declared])
    tap.check("every function of a public header is exported",
              sorted(promised - set(symbols)) if len(promised) > 100 else
              ["only %d are declared" % len(promised)])
    tap.check("what only the library fills is not exported",
              [s for s in symbols if LIBRARY_FILLS.match(s)])
    rooms = defined("-g", *sys.argv[2:])
    tap.check("every global name of a room starts with bl_",
              sorted({s for s in rooms if not s.startswith("bl_")})
              if len(rooms) > 1000 else ["only %d names" % len(rooms)])
    tap.finish()


sys.exit(main())
