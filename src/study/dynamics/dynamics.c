/* SPDX-License-Identifier: MIT */
/* From measured build-ups, stated masses and forces to what lag costs. */
#include "brakelag/dynamics.h"
#include "study/dynamics/shares.h"
#include "study/dynamics/stop.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"
#include "lag/as_one.h"

#include <math.h>

struct making {
    struct bl_dynamics *into;
    const struct bl_trial *trial;
    const struct bl_run_lag *lag;
    struct bl_dynamics_row *row;
    struct bl_error *error;
};

static const struct bl_summary *summary_of(const struct making *m, size_t unit,
                                           enum bl_figure_name figure)
{
    for (size_t i = 0; i < m->lag->summaries; i++) {
        const struct bl_summary *s = &m->lag->summary[i];
        if (s->unit == unit && s->figure == figure && s->n > 0 &&
            s->kind == m->row->kind && s->shape == BL_SHAPE_STEP) {
            return s;
        }
    }
    return NULL;
}

/* Median hold over the applications of the row; 0 where the unit did not
   brake, NaN where nothing says. */
static enum bl_status hold_kpa(const struct making *m, size_t unit, double *out)
{
    double *value = bl_alloc(m->lag->applications + 1, sizeof(*value));
    size_t n = 0;
    if (value == NULL) {
        return bl_fail_memory(m->error);
    }
    for (size_t a = 0; a < m->lag->applications; a++) {
        const struct bl_application *application = &m->lag->application[a];
        if (application->excluded || application->kind != m->row->kind ||
            application->shape != BL_SHAPE_STEP) {
            continue;
        }
        for (size_t u = 0; u < application->units; u++) {
            const struct bl_unit_lag *lag = &application->unit[u];
            if (lag->unit != unit) {
                continue;
            }
            if (lag->responded == BL_NO) {
                value[n++] = 0;
            } else if (lag->hold.known &&
                       lag->hold.quantity == BL_QUANTITY_PRESSURE) {
                value[n++] = lag->hold.value;
            }
        }
    }
    *out = bl_median(value, n);
    bl_free(value);
    return BL_OK;
}

static void add_point(struct bl_braked_unit *unit, double s, double share)
{
    const size_t i = unit->points++;
    const double before = i == 0 ? s : unit->point[i - 1].s;
    unit->point[i].s = s > before ? s : before;
    unit->point[i].share = share;
}

/* Through 10 and 75 %, from the foot, on to the whole along the same line. */
static bool build_up(struct making *m, size_t unit, size_t k)
{
    const struct bl_summary *foot = summary_of(m, unit, BL_FIGURE_RISE_START);
    const struct bl_summary *low = summary_of(m, unit, BL_FIGURE_APPLY_10);
    const struct bl_summary *high = summary_of(m, unit, BL_FIGURE_FILLED);
    const struct bl_summary *response = summary_of(m, unit, BL_FIGURE_RESPONSE);
    struct bl_braked_unit *braked = &m->row->unit[k];
    m->row->response_s[k] = response == NULL ? NAN : response->median_s;
    m->row->u_response_s[k] =
        response == NULL
            ? NAN
            : hypot(response->u_s,
                    (response->high_s - response->low_s) / sqrt(12));
    if (low == NULL || high == NULL) {
        return false;
    }
    const double per_share = (high->median_s - low->median_s) / 0.65;
    add_point(braked,
              foot == NULL ? low->median_s - 0.1 * per_share
                           : fmin(foot->median_s, low->median_s),
              0);
    add_point(braked, low->median_s, 0.1);
    add_point(braked, high->median_s, 0.75);
    add_point(braked, high->median_s + 0.25 * per_share, 1);
    return true;
}

static enum bl_status missing(struct making *m, size_t unit, const char *what)
{
    char name[BL_UNIT_CALLED];
    return bl_note_each(
        &m->into->missing, "dynamics-needs", m->trial->unit[unit].line,
        "%s: %s", bl_trial_unit_called(m->trial, unit, name, sizeof(name)),
        what);
}

/* Units first to first + units that do not state what is needed: one note. */
static enum bl_status unstated(struct making *m, size_t first, size_t units,
                               bool (*states)(const struct bl_trial_unit *unit),
                               const char *what)
{
    const struct bl_trial *trial = m->trial;
    bool *lack = bl_alloc(trial->units + 1, sizeof(*lack));
    char names[BL_UNIT_CALLED];
    int line = -1;
    if (lack == NULL) {
        return bl_fail_memory(m->error);
    }
    for (size_t u = first; u < first + units; u++) {
        lack[u] = !states(&trial->unit[u]);
        line = lack[u] && line < 0 ? trial->unit[u].line : line;
    }
    enum bl_status status = BL_OK;
    if (line >= 0) {
        status = bl_note_each(
            &m->into->missing, "dynamics-needs", line, "%s: %s",
            bl_trial_units_called(trial, lack, names, sizeof(names)), what);
    }
    bl_free(lack);
    return status;
}

static bool states_mass(const struct bl_trial_unit *unit)
{
    return !isnan(unit->mass_kg);
}

static bool states_force(const struct bl_trial_unit *unit)
{
    return !isnan(unit->force_kn_per_kpa);
}

static enum bl_status take_unit(struct making *m, size_t unit, bool *good)
{
    const struct bl_trial_unit *vehicle = &m->trial->unit[unit];
    const size_t k = unit - m->row->first_unit;
    double hold = NAN;
    enum bl_status status = hold_kpa(m, unit, &hold);
    if (status != BL_OK) {
        return status;
    }
    struct bl_braked_unit *braked = &m->row->unit[k];
    braked->mass_kg = vehicle->mass_kg;
    /* Below push-out the rod has not moved: no force. */
    const bool brakes = hold >= m->trial->brakes_at_kpa;
    braked->force_n = brakes ? vehicle->force_kn_per_kpa * 1e3 * hold : 0;
    const bool known = build_up(m, unit, k);
    *good = !isnan(hold) && (known || !brakes);
    return BL_OK;
}

/* Length that the figures' uncertainty adds: v0 sqrt(sum (b_i u_i)^2). */
static double u_extra(const struct bl_dynamics_row *row, double speed)
{
    double all = 0;
    double sum = 0;
    for (size_t i = 0; i < row->units; i++) {
        all += row->unit[i].force_n;
    }
    for (size_t i = 0; i < row->units; i++) {
        const double part = row->unit[i].force_n / all;
        if (part > 0 && !isnan(row->u_response_s[i])) {
            sum += pow(part * row->u_response_s[i], 2);
        }
    }
    return speed * sqrt(sum);
}

static enum bl_status at_speed(struct bl_dynamics_row *row, size_t i,
                               double kmh, struct bl_error *error)
{
    struct bl_dynamics_speed *out = &row->speed[i];
    struct bl_braked_unit other[BL_STOP_UNITS];
    struct bl_stop stop;
    const double v = kmh / 3.6;
    size_t first = 0;
    while (first + 1 < row->units && !(row->unit[first].force_n > 0)) {
        first++;
    }
    out->kmh = kmh;
    enum bl_status status =
        bl_stop_compute(&out->stop, row->unit, row->units, v, error);
    out->stop_m = out->stop.distance_m;
    out->u_extra_m = u_extra(row, v);
    for (size_t k = 0; k < row->units; k++) {
        other[k] = row->unit[k];
        other[k].points = 1;
        other[k].point[0].s = 0;
        other[k].point[0].share = 1;
    }
    if (status == BL_OK) {
        status = bl_stop_compute(&stop, other, row->units, v, error);
        out->extra_m = out->stop_m - stop.distance_m;
    }
    for (size_t k = 0; k < row->units; k++) {
        const struct bl_braked_unit own = row->unit[k];
        other[k] = row->unit[first];
        other[k].mass_kg = own.mass_kg;
        other[k].force_n = own.force_n;
    }
    if (status == BL_OK) {
        status = bl_stop_compute(&stop, other, row->units, v, error);
        out->extra_first_m = out->stop_m - stop.distance_m;
    }
    return status;
}

static enum bl_status add_row(struct making *m)
{
    struct bl_dynamics *into = m->into;
    m->row->speeds = 0;
    m->row->speed = bl_alloc(m->trial->speeds, sizeof(*m->row->speed));
    if (m->row->speed == NULL ||
        !bl_grow(&into->row, &into->capacity, into->rows + 1,
                 sizeof(*into->row), BL_LIMIT_APPLICATIONS)) {
        bl_free(m->row->speed);
        return bl_fail_memory(m->error);
    }
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < m->trial->speeds; i++) {
        status = at_speed(m->row, i, m->trial->speed_kmh[i], NULL);
        m->row->speeds += status == BL_OK;
    }
    if (status != BL_OK) { /* no unit brakes at this demand */
        bl_free(m->row->speed);
        return missing(m, m->row->first_unit,
                       "no unit of the combination braked in one kind of "
                       "application");
    }
    bl_dynamics_shares(m->row);
    into->row[into->rows++] = *m->row;
    return BL_OK;
}

static enum bl_status kind_of_run(struct making *m, size_t run, size_t first,
                                  size_t units, enum bl_application_kind kind)
{
    struct bl_dynamics_row *row = m->row;
    *row = (struct bl_dynamics_row){
        .run = run, .first_unit = first, .units = units, .kind = kind};
    for (size_t a = 0; a < m->lag->applications; a++) {
        const struct bl_application *application = &m->lag->application[a];
        row->n += !application->excluded && application->kind == kind &&
                  application->shape == BL_SHAPE_STEP &&
                  application->combination == m->trial->unit[first].combination;
    }
    if (row->n == 0) {
        return BL_OK;
    }
    for (size_t u = first; u < first + units; u++) {
        bool good = false;
        enum bl_status status = take_unit(m, u, &good);
        if (status != BL_OK) {
            return status;
        }
        if (!good) {
            return missing(m, u, "a measured hold and build-up in every run");
        }
    }
    return add_row(m);
}

/* Is everything stated that a combination needs? Notes what is not. */
static enum bl_status stated(struct making *m, size_t first, size_t units,
                             bool *good)
{
    enum bl_status status = BL_OK;
    bool any = false;
    *good = units <= BL_STOP_UNITS && m->trial->speeds > 0;
    for (size_t u = first; u < first + units; u++) {
        const struct bl_trial_unit *unit = &m->trial->unit[u];
        any = any || states_mass(unit) || states_force(unit);
        *good = *good && states_mass(unit) && states_force(unit);
    }
    if (any) {
        status = unstated(m, first, units, states_mass, "mass");
    }
    if (any && status == BL_OK) {
        status = unstated(m, first, units, states_force, "force per pressure");
    }
    if (status == BL_OK && any && m->trial->speeds == 0) {
        status = bl_note(&m->into->missing, "dynamics-needs", -1, -1,
                         "the trial: road speeds");
    }
    *good = *good && any;
    return status;
}

/* A reference run tells what the measuring chains do, not the train. */
static enum bl_status refuses(struct making *m, size_t run, size_t first,
                              bool *refused)
{
    const struct bl_trial_run *trial_run = &m->trial->run[run];
    *refused = (trial_run->power == BL_STATED_OFF ||
                trial_run->data == BL_STATED_OFF) &&
               bl_lag_as_one(m->lag, m->trial->unit[first].combination);
    return *refused
               ? bl_note_each(&m->into->missing, "dynamics-needs",
                              trial_run->line,
                              "run %s: transducers at the outputs; all respond "
                              "as one without power, as at one tee",
                              trial_run->name)
               : BL_OK;
}

static enum bl_status combination(struct making *m,
                                  struct bl_run_lag *const *lag, size_t first,
                                  size_t units)
{
    static const enum bl_application_kind kinds[] = {
        BL_KIND_LIGHT, BL_KIND_SERVICE, BL_KIND_FULL};
    bool good = false;
    enum bl_status status = stated(m, first, units, &good);
    for (size_t r = 0; good && status == BL_OK && r < m->trial->runs; r++) {
        bool refused = lag[r] == NULL;
        m->lag = lag[r];
        if (!refused) {
            status = refuses(m, r, first, &refused);
        }
        for (size_t k = 0; !refused && status == BL_OK && k < 3; k++) {
            status = kind_of_run(m, r, first, units, kinds[k]);
        }
    }
    return status;
}

enum bl_status bl_dynamics_create(struct bl_dynamics **out,
                                  const struct bl_trial *trial,
                                  struct bl_run_lag *const *lag,
                                  struct bl_error *error)
{
    *out = NULL;
    const uint64_t refused = bl_alloc_refused();
    struct bl_dynamics *dynamics = bl_alloc(1, sizeof(*dynamics));
    struct bl_dynamics_row *row = bl_alloc(1, sizeof(*row));
    enum bl_status status = BL_OK;
    if (dynamics == NULL || row == NULL) {
        status = bl_fail_memory(error);
    }
    struct making m = {dynamics, trial, NULL, row, error};
    size_t units = 0;
    for (size_t u = 0; status == BL_OK && u < trial->units; u += units) {
        for (units = 1;
             u + units < trial->units && trial->unit[u + units].combination ==
                                             trial->unit[u].combination;) {
            units++;
        }
        status = combination(&m, lag, u, units);
    }
    bl_free(row);
    if (status == BL_NOMEM ||
        (status == BL_OK && bl_alloc_refused() != refused)) {
        status = bl_fail_memory(error);
    }
    if (status != BL_OK) {
        bl_dynamics_destroy(dynamics);
        return status;
    }
    *out = dynamics;
    return BL_OK;
}

void bl_dynamics_destroy(struct bl_dynamics *dynamics)
{
    if (dynamics == NULL) {
        return;
    }
    for (size_t i = 0; i < dynamics->rows; i++) {
        bl_free(dynamics->row[i].speed);
    }
    bl_free(dynamics->row);
    bl_notes_finish(&dynamics->missing);
    bl_free(dynamics);
}
