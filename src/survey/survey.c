/* SPDX-License-Identifier: MIT */
/* The list of recordings of a survey. */
#include "survey/internal.h"

#include <stdio.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "mdf/mdf.h"

enum bl_status bl_survey_create(struct bl_survey **out,
                                const struct bl_tables *tables,
                                struct bl_error *error)
{
    *out = bl_alloc(1, sizeof(**out));
    if (*out == NULL) {
        return bl_fail_memory(error);
    }
    (*out)->tables = tables;
    return BL_OK;
}

const char *bl_survey_clean(const char *text, char *copy, size_t size)
{
    size_t used = 0;
    for (; *text != '\0' && used + 1 < size; text++) {
        const unsigned char c = (unsigned char)*text;
        copy[used++] = c < 0x20 || c == 0x7f ? ' ' : *text;
    }
    /* Not in the middle of a character of several bytes. */
    while (*text != '\0' && used > 0 &&
           ((unsigned char)copy[used - 1] & 0xc0) == 0x80) {
        used--;
    }
    if (*text != '\0' && used > 0 && (unsigned char)copy[used - 1] >= 0xc0) {
        used--;
    }
    copy[used] = '\0';
    return copy;
}

struct recording_options {
    const struct bl_bus_options *bus;
    const struct bl_log_options *log;
};

static void finish_file(struct bl_survey_file *file)
{
    for (size_t i = 0; i < file->ids; i++) {
        bl_free(file->id[i].signal);
    }
    for (size_t i = 0; i < file->columns; i++) {
        bl_free(file->column[i].name);
        bl_free(file->column[i].unit);
        bl_free(file->column[i].rise);
    }
    bl_free(file->path);
    bl_free(file->decided);
    bl_free(file->bus);
    bl_free(file->id);
    bl_free(file->address);
    bl_free(file->transport);
    bl_free(file->trouble);
    bl_free(file->name);
    bl_free(file->column);
    bl_free(file->times.place);
    bl_notes_finish(&file->notes);
}

static enum bl_status add_file(struct bl_survey *survey, const char *path,
                               struct bl_survey_file **out,
                               struct bl_error *error)
{
    if (survey->files >= BL_LIMIT_TRIAL_ITEMS) {
        return bl_fail(error, BL_LIMIT, path,
                       "expected at most %u recordings, found more",
                       BL_LIMIT_TRIAL_ITEMS);
    }
    struct bl_survey_file *longer =
        bl_realloc(survey->file, survey->files + 1, sizeof(*longer));
    if (longer == NULL) {
        return bl_fail_memory(error);
    }
    survey->file = longer;
    *out = &longer[survey->files];
    memset(*out, 0, sizeof(**out));
    (*out)->path = bl_strdup(path);
    if ((*out)->path == NULL) {
        return bl_fail_memory(error);
    }
    survey->files++;
    return BL_OK;
}

/* One recording of the kind of `file`, and what became of it. */
static enum bl_status read_file(struct bl_survey *survey,
                                struct bl_survey_file *file,
                                struct bl_bytes *source,
                                const struct recording_options *options,
                                struct bl_error *error)
{
    const enum bl_status status =
        file->kind == BL_SURVEY_BUS
            ? bl_survey_read_bus(file, survey->tables, source, options->bus,
                                 error)
            : bl_survey_read_log(file, source, options->log,
                                 survey->pressure_unit, error);
    if (status != BL_OK && status != BL_NOMEM) {
        file->status = status;
        if (error != NULL) {
            bl_error_line(error, file->failure, sizeof(file->failure));
        }
    }
    return status;
}

/* What is in it: frames, channels, or both in a measurement file. What
   cannot be told is left to the reader that says why. */
static enum bl_status look_inside(struct bl_bytes *source, bool *frames,
                                  bool *values, struct bl_error *error)
{
    const uint8_t *data;
    size_t size;
    struct bl_notes unheard = {0};
    struct bl_mdf *mdf = NULL;
    *frames = bl_bus_recognised(source);
    *values = !*frames;
    if (!*frames ||
        bl_bytes_peek(source, BL_MDF_ID_BYTES, &data, &size, NULL) != BL_OK ||
        !bl_mdf_recognised(data, size)) {
        return BL_OK;
    }
    const enum bl_status status = bl_mdf_open(&mdf, source, &unheard, NULL);
    if (status == BL_OK) {
        *values = bl_mdf_has_values(mdf);
        *frames = bl_mdf_has_frames(mdf) || !*values;
    }
    bl_mdf_close(mdf);
    bl_notes_finish(&unheard);
    return status == BL_NOMEM ? bl_fail_memory(error) : BL_OK;
}

/* All kinds that are in it; the first failure is the answer. */
static enum bl_status read_kinds(struct bl_survey *survey,
                                 struct bl_bytes *source, const char *path,
                                 const struct recording_options *options,
                                 struct bl_error *error)
{
    const bool forced = options->bus != NULL && options->bus->format != NULL;
    bool is_inside[BL_SURVEY_KINDS] = {false, false};
    enum bl_status status = BL_OK;
    is_inside[BL_SURVEY_BUS] = forced;
    if (!forced) {
        status = look_inside(source, &is_inside[BL_SURVEY_BUS],
                             &is_inside[BL_SURVEY_LOG], error);
    }
    for (size_t kind = 0; kind < BL_SURVEY_KINDS && status != BL_NOMEM;
         kind++) {
        struct bl_survey_file *file = NULL;
        struct bl_error failure;
        bl_error_clear(&failure);
        if (!is_inside[kind]) {
            continue;
        }
        enum bl_status read = add_file(survey, path, &file, &failure);
        if (read == BL_OK) {
            file->kind = (enum bl_survey_kind)kind;
            read = read_file(survey, file, source, options, &failure);
        }
        if (read != BL_OK && (status == BL_OK || read == BL_NOMEM)) {
            status = read;
            if (error != NULL) {
                *error = failure;
            }
        }
    }
    return status == BL_NOMEM ? bl_fail_memory(error) : status;
}

enum bl_status bl_survey_add(struct bl_survey *survey, struct bl_bytes *source,
                             const char *path, const struct bl_bus_options *bus,
                             const struct bl_log_options *log,
                             struct bl_error *error)
{
    const struct recording_options options = {bus, log};
    const size_t first = survey->files;
    const enum bl_status status =
        read_kinds(survey, source, path, &options, error);
    if (status == BL_NOMEM || survey->files == first) {
        return status;
    }
    /* The hash needs the rest of the file, whatever became of the parsing. */
    struct bl_error failure;
    struct bl_stored stored;
    bl_error_clear(&failure);
    const enum bl_status end = bl_bytes_drain(source, &stored, &failure);
    enum bl_status kept = status;
    for (size_t i = first; i < survey->files; i++) {
        survey->file[i].stored = stored;
        if (status == BL_OK && kept == BL_OK && end != BL_OK) {
            kept = bl_survey_keep(&survey->file[i], end, &failure, error);
        }
    }
    return kept;
}

enum bl_status bl_survey_pressure_unit(struct bl_survey *survey,
                                       const char *unit, struct bl_error *error)
{
    const struct bl_measurement_unit *found = bl_measurement_unit_find(unit);
    if (found == NULL || found->quantity != BL_QUANTITY_PRESSURE) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected a unit of pressure such as kPa, found '%s'",
                       unit);
    }
    survey->pressure_unit = found->name;
    return BL_OK;
}

void bl_survey_destroy(struct bl_survey *survey)
{
    if (survey == NULL) {
        return;
    }
    for (size_t i = 0; i < survey->files; i++) {
        finish_file(&survey->file[i]);
    }
    bl_free(survey->file);
    bl_free(survey);
}

static const struct {
    unsigned bit;
    const char *code, *meaning;
} oddities[] = {
#define X(id, bit, code, meaning) {bit, code, meaning},
    BL_ODDITY_LIST(X)
#undef X
};
enum { ODDITIES = sizeof(oddities) / sizeof(oddities[0]) };

unsigned bl_oddity_at(size_t index)
{
    return index < ODDITIES ? oddities[index].bit : 0;
}

const char *bl_oddity_code(unsigned oddity)
{
    for (size_t i = 0; i < ODDITIES; i++) {
        if (oddities[i].bit == oddity) {
            return oddities[i].code;
        }
    }
    return "";
}

const char *bl_oddity_meaning(unsigned oddity)
{
    for (size_t i = 0; i < ODDITIES; i++) {
        if (oddities[i].bit == oddity) {
            return oddities[i].meaning;
        }
    }
    return "";
}
