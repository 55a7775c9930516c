/* SPDX-License-Identifier: MIT */
/* The day of a trial and the id of a unit, for who reads a trial file and who
 * writes one. */
#ifndef BRAKELAG_SRC_TRIAL_IDENTITY_H
#define BRAKELAG_SRC_TRIAL_IDENTITY_H

#include <stdbool.h>

/* Own choice: chassis numbers have 17 characters (ISO 3779), a workshop's own
   seldom more. */
enum { BL_TRIAL_ID_MAX = 100 };

/* "2026-03-01" or "2026-03-01T14:30", perhaps with seconds: of ISO 8601 what
   sorts as text. */
bool bl_trial_is_date(const char *text);

#endif
