/* SPDX-License-Identifier: MIT */
/* Writes the sample result as JSON, for the check against its schema. */
#include "sample.h"

int main(void)
{
    struct sample s;
    struct bl_error error;
    struct bl_result *result = NULL;
    struct bl_output *output = NULL;
    const struct bl_result_options options = {.form = BL_RESULT_JSON};
    sample_make(&s);
    bool good = sample_result(&result, &s, &error) == BL_OK &&
                bl_output_open(&output, "-", &error) == BL_OK;
    if (good) {
        good = bl_result_write(result, output, &options, &error) == BL_OK;
        good = bl_output_commit(output, &error) == BL_OK && good;
    }
    bl_result_destroy(result);
    return good ? 0 : 1;
}
