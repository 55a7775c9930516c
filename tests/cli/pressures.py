# SPDX-License-Identifier: MIT
"""A log of pressures of a sound train, for drafts.

    pressures.py HEADER=DELAY,TIME[,V] ... > log.csv

Each column rises to 600 kPa DELAY s after the first one's command and falls
again, both with the time constant TIME; with V it is written as a transducer of
0.5 to 4.5 V for 0 to 1000 kPa shows it. BATTERY=0,0,B stays near 13 V."""
import math
import random
import sys


def pressure(time, delay, constant):
    """Steps every 8 s, 3 s long, the first one at 3 s."""
    phase = (time - delay - 3) % 8
    if time < 3 + delay:
        return 0.0
    if phase < 3:
        return 600 * (1 - math.exp(-phase / constant))
    return 600 * math.exp(-(phase - 3) / constant)


def main():
    dice = random.Random(1)
    columns = [word.rsplit("=", 1) for word in sys.argv[1:]]
    columns = [(head, value.split(",")) for head, value in columns]
    print("Time [s]," + ",".join(head for head, _ in columns))
    for row in range(6000):
        cells = []
        for _, (delay, constant, *kind) in columns:
            if kind == ["B"]:
                cells.append(f"{13.1 + dice.gauss(0, 0.02):.2f}")
                continue
            value = pressure(row / 200, float(delay), float(constant))
            value += dice.gauss(0, 0.5)
            cells.append(f"{0.5 + value / 250:.4f}" if kind else f"{value:.1f}")
        print(f"{row / 200:.3f}," + ",".join(cells))


main()
