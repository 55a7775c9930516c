# SPDX-License-Identifier: MIT
"""A small simulated trial for the tests that drive the tool from outside, its
recordings as Python lists, and writers of the same in other forms. The formats
are written from their specifications: the pcap and pcapng drafts of the IETF
(draft-ietf-opsawg-pcap, -pcapng), the link types of tcpdump.org/linktypes."""
import json
import os
import struct
import subprocess

SCENARIO = """[scenario]
name = small train
seed = 7
tables = iso11992-2, j1939-brakes
levels = 65 kPa
quiet_first = 2 s
compress = no
[sensors]
rate = %d Hz
pedal_switch = yes
[clocks]
log_offset = 1.25 s
log_drift = 20 ppm
capture_drift = -17 ppm
[unit 0]
address = 32
bus = vehicle
[unit 1]
address = 200
bus = link1
line = 8 m
[unit 2]
address = 192
bus = link2
line = 10 m
control_line = relayed
[application full]
pressure = 650 kPa
hold = 1.5 s
pause = 2.5 s
[application light]
pressure = 100 kPa
hold = 1.5 s
pause = 2.5 s
[demand]
message = EBS11
set.brake_light_switch = pedal_switch
[message status]
message = EBS22
set.service_brake_active = braking
[run P]
condition = powered
applications = full, light, full
"""
LINK_CAN, LINK_SLL2 = 227, 276
SOURCE = os.path.dirname(os.path.dirname(os.path.dirname(
    os.path.abspath(__file__))))


def run(tool, *words, **how):
    return subprocess.run([tool, *words], capture_output=True, check=False,
                          timeout=how.pop("timeout", 120), **how)


def sanitized(tool):
    """Is AddressSanitizer in it?"""
    return b"__asan_init" in read(tool)


def make(tool, folder, rate=500):
    """Simulate; returns the folder of the trial."""
    os.makedirs(folder, exist_ok=True)
    with open(os.path.join(folder, "scenario.ini"), "w",
              encoding="utf-8") as file:
        file.write(SCENARIO % rate)
    done = run(tool, "simulate", os.path.join(folder, "scenario.ini"),
               "--directory", folder)
    if done.returncode != 0:
        raise SystemExit(done.stderr.decode())
    return folder


def read(path):
    with open(path, "rb") as file:
        return file.read()


def write(path, *parts):
    with open(path, "wb") as file:
        for part in parts:
            file.write(part)


class Frames(list):
    """(ns, interface name, id with flags, data), from a pcapng of one section
    with nanosecond stamps and link type 227, as simulate writes it."""

    def __init__(self, path=None):
        super().__init__()
        self.names = []
        if path is None:
            return
        data, at = read(path), 0
        while at < len(data):
            kind, size = struct.unpack_from("<II", data, at)
            body = data[at + 8:at + size - 4]
            if kind == 1:
                self.interface(body)
            elif kind == 6:
                number, high, low, caplen = struct.unpack_from("<IIII", body)
                can = body[20:20 + caplen]
                self.append(((high << 32 | low) * self.unit_ns,
                             self.names[number],
                             struct.unpack_from(">I", can)[0],
                             can[8:8 + can[4]]))
            at += size

    def interface(self, body):
        assert struct.unpack_from("<H", body)[0] == LINK_CAN
        at, self.unit_ns = 8, 1000
        name = ""
        while at + 4 <= len(body):
            code, length = struct.unpack_from("<HH", body, at)
            value = body[at + 4:at + 4 + length]
            if code == 2:
                name = value.decode()
            elif code == 9:
                self.unit_ns = 10 ** (9 - value[0])
            at += 4 + (length + 3) // 4 * 4
        self.names.append(name)

    def of(self, items):
        other = Frames()
        other.names = self.names
        other.extend(items)
        return other


def can(frame):
    return struct.pack(">IB3x", frame[2], len(frame[3])) + frame[3].ljust(8,
                                                                         b"\0")


def block(kind, body, order):
    body += b"\0" * (-len(body) % 4)
    size = len(body) + 12
    return (struct.pack(order + "II", kind, size) + body +
            struct.pack(order + "I", size))


def pcapng(frames, order="<"):
    """The parts of a file: section, interfaces, one block per frame."""
    parts = [block(0x0A0D0D0A, struct.pack(order + "IHHq", 0x1A2B3C4D, 1, 0,
                                           -1), order)]
    for name in frames.names:
        raw = name.encode()
        parts.append(block(1, struct.pack(order + "HHI", LINK_CAN, 0, 0) +
                           struct.pack(order + "HH", 2, len(raw)) + raw +
                           b"\0" * (-len(raw) % 4) +
                           struct.pack(order + "HHB3xHH", 9, 1, 9, 0, 0),
                           order))
    for frame in frames:
        data = can(frame)
        parts.append(block(6, struct.pack(
            order + "IIIII", frames.names.index(frame[1]), frame[0] >> 32,
            frame[0] & 0xFFFFFFFF, len(data), len(data)) + data, order))
    return parts


def pcap(frames, link=LINK_CAN, order="<"):
    """One file for all buses with link type 276, for one bus with 227."""
    parts = [struct.pack(order + "IHHiIII", 0xA1B23C4D, 2, 4, 0, 0, 65535,
                         link)]
    for frame in frames:
        data = can(frame)
        if link == LINK_SLL2:
            # Cooked identifiers are in the order of the file.
            number = struct.unpack(">I", data[:4])[0]
            data = (struct.pack(">HHIHBB8x", 0x000C, 0,
                                frames.names.index(frame[1]), 280, 0, 0) +
                    struct.pack(order + "I", number) + data[4:])
        parts.append(struct.pack(order + "IIII", frame[0] // 10**9,
                                 frame[0] % 10**9, len(data), len(data)) +
                     data)
    return parts


def text(frames):
    return [("(%d.%09d) %s %08X#%s\n" % (
        f[0] // 10**9, f[0] % 10**9, f[1], f[2] & 0x1FFFFFFF,
        f[3].hex().upper())).encode() for f in frames]


class Result:
    """Every figure of a result by its place: value and standard u."""

    def __init__(self, done):
        self.exit = done.returncode
        self.said = done.stderr.decode("utf-8", "replace")
        self.figures = {}
        self.flags = {}
        self.json = None
        if done.stdout:
            self.json = json.loads(done.stdout)
            for r in self.json["runs"]:
                for a in r["applications"]:
                    self.walk((r["name"], a["number"]), a)

    def walk(self, place, node):
        if isinstance(node, list):
            for i, item in enumerate(node):
                key = i
                if isinstance(item, dict):
                    key = item.get("unit", i)
                    if "from" in item and "to" in item:
                        key = "%s to %s" % (item["from"], item["to"])
                self.walk(place + (key,), item)
        elif isinstance(node, dict):
            for value, u in (("s", "u_s"), ("value", "u")):
                if value in node and u in node:
                    self.figures[place] = (node[value], node[u],
                                           node.get("reason"))
            if "flags" in node:
                self.flags[place] = node["flags"]
            for key, item in node.items():
                self.walk(place + (key,), item)


def measure(tool, trial, *more, **how):
    return Result(run(tool, "measure", trial, "--json", "--quiet", *more,
                      **how))


class Tap:
    """Test Anything Protocol: one line per check."""

    def __init__(self):
        self.count = self.failed = 0

    def check(self, name, truth, told=""):
        self.count += 1
        self.failed += not truth
        print("%sok %d - %s" % ("" if truth else "not ", self.count, name))
        if not truth:
            for line in str(told).splitlines()[:12]:
                print("# " + line[:400])

    def skip(self, name, why):
        self.count += 1
        print("ok %d - %s # SKIP %s" % (self.count, name, why))

    def end(self):
        print("1..%d" % self.count)
        return 1 if self.failed else 0
