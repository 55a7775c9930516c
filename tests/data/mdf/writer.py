# SPDX-License-Identifier: MIT
"""A writer of ASAM MDF 4 for tests, after the layout of the standard (from
memory) and independent of the reader: it knows no line of it."""
import struct
import zlib

UNSIGNED, SIGNED, FLOAT, BYTES = 0, 2, 4, 10
FIXED, VARIABLE, MASTER, VIRTUAL_MASTER, UP_TO = 0, 1, 2, 3, 5
BIG = 1  # added to a type of number


class Channel:
    def __init__(self, name, kind=FIXED, type=UNSIGNED, byte=0, bits=8, shift=0,
                 unit="", conversion=None, invalid=None, sync=0, data=0,
                 parts=None, array=False):
        self.__dict__.update(locals())


def master(byte=0, type=FLOAT, bits=64, conversion=None, sync=1):
    return Channel("time", MASTER, type, byte, bits, unit="s", sync=sync,
                   conversion=conversion)


class Group:
    def __init__(self, name, channels, data_bytes, records, invalid_bytes=0,
                 flags=0, id=0, cycles=None):
        self.__dict__.update(locals())
        self.at = 0


class File:
    """Blocks behind each other; what is linked is written before its link."""

    def __init__(self, start_ns=0, unfinished=0, version=410, time_flags=0):
        self.bytes = bytearray()
        magic = b"UnFinMF " if unfinished else b"MDF     "
        self.bytes += magic + b"%d.%02d    " % divmod(version, 100)
        self.bytes += b"tests   " + bytes(4) + struct.pack("<H", version)
        self.bytes += bytes(30) + struct.pack("<HH", unfinished, 0)
        self.block(b"HD", [0] * 6,
                   struct.pack("<QhhBBBBdd", start_ns, 0, 0, time_flags, 0, 0,
                               0, 0, 0))
        self.last_set = None

    def block(self, id, links, data, length=None):
        self.bytes += bytes(-len(self.bytes) % 8)
        at = len(self.bytes)
        if length is None:
            length = 24 + 8 * len(links) + len(data)
        self.bytes += b"##" + id + bytes(4)
        self.bytes += struct.pack("<QQ", length, len(links))
        self.bytes += struct.pack("<%dQ" % len(links), *links) + data
        return at

    def patch(self, at, number, form="<Q"):
        struct.pack_into(form, self.bytes, at, number)

    def link(self, block, index, to):
        self.patch(block + 24 + 8 * index, to)

    def text(self, text, xml=False):
        if not text:
            return 0
        data = text.encode()
        if xml:
            data = b"<CNunit><TX>" + data + b"</TX></CNunit>"
        return self.block(b"MD" if xml else b"TX", [], data + b"\0")

    def conversion(self, conversion):
        """(type, values[, references: texts or conversions])"""
        if conversion is None:
            return 0
        type, values = conversion[:2]
        links = [self.conversion(r) if isinstance(r, tuple) else self.text(r)
                 for r in (conversion[2] if len(conversion) > 2 else [])]
        return self.block(
            b"CC", [0, 0, 0, 0] + links,
            struct.pack("<BBHHHdd", type, 0, 0, len(links), len(values), 0, 0) +
            struct.pack("<%dd" % len(values), *values))

    def channels(self, channels):
        """The chain, last first; where each stands is kept in it."""
        next = 0
        for c in reversed(channels):
            parts = self.channels(c.parts) if c.parts else 0
            if c.array:
                parts = self.block(b"CA", [], bytes(16))
            flags = 0 if c.invalid is None else 2
            c.at = next = self.block(
                b"CN", [next, parts, self.text(c.name), 0,
                        self.conversion(c.conversion), c.data,
                        self.text(c.unit, xml=True), 0],
                struct.pack("<BBBBIIIIBBH6d", c.kind, c.sync, c.type, c.shift,
                            c.byte, c.bits, flags, c.invalid or 0, 0, 0, 0,
                            *[0.0] * 6))
        return next

    def set(self, groups, data=0, id_bytes=0):
        """A DG with its groups; `data`: link. Returns its place."""
        next = 0
        for g in reversed(groups):
            first = self.channels(g.channels) if g.channels else 0
            cycles = len(g.records) if g.cycles is None else g.cycles
            g.at = next = self.block(
                b"CG", [next, first, self.text(g.name), 0, 0, 0],
                struct.pack("<QQHHIII", g.id, cycles, g.flags, ord("."), 0,
                            g.data_bytes, g.invalid_bytes))
        at = self.block(b"DG", [0, next, data, 0],
                        bytes([id_bytes]) + bytes(7))
        if self.last_set is None:
            self.patch(64 + 24, at)
        else:
            self.link(self.last_set, 0, at)
        self.last_set = at
        return at

    # --- data ---------------------------------------------------------------
    def plain(self, data, id=b"DT", length=None):
        return self.block(id, [], data, length)

    def packed(self, data, id=b"DT", turned=0, size=None, stored=None,
               kind=None, squeezed=None):
        if turned:
            rows = len(data) // turned
            whole = rows * turned
            plain = b"".join(data[c:whole:turned] for c in range(turned))
            plain += data[whole:]
        else:
            plain = data
        packed = zlib.compress(plain) if squeezed is None else squeezed
        kind = (1 if turned else 0) if kind is None else kind
        return self.block(
            b"DZ", [], id + bytes([kind, 0]) +
            struct.pack("<IQQ", turned, len(data) if size is None else size,
                        len(packed) if stored is None else stored) + packed)

    def list(self, blocks, lengths, next=0, equal=None, count=None):
        count = len(blocks) if count is None else count
        if equal is not None:
            tail = struct.pack("<BBHIQ", 1, 0, 0, count, equal)
        else:
            places = [sum(lengths[:i]) for i in range(len(lengths))]
            tail = struct.pack("<BBHI", 0, 0, 0, count)
            tail += struct.pack("<%dQ" % len(places), *places)
        return self.block(b"DL", [next] + blocks, tail)

    def head(self, first, kind=0):
        return self.block(b"HL", [first], struct.pack("<HB5x", 0, kind))

    def save(self, path):
        with open(path, "wb") as file:
            file.write(self.bytes)
