#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""Writes the fixtures of this folder that are refused by name, and those that are
damaged in one way each and named after it: the values and frames of make.py."""
import struct
import zlib

from make import (CLASSIC, DATA, RECORD, RECORDS, ROWS, START, VALUES, cut,
                  frame_group, front, pack, place, sd, value_channels,
                  value_group)
from writer import FIXED, VARIABLE, Channel, File, Group, master


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
    f.set([Group("uncounted", [master(sync=0), Channel("odd", byte=8, bits=8)],
                 9, [0] * 3)], f.plain(bytes(27)))
    f.save(place("refused-master-of-nothing-stated.mf4"))
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

    # No record has a time that may be: nothing can be used.
    f = start()
    f.set([value_group(records=VALUES[:10])],
          f.plain(b"".join(pack(r, "<", struct.pack("<d", 1e300))
                           for r in VALUES[:10])))
    f.save(place("times-all-outside.mf4"))

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


refused()
damaged()
