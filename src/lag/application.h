/* SPDX-License-Identifier: MIT */
/* Asking a measured application. */
#ifndef BRAKELAG_SRC_LAG_APPLICATION_H
#define BRAKELAG_SRC_LAG_APPLICATION_H

#include "brakelag/lag.h"

/* Was it seen from beginning to end? */
bool bl_application_whole(const struct bl_application *application);
/* May figures of it be used: seen whole, not excluded, both ends dated? */
bool bl_application_usable(const struct bl_application *application);
/* What a unit did in it; NULL. */
const struct bl_unit_lag *
bl_application_unit(const struct bl_application *application, size_t unit);

/* Did it begin from somewhere else than from released: not vented, or with more
   in it than a zero is off by? Its figures are not those of a sound brake. */
bool bl_unit_begins_elsewhere(const struct bl_unit_lag *unit);

/* "light", "medium", "full", "unsorted": as a sentence says it. Static. */
const char *bl_application_kind_said(enum bl_application_kind kind);

#endif
