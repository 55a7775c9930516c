# SPDX-License-Identifier: MIT
"""Turns the page's style and scripts into C: embed.py OUTPUT NAME FILE...

NAME FILE... [-- NAME FILE...]: the files of a name are joined; one that is
given as notice=FILE, the licence of what follows it, as a comment. A source-map
line is dropped, because a page that needs nothing must not name anything."""
import base64
import hashlib
import sys


def joined(paths):
    lines = []
    for path in paths:
        notice = path.startswith("notice=")
        with open(path[len("notice=") if notice else 0:],
                  encoding="utf-8") as file:
            if notice:
                lines += ["/*"] + [line.rstrip("\n").replace("*/", "* /")
                                   for line in file] + ["*/"]
                continue
            lines += [line.rstrip("\n") for line in file
                      if "sourceMappingURL=" not in line]
    text = "\n".join(lines) + "\n"
    for wrong in ("</script", "</style", "<!--"):
        if wrong in text.lower():
            sys.exit("%s: holds '%s', which would end its place in the page"
                     % (" ".join(paths), wrong))
    return text.encode()


def c_bytes(data):
    numbers = [str(b) for b in data] + ["0"]
    return ",\n".join(",".join(numbers[i:i + 32])
                      for i in range(0, len(numbers), 32))


def main():
    output, rest = sys.argv[1], sys.argv[2:]
    out = ['#include "report/page/page.h"\n']
    while rest:
        end = rest.index("--") if "--" in rest else len(rest)
        name, paths = rest[0], rest[1:end]
        rest = rest[end + 1:]
        data = joined(paths)
        digest = base64.b64encode(hashlib.sha256(data).digest()).decode()
        out.append("static const unsigned char %s[] = {\n%s};\n"
                   "const struct bl_page_part bl_page_%s = {\n"
                   "    (const char *)%s, %d, \"sha256-%s\"};\n"
                   % (name, c_bytes(data), name, name, len(data), digest))
    with open(output, "w", encoding="utf-8") as file:
        file.write("\n".join(out))


main()
