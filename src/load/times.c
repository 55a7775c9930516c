/* SPDX-License-Identifier: MIT */
/*
 * Places where the stamps of a recording are not to be relied on: from the
 * files to the recording, and from there to its series.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/pace.h"

#include <inttypes.h>
#include <math.h>

enum bl_status bl_times_add(struct bl_loaded_recording *recording,
                            const struct bl_time_place *place)
{
    return bl_time_places_add(&recording->times, place);
}

/* A raw stamp of a file as it was placed; the ends of what is known stay. */
static int64_t placed(int64_t time_ns, int64_t shift_ns)
{
    const int64_t most = BL_LIMIT_TIME_NS;
    if (time_ns > most - shift_ns) {
        return INT64_MAX;
    }
    return time_ns < -most ? INT64_MIN : time_ns + shift_ns;
}

enum bl_status bl_times_take(struct bl_loaded_recording *recording,
                             const struct bl_time_places *from,
                             const int64_t *shift_ns, size_t parts, size_t base)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < from->places && status == BL_OK; i++) {
        struct bl_time_place place = from->place[i];
        const size_t part = place.part + base;
        if (part >= parts) {
            continue;
        }
        const size_t behind =
            place.kind == BL_TIME_BACK && part + 1 < parts ? part + 1 : part;
        place.from_ns = placed(place.from_ns, shift_ns[part]);
        place.until_ns = placed(place.until_ns, shift_ns[behind]);
        if (place.until_ns < place.from_ns) {
            place.until_ns = place.from_ns;
        }
        status = bl_times_add(recording, &place);
    }
    recording->times.more += from->more;
    if (recording->times.interval_ns == 0) {
        recording->times.interval_ns = from->interval_ns;
        recording->times.jitter_ns = from->jitter_ns;
    }
    return status;
}

/* The most common words for a note: what is seen at the first place of a
   kind. */
static enum bl_status note_place(struct bl_loaded_recording *recording,
                                 const struct bl_time_place *place)
{
    static const char *const codes[] = {"time-gap", "time-stands-still",
                                        "time-sorted", "time-jumps-back"};
    const double at_s = (double)(place->from_ns - recording->first_ns) * 1e-9;
    const double width_s = (double)(place->until_ns - place->from_ns) * 1e-9;
    const double usual_s = (double)recording->times.interval_ns * 1e-9;
    const double off_s = (double)place->off_ns * 1e-9;
    switch (place->kind) {
    case BL_TIME_LONG:
        if (recording->kind == BL_RECORDING_CAPTURE) {
            return bl_note(&recording->notes, codes[place->kind], -1, -1,
                           "%.3f s after its start nothing was written for "
                           "%.4g s, and what is sent regularly came late by "
                           "%.4g s: something is missing, or its clock jumped "
                           "forward",
                           at_s, width_s, off_s);
        }
        return bl_note(&recording->notes, codes[place->kind], -1, -1,
                       "%.3f s after its start nothing was written for %.4g s "
                       "(usual: %.4g s): something is missing, or its clock "
                       "jumped forward",
                       at_s, width_s, width_s - off_s);
    case BL_TIME_CLOSE:
        return bl_note(&recording->notes, codes[place->kind], -1, -1,
                       "%.3f s after its start %" PRIu64 " stamps stand within "
                       "%.4g s (usual interval: %.4g s): its clock stood still "
                       "or stepped back by %.4g s",
                       at_s, place->rows, width_s, usual_s, off_s);
    case BL_TIME_SORTED:
        return bl_note(&recording->notes, codes[place->kind], -1, -1,
                       "%.3f s after its start the stamps step back by %.4g s; "
                       "%" PRIu64 " of them were sorted in among earlier ones",
                       at_s, off_s, place->rows);
    case BL_TIME_BACK:
        break; /* said by the reader */
    }
    return BL_OK;
}

/* Usual interval of the fastest identifier of a recording, s; INFINITY. */
static double fastest_s(const struct bl_links *links, size_t recording)
{
    double least = INFINITY;
    for (size_t i = 0; i < links->ids; i++) {
        if (links->id[i].recording == recording) {
            least = fmin(least, links->id[i].nominal_s);
        }
    }
    return least;
}

static bool is_listed(const struct bl_time_places *times,
                      const struct bl_link_gap *silence)
{
    for (size_t i = 0; i < times->places; i++) {
        const struct bl_time_place *p = &times->place[i];
        if (p->kind == BL_TIME_LONG && p->from_ns < silence->until_ns &&
            p->until_ns > silence->from_ns) {
            return true;
        }
    }
    return false;
}

/* A silence of all buses for longer than three intervals of the fastest message
   is a place too, whether all of them agree on it (bus/beats.h) or not. Many of
   them are the habit of a link that sleeps. */
static enum bl_status take_silences(struct bl_run_data *data, size_t recording)
{
    enum { HABIT = 16 };
    const struct bl_links *links = &data->links;
    const double usual_s = fastest_s(links, recording);
    size_t count = 0;
    for (size_t pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < links->silences; i++) {
            const struct bl_link_gap *s = &links->silence[i];
            const int64_t ns = s->until_ns - s->from_ns;
            if (links->silence_recording[i] != recording ||
                !((double)ns * 1e-9 > 3 * usual_s)) {
                continue;
            }
            count += pass == 0;
            const struct bl_time_place place = {
                .kind = BL_TIME_LONG,
                .from_ns = s->from_ns,
                .until_ns = s->until_ns,
                .off_ns = ns - (int64_t)(usual_s * 1e9),
                .step_ns = ns - (int64_t)(usual_s * 1e9)};
            if (pass == 1 && count < HABIT &&
                !is_listed(&data->recording[recording].times, s) &&
                bl_times_add(&data->recording[recording], &place) != BL_OK) {
                return BL_NOMEM;
            }
        }
    }
    return BL_OK;
}

static bool is_damaged(const struct bl_loaded_recording *recording,
                       const struct bl_time_place *place)
{
    for (size_t i = 0; i < recording->damages; i++) {
        if (recording->damage[i].from_ns < place->until_ns &&
            recording->damage[i].until_ns > place->from_ns) {
            return true;
        }
    }
    return false;
}

/* Lines of a capture that could not be read leave a silence as long as one
   interval of its fastest identifier, in which each lacks a frame: the damage
   explains it, and no clock moved (own choice: half an interval more, for the
   frames beside). */
static void excuse_unread(struct bl_loaded_recording *recording)
{
    const struct bl_time_places *times = &recording->times;
    const int64_t most_ns = times->interval_ns + times->interval_ns / 2;
    for (size_t i = 0; i < times->places; i++) {
        struct bl_time_place *p = &times->place[i];
        if (p->kind == BL_TIME_LONG && p->off_ns <= most_ns &&
            is_damaged(recording, p)) {
            p->step_ns = 0;
        }
    }
}

enum bl_status bl_times_finish(struct bl_run_data *data)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < data->recordings; i++) {
        struct bl_loaded_recording *recording = &data->recording[i];
        if (recording->kind == BL_RECORDING_CAPTURE && status == BL_OK) {
            status = take_silences(data, i);
            excuse_unread(recording);
        }
        bl_time_places_sort(&recording->times);
        for (size_t k = 0; k < recording->times.places && status == BL_OK;
             k++) {
            status = note_place(recording, &recording->times.place[k]);
        }
    }
    for (size_t i = 0; i < data->channels; i++) {
        data->channel[i].samples.times =
            &data->recording[data->channel[i].recording].times;
    }
    for (size_t i = 0; i < data->series_count; i++) {
        data->series[i].steps.times =
            &data->recording[data->series[i].recording].times;
    }
    return status;
}
