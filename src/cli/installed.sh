#!/bin/sh
# SPDX-License-Identifier: MIT
# After `meson install`: does the program find its library? Says what is to be done
# if not. A copy for a package (DESTDIR) is not asked.
#   installed.sh BINDIR LIBDIR
set -eu
"$1/brakelag" version >/dev/null 2>&1 && exit 0
echo "brakelag: the loader does not find the library in $2 yet."
echo "  If that is one of its folders (/etc/ld.so.conf), run as root: ldconfig"
echo "  Else set LD_LIBRARY_PATH, or set up with -Ddefault_library=static: the"
echo "  program then holds its library."
