/* SPDX-License-Identifier: MIT */
/* Parts of the uncertainties are most of a result's bytes. The page has their
   medians, which it shows, instead of all of them. */
#ifndef BRAKELAG_SRC_REPORT_HTML_BUDGET_H
#define BRAKELAG_SRC_REPORT_HTML_BUDGET_H

#include "report/result.h"

/* A row per unit and figure: {"unit","figure","parts":[in the order of
   BL_COMPONENT_LIST],"u"}, medians in seconds over all applications; null
   where no application's instruments state that part. */
json_t *bl_html_budget(struct bl_tree *tree, const struct bl_result *result);

/* The result without "u_parts"; a new reference. */
json_t *bl_html_without_parts(struct bl_tree *tree, const json_t *root);

#endif
