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

enum bl_status bl_loaded_unusable(struct bl_loaded_recording *recording)
{
    const struct bl_note *first =
        recording->notes.count > 0 ? &recording->notes.item[0] : NULL;
    struct bl_error error;
    bl_error_clear(&error);
    (void)bl_fail(&error, BL_FORMAT, "", "%s: nothing in it could be used%s%s",
                  recording->files > 0 ? recording->file[0].path : "recording",
                  first == NULL ? "" : ": ", first == NULL ? "" : first->text);
    bl_loaded_failed(recording, &error);
    return bl_damage_add(recording, INT64_MIN, INT64_MAX);
}
