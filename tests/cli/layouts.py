# SPDX-License-Identifier: MIT
"""Captures of a braked train in the layouts that a tap meets, as text.

    layouts.py LAYOUT > capture.log

The demand: PGN 512, bytes 3 and 4, 1/51.2 kPa a bit (UN R13 Annex 17 has 33280
for 650 kPa), every 10 ms; the answer: PGN 768, byte 1 bits 5 and 6 braking.
Addresses 0x20 for the towing vehicle and 0xC8, 0xC0, 0xB8 rearwards
(docs/methods/bus.md)."""
import sys

TOWED = (0xC8, 0xC0, 0xB8)
LINKS = {  # bus, sender, destination: in the order of a unit's place
    # the links plugged in as they came to hand
    "links": [("can2", 0x20, 0xC8), ("can0", 0xC8, 0xC0), ("can1", 0xC0, 0xB8)],
    "predecessor": [("can0", 0x20, 0xC8), ("can0", 0xC8, 0xC0),
                    ("can0", 0xC0, 0xB8)],
    "towing": [("can0", 0x20, place) for place in TOWED],
    "all-first": [("can3", 0x20, 0xC8), ("can1", 0x20, 0xC8),
                  ("can2", 0x20, 0xC8)],
    "split": [("can0", 0x20, 0xFF)],
}


def pressure(time):
    """Two applications of 600 kPa, ramps of 0.2 s."""
    phase = time % 8
    if not 2 < phase < 6:
        return 0.0
    return 600 * min(1, (phase - 2) / 0.2, (6 - phase) / 0.2)


def frames(layout):
    for tick in range(1600):
        for place, (bus, sender, to) in enumerate(LINKS[layout]):
            now = tick / 100
            raw = round(51.2 * pressure(now - 0.005 * place))
            stamp = now + 0.001 * place
            yield stamp, bus, 0x0C020000 | to << 8 | sender, \
                b"\xff\xff" + raw.to_bytes(2, "little") + b"\xff" * 4
            for answer in TOWED if to == 0xFF else (to,):
                on = 0xDF if raw else 0xCF
                yield stamp + 0.0005, bus, \
                    0x0C030000 | sender << 8 | answer, \
                    bytes([on]) + b"\xff" * 7


def main():
    for stamp, bus, identifier, data in sorted(frames(sys.argv[1])):
        print(f"({1700000000 + stamp:.6f}) {bus} {identifier:08X}"
              f"#{data.hex().upper()}")


main()
