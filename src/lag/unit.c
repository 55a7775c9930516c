/* SPDX-License-Identifier: MIT */
#include "lag/unit.h"

#include "lag/budget.h"
#include "lag/doubt.h"
#include "lag/rules.h"

#include <math.h>

static struct bl_figure null_figure(enum bl_reason reason)
{
    return (struct bl_figure){.reason = reason, .s = NAN, .u_s = NAN};
}

enum bl_reason bl_clock_refuses(const struct bl_track *a,
                                const struct bl_track *b)
{
    const struct bl_track *const both[] = {a, b};
    for (size_t i = 0; i < 2 && a->recording != b->recording; i++) {
        if (both[i]->tie->claim == BL_CLAIM_NONE) {
            return BL_REASON_CLOCKS_UNRELATED;
        }
        if (both[i]->tie->claim == BL_CLAIM_AMBIGUOUS) {
            return BL_REASON_CLOCK_AMBIGUOUS;
        }
    }
    return BL_REASON_NONE;
}

enum bl_reason bl_clock_allows(const struct bl_track *a,
                               const struct bl_track *b, int64_t a_ns,
                               int64_t b_ns)
{
    const size_t part_a = bl_track_part(a, a_ns);
    const size_t part_b = bl_track_part(b, b_ns);
    if (a->recording == b->recording) {
        return part_a == part_b ? BL_REASON_NONE : BL_REASON_PART_SPLIT;
    }
    /* A tie holds for the first part: after a jump the clock is another. */
    if (part_a > 0 || part_b > 0) {
        return BL_REASON_PART_SPLIT;
    }
    const enum bl_clock_claim claims[] = {a->tie->claim, b->tie->claim};
    enum bl_reason reason = BL_REASON_NONE;
    for (size_t i = 0; i < 2; i++) {
        switch (claims[i]) {
        case BL_CLAIM_NONE:
            return BL_REASON_CLOCKS_UNRELATED;
        case BL_CLAIM_AMBIGUOUS:
            return BL_REASON_CLOCK_AMBIGUOUS;
        case BL_CLAIM_DIFFERENCES_ONLY:
            reason = BL_REASON_DIFFERENCES_ONLY;
            break;
        case BL_CLAIM_ABSOLUTE:
        case BL_CLAIM_BOUNDED:
            break;
        }
    }
    return reason;
}

double bl_clock_between(const struct bl_track *a, const struct bl_track *b,
                        int64_t a_ns, int64_t b_ns)
{
    if (a->recording == b->recording) {
        /* Of a short time between, only the rate is left. */
        return a->tie->u_drift_ppm * 1e-6 * fabs((double)(a_ns - b_ns)) * 1e-9;
    }
    const double u_a = bl_clock_u(a->tie, bl_track_raw(a, a_ns));
    const double u_b = bl_clock_u(b->tie, bl_track_raw(b, b_ns));
    return sqrt(u_a * u_a + u_b * u_b);
}

struct bl_uncertainty bl_command_uncertainty(const struct bl_track *command,
                                             const struct bl_command_event *e,
                                             bool release)
{
    const struct bl_level_origin origin = {
        .fraction = release && !command->is_state ? BL_SHARE_HIGH : NAN,
        .level = release
                     ? e->rest.value + BL_SHARE_HIGH * (e->hold - e->rest.value)
                     : e->rest.value,
        .rest = e->rest.value,
        .u_rest = e->rest.u,
        .u_hold = e->u_hold};
    return bl_budget_passage(command, release ? &e->release : &e->apply,
                             &origin);
}

/* A lag: the output's point against the command's passage. */
struct bl_figure bl_lag_figure(const struct bl_time_point *p,
                               const struct bl_track *output,
                               const struct bl_track *command,
                               const struct bl_command_event *e, bool release)
{
    if (!p->known && !p->bounded) {
        return null_figure(p->reason);
    }
    const int64_t from = release ? e->release.time_ns : e->apply.time_ns;
    const enum bl_reason refused =
        bl_clock_allows(output, command, p->ns, from);
    if (refused != BL_REASON_NONE) {
        return null_figure(refused);
    }
    struct bl_figure f = {.known = true,
                          .s = (double)(p->ns - from) * 1e-9,
                          .flags = p->flags | (e->flags & BL_FLAG_RAMP) |
                                   bl_track_damage(output, p->ns, from) |
                                   bl_track_damage(command, p->ns, from),
                          .part = p->part};
    const struct bl_uncertainty command_u =
        bl_command_uncertainty(command, e, release);
    f.part.command = bl_budget_total(&command_u);
    f.part.clock = bl_clock_between(output, command, p->ns, from);
    if (output->recording != command->recording) {
        f.part.resolution = hypot(f.part.resolution,
                                  hypot(output->u_phase_s, command->u_phase_s));
    }
    f.u_s = bl_budget_total(&f.part);
    f.flags |= (release ? e->release.flags : e->apply.flags) & BL_FLAG_IN_GAP;
    const struct bl_doubt doubt = bl_doubt_of(output, command, p->ns, from);
    bl_doubt_put(&f, &doubt);
    if (p->bounded) {
        const struct bl_figure bound = f;
        f = null_figure(p->reason);
        f.flags = bound.flags;
        f.part = bound.part;
        f.bounded = true;
        f.later_than_s = bound.s;
        f.u_later_s = bound.u_s;
    }
    return f;
}

/* Of two outputs the later one; one that is missing is worse than any time, and
   of two that are only known to be later the greater bound. */
static bool is_later(const struct bl_time_point *a,
                     const struct bl_time_point *b)
{
    if (a->bounded && b->bounded) {
        return a->ns > b->ns;
    }
    if (!a->known || !b->known) {
        return b->known;
    }
    return a->ns > b->ns;
}

/* Index of the output whose time is least favourable. Outputs without data do
   not take part unless none has any. */
static size_t
latest(const struct bl_unit_tracks *tracks, size_t count,
       const struct bl_time_point *(*get)(const struct bl_output_lag *, size_t),
       size_t index)
{
    size_t best = count;
    for (size_t i = 0; i < count; i++) {
        if (tracks->lag[i].responded == BL_UNKNOWN) {
            continue;
        }
        if (best == count || is_later(get(&tracks->lag[i], index),
                                      get(&tracks->lag[best], index))) {
            best = i;
        }
    }
    return best == count ? 0 : best;
}

static const struct bl_time_point *get_time(const struct bl_output_lag *lag,
                                            size_t index)
{
    return &lag->time[index];
}

static const struct bl_time_point *get_level(const struct bl_output_lag *lag,
                                             size_t index)
{
    return &lag->level[index];
}

/* The unit's figure is later than each of its outputs: where the least
   favourable is only known by a bound, what another passed later than that is a
   better bound. */
static struct bl_figure of_outputs(
    const struct bl_unit_tracks *tracks,
    const struct bl_time_point *(*get)(const struct bl_output_lag *, size_t),
    size_t index, const struct bl_track *command,
    const struct bl_command_event *e, bool release)
{
    const size_t least = latest(tracks, tracks->outputs, get, index);
    struct bl_time_point point = *get(&tracks->lag[least], index);
    size_t from = least;
    for (size_t i = 0; point.bounded && i < tracks->outputs; i++) {
        const struct bl_time_point *later = get(&tracks->lag[i], index);
        if (later->known && later->ns > point.ns) {
            const enum bl_reason reason = point.reason;
            point = *later;
            point.known = false;
            point.bounded = true;
            point.reason = reason;
            from = i;
        }
    }
    return bl_lag_figure(&point, &tracks->output[from], command, e, release);
}

static void answer(struct bl_unit_lag *out, const struct bl_unit_tracks *tracks)
{
    out->responded = BL_UNKNOWN;
    for (size_t i = 0; i < tracks->outputs; i++) {
        const enum bl_answer a = tracks->lag[i].responded;
        if (a == BL_NO || (a == BL_YES && out->responded == BL_UNKNOWN)) {
            out->responded = a;
        }
        out->chatter += tracks->lag[i].chatter;
    }
}

static void null_all(struct bl_unit_lag *out, size_t levels,
                     enum bl_reason reason)
{
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        if (i != BL_FIGURE_DEMAND_ARRIVAL) { /* no matter of its outputs */
            out->figure[i] = null_figure(reason);
        }
    }
    for (size_t i = 0; i < levels; i++) {
        out->level[i] = null_figure(reason);
    }
    const struct bl_level none = {.reason = reason, .value = NAN, .u = NAN};
    out->rest = none;
    out->hold = none;
    out->peak = none;
}

/* Released demand, kPa. Where applications follow each other closely, what
   stood last before the lead is the one before; where the demand is ahead of
   the command, what stands at the command is this one's hold: the lower is
   rest. */
static double demand_base(const struct bl_track *demand,
                          const struct bl_window *window)
{
    const int64_t apply_ns = window->event->apply.time_ns;
    const int64_t since_ns = window->from_ns - BL_REST_WITHIN_NS;
    const struct bl_rest early =
        bl_track_rest(demand, since_ns, apply_ns - BL_LEAD_NS);
    const struct bl_rest late = bl_track_rest(demand, since_ns, apply_ns);
    if (!early.known || !late.known) {
        return early.known ? early.value : late.known ? late.value : 0;
    }
    return fmin(early.value, late.value);
}

static void demand_arrival(struct bl_unit_lag *out,
                           struct bl_unit_tracks *tracks,
                           const struct bl_track *command,
                           const struct bl_window *window)
{
    const struct bl_track *demand = &tracks->demand;
    const struct bl_command_event *e = window->event;
    tracks->demand_point = (struct bl_time_point){.reason = BL_REASON_NOT_SEEN};
    if (!demand->present) {
        out->figure[BL_FIGURE_DEMAND_ARRIVAL] = null_figure(demand->absent);
        return;
    }
    if (e->no_apply != BL_REASON_NONE) {
        tracks->demand_point.reason = e->no_apply;
        out->figure[BL_FIGURE_DEMAND_ARRIVAL] = null_figure(e->no_apply);
        return;
    }
    const int64_t from = e->apply.time_ns - BL_LEAD_NS;
    const double level =
        demand->is_state ? BL_STATE_LEVEL
                         : demand_base(demand, window) + tracks->demand_level;
    const struct bl_passage p = bl_track_passage(
        demand, BL_UPWARDS, from, window->to_ns,
        &(const struct bl_level_passed){level, 0, 0}, BL_HELD_COMMAND);
    const struct bl_level_origin origin = {.fraction = NAN};
    /* What the recording did not see may have come all the same. */
    const bool unseen =
        demand->last_ns < e->apply.time_ns ||
        bl_track_damage(demand, e->apply.time_ns, e->end_ns) != 0;
    struct bl_time_point point = {.known = p.found,
                                  .reason = unseen ? BL_REASON_NO_DATA
                                                   : BL_REASON_NOT_REACHED,
                                  .ns = p.time_ns,
                                  .flags = p.flags};
    if (p.found) {
        point.part = bl_budget_passage(demand, &p, &origin);
    }
    tracks->demand_point = point;
    out->figure[BL_FIGURE_DEMAND_ARRIVAL] =
        bl_lag_figure(&point, demand, command, e, false);
}

/* Peaks are looked for until the next application: one that the command's
   recording hides, and theirs does not, would lend them its own. */
static unsigned peak_doubt(const struct bl_unit_tracks *tracks,
                           const struct bl_track *command,
                           const struct bl_window *window)
{
    bool apart = tracks->control.present &&
                 tracks->control.recording != command->recording;
    for (size_t i = 0; i < tracks->outputs; i++) {
        apart = apart || tracks->output[i].recording != command->recording;
    }
    if (!apart) {
        return 0;
    }
    const struct bl_command_event *e = window->event;
    const int64_t from = e->begun_before ? e->from_ns : e->apply.time_ns;
    return bl_doubt_hides(command, from, window->to_ns)
               ? (unsigned)BL_FLAG_NEAR_DAMAGE
               : 0;
}

static void control_peak(struct bl_unit_lag *out,
                         const struct bl_track *control,
                         const struct bl_window *window)
{
    if (!control->present) {
        out->control_peak = (struct bl_level){
            .reason = control->absent, .value = NAN, .u = NAN};
        return;
    }
    /* Before the command it may still fall from the application before. */
    const struct bl_command_event *event = window->event;
    const struct bl_extent e = bl_track_extent(
        control, event->begun_before ? window->from_ns : event->apply.time_ns,
        window->to_ns);
    out->control_peak = bl_lag_level(control, e.known, e.largest, 0);
}

/* What its control line stood at when the command let go: known only where it
   was steady for half a second, by the rule of a settled hold. */
static void control_hold(struct bl_unit_lag *out,
                         const struct bl_track *control,
                         const struct bl_window *window)
{
    const struct bl_command_event *event = window->event;
    const int64_t to = event->release.time_ns;
    const int64_t from = to - BL_LEAD_NS;
    out->control_hold = (struct bl_level){
        .reason = BL_REASON_HOLD_LONGER, .value = NAN, .u = NAN};
    if (!control->present || !event->release.found ||
        (!event->begun_before && event->apply.time_ns > from)) {
        return;
    }
    const struct bl_extent first =
        bl_track_extent(control, from, from + BL_LEAD_NS / 2);
    const struct bl_extent last =
        bl_track_extent(control, from + BL_LEAD_NS / 2, to);
    const struct bl_extent all = bl_track_extent(control, from, to);
    const bool known =
        first.known && last.known && all.count >= BL_LEAST_SAMPLES;
    /* From the middle of one half to that of the other is half of it. */
    if (known && fabs(last.median - first.median) <= BL_STOOD_WITHIN *
                                                         BL_LEAD_NS / 2 / 1e9 *
                                                         fabs(all.median)) {
        out->control_hold =
            bl_lag_level(control, true, all.median,
                         fabs(last.median - first.median) / sqrt(12));
    }
}

/* Figures of the least favourable output each; rest, hold and peak of the one
   that is least favourable when filled, or at the response. */
static void fill_figures(struct bl_unit_lag *out,
                         const struct bl_unit_tracks *tracks,
                         const struct bl_track *command, size_t levels,
                         const struct bl_command_event *e)
{
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        if (!bl_figure_of_output(i)) {
            continue;
        }
        out->figure[i] =
            of_outputs(tracks, get_time, i, command, e,
                       bl_figure_entry(i)->side == BL_SIDE_RELEASE);
    }
    for (size_t i = 0; i < levels; i++) {
        out->level[i] = of_outputs(tracks, get_level, i, command, e, false);
    }
    const size_t by_filled =
        latest(tracks, tracks->outputs, get_time, BL_FIGURE_FILLED);
    const size_t worst =
        tracks->lag[by_filled].time[BL_FIGURE_FILLED].known
            ? by_filled
            : latest(tracks, tracks->outputs, get_time, BL_FIGURE_RESPONSE);
    const struct bl_output_lag *lag = &tracks->lag[worst];
    const struct bl_track *track = &tracks->output[worst];
    out->output = (long)worst;
    out->flags = lag->flags;
    out->hold_from = lag->hold_from;
    out->rest =
        bl_lag_level(track, lag->rest.known, lag->rest.value, lag->rest.u);
    out->hold = bl_lag_level(track, lag->hold_known, lag->hold, lag->u_hold);
    out->peak =
        bl_lag_level(track, lag->hold_known, lag->peak, lag->rest.noise);
}

/* Each of several outputs as if it were the unit's only one. */
static void fill_each(struct bl_unit_lag *out, struct bl_unit_tracks *tracks,
                      const struct bl_track *command,
                      const struct bl_command_event *e)
{
    for (size_t i = 0; i < out->outputs; i++) {
        struct bl_unit_lag *each = &out->each[i];
        struct bl_unit_tracks one = *tracks;
        one.output = &tracks->output[i];
        one.lag = &tracks->lag[i];
        one.outputs = 1;
        each->unit = out->unit;
        null_all(each, 0, one.lag->reason);
        each->figure[BL_FIGURE_DEMAND_ARRIVAL] =
            out->figure[BL_FIGURE_DEMAND_ARRIVAL];
        answer(each, &one);
        each->least_level_kpa = one.lag->least_height;
        fill_figures(each, &one, command, 0, e);
        each->figure[BL_FIGURE_STAGGER] = null_figure(BL_REASON_NO_CHANNEL);
        each->output = (long)i;
    }
}

void bl_unit_measure(struct bl_unit_lag *out, struct bl_response_time *response,
                     struct bl_unit_tracks *tracks,
                     const struct bl_track *command,
                     const struct bl_trial *trial,
                     const struct bl_window *window)
{
    out->unit = tracks->unit;
    out->output = -1;
    null_all(out, trial->levels, BL_REASON_NO_CHANNEL);
    demand_arrival(out, tracks, command, window);
    control_peak(out, &tracks->control, window);
    control_hold(out, &tracks->control, window);
    out->flags |= peak_doubt(tracks, command, window);
    bl_supply_measure(out, tracks, window);
    *response =
        (struct bl_response_time){.point = {.reason = BL_REASON_NO_CHANNEL}};
    if (tracks->outputs == 0) {
        return;
    }
    unsigned damaged = 0;
    for (size_t i = 0; i < tracks->outputs; i++) {
        const enum bl_reason refused =
            tracks->output[i].present
                ? bl_clock_refuses(&tracks->output[i], command)
                : BL_REASON_NONE;
        if (refused != BL_REASON_NONE) {
            bl_output_apart(&tracks->lag[i], trial, refused);
            continue;
        }
        bl_output_measure(&tracks->lag[i], &tracks->output[i], trial, window,
                          &tracks->past[i]);
    }
    answer(out, tracks);
    for (size_t i = 0; i < tracks->outputs; i++) {
        out->least_level_kpa =
            fmax(out->least_level_kpa, tracks->lag[i].least_height);
    }
    const struct bl_command_event *e = window->event;
    for (size_t i = 0; i < tracks->outputs; i++) {
        const int64_t from = e->begun_before ? e->from_ns : e->apply.time_ns;
        damaged |=
            bl_track_damage(&tracks->output[i], from, e->end_ns) |
            bl_doubt_of(&tracks->output[i], command, from, e->end_ns).flags;
    }
    if (out->responded == BL_UNKNOWN) {
        null_all(out, trial->levels, tracks->lag[0].reason);
    }
    fill_figures(out, tracks, command, trial->levels, e);
    fill_each(out, tracks, command, e);
    out->flags |= damaged | peak_doubt(tracks, command, window);
    out->figure[BL_FIGURE_STAGGER] =
        null_figure(out->figure[BL_FIGURE_RESPONSE].known
                        ? BL_REASON_NONE
                        : out->figure[BL_FIGURE_RESPONSE].reason);
    const size_t o =
        latest(tracks, tracks->outputs, get_time, BL_FIGURE_RESPONSE);
    response->point = tracks->lag[o].time[BL_FIGURE_RESPONSE];
    response->track = &tracks->output[o];
    const struct bl_trial_channel *channel = tracks->output[o].channel;
    response->trip = channel != NULL && tracks->output[o].is_state &&
                             isnan(channel->trips_at_kpa)
                         ? BL_REASON_TRIP_UNKNOWN
                         : BL_REASON_NONE;
}

/* A difference of two responses: the command cancels; the clock does too where
   one recorder took both. */
static struct bl_figure difference(const struct bl_response_time *late,
                                   const struct bl_response_time *early)
{
    if (!late->point.known) {
        return null_figure(late->point.reason);
    }
    if (late == early) {
        return (struct bl_figure){.known = true};
    }
    if (late->trip != BL_REASON_NONE || early->trip != BL_REASON_NONE) {
        return null_figure(BL_REASON_TRIP_UNKNOWN);
    }
    const enum bl_reason refused = bl_clock_allows(
        late->track, early->track, late->point.ns, early->point.ns);
    if (refused != BL_REASON_NONE) {
        return null_figure(refused);
    }
    struct bl_figure f = {
        .known = true,
        .s = (double)(late->point.ns - early->point.ns) * 1e-9,
        .flags = late->point.flags | early->point.flags |
                 bl_track_damage(late->track, late->point.ns, early->point.ns) |
                 bl_track_damage(early->track, late->point.ns, early->point.ns),
        .part = late->point.part};
    f.part.command = bl_budget_total(&early->point.part);
    f.part.clock = bl_clock_between(late->track, early->track, late->point.ns,
                                    early->point.ns);
    if (late->track->recording != early->track->recording) {
        f.part.resolution =
            hypot(f.part.resolution,
                  hypot(late->track->u_phase_s, early->track->u_phase_s));
    }
    f.u_s = bl_budget_total(&f.part);
    const struct bl_doubt doubt =
        bl_doubt_of(late->track, early->track, late->point.ns, early->point.ns);
    bl_doubt_put(&f, &doubt);
    return f;
}

void bl_application_stagger(struct bl_application *application,
                            const struct bl_response_time *response)
{
    application->stagger_from = -1;
    application->spread = null_figure(BL_REASON_NO_CHANNEL);
    const struct bl_response_time *first = NULL;
    const struct bl_response_time *last = NULL;
    bool all = true;
    for (size_t i = 0; i < application->units; i++) {
        struct bl_unit_lag *unit = &application->unit[i];
        if (unit->output < 0) {
            continue; /* nothing wired: does not take part */
        }
        if (!response[i].point.known) {
            all = false;
            unit->figure[BL_FIGURE_STAGGER] =
                null_figure(response[i].point.reason);
            continue;
        }
        if (application->stagger_from < 0) {
            application->stagger_from = (long)i;
        }
        const struct bl_response_time *from =
            &response[application->stagger_from];
        unit->figure[BL_FIGURE_STAGGER] = difference(&response[i], from);
        if (first == NULL || response[i].point.ns < first->point.ns) {
            first = &response[i];
        }
        if (last == NULL || response[i].point.ns > last->point.ns) {
            last = &response[i];
        }
    }
    if (!all) {
        application->spread = null_figure(BL_REASON_NOT_ALL_RESPONDED);
    } else if (first != NULL && first != last) {
        application->spread = difference(last, first);
    }
}
