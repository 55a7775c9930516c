/* SPDX-License-Identifier: MIT */
/* Names and bytes of the files that a simulation writes. */
#ifndef BRAKELAG_SRC_SIMULATE_FILES_H
#define BRAKELAG_SRC_SIMULATE_FILES_H

#include "simulate/scenario.h"

/* "pcapng", "pcap" or "txt". */
const char *bl_sim_capture_ending(const struct bl_scenario *scenario);
/* One gzip member without name and time, so that equal bytes stay equal. */
BL_MUST_CHECK enum bl_status bl_sim_gzip(struct bl_output *output,
                                         const void *data, size_t size,
                                         struct bl_error *error);

#endif
