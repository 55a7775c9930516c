# SPDX-License-Identifier: MIT
"""Every malformed file that there is, given to the tool: a table of file, exit
code and message.

The files of tests/data are named after their defect; `hostile-captures` of the
shared data made other readers fail. The exit code of each is fixed by what the
codes mean (the manual page): files that steer are refused, 2;
a recording that is unreadable, or of which something inside was damaged or left
out, is 3; UNHARMED lists those of which nothing is lost but a cut last record or
what is no CAN frame, with the reason, 0. Each must say what is wrong in one line
that names the file: on standard error, or as a note of `survey` where the rest is
good. What the sanitizers say, a crash and more than 10 s fail.

usage: malformed.py TOOL TESTDATA"""
import concurrent.futures
import os
import re
import subprocess
import sys
import tempfile

import made

tool, data = os.path.abspath(sys.argv[1]), sys.argv[2]
shared = os.environ.get("BL_SHARED_DATA", "/nonexistent")
tap = made.Tap()
scratch = tempfile.TemporaryDirectory()
HOW = {"bus": ("survey",), "log": ("survey",), "io": ("survey",),
       "mdf": ("survey",),
       "history": ("history", "add", "--history",
                   os.path.join(scratch.name, "history")),
       "decoder": ("tables", "check"), "trial": ("check",),
       "simulate": ("simulate", "--directory", "/nonexistent")}
# How `survey` tells what it left out or took in another way.
NOTED = re.compile(r"^ *(note|damaged):|[1-9]\d* (overflow|late|packets of other "
                   r"kinds)|read as: latin-1")
STEERS = ("decoder", "trial", "simulate")
CUT = "the last record or row is cut: a warning"
FOREIGN = "packets of other kinds are counted; no frame is lost"
OPTION = "an option that is not needed is not read"
NAMES = "names only"
CHANNEL = "a channel or group of a kind that is not read, told by name; the rest is"
UNHARMED = {
    "pcap-can-xl.pcap": FOREIGN, "text-can-xl.log": FOREIGN,
    "pcap-cooked-not-can.pcap": FOREIGN,
    "pcap-record-data-cut.pcap": CUT, "pcap-record-header-cut.pcap": CUT,
    "pcapng-block-cut.pcapng": CUT, "pcapng-unknown-block-cut.pcapng": CUT,
    "text-cut-last-line.log": CUT, "text-last-line-without-end.log": CUT,
    "table-cut-last-row.csv": CUT, "table-last-row-without-end.csv": CUT,
    "term-cut-last-line.txt": CUT, "term-last-line-without-end.txt": CUT,
    "cut-inside-last-cell.csv": CUT, "cut-inside-time.csv": CUT,
    "cut-last-row.csv": CUT, "half-a-utf16-character.csv": CUT,
    "transposed-short-row.csv": CUT,
    "pcapng-option-longer-than-block.pcapng": OPTION,
    "pcapng-section-option-longer-than-block.pcapng": OPTION,
    "pcapng-simple-packet.pcapng": "a kind of packet that carries no time: "
                                   "sound, and of no use here",
    "duplicate-names.csv": NAMES, "unbalanced-quote-in-names.csv": NAMES,
    "late-row.csv": "sorted in",
    "not-quite-utf8.csv": "another encoding",
    "last-record-cut.mf4": CUT,
    "more-data-than-counted.mf4": "the group's own number of records leads",
    "number-out-of-range.csv": "a whole cell that is beyond any range, counted "
                               "as an overflow",
    "repeated-header.csv": "the header again; no row is lost",
    "stored-twice.csv": "identical rows: dropped and noted, exit 0",
    "thousands-and-decimal-alike.csv": "a doubtful sign, nothing lost",
    "time-restarts.csv": "two parts, both whole",
    "empty.pcapng": FOREIGN, "bgp-infinite-loop.pcap": FOREIGN,
    "bgp-ovs.pcapng": FOREIGN, "hdlc_slarp.pcapng": FOREIGN,
    "ikev2pI2-segfault.pcapng": FOREIGN, "isis-infinite-loop.pcap": FOREIGN,
    "isis-seg-fault-1.pcapng": FOREIGN, "ldp-infinite-loop.pcap": FOREIGN,
    "msnlb2.pcapng": FOREIGN, "nfs-seg-fault-1.pcapng": FOREIGN,
    "ospf2-seg-fault-1.pcapng": FOREIGN, "rsvp-infinite-loop.pcap": FOREIGN,
    "tcp-handshake-nano.pcap": FOREIGN, "tftp-heapoverflow.pcap": FOREIGN,
    "zmtp1-inf-loop-1.pcapng": FOREIGN,
    "libpcap__pcapng-idb-endofopt-badlen.pcapng": OPTION,
    "libpcap__pcapng-no-idb.pcapng": FOREIGN,
}
# Sections, interfaces and packets of other link types, whole; 006, 007 and 010
# have a block whose length is wrong (their own names say which are fixed).
UNHARMED.update({"test%s.ntar" % n: FOREIGN for n in (
    "001", "002", "003", "004", "005", "006-fixed", "008", "009")})
UNHARMED.update({"refused-%s.mf4" % n: CHANNEL for n in (
    "array", "conversion-formula", "conversion-interpolated-table",
    "conversion-ranges-to-texts", "conversion-table", "conversion-table-of-bits",
    "conversion-table-of-ranges", "conversion-texts-to-values", "date",
    "float-of-16-bits", "kind-virtual", "master-of-angle",
    "master-of-nothing-stated", "remote-master", "text",
    "variable")})
# Whole bus recordings, which `survey` reads as such; that they are refused as logs
# is log/damaged.
SOUND = ("frames-as-a-terminal-shows-them.csv", "frames-bytes-apart.csv",
         "frames-bytes-together.csv", "frames.log", "values.csv")
REPORTS = ("AddressSanitizer", "runtime error", "LeakSanitizer",
           "ThreadSanitizer", "Assertion")


def said(done, path):
    """The first line that tells the defect."""
    name = os.path.basename(path)
    for line in done.stderr.decode("utf-8", "replace").splitlines():
        if name in line or "expected" in line:
            return line[line.find(name):] if name in line else line
    for line in done.stdout.decode("utf-8", "replace").splitlines():
        if NOTED.search(line):
            return line.strip()
    return ""


def start(path, how):
    try:
        return made.run(tool, *how, path, timeout=10)
    except subprocess.TimeoutExpired:
        return None


def wanted_exit(path):
    room = os.path.relpath(path, data).split(os.sep)[0]
    return 2 if room in STEERS else \
        0 if os.path.basename(path) in UNHARMED else 3


def judge(path, done):
    if done is None:
        tap.check(os.path.basename(path) + ": over 10 s", False)
        return
    text = done.stderr.decode("utf-8", "replace")
    line = said(done, path)
    clean = all(c >= " " for c in line)
    wanted = wanted_exit(path)
    good = done.returncode == wanted and line and clean and not any(
        word in text for word in REPORTS)
    if done.returncode != 0:
        good = good and text.startswith("brakelag: ")
    tap.check("%s | %d | %s" % (os.path.basename(path), done.returncode,
                                line.replace("#", "\\#")), good,
              "expected exit %d: %s" % (wanted, text))


def malformed(folder):
    for base, folders, names in os.walk(folder):
        folders.sort()
        for name in sorted(names):
            if name not in SOUND and not name.startswith("good") and \
                    not name.endswith(".py"):
                yield os.path.join(base, name)


ours = []
for room, how in HOW.items():
    folder = os.path.join(data, room)
    if room == "trial":
        folder = os.path.join(folder, "bad")
    ours += [(path, how) for path in malformed(folder)
             if room != "trial" or path.endswith(".ini")]
hostile = os.path.join(shared, "hostile-captures")
others = [(path, ("survey",)) for path in malformed(hostile)
          if not path.endswith(".txt")]
with concurrent.futures.ThreadPoolExecutor(2) as pool:
    for (path, how), done in zip(ours + others,
                                 pool.map(start, *zip(*ours + others))):
        judge(path, done)
tap.check("%d malformed files of our own" % len(ours), len(ours) >= 300)
gone = set(UNHARMED) - {os.path.basename(p) for p, _ in ours + others}
tap.check("every exception is a file", not gone or not others, gone)
if not others:
    tap.skip("hostile-captures", "no real recording: hostile-captures")
sys.exit(tap.end())
