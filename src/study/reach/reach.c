/* SPDX-License-Identifier: MIT */
/* Reach of the demand, run by run: the order of the work, and its memory. */
#include "study/reach/reach.h"

#include "base/alloc.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

const char *bl_reach_verdict_name(enum bl_reach_verdict verdict)
{
    static const char *const names[] = {
#define X(id, name, words) name,
        BL_REACH_LIST(X)
#undef X
    };
    return names[verdict];
}

const char *bl_reach_verdict_words(enum bl_reach_verdict verdict)
{
    static const char *const words_of[] = {
#define X(id, name, words) words,
        BL_REACH_LIST(X)
#undef X
    };
    return words_of[verdict];
}

const char *bl_reach_claim_name(enum bl_reach_claim claim)
{
    static const char *const names[] = {
#define X(id, name, words) name,
        BL_REACH_CLAIM_LIST(X)
#undef X
    };
    return names[claim];
}

const char *bl_reach_claim_words(enum bl_reach_claim claim)
{
    static const char *const words_of[] = {
#define X(id, name, words) words,
        BL_REACH_CLAIM_LIST(X)
#undef X
    };
    return words_of[claim];
}

const char *bl_reach_answer_name(enum bl_answer answer)
{
    return answer == BL_YES ? "yes" : answer == BL_NO ? "no" : "cannot-tell";
}

const char *bl_gap_kind_name(enum bl_gap_kind kind)
{
    static const char *const names[] = {"this-identifier", "sender", "recorder",
                                        "unknown"};
    return names[kind];
}

double bl_reach_time(const struct bl_reaching *r, size_t recording,
                     int64_t raw_ns)
{
    const struct bl_clock_tie *tie = &r->clocks->tie[recording];
    if (tie->claim == BL_CLAIM_NONE || tie->claim == BL_CLAIM_AMBIGUOUS) {
        return NAN; /* its stamps are no time of the run */
    }
    const int64_t at = bl_clock_map(tie, raw_ns);
    return (double)(at - r->clocks->t0_ns) * 1e-9;
}

int bl_reach_application(const struct bl_reaching *r, char combination,
                         double from_s, double until_s)
{
    for (size_t i = 0; r->lag != NULL && i < r->lag->applications; i++) {
        const struct bl_application *a = &r->lag->application[i];
        const double shift = (double)(r->lag->t0_ns - r->clocks->t0_ns) * 1e-9;
        if (a->combination != combination || !a->command_apply.known) {
            continue;
        }
        const double begin = a->command_apply.s + shift;
        const double end =
            a->command_release.known ? a->command_release.s + shift : INFINITY;
        if (from_s < end && until_s > begin) {
            return a->number;
        }
    }
    return 0;
}

struct bl_reach_unit *bl_reach_front(const struct bl_reaching *r, size_t k)
{
    if (k == 0) {
        return NULL;
    }
    const struct bl_reach_unit *self = &r->into->unit[k];
    struct bl_reach_unit *front = &r->into->unit[k - 1];
    return r->trial->unit[front->unit].combination ==
                   r->trial->unit[self->unit].combination
               ? front
               : NULL;
}

struct bl_reach_unit *bl_reach_first(const struct bl_reaching *r, size_t k,
                                     size_t *index)
{
    const char combination = r->trial->unit[r->into->unit[k].unit].combination;
    for (size_t i = 0; i <= k; i++) {
        struct bl_reach_unit *unit = &r->into->unit[i];
        if (r->trial->unit[unit->unit].combination == combination &&
            unit->found) {
            *index = i;
            return unit;
        }
    }
    return NULL;
}

void bl_reach_why(struct bl_reach_unit *unit, const char *format, ...)
{
    if (unit->whys == BL_REACH_WHY) {
        return;
    }
    va_list list;
    va_start(list, format);
    (void)vsnprintf(unit->why[unit->whys++], BL_REACH_TEXT, format, list);
    va_end(list);
}

static void start_unit(struct bl_reach_unit *unit, size_t index)
{
    const struct bl_figure none = {.reason = BL_REASON_NO_DATA};
    unit->unit = index;
    unit->address = -1;
    unit->period_s = NAN;
    unit->least_s = unit->median_s = unit->most_s = unit->nominal_s = NAN;
    unit->lost_share = NAN;
    unit->first_frame_s = unit->first_valid_s = NAN;
    unit->difference_counts = unit->difference_kpa = unit->share = NAN;
    unit->got_kpa = unit->passed_kpa = unit->capped_kpa = NAN;
    unit->worst_delay_s = NAN;
    unit->volts_least = unit->volts_least_s = unit->u_volts = NAN;
    unit->delay = unit->added = none;
}

static enum bl_status start(struct bl_reaching *r, struct bl_error *error)
{
    struct bl_reach *into = r->into;
    const struct bl_trial *trial = r->trial;
    const struct bl_trial_run *run = &trial->run[r->data->run];
    into->run = r->data->run;
    into->declared_off =
        run->power == BL_STATED_OFF || run->data == BL_STATED_OFF ||
        (run->power == BL_STATED_STOP_LAMP_ONLY && run->data != BL_STATED_ON);
    into->applications_known = r->lag != NULL;
    into->unit = bl_alloc(trial->units, sizeof(*into->unit));
    r->series = bl_alloc(trial->units, sizeof(struct bl_bus_series *));
    r->link = bl_alloc(trial->units, sizeof(struct bl_link_id *));
    if (into->unit == NULL || r->series == NULL || r->link == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < trial->units; i++) {
        if (trial->unit[i].number > 0) {
            start_unit(&into->unit[into->units++], i);
        }
    }
    return BL_OK;
}

static enum bl_status look(struct bl_reaching *r, struct bl_error *error)
{
    enum bl_status status = BL_OK;
    bl_reach_find(r);
    status = bl_reach_rhythm(r, error);
    for (size_t k = 0; status == BL_OK && k < r->into->units; k++) {
        status = bl_reach_frames(r, k, error);
        if (status == BL_OK) {
            status = bl_reach_count(r, k, error);
        }
        if (status == BL_OK) {
            status = bl_reach_statuses(r, k, error);
        }
        if (status == BL_OK) {
            bl_reach_called(r, k);
        }
    }
    if (status == BL_OK) {
        status = bl_reach_values(r, error);
    }
    if (status == BL_OK) {
        status = bl_reach_senders(r, error);
    }
    for (size_t k = 0; status == BL_OK && k < r->into->units; k++) {
        status = bl_reach_follow(r, k, error);
    }
    return status;
}

enum bl_status bl_reach_run(struct bl_reach **out, const struct bl_trial *trial,
                            const struct bl_run_data *data,
                            const struct bl_run_clocks *clocks,
                            const struct bl_run_lag *lag,
                            struct bl_error *error)
{
    *out = NULL;
    const uint64_t refused = bl_alloc_refused();
    struct bl_reaching r = {.trial = trial,
                            .data = data,
                            .clocks = clocks,
                            .lag = lag,
                            .into = bl_alloc(1, sizeof(struct bl_reach))};
    enum bl_status status =
        r.into == NULL ? bl_fail_memory(error) : start(&r, error);
    if (status == BL_OK) {
        status = look(&r, error);
    }
    if (status == BL_OK) {
        bl_reach_judge(&r);
        status = r.into->findings.failed || bl_alloc_refused() != refused
                     ? bl_fail_memory(error)
                     : BL_OK;
    }
    bl_free(r.series);
    bl_free(r.link);
    bl_reach_rhythm_finish(&r);
    if (status != BL_OK) {
        bl_reach_destroy(r.into);
        return status;
    }
    *out = r.into;
    return BL_OK;
}

void bl_reach_destroy(struct bl_reach *reach)
{
    if (reach == NULL) {
        return;
    }
    for (size_t i = 0; reach->unit != NULL && i < reach->units; i++) {
        bl_free(reach->unit[i].gap);
        bl_free(reach->unit[i].count);
        bl_free(reach->unit[i].status);
        bl_free(reach->unit[i].follow);
    }
    bl_free(reach->unit);
    bl_free(reach->sender);
    bl_findings_finish(&reach->findings);
    bl_free(reach);
}
