/* SPDX-License-Identifier: MIT */
/* What becomes of one recording of a survey: its first failure, and times that
 * cannot be. */
#include "survey/internal.h"

#include "base/limits.h"

enum bl_status bl_survey_keep(struct bl_survey_file *file,
                              enum bl_status status,
                              const struct bl_error *failure,
                              struct bl_error *error)
{
    if (status == BL_NOMEM) {
        return bl_fail_memory(error);
    }
    if (file->status == BL_OK) {
        file->status = status;
        bl_error_line(failure, file->failure, sizeof(file->failure));
    }
    return BL_OK;
}

bool bl_survey_reckoned(int64_t time_ns)
{
    return time_ns <= BL_LIMIT_TIME_NS && time_ns >= -BL_LIMIT_TIME_NS;
}

enum bl_status bl_survey_note_times(struct bl_survey_file *file, uint64_t count,
                                    const char *what)
{
    enum bl_status status = BL_OK;
    file->damages += count;
    for (uint64_t i = 0; i < count && status == BL_OK; i++) {
        status = bl_note(&file->notes, "impossible-time", -1, -1,
                         "expected times within 146 years of 0, found others; "
                         "these %s are left out",
                         what);
    }
    return status;
}

double bl_survey_span_s(int64_t from_ns, int64_t to_ns)
{
    if (bl_survey_reckoned(from_ns) && bl_survey_reckoned(to_ns)) {
        return (double)(to_ns - from_ns) * 1e-9;
    }
    return (double)to_ns * 1e-9 - (double)from_ns * 1e-9;
}
