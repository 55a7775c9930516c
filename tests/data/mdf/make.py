#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""Writes the fixtures of this folder: the same values and the same frames in
every shape of MDF 4 that is read (good-*.mf4) beside their twins values.csv and
frames.log, and files that are damaged in one way each and named after it."""
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

    # The same in sets of their own, names that stand in both.
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


# --- what is refused by name ----------------------------------------------------
def refused():
    def one(name, channel, group=None, data=None, **more):
        f = File(START)
        g = group or Group("G", [master()] + value_channels() + [channel], 17,
                           VALUES, 1, **more)
        f.set([g], f.plain(DATA if data is None else data))
        f.save(place(name + ".mf4"))

    for type, name in ((3, "formula"), (4, "interpolated-table"), (5, "table"),
                       (6, "table-of-ranges"), (8, "ranges-to-texts"),
                       (9, "texts-to-values"), (11, "table-of-bits")):
        one("refused-conversion-" + name,
            Channel("odd", byte=8, bits=8, conversion=(type, [0, 1], ["x"])))
    one("refused-text", Channel("odd", type=7, byte=8, bits=32))
    one("refused-date", Channel("odd", type=13, byte=8, bits=56))
    one("refused-float-of-16-bits", Channel("odd", type=4, byte=8, bits=16))
    one("refused-array", Channel("odd", byte=8, bits=8, array=True))
    one("refused-kind-virtual", Channel("odd", 6, byte=8, bits=8))
    one("refused-variable", Channel("odd", VARIABLE, byte=8, bits=64, type=10))
    f = File(START)
    f.set([value_group()], f.plain(DATA))
    f.set([Group("angles", [master(sync=2), Channel("odd", byte=8, bits=8)], 9,
                 [0] * 3)], f.plain(bytes(27)))
    f.save(place("refused-master-of-angle.mf4"))
    f = File(START)
    f.set([value_group()], f.plain(DATA))
    f.set([Group("far", [Channel("odd", byte=8, bits=8)], 9, [0] * 3, flags=8)],
          f.plain(bytes(27)))
    f.save(place("refused-remote-master.mf4"))
    f = File(START)
    f.set([value_group()], f.block(b"LD", [0], bytes(16)))
    f.save(place("refused-data-in-columns.mf4"))
    f = File(START)
    f.set([value_group()], f.packed(DATA, kind=2))
    f.save(place("refused-other-packing.mf4"))
    f = File(START, version=330)
    f.save(place("refused-version-3.mf4"))


# --- damage ---------------------------------------------------------------------
def damaged():
    def start(**more):
        return File(START, **more)

    def whole():
        f = start()
        f.set([value_group()], f.plain(DATA))
        return f

    def find(f, id, nth=0):
        at = -1
        for _ in range(nth + 1):
            at = f.bytes.index(b"##" + id, at + 1)
        return at

    f = whole()
    f.bytes = f.bytes[:50]
    f.save(place("id-cut.mf4"))
    f = whole()
    f.bytes[64:68] = b"##HX"
    f.save(place("head-of-another-kind.mf4"))
    f = whole()
    f.patch(64 + 16, 2**61)  # 2^61 links of 8 bytes are 0 bytes modulo 2^64
    f.save(place("links-overflow.mf4"))
    f = whole()
    f.patch(64 + 8, 40)
    f.save(place("block-shorter-than-its-links.mf4"))
    f = whole()
    f.patch(64 + 24, len(f.bytes) + 1000)
    f.save(place("link-out-of-the-file.mf4"))
    f = whole()
    f.patch(64 + 24, 2**63 + 8)
    f.save(place("link-above-all.mf4"))
    f = whole()
    f.link(f.last_set, 0, f.last_set)
    f.save(place("sets-in-a-loop.mf4"))
    f = whole()
    f.link(find(f, b"CG"), 0, find(f, b"CG"))
    f.save(place("groups-in-a-loop.mf4"))
    f = whole()
    f.link(find(f, b"CN"), 0, find(f, b"CN", 2))
    f.save(place("channels-in-a-loop.mf4"))
    f = whole()
    f.link(find(f, b"CN", 1), 1, find(f, b"CN", 1))
    f.save(place("channel-composed-of-itself.mf4"))
    f = whole()
    f.patch(find(f, b"CN", 1) + 24 + 64 + 4, 16, "<I")
    f.save(place("channel-outside-its-record.mf4"))
    f = whole()
    f.patch(find(f, b"CN", 1) + 24 + 64 + 8, 0xfffffff8, "<I")
    f.save(place("channel-of-4-gigabits.mf4"))
    f = whole()
    f.patch(find(f, b"CN", 2) + 24 + 64 + 16, 800, "<I")
    f.save(place("invalid-bit-outside.mf4"))
    f = whole()
    f.link(find(f, b"CN", 2), 4, 3)
    f.save(place("conversion-nowhere.mf4"))
    f = whole()
    f.patch(find(f, b"CC", 1) + 24 + 32 + 6, 60000, "<H")
    f.save(place("conversion-of-too-many-values.mf4"))
    f = whole()
    f.link(find(f, b"CN", 3), 2, 1)
    f.save(place("name-nowhere.mf4"))
    f = whole()
    f.patch(find(f, b"CG") + 24 + 48 + 24, 0xffffffff, "<I")
    f.save(place("record-of-4-gigabytes.mf4"))
    f = start()
    f.set([value_group()], f.plain(DATA), 3)
    f.save(place("record-identifier-of-3-bytes.mf4"))
    f = start()
    f.set([value_group(id=5), value_group(id=6)], f.plain(DATA))
    f.save(place("groups-without-identifiers.mf4"))
    f = start()
    data = b"".join((b"\x09" if k == 20 else b"\x05") + r
                    for k, r in enumerate(RECORDS))
    f.set([value_group(id=5), Group("other", [master()], 8, [], id=6)],
          f.plain(data), 1)
    f.save(place("record-of-an-unknown-group.mf4"))
    f = start()
    f.set([value_group(id=5)], f.plain(data), 1)
    f.save(place("record-of-another-group.mf4"))
    f = start()
    v = Group("", None, 0, [], flags=1, id=2)
    data = b"\x02" + struct.pack("<I", 0xffffffff) + bytes(40)
    f.set([value_group(id=5), v], f.plain(data), 1)
    f.save(place("variable-record-of-4-gigabytes.mf4"))

    # Data.
    f = start()
    g = value_group()
    f.set([g], 0)
    at = f.plain(DATA)
    f.link(f.last_set, 2, at)
    f.bytes = f.bytes[:at + 24 + 25 * RECORD + 4]
    f.save(place("data-cut-by-the-end.mf4"))
    f = start()
    at = f.plain(DATA)
    f.set([value_group()], at)
    f.patch(at + 8, 2**64 - 8)
    f.save(place("data-length-overflows.mf4"))
    f = start()
    f.set([value_group(cycles=ROWS + 3)], f.plain(DATA))
    f.save(place("fewer-records-than-counted.mf4"))
    f = start()
    f.set([value_group(cycles=ROWS - 3)], f.plain(DATA))
    f.save(place("more-data-than-counted.mf4"))
    f = start()
    f.set([value_group(cycles=0)], f.plain(DATA[:-5]))
    f.save(place("last-record-cut.mf4"))

    def lists(name, change, equal=None):
        f = start()
        size = 8 * RECORD - 5
        parts = list(cut(DATA, [size] * 4))
        blocks = [f.packed(p) for p in parts]
        second = f.list(blocks[3:], [len(p) for p in parts[3:]])
        first = f.list(blocks[:3], [size] * 3, second, equal and size)
        f.set([value_group()], first)
        change(f, blocks, first, second)
        f.save(place(name + ".mf4"))

    def bend(f, at):
        for k in range(6):
            f.bytes[at + 24 + 24 + 30 + k] ^= 0xff

    lists("packed-block-damaged", lambda f, b, x, y: bend(f, b[1]))
    lists("packed-block-lost",
          lambda f, b, x, y: f.link(x, 2, len(f.bytes) + 8), equal=True)
    lists("packed-block-lost-length-unknown",
          lambda f, b, x, y: f.link(x, 3, len(f.bytes) + 8))
    # The first is gone: nothing is at hand before it.
    lists("first-packed-block-lost",
          lambda f, b, x, y: f.link(x, 1, len(f.bytes) + 8), equal=True)
    lists("lists-in-a-loop", lambda f, b, x, y: f.link(y, 0, x))
    lists("list-of-more-than-it-links",
          lambda f, b, x, y: f.patch(x + 24 + 32 + 4, 9, "<I"))
    lists("list-of-an-endless-gap",
          lambda f, b, x, y: (f.link(x, 2, 3),
                              f.patch(x + 24 + 32 + 8, 2**62)), equal=True)

    def packed(name, **more):
        f = start()
        f.set([value_group()], f.packed(DATA, **more))
        f.save(place(name + ".mf4"))

    import zlib
    packed("bomb-by-its-word", size=2**63)
    packed("bomb-over-the-ratio", size=60 << 20)
    packed("packed-holds-more", size=100)
    packed("packed-holds-less", size=len(DATA) + RECORD)
    packed("packed-length-overflows", stored=2**64 - 1)
    packed("packed-ends-too-soon", squeezed=zlib.compress(DATA)[:-9])
    packed("packed-of-another-kind", id=b"SD")
    f = start()
    at = f.packed(DATA, turned=RECORD)
    f.set([value_group()], at)
    f.patch(at + 24 + 4, 0xffffffff, "<I")
    f.save(place("turned-in-records-of-4-gigabytes.mf4"))

    f = start()
    broken = [bytearray(r) for r in RECORDS]
    broken[9][0:8] = struct.pack("<d", float("nan"))
    broken[19][0:8] = struct.pack("<d", 1e30)
    f.set([value_group()], f.plain(b"".join(bytes(r) for r in broken)))
    f.save(place("times-that-cannot-be.mf4"))

    # Frames.
    def frames(name, change, kind=FIXED, bits=64, data=0):
        f = start()
        rows = [front(x) + x.data.ljust(8, b"\0") for x in CLASSIC]
        rows = change(rows)
        f.set([frame_group(rows, kind, bits, data=data)],
              f.plain(b"".join(rows)))
        f.save(place(name + ".mf4"))

    def with_row(k, at, new):
        def change(rows):
            rows[k] = rows[k][:at] + new + rows[k][at + len(new):]
            return rows
        return change

    frames("frames-length-over-the-record", with_row(4, 14, b"\x40"))
    frames("frames-length-over-8", with_row(4, 14, b"\x09"))
    frames("frames-11-bits-too-large",
           with_row(4, 8, struct.pack("<I", 0x800)))
    f = start()
    bytes_, places = sd(CLASSIC)
    places[4] = len(bytes_) + 100
    places[9] = 2**64 - 2
    g = frame_group(CLASSIC, VARIABLE, 64, data=f.plain(bytes_, b"SD"))
    f.set([g], f.plain(b"".join(front(x) + struct.pack("<Q", p)
                                for x, p in zip(CLASSIC, places))))
    f.save(place("frames-bytes-out-of-place.mf4"))
    f = start()
    g = frame_group(CLASSIC, VARIABLE, 64, data=7)
    f.set([g], f.plain(b"".join(front(x) + bytes(8) for x in CLASSIC)))
    f.save(place("frames-bytes-nowhere.mf4"))
    f = start()
    g = frame_group(CLASSIC, FIXED, 64)
    g.channels[1].parts = g.channels[1].parts[:2]
    f.set([g], f.plain(b"".join(front(x) + bytes(8) for x in CLASSIC)))
    f.save(place("frames-without-identifier.mf4"))
    # Beside a group that is whole.
    f = start()
    f.set([frame_group(CLASSIC, FIXED, 64)],
          f.plain(b"".join(front(x) + x.data.ljust(8, b"\0") for x in CLASSIC)))
    g = frame_group(CLASSIC, FIXED, 64)
    g.channels = g.channels[1:]
    f.set([g], f.plain(b"".join(front(x) + bytes(8) for x in CLASSIC)))
    f.save(place("frames-without-time.mf4"))


good_values()
good_frames()
refused()
damaged()
