# SPDX-License-Identifier: MIT
"""Inputs made to exhaust memory or time: each is refused or handled within what
is stated with it. Files are made in a scratch folder and removed one by one.

For every input: exit code, wall and processor time, peak memory, first message.
The bounds hold for a build without sanitizers. docs/testing.md holds the table
as measured; --table prints it.

usage: limits.py TOOL [--table] [NAME...]"""
import gzip
import os
import random
import resource
import struct
import subprocess
import sys
import tempfile
import time

import made

tool = os.path.abspath(sys.argv[1])
words = sys.argv[2:]
table = "--table" in words
wanted = [w for w in words if w != "--table"]
tap = made.Tap()
MIB = 1 << 20
HANGS_S = 3600
CASES = []


def case(mib, seconds, exits, *command):
    """`command` with the made file's path at its end; bounds on it."""
    def add(make):
        CASES.append((make.__name__.replace("_", "-"), make, mib, seconds,
                      exits, command, (make.__doc__ or "").split("\n")[0]))
        return make
    return add


def packed(path, pieces):
    with gzip.open(path, "wb", 1) as file:
        for piece in pieces:
            file.write(piece)
    return path


@case(64, 30, (3,), "survey")
def bomb_of_zeros(folder):
    """4 GiB of zero bytes in 18 MB of gzip"""
    piece = bytes(16 * MIB)
    return packed(folder + "/bomb.gz", (piece for _ in range(256)))


@case(64, 60, (0, 3), "survey")
def bomb_in_a_log(folder):
    """a good log that goes on with 4 GiB without an end of line"""
    def pieces():
        yield b"time [s],P [bar]\n"
        for i in range(2000):
            yield b"%d.%03d,%d\n" % (i // 100, i % 100 * 10, i % 7)
        for _ in range(256):
            yield b"9" * (16 * MIB)
    return packed(folder + "/log.csv.gz", pieces())


@case(64, 60, (0, 3), "survey")
def bomb_in_a_text_recording(folder):
    """a good text recording that goes on with 4 GiB without an end of line"""
    def pieces():
        for i in range(2000):
            yield b"(%d.%06d) can0 18FEC4C8#0102030405060708\n" % (
                i // 100, i % 100 * 10000)
        for _ in range(256):
            yield b"A" * (16 * MIB)
    return packed(folder + "/bus.log.gz", pieces())


@case(64, 60, (0, 3), "survey")
def equal_rows(folder):
    """a log of 100 million rows that are all the same, 400 MB"""
    def pieces():
        yield b"t,P\n"
        for _ in range(100):
            yield b"1,2\n" * 1000000
    return packed(folder + "/equal.csv.gz", pieces())


@case(400, 60, (0,), "survey")
def ten_thousand_channels(folder):
    """a log of 10,000 channels and 500 rows"""
    def pieces():
        yield b"time [s]," + b",".join(b"P%d [bar]" % i
                                       for i in range(9999)) + b"\n"
        row = b",".join(b"%d" % (i % 9) for i in range(9999))
        for i in range(500):
            yield b"%d.%02d," % (i // 100, i % 100) + row + b"\n"
    return packed(folder + "/wide.csv.gz", pieces())


@case(64, 10, (3,), "survey")
def a_hundred_thousand_channels(folder):
    """a log of 100,000 channels"""
    row = b",".join(b"%d" % (i % 9) for i in range(100000))
    return packed(folder + "/wider.csv.gz",
                  (b"%d," % i + row + b"\n" for i in range(400)))


def section():
    return made.block(0x0A0D0D0A, struct.pack("<IHHq", 0x1A2B3C4D, 1, 0, -1),
                      "<")


def interface(link=227):
    return made.block(1, struct.pack("<HHI", link, 0, 0), "<")


@case(64, 60, (0, 3), "survey")
def ten_million_tiny_blocks(folder):
    """pcapng with 10 million blocks of 12 bytes"""
    tiny = made.block(0xBAD, b"", "<") * 100000
    return packed(folder + "/tiny.pcapng.gz",
                  [section(), interface()] + [tiny] * 100)


@case(64, 60, (0, 3), "survey")
def ten_million_sections(folder):
    """pcapng with 1 million sections and interfaces"""
    return packed(folder + "/sections.pcapng.gz",
                  [(section() + interface()) * 10000] * 100)


@case(128, 30, (3,), "survey")
def a_hundred_thousand_interfaces(folder):
    """pcapng with 100,000 interfaces in one section"""
    return packed(folder + "/interfaces.pcapng.gz",
                  [section()] + [interface() * 1000] * 100)


@case(64, 30, (3,), "survey")
def a_thousand_buses(folder):
    """text with 1,000 interface names"""
    return packed(folder + "/buses.log.gz", [
        b"(%d.%03d) can%d 18FEC4C8#00\n" % (i // 1000, i % 1000, i % 1000)
        for i in range(20000)])


def all_identifiers():
    dice = random.Random(5)
    for i in range(1000000):
        number = (i * 536 + dice.randrange(2)) & 0x1FFFFFFF
        number = number & ~0xFF | i & 0xFF
        yield b"(%d.%06d) can0 %08X#0102030405060708\n" % (
            i // 1000, i % 1000 * 1000, number)


@case(256, 60, (0,), "survey")
def a_million_identifiers(folder):
    """1 million identifiers from all 256 addresses"""
    return packed(folder + "/ids.log.gz", all_identifiers())


TRIAL = b"""[trial]
name = limits
tables = iso11992-2, j1939-brakes
[unit 0]
address = 32
command = pedal
command_kind = treadle-pressure
command_at = 20 kPa
[unit 1]
address = 200
[channel pedal]
column = P
quantity = pressure
measured_in = bar
[run A]
captures = ids.log.gz
logs = p.csv
clock = shared
"""


def small_log(folder):
    rows = [b"t [s],P\n"]
    for i in range(1000):
        rows.append(b"%d.%02d,%d\n" % (i // 100, i % 100, 300 < i < 600))
    made.write(folder + "/p.csv", *rows)


@case(512, 60, (0, 3, 4), "measure")
def a_million_identifiers_in_a_trial(folder):
    """the same in a trial"""
    packed(folder + "/ids.log.gz", all_identifiers())
    small_log(folder)
    made.write(folder + "/trial.ini", TRIAL)
    return folder + "/trial.ini"


@case(128, 60, (0, 3), "survey")
def open_transports(folder):
    """multi-packet messages of 1,785 bytes begun by all addresses, none ended"""
    def lines():
        for i in range(200000):
            to = i // 256 % 256
            yield b"(%d.%06d) can0 %08X#10F906FFFFCAFE00\n" % (
                i // 1000, i % 1000 * 1000, 0x18EC0000 | to << 8 | i % 256)
    return packed(folder + "/transport.log.gz", lines())


@case(64, 30, (0, 3), "survey")
def times_that_jump(folder):
    """200,000 frames whose time jumps back at every second one"""
    return packed(folder + "/jumps.log.gz", (
        b"(%d.0) can0 18FEC4C8#00\n" % (i % 2 * 100 + i // 1000)
        for i in range(200000)))


@case(64, 30, (0, 3), "survey")
def absurd_times(folder):
    """stamps at both ends of 64 bits and in between"""
    dice = random.Random(9)
    def blocks():
        yield section() + interface()
        for _ in range(100000):
            stamp = dice.choice((0, 1, 2**63, 2**64 - 1,
                                 dice.randrange(2**64)))
            yield made.block(6, struct.pack("<IIIII", 0, stamp >> 32,
                                            stamp & 0xFFFFFFFF, 16, 16) +
                             bytes(16), "<")
    return packed(folder + "/absurd.pcapng.gz", blocks())


@case(64, 30, (0, 3), "survey")
def absurd_times_in_a_log(folder):
    """a log whose times are 1e300, -1e300, 1e18 and such"""
    some = (b"1e300", b"-1e300", b"1e18", b"9223372036", b"0", b"nan")
    return packed(folder + "/absurd.csv.gz", [b"time [s],P [bar]\n"] + [
        b"%d,1\n" % i for i in range(400)] + [
        some[i % len(some)] + b",1\n" for i in range(100000)])


def units(folder, count):
    """Combinations of 100 units each: A, B, .."""
    text = [TRIAL.replace(b"captures = ids.log.gz\n", b"")]
    for i in range(2, count):
        letter, number = bytes([65 + i // 100]), i % 100
        text.append(b"[unit %s.%d]\naddress = %d\n" % (letter, number, i % 254)
                    + (b"command = pedal\ncommand_kind = treadle-pressure\n"
                       b"command_at = 20 kPa\n" if number == 0
                       else b"output = pedal\n"))
    small_log(folder)
    made.write(folder + "/trial.ini", *text)
    return folder + "/trial.ini"


@case(128, 60, (0, 2, 4), "measure")
def two_thousand_units(folder):
    """a trial of 2,000 units"""
    return units(folder, 2000)


@case(64, 10, (2,), "measure")
def ten_thousand_channels_of_a_trial(folder):
    """a trial of 10,000 channels"""
    small_log(folder)
    made.write(folder + "/trial.ini", TRIAL, b"".join(
        b"[channel c%d]\ncolumn = P\nquantity = pressure\nmeasured_in = bar\n"
        % i for i in range(10000)))
    return folder + "/trial.ini"


@case(64, 10, (2,), "measure")
def a_million_lines_of_trial(folder):
    """a trial file of 1 million lines"""
    made.write(folder + "/trial.ini", TRIAL, b"; nothing\n" * 1000000)
    return folder + "/trial.ini"


@case(64, 10, (2,), "measure")
def a_long_line_of_trial(folder):
    """a trial file with a line of 64 MB"""
    made.write(folder + "/trial.ini", TRIAL, b"[channel " + b"x" * 64000000)
    return folder + "/trial.ini"


@case(64, 10, (2,), "tables", "check")
def a_table_of_a_million_rows(folder):
    """a mapping table of 1 million rows"""
    head = (b"message,pgn,sender,direction,period_ms,signal,start,bits,scale,"
            b"offset,unit,low,high,kind,role,states,source,confidence\n")
    row = b"M,65000,any,any,100,s%d,1.1,8,1,0,kPa,0,250,number,,,me,confirmed\n"
    made.write(folder + "/table.csv", head,
               b"".join(row % i for i in range(1000000)))
    return folder + "/table.csv"


@case(64, 10, (2,), "simulate", "--directory", "/nonexistent")
def a_scenario_of_days(folder):
    """a scenario of 1,000 applications of a day each"""
    made.write(folder + "/scenario.ini",
               b"[scenario]\nname = x\n[unit 0]\n[unit 1]\nline = 8 m\n"
               b"[application full]\npressure = 650 kPa\nhold = 86400 s\n"
               b"[run U]\npower = off\ndata = off\n"
               b"applications = 1000 x full\n")
    return folder + "/scenario.ini"


def measured(command, limit_s):
    """Exit, wall s, first message. It is stopped by processor time, because a
    busy machine makes it wait, and by the clock only when it hangs."""
    start = time.monotonic()

    def bound():
        resource.setrlimit(resource.RLIMIT_CPU, (2 * limit_s, 2 * limit_s + 1))

    with subprocess.Popen([tool, *command], stdout=subprocess.DEVNULL,
                          stderr=subprocess.PIPE, preexec_fn=bound) as child:
        try:
            told = child.communicate(timeout=HANGS_S)[1]
        except subprocess.TimeoutExpired:
            child.kill()
            told = child.communicate()[1] + b"stopped: it hangs"
    return (child.returncode, time.monotonic() - start,
            told.decode("utf-8", "replace").splitlines()[:1])


def peak(command, limit_s):
    """In a child of its own, so that the peak is that of one run."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        code, wall, told = measured(command, limit_s)
        usage = resource.getrusage(resource.RUSAGE_CHILDREN)
        os.write(writer, repr((code, wall, usage.ru_utime + usage.ru_stime,
                               usage.ru_maxrss / 1024, told)).encode())
        os._exit(0)
    os.close(writer)
    text = b""
    while piece := os.read(reader, 65536):
        text += piece
    os.close(reader)
    os.waitpid(child, 0)
    return eval(text.decode(), {})  # our own repr


if table:
    print("| input | file | exit | s | bound s | MiB | bound MiB | said |")
    print("|---|---|---|---|---|---|---|---|")
for name, make, mib, seconds, exits, command, told in CASES:
    if wanted and name not in wanted:
        continue
    with tempfile.TemporaryDirectory() as scratch:
        path = make(scratch)
        size = os.path.getsize(path)
        code, wall, cpu, rss, said = peak(command + (path,), seconds)
        line = (said or [""])[0].replace(scratch + "/", "").replace(
            "brakelag: ", "")
    if table:
        print("| %s | %.1f MB | %d | %.1f | %d | %.0f | %d | %s |" % (
            told, size / 1e6, code, cpu, seconds, rss, mib, line[:150]))
        sys.stdout.flush()
    else:
        tap.check("%s: exit %d, %.1f s of %d, %.0f MiB of %d" % (
            told, code, cpu, seconds, rss, mib),
            code in exits and cpu <= seconds and rss <= mib, line)
        sys.stdout.flush()
sys.exit(0 if table else tap.end())
