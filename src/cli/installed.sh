#!/bin/sh
# SPDX-License-Identifier: MIT
# After `meson install`: does the program find its library, this one and no copy
# elsewhere? Says what is to be done if not. A copy for a package (DESTDIR) is not
# asked.
#   installed.sh BINDIR LIBDIR
set -eu
if "$1/brakelag" version >/dev/null 2>&1; then
    other=$(ldd "$1/brakelag" 2>/dev/null |
        sed -n 's,.*libbrakelag\.so[^ ]* => \([^ ]*\) .*,\1,p') || other=
    case $(readlink -f "$other") in
    '' | "$(readlink -f "$2")"/*) exit 0 ;; # in the program, or its own folder
    esac
    echo "brakelag: the loader finds another copy of the library, $other, and"
    echo "  not the one in $2."
else
    echo "brakelag: the loader does not find the library in $2 yet."
fi
echo "  If that is one of its folders (/etc/ld.so.conf), run as root: ldconfig"
echo "  Else set LD_LIBRARY_PATH, or set up with -Ddefault_library=static: the"
echo "  program then holds its library."
