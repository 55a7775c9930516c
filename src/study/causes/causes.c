/* SPDX-License-Identifier: MIT */
/* All looks for causes in their order, and what they share. */
#include "study/causes/causes.h"

#include "base/alloc.h"
#include "base/number.h"
#include "lag/summary.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct bl_stretches *bl_causes_cell(const struct bl_causing *c, size_t run,
                                    size_t application, size_t place)
{
    return &c->stretch[run][application * c->places + place];
}

bool bl_causes_powered(const struct bl_causing *c, size_t run)
{
    const struct bl_trial_run *trial_run = &c->trial->run[run];
    return trial_run->power == BL_STATED_ON && trial_run->data != BL_STATED_OFF;
}

bool bl_causes_air_only(const struct bl_causing *c, size_t run)
{
    const struct bl_trial_run *trial_run = &c->trial->run[run];
    return trial_run->power == BL_STATED_OFF ||
           trial_run->data == BL_STATED_OFF;
}

enum bl_trait_class bl_causes_class(const struct bl_causing *c, size_t run)
{
    if (bl_causes_powered(c, run)) {
        return BL_BY_DEMAND;
    }
    return bl_causes_air_only(c, run) ? BL_BY_AIR : BL_BY_UNKNOWN;
}

bool bl_causes_pressure(const struct bl_causing *c, size_t run,
                        const struct bl_trial_input *input,
                        struct bl_track *track)
{
    if (c->run[run].data == NULL || c->run[run].clocks == NULL) {
        return false;
    }
    bl_track_find(track, c->trial, c->run[run].data, c->run[run].clocks, input);
    return track->present && !track->is_state && track->samples != NULL &&
           track->quantity == BL_QUANTITY_PRESSURE;
}

const struct bl_finding *bl_causes_found(const struct bl_causing *c,
                                         enum bl_finding_code code, long unit,
                                         long run)
{
    for (size_t i = 0; i < c->into->count; i++) {
        const struct bl_finding *f = &c->into->item[i];
        if (f->code == code && f->unit == unit && f->run == run &&
            f->shown == BL_SHOWN_FOUND) {
            return f;
        }
    }
    return NULL;
}

void bl_excess_clear(struct bl_causing *c)
{
    c->excess.count = 0;
    c->excess.open = 0;
}

void bl_excess_put(struct bl_causing *c, double value, double u)
{
    struct bl_excess *e = &c->excess;
    if (!isfinite(value) || !isfinite(u) || c->failed) {
        return;
    }
    if (e->count == e->capacity) {
        const size_t more = e->capacity * 2 + 16;
        double *values = bl_realloc(e->value, more, sizeof(*values));
        e->value = values == NULL ? e->value : values;
        double *us = bl_realloc(e->u, more, sizeof(*us));
        e->u = us == NULL ? e->u : us;
        if (values == NULL || us == NULL) {
            c->failed = true;
            return;
        }
        e->capacity = more;
    }
    e->value[e->count] = value;
    e->u[e->count++] = u;
}

struct bl_finding *bl_excess_judge(struct bl_causing *c,
                                   enum bl_finding_code code, long unit,
                                   long run)
{
    const struct bl_excess *e = &c->excess;
    if (e->count + e->open == 0) {
        bl_findings_missing(c->into, code, unit, run, NULL);
        return NULL;
    }
    double ratio;
    size_t fired;
    const enum bl_shown shown =
        bl_finding_judge(e->value, e->u, e->count, &ratio, &fired);
    if (shown == BL_SHOWN_NOT && e->open > 0) {
        bl_causes_leave_open(c, code, unit, run);
        return NULL;
    }
    if (shown == BL_SHOWN_NOT) {
        bl_findings_looked(c->into, code, unit, run);
        return NULL;
    }
    struct bl_finding *f = bl_findings_add(c->into, code, shown, unit, run);
    if (f != NULL) {
        f->ratio = ratio;
        f->fired = fired;
        f->judged = e->count;
    }
    return f;
}

bool bl_causes_let_go(const struct bl_run_lag *lag, size_t a)
{
    /* Own choice: by then the air of the press before has left the longest
       sound chain. What stays for good stands all the same. */
    static const int64_t let_go_ns = 3 * INT64_C(1000000000);
    for (size_t i = a; i-- > 0;) {
        const struct bl_application *before = &lag->application[i];
        if (before->combination == lag->application[a].combination) {
            return !before->command_release.known ||
                   lag->application[a].apply_ns - before->release_ns >=
                       let_go_ns;
        }
    }
    return true;
}

const char *bl_causes_unit(const struct bl_causing *c, size_t unit, char *text,
                           size_t size)
{
    return bl_trial_unit_called(c->trial, unit, text,
                                size < BL_UNIT_CALLED ? size : BL_UNIT_CALLED);
}

const char *bl_causes_condition_of(const struct bl_causing *c, size_t run)
{
    const struct bl_trial_run *trial_run = &c->trial->run[run];
    return trial_run->condition == NULL ? trial_run->name
                                        : trial_run->condition;
}

bool bl_causes_like(const struct bl_causing *c, size_t r, size_t run)
{
    return c->run[r].lag != NULL && strcmp(bl_causes_condition_of(c, r),
                                           bl_causes_condition_of(c, run)) == 0;
}

struct bl_lag_of bl_causes_response(const struct bl_causing *c, size_t run,
                                    size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double *value = c->room[0];
    struct bl_lag_of out = {NAN, NAN, 0};
    double u = 0;
    for (size_t a = 0; lag != NULL && a < lag->applications; a++) {
        const struct bl_unit_lag *measured =
            bl_application_unit(&lag->application[a], unit);
        if (measured != NULL && bl_application_usable(&lag->application[a]) &&
            bl_figure_sound(&measured->figure[BL_FIGURE_RESPONSE])) {
            u = fmax(u, measured->figure[BL_FIGURE_RESPONSE].u_s);
            value[out.n++] = measured->figure[BL_FIGURE_RESPONSE].s;
        }
    }
    double scatter;
    out.middle = bl_causes_middle(value, out.n, &scatter);
    out.u = hypot(u, isnan(scatter) ? 0 : scatter);
    return out;
}

double bl_causes_middle(double *value, size_t n, double *scatter)
{
    *scatter = NAN;
    if (n == 0) {
        return NAN;
    }
    const double middle = bl_median(value, n);
    for (size_t i = 0; i < n; i++) {
        value[i] = fabs(value[i] - middle);
    }
    *scatter = 1.4826 * bl_median(value, n);
    return middle;
}

/* What nobody looked for, so that the list is whole. */
static void rest_missing(struct bl_causing *c)
{
    for (int i = 0; i < BL_FINDINGS; i++) {
        const enum bl_finding_code code = (enum bl_finding_code)i;
        bool seen = c->into->looked[i] > 0;
        for (size_t k = 0; k < c->into->missing_count && !seen; k++) {
            seen = c->into->missing[k].code == code;
        }
        if (!seen) {
            bl_findings_missing(c->into, code, -1, -1, NULL);
        }
    }
}

static void part(struct bl_causing *c)
{
    bl_findings_part(c->into);
}

static bool make_room(struct bl_causing *c)
{
    c->stretch = bl_alloc(c->trial->runs, sizeof(*c->stretch));
    c->impossible = bl_alloc(c->trial->runs, sizeof(*c->impossible));
    if (c->stretch == NULL || c->impossible == NULL) {
        return false;
    }
    size_t most = c->trial->units + 1;
    c->places = bl_trait_place(c->trial, c->trial->units, 0);
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_run_lag *lag = c->run[r].lag;
        const size_t cells = (lag == NULL ? 0 : lag->applications) * c->places;
        c->stretch[r] = bl_alloc(cells, sizeof(**c->stretch));
        if (c->stretch[r] == NULL) {
            return false;
        }
        most += lag == NULL ? 0 : lag->applications;
    }
    bool made = true;
    for (size_t i = 0; i < BL_CAUSES_ROOMS; i++) {
        c->room[i] = bl_alloc(most, sizeof(*c->room[i]));
        made = made && c->room[i] != NULL;
    }
    return made;
}

enum bl_status bl_causes(struct bl_findings *into, const struct bl_trial *trial,
                         const struct bl_causes_run *run,
                         const struct bl_visits *visits, struct bl_error *error)
{
    static void (*const looks[])(struct bl_causing *) = {
        bl_causes_stretch,
        bl_causes_demand,
        bl_causes_ignored,
        bl_causes_curves,
        bl_causes_channels,
        bl_causes_swapped,
        bl_causes_exchanged,
        bl_causes_one_place,
        bl_causes_impossible,
        bl_causes_timing,
        bl_causes_predicted,
        bl_causes_limits,
        bl_causes_unsettled,
        bl_causes_supply,
        bl_causes_levels,
        bl_causes_unsteady,
        bl_causes_pipes,
        bl_causes_rests,
        bl_causes_unasked,
        bl_causes_measuring,
        bl_causes_odd,
        bl_causes_once,
        bl_causes_passed_over,
        bl_causes_visits,
        bl_causes_holds_once,
        bl_causes_stages,
        bl_causes_together,
        bl_causes_explain,
        bl_causes_silence,
        rest_missing,
        part,
    };
    const uint64_t refused = bl_alloc_refused();
    struct bl_causing c = {
        .trial = trial, .run = run, .visits = visits, .into = into};
    c.failed = !make_room(&c);
    for (size_t i = 0; i < sizeof(looks) / sizeof(looks[0]) && !c.failed; i++) {
        looks[i](&c);
        c.failed = c.failed || into->failed;
    }
    bl_findings_rank(into);
    bl_findings_merge(into);
    bl_findings_rank(into);
    c.failed = c.failed || bl_alloc_refused() != refused;
    for (size_t r = 0; c.stretch != NULL && r < trial->runs; r++) {
        bl_free(c.stretch[r]);
    }
    bl_free(c.stretch);
    bl_free(c.impossible);
    bl_free(c.excess.value);
    bl_free(c.excess.u);
    bl_free(c.open);
    for (size_t i = 0; i < BL_CAUSES_ROOMS; i++) {
        bl_free(c.room[i]);
    }
    return c.failed ? bl_fail_memory(error) : BL_OK;
}
