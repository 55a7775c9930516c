/* SPDX-License-Identifier: MIT */
/* The list of recordings of a survey. */
#include "survey/internal.h"

#include <stdio.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

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

enum bl_status bl_survey_keep(struct bl_survey_file *file,
                              enum bl_status status,
                              const struct bl_error *failure,
                              struct bl_error *error)
{
    if (status == BL_NOMEM) {
        return bl_fail_memory(error);
    }
    if (file->status == BL_OK) {
        file->status = status;
        bl_error_line(failure, file->failure, sizeof(file->failure));
    }
    return BL_OK;
}

bool bl_survey_reckoned(int64_t time_ns)
{
    return time_ns <= BL_LIMIT_TIME_NS && time_ns >= -BL_LIMIT_TIME_NS;
}

enum bl_status bl_survey_note_times(struct bl_survey_file *file, uint64_t count,
                                    const char *what)
{
    enum bl_status status = BL_OK;
    file->damages += count;
    for (uint64_t i = 0; i < count && status == BL_OK; i++) {
        status = bl_note(&file->notes, "impossible-time", -1, -1,
                         "expected times within 146 years of 0, found others; "
                         "these %s are left out",
                         what);
    }
    return status;
}

double bl_survey_span_s(int64_t from_ns, int64_t to_ns)
{
    if (bl_survey_reckoned(from_ns) && bl_survey_reckoned(to_ns)) {
        return (double)(to_ns - from_ns) * 1e-9;
    }
    return (double)to_ns * 1e-9 - (double)from_ns * 1e-9;
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

enum bl_status bl_survey_add(struct bl_survey *survey, struct bl_bytes *source,
                             const char *path, const struct bl_bus_options *bus,
                             const struct bl_log_options *log,
                             struct bl_error *error)
{
    struct bl_survey_file *file = NULL;
    enum bl_status status;
    if (survey->files >= BL_LIMIT_TRIAL_ITEMS) {
        return bl_fail(error, BL_LIMIT, path,
                       "expected at most %u recordings, found more",
                       BL_LIMIT_TRIAL_ITEMS);
    }
    status = add_file(survey, path, &file, error);
    if (status != BL_OK) {
        return status;
    }
    const bool forced = bus != NULL && bus->format != NULL;
    if (forced || bl_bus_recognised(source)) {
        file->kind = BL_SURVEY_BUS;
        status = bl_survey_read_bus(file, survey->tables, source, bus, error);
    } else {
        file->kind = BL_SURVEY_LOG;
        status =
            bl_survey_read_log(file, source, log, survey->pressure_unit, error);
    }
    if (status == BL_NOMEM) {
        return status;
    }
    /* The hash needs the rest of the file, whatever became of the parsing. */
    struct bl_error failure;
    bl_error_clear(&failure);
    const enum bl_status end = bl_bytes_drain(source, &file->stored, &failure);
    if (status != BL_OK) {
        file->status = status;
        if (error != NULL) {
            bl_error_line(error, file->failure, sizeof(file->failure));
        }
        return status;
    }
    return end == BL_OK ? BL_OK : bl_survey_keep(file, end, &failure, error);
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
