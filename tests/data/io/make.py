#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""Writes the gzip fixtures of this folder, each named after its defect. Python's
gzip and zlib are the independent writer (RFC 1952)."""
import gzip
import os
import zlib

HERE = os.path.dirname(os.path.abspath(__file__))
TEXT = b"".join(b"line %04d of the plain text\n" % i for i in range(1000))
HALF = len(TEXT) // 2


def write(name, data):
    with open(os.path.join(HERE, name), "wb") as file:
        file.write(data)


def member(data, name=b""):
    """One member by hand, with a file name field when asked for."""
    body = zlib.compressobj(9, zlib.DEFLATED, -15)
    packed = body.compress(data) + body.flush()
    head = b"\x1f\x8b\x08" + (b"\x08" if name else b"\x00") + b"\0\0\0\0\2\3"
    head += name + b"\0" if name else b""
    tail = zlib.crc32(data).to_bytes(4, "little")
    tail += (len(data) & 0xFFFFFFFF).to_bytes(4, "little")
    return head + packed + tail


WHOLE = gzip.compress(TEXT, mtime=0)
write("good.txt.gz", WHOLE)
write("good-two-members-one-empty.gz",
      member(TEXT[:HALF], b"first.txt") + member(b"") + member(TEXT[HALF:]))
write("good-zero-padding.gz", WHOLE + b"\0" * 512)
write("gzip-cut-in-header.gz", WHOLE[:6])
write("gzip-cut-in-data.gz", WHOLE[:len(WHOLE) // 2])
write("gzip-cut-in-trailer.gz", WHOLE[:-3])
write("gzip-cut-in-second-member.gz", WHOLE + WHOLE[:len(WHOLE) // 2])
write("gzip-unknown-method.gz", WHOLE[:2] + b"\x09" + WHOLE[3:])
write("gzip-reserved-flags.gz", WHOLE[:3] + b"\xe0" + WHOLE[4:])
write("gzip-wrong-crc.gz",
      WHOLE[:-8] + bytes([WHOLE[-8] ^ 1]) + WHOLE[-7:])
write("gzip-wrong-length.gz", WHOLE[:-1] + b"\x01")
write("gzip-trailing-garbage.gz", WHOLE + b"garbage")
DAMAGED = bytearray(WHOLE)
DAMAGED[len(WHOLE) // 2] ^= 0xFF
DAMAGED[len(WHOLE) // 2 + 1] ^= 0xFF
write("gzip-damaged-in-data.gz", bytes(DAMAGED))
