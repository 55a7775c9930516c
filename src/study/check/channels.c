/* SPDX-License-Identifier: MIT */
/* Every channel: there, moved, fast enough, not at the end of its range. */
#include "study/check/check.h"

#include <math.h>

static const double moved_kpa = 20;  /* the least command that counts */
static const double most_kpa = 2000; /* twice what brakes hold */
/* A brake's 2 to 12 bar, read as kPa: more or less than that is no motion. */
static const double least_bar = 2;
static const double most_bar = 12;
static const int64_t slow_ns = 10000000; /* 100 Hz: 3 ms standard */
static const double dip_fraction = 0.8;  /* of the middle voltage */
static const double dead_volts = 5; /* no electronics work below; own choice */

/* A supply that is on holds its voltage under load; one that is declared off
   has none. */
static void check_voltage(struct bl_checking *c, const char *name,
                          const struct bl_seen *r)
{
    const bool off = c->trial->run[c->into->run].power == BL_STATED_OFF;
    const bool dips = !off && r->smallest < dip_fraction * r->largest;
    const bool live = off && r->largest > dead_volts;
    bl_check_add(c, "voltage", dips || live ? BL_CHECK_CAUTION : BL_CHECK_GOOD,
                 dips ? "measure the supply under load at the coupling; clean "
                        "the contacts"
                 : live ? "the run says power = off: unplug the unit, or look "
                          "where its supply comes from"
                        : "",
                 "%s: %.1f to %.1f V%s", name, r->smallest, r->largest,
                 off && !live ? ", no power as declared" : "");
}

/* The log and the trial file state different units: one of them is wrong. True:
   it is the trial file's, and no pressure of this channel can be judged. */
static bool check_unit(struct bl_checking *c, const char *name,
                       const struct bl_channel_series *series,
                       const struct bl_seen *r)
{
    const bool unlikely = bl_channel_unit_unlikely(series);
    if (series->written_ratio > 0) {
        bl_check_add(c, "unit",
                     unlikely ? BL_CHECK_NOT_READY : BL_CHECK_CAUTION,
                     "read what is printed on the transducer, then state that "
                     "unit as `measured_in`",
                     "%s: up to %.0f kPa as the trial file has its unit, %.0f "
                     "kPa as the log has it",
                     name, r->largest, r->largest * series->written_ratio);
    }
    return unlikely;
}

static void check_motion(struct bl_checking *c, const char *name,
                         const struct bl_trial_channel *channel,
                         const struct bl_seen *r)
{
    static const char wiring[] =
        "check plug, supply and hose of the transducer; press the pedal again";
    if (channel->quantity == BL_QUANTITY_PRESSURE) {
        const double height = r->largest - r->smallest;
        const bool moved = height >= moved_kpa;
        const bool like_bar = height >= least_bar && height <= most_bar;
        if (r->largest > most_kpa || like_bar) {
            bl_check_add(c, "unit", BL_CHECK_NOT_READY,
                         "check `measured_in` and `scale` of this channel: is "
                         "its column in another unit, as bar or kPa?",
                         "%s: %.1f to %.1f kPa is not what a brake does", name,
                         r->smallest, r->largest);
            return;
        }
        bl_check_add(c, "moved", moved ? BL_CHECK_GOOD : BL_CHECK_NOT_READY,
                     moved ? "" : wiring, "%s: %s, %.1f to %.1f kPa", name,
                     moved ? "moved" : "did not move", r->smallest, r->largest);
    } else if (channel->quantity == BL_QUANTITY_SWITCH) {
        const bool moved = r->largest > r->smallest;
        bl_check_add(c, "moved", moved ? BL_CHECK_GOOD : BL_CHECK_NOT_READY,
                     moved ? "" : wiring, "%s: the switch %s", name,
                     moved ? "was on and off" : "never changed");
    } else if (channel->quantity == BL_QUANTITY_VOLTAGE) {
        check_voltage(c, name, r);
    }
}

static void check_channel(struct bl_checking *c, size_t index)
{
    const struct bl_trial_channel *channel = &c->trial->channel[index];
    const struct bl_channel_series *series =
        bl_run_channel(c->data, (long)index);
    const char *name = channel->name;
    if (series == NULL &&
        bl_trial_channel_elsewhere(c->trial, channel, c->data->run)) {
        bl_check_add(c, "present", BL_CHECK_CAUTION,
                     "take out its 'log' where this run has that column too",
                     "%s: not recorded in this run, as its 'log' says", name);
        return;
    }
    if (series == NULL) {
        bl_check_add(c, "present", BL_CHECK_NOT_READY,
                     "check its column in the trial file, or take it out",
                     "%s: not in any log of this run", name);
        return;
    }
    const struct bl_seen r = bl_channel_seen(series);
    if (r.count == 0) {
        bl_check_add(c, "present", BL_CHECK_NOT_READY,
                     "check the logger's setting of this channel",
                     "%s: not a single value", name);
        return;
    }
    if (!check_unit(c, name, series, &r)) {
        check_motion(c, name, channel, &r);
    }
    const int64_t interval = series->samples.stair_steps
                                 ? series->samples.stair_ns
                                 : series->samples.interval_ns;
    if (interval > slow_ns) {
        bl_check_add(c, "rate", BL_CHECK_CAUTION,
                     "set the logger to 200 values a second or more",
                     "%s: a new value every %.0f ms", name,
                     (double)interval * 1e-6);
    }
    if (series->spikes > 0) {
        bl_check_add(c, "spikes", BL_CHECK_CAUTION,
                     "look at the cable, the plug and the screen of this "
                     "transducer",
                     "%s: %llu values left out that no valve could follow",
                     name, (unsigned long long)series->spikes);
    }
    if (series->frozen > 0) {
        bl_check_add(c, "frozen", BL_CHECK_NOT_READY,
                     "record again; if it comes back, have the recorder of "
                     "this channel looked at",
                     "%s: %llu values left out that repeat the one before, "
                     "where this channel never stands still",
                     name, (unsigned long long)series->frozen);
    }
    if (series->at_range_end > 0) {
        /* A few touch the end; a hold lies there. */
        bl_check_add(c, "range",
                     series->at_range_end >= 20 ? BL_CHECK_NOT_READY
                                                : BL_CHECK_CAUTION,
                     "use a transducer or input of a wider range",
                     "%s: %llu values at the end of the range", name,
                     (unsigned long long)series->at_range_end);
    }
}

void bl_check_channels(struct bl_checking *c)
{
    for (size_t i = 0; i < c->trial->channels; i++) {
        check_channel(c, i);
    }
}
