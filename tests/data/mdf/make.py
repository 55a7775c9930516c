#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""Writes the sound fixtures of this folder: the same values and the same frames in
every shape of MDF 4 that is read (good-*.mf4) beside their twins values.csv and
frames.log. Damaged ones: damage.py."""
import os
import struct
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import writer as w
from writer import BIG, BYTES, FIXED, FLOAT, SIGNED, UNSIGNED, UP_TO, VARIABLE
from writer import Channel, File, Group, master

HERE = os.path.dirname(os.path.abspath(__file__))
SECOND = 1577836800  # 2020-01-01 00:00:00 UTC
START = SECOND * 10**9
ROWS = 40


def place(name):
    return os.path.join(HERE, name)


# --- values: what is meant, and the raw numbers that mean it ------------------
class Row:
    def __init__(self, k):
        self.ms = 10 * k
        self.pressure = 100 + 0.25 * k                   # kPa, as it is
        self.level = (0.5 * 8 * k - 10) if k % 7 else None  # V, linear
        self.angle = -3 * k / 2                          # deg, rational
        self.state = k % 5                               # texts
        self.level_raw = 8 * k
        self.angle_raw = -3 * k


VALUES = [Row(k) for k in range(ROWS)]
LINEAR = (1, [-10, 0.5])
RATIONAL = (2, [0, 2, 0, 0, 0, 4])
TEXTS = (7, [0, 1, 2], ["off", "on", "fault"])
CODES_OF_ERROR = (7, [8, 64], ["short", "open", LINEAR])


def pack(row, order=">", time="d", id=b""):
    """time, pressure f32, level u16, angle i16, state: bits 2 to 4 of a byte;
    then one byte of invalidation bits, of which 3 is that of level."""
    time = struct.pack(order + "d", row.ms / 1000) if time == "d" else time
    return id + time + struct.pack(
        order + "fHhB", row.pressure, row.level_raw, row.angle_raw,
        row.state << 2 | 0xe3) + bytes([0x08 if row.level is None else 0])


def value_channels(big=0, time=8):
    return [
        Channel("pressure", type=FLOAT + big, byte=time, bits=32, unit="kPa"),
        Channel("level", type=UNSIGNED + big, byte=time + 4, bits=16, unit="V",
                conversion=LINEAR, invalid=3),
        Channel("angle", type=SIGNED + big, byte=time + 6, bits=16,
                unit="deg", conversion=RATIONAL),
        Channel("state", type=UNSIGNED + big, byte=time + 8, bits=3, shift=2,
                conversion=TEXTS),
    ]


def value_group(big=0, id=0, cycles=None, records=None, **more):
    records = VALUES if records is None else records
    return Group("Chassis", [master(type=FLOAT + big)] + value_channels(big),
                 17, records, invalid_bytes=1, id=id, cycles=cycles, **more)


RECORDS = [pack(r, "<") for r in VALUES]
RECORD = len(RECORDS[0])
DATA = b"".join(RECORDS)


def cut(data, sizes):
    at = 0
    for size in sizes:
        yield data[at:at + size]
        at += size
    yield data[at:]


def good_values():
    f = File(START)
    f.set([value_group()], f.plain(DATA))
    f.save(place("good-plain.mf4"))

    f = File(START)
    data = b"".join(pack(r, ">") for r in VALUES)
    f.set([value_group(BIG)], f.plain(data))
    f.save(place("good-big-endian.mf4"))

    # Lists whose blocks cut records; two lists behind each other.
    f = File(START)
    parts = list(cut(DATA, [100, 37, 200]))
    blocks = [f.plain(p) for p in parts]
    second = f.list(blocks[2:], [len(p) for p in parts[2:]])
    f.set([value_group()],
          f.list(blocks[:2], [len(p) for p in parts[:2]], second))
    f.save(place("good-lists.mf4"))

    f = File(START)
    blocks = [f.packed(p) for p in parts]
    f.set([value_group()],
          f.head(f.list(blocks, [len(p) for p in parts])))
    f.save(place("good-packed.mf4"))

    f = File(START)
    f.set([value_group()], f.packed(DATA, turned=RECORD))
    f.save(place("good-turned-alone.mf4"))
    f = File(START)
    parts = list(cut(DATA, [10 * RECORD + 5, 10 * RECORD]))
    blocks = [f.packed(p, turned=RECORD) for p in parts]
    f.set([value_group()],
          f.head(f.list(blocks, [len(p) for p in parts]), 1))
    f.save(place("good-turned.mf4"))

    # Two of the numbers of level are codes, the rest is linear.
    f = File(START)
    g = value_group()
    g.channels[2].conversion = CODES_OF_ERROR
    f.set([g], f.plain(DATA))
    f.save(place("good-codes-beside-values.mf4"))

    # The time is the number of the record.
    f = File(START)
    clock = Channel("time", w.VIRTUAL_MASTER, FLOAT, 0, 0, unit="s", sync=1,
                    conversion=(1, [0, 0.01]))
    f.set([Group("", [clock] + value_channels(time=0), 9, VALUES, 1)],
          f.plain(b"".join(pack(r, "<", b"") for r in VALUES)))
    f.save(place("good-virtual-master.mf4"))

    # Time as nanoseconds since 1970 in 64 bits, in a file without a start.
    f = File(0)
    clock = master(type=UNSIGNED + BIG, conversion=(1, [0, 1e-9]))
    data = b"".join(pack(r, ">", struct.pack(">Q", START + r.ms * 10**6))
                    for r in VALUES)
    f.set([Group("", [clock] + value_channels(BIG), 17, VALUES, 1)],
          f.plain(data))
    f.save(place("good-integer-time.mf4"))

    # Times written in ms, without a rule: the standard has seconds.
    f = File(START)
    clock = master(type=UNSIGNED)
    clock.unit = "ms"
    f.set([Group("", [clock] + value_channels(), 17, VALUES, 1)],
          f.plain(b"".join(pack(r, "<", struct.pack("<Q", r.ms))
                           for r in VALUES)))
    f.save(place("good-times-in-ms.mf4"))

    # Identifiers of records, another group in between that is slower.
    f = File(START)
    slow = Group("Cab", [master(), Channel("slow", byte=8, bits=8)], 9,
                 VALUES[::4], id=7)
    data = bytearray()
    for k, r in enumerate(VALUES):
        if k % 4 == 0:
            data += b"\x07" + struct.pack("<dB", r.ms / 1000 + 0.002, k)
        data += pack(r, "<", id=b"\x05")
    f.set([value_group(id=5), slow], f.plain(bytes(data)), 1)
    f.save(place("good-unsorted.mf4"))

    # The same in sets of their own, names that are in both.
    f = File(START)
    f.set([value_group()], f.plain(DATA))
    data = b"".join(struct.pack("<dB", r.ms / 1000 + 0.002, k * 4)
                    for k, r in enumerate(VALUES[::4]))
    f.set([Group("Cab", [master(), Channel("pressure", byte=8, bits=8)], 9,
                 VALUES[::4])], f.plain(data))
    f.save(place("good-two-sets.mf4"))

    # Length of the data and number of records were not set yet.
    f = File(START, unfinished=5)
    f.set([value_group(cycles=0)], 0)
    f.link(f.last_set, 2, f.plain(DATA + RECORDS[0][:7], length=24))
    f.save(place("good-unfinished.mf4"))
    # The list has room for blocks to come.
    f = File(START, unfinished=0x11)
    g = value_group(cycles=0)
    blocks = [f.packed(DATA[:300]), f.packed(DATA[300:]), 0, 0]
    f.set([g], f.list(blocks, [300, len(DATA) - 300, 0, 0]))
    f.save(place("good-unfinished-list.mf4"))

    with open(place("values.csv"), "w") as csv:
        csv.write("time,pressure [kPa],level [V],angle [deg],state\n")
        for r in VALUES:
            csv.write("%d.%03d,%g,%s,%g,%d\n" % (
                SECOND + r.ms // 1000, r.ms % 1000, r.pressure,
                "" if r.level is None else "%g" % r.level, r.angle, r.state))


# --- frames -------------------------------------------------------------------
class Frame:
    def __init__(self, k):
        self.ms = 5 * k
        self.bus = 1 + k % 2
        self.extended = k % 3 != 0
        self.id = (0x18F00400 + k) if self.extended else 0x123 + k
        self.fd = k % 4 == 3
        self.brs = k % 8 == 3
        self.esi = k % 16 == 7
        self.sent = k % 5 == 4
        length = (12, 64, 20, 8)[k // 4 % 4] if self.fd else k % 9
        self.data = bytes((17 * k + i) % 256 for i in range(length))


CODES = {n: n for n in range(9)}
CODES.update({12: 9, 16: 10, 20: 11, 24: 12, 32: 13, 48: 14, 64: 15})
FRAMES = [Frame(k) for k in range(36)]
CLASSIC = [f for f in FRAMES if not f.fd]


def members(event, data_kind, data_bits, data_type=BYTES, data=0, bare=False):
    """After the time (8 bytes): id of 29 bits with IDE above, bus 4 bits and
    direction, DLC and flags, length, then the bytes or the way to them."""
    def name(member):
        return member if bare else event + "." + member
    return [
        Channel(name("BusChannel"), byte=12, bits=4),
        Channel(name("Dir"), byte=12, bits=1, shift=4),
        Channel(name("ID"), byte=8, bits=29),
        Channel(name("IDE"), byte=11, bits=1, shift=7),
        Channel(name("DLC"), byte=13, bits=4),
        Channel(name("EDL"), byte=13, bits=1, shift=4),
        Channel(name("BRS"), byte=13, bits=1, shift=5),
        Channel(name("ESI"), byte=13, bits=1, shift=6),
        Channel(name("DataLength"), byte=14, bits=7),
        Channel(name("DataBytes"), data_kind, data_type, 15, data_bits,
                data=data),
    ]


def front(f, dlc=None, length=None):
    return struct.pack(
        "<dIBBB", f.ms / 1000, f.id | (0x80000000 if f.extended else 0),
        f.bus | f.sent << 4,
        (CODES[len(f.data)] if dlc is None else dlc) | f.fd << 4 | f.brs << 5 |
        f.esi << 6, len(f.data) if length is None else length)


def frame_group(records, kind, bits, event="CAN_DataFrame", data=0, id=0,
                type=BYTES, bare=False, **more):
    whole = Channel(event, type=BYTES, byte=8, bits=8 * 7 + bits,
                    parts=members(event, kind, bits, type, data, bare))
    return Group("CAN", [master(), whole], 15 + bits // 8, records, flags=6,
                 id=id, **more)


def fixed(f, room=64):
    return front(f) + f.data + bytes(0xAA for _ in range(room - len(f.data)))


def sd(frames):
    """The stretch of variable bytes, and where each begins."""
    data, places = b"", []
    for f in frames:
        places.append(len(data))
        data += struct.pack("<I", len(f.data)) + f.data
    return data, places


def line(f):
    form = "(%d.%03d) can%d %s%s%s %s\n"
    ident = "%08X" % f.id if f.extended else "%03X" % f.id
    sign = "##%X" % (f.brs | f.esi << 1) if f.fd else "#"
    return form % (SECOND + f.ms // 1000, f.ms % 1000, f.bus, ident, sign,
                   f.data.hex().upper(), "T" if f.sent else "R")


def good_frames():
    f = File(START)
    f.set([frame_group(FRAMES, FIXED, 512)],
          f.plain(b"".join(fixed(x) for x in FRAMES)))
    f.save(place("good-frames-fixed.mf4"))

    f = File(START)
    data = b"".join(fixed(x) for x in FRAMES)
    f.set([frame_group(FRAMES, UP_TO, 512, bare=True)],
          f.packed(data, turned=79))
    f.save(place("good-frames-up-to.mf4"))

    bytes_, places = sd(FRAMES)
    data = b"".join(front(x) + struct.pack("<Q", p)
                    for x, p in zip(FRAMES, places))
    for name, make in (
            ("sd", lambda f: f.plain(bytes_, b"SD")),
            ("sd-list", lambda f: f.list(
                [f.plain(p, b"SD") for p in cut(bytes_, [50, 200])],
                [50, 200, len(bytes_) - 250])),
            ("sd-packed", lambda f: f.head(f.list(
                [f.packed(p, b"SD") for p in cut(bytes_, [99])],
                [99, len(bytes_) - 99])))):
        f = File(START)
        g = frame_group(FRAMES, VARIABLE, 64, data=make(f))
        f.set([g], f.plain(data))
        f.save(place("good-frames-%s.mf4" % name))

    # Bytes as records of their own, behind the frame's record or before it.
    for name, before in (("behind", False), ("before", True)):
        f = File(START)
        data = bytearray()
        for x, p in zip(FRAMES, places):
            own = b"\x01" + front(x) + struct.pack("<Q", p)
            far = b"\x02" + struct.pack("<I", len(x.data)) + x.data
            data += far + own if before else own + far
        g = frame_group(FRAMES, VARIABLE, 64, id=1)
        v = Group("", None, len(bytes_), FRAMES, flags=1, id=2)
        link = f.plain(bytes(data))
        f.set([g, v], link, 1)
        f.patch(g.channels[1].parts[9].at + 24 + 8 * 5, v.at)
        f.save(place("good-frames-records-%s.mf4" % name))

    # Bytes of variable length, while the file is still written: numbers of
    # records, of bytes and the length of the last data are not set.
    f = File(START, unfinished=0x25)
    g = frame_group(FRAMES, VARIABLE, 64, id=1, cycles=0)
    v = Group("", None, 0, FRAMES, flags=1, id=2, cycles=0)
    f.set([g, v], 0, 1)
    f.patch(g.channels[1].parts[9].at + 24 + 8 * 5, v.at)
    data = bytearray()
    for x, p in zip(FRAMES, places):
        data += b"\x02" + struct.pack("<I", len(x.data)) + x.data
        data += b"\x01" + front(x) + struct.pack("<Q", p)
    f.link(f.last_set, 2, f.plain(bytes(data), length=24))
    f.save(place("good-frames-unfinished.mf4"))
    f = File(START, unfinished=5)
    g = frame_group(FRAMES, VARIABLE, 64, cycles=0)
    f.set([g], f.plain(b"".join(front(x) + struct.pack("<Q", p)
                                for x, p in zip(FRAMES, places))))
    f.link(g.channels[1].parts[9].at, 5, f.plain(bytes_, b"SD", length=24))
    f.save(place("good-frames-sd-unfinished.mf4"))

    # A group a bus, each in its own set: merged by time.
    f = File(START)
    for bus in (1, 2):
        own = [x for x in FRAMES if x.bus == bus]
        f.set([frame_group(own, FIXED, 512)],
              f.plain(b"".join(fixed(x) for x in own)))
    f.save(place("good-frames-two-sets.mf4"))

    # With channels in the same file, and a bus that is not read.
    f = File(START)
    f.set([value_group()], f.plain(DATA))
    f.set([frame_group(FRAMES, FIXED, 512)],
          f.plain(b"".join(fixed(x) for x in FRAMES)))
    lin = Channel("LIN_Frame", type=BYTES, byte=8, bits=8)
    f.set([Group("LIN", [master(), lin], 9, [0] * 3, flags=6)],
          f.plain(bytes(27)))
    f.save(place("good-both.mf4"))

    # Remote and error frames of one set.
    f = File(START)
    data = bytearray()
    remote, error = [], []
    for k in range(6):
        x = Frame(3 * k + 1)
        x.ms, x.fd, x.brs, x.esi, x.data = 10 * k, False, False, False, b""
        remote.append(x)
        data += b"\x01" + front(x, dlc=k)
        error.append(k)
        data += b"\x02" + struct.pack("<dBB", (10 * k + 3) / 1000, 2, k)
    g = frame_group(remote, FIXED, 64, "CAN_RemoteFrame", id=1)
    g.channels[1].parts.pop()
    g.channels[1].bits = 8 * 7
    g.data_bytes = 15
    e = Group("CAN", [master(),
                      Channel("CAN_ErrorFrame.BusChannel", byte=8, bits=8),
                      Channel("CAN_ErrorFrame.ErrorType", byte=9, bits=8)],
              10, error, flags=6, id=2)
    f.set([g, e], f.plain(bytes(data)), 1)
    f.save(place("good-remote-and-error.mf4"))

    with open(place("frames.log"), "w") as log:
        log.write("".join(line(x) for x in FRAMES))


if __name__ == "__main__":
    good_values()
    good_frames()
