/* SPDX-License-Identifier: MIT */
/* An output over a file that somebody else created and names. */
#ifndef BRAKELAG_SRC_IO_OUTPUT_H
#define BRAKELAG_SRC_IO_OUTPUT_H

#include "brakelag/io.h"

/* Commit and discard close `fd`; on failure here it stays the caller's. `path`
   is for messages. */
enum bl_status bl_output_on_file(struct bl_output **out, int fd,
                                 const char *path, struct bl_error *error);

/* A memory output begins anew: what was written to it is dropped. */
void bl_output_forget(struct bl_output *output);

#endif
