# SPDX-License-Identifier: MIT
"""Captures of a braked train in the layouts that a tap meets, as text.

    layouts.py LAYOUT [FORM] > capture.log

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


FORMS = {  # how a program writes the same frames: a header, a line each
    "log": ("", "({epoch:.6f}) {bus} {id:08X}#{together}"),
    "terminal": ("", "({epoch:.6f})  {bus}  {id:08X}   [8]  {apart}"),
    "since-start": ("", " ({at:010.6f})  {bus}  {id:08X}   [8]  {apart}"),
    "since-before": ("", " ({step:010.6f})  {bus}  {id:08X}   [8]  {apart}"),
    "untimed": ("", "  {bus}  {id:08X}   [8]  {apart}"),
    "csv": ("Time (s),Channel,ID,Dir,DLC,Data",
            "{at:.6f},{bus},0x{id:X},Rx,8,{apart}"),
    "semicolon": ("Zeit (ms);Bus;ID;DLC;D0;D1;D2;D3;D4;D5;D6;D7",
                  "{ms};{bus};{id:08X};8;{cells}"),
    "tab": ("timestamp\tinterface\tarbitration_id (dec)\tdata",
            "{at:.6f}\t{bus}\t{id}\t{together}"),
}


def main():
    head, line = FORMS[sys.argv[2] if len(sys.argv) > 2 else "log"]
    before = 0
    if head:
        print(head)
    for stamp, bus, identifier, data in sorted(frames(sys.argv[1])):
        apart = data.hex(" ").upper()
        print(line.format(epoch=1700000000 + stamp, at=stamp, bus=bus,
                          step=stamp - before, id=identifier, apart=apart,
                          together=data.hex().upper(),
                          cells=apart.replace(" ", ";"),
                          ms=f"{1000 * stamp:.3f}".replace(".", ",")))
        before = stamp


main()
