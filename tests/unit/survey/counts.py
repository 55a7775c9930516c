# SPDX-License-Identifier: MIT
"""survey against python3-can's reading of the same recordings: frames, remote
frames, and per identifier the count and the shortest and longest interval.
Usage: counts.py BRAKELAG. Exit 77: python3-can or the data are absent."""
import gzip
import json
import os
import subprocess
import sys
import tempfile
from collections import defaultdict

FILES = (  # frames as the data's README counts them
    ("truck-short/short_4s_out_of_order.log", 2645, 0, 333),
    ("truck-bench-drive/drive_211s.log.gz", 39740, 1, 0),
    ("truck-brake-release/full_401s.log.gz", 150411, 0, 0),
)


def reference(path):
    """Times in file order per (bus, identifier, extended), remote frames."""
    opener = gzip.open if path.endswith(".gz") else open
    with opener(path, "rb") as stored, \
            tempfile.NamedTemporaryFile(suffix=".log") as plain:
        plain.write(stored.read())
        plain.flush()
        times = defaultdict(list)
        remote = 0
        frames = 0
        for message in can.CanutilsLogReader(plain.name):
            frames += 1
            if message.is_remote_frame:
                remote += 1
                continue
            key = (message.channel, message.arbitration_id,
                   message.is_extended_id)
            times[key].append(message.timestamp)
    return frames, remote, times


def check(tool, folder, name, frames, remote, late):
    path = os.path.join(folder, name)
    wrong = []
    result = json.loads(subprocess.run(
        [tool, "survey", "--quiet", "--json", path], check=True,
        stdout=subprocess.PIPE).stdout)["files"][0]
    their_frames, their_remote, times = reference(path)
    for what, ours, theirs in (
            ("frames", result["frames"], frames),
            ("frames by python3-can", result["frames"], their_frames),
            ("remote", sum(b["remote"] for b in result["buses"]), remote),
            ("remote by python3-can",
             sum(b["remote"] for b in result["buses"]), their_remote),
            ("late stamps", result["late_stamps"], late),
            ("identifiers",
             sum(1 for i in result["identifiers"] if i["frames"] > 0),
             len(times))):
        if ours != theirs:
            wrong.append("%s: %s, expected %s" % (what, ours, theirs))
    for item in result["identifiers"]:
        if item["frames"] == 0:
            continue
        key = (item["bus"], item["id"], item["extended"])
        stamps = sorted(times.get(key, []))
        if len(stamps) != item["frames"]:
            wrong.append("%s: %d frames, expected %d" %
                         (key, item["frames"], len(stamps)))
            continue
        if len(stamps) < 2:
            continue
        steps = [b - a for a, b in zip(stamps, stamps[1:])]
        for what, theirs in (("interval_min_s", min(steps)),
                             ("interval_max_s", max(steps))):
            # Their stamps are doubles of seconds since 1970: good to 1 us.
            if abs(item[what] - theirs) > 2e-6:
                wrong.append("%s: %s %.7f, expected %.7f" %
                             (key, what, item[what], theirs))
    for line in wrong:
        print("%s: %s" % (name, line))
    print("%s: %d frames, %d identifiers compared" %
          (name, result["frames"], len(times)))
    return not wrong


try:
    import can
except ImportError:
    print("skipped: no python3-can")
    sys.exit(77)
data = os.environ.get("BL_SHARED_DATA", "")
absent = [e[0] for e in FILES if not os.path.exists(os.path.join(data, e[0]))]
if not data or absent:
    print("no real recording: %s" % absent)
    sys.exit(77)
good = [check(sys.argv[1], data, *entry) for entry in FILES]
sys.exit(0 if all(good) else 1)
