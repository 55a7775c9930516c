/* SPDX-License-Identifier: MIT */
/*
 * What the page draws beside the result: per application the traces of its
 * channels and demands, decimated (decimate.h), as whole numbers that differ
 * from the one before. docs/report.md describes the shape.
 */
#include "report/decimate.h"
#include "report/result.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "lag/demand.h"
#include "lag/track.h"

#include <math.h>
#include <string.h>

/* A page of some megabytes holds about this many points. */
enum { POINTS_IN_PAGE = 120000, POINTS_LEAST = 60, POINTS_MOST = 700 };

static const int64_t second_ns = 1000000000;
static const int64_t tick_ns = 100000;

struct run_view {
    struct bl_tree *tree;
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    json_t *channels;       /* of the run, each once */
    size_t most;            /* points of one trace */
    int64_t from_ns, to_ns; /* of the application, run time */
};

static double quantum(enum bl_quantity quantity)
{
    return quantity == BL_QUANTITY_VOLTAGE ? 0.01 : 0.1;
}

static bool append(struct bl_point **point, size_t *count, size_t *capacity,
                   int64_t time_ns, double value)
{
    if (*count == *capacity) {
        const size_t wanted = *capacity == 0 ? 1024 : 2 * *capacity;
        struct bl_point *grown =
            wanted > BL_LIMIT_SAMPLES
                ? NULL
                : bl_realloc(*point, wanted, sizeof(**point));
        if (grown == NULL) {
            return false;
        }
        *point = grown;
        *capacity = wanted;
    }
    (*point)[(*count)++] = (struct bl_point){time_ns, value};
    return true;
}

/* Nothing is known in the middle between two times. */
static bool append_break(struct bl_point **point, size_t *count,
                         size_t *capacity, int64_t before_ns, int64_t after_ns)
{
    return append(point, count, capacity,
                  before_ns + (after_ns - before_ns) / 2, NAN);
}

static bool sample_points(const struct run_view *view,
                          const struct bl_track *track, struct bl_point **point,
                          size_t *count)
{
    const struct bl_samples *s = track->samples;
    const int64_t to_ns = bl_track_raw(track, view->to_ns);
    size_t capacity = 0;
    size_t i = bl_samples_at(s, bl_track_raw(track, view->from_ns));
    for (; i < s->count && s->time_ns[i] < to_ns; i++) {
        const int64_t at_ns = bl_track_run(track, s->time_ns[i]);
        if (*count > 0 && bl_samples_break(s, i) &&
            !append_break(point, count, &capacity,
                          bl_track_run(track, s->time_ns[i - 1]), at_ns)) {
            return false;
        }
        if (!append(point, count, &capacity, at_ns, s->value[i])) {
            return false;
        }
    }
    return true;
}

/* A held value is drawn from its first frame on, until the next one comes; to
   its last frame where none does, or none did for a while. */
static bool step_points(const struct run_view *view,
                        const struct bl_track *track, struct bl_point **point,
                        size_t *count)
{
    const struct bl_steps *steps = track->steps;
    size_t capacity = 0;
    for (size_t i = 0; i < steps->count; i++) {
        const struct bl_segment *segment = &steps->segment[i];
        const int64_t first_ns = bl_track_run(track, segment->first_ns);
        const int64_t last_ns = bl_track_run(track, segment->last_ns);
        const bool more = i + 1 < steps->count;
        const int64_t next_ns =
            more ? bl_track_run(track, segment[1].first_ns) : INT64_MAX;
        const bool cut = more && bl_steps_break(steps, i + 1);
        if (last_ns < view->from_ns || first_ns >= view->to_ns) {
            continue;
        }
        const double value =
            segment->state == BL_VALUE_VALID ? segment->value : NAN;
        const int64_t end_ns = last_ns < view->to_ns ? last_ns : view->to_ns;
        if (!append(point, count, &capacity,
                    first_ns < view->from_ns ? view->from_ns : first_ns,
                    value) ||
            ((!more || cut || next_ns >= view->to_ns) && last_ns > first_ns &&
             !append(point, count, &capacity, end_ns, value)) ||
            (cut && last_ns < view->to_ns &&
             !append_break(point, count, &capacity, last_ns, next_ns))) {
            return false;
        }
    }
    return true;
}

static void put_points(const struct run_view *view, json_t *object,
                       const struct bl_point *point, size_t count, double scale)
{
    json_t *times = bl_tree_array(view->tree);
    json_t *values = bl_tree_array(view->tree);
    int64_t at = 0;
    int64_t level = 0;
    for (size_t i = 0; i < count; i++) {
        const int64_t tick = (point[i].time_ns - view->from_ns) / tick_ns;
        bl_tree_append(view->tree, times, json_integer(tick - at));
        at = tick;
        if (isfinite(point[i].value) && fabs(point[i].value) < 1e12) {
            const int64_t now = llround(point[i].value / scale);
            bl_tree_append(view->tree, values, json_integer(now - level));
            level = now;
        } else {
            bl_tree_append(view->tree, values, json_null());
        }
    }
    bl_tree_put(view->tree, object, "t", times);
    bl_tree_put(view->tree, object, "v", values);
}

/* Which channel of the run this is. The same ones come in every application, so
   what they are is said once. Takes `channel`. */
static size_t channel_of(const struct run_view *view, json_t *channel)
{
    const size_t count = json_array_size(view->channels);
    for (size_t i = 0; i < count; i++) {
        if (json_equal(json_array_get(view->channels, i), channel)) {
            json_decref(channel);
            return i;
        }
    }
    bl_tree_append(view->tree, view->channels, channel);
    return count;
}

static void put_trace(const struct run_view *view, json_t *traces,
                      const struct bl_track *track, const char *unit,
                      const char *what, const char *name)
{
    if (!track->present) {
        return;
    }
    struct bl_point *point = NULL;
    size_t count = 0;
    const bool had = track->samples != NULL
                         ? sample_points(view, track, &point, &count)
                         : step_points(view, track, &point, &count);
    if (!had) {
        view->tree->failed = true;
    }
    if (had && count > 0) {
        const double resolution = track->samples != NULL
                                      ? track->samples->resolution
                                      : track->steps->resolution;
        const double scale = quantum(track->quantity);
        const bool fine =
            strcmp(what, "reservoir") != 0 && strcmp(what, "voltage") != 0;
        count = bl_decimate(point, count, fine ? view->most : view->most / 3,
                            isfinite(resolution) ? resolution : 0,
                            track->steps != NULL);
        json_t *channel = bl_tree_object(view->tree);
        bl_tree_text(view->tree, channel, "unit", unit);
        bl_tree_text(view->tree, channel, "what", what);
        bl_tree_text(view->tree, channel, "name", name);
        bl_tree_text(view->tree, channel, "measured_in",
                     bl_quantity_unit(track->quantity));
        bl_tree_bool(view->tree, channel, "held", track->steps != NULL);
        bl_tree_number(view->tree, channel, "scale", scale);
        json_t *object = bl_tree_object(view->tree);
        bl_tree_count(view->tree, object, "channel", channel_of(view, channel));
        put_points(view, object, point, count, scale);
        bl_tree_append(view->tree, traces, object);
    }
    bl_free(point);
}

static void put_input(const struct run_view *view, json_t *traces,
                      const struct bl_trial_input *input, const char *unit,
                      const char *what)
{
    if (input->kind != BL_INPUT_NONE) {
        struct bl_track track;
        bl_track_find(&track, view->trial, view->data, view->clocks, input);
        put_trace(view, traces, &track, unit, what, input->text);
    }
}

static void put_demand(const struct run_view *view, json_t *traces,
                       size_t index, const char *unit)
{
    const struct bl_bus_series *series = NULL;
    struct bl_error ignored; /* told by the figures: the demand is refused */
    bl_error_clear(&ignored);
    if (bl_demand_series(&series, view->trial, view->data, index, &ignored) ==
            BL_OK &&
        series != NULL) {
        struct bl_track track;
        bl_track_series(&track, view->data, view->clocks, series);
        put_trace(view, traces, &track, unit, "demand", series->signal->name);
    }
}

static void put_unit(const struct run_view *view, json_t *traces, size_t index)
{
    const struct bl_trial_unit *unit = &view->trial->unit[index];
    char label[32];
    (void)bl_trial_unit_label(unit, label, sizeof(label));
    put_input(view, traces, &unit->command, label, "command");
    put_demand(view, traces, index, label);
    put_input(view, traces, &unit->control, label, "control");
    put_input(view, traces, &unit->control_b, label, "control_b");
    for (size_t i = 0; i < unit->outputs; i++) {
        put_input(view, traces, &unit->output[i], label, "output");
    }
    put_input(view, traces, &unit->reservoir, label, "reservoir");
    put_input(view, traces, &unit->voltage, label, "voltage");
}

/* The longest time after the release that a figure of the application needs. */
static double last_event_s(const struct bl_application *application)
{
    double last = 0;
    for (size_t i = 0; i < application->units; i++) {
        const struct bl_figure *end =
            &application->unit[i].figure[BL_FIGURE_RELEASE_END];
        last = end->known && end->s > last ? end->s : last;
    }
    return last;
}

static void set_window(struct run_view *view,
                       const struct bl_application *application)
{
    const bool begin = application->command_apply.known;
    const bool end = application->command_release.known;
    const int64_t apply_ns =
        begin ? application->apply_ns
              : (end ? application->release_ns - 2 * second_ns
                     : view->clocks->t0_ns);
    view->from_ns = apply_ns - second_ns / 2;
    view->to_ns = (end ? application->release_ns + second_ns +
                             (int64_t)(last_event_s(application) * 1e9)
                       : apply_ns + 6 * second_ns);
}

static size_t points_of_one(const struct bl_trial *trial, size_t applications)
{
    size_t traces = 0;
    for (size_t i = 0; i < trial->units; i++) {
        const struct bl_trial_unit *unit = &trial->unit[i];
        traces += 2 + unit->outputs + (unit->control_b.kind != BL_INPUT_NONE);
    }
    /* Every run is taken to be like this one. */
    const size_t all =
        (traces + 1) * (applications + 1) * (trial->runs > 0 ? trial->runs : 1);
    const size_t most = POINTS_IN_PAGE / all;
    return most < POINTS_LEAST  ? POINTS_LEAST
           : most > POINTS_MOST ? POINTS_MOST
                                : most;
}

json_t *bl_model_traces(struct bl_tree *tree, const struct bl_trial *trial,
                        const struct bl_run_data *data,
                        const struct bl_run_clocks *clocks,
                        const struct bl_run_lag *lag)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "run", trial->run[lag->run].name);
    json_t *channels = bl_tree_array(tree);
    json_t *applications = bl_tree_array(tree);
    struct run_view view = {.tree = tree,
                            .trial = trial,
                            .data = data,
                            .clocks = clocks,
                            .channels = channels,
                            .most = points_of_one(trial, lag->applications)};
    for (size_t i = 0; i < lag->applications && !tree->failed; i++) {
        const struct bl_application *application = &lag->application[i];
        set_window(&view, application);
        const char combination[2] = {application->combination, '\0'};
        json_t *window = bl_tree_object(tree);
        bl_tree_count(tree, window, "number", (uint64_t)application->number);
        bl_tree_text(tree, window, "combination", combination);
        bl_tree_number(tree, window, "from_s",
                       (double)(view.from_ns - lag->t0_ns) * 1e-9);
        bl_tree_number(tree, window, "to_s",
                       (double)(view.to_ns - lag->t0_ns) * 1e-9);
        json_t *traces = bl_tree_array(tree);
        for (size_t u = 0; u < trial->units; u++) {
            if (trial->unit[u].combination == application->combination) {
                put_unit(&view, traces, u);
            }
        }
        bl_tree_put(tree, window, "traces", traces);
        bl_tree_append(tree, applications, window);
    }
    bl_tree_put(tree, object, "channels", channels);
    bl_tree_put(tree, object, "applications", applications);
    return object;
}
