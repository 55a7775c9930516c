/* SPDX-License-Identifier: MIT */
/*
 * Does what was recorded agree with what the run declares of power, data and
 * control air? Where it does not, the applications are measured, but excluded,
 * so that no comparison takes them for what they are not. The rules stand in
 * docs/methods/reach.md.
 */
#include "lag/condition.h"

#include "base/sure.h"
#include "lag/application.h"
#include "lag/rules.h"
#include "lag/track.h"

#include <math.h>

/* Half of the least supply that a published permit scheme asks for at the
   rearmost unit: neither a supply nor none at all lies there (own choice). */
static const double SUPPLY_V = 5;
/* Behind its own air a unit is by what its valve and the first of its fill
   take, which may be more than usual without being a demand's doing (own
   choice). */
static const double SLOW_VALVES = 3;
/* A command at which every sound control line shows air: own choice. */
static const double PLAIN_KPA = 100;

static const int64_t second_ns = 1000000000;

struct facts {
    const struct bl_trial *trial;
    const struct bl_trial_run *run;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag;
    struct bl_contradiction *out;
    size_t count;
};

/* The same words with the finding's code in front, for those who list them
   among others. */
struct words {
    const char *plain, *coded;
};
#define WORDS(text)                                                            \
    (struct words)                                                             \
    {                                                                          \
        text, "condition-not-met: " text                                       \
    }

static void put(struct facts *f, struct words why, long unit, double value,
                const char *measured_in)
{
    if (f->count < BL_CONTRADICTIONS) {
        f->out[f->count++] = (struct bl_contradiction){
            why.plain, why.coded, unit, value, measured_in};
    }
}

static bool declared_off(const struct bl_trial_run *run)
{
    return run->power == BL_STATED_OFF || run->data == BL_STATED_OFF;
}

static bool any_demand(const struct bl_run_data *data)
{
    for (size_t i = 0; i < data->series_count; i++) {
        if (data->series[i].signal->role == BL_ROLE_SERVICE_DEMAND &&
            data->series[i].steps.count > 0) {
            return true;
        }
    }
    return false;
}

static bool any_frames(const struct bl_run_data *data)
{
    for (size_t i = 0; i < data->recordings; i++) {
        if (data->recording[i].kind == BL_RECORDING_CAPTURE &&
            data->recording[i].frames > 0) {
            return true;
        }
    }
    return false;
}

static void frames(struct facts *f)
{
    const struct bl_trial_run *run = f->run;
    if (declared_off(run) && any_demand(f->data)) {
        put(f,
            WORDS("the run is declared without power or data, but "
                  "demand frames are there"),
            -1, NAN, "");
    }
    if (run->power == BL_STATED_ON && run->data == BL_STATED_ON &&
        any_frames(f->data) && f->trial->tables != NULL &&
        bl_tables_by_role(f->trial->tables, BL_ROLE_SERVICE_DEMAND, NULL, 0) >
            0 &&
        !any_demand(f->data)) {
        put(f,
            WORDS("the run is declared with power and data, but "
                  "no demand frame is there"),
            -1, NAN, "");
    }
}

/* Middle voltage of every stretch before (or in) an application lies above (or
   below) the level. The last such value goes to `value`. */
static bool volts_all(const struct facts *f, const struct bl_track *volts,
                      char combination, bool during, bool above, double *value)
{
    size_t n = 0;
    for (size_t i = 0; i < f->lag->applications; i++) {
        const struct bl_application *a = &f->lag->application[i];
        if (a->combination != combination || !a->command_apply.known) {
            continue;
        }
        const int64_t end =
            a->command_release.known ? a->release_ns : a->apply_ns + second_ns;
        const struct bl_extent e =
            during ? bl_track_extent(volts, a->apply_ns, end)
                   : bl_track_extent(volts, a->apply_ns - second_ns,
                                     a->apply_ns - BL_REST_BEFORE_COMMAND_NS);
        if (!e.known) {
            continue;
        }
        if ((e.median > SUPPLY_V) != above) {
            return false;
        }
        *value = e.median;
        n++;
    }
    return n > 0;
}

/* Without words: nothing against it. */
static struct words volts_against(const struct facts *f,
                                  const struct bl_track *volts,
                                  char combination, double *value)
{
    const bool lamp = f->run->power == BL_STATED_STOP_LAMP_ONLY;
    if ((f->run->power == BL_STATED_OFF || lamp) &&
        volts_all(f, volts, combination, false, true, value)) {
        return lamp
                   ? WORDS("the run is declared with the stop "
                           "lamps' supply only, but a unit is supplied at rest")
                   : WORDS("the run is declared without power, "
                           "but a unit is supplied");
    }
    if ((f->run->power == BL_STATED_ON || lamp) &&
        volts_all(f, volts, combination, true, false, value)) {
        return lamp ? WORDS("the run is declared with the stop "
                            "lamps' supply, but a unit has none while braking")
                    : WORDS("the run is declared with power, but "
                            "a unit is not supplied");
    }
    return (struct words){NULL, NULL};
}

static void supply(struct facts *f)
{
    for (size_t u = 0; f->lag != NULL && u < f->trial->units; u++) {
        const struct bl_trial_unit *unit = &f->trial->unit[u];
        struct bl_track volts;
        double value = NAN;
        bl_track_find(&volts, f->trial, f->data, f->clocks, &unit->voltage);
        if (unit->number == 0 || !volts.present || volts.is_state ||
            volts.quantity != BL_QUANTITY_VOLTAGE) {
            continue;
        }
        const struct words why =
            volts_against(f, &volts, unit->combination, &value);
        if (why.plain != NULL) {
            put(f, why, (long)u, value, "V");
            return;
        }
    }
}

/* Of all units and applications in which it could be seen. */
struct air {
    size_t seen, came, plain, data_led, answers;
    long unit; /* the rearmost with air */
    double kpa;
};

static struct air air_of(const struct facts *f)
{
    struct air air = {.unit = -1, .kpa = NAN};
    for (size_t i = 0; f->lag != NULL && i < f->lag->applications; i++) {
        const struct bl_application *a = &f->lag->application[i];
        const bool plain =
            a->command_hold.known &&
            a->command_hold.quantity == BL_QUANTITY_PRESSURE &&
            a->command_hold.value - a->command_rest.value >= PLAIN_KPA;
        for (size_t u = 0; u < a->units; u++) {
            const struct bl_follow *follow = &a->unit[u].follow;
            air.seen += follow->air_seen;
            air.came += follow->air_came;
            air.plain += follow->air_seen && plain;
            air.answers += a->unit[u].responded == BL_YES && follow->air_seen;
            air.data_led += follow->by_lead == BL_FOLLOWS_DATA ||
                            follow->by_level == BL_FOLLOWS_DATA;
            if (follow->air_came && (long)a->unit[u].unit >= air.unit) {
                air.unit = (long)a->unit[u].unit;
                air.kpa = a->unit[u].control_peak.known
                              ? a->unit[u].control_peak.value
                              : NAN;
            }
        }
    }
    return air;
}

static void control_air(struct facts *f)
{
    const struct air air = air_of(f);
    if (f->run->control_air == BL_AIR_BLOCKED && air.seen > 0 &&
        air.came == air.seen) {
        put(f,
            WORDS("the control air is declared blocked, but comes "
                  "to every unit where it was recorded"),
            air.unit, air.kpa, "kPa");
    }
    if (f->run->control_air == BL_AIR_OPEN && air.plain > 0 && air.came == 0) {
        put(f,
            WORDS("the control air is declared open, but comes to "
                  "no unit where it was recorded"),
            -1, NAN, "");
    }
    /* With less than every other answer it may be a swapped channel. */
    if (declared_off(f->run) && air.data_led > 0 &&
        2 * air.data_led > air.answers) {
        put(f,
            WORDS("the run is declared without power or data, but "
                  "outputs rise before the air in their control lines"),
            -1, NAN, "");
    }
}

/* How one towed unit answered where the air at its coupling was recorded. */
struct answers {
    size_t all, trails, hard, late;
};

/* It trails its air where it does not lead it for sure; it is late where, in
   all hard applications, it follows that air, later than whoever acts on a
   demand. Units in front may be as quick by their air. */
static struct answers answers_of(const struct bl_run_lag *lag, size_t unit)
{
    struct answers out = {0, 0, 0, 0};
    for (size_t i = 0; i < lag->applications; i++) {
        const struct bl_unit_lag *one =
            bl_application_unit(&lag->application[i], unit);
        if (one == NULL || one->responded != BL_YES || !one->follow.air_seen ||
            !one->figure[BL_FIGURE_RESPONSE].known) {
            continue;
        }
        const double behind_s = -one->follow.lead_s;
        const double sure_s = BL_SURE_U * one->follow.u_lead_s;
        const double waited_s = one->figure[BL_FIGURE_RESPONSE].s;
        const bool trails = behind_s > -sure_s;
        const bool hard = lag->application[i].kind != BL_KIND_LIGHT;
        out.all++;
        out.trails += trails;
        out.hard += hard;
        out.late += hard && behind_s > sure_s &&
                    behind_s < SLOW_VALVES * BL_VALVE_S &&
                    waited_s > BL_LATEST_BY_DEMAND_S + sure_s;
    }
    return out;
}

/* No unit is ahead of its air, and two at least are too late for a demand. One
   alone may ignore it; and where frames were recorded, these show which units
   were asked and did not act. */
static void by_air(struct facts *f)
{
    enum { LEAST = 2 };
    size_t late = 0;
    if (f->lag == NULL || any_frames(f->data) ||
        f->run->power != BL_STATED_ON || f->run->data != BL_STATED_ON ||
        f->run->control_air == BL_AIR_BLOCKED) {
        return;
    }
    for (size_t u = 0; u < f->trial->units; u++) {
        if (f->trial->unit[u].number == 0) {
            continue;
        }
        const struct answers own = answers_of(f->lag, u);
        if (own.trails < own.all) {
            return;
        }
        late += own.hard > 0 && own.late == own.hard;
    }
    if (late >= LEAST) {
        put(f,
            WORDS(
                "the run is declared with power and data, but all units brake "
                "by their air, none before it and the rear ones too late for "
                "a demand, as if power were off"),
            -1, NAN, "");
    }
}

size_t bl_lag_contradictions(struct bl_contradiction out[BL_CONTRADICTIONS],
                             const struct bl_trial *trial,
                             const struct bl_run_data *data,
                             const struct bl_run_clocks *clocks,
                             const struct bl_run_lag *lag)
{
    struct facts f = {.trial = trial,
                      .run = &trial->run[data->run],
                      .data = data,
                      .clocks = clocks,
                      .lag = lag,
                      .out = out};
    frames(&f);
    supply(&f);
    control_air(&f);
    by_air(&f);
    return f.count;
}

enum bl_status bl_lag_judge_condition(struct bl_run_lag *lag,
                                      const struct bl_trial *trial,
                                      const struct bl_run_data *data,
                                      const struct bl_run_clocks *clocks,
                                      struct bl_error *error)
{
    struct bl_contradiction found[BL_CONTRADICTIONS];
    const size_t n = bl_lag_contradictions(found, trial, data, clocks, lag);
    for (size_t i = 0; i < n; i++) {
        char name[BL_UNIT_CALLED];
        const long u = found[i].unit;
        const enum bl_status status =
            u < 0 ? bl_note_each(&lag->notes, "condition-not-met", -1, "%s",
                                 found[i].coded)
                  : bl_note_each(&lag->notes, "condition-not-met", -1,
                                 "%s (%s: %.1f %s)", found[i].coded,
                                 bl_trial_unit_called(trial, (size_t)u, name,
                                                      sizeof(name)),
                                 found[i].value, found[i].measured_in);
        if (status != BL_OK) {
            return bl_fail_memory(error);
        }
    }
    for (size_t i = 0; n > 0 && i < lag->applications; i++) {
        if (!lag->application[i].excluded) {
            lag->application[i].excluded = true;
            lag->application[i].excluded_why = found[0].coded;
            lag->application[i].contradicted = true;
        }
    }
    return BL_OK;
}
