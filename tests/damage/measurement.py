# SPDX-License-Identifier: MIT
"""The rows and frames of a trial as measurement files (MDF 4), by the writer of
tests/data/mdf. What damage made of them stays; text that is damaged has no
counterpart here. Rows whose `raw` is LOST are in packed blocks whose bytes are
damaged."""
import itertools
import os
import struct
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)),
                                "..", "data", "mdf"))
from writer import BYTES, FIXED, FLOAT, UNSIGNED  # noqa: E402
from writer import Channel, File, Group, master  # noqa: E402

LOST = "lost"


def number(cell):
    """None: no number, as a recorder marks a value as invalid."""
    try:
        value = float(cell.replace(",", "."))
    except ValueError:
        return None
    return value if value == value else None


def blocks(f, rows, record):
    """A packed block for each stretch of rows, turned every other time."""
    links, lengths = [], []
    for lost, some in itertools.groupby(rows, key=lambda r: r.raw == LOST):
        data = b"".join(map(record, some))
        turned = len(links) % 2 * record.size
        at = f.packed(data, turned=turned)
        if lost:
            for k in range(24 + 24 + 2, min(24 + 24 + 12, len(f.bytes) - at)):
                f.bytes[at + k] ^= 0xff
        links.append(at)
        lengths.append(len(data))
    return f.head(f.list(links, lengths))


class Record:
    def __init__(self, start_ns, size, rest):
        self.start_ns, self.size, self.rest = start_ns, size, rest

    def __call__(self, row):
        return struct.pack("<Q", row.stamp - self.start_ns) + self.rest(row)


def save(start_ns, group, rows, rest, size):
    f = File(start_ns)
    record = Record(start_ns, size, rest)
    f.set([group], blocks(f, rows, record))
    f.bytes += bytes(-len(f.bytes) % 8)
    return bytes(f.bytes)


def clock():
    return master(type=UNSIGNED, conversion=(1, [0, 1e-9]))


def log_bytes(trial, rows):
    names, invalid = trial.columns, (len(trial.columns) + 7) // 8
    channels = [clock()] + [
        Channel(name, FIXED, FLOAT, 8 + 8 * k, 64, invalid=k,
                unit="" if name == "pedal_switch" else "kPa")
        for k, name in enumerate(names)]
    size = 8 + 8 * len(names)

    def rest(row):
        values = [number(c) for c in row.cells]
        bits = sum(1 << k for k, v in enumerate(values) if v is None)
        return struct.pack("<%dd" % len(values), *[
            0.0 if v is None else v for v in values]) + \
            bits.to_bytes(invalid, "little")
    return save(trial.form.start * 10**9,
                Group("Chassis", channels, size, rows, invalid), rows, rest,
                size + invalid)


def capture_bytes(trial, rows, buses):
    at = [("BusChannel", 8, 8), ("ID", 9, 29), ("IDE", 12, 1),
          ("DataLength", 13, 8)]
    channels = [clock()] + [
        Channel("CAN_DataFrame." + name, byte=byte, bits=bits,
                shift=7 if name == "IDE" else 0) for name, byte, bits in at]
    channels.append(Channel("CAN_DataFrame.DataBytes", type=BYTES, byte=14,
                            bits=64))

    def rest(row):
        bus, identifier, data = row.cells
        return struct.pack("<BIB", buses.index(bus), identifier,
                           len(data)) + data.ljust(8, b"\0")
    # Stamps of a capture may lie before the start of the log.
    start_ns = max(trial.form.start - 10, 0) * 10**9
    return save(start_ns, Group("CAN", channels, 22, rows, flags=6), rows, rest,
                22)
