/* SPDX-License-Identifier: MIT */
/*
 * What all rows of a log have in common: how many cells, which sign between
 * thousands, how many decimals. Decided by most rows of the head, never by one;
 * a row or cell that contradicts it is damaged.
 */
#ifndef BRAKELAG_SRC_LOG_FORM_H
#define BRAKELAG_SRC_LOG_FORM_H

#include "log/dialect.h"

/* Fewest cells of a whole row. Recorders that leave out closing empty cells do
   so in many rows. */
size_t bl_log_least_cells(const struct log_head *head,
                          const struct log_dialect *dialect);
/* dialect->group and dialect->ungrouped. */
void bl_log_decide_groups(const struct log_head *head,
                          struct log_dialect *dialect);
/* Does a cell that is a number only with thousands separators group as the
   rest of the file does? `places`: decimals that its column has. */
bool bl_log_group_fits(const struct log_dialect *dialect,
                       const struct log_cell *cell, unsigned places);
/* Decimals that every number of a column has, as writers with a fixed form
   give them, closing zeros too; 0: any. */
unsigned bl_log_column_places(const struct log_head *head,
                              const struct log_dialect *dialect, size_t column);
/* A number with fewer decimals than its column has: its end was lost. A bare 0
   may be written without. */
bool bl_log_cut_short(const struct log_cell *cell, char decimal,
                      unsigned places);

#endif
