/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_BUS_TABLENAMES_H
#define BRAKELAG_SRC_BUS_TABLENAMES_H

#include "bus/tablehead.h"

/* Columns of `form` from a header; false: it is not that of a table of frames.
 */
bool bl_frametable_names(struct bl_frametable_form *form,
                         const struct bl_frametable_cell *cell, size_t cells);
/* Do the names leave no doubt that these are frames? */
bool bl_frametable_surely(const struct bl_frametable_form *form);

#endif
