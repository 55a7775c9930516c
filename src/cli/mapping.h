/* SPDX-License-Identifier: MIT */
/* Mapping tables as the commands `tables` and `explain` use and print them. */
#ifndef BRAKELAG_SRC_CLI_MAPPING_H
#define BRAKELAG_SRC_CLI_MAPPING_H

#include "cli.h"

/* Add a table by name or path, saying every mistake. A path is taken from the
   current folder. Returns the exit code. */
int add_table(struct bl_tables *tables, const char *name);
/* All shipped tables, then every --table. */
int load_tables(struct bl_tables **out, const struct arguments *arguments);

/* "PGN 65226 (0xFECA), from towing, down, every 100 ms" of a message. */
void write_message_line(struct bl_output *output,
                        const struct bl_message *message);
/* "byte 3, bits 1 to 2" of a signal. */
const char *place_text(const struct bl_signal *signal, char *text, size_t size);
/* A signal without a value: all that its table says. */
void write_signal(struct bl_output *output, const struct bl_signal *signal);

#endif
