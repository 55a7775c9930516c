/* SPDX-License-Identifier: MIT */
/* reach: did the demand arrive at every unit? And which identifiers should be
   seen on which link. */
#include "cli.h"

static int judge(const struct arguments *arguments,
                 const struct bl_assessment *so_far, size_t run)
{
    (void)arguments;
    const struct bl_reach *reach = so_far->run[run].reach;
    char why[BL_REACH_TEXT];
    if (reach == NULL || bl_reach_expected(so_far->trial, reach, why)) {
        return EXIT_DONE;
    }
    cli_say("run %s: not as expected: %s", so_far->trial->run[run].name, why);
    return EXIT_VERDICT;
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
    bl_reach_ids_destroy(ids);
    return code;
}

int cmd_reach(const struct arguments *arguments)
{
    /* Without a command there are no applications; the frames speak all the
       same. Whether a unit acts on its demand is shown by the others, too, so
       that what causes find of it is looked for; it is not printed. */
    static const struct cli_task task = {
        .parts = BL_ASSESS_REACH | BL_ASSESS_FINDINGS | BL_ASSESS_ANSWER,
        .topics = BL_ANSWER_OF_REACH,
        .needs = CLI_NEEDS_FRAMES,
        .judge = judge};
    struct bl_trial *trial = NULL;
    if (!has_option(arguments, OPTION_EXPECTED)) {
        return cli_run_task(&task, BL_ASSESS_REACH | BL_ASSESS_ANSWER, NULL,
                            arguments);
    }
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = expected(trial, arguments);
    }
    bl_trial_destroy(trial);
    return code;
}
