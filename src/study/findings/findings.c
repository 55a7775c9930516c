/* SPDX-License-Identifier: MIT */
/* Lists of findings: filling, the rule of four standard uncertainties, rank. */
#include "study/findings/fill.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"
#include "base/sure.h"
#include "base/utf8.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct bl_finding *bl_findings_add(struct bl_findings *list,
                                   enum bl_finding_code code,
                                   enum bl_shown shown, long unit, long run)
{
    if (list->failed || !bl_grow(&list->item, &list->capacity, list->count + 1,
                                 sizeof(*list->item), BL_LIMIT_FINDINGS)) {
        list->failed = true;
        return NULL;
    }
    struct bl_finding *finding = &list->item[list->count++];
    const struct bl_finding_kind *kind = bl_finding_kind(code);
    memset(finding, 0, sizeof(*finding));
    finding->code = code;
    finding->shown = shown;
    finding->severity = kind->severity;
    finding->unit = unit;
    finding->channel = -1;
    finding->run = run;
    finding->ratio = NAN;
    finding->caution = kind->caution;
    snprintf(finding->next_check, sizeof(finding->next_check), "%s",
             kind->next_check);
    bl_findings_looked(list, code, unit, run);
    return finding;
}

void bl_findings_missing(struct bl_findings *list, enum bl_finding_code code,
                         long unit, long run, const char *needs)
{
    for (size_t i = 0; i < list->missing_count; i++) {
        const struct bl_not_looked_for *missed = &list->missing[i];
        if (missed->code == code && missed->unit == unit &&
            missed->run == run) {
            return;
        }
    }
    if (list->failed || !bl_grow(&list->missing, &list->missing_capacity,
                                 list->missing_count + 1,
                                 sizeof(*list->missing), BL_LIMIT_FINDINGS)) {
        list->failed = true;
        return;
    }
    struct bl_not_looked_for *missed = &list->missing[list->missing_count++];
    memset(missed, 0, sizeof(*missed));
    missed->code = code;
    missed->unit = unit;
    missed->run = run;
    snprintf(missed->needs, sizeof(missed->needs), "%s",
             needs == NULL ? bl_finding_kind(code)->needs : needs);
}

/* Text in the result must stay UTF-8. */
static void cut_whole(char *text)
{
    text[bl_utf8_whole(text, strlen(text))] = '\0';
}

void bl_finding_say(struct bl_finding *finding, const char *format, ...)
{
    if (finding == NULL) {
        return;
    }
    va_list values;
    va_start(values, format);
    vsnprintf(finding->text, sizeof(finding->text), format, values);
    va_end(values);
    cut_whole(finding->text);
}

void bl_findings_capital(struct bl_findings *list)
{
    for (size_t i = 0; i < list->count; i++) {
        char *first = &list->item[i].text[0];
        *first = (char)(*first >= 'a' && *first <= 'z' ? *first - 'a' + 'A'
                                                       : *first);
    }
}

void bl_finding_note(struct bl_finding *finding, const char *next_check)
{
    if (finding == NULL) {
        return;
    }
    finding->severity = BL_SEVERITY_NOTE;
    finding->caution = "";
    snprintf(finding->next_check, sizeof(finding->next_check), "%s",
             next_check);
}

void bl_finding_evidence(struct bl_finding *finding, const char *label,
                         double value, double u, const char *unit)
{
    if (finding == NULL) {
        return;
    }
    if (finding->evidences == BL_EVIDENCE_MAX) {
        finding->evidences_dropped++;
        return;
    }
    struct bl_evidence *e = &finding->evidence[finding->evidences++];
    snprintf(e->label, sizeof(e->label), "%s", label);
    cut_whole(e->label);
    e->value = value;
    e->u = u;
    e->run = finding->run;
    snprintf(e->unit, sizeof(e->unit), "%s", unit);
}

void bl_findings_finish(struct bl_findings *list)
{
    bl_free(list->item);
    bl_free(list->missing);
    bl_free(list->place);
    bl_traits_destroy(list->traits);
    memset(list, 0, sizeof(*list));
}

enum bl_shown bl_finding_judge(const double *excess, const double *u, size_t n,
                               double *ratio, size_t *fired)
{
    double *values = bl_alloc(2 * n + 1, sizeof(*values));
    double *ratios = values == NULL ? NULL : values + n;
    size_t count = 0;
    size_t passed = 0;
    for (size_t i = 0; values != NULL && i < n; i++) {
        if (isfinite(excess[i]) && isfinite(u[i])) {
            passed += excess[i] > BL_SURE_U * u[i];
            values[count] = excess[i];
            ratios[count++] =
                u[i] > 0 ? excess[i] / u[i] : copysign(99, excess[i]);
        }
    }
    bl_sort(values, count);
    bl_sort(ratios, count);
    const double middle = count == 0 ? NAN : values[count / 2];
    if (ratio != NULL) {
        *ratio = count == 0 ? NAN : ratios[count / 2];
    }
    if (fired != NULL) {
        *fired = passed;
    }
    bl_free(values);
    if (count > 0 && (passed >= 3 || passed == count)) {
        return BL_SHOWN_FOUND;
    }
    return passed > 0 || middle > 0 ? BL_SHOWN_CANNOT_TELL : BL_SHOWN_NOT;
}

static int by_rank(const void *a, const void *b)
{
    const struct bl_finding *x = a;
    const struct bl_finding *y = b;
    if (x->shown != y->shown) {
        return (int)y->shown - (int)x->shown;
    }
    if (x->follows != y->follows) {
        return x->follows ? 1 : -1;
    }
    if (x->severity != y->severity) {
        return (int)y->severity - (int)x->severity;
    }
    const double rx = isnan(x->ratio) ? 0 : x->ratio;
    const double ry = isnan(y->ratio) ? 0 : y->ratio;
    if (rx != ry) {
        return rx < ry ? 1 : -1;
    }
    if (x->code != y->code) {
        return (int)x->code - (int)y->code;
    }
    if (x->unit != y->unit) {
        return x->unit < y->unit ? -1 : 1;
    }
    return (x->run > y->run) - (x->run < y->run);
}

void bl_findings_rank(struct bl_findings *list)
{
    if (list->count > 1) {
        qsort(list->item, list->count, sizeof(*list->item), by_rank);
    }
}
