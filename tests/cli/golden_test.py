# SPDX-License-Identifier: MIT
"""Which outcomes golden.py takes for a new expectation, and which it refuses."""
import os
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
# What a case does; whether it says `exit`; whether --update may record it.
CASES = [
    ("new-text", "echo hello", None, True),
    ("same-exit", "echo no; exit 3", "3\n", True),
    ("new-exit", "exit 3", None, False),
    ("other-exit", "echo ok", "3\n", False),
    ("signal", "kill -SEGV $$", None, False),
    ("check-in-python", "python3 -c 'assert 0' || true", None, False),
    ("address", "echo '==1==ERROR: AddressSanitizer: heap' >&2", None, False),
    ("undefined", "echo 'a.c:1:2: runtime error: overflow' >&2", None, False),
    ("leak", "echo 'LeakSanitizer: detected memory leaks' >&2", None, False),
]


def write(folder, name, text):
    with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
        file.write(text)


def main():
    failed = 0
    print("TAP version 13\n1..%d" % len(CASES))
    for number, (name, cmd, code, may) in enumerate(CASES, 1):
        with tempfile.TemporaryDirectory() as folder:
            case = os.path.join(folder, name)
            os.mkdir(case)
            write(case, "cmd", cmd + "\n")
            write(case, "stdout", "before\n")
            if code is not None:
                write(case, "exit", code)
            before = sorted(os.listdir(case))
            ran = subprocess.run(
                [sys.executable, os.path.join(HERE, "golden.py"), "/bin/true",
                 folder, "--update"], capture_output=True, text=True)
            with open(os.path.join(case, "stdout"), encoding="utf-8") \
                    if "stdout" in os.listdir(case) else open(os.devnull) as f:
                kept = f.read()
            good = (ran.returncode == 0 and kept != "before\n") if may else (
                ran.returncode == 1 and kept == "before\n" and
                sorted(os.listdir(case)) == before and
                "# not recorded: " in ran.stdout)
        failed += not good
        print("%sok %d - %s" % ("" if good else "not ", number, name))
        if not good:
            print("# " + ran.stdout.replace("\n", "\n# "))
    return 1 if failed else 0


sys.exit(main())
