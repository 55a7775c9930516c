/* SPDX-License-Identifier: MIT */
/* The command is part of the comparison: its own rise, fall and hold. */
#ifndef BRAKELAG_SRC_STUDY_COMPARE_COMMANDED_H
#define BRAKELAG_SRC_STUDY_COMPARE_COMMANDED_H

#include "study/compare/compare.h"

/* Compare the commands of all kinds and shapes: c->into->command. */
enum bl_status bl_compare_commands(const struct bl_comparing *c,
                                   struct bl_error *error);
/* That of a row; NULL: no command to compare (two units, one command). */
const struct bl_compared_command *
bl_compared_command_of(const struct bl_comparing *c,
                       const struct bl_comparison_row *row);
/* Take the command's own time off the values where it differs and that can be
   done; sets command_s, u_command_s, command_taken_off and metres_refused. */
void bl_compare_take_off(struct bl_comparison_row *row,
                         const struct bl_compared_command *command,
                         struct bl_values *base, struct bl_values *against);

#endif
