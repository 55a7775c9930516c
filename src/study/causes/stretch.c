/* SPDX-License-Identifier: MIT */
/*
 * Each unit's time in each application, parted where the control pressure at
 * its coupling was recorded: what the line took, and what the unit itself
 * took. A powered unit answers the demand, so its own time counts from there.
 */
#include "study/causes/causes.h"

#include "lag/doubt.h"

#include <math.h>

static const int64_t second_ns = 1000000000;
static const double vented_kpa = 5; /* the definition of not-vented */

struct control {
    bool known;
    double apply_s, u_apply, apply_75_s, release_s, u_release;
};

static const struct control no_control = {false, NAN, NAN, NAN, NAN, NAN};

static double random_u(const struct bl_figure *f)
{
    const double part[] = {f->part.crossing,   f->part.sampling,
                           f->part.resolution, f->part.rest,
                           f->part.command,    f->part.clock};
    double u = 0;
    for (size_t i = 0; i < sizeof(part) / sizeof(part[0]); i++) {
        u = hypot(u, isnan(part[i]) ? 0 : part[i]);
    }
    return u;
}

static double of_figure(const struct bl_figure *f)
{
    return f->known ? f->s : NAN;
}

/* Of a fill that did not end before the release: it took that long at least. */
static double at_least(const struct bl_figure *f)
{
    return f->bounded ? f->later_than_s : of_figure(f);
}

static double passage_s(const struct bl_passage *p, int64_t from_ns)
{
    return p->found ? (double)(p->time_ns - from_ns) * 1e-9 : NAN;
}

static double passage_u(const struct bl_track *track,
                        const struct bl_passage *p, int64_t from_ns)
{
    const double damage =
        p->found ? bl_doubt_between(track, from_ns, p->time_ns).u_s : 0;
    return hypot(hypot(p->u_noise_s, p->u_sampling_s),
                 hypot(p->u_resolution_s, damage));
}

/* The last of the hold: what is held there is compared with each other. */
static int64_t last_of(const struct bl_application *a)
{
    return a->release_ns - a->apply_ns > second_ns
               ? a->release_ns - second_ns / 3
               : a->apply_ns + (a->release_ns - a->apply_ns) / 2;
}

/* Times of the control pressure after the command's apply and release. */
static struct control read_control(const struct bl_causing *c,
                                   const struct bl_track *track,
                                   const struct bl_application *a,
                                   struct bl_stretches *cell)
{
    struct control out = no_control;
    const int64_t apply = a->apply_ns;
    const int64_t release = a->release_ns;
    const struct bl_rest rest =
        bl_track_rest(track, apply - 10 * second_ns, apply);
    if (!rest.known) {
        return out;
    }
    const struct bl_extent before =
        bl_track_extent(track, apply - second_ns / 4, apply - second_ns / 20);
    if (!before.known || fabs(before.median - rest.value) > vented_kpa) {
        return out; /* its times begin from somewhere else */
    }
    const struct bl_extent held = bl_track_extent(track, last_of(a), release);
    if (held.known) {
        cell->control_hold = held.median - rest.value;
        cell->u_control_hold = hypot(rest.noise, rest.u) + 0.5;
    }
    const double band = fmax(3 * rest.noise, 1);
    const int64_t from = apply - second_ns / 2;
    const struct bl_passage up =
        bl_track_passage(track, BL_UPWARDS, from, release + second_ns,
                         rest.value + c->trial->response_at_kpa, rest.noise,
                         band, BL_HELD_OUTPUT);
    out.known = up.found;
    out.apply_s = passage_s(&up, apply);
    out.u_apply = passage_u(track, &up, apply);
    if (held.known && cell->control_hold > 2 * c->trial->response_at_kpa) {
        const struct bl_passage most =
            bl_track_passage(track, BL_UPWARDS, from, release + second_ns,
                             rest.value + 0.75 * cell->control_hold, rest.noise,
                             band, BL_HELD_OUTPUT);
        out.apply_75_s = passage_s(&most, apply);
        const struct bl_passage down = bl_track_passage(
            track, BL_DOWNWARDS, release - second_ns / 4,
            release + 5 * second_ns, rest.value + 0.9 * cell->control_hold,
            rest.noise, band, BL_HELD_OUTPUT);
        out.release_s = passage_s(&down, release);
        out.u_release = passage_u(track, &down, release);
    }
    return out;
}

/* The command above its rest, there; NaN where it moves or is no pressure. */
static double command_held(const struct bl_causing *c, size_t run,
                           const struct bl_application *a)
{
    const long front = bl_trial_unit_index(c->trial, a->combination, 0);
    struct bl_track track;
    if (front < 0 || !a->command_rest.known ||
        !bl_causes_pressure(c, run, &c->trial->unit[front].command, &track)) {
        return NAN;
    }
    const struct bl_extent e =
        bl_track_extent(&track, last_of(a), a->release_ns - second_ns / 50);
    return e.known && a->shape != BL_SHAPE_RAMP &&
                   e.largest - e.smallest < 10 + 0.05 * e.median
               ? e.median - a->command_rest.value
               : NAN;
}

/* From command_at to 75 % of the command itself; 0 where it is no pressure: a
   slow pedal is no slow brake. */
static double command_fill(const struct bl_causing *c, size_t run,
                           const struct bl_application *a)
{
    const long front = bl_trial_unit_index(c->trial, a->combination, 0);
    struct bl_track track;
    if (front < 0 || !a->command_hold.known || !a->command_rest.known ||
        !bl_causes_pressure(c, run, &c->trial->unit[front].command, &track)) {
        return 0;
    }
    const struct bl_passage most = bl_track_passage(
        &track, BL_UPWARDS, a->apply_ns - second_ns / 2, a->release_ns,
        a->command_rest.value +
            0.75 * (a->command_hold.value - a->command_rest.value),
        1, 3, BL_HELD_OUTPUT);
    return most.found ? passage_s(&most, a->apply_ns) : 0;
}

static void set(struct bl_stretches *cell, enum bl_stretch at, double s,
                double u)
{
    cell->s[at] = s;
    cell->u[at] = u;
}

static void own(const struct bl_causing *c, size_t run,
                const struct bl_unit_lag *unit, const struct control *here,
                double command_fill_s, struct bl_stretches *cell)
{
    if ((unit->flags & BL_FLAG_NOT_VENTED) != 0) {
        return; /* its figures begin from somewhere else */
    }
    const bool powered = bl_causes_powered(c, run) &&
                         unit->figure[BL_FIGURE_DEMAND_ARRIVAL].known;
    double from = 0;
    double u_from = 0;
    if (powered) {
        from = unit->figure[BL_FIGURE_DEMAND_ARRIVAL].s;
        u_from = random_u(&unit->figure[BL_FIGURE_DEMAND_ARRIVAL]);
    } else if (here->known) {
        from = here->apply_s;
        u_from = here->u_apply;
    }
    cell->fill_at_least = unit->figure[BL_FIGURE_FILLED].bounded;
    cell->response_s = of_figure(&unit->figure[BL_FIGURE_RESPONSE]);
    cell->u_response = random_u(&unit->figure[BL_FIGURE_RESPONSE]);
    cell->control_s = here->apply_s;
    cell->u_control = here->u_apply;
    set(cell, BL_OWN_APPLY, of_figure(&unit->figure[BL_FIGURE_RESPONSE]) - from,
        hypot(random_u(&unit->figure[BL_FIGURE_RESPONSE]), u_from));
    const double control_fill = here->apply_75_s - here->apply_s;
    double fill = at_least(&unit->figure[BL_FIGURE_FILLED]) -
                  of_figure(&unit->figure[BL_FIGURE_RESPONSE]);
    if (!powered && isfinite(control_fill)) {
        fill -= control_fill;
        cell->fill_parted = true;
    } else {
        fill -= command_fill_s;
    }
    set(cell, BL_OWN_FILL, fill,
        hypot(random_u(&unit->figure[BL_FIGURE_FILLED]),
              random_u(&unit->figure[BL_FIGURE_RESPONSE])));
    const bool follows = !powered && isfinite(here->release_s);
    set(cell, BL_OWN_RELEASE,
        of_figure(&unit->figure[BL_FIGURE_RELEASE_START]) -
            (follows ? here->release_s : 0),
        hypot(random_u(&unit->figure[BL_FIGURE_RELEASE_START]),
              follows ? here->u_release : 0));
    set(cell, BL_OWN_FALL,
        of_figure(&unit->figure[BL_FIGURE_EMPTIED]) -
            of_figure(&unit->figure[BL_FIGURE_RELEASE_START]),
        hypot(random_u(&unit->figure[BL_FIGURE_EMPTIED]),
              random_u(&unit->figure[BL_FIGURE_RELEASE_START])));
}

/* Within a second of the release before nothing has vented for certain. */
static bool too_soon(const struct bl_causing *c, size_t run, size_t index)
{
    const struct bl_application *a = &c->run[run].lag->application[index];
    const struct bl_application *before = index == 0 ? NULL : a - 1;
    return before != NULL && before->combination == a->combination &&
           before->command_release.known &&
           a->apply_ns - before->release_ns < second_ns;
}

static void read_application(const struct bl_causing *c, size_t run,
                             size_t index)
{
    const struct bl_application *a = &c->run[run].lag->application[index];
    struct control front = {true, 0, 0, NAN, 0, 0};
    const bool usable = bl_application_usable(a) && !too_soon(c, run, index);
    const double fill_s = usable ? command_fill(c, run, a) : 0;
    const double held = usable ? command_held(c, run, a) : NAN;
    for (size_t i = 0; usable && i < a->units; i++) {
        const size_t unit = a->unit[i].unit;
        struct bl_stretches *cell = bl_causes_cell(c, run, index, unit);
        struct bl_track track;
        struct control here = no_control;
        cell->asked_hold = held;
        if (bl_causes_pressure(c, run, &c->trial->unit[unit].control, &track)) {
            here = read_control(c, &track, a, cell);
            front = here.known ? front : no_control;
        }
        own(c, run, &a->unit[i], &here, fill_s, cell);
        if (here.known) {
            /* NaN where the one in front was not to be read. */
            set(cell, BL_LINE_APPLY, here.apply_s - front.apply_s,
                hypot(here.u_apply, front.u_apply));
            set(cell, BL_LINE_RELEASE, here.release_s - front.release_s,
                hypot(here.u_release, front.u_release));
            front = here;
        }
    }
}

void bl_causes_stretch(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_run_lag *lag = c->run[r].lag;
        for (size_t a = 0; lag != NULL && a < lag->applications; a++) {
            for (size_t u = 0; u < c->trial->units; u++) {
                struct bl_stretches *cell = bl_causes_cell(c, r, a, u);
                cell->control_hold = NAN;
                cell->u_control_hold = NAN;
                cell->asked_hold = NAN;
                cell->response_s = cell->control_s = NAN;
                for (int s = 0; s < BL_STRETCHES; s++) {
                    set(cell, (enum bl_stretch)s, NAN, NAN);
                }
            }
            read_application(c, r, a);
        }
    }
}
