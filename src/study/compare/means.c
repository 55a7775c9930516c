/* SPDX-License-Identifier: MIT */
/* Means of runs and of blocks, and what they scatter by. */
#include "study/compare/means.h"

#include "base/alloc.h"

#include <math.h>
#include <string.h>

static enum bl_status room(struct bl_run_means *means, size_t values,
                           struct bl_error *error)
{
    means->mean = bl_alloc(values, sizeof(*means->mean));
    means->run = bl_alloc(values, sizeof(*means->run));
    means->size = bl_alloc(values, sizeof(*means->size));
    means->value = bl_alloc(values, sizeof(*means->value));
    if (means->mean == NULL || means->run == NULL || means->size == NULL ||
        means->value == NULL) {
        bl_run_means_finish(means);
        return bl_fail_memory(error);
    }
    return BL_OK;
}

void bl_run_means_finish(struct bl_run_means *means)
{
    bl_free(means->mean);
    bl_free(means->run);
    bl_free(means->size);
    bl_free(means->value);
    *means = (struct bl_run_means){0};
}

static void one_more(struct bl_run_means *means, size_t run, double value)
{
    if (means->count == 0 || means->run[means->count - 1] != run) {
        means->run[means->count] = run;
        means->size[means->count] = 0;
        means->mean[means->count++] = 0;
    }
    const size_t last = means->count - 1;
    means->size[last]++;
    means->mean[last] +=
        (value - means->mean[last]) / (double)means->size[last];
    means->value[means->values++] = value;
}

/* Values come run by run (values.c). */
enum bl_status bl_run_means_find(struct bl_run_means *means,
                                 const struct bl_values *values,
                                 struct bl_error *error)
{
    *means = (struct bl_run_means){0};
    const enum bl_status status = room(means, values->count, error);
    for (size_t i = 0; status == BL_OK && i < values->count; i++) {
        one_more(means, values->item[i].run, values->item[i].s);
    }
    return status;
}

/* Mean of the runs of one block; NaN: there are none. */
static double block_mean(const struct bl_trial *trial,
                         const struct bl_run_means *means, const char *block)
{
    double sum = 0;
    size_t count = 0;
    for (size_t i = 0; i < means->count; i++) {
        const char *own = trial->run[means->run[i]].block;
        if (own != NULL && strcmp(own, block) == 0) {
            sum += means->mean[i];
            count++;
        }
    }
    return count == 0 ? (double)NAN : sum / (double)count;
}

static bool first_of_block(const struct bl_trial *trial,
                           const struct bl_run_means *means, size_t at)
{
    const char *block = trial->run[means->run[at]].block;
    for (size_t i = 0; i < at; i++) {
        const char *other = trial->run[means->run[i]].block;
        if (other != NULL && strcmp(other, block) == 0) {
            return false;
        }
    }
    return true;
}

enum bl_status bl_block_differences(struct bl_run_means *out,
                                    const struct bl_trial *trial,
                                    const struct bl_run_means *base,
                                    const struct bl_run_means *against,
                                    struct bl_error *error)
{
    *out = (struct bl_run_means){0};
    const enum bl_status status = room(out, base->count, error);
    for (size_t i = 0; status == BL_OK && i < base->count; i++) {
        const char *block = trial->run[base->run[i]].block;
        if (block == NULL || !first_of_block(trial, base, i)) {
            continue;
        }
        const double other = block_mean(trial, against, block);
        if (!isnan(other)) {
            one_more(out, base->run[i], other - block_mean(trial, base, block));
        }
    }
    return status;
}

enum bl_status bl_run_differences(struct bl_run_means *out,
                                  const struct bl_values *base,
                                  const struct bl_values *against,
                                  struct bl_error *error)
{
    *out = (struct bl_run_means){0};
    const enum bl_status status = room(out, base->count, error);
    for (size_t i = 0; status == BL_OK && i < base->count; i++) {
        for (size_t k = 0; k < against->count; k++) {
            if (against->item[k].run == base->item[i].run &&
                against->item[k].number == base->item[i].number) {
                one_more(out, base->item[i].run,
                         against->item[k].s - base->item[i].s);
                break;
            }
        }
    }
    return status;
}

double bl_mean_of_means(const struct bl_run_means *means)
{
    double sum = 0;
    for (size_t i = 0; i < means->count; i++) {
        sum += means->mean[i];
    }
    return means->count == 0 ? (double)NAN : sum / (double)means->count;
}

enum bl_status bl_scatter_of(struct bl_variance *out,
                             const struct bl_run_means *means,
                             struct bl_error *error)
{
    *out = (struct bl_variance){.within_sd = NAN, .between_sd = NAN};
    return means->values == 0 ? BL_OK
                              : bl_variance_of(out, means->value, means->size,
                                               means->count, error);
}

double bl_command_half_width(const struct bl_comparison_row *row)
{
    return sqrt(3) * row->u_command_s;
}

/* --- how many more --- */

/* A run costs as much as so many applications: charging, plugging, notes. More
   than so many in a run heat the brakes (own choices). */
enum { RUN_COSTS = 5, MOST_APPLICATIONS = 12, MOST_RUNS = 200 };
/* Nobody times a pedal better: a tenth of a small difference is no aim (own
   choice). */
static const double LEAST_AIM_S = 0.005;

/* Variances that an aim is planned by: of one run on each side together. */
struct planned {
    double between, within; /* of the difference of two runs, of one
                               application on each side */
    bool pairs;
};

static double pooled(double a, double dof_a, double b, double dof_b)
{
    const double know_a = isnan(a) ? 0 : dof_a;
    const double know_b = isnan(b) ? 0 : dof_b;
    if (!(know_a + know_b > 0)) {
        return (double)NAN;
    }
    return ((isnan(a) ? 0 : a * a * know_a) + (isnan(b) ? 0 : b * b * know_b)) /
           (know_a + know_b);
}

static struct planned plan_of(const struct bl_comparison_row *row)
{
    const struct bl_variance *b = &row->of_runs.base;
    const struct bl_variance *a = &row->of_runs.against;
    struct planned plan = {.pairs = row->scope == BL_SCOPE_PAIRS};
    const double within =
        pooled(b->within_sd, b->dof_within, a->within_sd, a->dof_within);
    plan.within = isnan(within) ? 0 : 2 * within;
    if (plan.pairs) {
        const double seen =
            row->mean.u * row->mean.u * (double)row->mean.n_base;
        const double size = fmax(1, fmin(b->mean_size, a->mean_size));
        plan.between = fmax(0, seen - plan.within / size);
    } else {
        const double between = pooled(b->between_sd, b->dof_between,
                                      a->between_sd, a->dof_between);
        /* Nothing within is known of one application a run: all is between. */
        const double seen =
            row->mean.u * row->mean.u *
            (double)fmin((double)row->mean.n_base, (double)row->mean.n_against);
        plan.between = isnan(between) ? seen : 2 * between;
    }
    return plan;
}

static double half_width(const struct planned *plan, size_t runs,
                         size_t applications, double confidence)
{
    const double dof = plan->pairs ? (double)runs - 1 : 2 * ((double)runs - 1);
    const double variance =
        (plan->between + plan->within / (double)applications) / (double)runs;
    return bl_student_quantile(0.5 + 0.5 * confidence, dof) * sqrt(variance);
}

/* By the normal distribution, which asks for fewer than Student's. */
static size_t fewest_runs(const struct planned *plan, size_t applications,
                          double confidence, double room)
{
    const double z = bl_normal_quantile(0.5 + 0.5 * confidence);
    const double runs =
        z * z * (plan->between + plan->within / (double)applications) / room;
    return runs <= BL_RUNS_LEAST ? (size_t)BL_RUNS_LEAST
           : runs > MOST_RUNS    ? (size_t)MOST_RUNS + 1
                                 : (size_t)runs;
}

void bl_compare_aim(struct bl_comparison_row *row, double fixed_s)
{
    struct bl_aim *aim = &row->aim;
    if (!(aim->half_width_s > 0)) {
        aim->half_width_s = fmax(LEAST_AIM_S, fabs(row->difference_s) / 10);
    }
    if (row->scope == BL_SCOPE_THESE_RUNS || isnan(row->mean.u)) {
        return;
    }
    const double left = aim->half_width_s - bl_command_half_width(row);
    const double room = left > 0 ? left * left - 4 * fixed_s * fixed_s : 0;
    const struct planned plan = plan_of(row);
    size_t least = SIZE_MAX;
    for (size_t m = BL_RUNS_LEAST; room > 0 && m <= MOST_APPLICATIONS; m++) {
        size_t runs = fewest_runs(&plan, m, row->mean.confidence, room);
        while (runs <= MOST_RUNS &&
               half_width(&plan, runs, m, row->mean.confidence) > sqrt(room)) {
            runs++;
        }
        if (runs <= MOST_RUNS && runs * (RUN_COSTS + m) < least) {
            least = runs * (RUN_COSTS + m);
            aim->runs = runs;
            aim->applications = m;
        }
    }
}
