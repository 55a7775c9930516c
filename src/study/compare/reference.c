/* SPDX-License-Identifier: MIT */
#include "study/compare/reference.h"

#include "base/number.h"
#include "study/compare/pairs.h"

#include <math.h>
#include <string.h>

/* "81 ms": a number and a unit of time. Returns what follows, NULL if not. */
static const char *parse_time(const char *text, double *seconds)
{
    while (*text == ' ') {
        text++;
    }
    double value;
    size_t used;
    if (!bl_number_scan(text, strlen(text), '.', &value, &used)) {
        return NULL;
    }
    text += used;
    while (*text == ' ') {
        text++;
    }
    if (strncmp(text, "ms", 2) == 0) {
        *seconds = value / 1000;
        return text + 2;
    }
    if (*text == 's') {
        *seconds = value;
        return text + 1;
    }
    return NULL;
}

static bool parse_stated(struct bl_reference *out, const char *text)
{
    const char *rest = parse_time(text, &out->bias_s);
    if (rest == NULL) {
        return false;
    }
    while (*rest == ' ') {
        rest++;
    }
    if (*rest == '\0') {
        return true;
    }
    if (strncmp(rest, "+-", 2) != 0) {
        return false;
    }
    double half;
    rest = parse_time(rest + 2, &half);
    if (rest == NULL || *rest != '\0' || half < 0) {
        return false;
    }
    out->u_bias_s = half / sqrt(3); /* a half-width, GUM 4.3.7 */
    return true;
}

enum bl_status bl_reference_parse(struct bl_reference *out,
                                  const struct bl_trial *trial,
                                  const char *text, struct bl_error *error)
{
    *out = (struct bl_reference){0};
    if (text == NULL) {
        return BL_OK;
    }
    out->given = true;
    for (size_t run = 0; run < trial->runs; run++) {
        if (bl_run_has_condition(trial, run, text)) {
            out->condition = text;
            return BL_OK;
        }
    }
    out->stated = true;
    if (parse_stated(out, text)) {
        return BL_OK;
    }
    return bl_fail(error, BL_ARG, "",
                   "reference: expected a condition of the trial, or a time "
                   "such as '81 ms +- 5 ms', found '%s'",
                   text);
}

/* Median of paired differences of the two channels at the tee. */
static enum bl_status from_runs(struct bl_reference_bias *out,
                                const struct bl_values *base,
                                const struct bl_values *against,
                                struct bl_error *error)
{
    struct bl_pairs pairs;
    enum bl_status status =
        bl_pairs_by_application(&pairs, base, against, error);
    if (status != BL_OK) {
        return status;
    }
    out->n = pairs.count;
    if (pairs.count >= 2) {
        struct bl_description d;
        status = bl_describe(&d, pairs.difference, pairs.count, error);
        if (status == BL_OK) {
            out->s = d.median;
            /* Few values: their own spread, with Student's factor over 2 so
               that twice this covers 95 %. */
            out->u_s = d.u_mean *
                       bl_coverage_factor(0.95, (double)pairs.count - 1) / 2;
            out->known = true;
        }
    }
    bl_pairs_finish(&pairs);
    return status;
}

enum bl_status bl_reference_bias(struct bl_reference_bias *out,
                                 const struct bl_reference *reference,
                                 const struct bl_trial *trial,
                                 struct bl_run_lag *const *lag,
                                 const struct bl_values_wanted sides[2],
                                 struct bl_error *error)
{
    *out = (struct bl_reference_bias){.known = true};
    if (!reference->given) {
        return BL_OK;
    }
    if (reference->stated) {
        out->s = reference->bias_s;
        out->u_s = reference->u_bias_s;
        return BL_OK;
    }
    if (sides[0].unit == sides[1].unit) {
        out->cancels = true;
        return BL_OK;
    }
    out->known = false;
    struct bl_values_wanted wanted[2] = {sides[0], sides[1]};
    struct bl_values values[2] = {{0}, {0}};
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < 2 && status == BL_OK; i++) {
        wanted[i].any_kind = true;
        wanted[i].except = NULL;
        status = bl_values_collect(&values[i], trial, lag, reference->condition,
                                   &wanted[i], error);
    }
    if (status == BL_OK) {
        status = from_runs(out, &values[0], &values[1], error);
    }
    bl_values_finish(&values[0]);
    bl_values_finish(&values[1]);
    return status;
}
