#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""Writes the fixtures of this folder: recordings that are damaged in one way
each and named after it, and small good ones whose times are known. Formats:
the pcap and pcapng drafts (draft-ietf-opsawg-pcap, -pcapng) and the link types
at tcpdump.org/linktypes.html."""
import os
import struct

HERE = os.path.dirname(os.path.abspath(__file__))
SECOND = 1577836800  # 2020-01-01 00:00:00 UTC
EXTENDED, REMOTE, ERROR = 0x80000000, 0x40000000, 0x20000000


def write(name, *parts):
    with open(os.path.join(HERE, name), "wb") as file:
        file.write(b"".join(parts))


def can(ident=0x18FEC4C8 | EXTENDED, data=b"\x01\x02\x03\x04\x05\x06\x07\x08",
        length=None, flags=0, order=">"):
    length = len(data) if length is None else length
    return struct.pack(order + "I", ident) + bytes([length, flags, 0, 0]) + data


def cooked(packet, protocol=0x000C, kind=0):
    return struct.pack(">HHH8sH", kind, 280, 0, b"", protocol) + packet


# --- classic pcap, little-endian, microseconds ------------------------------
def head(link=227, version=2):
    return struct.pack("<IHHiIII", 0xA1B2C3D4, version, 4, 0, 0, 65535, link)


def record(packet=None, at=0, fraction=0, caplen=None, second=SECOND):
    packet = can() if packet is None else packet
    caplen = len(packet) if caplen is None else caplen
    return struct.pack("<IIII", second + at, fraction, caplen, caplen) + packet


FIRST, LAST = record(at=0), record(at=2)
write("pcap-header-cut.pcap", head()[:23])
write("pcap-version-9.pcap", head(version=9), FIRST)
write("pcap-link-type-ethernet.pcap", head(link=1), FIRST)
write("pcap-record-longer-than-snaplen.pcap", head(), FIRST,
      record(caplen=0x7FFFFFFF), LAST)
write("pcap-record-header-cut.pcap", head(), FIRST, LAST[:9])
write("pcap-record-data-cut.pcap", head(), FIRST, LAST[:-3])
write("pcap-length-over-the-original.pcap", head(), FIRST,
      struct.pack("<IIII", SECOND + 1, 0, 48, 16) + can() +
      record(at=1, fraction=500000), LAST)
write("pcap-record-longer-than-can.pcap", head(), FIRST,
      record(caplen=4096, at=1), LAST)
write("pcap-fraction-over-a-second.pcap", head(), FIRST,
      record(at=1, fraction=1000000), LAST)
write("pcap-packet-shorter-than-can-header.pcap", head(), FIRST,
      record(can()[:6], at=1), LAST)
write("pcap-length-over-64.pcap", head(), FIRST,
      record(can(length=65), at=1), LAST)
write("pcap-frame-cut-by-snaplen.pcap", head(), FIRST,
      record(can()[:12], at=1), LAST)
write("pcap-standard-id-over-11-bits.pcap", head(), FIRST,
      record(can(0x800), at=1), LAST)
write("pcap-can-xl.pcap", head(), FIRST,
      record(can(0x123, b"\0" * 16, length=0x80), at=1), LAST)
write("pcap-cooked-shorter-than-header.pcap", head(113),
      record(cooked(can(order="<"))), record(b"\0" * 15, at=1),
      record(cooked(can(order="<")), at=2))
write("pcap-cooked-not-can.pcap", head(113), record(cooked(can(order="<"))),
      record(cooked(b"E" * 40, 0x0800), at=1),
      record(cooked(can(order="<")), at=2))
write("pcap-little-endian-ids.pcap", head(),
      *[record(can(ident | EXTENDED, order="<"), at=i) for i, ident in
        enumerate((0x0C02C820, 0x18FEF100, 0x18F0010B, 0x18FEC4C8,
                   0x0CF00400))])
write("good-pcap-after-2038.pcap", head(), record(second=0xFFFFFFF0))
write("good-pcap-fd-without-flag.pcap", head(),
      record(can(data=bytes(range(12)))),
      record(can(data=bytes(64), length=8), at=1))


# What stands behind the length of a classic frame, as senders leave it: from
# the stack; with the mark of FD, but padded to 16 bytes; a raw length code of 12
# (len8_dlc of linux/can.h); a bit that FD does not know; and a true FD frame.
def unset(order=">"):
    ident = 0x18FEC4C8 | EXTENDED
    full = bytes(range(1, 9))
    return [struct.pack(order + "I", ident) + tail for tail in (
        b"\x08\x7f\x56\x04" + full, b"\x03\x04\0\0" + full,
        b"\x08\x00\0\x0c" + full, b"\x08\x0c\0\0" + full,
        b"\x08\x05\0\0" + full)]


write("good-pcap-classic-with-unset-bytes.pcap", head(),
      *[record(frame, at=i) for i, frame in enumerate(unset())])
write("good-pcap-cooked-classic-with-unset-bytes.pcap", head(113),
      *[record(cooked(frame), at=i) for i, frame in enumerate(unset("<"))],
      record(cooked(unset("<")[0], 0x000D), at=5))


# --- pcapng -----------------------------------------------------------------
def block(kind, body, order="<", total=None, trailer=None):
    body += b"\0" * (-len(body) % 4)
    size = len(body) + 12 if total is None else total
    again = size if trailer is None else trailer
    return (struct.pack(order + "II", kind, size) + body +
            struct.pack(order + "I", again))


def section(order="<", version=1, options=b""):
    return block(0x0A0D0D0A, struct.pack(order + "IHHq", 0x1A2B3C4D, version, 0,
                                         -1) + options, order)


def option(code, value, order="<", length=None):
    length = len(value) if length is None else length
    return (struct.pack(order + "HH", code, length) + value +
            b"\0" * (-len(value) % 4))


def interface(*options, link=227, order="<"):
    body = struct.pack(order + "HHI", link, 0, 0) + b"".join(options)
    return block(1, body + (option(0, b"", order) if options else b""), order)


def packet(stamp, data=None, number=0, order="<", caplen=None, **rest):
    data = can() if data is None else data
    caplen = len(data) if caplen is None else caplen
    body = struct.pack(order + "IIIII", number, stamp >> 32,
                       stamp & 0xFFFFFFFF, caplen, caplen) + data
    return block(6, body, order, **rest)


MICRO = SECOND * 10**6
START = section() + interface(option(2, b"can0"))
ONE, TWO = packet(MICRO), packet(MICRO + 2000000)
write("pcapng-section-cut.pcapng", section()[:20])
write("pcapng-no-byte-order-magic.pcapng", section()[:8], b"\0\0\0\0",
      section()[12:])
write("pcapng-version-2.pcapng", section(version=2), ONE)
write("pcapng-block-length-not-multiple-of-4.pcapng", START, ONE,
      packet(MICRO, total=49), TWO)
write("pcapng-block-length-too-small.pcapng", START, ONE,
      packet(MICRO, total=8), TWO)
write("pcapng-trailing-length-differs.pcapng", START, ONE,
      packet(MICRO, trailer=52), TWO)
write("pcapng-packet-longer-than-block.pcapng", START, ONE,
      packet(MICRO, caplen=20), TWO)
write("pcapng-packet-block-too-small.pcapng", START, ONE,
      block(6, b"\0" * 12), TWO)
write("pcapng-interface-block-too-small.pcapng", section(),
      block(1, b"\xe3\0\0\0"), ONE)
write("pcapng-unknown-interface.pcapng", START, ONE,
      packet(MICRO + 1000000, number=7), TWO)
write("pcapng-packet-before-interface.pcapng", section(), ONE,
      interface(), TWO, packet(MICRO + 3000000))
write("pcapng-simple-packet.pcapng", START, ONE,
      block(3, struct.pack("<I", 16) + can()), TWO)
write("pcapng-block-cut.pcapng", START, ONE, TWO, packet(MICRO + 3000000)[:30])
write("pcapng-unknown-block-cut.pcapng", START, ONE, TWO,
      block(0xBAD, b"\0" * 40)[:20])
# One type damaged, so that a block looks like one that nobody reads; and a wrong
# length at whose end a length stands again, as blocks are of one size.
write("pcapng-type-of-a-packet-damaged.pcapng", START, ONE,
      b"\x06\0\0\x80" + packet(MICRO + 1000000)[4:], TWO)
write("pcapng-type-of-an-interface-damaged.pcapng", section(),
      b"\x05\0\0\0" + interface()[4:], interface(), ONE, TWO)
write("pcapng-interface-as-simple-packet.pcapng", section(),
      b"\x03\0\0\0" + interface()[4:], interface(), ONE, TWO)
write("pcapng-type-of-a-section-damaged.pcapng", START, ONE,
      b"\x0b\x0d\x0d\x0a" + section()[4:], interface(), TWO)
INSIDE = b"".join(packet(MICRO + k * 10000) for k in range(1, 61))


def around(kind, inside):
    """The first block of `inside` with the length of all of them."""
    size = struct.pack("<I", len(inside))
    return kind + size + inside[8:-4] + size


write("pcapng-unknown-block-over-packets.pcapng", START, ONE,
      around(b"\x06\0\0\x80", INSIDE), TWO)
write("pcapng-packet-block-over-packets.pcapng", START, ONE,
      around(b"\x06\0\0\0", INSIDE), TWO)
# What is left looks like an interface block: 1, length, ..., length.
SECOND_BUS = [packet(MICRO + k * 10000, number=1) for k in range(4)]
write("pcapng-lost-bytes-leave-a-1-before-a-length.pcapng", START,
      interface(option(2, b"can1")), SECOND_BUS[0], SECOND_BUS[1][:9],
      SECOND_BUS[2][1:], SECOND_BUS[3], ONE, TWO)
write("pcapng-resolution-twice.pcapng", section(),
      interface(option(9, b"\x06"), option(9, b"\x06")), ONE)
write("pcapng-resolution-of-two-bytes.pcapng", section(),
      interface(option(9, b"\x06\x06")), ONE)
write("pcapng-resolution-too-fine.pcapng", section(),
      interface(option(9, b"\x14")), ONE)
write("pcapng-offset-of-four-bytes.pcapng", section(),
      interface(option(14, b"\0\0\0\0")), ONE)
write("pcapng-offset-twice.pcapng", section(),
      interface(option(14, b"\0" * 8), option(14, b"\0" * 8)), ONE)
write("pcapng-option-longer-than-block.pcapng", section(),
      interface(option(2, b"can0", length=400)), ONE, TWO)
write("pcapng-section-option-longer-than-block.pcapng",
      section(options=option(4, b"name", length=400)), interface(), ONE, TWO)
write("pcapng-stamp-out-of-range.pcapng", START, ONE,
      packet(0xFFFFFFFFFFFFFFFF), TWO)
write("pcapng-packet-block-over-the-limit.pcapng", START, ONE,
      struct.pack("<II", 6, 0x10000000), bytes(64))

write("good-pcapng-classic-with-unset-bytes.pcapng", START,
      *[packet(MICRO + 1000000 * i, frame) for i, frame in
        enumerate(unset())])

# One frame per interface, all at SECOND + 0.5 s by different clocks.
write("good-pcapng-resolutions.pcapng", section(),
      interface(option(2, b"default")),
      interface(option(2, b"milli"), option(9, b"\x03")),
      interface(option(2, b"nano"), option(9, b"\x09")),
      interface(option(2, b"pico"), option(9, b"\x0c"),
                option(14, struct.pack("<q", SECOND - 100))),
      interface(option(2, b"binary-10"), option(9, b"\x8a")),
      interface(option(2, b"binary-40"), option(9, b"\xa8"),
                option(14, struct.pack("<q", SECOND))),
      interface(option(2, b"offset"), option(14, struct.pack("<q", -3600))),
      packet(MICRO + 500000, number=0),
      packet(SECOND * 10**3 + 500, number=1),
      packet(SECOND * 10**9 + 500000000, number=2),
      packet(100 * 10**12 + 5 * 10**11, number=3),
      packet((SECOND << 10) + 512, number=4),
      packet(1 << 39, number=5),
      packet(MICRO + 500000 + 3600 * 10**6, number=6))

# Two sections in both byte orders, cooked ids in section order, an old packet
# block, unknown blocks between.
OLD = struct.pack(">HHIIII", 1, 0, (MICRO + 3) >> 32, (MICRO + 3) & 0xFFFFFFFF,
                  32, 32) + cooked(can(order=">"))
write("good-pcapng-two-sections.pcapng",
      section(), interface(option(2, b"front")), block(0x0BAD, b"custom"),
      packet(MICRO), interface(option(2, b"rear"), link=113),
      packet(MICRO + 1, cooked(can(order="<")), number=1),
      section(">"), interface(option(2, b"rear", ">"), link=113, order=">"),
      interface(option(2, b"front", ">"), link=113, order=">"),
      packet(MICRO + 2, cooked(can(order=">"), kind=4), order=">"),
      block(2, OLD, ">"), block(5, b"\0" * 12, ">"),
      packet(MICRO + 4, cooked(can(data=bytes(20)), 0x000D), order=">"))


# --- text -------------------------------------------------------------------
def text(name, line, last=b"(1577836802.000000) can0 18FEC4C8#0102030405060708\n"):
    write(name, b"(1577836800.000000) can0 18FEC4C8#0102030405060708\n", line,
          last)


text("text-odd-number-of-digits.log", b"(1577836801.000000) can0 123#123\n")
text("text-nine-bytes.log", b"(1577836801.000000) can0 123#010203040506070809\n")
text("text-fd-65-bytes.log", b"(1577836801.000000) can0 123##1" + b"00" * 65 +
     b"\n")
text("text-id-of-four-digits.log", b"(1577836801.000000) can0 1234#00\n")
text("text-id-over-11-bits.log", b"(1577836801.000000) can0 800#00\n")
text("text-id-over-29-bits.log", b"(1577836801.000000) can0 9FFFFFFF#00\n")
text("text-time-is-a-word.log", b"(yesterday) can0 123#00\n")
text("text-time-out-of-range.log", b"(99999999999.0) can0 123#00\n")
text("text-without-interface.log", b"(1577836801.000000) 123#00\n")
text("text-without-data-sign.log", b"(1577836801.000000) can0 123\n")
text("text-unknown-direction.log", b"(1577836801.000000) can0 123#00 X\n")
text("text-raw-length-behind-seven-bytes.log",
     b"(1577836801.000000) can0 123#01020304050607_9\n")
text("text-remote-length-nine.log", b"(1577836801.000000) can0 123#R9\n")
text("text-zero-bytes.log", b"(1577836801.000000) can0 123#\0\0\n")
text("text-binary-in-between.log", bytes(range(128, 256)) + b"\n")
text("text-can-xl.log", b"(1577836801.000000) can0 123###0010000102\n")
text("text-cut-last-line.log", b"(1577836801.000000) can0 123#00\n",
     b"(1577836802.000000) can0 18FEC4C8#010")
text("text-last-line-without-end.log", b"", b"(1577836802.000000) can0 123#00")
write("text-no-whole-line.log", b"(1577836801.000000) can0\n" * 3)


# --- text as a terminal shows it --------------------------------------------
SHOWN = b" can0  18FEC4C8   [8]  01 02 03 04 05 06 07 08\n"


def shown(name, line, last=b" (1577836802.000000) " + SHOWN):
    write(name, b" (1577836800.000000) " + SHOWN, line, last)


def stamped(rest):
    return b" (1577836801.000000)  can0  " + rest + b"\n"


shown("term-fewer-bytes-than-the-length.txt", stamped(b"123   [8]  01 02 03"))
shown("term-more-bytes-than-the-length.txt", stamped(b"123   [2]  01 02 03"))
shown("term-length-nine.txt", stamped(b"123   [9]  01 02 03 04 05 06 07 08 09"))
shown("term-length-65.txt", stamped(b"123  [65]  " + b"00 " * 65))
shown("term-without-length.txt", stamped(b"123   01 02 03"))
shown("term-byte-of-one-digit.txt", stamped(b"123   [2]  01 2"))
shown("term-id-of-four-digits.txt", stamped(b"1234   [1]  01"))
shown("term-id-over-11-bits.txt", stamped(b"800   [1]  01"))
shown("term-id-over-29-bits.txt", stamped(b"9FFFFFFF   [1]  01"))
shown("term-flags-unknown.txt", stamped(b"RX ? ?  123   [1]  01"))
shown("term-stamp-is-a-word.txt", b" (yesterday)  can0  123   [1]  01\n")
shown("term-stamp-out-of-range.txt", b" (99999999999.0)  can0  123   [1]  01\n")
shown("term-stamp-missing-in-one-line.txt", b"  can0  123   [1]  01\n")
shown("term-zero-bytes.txt", stamped(b"123   [2]  \0\0 \0\0"))
shown("term-cut-last-line.txt", b"", b" (1577836802.0)  can0  123   [8]  01 0")
shown("term-last-line-without-end.txt", b"",
      b" (1577836802.000000) " + SHOWN[:-1])
write("term-no-whole-line.txt", b"  can0  18FEC4C8   [8]  01 02\n" * 3)
write("term-delta-stamp-lost.txt",
      *[b" (000.0%d0000) " % (1 + i % 3) + SHOWN for i in range(20)],
      b" (00?.010000) " + SHOWN, b" (000.010000) " + SHOWN)

# --- tables of frames -------------------------------------------------------
HEADER = b"Time (s),Bus,ID,DLC,Data\n"


def table(name, row, last=b"2.0,can0,18FEC4C8x,8,01 02 03 04 05 06 07 FF\n",
          header=HEADER):
    write(name, header, b"0.0,can0,18FEC4C8x,8,01 02 03 04 05 06 07 FF\n", row,
          last)


table("table-id-is-a-word.csv", b"1.0,can0,none,8,01 02 03 04 05 06 07 08\n")
table("table-id-over-29-bits.csv", b"1.0,can0,3FFFFFFFx,1,01\n")
table("table-fewer-bytes-than-the-length.csv", b"1.0,can0,123,8,01 02\n")
table("table-length-over-64.csv", b"1.0,can0,123,65," + b"00" * 65 + b"\n")
table("table-bytes-of-three-digits.csv", b"1.0,can0,123,2,012 34\n")
table("table-odd-number-of-digits.csv", b"1.0,can0,123,2,01234\n")
table("table-time-is-a-word.csv", b"later,can0,123,1,01\n")
table("table-cells-missing.csv", b"1.0,can0\n")
table("table-zero-bytes.csv", b"1.0,can0,\0,1,01\n")
table("table-cut-last-row.csv", b"", b"2.0,can0,18FEC4C8x,8,01 0")
table("table-last-row-without-end.csv", b"",
      b"2.0,can0,18FEC4C8x,8,01 02 03 04 05 06 07 FF")
write("table-byte-over-255.csv", b"t;id (dec);dlc;b0;b1\n0.1;217056256;2;200;5\n",
      b"0.2;217056256;2;256;5\n0.3;217056256;2;100;5\n")
write("table-base-of-ids-unknown.csv", b"t;id;dlc;data\n0.1;1234;1;FF\n",
      b"0.2;1235;1;FF\n")
write("table-base-of-bytes-unknown.csv", b"t;id;dlc;b0;b1\n0.1;123;2;10;5\n",
      b"0.2;123;2;11;5\n")
write("table-rows-are-none.csv", b"time,id,dlc,data\nA,123,x,FF\nB,123,x,FF\n")
write("table-header-alone.csv", b"time,id,dlc,data\n")
write("table-delta-time-lost.csv", b"delta (s),id,data\n",
      b"0.010,123,FF\n" * 5, b"?,123,FF\n", b"0.010,123,FF\n")
