#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""Other programs' readers and writers beside ours: python3-can on the text
recordings, scapy on pcap in both directions.
usage: independent.py BUS_DUMP. Exit code 77: skipped."""
import gzip
import os
import shutil
import subprocess
import sys
import tempfile

try:
    import can
    from scapy.layers.can import CAN
    from scapy.utils import PcapNgReader, PcapReader, wrpcap
except ImportError as missing:
    print("skipped: %s" % missing)
    sys.exit(77)

DUMP = sys.argv[1]
SHARED = os.environ.get("BL_SHARED_DATA", "")
TEXTS = ("truck-brake-release/release.log",
         "truck-bench-drive/drive_211s.log.gz",
         "truck-short/short_4s_out_of_order.log",
         "cooked-canfd/multiple_CAN.log",
         "cooked-canfd/single_can_bus_1_CAN.log")
CLASSIC, FD, REMOTE, ERROR = range(4)
EXTENDED, BRS, ESI, OUTGOING = 1, 2, 4, 8


def ours(path):
    """(time in ns, bus, id, kind, flags, length, data) of each frame."""
    done = subprocess.run([DUMP, path], check=True, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, universal_newlines=True)
    frames = []
    for line in done.stdout.splitlines():
        word = line.split(" ")
        frames.append((int(word[0]), word[2], int(word[3], 16), int(word[4]),
                       int(word[5]), int(word[6]), word[7]))
    return frames


def theirs(path):
    """The same by python3-can; its stamps are floating point."""
    frames = []
    with can.LogReader(path) as reader:
        for m in reader:
            kind = (ERROR if m.is_error_frame else REMOTE if m.is_remote_frame
                    else FD if m.is_fd else CLASSIC)
            flags = EXTENDED if m.is_extended_id else 0
            flags |= BRS if m.bitrate_switch else 0
            flags |= ESI if m.error_state_indicator else 0
            frames.append((round(m.timestamp * 1e6) * 1000, str(m.channel),
                           m.arbitration_id, kind, flags, m.dlc,
                           bytes(m.data).hex()))
    frames.sort(key=lambda frame: frame[0])  # stable: equal stamps stay
    return frames


def same(what, a, b):
    if a == b:
        print("%s: %d frames alike" % (what, len(a)))
        return True
    print("%s: %d and %d frames" % (what, len(a), len(b)))
    for i, (x, y) in enumerate(zip(a, b)):
        if x != y:
            print("  frame %d: %s and %s" % (i, x, y))
            break
    return False


def compare_texts(folder):
    good = True
    for name in TEXTS:
        path = os.path.join(SHARED, name)
        if not SHARED or not os.path.exists(path):
            print("no real recording: %s" % name)
            continue
        plain = path
        if path.endswith(".gz"):
            plain = os.path.join(folder, "plain.log")
            with gzip.open(path) as packed, open(plain, "wb") as out:
                shutil.copyfileobj(packed, out)
        good = same(name, theirs(plain), ours(path)) and good
    return good


def sample_packets():
    packets = []
    for i in range(500):
        extended, remote = i % 2 == 1, i % 50 == 0
        ident = (0x0C02C820 + i * 977) & 0x1FFFFFFF if extended else i % 0x800
        data = b"" if remote else bytes((i + k) % 256 for k in range(i % 9))
        flags = (["extended"] if extended else []) + (
            ["remote_transmission_request"] if remote else [])
        packet = CAN(flags="+".join(flags), identifier=ident,
                     length=len(data), data=data)
        packet.time = 1701364099 + i // 10 + (i % 10) / 16
        packets.append(packet)
    return packets


def as_frame(packet, bus="-"):
    flags = str(packet.flags)
    remote = "remote" in flags
    data = b"" if remote else bytes(packet.data)[:packet.length]
    whole = int(packet.time)
    stamp = whole * 10**9 + round((packet.time - whole) * 10**9)
    return (stamp, bus, packet.identifier,
            REMOTE if remote else CLASSIC,
            EXTENDED if "extended" in flags else 0, packet.length, data.hex())


def read_by_scapy(path, reader):
    with reader(path) as packets:
        return [as_frame(packet) for packet in packets]


def compare_pcap(folder):
    path = os.path.join(folder, "scapy.pcap")
    packets = sample_packets()
    good = True
    for nano in (False, True):
        for order in ("<", ">"):
            wrpcap(path, packets, linktype=227, nano=nano, endianness=order)
            good = same("written by scapy, nano %s, %s" % (nano, order),
                        [as_frame(p) for p in packets], ours(path)) and good
    for form, reader in (("pcap", PcapReader), ("pcapng", PcapNgReader)):
        for order in ("little", "big"):
            back = os.path.join(folder, "ours." + form)
            subprocess.run([DUMP, "--write", form, order, back, path],
                           check=True, stdout=subprocess.PIPE,
                           stderr=subprocess.PIPE)
            good = same("read by scapy, %s, %s" % (form, order), ours(path),
                        read_by_scapy(back, reader)) and good
    return good


def main():
    with tempfile.TemporaryDirectory() as folder:
        good = compare_texts(folder)
        good = compare_pcap(folder) and good
    return 0 if good else 1


sys.exit(main())
