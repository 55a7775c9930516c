# SPDX-License-Identifier: MIT
"""Each public header compiles alone, as C11 and as C++.
usage: headers.py CC"""
import os
import shutil
import subprocess
import sys

from common import ROOT, Tap, files


def compile_alone(command, header, language):
    result = subprocess.run(
        command + ["-fsyntax-only", "-Wall", "-Wextra", "-pedantic",
                   "-Werror", "-I", os.path.join(ROOT, "include"),
                   "-x", language, "-"],
        input='#include "%s"\nint alone;\n' % header, text=True,
        capture_output=True)
    return [] if result.returncode == 0 else result.stderr.split("\n")[:6]


def main():
    tap = Tap()
    plus = shutil.which("c++") or shutil.which("g++") or shutil.which("clang++")
    for path in files("include", ends=(".h",)):
        header = path[len("include/"):]
        tap.check(header + " alone as C11",
                  compile_alone(sys.argv[1:] + ["-std=c11"], header, "c"))
        if plus:
            tap.check(header + " alone as C++",
                      compile_alone([plus, "-std=c++11"], header, "c++"))
        else:
            tap.skip(header + " alone as C++", "no C++ compiler")
    tap.finish()


sys.exit(main())
