/* SPDX-License-Identifier: MIT */
/* What the page is made of, embedded by embed.py when building. */
#ifndef BRAKELAG_SRC_REPORT_PAGE_PAGE_H
#define BRAKELAG_SRC_REPORT_PAGE_PAGE_H

#include <stddef.h>

struct bl_page_part {
    const char *text; /* NUL-terminated */
    size_t size;
    const char *hash; /* "sha256-...", as a content security policy names it */
};

extern const struct bl_page_part bl_page_style; /* page.css */
extern const struct bl_page_part bl_page_chart; /* the chart library */
extern const struct bl_page_part bl_page_script;

#endif
