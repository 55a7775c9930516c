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
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_output_commit(output, &error) == BL_OK) {
        return code;
    }
    (void)cli_fail(&error);
    return cli_worse(code, EXIT_SYSTEM);
}

int cli_write_result(const struct bl_result *result,
                     const struct arguments *arguments, int code)
{
    struct bl_output *output = NULL;
    const int opened = cli_open(&output, arguments);
    if (opened != EXIT_DONE) {
        return cli_worse(code, opened);
    }
    struct bl_result_options options = {BL_RESULT_TEXT, NULL};
    if (has_option(arguments, OPTION_JSON)) {
        options.form = BL_RESULT_JSON;
    } else if (has_option(arguments, OPTION_CSV)) {
        options.form = BL_RESULT_CSV;
    }
    options.pressure =
        bl_unit_find(option_text(arguments, OPTION_PRESSURE_UNIT, "kPa"));
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_result_write(result, output, &options, &error) != BL_OK) {
        bl_output_discard(output);
        return cli_worse(code, cli_fail(&error));
    }
    return cli_close(output, code);
}
