/* SPDX-License-Identifier: MIT */
/*
 * Outputs that rise while nobody brakes: before the first application, between
 * them and after the last one. A rise counts behind a moment at which the
 * output was vented, so that a slow release does not count; and where the
 * command, the air or the electronic demand asked for it, it is no fault of the
 * unit.
 */
#include "lag/demand.h"
#include "lag/doubt.h"
#include "lag/rules.h"
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

static const int64_t second_ns = 1000000000;
/* An output is vented when it stood as low for so long. */
static const int64_t vented_ns = 300000000;
/* A rise lasts longer than a spike. */
static const int64_t lasts_ns = 100000000;
/* Above response_at, so that noise of a vented output is no rise. */
static const double clear_kpa = 10;
/* What asked for a rise came at most so much before it: no unit is later. */
static const int64_t asked_within_ns = 1500000000;
/* An application may show in the output before its command does. */
static const int64_t lead_ns = 250000000;
/* Less was not searched for long enough to say that nothing rose. */
static const double searched_least_s = 1;
/* A pedal that is touched: this share of command_at. */
static const double touched_share = 0.25;
/* A reservoir that fills: the emergency valve of a towed unit may brake until
   it holds about 4.5 bar (common practice). */
static const double filled_kpa = 450, fills_kpa = 50;

double bl_causes_above_s(const struct bl_track *track, int64_t from, int64_t to,
                         double level)
{
    const struct bl_samples *s = track->samples;
    const int64_t raw_to = bl_track_raw(track, to);
    int64_t since = INT64_MAX;
    int64_t longest = 0;
    bool vented = false; /* it must have been below before */
    for (size_t i = bl_samples_at(s, bl_track_raw(track, from));
         i < s->count && s->time_ns[i] < raw_to; i++) {
        if (!((double)s->value[i] > level)) {
            since = INT64_MAX;
            vented = true;
        } else if (!vented) {
            continue;
        } else if (since == INT64_MAX) {
            since = s->time_ns[i];
        } else if (s->time_ns[i] - since > longest) {
            longest = s->time_ns[i] - since;
        }
    }
    return (double)longest * 1e-9;
}

bool bl_causes_between(const struct bl_causing *c, size_t run, size_t a,
                       int64_t *from, int64_t *to)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    if (a + 1 >= lag->applications) {
        return false;
    }
    const struct bl_application *application = &lag->application[a];
    const struct bl_application *next = &lag->application[a + 1];
    *from = application->release_ns + 3 * second_ns;
    *to = next->apply_ns - lead_ns;
    return application->combination == next->combination &&
           bl_application_usable(application) && !next->begun_before &&
           *to > *from;
}

/* What is searched, and what was found, of one output. */
struct unasked {
    const struct bl_causing *c;
    size_t run, unit, output;
    struct bl_track track, command;
    double command_rest; /* NaN: a switch */
    double level_kpa;    /* vented is below it */
    double searched_s, longest_s, most_kpa;
    size_t times, by_air, by_demand, filling, by_park, by_itself;
    int64_t first_ns; /* of the first rise */
};

/* A rise of the output, run time. */
struct rise {
    int64_t from_ns, to_ns;
    double kpa; /* above the vented output */
};

static bool rose(const struct bl_track *track, int64_t from, int64_t to,
                 double by)
{
    const struct bl_extent e = bl_track_extent(track, from, to);
    return e.known && e.largest - e.smallest > by;
}

/* Did the command move, if only a little? */
static bool touched(const struct unasked *u, const struct rise *rise)
{
    const struct bl_trial *trial = u->c->trial;
    const long front =
        bl_trial_unit_index(trial, trial->unit[u->unit].combination, 0);
    const double step = touched_share * trial->unit[front].command_at;
    const int64_t tenth = second_ns / 10;
    const bool is_state = u->command.is_state || isnan(u->command_rest);
    const double level =
        is_state ? BL_STATE_LEVEL : u->command_rest + fmax(step, 0);
    for (int64_t t = rise->from_ns - asked_within_ns; t < rise->to_ns;
         t += tenth) {
        const struct bl_extent e = bl_track_extent(&u->command, t, t + tenth);
        const bool held = u->command.samples == NULL || is_state;
        if (e.known && (held ? e.largest : e.median) > level) {
            return true;
        }
    }
    return false;
}

static bool doubtful(const struct unasked *u, const struct rise *rise)
{
    const int64_t from = rise->from_ns - asked_within_ns;
    return bl_track_damage(&u->track, from, rise->to_ns) != 0 ||
           bl_track_damage(&u->command, from, rise->to_ns) != 0 ||
           bl_doubt_between(&u->command, from, rise->to_ns).flags != 0 ||
           bl_doubt_of(&u->track, &u->command, from, rise->to_ns).flags != 0;
}

/* Did the unit's own control pressure rise as well? Then something in front
   asked for it. */
static bool asked_by_air(const struct unasked *u, const struct rise *rise)
{
    struct bl_track track;
    if (!bl_causes_pressure(u->c, u->run, &u->c->trial->unit[u->unit].control,
                            &track)) {
        return false;
    }
    const int64_t from = rise->from_ns - asked_within_ns;
    const struct bl_extent before =
        bl_track_extent(&track, from - second_ns / 2, from + second_ns / 2);
    return before.known &&
           bl_causes_above_s(&track, from - second_ns / 2, rise->to_ns,
                             before.median + u->c->trial->response_at_kpa +
                                 clear_kpa) > 0.1;
}

static bool asked_by_demand(const struct unasked *u, const struct rise *rise)
{
    const struct bl_causes_run *run = &u->c->run[u->run];
    const struct bl_trial *trial = u->c->trial;
    const long front =
        bl_trial_unit_index(trial, trial->unit[u->unit].combination, 0);
    const struct bl_bus_series *series = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_demand_series(&series, trial, run->data, u->unit, &error) != BL_OK ||
        series == NULL) {
        return false;
    }
    struct bl_track track;
    bl_track_series(&track, run->data, run->clocks, series);
    return rose(&track, rise->from_ns - asked_within_ns, rise->to_ns,
                bl_demand_level(trial, &trial->unit[front]));
}

/* Did one of these states go on with it, as the bus tells? One that was on
   before says nothing. `own`: as the unit itself reports it. */
static bool goes_on(const struct unasked *u, const struct rise *rise,
                    const enum bl_role *role, size_t roles, bool own)
{
    const struct bl_causes_run *run = &u->c->run[u->run];
    const int64_t before = rise->from_ns - asked_within_ns;
    for (size_t i = 0; i < run->data->series_count; i++) {
        const struct bl_bus_series *s = &run->data->series[i];
        bool wanted = false;
        for (size_t k = 0; k < roles; k++) {
            wanted = wanted || s->signal->role == role[k];
        }
        if (!wanted ||
            (own && (int)s->source != u->c->trial->unit[u->unit].address)) {
            continue;
        }
        struct bl_track track;
        bl_track_series(&track, run->data, run->clocks, s);
        if (bl_track_value(&track, before) > BL_STATE_LEVEL) {
            continue;
        }
        for (int64_t t = before; t < rise->to_ns; t += second_ns / 10) {
            if (bl_track_value(&track, t) > BL_STATE_LEVEL) {
                return true;
            }
        }
    }
    return false;
}

static const enum bl_role park_roles[] = {
    BL_ROLE_PARK_BRAKE, BL_ROLE_PARK_DEMAND, BL_ROLE_SPRING_BRAKE_ENGAGED};
enum { PARK_ROLES = sizeof(park_roles) / sizeof(park_roles[0]) };

static bool brakes_by_itself(const struct unasked *u, const struct rise *rise)
{
    static const enum bl_role by_itself[] = {BL_ROLE_AUTOMATIC_BRAKING};
    return goes_on(u, rise, by_itself, 1, true);
}

static bool is_parked(const struct unasked *u, const struct rise *rise)
{
    return goes_on(u, rise, park_roles, PARK_ROLES, false);
}

/* Does the bus say whether it is parked? */
static bool parking_told(const struct bl_causing *c, size_t run)
{
    const struct bl_run_data *data = c->run[run].data;
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *s = &data->series[i];
        for (size_t k = 0; k < PARK_ROLES; k++) {
            if (s->signal->role == park_roles[k] &&
                s->steps.frames > s->steps.not_valid) {
                return true;
            }
        }
    }
    return false;
}

/* A reservoir that fills, or is not filled yet. */
static bool is_filling(const struct unasked *u, const struct rise *rise)
{
    struct bl_track track;
    if (!bl_causes_pressure(u->c, u->run, &u->c->trial->unit[u->unit].reservoir,
                            &track)) {
        return false;
    }
    const struct bl_extent e =
        bl_track_extent(&track, rise->from_ns - 10 * second_ns, rise->to_ns);
    return e.known &&
           (e.smallest < filled_kpa || (e.largest - e.smallest > fills_kpa &&
                                        e.largest_ns > e.smallest_ns));
}

static void take(struct unasked *u, const struct rise *rise)
{
    if (rise->to_ns - rise->from_ns <= lasts_ns || doubtful(u, rise) ||
        touched(u, rise)) {
        return;
    }
    const double s = (double)(rise->to_ns - rise->from_ns) * 1e-9;
    u->first_ns = u->times == 0 ? rise->from_ns : u->first_ns;
    u->times++;
    u->longest_s = fmax(u->longest_s, s);
    u->most_kpa = fmax(u->most_kpa, rise->kpa);
    if (asked_by_air(u, rise)) {
        u->by_air++;
    } else if (asked_by_demand(u, rise)) {
        u->by_demand++;
    } else if (brakes_by_itself(u, rise)) {
        u->by_itself++;
    } else if (is_parked(u, rise)) {
        u->by_park++;
    } else if (is_filling(u, rise)) {
        u->filling++;
    }
}

/* The lowest the output stood at for 0.3 s up to sample `i`; the window ends at
   `end`. NaN: it was not below `level` for so long. */
struct vent {
    int64_t since_ns; /* below the level since; INT64_MAX: it is not */
    double sum;
    size_t n;
    double kpa; /* NaN: not vented yet */
};

static void add_vent(struct vent *v, int64_t ns, double value, double level)
{
    if (value > level) {
        v->since_ns = INT64_MAX;
        return;
    }
    if (v->since_ns == INT64_MAX) {
        v->since_ns = ns;
        v->sum = 0;
        v->n = 0;
    }
    v->sum += value;
    v->n++;
    if (ns - v->since_ns >= vented_ns) {
        const double middle = v->sum / (double)v->n;
        v->kpa = isnan(v->kpa) ? middle : fmin(v->kpa, middle);
        v->since_ns = ns;
        v->sum = 0;
        v->n = 0;
    }
}

/* Rises of the output between two times. */
static void search(struct unasked *u, int64_t from, int64_t to)
{
    const struct bl_samples *s = u->track.samples;
    const double by = u->c->trial->response_at_kpa + clear_kpa;
    struct vent vent = {INT64_MAX, 0, 0, NAN};
    struct rise rise = {INT64_MAX, INT64_MAX, 0};
    int64_t before = INT64_MAX;
    const int64_t raw_to = bl_track_raw(&u->track, to);
    for (size_t i = bl_samples_at(s, bl_track_raw(&u->track, from));
         i < s->count && s->time_ns[i] < raw_to; i++) {
        const int64_t ns = bl_track_run(&u->track, s->time_ns[i]);
        const double value = (double)s->value[i];
        if (!isnan(vent.kpa) && before != INT64_MAX && ns > before) {
            u->searched_s += (double)(ns - before) * 1e-9;
        }
        before = ns;
        if (isnan(value)) {
            continue;
        }
        if (!isnan(vent.kpa) && value > vent.kpa + by) {
            rise.kpa = rise.from_ns == INT64_MAX ? 0 : rise.kpa;
            rise.from_ns = rise.from_ns == INT64_MAX ? ns : rise.from_ns;
            rise.to_ns = ns;
            rise.kpa = fmax(rise.kpa, value - vent.kpa);
        } else if (rise.from_ns != INT64_MAX) {
            take(u, &rise);
            rise.from_ns = INT64_MAX;
        }
        add_vent(&vent, ns, value, u->level_kpa);
    }
    if (rise.from_ns != INT64_MAX) {
        take(u, &rise);
    }
}

/* Between what is known of both recordings, and in one part of each. */
static void stretch(struct unasked *u, int64_t from, int64_t to)
{
    const int64_t first = u->track.first_ns > u->command.first_ns
                              ? u->track.first_ns
                              : u->command.first_ns;
    const int64_t last = u->track.last_ns < u->command.last_ns
                             ? u->track.last_ns
                             : u->command.last_ns;
    from = from < first ? first : from;
    to = to > last ? last : to;
    if (to <= from || !bl_causes_tied(&u->track, &u->command, from) ||
        !bl_causes_tied(&u->track, &u->command, to) ||
        bl_doubt_hides(&u->command, from, to)) {
        return;
    }
    search(u, from, to);
}

/* All that lies outside the applications of the unit's combination. */
static void stretches(struct unasked *u)
{
    const struct bl_run_lag *lag = u->c->run[u->run].lag;
    int64_t from = INT64_MIN;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        if (application->combination !=
            u->c->trial->unit[u->unit].combination) {
            continue;
        }
        if (from != INT64_MAX && !application->begun_before) {
            stretch(u, from, application->apply_ns - lead_ns);
        }
        from = application->command_release.known && !application->excluded
                   ? application->release_ns
                   : INT64_MAX;
    }
    if (from != INT64_MAX) {
        stretch(u, from, INT64_MAX);
    }
}

/* The lowest rests of the output and of its command; false: not known. */
static bool find_levels(struct unasked *u)
{
    const struct bl_run_lag *lag = u->c->run[u->run].lag;
    double rest = NAN;
    u->command_rest = NAN;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_unit_lag *measured = bl_causes_output(
            bl_application_unit(&lag->application[a], u->unit), u->output);
        if (measured == NULL) {
            continue;
        }
        if (measured->rest.known && !(rest <= measured->rest.value)) {
            rest = measured->rest.value;
        }
        const struct bl_level *command = &lag->application[a].command_rest;
        if (command->known && !(u->command_rest <= command->value)) {
            u->command_rest = command->value;
        }
    }
    u->level_kpa = rest + u->c->trial->response_at_kpa;
    return isfinite(rest);
}

/* What every rise goes with has a name of its own. */
static enum bl_finding_code code_of(const struct unasked *u)
{
    return u->by_itself == u->times ? BL_FINDING_AUTOMATIC_BRAKING
           : u->by_park == u->times ? BL_FINDING_PARK_IN_SERVICE
                                    : BL_FINDING_OUTPUT_WITHOUT_COMMAND;
}

static void say_without(struct bl_causing *c, const struct unasked *u)
{
    char text[192];
    char often[48];
    const bool filling = u->filling > 0 && u->filling == u->times;
    struct bl_finding *f = bl_findings_add(
        c->into, code_of(u), filling ? BL_SHOWN_CANNOT_TELL : BL_SHOWN_FOUND,
        (long)u->unit, (long)u->run);
    if (u->by_air + u->by_demand == u->times) {
        bl_finding_note(f, "See who used a hand control, or pressed at one "
                           "point, at that time.");
    }
    if (u->times == 1) {
        snprintf(often, sizeof(often), "once");
    } else {
        snprintf(often, sizeof(often), "%zu times", u->times);
    }
    bl_finding_say(
        f, "%s rose %s without a command, by up to %.0f kPa%s",
        bl_causes_output_of(c, u->unit, u->output, text, sizeof(text)), often,
        u->most_kpa,
        u->by_air == u->times
            ? "; its control pressure rose too, so the air asked for it"
        : u->by_demand == u->times
            ? "; its electronic demand rose too, so that asked for it"
        : u->by_air + u->by_demand == u->times
            ? "; air or electronic demand asked for it each time"
        : u->by_park == u->times ? ", each time as the parking brake was put on"
        : u->by_itself == u->times
            ? ", each time as it reported braking of its own"
        : filling ? "; its reservoir was filling then, which may apply it"
                  : "");
    bl_finding_evidence(f, "longest", u->longest_s, NAN, "s");
    bl_finding_evidence(
        f, "first at", (double)(u->first_ns - c->run[u->run].lag->t0_ns) * 1e-9,
        NAN, "s");
    bl_finding_evidence(f, "searched, outside all applications", u->searched_s,
                        NAN, "s");
}

/* Which of two outputs says more: one that nothing asked to rise. */
static bool is_worse(const struct unasked *a, const struct unasked *b)
{
    const size_t alone_a = a->times - a->by_air - a->by_demand - a->filling;
    const size_t alone_b = b->times - b->by_air - b->by_demand - b->filling;
    return alone_a != alone_b ? alone_a > alone_b : a->times > b->times;
}

static void without_command(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_trial_unit *vehicle = &c->trial->unit[unit];
    struct unasked worst = {.times = 0};
    double searched_s = 0;
    for (size_t o = 0; o < vehicle->outputs; o++) {
        struct unasked one = {.c = c, .run = run, .unit = unit, .output = o};
        if (!bl_causes_pressure(c, run, &vehicle->output[o], &one.track) ||
            !bl_causes_command(c, run, unit, &one.command) ||
            !find_levels(&one)) {
            continue;
        }
        stretches(&one);
        c->into->searched_s += one.searched_s;
        c->into->searched += one.searched_s > 0;
        searched_s = fmax(searched_s, one.searched_s);
        worst = is_worse(&one, &worst) ? one : worst;
    }
    const bool searched = worst.times > 0 || searched_s >= searched_least_s;
    const char *needs = bl_causes_untied(c, run, unit);
    if (worst.times > 0) {
        say_without(c, &worst);
    }
    if (searched) {
        bl_findings_looked(c->into, BL_FINDING_OUTPUT_WITHOUT_COMMAND,
                           (long)unit, (long)run);
    } else {
        bl_findings_missing(c->into, BL_FINDING_OUTPUT_WITHOUT_COMMAND,
                            (long)unit, (long)run, needs);
    }
    if (searched && parking_told(c, run)) {
        bl_findings_looked(c->into, BL_FINDING_PARK_IN_SERVICE, (long)unit,
                           (long)run);
    } else {
        bl_findings_missing(c->into, BL_FINDING_PARK_IN_SERVICE, (long)unit,
                            (long)run, needs);
    }
}

/* What the bus names in one run is the same in another, of which it says
   nothing. */
static void follow(struct bl_causing *c)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        for (size_t r = 0;
             f->code == BL_FINDING_OUTPUT_WITHOUT_COMMAND && r < c->trial->runs;
             r++) {
            f->follows = f->follows ||
                         bl_causes_found(c, BL_FINDING_PARK_IN_SERVICE, f->unit,
                                         (long)r) != NULL ||
                         bl_causes_found(c, BL_FINDING_AUTOMATIC_BRAKING,
                                         f->unit, (long)r) != NULL;
        }
    }
}

void bl_causes_unasked(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; c->run[r].lag != NULL && u < c->trial->units; u++) {
            without_command(c, r, u);
        }
    }
    follow(c);
}
