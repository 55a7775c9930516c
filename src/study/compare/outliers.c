/* SPDX-License-Identifier: MIT */
/*
 * Which values lie apart. One application against the others of its runs, then
 * one run against the other runs of its side: the deleted residual over its
 * standard deviation is Student's t, and the p of the largest is multiplied by
 * how many were looked at (Cook and Weisberg 1982, 2.2.2; Bonferroni). The
 * largest first, again without it, four at most.
 */
#include "study/compare/outliers.h"

#include "stats/stats_common.h"

#include <math.h>
#include <string.h>

/* Named where chance gives as much once in a hundred rows (own choice). */
static const double CHANCE = 0.01;
/* Less is not worth a line, and is what stamps and stairs make (own choices):
   5 ms, or four times what the value was read to. */
static const double LEAST_OFF_S = 0.005, TIMES_U = 4;
/* Of two neither can be told to be the wrong one. */
enum { LEAST_ALIKE = 3 };

struct candidate {
    double p, off_s, mean_s;
    bool against;
    size_t run;
    size_t index; /* in its values; SIZE_MAX: the whole run */
};

static double mean_of_run(const struct bl_values *values, size_t run,
                          size_t *count)
{
    double sum = 0;
    *count = 0;
    for (size_t i = 0; i < values->count; i++) {
        if (values->item[i].run == run) {
            sum += values->item[i].s;
            (*count)++;
        }
    }
    return sum / (double)*count;
}

static bool first_of_run(const struct bl_values *values, size_t index)
{
    return index == 0 || values->item[index - 1].run != values->item[index].run;
}

/* Squares about the means of the runs, of one side. */
static double within(const struct bl_values *values, double *dof)
{
    double squares = 0;
    for (size_t i = 0; i < values->count; i++) {
        size_t count;
        const double off = values->item[i].s -
                           mean_of_run(values, values->item[i].run, &count);
        squares += off * off;
        *dof += 1 - (first_of_run(values, i) ? 1 : 0);
    }
    return squares;
}

/* p of a deleted residual: `off` of one of `n` from their mean, with `squares`
   about all means and `dof` degrees of freedom, the value itself in both. */
static double deleted_p(double off, size_t n, double squares, double dof)
{
    const double leverage = 1 - 1 / (double)n;
    const double rest = squares - off * off / leverage;
    if (!(dof - 1 >= 1) || !(rest > 0)) {
        return rest > 0 || off == 0 ? 1 : 0;
    }
    const double s = sqrt(rest / (dof - 1));
    return bl_student_p(off / (s * sqrt(leverage)), dof - 1);
}

static void look_at(struct candidate *best, const struct candidate *seen,
                    double least)
{
    if (fabs(seen->off_s) >= least && seen->p < best->p) {
        *best = *seen;
    }
}

static void applications(struct candidate *best, const struct bl_values *values,
                         bool against, double squares, double dof)
{
    for (size_t i = 0; i < values->count; i++) {
        size_t n;
        const double mean = mean_of_run(values, values->item[i].run, &n);
        const double off = values->item[i].s - mean;
        if (n < LEAST_ALIKE) {
            continue;
        }
        const double others = off * (double)n / ((double)n - 1);
        look_at(best,
                &(const struct candidate){deleted_p(off, n, squares, dof),
                                          others, values->item[i].s, against,
                                          values->item[i].run, i},
                fmax(LEAST_OFF_S, TIMES_U * values->item[i].u_read_s));
    }
}

static void runs(struct candidate *best, const struct bl_values *values,
                 bool against)
{
    double sum = 0;
    double squares = 0;
    size_t n = 0;
    for (size_t i = 0; i < values->count; i++) {
        size_t count;
        if (first_of_run(values, i)) {
            const double mean =
                mean_of_run(values, values->item[i].run, &count);
            n++;
            const double step = mean - sum;
            sum += step / (double)n;
            squares += step * (mean - sum);
        }
    }
    if (n <= LEAST_ALIKE) {
        return;
    }
    for (size_t i = 0; i < values->count; i++) {
        size_t count;
        if (!first_of_run(values, i)) {
            continue;
        }
        const double mean = mean_of_run(values, values->item[i].run, &count);
        const double off = mean - sum;
        const double p = (double)n * deleted_p(off, n, squares, (double)n - 1);
        look_at(best,
                &(const struct candidate){p, off * (double)n / ((double)n - 1),
                                          mean, against, values->item[i].run,
                                          SIZE_MAX},
                fmax(LEAST_OFF_S, TIMES_U * values->item[i].u_read_s));
    }
}

static void take_out(struct bl_values *values, const struct candidate *which)
{
    size_t kept = 0;
    for (size_t i = 0; i < values->count; i++) {
        const bool out = which->index == SIZE_MAX
                             ? values->item[i].run == which->run
                             : i == which->index;
        if (!out) {
            values->item[kept++] = values->item[i];
        }
    }
    values->count = kept;
}

/* The one that lies apart most. False: none does. */
static bool find_one(struct candidate *best, const struct bl_values *base,
                     const struct bl_values *against)
{
    *best = (struct candidate){.p = INFINITY};
    double dof = 0;
    double squares = within(base, &dof);
    squares += within(against, &dof);
    applications(best, base, false, squares, dof);
    applications(best, against, true, squares, dof);
    best->p *= (double)(base->count + against->count);
    if (best->p <= CHANCE) {
        return true;
    }
    *best = (struct candidate){.p = INFINITY};
    runs(best, base, false);
    runs(best, against, true);
    return best->p <= CHANCE;
}

void bl_compare_outliers(struct bl_comparison_row *row, struct bl_values *base,
                         struct bl_values *against)
{
    struct candidate seen;
    row->outliers = 0;
    while (row->outliers < BL_OUTLIERS && find_one(&seen, base, against)) {
        struct bl_values *values = seen.against ? against : base;
        size_t count;
        (void)mean_of_run(values, seen.run, &count);
        const bool whole = seen.index == SIZE_MAX;
        int number = whole ? 0 : values->item[seen.index].number;
        for (size_t i = 0; whole && count == 1 && i < values->count; i++) {
            number = values->item[i].run == seen.run ? values->item[i].number
                                                     : number;
        }
        row->outlier[row->outliers++] =
            (struct bl_outlier){.run = seen.run,
                                .number = number,
                                .against = seen.against,
                                .value_s = seen.mean_s,
                                .off_s = seen.off_s};
        take_out(values, &seen);
    }
}
