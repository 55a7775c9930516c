# SPDX-License-Identifier: MIT
"""A trial whose every name tries to be markup, with its recordings."""
import os
import struct

HOSTILE = ("</script><img src=x onerror=document.title='broken'> \"'&"
           "\u202eevil\u202c " + "long" * 20)
COLUMN = "<b onmouseover=alert(1)>\u2067r\u2069 &amp; </td>"
RUN = "R</script>\u202e<!--"


def capture(path, name):
    """A pcapng file of one interface, whose name is hostile, and a frame."""
    def option(code, data):
        return struct.pack("<HH", code, len(data)) + data + \
            b"\0" * (-len(data) % 4)

    def block(kind, body):
        size = len(body) + 12
        return struct.pack("<II", kind, size) + body + struct.pack("<I", size)
    frame = struct.pack(">I", 0x98FEF100) + bytes([8, 0, 0, 0]) + b"\xff" * 8
    text = option(2, name.encode()) + option(0, b"")
    with open(path, "wb") as file:
        file.write(block(0x0A0D0D0A, struct.pack("<IHHq", 0x1A2B3C4D, 1, 0,
                                                 -1)))
        file.write(block(1, struct.pack("<HHI", 227, 0, 0) + text))
        for i in range(300):
            file.write(block(6, struct.pack("<IIIII", 0, 0, i * 40000, 16, 16)
                             + frame))


def trial(folder):
    """A trial whose every name tries to be markup."""
    path = os.path.join(folder, "hostile.ini")
    name = HOSTILE.strip()
    with open(path, "w", encoding="utf-8") as file:
        file.write("[trial]\nname = %s\ntables = j1939-brakes\n"
                   "[unit 0]\nname = %s\ncommand = p\n"
                   "command_kind = treadle-pressure\ncommand_at = 20 kPa\n"
                   "output.front = q\n"
                   "[unit 1]\nname = %s\noutput = r\nline = 7 m\n"
                   "[channel p]\nquantity = pressure\n"
                   "measured_in = kPa\n[channel q]\nquantity = pressure\n"
                   "measured_in = kPa\ncalibrated = %s\n"
                   "[channel r]\ncolumn = %s\nquantity = pressure\n"
                   "measured_in = kPa\n[run %s]\ncondition = %s\n"
                   "captures = hostile.pcapng\nclock = shared\n"
                   "logs = hostile.csv\nexclude = 2 %s\n"
                   "[record]\nplace = %s\ntester = %s\n"
                   % (name, name, name[::-1], name, COLUMN, RUN, name, name,
                      name, "w" * 180))
    capture(os.path.join(folder, "hostile.pcapng"),
                    "<script>alert(1)</script>\u202e\"'")
    with open(os.path.join(folder, "hostile.csv"), "w",
              encoding="utf-8") as file:
        file.write('time,p,q,"%s",\x85\u2028<i>\n' % COLUMN.replace('"', '""'))
        for i in range(2400):
            at = i % 1200
            on = max(0, min(300, 10 * (at - 400), 10 * (840 - at)))
            late = max(0, min(290, 7 * (at - 420), 8 * (880 - at)))
            file.write("%.3f,%d,%d,%d,0\n" % (i / 100, on, late, late))
    return path
