# SPDX-License-Identifier: MIT
"""Lines covered by folder, from gcovr's summary; fails where a folder in which
recordings are read or figures made lies below 90 %.

usage: coverage.py SUMMARY.json"""
import json
import sys

LEAST = 90.0
HELD = ("base", "io", "bus", "log", "j1939", "decoder", "signal", "clock",
        "lag")
with open(sys.argv[1], encoding="utf-8") as file:
    summary = json.load(file)
folders = {}
for item in summary["files"]:
    parts = item["filename"].split("/")
    folder = folders.setdefault(parts[1] if len(parts) > 2 else "", [0, 0])
    folder[0] += item["line_covered"]
    folder[1] += item["line_total"]
low = []
print("| folder | lines | covered |")
print("|---|---|---|")
for name, (covered, total) in sorted(folders.items()):
    share = 100.0 * covered / total if total else 100.0
    print("| %s | %d | %.1f %% |" % (name, total, share))
    if name in HELD and share < LEAST:
        low.append(name)
if low:
    print("below %g %%: %s" % (LEAST, ", ".join(low)))
sys.exit(1 if low else 0)
