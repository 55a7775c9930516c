/* SPDX-License-Identifier: MIT */
/* A result whose every text can be shown to a person (base/plain.h). */
#ifndef BRAKELAG_SRC_REPORT_PLAIN_TREE_H
#define BRAKELAG_SRC_REPORT_PLAIN_TREE_H

#include "report/tree.h"

/* The tree with every text made plain; `root` itself where nothing needs it.
   A new reference, NULL: out of memory. */
json_t *bl_plain_tree(json_t *root);

#endif
