/* SPDX-License-Identifier: MIT */
/* A whole trial to one page: page TRIAL PAGE.html */
#include <brakelag/brakelag.h>

#include <stdio.h>

static enum bl_status write_page(const struct bl_assessment *found,
                                 const char *path, struct bl_error *error)
{
    const struct bl_result_options page = {.form = BL_RESULT_PAGE};
    struct bl_output *output = NULL;
    enum bl_status status = bl_output_open(&output, path, error);
    if (status == BL_OK) {
        status = bl_report_write(found, output, &page, error);
    }
    if (status == BL_OK) {
        return bl_output_commit(output, error);
    }
    bl_output_discard(output);
    return status;
}

int main(int argc, char **argv)
{
    struct bl_trial *trial = NULL;
    struct bl_assessment *found = NULL;
    struct bl_error error = {.source = "usage", .message = "page TRIAL PAGE"};
    const bool good =
        argc == 3 &&
        bl_trial_read_file(&trial, argv[1], NULL, &error) == BL_OK &&
        bl_assess(&found, trial, NULL, NULL, &error) == BL_OK &&
        write_page(found, argv[2], &error) == BL_OK;
    if (!good) {
        fprintf(stderr, "%s: %s\n", error.source, error.message);
    }
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
    return good ? 0 : 1;
}
