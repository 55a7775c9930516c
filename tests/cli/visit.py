# SPDX-License-Identifier: MIT
"""A first visit with one thing wrong, by name: dead times and first-order lags,
nothing of the program. Writes trial.ini, p.csv (powered) and u.csv (by air) into
the working folder. A train of a truck and four trailers, or as many as the second word
says, of which the third or last is odd; five full and three light applications;
control pressure is wired where the case needs it, in some-wired and rear-wired at
some couplings only. A case that begins with axle-
gives every trailer an output at its front and one at its rear axle, and the fault
to one rear axle alone; the front axle beside it fills 0.05 s later than others, so
that it is the last of its unit to be filled."""
import random
import sys

RATE = 200
STEP = 1.0 / RATE
SECONDS = 58
UNITS = int(sys.argv[2]) if len(sys.argv) > 2 else 4
LIGHT = (1, 4, 6)
SILENT = ("air-opens-high", "passed-over")  # cases in which a unit is, if light
UNEVEN = sys.argv[1] == "rear-ignores"  # no foot is the same twice
# Pressed again before the air of the press before has left the rear.
PERIOD, HOLD = (2.6, 1.5) if sys.argv[1] == "pressed-quickly" else (7, 3.2)
# Two presses are stabs: full, and let go before any output is flat.
STABS = (2, 5) if sys.argv[1] == "slow-fill-stabbed" else ()
LIGHT_KPA = 95 if sys.argv[1] in SILENT else 165


def pedal():
    rows = []
    for i in range(SECONDS * RATE):
        s = i * STEP - 2
        n, within = int(s // PERIOD), s % PERIOD
        kpa = LIGHT_KPA if n in LIGHT else 650
        ramp = 0.2 + (0.04 * (n % 4) if UNEVEN else 0)
        hold = 0.7 if n in STABS else HOLD
        share = min(within / ramp, 1, max(0, (hold - within) / 0.2))
        rows.append(kpa * share if 0 <= n < 8 else 0.0)
    return rows


def late(trace, seconds):
    n = int(seconds * RATE + 0.5)
    return [0.0] * n + trace[:len(trace) - n]


def lag(trace, up, down):
    value, rows = 0.0, []
    for wanted in trace:
        value += (wanted - value) * STEP / ((up if wanted > value else down) + STEP)
        rows.append(value)
    return rows


def train(case, powered):
    """Control and output of units 1.."""
    axles = case.startswith("axle-")
    case = case[5:] if axles else case
    foot = pedal()
    air, control, output = foot, [], []
    for u in range(1, UNITS + 1):
        odd = u == min(3, UNITS)
        near = case == "rear-ignores"  # the air is there about when the demand is
        stage = (0.05 if near else 0.15) + (0.25 if case == "line-restricted" and odd else 0)
        air = lag(late(air, stage + 0.005 * u), 0.02, 0.02)
        if case == "valves-keep":
            air = [max(0, kpa - 20) for kpa in air]
        if case == "cock-shut" and odd:
            air = [0] * len(air)
        control.append(air)
        # In both runs, and quick valves, or slow ones.
        dark = case in ("without-power", "slow-without-power")
        ignores = dark or case in ("demand-ignored", "rear-ignores") and u == UNITS
        asked = late(foot, 0.09 if near else 0.03) if powered and not ignores else air
        if case == "once-late" and odd and powered:  # in its third application
            begins = (2 + 2 * 7 - 1) * RATE
            asked = (asked[:begins] + late(asked[begins:begins + 5 * RATE], 0.4) +
                     asked[begins + 5 * RATE:])
        if case == "three-at-once" and odd:
            asked = late(asked, 0.25)
        if case == "valve-late-by-air" and odd and not powered:
            asked = late(asked, 0.55)
        opens = 115 if case == "opens-high" and odd else 5 if dark else 25 + u
        if case in SILENT and odd and not powered:
            opens = 115
        gain = {"low-hold": 0.6, "high-hold": 1.5, "three-at-once": 0.6}.get(
            case, 1) if odd else 1
        valve = 0.11 if near and asked is air else 0.04
        if dark:
            valve = 0.02 if case == "without-power" else 0.15
        wanted = [gain * max(0, kpa - opens) for kpa in late(asked, valve)]
        if case == "sags" and odd and powered:  # from press to press
            wanted = [kpa * (1 - 0.06 * max(0, (i * STEP - 2) // PERIOD))
                      for i, kpa in enumerate(wanted)]
        slow = case in ("slow-release", "three-at-once") or \
            case == "backup-open" and powered
        fall = 0.65 if slow and odd else 0.12 + 0.004 * u
        fill = 0.4 if case == "slow-fill-stabbed" and odd else 0.09 + 0.003 * u
        output.append(lag(wanted, fill, fall))
        if axles:
            share = 0.8 if case == "set-apart" else 1
            held = [share * max(0, kpa - opens) for kpa in late(asked, 0.045)]
            front = lag(held, 0.092 + 0.003 * u + (0.035 if odd else 0),
                        0.123 + 0.004 * u)
            output.insert(-1, front)
    if case == "outputs-exchanged":
        output[1], output[2] = output[2], output[1]
    if case == "one-tee":  # the transducer of trailer 3 hangs at trailer 2
        output[2] = output[1]
    if case == "units-exchanged":
        output[1], output[2] = output[2], output[1]
        control[1], control[2] = control[2], control[1]
    if case == "controls-exchanged-by-air" and not powered:
        control[1], control[2] = control[2], control[1]
    if case == "tee-exchanged":
        control[2], output[2] = output[2], control[2]
    return foot, control, output


def main():
    case = sys.argv[1]
    wired = case in ("line-restricted", "tee-exchanged", "units-exchanged",
                     "cock-shut", "without-power", "slow-without-power",
                     "air-opens-high", "rear-ignores",
                     "pressed-quickly", "controls-exchanged-by-air")
    wired = {"some-wired": (1, 2, 4), "rear-wired": (3, 4, 5)}.get(
        case, range(1, UNITS + 1) if wired else ())
    noise = random.Random(case)
    axles = ("front", "rear") if case.startswith("axle-") else ("",)
    places = ["out%d%s" % (u + 1, a) for u in range(UNITS) for a in axles]
    for name, powered in (("p", True), ("u", False)):
        foot, control, output = train(case, powered)
        columns = [("pedal", foot)]
        if case == "towing-late":
            columns.append(("out0", lag(late(foot, 0.45), 0.09, 0.12)))
        columns += list(zip(places, output))
        columns += [("con%d" % u, control[u - 1]) for u in wired]
        with open(name + ".csv", "w") as to:
            print("time," + ",".join(c for c, _ in columns), file=to)
            for i in range(len(foot)):
                cells = ["%.1f" % (c[i] + noise.gauss(0, 0.8)) for _, c in columns]
                print("%.3f,%s" % (1000 + i * STEP, ",".join(cells)), file=to)
    with open("trial.ini", "w") as to:
        print("[trial]\nname = visit\ncontrol_line = relayed\n[unit 0]\nname = truck\n"
              "command = pedal\ncommand_kind = treadle-pressure\n"
              "command_at = 20 kPa", file=to)
        if case == "towing-late":
            print("output = out0", file=to)
        for u in range(1, UNITS + 1):
            print("[unit %d]\nname = trailer %d" % (u, u), file=to)
            for a in axles:
                print("output%s = out%d%s" % ("." + a if a else "", u, a), file=to)
            if u in wired:
                print("control = con%d" % u, file=to)
        for c, _ in columns:
            print("[channel %s]\nmeasured_in = kPa\nquantity = pressure" % c, file=to)
        for run, file, power, label in (("P", "p", "on", "powered"),
                                        ("U", "u", "off", "unpowered")):
            print("[run %s]\ncondition = %s\npower = %s\ndata = %s\nlogs = %s.csv"
                  % (run, label, power, power, file), file=to)


main()
