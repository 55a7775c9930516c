/* SPDX-License-Identifier: MIT */
/*
 * A program of one's own on the library: prints when each unit responded in
 * every application of the first run with a command.
 *
 *     cc response.c $(pkg-config --cflags --libs brakelag) -o response
 *     ./response trial.ini
 */
#include <brakelag/brakelag.h>

#include <stdio.h>

/* Everything about one run; what was not reached is NULL. */
struct run {
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct bl_run_lag *lag;
};

static void run_finish(struct run *run)
{
    bl_run_lag_destroy(run->lag);
    bl_run_clocks_destroy(run->clocks);
    bl_run_data_destroy(run->data);
}

static enum bl_status run_measure(struct run *run, const struct bl_trial *trial,
                                  size_t index, struct bl_error *error)
{
    enum bl_status status = bl_load_run(&run->data, trial, index, error);
    if (status == BL_OK) {
        status = bl_clock_tie_run(&run->clocks, trial, run->data, error);
    }
    if (status == BL_OK) {
        status =
            bl_measure_run(&run->lag, trial, run->data, run->clocks, error);
    }
    return status;
}

/* A missing figure has a reason; it is never zero. */
static void print_unit(const struct bl_trial *trial,
                       const struct bl_unit_lag *unit)
{
    const struct bl_figure *response = &unit->figure[BL_FIGURE_RESPONSE];
    const struct bl_trial_unit *of = &trial->unit[unit->unit];
    printf("  unit %d %-16s ", of->number, of->name == NULL ? "" : of->name);
    if (response->known) {
        printf("%.3f s +- %.3f s\n", response->s, 2 * response->u_s);
    } else {
        printf("none: %s\n", bl_reason_meaning(response->reason));
    }
}

static void print_run(const struct bl_trial *trial,
                      const struct bl_run_lag *lag)
{
    for (size_t i = 0; i < lag->applications; i++) {
        const struct bl_application *application = &lag->application[i];
        printf("run %s, application %d\n", trial->run[lag->run].name,
               application->number);
        for (size_t k = 0; k < application->units; k++) {
            print_unit(trial, &application->unit[k]);
        }
    }
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: response TRIAL\n");
        return 2;
    }
    struct bl_error error;
    bl_error_clear(&error);
    struct bl_trial *trial = NULL;
    enum bl_status status = bl_trial_read_file(&trial, argv[1], NULL, &error);
    bool printed = false;
    for (size_t i = 0; status == BL_OK && !printed && i < trial->runs; i++) {
        struct run run = {NULL, NULL, NULL};
        status = run_measure(&run, trial, i, &error);
        if (status == BL_OK) {
            print_run(trial, run.lag);
            printed = true;
        } else if (status == BL_NODATA) {
            bl_error_clear(&error); /* no command in this one: the next */
            status = BL_OK;
        }
        run_finish(&run);
    }
    bl_trial_destroy(trial);
    if (status != BL_OK) {
        char text[BL_SOURCE_MAX + BL_MESSAGE_MAX + 64];
        fprintf(stderr, "%s\n", bl_error_line(&error, text, sizeof(text)));
        return 1;
    }
    return printed ? 0 : 4;
}
