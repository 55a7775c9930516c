/* SPDX-License-Identifier: MIT */
/*
 * One run: every combination's command gives its applications, and every
 * application is read on every unit.
 */
#include "lag/command.h"
#include "lag/condition.h"
#include "lag/demand.h"
#include "lag/doubt.h"
#include "lag/own.h"
#include "lag/rules.h"
#include "lag/summary.h"
#include "lag/unit.h"

#include "base/alloc.h"

#include <math.h>
#include <string.h>

/* A combination within the run, while it is measured. */
struct combination {
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    struct bl_run_lag *lag;
    char letter;
    const struct bl_trial_unit *front; /* unit 0 */
    struct bl_track command;
    struct bl_unit_tracks *tracks;
    size_t units;
    struct bl_response_time *response;
    struct bl_command_events events;
};

static enum bl_status find_tracks(struct combination *c, size_t unit,
                                  struct bl_unit_tracks *t,
                                  struct bl_error *error)
{
    const struct bl_trial_unit *u = &c->trial->unit[unit];
    t->unit = unit;
    t->output = bl_alloc(u->outputs, sizeof(*t->output));
    t->past = bl_alloc(u->outputs, sizeof(*t->past));
    t->lag = bl_alloc(u->outputs, sizeof(*t->lag));
    if (t->output == NULL || t->past == NULL || t->lag == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < u->outputs; i++) {
        bl_track_find(&t->output[i], c->trial, c->data, c->clocks,
                      &u->output[i]);
        t->past[i].vented = NAN;
        t->past[i].answered_ns = INT64_MIN;
        t->lag[i].level = bl_alloc(c->trial->levels, sizeof(*t->lag[i].level));
        if (t->lag[i].level == NULL) {
            return bl_fail_memory(error);
        }
        t->outputs = i + 1;
    }
    bl_track_find(&t->control, c->trial, c->data, c->clocks, &u->control);
    bl_track_find(&t->reservoir, c->trial, c->data, c->clocks, &u->reservoir);
    bl_track_find(&t->voltage, c->trial, c->data, c->clocks, &u->voltage);
    const struct bl_bus_series *demand;
    const enum bl_status status =
        bl_demand_series(&demand, c->trial, c->data, unit, error);
    if (status != BL_OK) {
        return status;
    }
    t->demand = (struct bl_track){.absent = BL_REASON_NO_CHANNEL};
    t->demand_level = bl_demand_level(c->trial, c->front);
    if (demand != NULL) {
        bl_track_series(&t->demand, c->data, c->clocks, demand);
    }
    const struct bl_bus_series *report =
        u->number > 0 ? bl_demand_report(c->trial, c->data, unit) : NULL;
    t->report = (struct bl_track){.absent = BL_REASON_NOT_SEEN};
    if (report != NULL) {
        bl_track_series(&t->report, c->data, c->clocks, report);
    }
    t->towed = u->number > 0;
    return BL_OK;
}

static enum bl_status start(struct combination *c, struct bl_error *error)
{
    size_t count = 0;
    for (size_t i = 0; i < c->trial->units; i++) {
        count += c->trial->unit[i].combination == c->letter;
    }
    c->tracks = bl_alloc(count, sizeof(*c->tracks));
    c->response = bl_alloc(count, sizeof(*c->response));
    if (c->tracks == NULL || c->response == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < c->trial->units; i++) {
        if (c->trial->unit[i].combination != c->letter) {
            continue;
        }
        struct bl_unit_tracks *t = &c->tracks[c->units++];
        const enum bl_status status = find_tracks(c, i, t, error);
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

static void finish(struct combination *c)
{
    for (size_t i = 0; i < c->units; i++) {
        struct bl_unit_tracks *t = &c->tracks[i];
        for (size_t o = 0; o < t->outputs; o++) {
            bl_free(t->lag[o].level);
        }
        bl_free(t->output);
        bl_free(t->past);
        bl_free(t->lag);
    }
    bl_free(c->tracks);
    bl_free(c->response);
    bl_command_events_finish(&c->events);
}

/* A moment on the run's time as seconds since its t0. */
static struct bl_figure moment(const struct combination *c,
                               const struct bl_command_event *e, bool release)
{
    const struct bl_passage *p = release ? &e->release : &e->apply;
    if (release && !p->found) {
        return (struct bl_figure){
            .reason = BL_REASON_UNFINISHED, .s = NAN, .u_s = NAN};
    }
    if (!release && e->no_apply != BL_REASON_NONE) {
        return (struct bl_figure){.reason = e->no_apply, .s = NAN, .u_s = NAN};
    }
    struct bl_figure f = {
        .known = true,
        .flags = p->flags | e->flags |
                 bl_track_damage(&c->command, p->time_ns, p->time_ns)};
    f.s = (double)(p->time_ns - c->clocks->t0_ns) * 1e-9;
    f.part = bl_command_uncertainty(&c->command, e, release);
    f.u_s = 0;
    const double parts[] = {f.part.crossing, f.part.sampling, f.part.resolution,
                            f.part.rest,     f.part.delay,    f.part.gain,
                            f.part.zero};
    for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++) {
        f.u_s = hypot(f.u_s, isnan(parts[i]) ? 0 : parts[i]);
    }
    const struct bl_doubt doubt =
        bl_doubt_between(&c->command, p->time_ns, p->time_ns);
    f.flags |= doubt.flags;
    f.u_s = hypot(f.u_s, doubt.u_s);
    f.part.sampling =
        doubt.flags == 0 ? f.part.sampling : hypot(f.part.sampling, doubt.u_s);
    return f;
}

static enum bl_application_kind kind_of(const struct bl_track *command,
                                        const struct bl_command_event *e)
{
    /* Cut off in its rise, nobody knows what it was going to be. */
    if (!e->hold_known || command->is_state ||
        (e->unfinished && e->hold_from != BL_HOLD_SETTLED)) {
        return BL_KIND_UNKNOWN;
    }
    double light;
    double full;
    if (command->quantity == BL_QUANTITY_PRESSURE) {
        light = BL_LIGHT_BELOW_KPA;
        full = BL_FULL_FROM_KPA;
    } else if (command->quantity == BL_QUANTITY_RATIO) {
        light = BL_LIGHT_BELOW_PERCENT;
        full = BL_FULL_FROM_PERCENT;
    } else {
        return BL_KIND_UNKNOWN;
    }
    if (e->hold < light) {
        return BL_KIND_LIGHT;
    }
    return e->hold >= full ? BL_KIND_FULL : BL_KIND_SERVICE;
}

static enum bl_application_shape shape_of(const struct bl_command_event *e)
{
    if (isnan(e->rise_10_90_s)) {
        return BL_SHAPE_UNKNOWN;
    }
    return e->rise_10_90_s <= BL_STEP_S ? BL_SHAPE_STEP : BL_SHAPE_RAMP;
}

static void note_exclusion(const struct combination *c,
                           struct bl_application *application)
{
    const struct bl_trial_run *run = &c->trial->run[c->data->run];
    for (size_t i = 0; i < run->exclusions; i++) {
        if (run->exclude[i].application == application->number) {
            application->excluded = true;
            application->excluded_why = run->exclude[i].why;
        }
    }
}

static void describe(const struct combination *c,
                     struct bl_application *application,
                     const struct bl_command_event *e)
{
    application->combination = c->letter;
    application->begun_before = e->begun_before;
    application->unfinished = e->unfinished;
    application->kind = kind_of(&c->command, e);
    application->shape = shape_of(e);
    application->apply_ns = e->apply.time_ns;
    application->release_ns = e->release.time_ns;
    application->command_apply = moment(c, e, false);
    application->command_release = moment(c, e, true);
    application->command_rest = (struct bl_level){
        .known = !c->command.is_state,
        .reason = c->command.is_state ? BL_REASON_SWITCH_ONLY : BL_REASON_NONE,
        .value = e->rest.value,
        .u = e->rest.u,
        .quantity = c->command.quantity};
    application->command_hold = (struct bl_level){
        .known = e->hold_known,
        .reason = e->hold_known         ? BL_REASON_NONE
                  : c->command.is_state ? BL_REASON_SWITCH_ONLY
                                        : BL_REASON_NO_HOLD,
        .value = e->hold_known ? e->hold : NAN,
        .u = e->hold_known ? e->u_hold : NAN,
        .quantity = c->command.quantity};
    application->command_hold_from = e->hold_from;
    application->modulations = e->modulations;
    application->flags =
        e->flags |
        bl_track_damage(&c->command,
                        e->begun_before ? e->from_ns : e->apply.time_ns,
                        e->end_ns) |
        bl_doubt_between(&c->command,
                         e->begun_before ? e->from_ns : e->apply.time_ns,
                         e->end_ns)
            .flags;
    note_exclusion(c, application);
}

/* Where the outputs of event `i` may be looked for. */
static struct bl_window window_of(const struct combination *c, size_t i)
{
    const struct bl_command_events *events = &c->events;
    const struct bl_command_event *e = &events->item[i];
    struct bl_window w = {.event = e};
    w.from_ns = (e->begun_before ? e->from_ns : e->apply.time_ns) - BL_LEAD_NS;
    w.to_ns = e->to_ns;
    w.before = i > 0 ? &events->item[i - 1] : NULL;
    if (i + 1 < events->count) {
        const struct bl_command_event *next = &events->item[i + 1];
        if (!next->begun_before && next->apply.time_ns - BL_LEAD_NS < w.to_ns) {
            w.to_ns = next->apply.time_ns - BL_LEAD_NS;
            w.next_follows = true;
        }
    }
    if (!w.next_follows) {
        /* The log may run on after the capture. */
        for (size_t u = 0; u < c->units; u++) {
            for (size_t o = 0; o < c->tracks[u].outputs; o++) {
                const struct bl_track *t = &c->tracks[u].output[o];
                if (t->present && t->recording != c->command.recording &&
                    t->last_ns > w.to_ns) {
                    w.to_ns = t->last_ns;
                }
            }
        }
    }
    if (w.to_ns < e->end_ns) {
        w.to_ns = e->end_ns;
    }
    return w;
}

static enum bl_status measure_event(struct combination *c, size_t i,
                                    struct bl_application *application,
                                    struct bl_error *error)
{
    const struct bl_command_event *e = &c->events.item[i];
    describe(c, application, e);
    bl_command_own(application, &c->command, e);
    application->unit = bl_alloc(c->units, sizeof(*application->unit));
    if (application->unit == NULL) {
        return bl_fail_memory(error);
    }
    const struct bl_window window = window_of(c, i);
    for (size_t u = 0; u < c->units; u++) {
        struct bl_unit_lag *unit = &application->unit[u];
        unit->level = bl_alloc(c->trial->levels, sizeof(*unit->level));
        if (unit->level == NULL) {
            return bl_fail_memory(error);
        }
        application->units = u + 1;
        unit->outputs = c->tracks[u].outputs > 1 ? c->tracks[u].outputs : 0;
        unit->each = bl_alloc(unit->outputs, sizeof(*unit->each));
        if (unit->each == NULL) {
            return bl_fail_memory(error);
        }
        bl_unit_measure(unit, &c->response[u], &c->tracks[u], &c->command,
                        c->trial, &window);
    }
    const struct bl_unit_tracks *first = NULL;
    for (size_t u = 0; u < c->units; u++) {
        if (c->tracks[u].towed) {
            first = first == NULL ? &c->tracks[u] : first;
            bl_path_measure(&application->unit[u], &c->response[u],
                            &c->tracks[u], first, &c->command, &window);
            bl_follow_measure(&application->unit[u], &c->response[u],
                              &c->tracks[u], c->trial, &window);
        }
    }
    bl_application_stagger(application, c->response);
    return BL_OK;
}

static void cross(struct bl_run_lag *lag, const struct bl_track *a,
                  const struct bl_track *b, enum bl_hanging what)
{
    if (a->present && b->present && a->recording != b->recording &&
        a->recording < lag->recordings && b->recording < lag->recordings) {
        lag->hanging[a->recording] |= (unsigned)what;
        lag->hanging[b->recording] |= (unsigned)what;
    }
}

/* Which figures take a tie between which recorders. */
static void crossings(const struct combination *c)
{
    const struct bl_track *first = NULL;
    for (size_t u = 0; u < c->units; u++) {
        const struct bl_unit_tracks *t = &c->tracks[u];
        cross(c->lag, &c->command, &t->demand, BL_HANGING_DEMAND);
        for (size_t o = 0; o < t->outputs; o++) {
            const struct bl_track *output = &t->output[o];
            cross(c->lag, &c->command, output, BL_HANGING_LAGS);
            first = first == NULL && output->present ? output : first;
            if (first != NULL) {
                cross(c->lag, first, output, BL_HANGING_STAGGER);
            }
        }
    }
}

/* A start that noise hides is no date: none of the figures that count from it
   is given, and it is said what would do. */
static enum bl_status note_noise(struct combination *c)
{
    const struct bl_command_events *events = &c->events;
    const struct bl_trial_unit *front = c->front;
    if (events->blind == BL_REASON_NONE) {
        return BL_OK;
    }
    const char *unit = bl_quantity_unit(c->command.quantity);
    return bl_note_each(
        &c->lag->notes, "command-below-noise", front->command.line,
        "command_at = %.3g %s lies within the noise of the command '%s' "
        "(standard deviation %.2g %s): when it began cannot be told; "
        "command_at of %.2g %s or more would do, or a quieter channel",
        front->command_at, unit,
        front->command.text == NULL ? "" : front->command.text,
        events->deviation, unit, 5.5 * events->deviation, unit);
}

/* Where the command's stamps are off by so much that an application may be
   missing there, or two be taken for one. */
static enum bl_status note_unseen(const struct combination *c,
                                  struct bl_error *error)
{
    const struct bl_track *t = &c->command;
    const struct bl_time_places *times =
        t->samples != NULL ? t->samples->times : t->steps->times;
    for (size_t i = 0; times != NULL && i < times->places; i++) {
        const struct bl_time_place *p = &times->place[i];
        if (p->off_ns < bl_doubt_hiding_ns || p->kind == BL_TIME_BACK) {
            continue;
        }
        const int64_t at_ns = bl_track_run(t, p->from_ns) - c->clocks->t0_ns;
        if (bl_note(&c->lag->notes, "command-unseen", -1, -1,
                    "%.3f s after the run began the command's stamps are off "
                    "by up to %.3f s: an application there may be missing, or "
                    "two may be taken for one",
                    (double)at_ns * 1e-9, (double)p->off_ns * 1e-9) != BL_OK) {
            return bl_fail_memory(error);
        }
    }
    return BL_OK;
}

static enum bl_status measure_combination(struct combination *c,
                                          struct bl_error *error)
{
    bl_track_find(&c->command, c->trial, c->data, c->clocks,
                  &c->front->command);
    const char *text = c->front->command.text;
    if (!c->command.present && text != NULL && strncmp(text, "none", 4) == 0) {
        return bl_note_each(&c->lag->notes, "no-command",
                            c->front->command.line,
                            "the trial file has no command:%s; write which "
                            "channel or signal it is",
                            text + 4);
    }
    if (!c->command.present) {
        return bl_note_each(
            &c->lag->notes, "no-command", c->front->command.line,
            "the command '%s' was not found in the recordings of this run",
            text == NULL ? "" : text);
    }
    if (c->data->recording[c->command.recording].untimed) {
        return bl_note_each(&c->lag->notes, "no-times", c->front->command.line,
                            "the command '%s' is in a recording without "
                            "times: its order is known, but no lag",
                            text == NULL ? "" : text);
    }
    enum bl_status status = start(c, error);
    if (status == BL_OK) {
        crossings(c);
        status = bl_command_find(&c->events, &c->command, c->front->command_at,
                                 error);
    }
    if (status == BL_OK) {
        status = note_noise(c);
    }
    struct bl_run_lag *lag = c->lag;
    if (status == BL_OK) {
        status = note_unseen(c, error);
    }
    if (status != BL_OK || c->events.count == 0) {
        return status;
    }
    const size_t total = lag->applications + c->events.count;
    struct bl_application *grown =
        bl_realloc(lag->application, total, sizeof(*grown));
    if (grown == NULL) {
        return bl_fail_memory(error);
    }
    lag->application = grown;
    for (size_t i = 0; i < c->events.count && status == BL_OK; i++) {
        struct bl_application *application =
            &lag->application[lag->applications++];
        *application = (struct bl_application){.number = (int)i + 1};
        status = measure_event(c, i, application, error);
    }
    return status;
}

static enum bl_status measure_all(struct bl_run_lag *lag,
                                  const struct bl_trial *trial,
                                  const struct bl_run_data *data,
                                  const struct bl_run_clocks *clocks,
                                  struct bl_error *error)
{
    enum bl_status status = BL_OK;
    bool any_command = false;
    for (size_t i = 0; i < trial->units && status == BL_OK; i++) {
        const struct bl_trial_unit *unit = &trial->unit[i];
        if (unit->number != 0) {
            continue;
        }
        struct combination c = {.trial = trial,
                                .data = data,
                                .clocks = clocks,
                                .lag = lag,
                                .letter = unit->combination,
                                .front = unit};
        status = measure_combination(&c, error);
        any_command = any_command || c.command.present;
        finish(&c);
    }
    if (status == BL_OK && !any_command) {
        const struct bl_note *note = bl_notes_find(&lag->notes, "no-command");
        return bl_fail(error, BL_NODATA, "", "run '%s': %s",
                       trial->run[data->run].name,
                       note == NULL ? "no unit 0 with a command" : note->text);
    }
    return status;
}

/* A unit whose response lies within noise or resolution: which level would do,
   over all applications. */
static enum bl_status note_levels(struct bl_run_lag *lag,
                                  const struct bl_trial *trial)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < trial->units && status == BL_OK; i++) {
        double least = 0;
        for (size_t a = 0; a < lag->applications; a++) {
            const struct bl_application *application = &lag->application[a];
            for (size_t u = 0; u < application->units; u++) {
                const struct bl_unit_lag *measured = &application->unit[u];
                if (measured->unit == i &&
                    measured->figure[BL_FIGURE_RESPONSE].reason ==
                        BL_REASON_BELOW_NOISE) {
                    least = fmax(least, measured->least_level_kpa);
                }
            }
        }
        char name[BL_UNIT_CALLED];
        if (least > 0) {
            status = bl_note_each(
                &lag->notes, "level-below-noise", -1,
                "%s: response_at = %g kPa lies within noise or resolution "
                "of its output; response_at = %.0f kPa would do",
                bl_trial_unit_called(trial, i, name, sizeof(name)),
                trial->response_at_kpa, ceil(least));
        }
    }
    return status;
}

enum bl_status bl_measure_run(struct bl_run_lag **out,
                              const struct bl_trial *trial,
                              const struct bl_run_data *data,
                              const struct bl_run_clocks *clocks,
                              struct bl_error *error)
{
    *out = NULL;
    const uint64_t refused = bl_alloc_refused();
    struct bl_run_lag *lag = bl_alloc(1, sizeof(*lag));
    if (lag == NULL) {
        return bl_fail_memory(error);
    }
    lag->run = data->run;
    lag->t0_ns = clocks->t0_ns;
    lag->recordings = data->recordings;
    lag->hanging = bl_alloc(data->recordings, sizeof(*lag->hanging));
    if (lag->hanging == NULL) {
        bl_run_lag_destroy(lag);
        return bl_fail_memory(error);
    }
    enum bl_status status = measure_all(lag, trial, data, clocks, error);
    if (status == BL_OK && note_levels(lag, trial) != BL_OK) {
        status = bl_fail_memory(error);
    }
    /* First the condition: what it excludes is in no summary. */
    if (status == BL_OK) {
        status = bl_lag_judge_condition(lag, trial, data, clocks, error);
    }
    if (status == BL_OK) {
        status = bl_summarise(lag, trial, error);
    }
    if (status == BL_OK && bl_alloc_refused() != refused) {
        status = bl_fail_memory(error);
    }
    if (status != BL_OK) {
        bl_run_lag_destroy(lag);
        return status;
    }
    *out = lag;
    return BL_OK;
}

void bl_run_lag_destroy(struct bl_run_lag *lag)
{
    if (lag == NULL) {
        return;
    }
    for (size_t a = 0; a < lag->applications; a++) {
        struct bl_application *application = &lag->application[a];
        for (size_t u = 0; u < application->units; u++) {
            bl_free(application->unit[u].level);
            bl_free(application->unit[u].each);
        }
        bl_free(application->unit);
    }
    bl_free(lag->hanging);
    bl_free(lag->application);
    bl_free(lag->summary);
    bl_notes_finish(&lag->notes);
    bl_free(lag);
}
