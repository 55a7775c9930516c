/* SPDX-License-Identifier: MIT */
/* An entry of a section by its key. */
#include "trial/reading.h"

#include <string.h>

const struct trial_entry *bl_trial_entry(const struct trial_section *section,
                                         const char *key)
{
    for (size_t i = 0; section != NULL && i < section->entries; i++) {
        if (strcmp(section->entry[i].key, key) == 0) {
            return &section->entry[i];
        }
    }
    return NULL;
}
