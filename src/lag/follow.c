/* SPDX-License-Identifier: MIT */
/*
 * Does the unit follow the demand or its air line? By lead: an output that
 * rises before the air at its own front coupling cannot follow that air; one
 * that trails the air by no more than a valve's time, and the demand by more
 * than a unit that acts on it would, follows the air. By level: an output while
 * the control line stays below the level of a first response follows data.
 */
#include "lag/unit.h"

#include "base/sure.h"
#include "lag/budget.h"
#include "lag/rules.h"

#include <math.h>

const char *bl_follows_name(enum bl_follows follows)
{
    static const char *const names[] = {"unknown", "data", "air"};
    return names[follows];
}

/* Air may begin to move a little before the command's own level is passed (own
   choice), and is looked for this long where nobody saw a release. */
static const int64_t before_ns = 50000000;
static const int64_t air_within_ns = INT64_C(5000000000);
/* So long before it shows where the air rested (own choice). */
static const int64_t rest_ns = 500000000;

/* When the air passes response_at above its rest; `seen` false: nobody
   recorded it there. */
static struct bl_time_point air_arrival(const struct bl_track *control,
                                        const struct bl_trial *trial,
                                        const struct bl_window *window,
                                        bool *seen)
{
    const struct bl_command_event *e = window->event;
    const int64_t from = e->apply.time_ns - before_ns;
    const int64_t to = e->release.found ? e->release.time_ns
                                        : e->apply.time_ns + air_within_ns;
    struct bl_time_point point = {.reason = BL_REASON_NOT_REACHED};
    const struct bl_extent rest =
        bl_track_extent(control, from - rest_ns, from);
    const struct bl_extent press = bl_track_extent(control, from, to);
    *seen = rest.known && press.known;
    if (!*seen) {
        return point;
    }
    const double noise = (rest.largest - rest.smallest) / BL_RANGE_IN_NOISE;
    const double level = rest.median + trial->response_at_kpa;
    const struct bl_passage p = bl_track_passage(
        control, BL_UPWARDS, from, to,
        &(const struct bl_level_passed){
            level, noise,
            fmax(BL_CLEAR_OF_NOISE * noise, BL_REST_TOLERANCE_KPA)},
        BL_HELD_OUTPUT);
    const struct bl_level_origin origin = {
        .fraction = NAN, .level = level, .rest = rest.median, .u_rest = noise};
    point.known = p.found;
    if (p.found) {
        point.ns = p.time_ns;
        point.part = bl_budget_passage(control, &p, &origin);
    }
    return point;
}

/* Nothing said of the delay of either instrument is no instrument without. */
static double delay_or(const struct bl_track *track)
{
    const double unsaid_s = 0.002; /* a hose of a metre or so: own choice */
    return isnan(track->u_delay_s) ? unsaid_s : 0;
}

/* May a demand have come, be it at a time that cannot be compared with the
   log's? In a capture that no clock ties, its time was never looked for where
   it is: that it was not seen there says nothing. */
static bool demand_told(const struct bl_unit_tracks *tracks,
                        const struct bl_time_point *response,
                        const struct bl_track *output)
{
    const struct bl_track *demand = &tracks->demand;
    return tracks->demand_point.known ||
           (demand->present && bl_clock_allows(demand, output, response->ns,
                                               response->ns) != BL_REASON_NONE);
}

/* `told`: a demand came or may have come: then the air is not known to be what
   the unit waited for. */
static void by_lead(struct bl_follow *into, const struct bl_unit_lag *lag,
                    const struct bl_response_time *response,
                    const struct bl_track *control,
                    const struct bl_time_point *air, bool told)
{
    if (bl_clock_allows(control, response->track, air->ns,
                        response->point.ns) != BL_REASON_NONE) {
        return;
    }
    const double u_air = hypot(bl_budget_total(&air->part), delay_or(control));
    const double u_out = hypot(bl_budget_total(&response->point.part),
                               delay_or(response->track));
    const double u = hypot(hypot(u_air, u_out),
                           bl_clock_between(control, response->track, air->ns,
                                            response->point.ns));
    into->lead_s = (double)(air->ns - response->point.ns) * 1e-9;
    into->u_lead_s = u;
    if (into->lead_s > fmax(BL_SURE_U * u, BL_LEAST_LEAD_S)) {
        into->by_lead = BL_FOLLOWS_DATA;
        return;
    }
    const bool behind_demand =
        lag->figure[BL_FIGURE_DEMAND_ARRIVAL].known &&
                lag->figure[BL_FIGURE_RESPONSE].known
            ? lag->figure[BL_FIGURE_RESPONSE].s -
                      lag->figure[BL_FIGURE_DEMAND_ARRIVAL].s >
                  BL_LATEST_BY_DEMAND_S + BL_SURE_U * u
            : !told;
    if (-into->lead_s > BL_SURE_U * u && -into->lead_s < BL_VALVE_S &&
        behind_demand) {
        into->by_lead = BL_FOLLOWS_AIR;
    }
}

void bl_follow_measure(struct bl_unit_lag *out,
                       const struct bl_response_time *response,
                       const struct bl_unit_tracks *tracks,
                       const struct bl_trial *trial,
                       const struct bl_window *window)
{
    struct bl_follow *into = &out->follow;
    const struct bl_track *control = &tracks->control;
    *into = (struct bl_follow){
        .lead_s = NAN, .u_lead_s = NAN, .air_s = NAN, .u_air_s = NAN};
    if (!control->present || control->is_state ||
        control->quantity != BL_QUANTITY_PRESSURE ||
        window->event->no_apply != BL_REASON_NONE) {
        return;
    }
    const struct bl_time_point air =
        air_arrival(control, trial, window, &into->air_seen);
    into->air_came = air.known;
    if (air.known) {
        into->air_s = (double)(air.ns - window->event->apply.time_ns) * 1e-9;
        into->u_air_s = hypot(bl_budget_total(&air.part), delay_or(control));
    }
    if (!into->air_seen || out->responded != BL_YES || !response->point.known) {
        return;
    }
    if (!air.known) {
        into->by_level = BL_FOLLOWS_DATA;
        return;
    }
    by_lead(into, out, response, control, &air,
            demand_told(tracks, &response->point, response->track));
}
