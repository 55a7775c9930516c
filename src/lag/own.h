/* SPDX-License-Identifier: MIT */
/* How fast the command itself went. */
#ifndef BRAKELAG_SRC_LAG_OWN_H
#define BRAKELAG_SRC_LAG_OWN_H

#include "lag/command.h"

/* Set `own`, `own_half_rise` and `own_half_fall` of the application. */
void bl_command_own(struct bl_application *application,
                    const struct bl_track *command,
                    const struct bl_command_event *event);

#endif
