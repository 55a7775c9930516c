/* SPDX-License-Identifier: MIT */
/*
 * Each unit's time in each application, parted where the control pressure at
 * its coupling was recorded: what the line took, and what the unit itself
 * took. A powered unit answers the demand, so its own time counts from there.
 */
#include "study/causes/traits/traits.h"

#include "lag/trip.h"

#include <math.h>

static const int64_t second_ns = 1000000000;
static const double vented_kpa = 5; /* the definition of not-vented */
/* Own choice: a command that takes longer from command_at to 75 % of itself
   goes up a stair or a slow ramp. Times behind it are those of the foot, and of
   the pressures that it stopped at. */
static const double slowest_s = 1.0;

/* A pedal is followed by a foot: as in command_fill(). */
static const double command_noise_kpa = 1;

struct control {
    bool known;
    double apply_s, u_apply, apply_75_s, release_s, u_release, emptied_s;
    double hold_kpa, u_hold; /* above rest; NaN where it was not held */
    struct bl_course course; /* of the whole rise and fall */
};

static const struct control no_control = {
    false, NAN, NAN, NAN, NAN,
    NAN,   NAN, NAN, NAN, {NULL, NAN, NAN, NAN, false, false}};
/* What counts from the command begins with it. */
static const struct control command_control = {
    true, 0, 0, NAN, 0, 0, NAN, NAN, NAN, {NULL, NAN, NAN, NAN, false, false}};

/* One application of one run, and what asked for braking in it. */
struct reading {
    const struct bl_causing *c;
    size_t run, index;
    const struct bl_application *a;
    enum bl_trait_class by;
    double command_fill_s, command_kpa; /* NaN: not held */
};

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

/* The last of the hold: what is held there is compared with each other. */
static int64_t last_of(const struct bl_application *a)
{
    return a->release_ns - a->apply_ns > second_ns
               ? a->release_ns - second_ns / 3
               : a->apply_ns + (a->release_ns - a->apply_ns) / 2;
}

/* Did it stand while the command was held for half a second? A stab is over
   before the air has come; what still moves says nothing of how much came. By
   the middles of two halves: the release may have begun in the last rows. */
static bool stood(const struct bl_track *track, const struct bl_application *a)
{
    const int64_t from = last_of(a);
    const int64_t half = from + (a->release_ns - from) / 2;
    const struct bl_extent first = bl_track_extent(track, from, half);
    const struct bl_extent last = bl_track_extent(track, half, a->release_ns);
    return a->release_ns - a->apply_ns >= second_ns / 2 && first.known &&
           last.known &&
           fabs(last.median - first.median) < 5 + 0.02 * fabs(last.median);
}

/* Was the command let go from its hold? Down a staircase it passes the level of
   its release from another step than its followers do. Where it is no pressure
   nothing else is known. */
static bool let_go_from_hold(const struct bl_causing *c, size_t run,
                             const struct bl_application *a)
{
    const long front = bl_trial_unit_index(c->trial, a->combination, 0);
    struct bl_track track;
    if (front < 0 || !a->command_hold.known ||
        a->command_hold.quantity != BL_QUANTITY_PRESSURE ||
        !bl_causes_pressure(c, run, &c->trial->unit[front].command, &track)) {
        return true;
    }
    const struct bl_extent e =
        bl_track_extent(&track, last_of(a), a->release_ns - second_ns / 50);
    return !e.known || fabs(e.median - a->command_hold.value) <=
                           5 + 0.02 * fabs(a->command_hold.value);
}

/* Times of the control pressure after the command's apply and release. */
static struct control read_control(const struct bl_causing *c, size_t run,
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
    const bool steady = held.known && stood(track, a);
    if (held.known) {
        out.course = (struct bl_course){track,
                                        rest.value,
                                        rest.noise,
                                        held.median - rest.value,
                                        !stood(track, a),
                                        false};
    }
    if (steady) {
        cell->control_hold = held.median - rest.value;
        cell->u_control_hold = hypot(rest.noise, rest.u) + 0.5;
        out.hold_kpa = cell->control_hold;
        out.u_hold = cell->u_control_hold;
    }
    const double band = fmax(3 * rest.noise, 1);
    const int64_t from = apply - second_ns / 2;
    const struct bl_passage up = bl_track_passage(
        track, BL_UPWARDS, from, release + second_ns,
        &(const struct bl_level_passed){rest.value + c->trial->response_at_kpa,
                                        rest.noise, band},
        BL_HELD_OUTPUT);
    out.known = up.found;
    out.apply_s = passage_s(&up, apply);
    out.u_apply = bl_passage_u(track, &up, apply);
    if (steady && cell->control_hold > 2 * c->trial->response_at_kpa) {
        const struct bl_passage most = bl_track_passage(
            track, BL_UPWARDS, from, release + second_ns,
            &(const struct bl_level_passed){
                rest.value + 0.75 * cell->control_hold, rest.noise, band},
            BL_HELD_OUTPUT);
        out.apply_75_s = passage_s(&most, apply);
        if (!let_go_from_hold(c, run, a)) {
            return out;
        }
        out.course.let_go = true;
        const struct bl_passage down = bl_track_passage(
            track, BL_DOWNWARDS, release - second_ns / 4,
            release + 5 * second_ns,
            &(const struct bl_level_passed){
                rest.value + 0.9 * cell->control_hold, rest.noise, band},
            BL_HELD_OUTPUT);
        out.release_s = passage_s(&down, release);
        out.u_release = bl_passage_u(track, &down, release);
        const struct bl_passage empty = bl_track_passage(
            track, BL_DOWNWARDS, release - second_ns / 4,
            release + 5 * second_ns,
            &(const struct bl_level_passed){
                rest.value + 0.1 * cell->control_hold, rest.noise, band},
            BL_HELD_OUTPUT);
        out.emptied_s = passage_s(&empty, release);
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
        &(const struct bl_level_passed){
            a->command_rest.value +
                0.75 * (a->command_hold.value - a->command_rest.value),
            1, 3},
        BL_HELD_OUTPUT);
    return most.found ? passage_s(&most, a->apply_ns) : 0;
}

static void set(struct bl_stretches *cell, enum bl_trait at, double s, double u)
{
    cell->value[at] = s;
    cell->u[at] = u;
}

/* Where the unit's own times count from: the demand or the command where that
   asked, else the air at its coupling. */
static struct control input_of(const struct reading *r,
                               const struct bl_unit_lag *unit,
                               const struct control *here, bool by_coupling)
{
    const struct bl_figure *demand = &unit->figure[BL_FIGURE_DEMAND_ARRIVAL];
    struct control out = command_control;
    if (r->by == BL_BY_DEMAND && demand->known) {
        out.apply_s = demand->s;
        out.u_apply = random_u(demand);
    } else if (by_coupling) {
        out = *here; /* NaN where it could not be read: the command is no input
                        of a unit that waits for its air */
    }
    return out;
}

/* Near to its hold a pressure passes a level late whatever the unit, as a slow
   end is a small slope: response_at must be this share of the hold at most (own
   choice; of a first-order rise a third takes 0.4 time constants). */
static const double most_of_hold = 1.0 / 3;

static bool passes_well(const struct reading *r, double hold_kpa)
{
    return !(r->c->trial->response_at_kpa > most_of_hold * hold_kpa);
}

/* A switch may close as high as it may; what it watches holds what is asked. */
static bool closes_well(const struct reading *r, size_t unit)
{
    const struct bl_causes_run *run = &r->c->run[r->run];
    const struct bl_closing closes =
        bl_unit_closes(r->c->trial, run->data, run->clocks, unit, SIZE_MAX);
    return !closes.by_switch ||
           !(closes.high_kpa > most_of_hold * r->command_kpa);
}

static bool responds_well(const struct reading *r,
                          const struct bl_unit_lag *unit)
{
    if (!closes_well(r, unit->unit)) {
        return false;
    }
    return !unit->hold.known || !unit->rest.known ||
           unit->hold.quantity != BL_QUANTITY_PRESSURE ||
           passes_well(r, unit->hold.value - unit->rest.value);
}

/* Less the same of what it is fed by: of a unit that waits for its air the
   control pressure, which is NaN where it could not be read, and else the
   command. */
static void fill_and_fall(const struct reading *r,
                          const struct bl_unit_lag *unit,
                          const struct control *here, bool by_coupling,
                          struct bl_stretches *cell)
{
    const struct bl_figure *figure = unit->figure;
    const bool held = unit->hold.known && unit->rest.known &&
                      unit->hold.quantity == BL_QUANTITY_PRESSURE;
    const double held_kpa =
        held ? unit->hold.value - unit->rest.value : here->course.hold;
    double taken = r->command_fill_s;
    double fell = 0;
    if (by_coupling) {
        taken = bl_course_rises(r->a, &here->course, held_kpa,
                                r->c->trial->response_at_kpa);
        fell = bl_course_falls(r->a, &here->course, held_kpa);
        set(cell, BL_TRAIT_INPUT_FILL, taken, 0);
        set(cell, BL_TRAIT_INPUT_FALL, fell, 0);
    }
    cell->fill_parted = by_coupling && isfinite(taken);
    set(cell, BL_TRAIT_FILL,
        at_least(&figure[BL_FIGURE_FILLED]) -
            of_figure(&figure[BL_FIGURE_RESPONSE]) - taken,
        hypot(random_u(&figure[BL_FIGURE_FILLED]), cell->u_response));
    set(cell, BL_TRAIT_FALL,
        of_figure(&figure[BL_FIGURE_EMPTIED]) -
            of_figure(&figure[BL_FIGURE_RELEASE_START]) - fell,
        hypot(random_u(&figure[BL_FIGURE_EMPTIED]),
              random_u(&figure[BL_FIGURE_RELEASE_START])));
}

static void own(const struct reading *r, const struct bl_unit_lag *unit,
                const struct control *here, struct bl_stretches *cell)
{
    const struct bl_figure *figure = unit->figure;
    if (bl_unit_begins_elsewhere(unit) || r->command_fill_s > slowest_s) {
        return;
    }
    const bool by_coupling = r->by == BL_BY_AIR && cell->control_wired;
    const struct control from = input_of(r, unit, here, by_coupling);
    cell->from_demand =
        r->by == BL_BY_DEMAND && figure[BL_FIGURE_DEMAND_ARRIVAL].known;
    const double response = of_figure(&figure[BL_FIGURE_RESPONSE]);
    const bool well = responds_well(r, unit) && passes_well(r, here->hold_kpa);
    cell->fill_at_least = figure[BL_FIGURE_FILLED].bounded;
    cell->response_s = response;
    cell->u_response = random_u(&figure[BL_FIGURE_RESPONSE]);
    cell->control_s = here->apply_s;
    cell->u_control = here->u_apply;
    cell->release_s = of_figure(&figure[BL_FIGURE_RELEASE_START]);
    cell->u_release = random_u(&figure[BL_FIGURE_RELEASE_START]);
    cell->control_release_s = here->release_s;
    cell->u_control_release = here->u_release;
    set(cell, BL_TRAIT_RESPONSE, response, cell->u_response);
    set(cell, BL_TRAIT_FILLED, of_figure(&figure[BL_FIGURE_FILLED]),
        random_u(&figure[BL_FIGURE_FILLED]));
    set(cell, BL_TRAIT_RELEASE_BEGIN, cell->release_s, cell->u_release);
    set(cell, BL_TRAIT_EMPTIED, of_figure(&figure[BL_FIGURE_EMPTIED]),
        random_u(&figure[BL_FIGURE_EMPTIED]));
    set(cell, BL_TRAIT_BEHIND_AIR, response - here->apply_s,
        hypot(cell->u_response, here->u_apply));
    set(cell, BL_TRAIT_DELAY, well ? response - from.apply_s : NAN,
        hypot(cell->u_response, from.u_apply));
    const struct bl_figure *onset = &figure[BL_FIGURE_RISE_START];
    set(cell, BL_TRAIT_ONSET, of_figure(onset) - from.apply_s,
        hypot(random_u(onset), from.u_apply));
    const double taken = from.apply_75_s - from.apply_s;
    const double rising = isfinite(taken) ? taken : r->command_fill_s;
    const double asked = isfinite(taken) ? here->hold_kpa : r->command_kpa;
    if (rising > 0) { /* from response_at to 75 % */
        set(cell, BL_TRAIT_PACE,
            (0.75 * asked - r->c->trial->response_at_kpa) / rising, 0);
    }
    fill_and_fall(r, unit, here, by_coupling, cell);
    set(cell, BL_TRAIT_RELEASE_DELAY,
        of_figure(&figure[BL_FIGURE_RELEASE_START]) - from.release_s,
        hypot(random_u(&figure[BL_FIGURE_RELEASE_START]), from.u_release));
}

/* Below this a share of what was asked says little: opening pressures. */
static const double least_asked_kpa = 100;
/* Own choice: of that an opening pressure of 50 kPa is a fifth. */
static const double least_command_kpa = 250;

static void levels(const struct reading *r, const struct bl_unit_lag *unit,
                   const struct control *here, struct bl_stretches *cell)
{
    const bool by_air = r->by == BL_BY_AIR && cell->control_wired;
    const double asked = by_air ? here->hold_kpa : r->command_kpa;
    const double u_asked =
        by_air ? here->u_hold
               : hypot(r->a->command_hold.u, r->a->command_rest.u) + 0.5;
    set(cell, BL_TRAIT_ASKED, asked, u_asked);
    if (unit->rest.known && unit->rest.quantity == BL_QUANTITY_PRESSURE) {
        set(cell, BL_TRAIT_REST, unit->rest.value, unit->rest.u);
    }
    if (!(asked >= least_asked_kpa) || bl_unit_begins_elsewhere(unit)) {
        return;
    }
    if (unit->responded != BL_UNKNOWN) {
        set(cell, BL_TRAIT_NO_RESPONSE, unit->responded == BL_NO, 0);
    }
    if (unit->hold.known && unit->hold_from == BL_HOLD_SETTLED &&
        unit->rest.known && unit->hold.quantity == BL_QUANTITY_PRESSURE) {
        const double held = unit->hold.value - unit->rest.value;
        const double u = hypot(unit->hold.u, unit->rest.u);
        set(cell, BL_TRAIT_HELD, held, u);
        set(cell, BL_TRAIT_HOLD, held / asked,
            hypot(u, u_asked * held / asked) / asked);
    }
}

/* The line to a unit's coupling, from what stood in front of it. */
static void line(const struct reading *r, const struct control *front,
                 const struct control *here, struct bl_stretches *cell)
{
    if (r->command_fill_s > slowest_s) {
        return;
    }
    /* NaN where the one in front was not to be read. */
    set(cell, BL_TRAIT_LINE_APPLY,
        passes_well(r, here->hold_kpa) ? here->apply_s - front->apply_s : NAN,
        hypot(here->u_apply, front->u_apply));
    set(cell, BL_TRAIT_LINE_RELEASE, here->release_s - front->release_s,
        hypot(here->u_release, front->u_release));
    bl_courses_read(r->a, &front->course, &here->course, cell);
    if (front->hold_kpa >= least_asked_kpa / 2) {
        set(cell, BL_TRAIT_LINE_KEPT, front->hold_kpa - here->hold_kpa,
            hypot(here->u_hold, front->u_hold));
    }
    if (front->hold_kpa >= least_asked_kpa) {
        set(cell, BL_TRAIT_LINE_LOSS, 1 - here->hold_kpa / front->hold_kpa,
            hypot(here->u_hold, front->u_hold) / front->hold_kpa);
    }
}

/* From unit to unit where no control pressure parts line and unit. `front`
   NULL: nothing in front of it was measured. */
static void stage(const struct reading *r, const struct bl_unit_lag *front,
                  const struct bl_unit_lag *unit, struct bl_stretches *cell)
{
    static const struct {
        enum bl_trait trait;
        enum bl_figure_name figure;
        bool of_course; /* deep in the rise or fall: hard ones only, in which
                           opening pressures weigh little */
    } steps[] = {{BL_TRAIT_STAGE_APPLY, BL_FIGURE_RESPONSE, false},
                 {BL_TRAIT_STAGE_RELEASE, BL_FIGURE_RELEASE_START, false},
                 {BL_TRAIT_STAGE_FILLED, BL_FIGURE_FILLED, true},
                 {BL_TRAIT_STAGE_EMPTIED, BL_FIGURE_EMPTIED, true}};
    if (r->by == BL_BY_DEMAND || cell->control_wired ||
        bl_unit_begins_elsewhere(unit) ||
        (front != NULL && bl_unit_begins_elsewhere(front))) {
        return;
    }
    const bool timed = front != NULL && !(r->command_fill_s > slowest_s);
    for (size_t i = 0; timed && i < sizeof(steps) / sizeof(steps[0]); i++) {
        const struct bl_figure *a = &front->figure[steps[i].figure];
        const struct bl_figure *b = &unit->figure[steps[i].figure];
        const bool well =
            steps[i].of_course
                ? !(r->command_kpa < least_command_kpa) &&
                      r->c->trial->unit[unit->unit].number ==
                          r->c->trial->unit[front->unit].number + 1
                : responds_well(r, front) && responds_well(r, unit);
        set(cell, steps[i].trait, well ? at_least(b) - of_figure(a) : NAN,
            hypot(random_u(a), random_u(b)));
    }
    /* The first one is fed as the command asks. */
    const struct bl_stretches *held =
        front == NULL ? NULL
                      : bl_causes_cell(r->c, r->run, r->index, front->unit);
    const double in_front =
        held == NULL ? r->command_kpa : held->value[BL_TRAIT_HELD];
    const double u_front = held == NULL ? 1 : held->u[BL_TRAIT_HELD];
    const double here = cell->value[BL_TRAIT_HELD];
    const bool tows = r->c->trial->unit[unit->unit].number == 0;
    /* Its own opening pressure is in it, which those of others are not. */
    const double least = held == NULL ? least_command_kpa : least_asked_kpa / 2;
    if (!tows && in_front >= least) {
        set(cell, BL_TRAIT_STAGE_HOLD, here / in_front,
            hypot(cell->u[BL_TRAIT_HELD], u_front * here / in_front) /
                in_front);
    }
}

/* The command itself, which feeds the first line. */
static struct bl_course command_course(const struct reading *r,
                                       struct bl_track *track)
{
    const long front = bl_trial_unit_index(r->c->trial, r->a->combination, 0);
    struct bl_course out = no_control.course;
    if (front >= 0 && r->a->command_rest.known &&
        bl_causes_pressure(r->c, r->run, &r->c->trial->unit[front].command,
                           track)) {
        out = (struct bl_course){track,
                                 r->a->command_rest.value,
                                 command_noise_kpa,
                                 r->command_kpa,
                                 false,
                                 let_go_from_hold(r->c, r->run, r->a)};
    }
    return out;
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
    struct reading r = {c, run, index, a, bl_causes_class(c, run), 0, NAN};
    struct control front = command_control;
    struct bl_track command;
    struct bl_track tracks[2]; /* of the control in front, and here */
    size_t next = 0;
    int in_front = 0; /* the command's is the number of the towing unit */
    const struct bl_unit_lag *before = NULL;
    if (!bl_application_usable(a) || too_soon(c, run, index)) {
        return;
    }
    r.command_fill_s = command_fill(c, run, a);
    r.command_kpa = command_held(c, run, a);
    front.hold_kpa = r.command_kpa;
    front.u_hold = 1;
    front.course = command_course(&r, &command);
    for (size_t i = 0; i < a->units; i++) {
        const struct bl_unit_lag *unit = &a->unit[i];
        struct bl_stretches *cell = bl_causes_cell(c, run, index, unit->unit);
        struct bl_track *track = &tracks[next];
        struct control here = no_control;
        cell->asked_hold = r.command_kpa;
        cell->control_wired = bl_causes_pressure(
            c, run, &c->trial->unit[unit->unit].control, track);
        if (cell->control_wired) {
            const int number = c->trial->unit[unit->unit].number;
            cell->couplings =
                (size_t)(number > in_front ? number - in_front : 1);
            in_front = number;
            here = read_control(c, run, track, a, cell);
            line(&r, &front, &here, cell);
            front = here.known ? here : no_control;
            next = 1 - next;
        }
        own(&r, unit, &here, cell);
        levels(&r, unit, &here, cell);
        stage(&r, before, unit, cell);
        for (size_t o = 0; o < unit->outputs; o++) {
            struct bl_stretches *each = bl_causes_cell(
                c, run, index, bl_trait_place(c->trial, unit->unit, o));
            each->asked_hold = cell->asked_hold;
            each->control_wired = cell->control_wired;
            own(&r, &unit->each[o], &here, each);
            levels(&r, &unit->each[o], &here, each);
            stage(&r, before, &unit->each[o], each);
            /* What the unit behind is compared with: air reached all of them.
             */
            if (!(cell->value[BL_TRAIT_HELD] >= each->value[BL_TRAIT_HELD])) {
                set(cell, BL_TRAIT_HELD, each->value[BL_TRAIT_HELD],
                    each->u[BL_TRAIT_HELD]);
            }
        }
        before = unit->output >= 0 ? unit : before;
    }
}

void bl_causes_stretch(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_run_lag *lag = c->run[r].lag;
        for (size_t a = 0; lag != NULL && a < lag->applications; a++) {
            for (size_t u = 0; u < c->places; u++) {
                struct bl_stretches *cell = bl_causes_cell(c, r, a, u);
                cell->control_hold = NAN;
                cell->u_control_hold = NAN;
                cell->asked_hold = NAN;
                cell->response_s = cell->control_s = NAN;
                cell->release_s = cell->control_release_s = NAN;
                for (int s = 0; s < BL_TRAITS; s++) {
                    set(cell, (enum bl_trait)s, NAN, NAN);
                }
            }
            read_application(c, r, a);
        }
    }
    c->failed = c->failed || !bl_traits_make(c);
    bl_causes_unwired(c);
}
