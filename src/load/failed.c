/* SPDX-License-Identifier: MIT */
/* Why a recording could not be read to its end. */
#include "load/build.h"

void bl_loaded_failed(struct bl_loaded_recording *recording,
                      const struct bl_error *error)
{
    if (recording->status == BL_OK) {
        recording->status = error->status;
        (void)bl_error_line(error, recording->failure,
                            sizeof(recording->failure));
    }
}
