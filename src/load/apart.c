/* SPDX-License-Identifier: MIT */
/*
 * Channels of a measurement file whose groups have stamps of their own: read as
 * one log they have rows in common, each row with values of some groups only.
 * Here every group gets the stamps that are its own, so that its neighbouring
 * samples stand next to each other.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <math.h>

static bool row_is_of(const struct bl_log_samples *s, size_t group, size_t row)
{
    for (size_t c = 0; c < s->values; c++) {
        if (s->group[c] == group && !isnan(s->value[c][row])) {
            return true;
        }
    }
    return false;
}

/* The rows of a group, their stamps, and where its parts begin. */
static enum bl_status find_rows(const struct bl_log_samples *s,
                                struct bl_log_apart *apart)
{
    apart->row = bl_alloc(s->count, sizeof(*apart->row));
    apart->time_ns = bl_alloc(s->count, sizeof(*apart->time_ns));
    apart->part_start = bl_alloc(s->parts, sizeof(*apart->part_start));
    if (apart->row == NULL || apart->time_ns == NULL ||
        apart->part_start == NULL) {
        return BL_NOMEM;
    }
    size_t part = 0;
    for (size_t i = 0; i < s->count; i++) {
        while (part < s->parts && s->part_start[part] <= i) {
            apart->part_start[part++] = apart->rows;
        }
        if (row_is_of(s, apart->group, i)) {
            apart->row[apart->rows] = i;
            apart->time_ns[apart->rows++] = s->time_ns[i];
        }
    }
    while (part < s->parts) {
        apart->part_start[part++] = apart->rows;
    }
    return BL_OK;
}

static struct bl_log_apart *find_apart(struct bl_log_samples *s, size_t group)
{
    for (size_t i = 0; i < s->aparts; i++) {
        if (s->apart[i].group == group) {
            return &s->apart[i];
        }
    }
    return NULL;
}

static bool one_group(const struct bl_log_samples *s)
{
    for (size_t c = 1; c < s->values; c++) {
        if (s->group[c] != s->group[0]) {
            return false;
        }
    }
    return true;
}

enum bl_status bl_apart_take(struct bl_log_samples *s, size_t c,
                             struct bl_samples *samples)
{
    if (one_group(s)) {
        return BL_OK;
    }
    struct bl_log_apart *apart = find_apart(s, s->group[c]);
    if (apart == NULL) {
        if (!bl_grow(&s->apart, &s->apart_capacity, s->aparts + 1,
                     sizeof(*s->apart), BL_LIMIT_MDF_GROUPS)) {
            return BL_NOMEM;
        }
        apart = &s->apart[s->aparts++];
        *apart = (struct bl_log_apart){.group = s->group[c]};
        if (find_rows(s, apart) != BL_OK) {
            return BL_NOMEM;
        }
    }
    for (size_t k = 0; k < apart->rows; k++) {
        s->value[c][k] = s->value[c][apart->row[k]];
    }
    samples->time_ns = apart->time_ns;
    samples->part_start = apart->part_start;
    samples->count = apart->rows;
    return BL_OK;
}

void bl_apart_finish(struct bl_log_samples *s)
{
    for (size_t i = 0; i < s->aparts; i++) {
        bl_free(s->apart[i].row);
        bl_free(s->apart[i].time_ns);
        bl_free(s->apart[i].part_start);
    }
    bl_free(s->apart);
    bl_free(s->group);
    s->apart = NULL;
    s->group = NULL;
    s->aparts = s->apart_capacity = 0;
}
