/* SPDX-License-Identifier: MIT */
/* What may have been meant where a file is not there. */
#ifndef BRAKELAG_SRC_IO_NEAR_H
#define BRAKELAG_SRC_IO_NEAR_H

#include <stddef.h>

/* "; did you mean 'P1.csv.gz'?", or that the folder is not there, or "".
   Returns `text`. */
const char *bl_near_file(const char *path, char *text, size_t size);

#endif
