# SPDX-License-Identifier: MIT
"""Text as it was before it was cut into lines of 80 columns, from standard input
or the files named: a line goes on where the next begins two deeper, or both at
the margin, and its first word would not have fitted."""
import fileinput
import re
import signal

LINE = 80
# What is never parted: a value and its uncertainty or its unit.
WORD = re.compile(r" *(\S+(?:(?: ± \S+)|(?<=\d) (?:%|s|ms|m|kPa|bar|psi|km/h|ppm|kN|kbit/s)\b\S*"
                  r"|(?<=\d) %\S*)*)")
signal.signal(signal.SIGPIPE, signal.SIG_DFL)  # into head


def goes_on(line, more):
    indent = len(line) - len(line.lstrip(" "))
    deeper = len(more) - len(more.lstrip(" "))
    return (line.strip() and more.strip()
            and not more.lstrip(" ").startswith("do: ")  # the next step of check
            and deeper == (indent + 2 if indent else 0))


lines = [line.rstrip("\n") for line in
         fileinput.input(openhook=fileinput.hook_encoded("utf-8"))]
at = 0
while at < len(lines):
    whole = last = lines[at]
    at += 1
    while at < len(lines) and goes_on(whole, lines[at]):
        first = WORD.match(lines[at]).group(1)
        if len(last) + 1 + len(first) <= LINE:
            break
        last = lines[at]
        whole += " " + last.strip()
        at += 1
    print(whole)
