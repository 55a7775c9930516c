/* SPDX-License-Identifier: MIT */
/* The recordings of a run and how their clocks are tied, as a tree. */
#include "report/result.h"

#include <math.h>

static void file_members(struct bl_tree *tree, json_t *object,
                         const struct bl_loaded_file *file)
{
    bl_tree_text(tree, object, "file", file->path);
    bl_tree_text(tree, object, "sha256",
                 file->stored.sha256[0] == '\0' ? NULL : file->stored.sha256);
    bl_tree_count(tree, object, "bytes", file->stored.bytes);
}

/* Of each pair of events that tied the clocks, how far it lies off. */
static json_t *residuals(struct bl_tree *tree, const struct bl_clock_tie *tie,
                         int64_t t0_ns)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < tie->residuals; i++) {
        const struct bl_clock_residual *residual = &tie->residual[i];
        const int64_t at_ns = bl_clock_map(
            tie, tie->t_first_ns + (int64_t)llround(residual->at_s * 1e9));
        json_t *object = bl_tree_object(tree);
        bl_tree_number(tree, object, "at_s", (double)(at_ns - t0_ns) * 1e-9);
        bl_tree_number(tree, object, "off_s", residual->off_s);
        bl_tree_bool(tree, object, "used", residual->used);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *clock_object(struct bl_tree *tree,
                            const struct bl_clock_tie *tie, int64_t t0_ns)
{
    json_t *object = bl_tree_object(tree);
    const bool tied =
        tie->claim != BL_CLAIM_NONE && tie->claim != BL_CLAIM_AMBIGUOUS;
    bl_tree_word(tree, object, "method", tie->method, bl_clock_is_own(tie));
    bl_tree_word(tree, object, "claim", bl_clock_claim_name(tie->claim),
                 (int)tie->claim);
    bl_tree_number(tree, object, "offset_s", tied ? tie->offset_s : NAN);
    bl_tree_number(tree, object, "u_s", tied ? tie->u_offset_s : NAN);
    bl_tree_number(tree, object, "u_bias_s", tied ? tie->u_bias_s : NAN);
    bl_tree_number(tree, object, "u_whole_s",
                   tied ? bl_clock_u(tie, tie->t_first_ns) : NAN);
    bl_tree_number(tree, object, "drift_ppm", tied ? tie->drift_ppm : NAN);
    bl_tree_number(tree, object, "u_drift_ppm", tied ? tie->u_drift_ppm : NAN);
    bl_tree_count(tree, object, "pairs", tie->pairs);
    bl_tree_count(tree, object, "releases", tie->releases);
    bl_tree_count(tree, object, "outliers", tie->outliers);
    bl_tree_number(tree, object, "residual_s",
                   tie->pairs > 0 ? tie->residual_s : NAN);
    bl_tree_number(tree, object, "extrapolation_s",
                   tie->pairs > 0 ? tie->extrapolation_s : NAN);
    bl_tree_time(tree, object, "t_first_ns", tie->t_first_ns);
    bl_tree_put(tree, object, "residuals", residuals(tree, tie, t0_ns));
    return object;
}

static json_t *recording_object(struct bl_tree *tree,
                                const struct bl_trial *trial,
                                const struct bl_loaded_recording *loaded)
{
    json_t *object = bl_tree_object(tree);
    const bool known = loaded->recording < trial->recordings;
    const struct bl_trial_recording *recording =
        known ? &trial->recording[loaded->recording] : NULL;
    bl_tree_text(tree, object, "name", known ? recording->name : NULL);
    bl_tree_text(tree, object, "run",
                 known && recording->run < trial->runs
                     ? trial->run[recording->run].name
                     : NULL);
    bl_tree_word(tree, object, "kind",
                 loaded->kind == BL_RECORDING_LOG ? "log" : "capture",
                 (int)loaded->kind);
    if (loaded->files > 0) {
        file_members(tree, object, &loaded->file[0]);
    }
    if (loaded->files > 1) {
        json_t *more = bl_tree_array(tree);
        for (size_t i = 1; i < loaded->files; i++) {
            json_t *file = bl_tree_object(tree);
            file_members(tree, file, &loaded->file[i]);
            bl_tree_append(tree, more, file);
        }
        bl_tree_put(tree, object, "more_files", more);
    }
    bl_tree_count(tree, object, "frames", loaded->frames);
    bl_tree_count(tree, object, "rows", loaded->rows);
    json_t *buses = bl_tree_array(tree);
    for (size_t i = 0; i < loaded->buses; i++) {
        bl_tree_append_text(tree, buses, loaded->bus[i]);
    }
    bl_tree_put(tree, object, "buses", buses);
    bl_tree_time(tree, object, "first_ns", loaded->first_ns);
    bl_tree_time(tree, object, "last_ns", loaded->last_ns);
    bl_tree_times(tree, object, &loaded->times, loaded->first_ns);
    bl_tree_notes(tree, object, "warnings", &loaded->notes);
    if (loaded->status != BL_OK) {
        json_t *failure = bl_tree_object(tree);
        bl_tree_text(tree, failure, "status", bl_status_name(loaded->status));
        bl_tree_text(tree, failure, "text", loaded->failure);
        bl_tree_put(tree, object, "failure", failure);
    }
    return object;
}

void bl_model_zero(struct bl_tree *tree, json_t *run,
                   const struct bl_trial *trial, const struct bl_run_data *data,
                   const struct bl_run_clocks *clocks)
{
    const bool known = data != NULL && clocks != NULL &&
                       clocks->t0_recording < data->recordings;
    const size_t recording =
        known ? data->recording[clocks->t0_recording].recording
              : trial->recordings;
    bl_tree_text(tree, run, "t0_recording",
                 recording < trial->recordings
                     ? trial->recording[recording].name
                     : NULL);
    bl_tree_number(tree, run, "t0_u_s", known ? clocks->t0_u_s : NAN);
}

/* Which figures hang on the tie of recording `i`; null: not asked. */
static void put_hangs(struct bl_tree *tree, json_t *object,
                      const struct bl_run_lag *lag, size_t i)
{
    static const struct {
        enum bl_hanging bit;
        const char *name;
    } names[] = {{BL_HANGING_LAGS, "lags"},
                 {BL_HANGING_DEMAND, "demand-arrival"},
                 {BL_HANGING_STAGGER, "stagger"}};
    if (lag == NULL || i >= lag->recordings) {
        bl_tree_text(tree, object, "hangs", NULL);
        return;
    }
    json_t *array = bl_tree_array(tree);
    for (size_t k = 0; k < sizeof(names) / sizeof(names[0]); k++) {
        if ((lag->hanging[i] & (unsigned)names[k].bit) != 0) {
            bl_tree_append_text(tree, array, names[k].name);
        }
    }
    bl_tree_put(tree, object, "hangs", array);
}

void bl_model_recordings(struct bl_tree *tree, json_t *recordings,
                         const struct bl_trial *trial,
                         const struct bl_run_data *data,
                         const struct bl_run_clocks *clocks,
                         const struct bl_run_lag *lag)
{
    for (size_t i = 0; i < data->recordings; i++) {
        json_t *object = recording_object(tree, trial, &data->recording[i]);
        json_t *clock = json_null();
        if (clocks != NULL && i < clocks->ties) {
            clock = clock_object(tree, &clocks->tie[i], clocks->t0_ns);
            put_hangs(tree, clock, lag, i);
        }
        bl_tree_put(tree, object, "clock", clock);
        bl_tree_append(tree, recordings, object);
    }
}
