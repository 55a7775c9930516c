/* SPDX-License-Identifier: MIT */
/* What explain takes apart. */
#ifndef BRAKELAG_SRC_CLI_EXPLAIN_H
#define BRAKELAG_SRC_CLI_EXPLAIN_H

#include "mapping.h"

struct explained {
    uint32_t id;
    bool extended, remote;
    uint8_t data[64];
    size_t size;
};

/* `frame` NULL: the messages as their tables describe them. `only`: this
   signal alone; NULL: all. */
void explain_json(struct bl_output *output, const struct explained *frame,
                  const struct bl_message *const *message, size_t messages,
                  const struct bl_signal *only);

#endif
