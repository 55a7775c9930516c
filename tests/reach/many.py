# SPDX-License-Identifier: MIT
"""A day on the road: 700 applications in one run, of which the last hundred
reach the second trailer 0.15 s late. Frames are made here (ISO 11992-2, EBS11:
bytes 3 and 4 are the demand, 5/256 kPa a bit); what is expected is how they were
made."""
import json
import os
import sys
import tempfile

sys.path.insert(0, os.path.join(os.path.dirname(__file__), "..", "cli"))
import made

TRIAL = """[trial]
name = many
tables = iso11992-2, j1939-brakes
[unit 0]
address = 32
command = EBS11.service_demand@32/link1
command_kind = electronic-demand
command_at = 20 kPa
[unit 1]
address = 200
bus = link1
[unit 2]
address = 192
bus = link2
[run P]
condition = powered
power = on
data = on
captures = many.log
"""
APPLICATIONS, LATE, EVERY_S, FRAME_S = 700, 100, 1.2, 0.02


def demand(t):
    within = t % EVERY_S
    kpa = 200 + int(t / EVERY_S) % 7 * 10
    return kpa if 0.5 <= within < 1.0 else 0


def frame(t, link, number, kpa):
    raw = round(kpa * 256 / 5)
    return t, "(%.6f) %s %s#FFFC%02X%02XFFFFFFFF\n" % (
        1000 + t, link, number, raw & 255, raw >> 8)


def frames():
    out = []
    for i in range(int(APPLICATIONS * EVERY_S / FRAME_S)):
        t = i * FRAME_S
        out.append(frame(t, "link1", "0C02C820", demand(t)))
        late = 0.15 if t / EVERY_S >= APPLICATIONS - LATE else 0.005
        out.append(frame(t + 0.004, "link2", "0C02C0C8",
                         demand(max(t + 0.004 - late, 0))))
    return "".join(line for _, line in sorted(out))


with tempfile.TemporaryDirectory() as folder:
    made.write(os.path.join(folder, "many.log"), frames().encode())
    made.write(os.path.join(folder, "many.ini"), TRIAL.encode())
    done = made.run(sys.argv[1], "reach", os.path.join(folder, "many.ini"),
                    "--json", "--quiet")
    unit = json.loads(done.stdout)["reach"][0]["units"][1]
    text = made.run(sys.argv[1], "reach", os.path.join(folder, "many.ini"),
                    "--quiet").stdout.decode()

checks = (
    ("every rise is set against the first hop's: %d of %d" % (
        unit["demand"]["edges"], APPLICATIONS),
     unit["demand"]["edges"] == APPLICATIONS),
    ("the latest is seen: %.3f s" % unit["demand"]["worst_delay_s"],
     0.14 <= unit["demand"]["worst_delay_s"] <= 0.18),
    ("every value that stood is compared: %d" %
     unit["demand"]["against_first_hop"]["compared"],
     unit["demand"]["against_first_hop"]["compared"] >= 2 * APPLICATIONS - 2),
    ("which are late is said", "applications 601 to 700" in
     " ".join(text.split())))
for number, (name, good) in enumerate(checks, 1):
    print("%s %d - %s" % ("ok" if good else "not ok", number, name))
print("1..%d" % len(checks))
sys.exit(0 if all(good for _, good in checks) else 1)
