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

int cli_write_form(const struct bl_result *result, enum bl_result_form form,
                   const struct arguments *arguments, int code)
{
    struct bl_output *output = NULL;
    const int opened = cli_open(&output, arguments);
    if (opened != EXIT_DONE) {
        return cli_worse(code, opened);
    }
    const struct bl_result_options options = {
        form,
        bl_unit_find(option_text(arguments, OPTION_PRESSURE_UNIT, "kPa"))};
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_result_write(result, output, &options, &error) != BL_OK) {
        bl_output_discard(output);
        return cli_worse(code, cli_fail(&error));
    }
    return cli_close(output, code);
}

int cli_write_result(const struct bl_result *result,
                     const struct arguments *arguments, int code)
{
    const enum bl_result_form form =
        has_option(arguments, OPTION_JSON)  ? BL_RESULT_JSON
        : has_option(arguments, OPTION_CSV) ? BL_RESULT_CSV
                                            : BL_RESULT_TEXT;
    return cli_write_form(result, form, arguments, code);
}
