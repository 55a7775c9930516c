/* SPDX-License-Identifier: MIT */
/* Where results go. */
#include "cli.h"

int cli_open(struct bl_output **out, const struct arguments *arguments)
{
    struct bl_error error;
    bl_error_clear(&error);
    const char *path = option_text(arguments, OPTION_OUTPUT, "-");
    if (bl_output_open(out, path, &error) == BL_OK) {
        return EXIT_DONE;
    }
    (void)cli_fail(&error);
    return EXIT_SYSTEM;
}

int cli_close(struct bl_output *output, int code)
{
    if (code == EXIT_USAGE || code == EXIT_SYSTEM) {
        bl_output_discard(output);
        return code;
    }
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_output_commit(output, &error) == BL_OK) {
        return code;
    }
    (void)cli_fail(&error);
    return cli_worse(code, EXIT_SYSTEM);
}
