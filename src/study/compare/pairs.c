/* SPDX-License-Identifier: MIT */
#include "study/compare/pairs.h"

#include "base/alloc.h"

#include <string.h>

/* Has the block of this run a measured run of the other condition too? */
static bool has_partner(const struct bl_trial *trial,
                        struct bl_run_lag *const *lag, size_t run,
                        const char *other)
{
    for (size_t i = 0; i < trial->runs; i++) {
        if (lag[i] != NULL && trial->run[i].block != NULL &&
            bl_run_has_condition(trial, i, other) &&
            strcmp(trial->run[i].block, trial->run[run].block) == 0) {
            return true;
        }
    }
    return false;
}

bool bl_blocks_declared(const struct bl_trial *trial,
                        struct bl_run_lag *const *lag, const char *base,
                        const char *against)
{
    bool any = false;
    for (size_t run = 0; run < trial->runs; run++) {
        const bool is_base = bl_run_has_condition(trial, run, base);
        if (lag[run] == NULL ||
            (!is_base && !bl_run_has_condition(trial, run, against))) {
            continue;
        }
        if (trial->run[run].block == NULL) {
            return false;
        }
        any = any || has_partner(trial, lag, run, is_base ? against : base);
    }
    return any;
}

typedef bool partner_test(const struct bl_trial *trial,
                          const struct bl_value_of_run *a,
                          const struct bl_value_of_run *b);

static bool same_block(const struct bl_trial *trial,
                       const struct bl_value_of_run *a,
                       const struct bl_value_of_run *b)
{
    return a->order == b->order &&
           strcmp(trial->run[a->run].block, trial->run[b->run].block) == 0;
}

static bool same_application(const struct bl_trial *trial,
                             const struct bl_value_of_run *a,
                             const struct bl_value_of_run *b)
{
    (void)trial;
    return a->order == b->order && a->run == b->run;
}

static enum bl_status pair_up(struct bl_pairs *pairs,
                              const struct bl_trial *trial,
                              const struct bl_values *base,
                              const struct bl_values *against,
                              partner_test *partners, struct bl_error *error)
{
    *pairs = (struct bl_pairs){0};
    bool *taken = bl_alloc(against->count, sizeof(*taken));
    pairs->difference = bl_alloc(base->count, sizeof(*pairs->difference));
    if (taken == NULL || pairs->difference == NULL) {
        bl_free(taken);
        bl_pairs_finish(pairs);
        return bl_fail_memory(error);
    }
    for (size_t b = 0; b < base->count; b++) {
        size_t a = 0;
        while (
            a < against->count &&
            (taken[a] || !partners(trial, &base->item[b], &against->item[a]))) {
            a++;
        }
        if (a < against->count) {
            taken[a] = true;
            pairs->difference[pairs->count++] =
                against->item[a].s - base->item[b].s;
        }
    }
    pairs->left = base->count + against->count - 2 * pairs->count;
    bl_free(taken);
    return BL_OK;
}

enum bl_status bl_pairs_by_block(struct bl_pairs *pairs,
                                 const struct bl_trial *trial,
                                 const struct bl_values *base,
                                 const struct bl_values *against,
                                 struct bl_error *error)
{
    return pair_up(pairs, trial, base, against, same_block, error);
}

enum bl_status bl_pairs_by_application(struct bl_pairs *pairs,
                                       const struct bl_values *base,
                                       const struct bl_values *against,
                                       struct bl_error *error)
{
    return pair_up(pairs, NULL, base, against, same_application, error);
}

void bl_pairs_finish(struct bl_pairs *pairs)
{
    bl_free(pairs->difference);
    *pairs = (struct bl_pairs){0};
}
