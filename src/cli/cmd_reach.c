/* SPDX-License-Identifier: MIT */
/* reach: did the demand arrive at every unit? And which identifiers should be
   seen on which link. */
#include "cli.h"

#include <string.h>

static int look(struct bl_result *result, const struct bl_trial *trial,
                size_t index, const struct arguments *arguments, bool *any)
{
    struct cli_run run;
    struct bl_reach *reach = NULL;
    struct bl_error error;
    char why[BL_REACH_TEXT];
    bl_error_clear(&error);
    *any = true;
    int code = cli_load_run(&run, trial, index, arguments);
    if (run.clocks == NULL) {
        goto out;
    }
    /* Without a command there are no applications; the frames speak all the
       same. */
    if (bl_measure_run(&run.lag, trial, run.data, run.clocks, &run.error) !=
        BL_OK) {
        char line[1024];
        cli_say("run %s: %s", trial->run[index].name,
                bl_error_line(&run.error, line, sizeof(line)));
        code =
            run.error.status == BL_TRIAL ? cli_worse(code, EXIT_USAGE) : code;
    }
    if (bl_reach_run(&reach, trial, run.data, run.clocks, run.lag, &error) !=
            BL_OK ||
        bl_result_add_reach(result, trial, run.data, run.clocks, reach,
                            &error) != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
        goto out;
    }
    if (!bl_reach_expected(trial, reach, why)) {
        cli_say("run %s: not as expected: %s", trial->run[index].name, why);
        code = cli_worse(code, EXIT_VERDICT);
    }
out:
    bl_reach_destroy(reach);
    cli_run_finish(&run);
    return code;
}

static int expected(const struct bl_trial *trial,
                    const struct arguments *arguments)
{
    struct bl_reach_id *ids = NULL;
    struct bl_output *output = NULL;
    size_t count = 0;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_reach_ids(&ids, &count, trial, &error) != BL_OK) {
        return cli_fail(&error);
    }
    int code = cli_open(&output, arguments);
    if (code == EXIT_DONE) {
        bl_output_text(output, "link,bus,id,sender,message,period_ms\n");
        for (size_t i = 0; i < count; i++) {
            const struct bl_trial_unit *self = &trial->unit[ids[i].unit];
            const struct bl_trial_unit *front = self - 1;
            bl_output_format(output, "%d-%d,%s,", front->address, self->address,
                             self->bus == NULL ? "" : self->bus);
            bl_output_format(output, ids[i].extended ? "%08X," : "%03X,",
                             (unsigned)ids[i].id);
            bl_output_format(output, "%d,%s,%.0f\n",
                             ids[i].from_front ? front->address : self->address,
                             ids[i].message->name, ids[i].message->period_ms);
        }
        code = cli_close(output, code);
    }
    bl_reach_ids_free(ids);
    return code;
}

int cmd_reach(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = has_option(arguments, OPTION_EXPECTED)
                   ? expected(trial, arguments)
                   : cli_write_runs(trial, look, arguments);
    }
    bl_trial_destroy(trial);
    return code;
}
