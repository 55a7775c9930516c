/* SPDX-License-Identifier: MIT */
/*
 * Where a recording is damaged: between the last reading before and the first
 * one behind. Kept with the recording, so that no figure is read across such a
 * place and those near one say so.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/limits.h"

#include <stdlib.h>

enum bl_status bl_damage_add(struct bl_loaded_recording *recording,
                             int64_t from_ns, int64_t until_ns)
{
    const size_t count = recording->damages;
    if (count >= BL_LIMIT_DAMAGES) {
        recording->damage[count - 1].until_ns = INT64_MAX;
        if (from_ns < recording->damage[count - 1].from_ns) {
            recording->damage[count - 1].from_ns = from_ns;
        }
        return BL_OK;
    }
    /* At 0, 1, 2, 4, 8 .. places more are made room for. */
    if ((count & (count - 1)) == 0) {
        void *grown = bl_realloc(recording->damage, count == 0 ? 1 : 2 * count,
                                 sizeof(*recording->damage));
        if (grown == NULL) {
            return BL_NOMEM;
        }
        recording->damage = grown;
    }
    recording->damage[recording->damages++] =
        (struct bl_damage){.from_ns = from_ns < until_ns ? from_ns : until_ns,
                           .until_ns = from_ns < until_ns ? until_ns : from_ns};
    return BL_OK;
}

enum bl_status bl_damage_take(struct bl_loaded_recording *recording,
                              const struct bl_log_info *info, size_t *taken,
                              uint16_t part, int64_t before_ns,
                              int64_t shift_ns)
{
    const int64_t most = BL_LIMIT_TIME_NS;
    enum bl_status status = BL_OK;
    while (status == BL_OK && *taken < info->damages &&
           info->damage[*taken].part <= part) {
        const struct bl_damage *at = &info->damage[(*taken)++].at;
        if (at->until_ns >= -most && at->until_ns <= most - shift_ns) {
            status = bl_damage_add(recording,
                                   at->from_ns < -most ? before_ns
                                                       : at->from_ns + shift_ns,
                                   at->until_ns + shift_ns);
        }
    }
    return status;
}

enum bl_status bl_damage_packed(struct bl_loaded_recording *recording,
                                const struct bl_bytes *source,
                                enum bl_status status)
{
    /* Where nothing could be read, nothing is in doubt. */
    if (status != BL_FORMAT || !bl_bytes_is_gzip(source) ||
        (recording->frames == 0 && recording->rows == 0)) {
        return BL_OK;
    }
    const enum bl_status noted = bl_note(
        &recording->notes, "damaged-anywhere", -1, -1,
        "the recording is damaged, and packed with gzip, which does not show "
        "where or how far: all of it is in doubt");
    return noted != BL_OK ? noted
                          : bl_damage_add(recording, INT64_MIN, INT64_MAX);
}

static int by_start(const void *left, const void *right)
{
    const struct bl_damage *a = left;
    const struct bl_damage *b = right;
    return (a->from_ns > b->from_ns) - (a->from_ns < b->from_ns);
}

/* Places that touch become one. */
static void join(struct bl_loaded_recording *recording)
{
    struct bl_damage *damage = recording->damage;
    if (recording->damages < 2) {
        return;
    }
    qsort(damage, recording->damages, sizeof(*damage), by_start);
    size_t kept = 0;
    for (size_t i = 1; i < recording->damages; i++) {
        if (damage[i].from_ns > damage[kept].until_ns) {
            damage[++kept] = damage[i];
        } else if (damage[i].until_ns > damage[kept].until_ns) {
            damage[kept].until_ns = damage[i].until_ns;
        }
    }
    recording->damages = kept + 1;
}

void bl_damage_finish(struct bl_run_data *data)
{
    for (size_t i = 0; i < data->recordings; i++) {
        join(&data->recording[i]);
    }
    for (size_t i = 0; i < data->channels; i++) {
        const struct bl_loaded_recording *recording =
            &data->recording[data->channel[i].recording];
        data->channel[i].samples.damage = recording->damage;
        data->channel[i].samples.damages = recording->damages;
    }
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_loaded_recording *recording =
            &data->recording[data->series[i].recording];
        data->series[i].steps.damage = recording->damage;
        data->series[i].steps.damages = recording->damages;
    }
}
