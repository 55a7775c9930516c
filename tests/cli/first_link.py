# SPDX-License-Identifier: MIT
"""A train of a truck and four trailers whose demand is late or reduced from the
first link on: dead times and first-order lags, nothing of the program. Words:
late=LINK:APPLICATION[,LINK:APPLICATION] adds 0.3 s from that link rearwards in
that application, share=X passes on that share of the pedal's pressure,
truck=X makes the truck hold that many times its own. The truck brakes by its pedal,
each trailer by the demand on its link, or in run U by air.
Writes trial.ini, own.csv, p.log, p.csv and u.csv."""
import random
import sys

RATE = 200
APPLICATIONS = 5
SECONDS = 4 + 7 * APPLICATIONS
WORDS = dict(w.split("=", 1) for w in sys.argv[1:])
LATE = [tuple(int(n) for n in w.split(":"))
        for w in WORDS.get("late", "").split(",") if w]
SHARE = float(WORDS.get("share", "1"))
TRUCK = float(WORDS.get("truck", "1"))


def pedal(s):
    n, within = int((s - 2) // 7), (s - 2) % 7
    share = min(within / 0.15, 1, max(0, (3.2 - within) / 0.2))
    return (600 + 10 * n) * share if 0 <= n < APPLICATIONS and s >= 2 else 0.0


def demand(s, link):
    """Each unit hands it on 8 ms later."""
    n = int((s - 2) // 7) + 1
    late = sum(0.3 for at, in_n in LATE if at <= link and in_n == n)
    return SHARE * pedal(s - 0.02 - 0.008 * link - late)


def answer(asked, up, down):
    value, rows = 0.0, []
    for i in range(SECONDS * RATE):
        wanted = asked(i / RATE)
        value += (wanted - value) / RATE / ((up if wanted > value else down) + 1 / RATE)
        rows.append(value)
    return rows


def write_log(name, powered, noise):
    rows = [[pedal(i / RATE) for i in range(SECONDS * RATE)],
            answer(lambda s: TRUCK * pedal(s - 0.04), 0.08, 0.12)]
    for u in range(1, 5):
        rows.append(answer(
            (lambda s: demand(s - 0.03, u)) if powered else
            (lambda s: pedal(s - 0.05 - 0.12 * u)), 0.08 + 0.003 * u, 0.12 + 0.003 * u))
    with open(name, "w") as to:
        print("time,pedal," + ",".join("out%d" % u for u in range(5)), file=to)
        for i in range(SECONDS * RATE):
            print("%.3f,%s" % (1000 + i / RATE, ",".join(
                "%.1f" % (r[i] + noise.gauss(0, 0.6)) for r in rows)), file=to)


def write_capture():
    frames = [(i * 0.01 + 0.001 * u, u) for u in range(1, 5)
              for i in range(SECONDS * 100)]
    with open("p.log", "w") as to:
        for s, u in sorted(frames):
            print("(%.6f) link%d 123#00%02X" % (1000 + s, u, round(demand(s, u) / 5)),
                  file=to)


def main():
    noise = random.Random(1)
    write_log("p.csv", True, noise)
    write_log("u.csv", False, noise)
    write_capture()
    with open("own.csv", "w") as to:
        print("message,pgn,sender,direction,period_ms,signal,start,bits,scale,offset,unit,"
              "low,high,kind,role,states,source,confidence\n"
              "ASK,id:0x123,any,down,10,asked,2.1,8,5,0,kPa,0,1250,number,"
              "service_demand,,made for this test,confirmed", file=to)
    with open("trial.ini", "w") as to:
        print("[trial]\nname = first link\ntables = ./own.csv\n[unit 0]\nname = truck\n"
              "command = pedal\ncommand_kind = treadle-pressure\n"
              "command_at = 20 kPa\noutput = out0", file=to)
        for u in range(1, 5):
            print("[unit %d]\nname = trailer %d\nbus = link%d\noutput = out%d"
                  % (u, u, u, u), file=to)
        for name in ["pedal"] + ["out%d" % u for u in range(5)]:
            print("[channel %s]\nmeasured_in = kPa\nquantity = pressure" % name, file=to)
        print("[run P]\ncondition = powered\npower = on\ndata = on\nclock = shared\n"
              "captures = p.log\nlogs = p.csv\n[run U]\ncondition = unpowered\n"
              "power = off\ndata = off\nlogs = u.csv\n[expect]\nreach = yes", file=to)


main()
