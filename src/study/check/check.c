/* SPDX-License-Identifier: MIT */
/* Method: docs/methods/check.md. */
#include "study/check/check.h"

#include "base/alloc.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

const char *bl_check_state_name(enum bl_check_state state)
{
    static const char *const names[] = {"good", "caution", "not-ready",
                                        "cannot-tell"};
    return names[state];
}

static void check_command(struct bl_checking *c)
{
    size_t whole = 0;
    size_t left_out = 0;
    const char *why = "";
    for (size_t i = 0; c->lag != NULL && i < c->lag->applications; i++) {
        const struct bl_application *a = &c->lag->application[i];
        const bool is_whole = bl_application_whole(a);
        whole += is_whole && !a->excluded;
        left_out += is_whole && a->excluded;
        why = a->excluded && a->excluded_why != NULL ? a->excluded_why : why;
    }
    if (whole > 0) {
        bl_check_add(c, "command", BL_CHECK_GOOD, "",
                     "the command gives %zu whole applications", whole);
        return;
    }
    if (left_out > 0) {
        bl_check_add(c, "command", BL_CHECK_NOT_READY,
                     "see whether these are the files of this run, and whether "
                     "power, data and control air were as the trial file says",
                     "all of %zu whole applications are left out: %.150s",
                     left_out, why);
        return;
    }
    bl_check_add(c, "command", BL_CHECK_NOT_READY,
                 "start the recorders, wait 3 s, press the pedal fully for 2 "
                 "s, let go, wait 3 s, stop; check the wiring of the command",
                 "no whole application was found in the command");
}

static const char record_again[] =
    "see whether the trial file names the right file: `captures` bus "
    "recordings, `logs` analog logs; if so, record again and let the recorder "
    "close its file before it loses power";

/* So many places of a recording are listed one by one. */
enum { PLACES_LISTED = 8 };

static const char pace_again[] =
    "see whether the recorder keeps up: a slower rate, fewer channels, another "
    "memory card, its clock not set while it runs; record again";

static void check_place(struct bl_checking *c,
                        const struct bl_loaded_recording *r,
                        const struct bl_time_place *p)
{
    static const char *const what[] = {
        "nothing was written, or its clock jumped forward",
        "its clock stood still or stepped back",
        "its stamps step back and were sorted in", "its clock jumps back"};
    bl_check_add(c, "time", BL_CHECK_NOT_READY, pace_again,
                 "%.100s: %.3f s after its start %s (%.3f s)",
                 c->trial->recording[r->recording].name,
                 (double)(p->from_ns - r->first_ns) * 1e-9, what[p->kind],
                 (double)p->off_ns * 1e-9);
}

static void check_times(struct bl_checking *c,
                        const struct bl_loaded_recording *r)
{
    const struct bl_time_places *times = &r->times;
    size_t listed = 0;
    for (; listed < times->places && listed < PLACES_LISTED; listed++) {
        check_place(c, r, &times->place[listed]);
    }
    const uint64_t more = times->places - listed + times->more;
    if (more > 0) {
        bl_check_add(c, "time", BL_CHECK_NOT_READY, pace_again,
                     "%.100s: %" PRIu64 " more places where its stamps are not "
                     "to be relied on",
                     c->trial->recording[r->recording].name, more);
    }
}

static void check_recording(struct bl_checking *c, size_t i)
{
    const struct bl_loaded_recording *r = &c->data->recording[i];
    const char *name = c->trial->recording[r->recording].name;
    if (r->status != BL_OK) {
        bl_check_add(c, "recording", BL_CHECK_NOT_READY, record_again, "%.200s",
                     r->failure);
    }
    if (r->untimed) {
        bl_check_add(
            c, "clock", BL_CHECK_NOT_READY,
            "have the recorder write a time with every frame; without times, "
            "what reached which unit can be told, but no lag",
            "%s: it has no times", name);
        return;
    }
    check_times(c, r);
    if (c->clocks == NULL || i >= c->clocks->ties) {
        return;
    }
    const struct bl_clock_tie *tie = &c->clocks->tie[i];
    if (tie->contradicted) {
        bl_check_add(c, "clock", BL_CHECK_NOT_READY,
                     "check the stated offset and its sign, and whether "
                     "capture and log are of one run; or leave it to `auto`",
                     "%s: the stated clock lies %.3f s off what the events on "
                     "both recorders say",
                     name, tie->against_s);
        return;
    }
    switch (tie->claim) {
    case BL_CLAIM_ABSOLUTE:
        if (bl_clock_is_own(tie)) {
            bl_check_add(c, "clock", BL_CHECK_GOOD, "",
                         "%s: its clock is the run's, so lags can be measured",
                         name);
        } else {
            bl_check_add(c, "clock", BL_CHECK_GOOD, "",
                         "%s: clock tied by %s, so lags can be measured", name,
                         tie->method);
        }
        break;
    case BL_CLAIM_BOUNDED:
        bl_check_add(c, "clock", BL_CHECK_GOOD, "",
                     "%s: clock tied by %s, but only to within %.1f ms", name,
                     tie->method, 2e3 * bl_clock_u(tie, r->first_ns));
        break;
    case BL_CLAIM_DIFFERENCES_ONLY:
        bl_check_add(
            c, "clock", BL_CHECK_CAUTION,
            "wire the foot (treadle) valve's switch or the stop lamp to the "
            "logger; then lags across the two recorders can be measured too",
            "%s: clock tied by %s: differences only", name, tie->method);
        break;
    case BL_CLAIM_NONE:
    case BL_CLAIM_AMBIGUOUS:
        bl_check_add(c, "clock", BL_CHECK_NOT_READY,
                     "stab the pedal six times with different pauses while "
                     "both recorders run, or state the offset",
                     "%s: clock not tied: %s", name,
                     bl_clock_claim_name(tie->claim));
        break;
    }
}

enum bl_status bl_check_run(struct bl_check **out, const struct bl_trial *trial,
                            const struct bl_run_data *data,
                            const struct bl_run_clocks *clocks,
                            const struct bl_run_lag *lag,
                            struct bl_error *error)
{
    const uint64_t refused = bl_alloc_refused();
    *out = bl_alloc(1, sizeof(**out));
    if (*out == NULL) {
        return bl_fail_memory(error);
    }
    (*out)->run = data->run;
    struct bl_reach *reach = NULL;
    if (clocks != NULL) {
        const enum bl_status status =
            bl_reach_run(&reach, trial, data, clocks, lag, error);
        if (status != BL_OK) {
            bl_check_destroy(*out);
            *out = NULL;
            return status;
        }
    }
    struct bl_checking c = {*out, trial, data, clocks, lag, reach, false};
    check_command(&c);
    for (size_t i = 0; i < data->recordings; i++) {
        check_recording(&c, i);
    }
    bl_check_channels(&c);
    bl_check_units(&c);
    bl_check_demand(&c);
    bl_check_runs(&c);
    bl_reach_destroy(reach);
    if (c.failed || bl_alloc_refused() != refused) {
        bl_check_destroy(*out);
        *out = NULL;
        return bl_fail_memory(error);
    }
    (*out)->ready = true;
    for (size_t i = 0; i < (*out)->items; i++) {
        (*out)->ready = (*out)->ready &&
                        (*out)->item[i].state != BL_CHECK_NOT_READY &&
                        (*out)->item[i].state != BL_CHECK_CANNOT_TELL;
    }
    return BL_OK;
}

enum bl_status bl_check_unread(struct bl_check **out, size_t run,
                               const struct bl_error *why,
                               struct bl_error *error)
{
    char line[BL_SOURCE_MAX + BL_MESSAGE_MAX + 64];
    *out = bl_alloc(1, sizeof(**out));
    if (*out == NULL) {
        return bl_fail_memory(error);
    }
    (*out)->run = run;
    struct bl_checking c = {.into = *out};
    bl_check_add(&c, "recording", BL_CHECK_NOT_READY, record_again, "%.200s",
                 bl_error_line(why, line, sizeof(line)));
    if (c.failed) {
        bl_check_destroy(*out);
        *out = NULL;
        return bl_fail_memory(error);
    }
    return BL_OK;
}

void bl_check_destroy(struct bl_check *check)
{
    if (check != NULL) {
        bl_free(check->item);
        bl_free(check);
    }
}
