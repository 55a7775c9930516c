/* SPDX-License-Identifier: MIT */
/* Channels that do not show what they should. */
#include "study/causes/causes.h"

#include "base/psi.h"
#include "study/findings/fill.h"

#include <math.h>

/* Air pressure at ground level, with weather and hills. */
static const double air_low_kpa = 85, air_high_kpa = 108;

static long unit_of(const struct bl_causing *c, long channel)
{
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trial_unit *vehicle = &c->trial->unit[u];
        const struct bl_trial_input *input[] = {
            &vehicle->control, &vehicle->control_b, &vehicle->control_out,
            &vehicle->reservoir, &vehicle->voltage};
        for (size_t i = 0; i < sizeof(input) / sizeof(input[0]); i++) {
            if (input[i]->kind == BL_INPUT_CHANNEL &&
                input[i]->channel == channel) {
                return (long)u;
            }
        }
        for (size_t o = 0; o < vehicle->outputs; o++) {
            if (vehicle->output[o].kind == BL_INPUT_CHANNEL &&
                vehicle->output[o].channel == channel) {
                return (long)u;
            }
        }
    }
    return -1;
}

struct wrong {
    enum bl_finding_code code;
    const char *what; /* behind the channel's name */
    double value;
    const char *unit; /* of the value */
};

static void found(struct bl_causing *c, const struct bl_channel_series *series,
                  size_t run, struct wrong wrong)
{
    struct bl_finding *f =
        bl_findings_add(c->into, wrong.code, BL_SHOWN_FOUND,
                        unit_of(c, (long)series->channel), (long)run);
    if (f != NULL) {
        f->channel = (long)series->channel;
    }
    bl_finding_say(f, "channel '%s' %s",
                   c->trial->channel[series->channel].name, wrong.what);
    bl_finding_evidence(f, "value", wrong.value, NAN, wrong.unit);
}

static void look(struct bl_causing *c, size_t run,
                 const struct bl_channel_series *series)
{
    static const enum bl_finding_code codes[] = {
        BL_FINDING_CHANNEL_DEAD, BL_FINDING_CHANNEL_CLIPPED,
        BL_FINDING_STAIR_STEPS, BL_FINDING_GAUGE_ABSOLUTE};
    const struct bl_seen seen = bl_channel_seen(series);
    const enum bl_quantity quantity =
        c->trial->channel[series->channel].quantity;
    const char *unit = bl_quantity_unit(quantity);
    if (series->samples.is_switch || seen.count < 16) {
        return;
    }
    for (size_t i = 0; i < sizeof(codes) / sizeof(codes[0]); i++) {
        bl_findings_looked(c->into, codes[i], unit_of(c, (long)series->channel),
                           (long)run);
    }
    if (seen.changes == 0) {
        found(c, series, run,
              (struct wrong){BL_FINDING_CHANNEL_DEAD, "never changes",
                             seen.smallest, unit});
        return;
    }
    /* Noise elsewhere, none at the top: more than half of neighbours differ. */
    const bool noisy = seen.changes * 2 > seen.count;
    if (series->at_range_end > 8 || (noisy && seen.longest_at_top >= 20)) {
        found(c, series, run,
              (struct wrong){BL_FINDING_CHANNEL_CLIPPED,
                             "stays at its largest value", seen.largest, unit});
    }
    if (series->samples.stair_steps) {
        found(c, series, run,
              (struct wrong){BL_FINDING_STAIR_STEPS,
                             "repeats its values: its true interval is longer",
                             (double)series->samples.stair_ns * 1e-9, "s"});
    }
    if (quantity == BL_QUANTITY_PRESSURE && seen.smallest > air_low_kpa - 5 &&
        seen.largest > seen.smallest + 50) {
        const struct bl_samples *s = &series->samples;
        const struct bl_extent e =
            bl_samples_extent(s, s->time_ns[0], s->time_ns[0] + 1000000000);
        if (e.known && e.median >= air_low_kpa && e.median <= air_high_kpa &&
            unit_of(c, (long)series->channel) >= 0) {
            found(c, series, run,
                  (struct wrong){
                      BL_FINDING_GAUGE_ABSOLUTE,
                      "lies, released, at about the pressure of the air",
                      e.median, unit});
        }
    }
}

static double held(const struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double *value = c->room[0];
    double scatter;
    size_t n = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        const struct bl_unit_lag *measured =
            bl_application_unit(application, unit);
        /* The peak is known where the unit did not "respond" too. */
        if (measured != NULL && measured->peak.known && measured->rest.known &&
            measured->peak.quantity == BL_QUANTITY_PRESSURE &&
            /* What noise makes is in no unit. */
            measured->peak.value - measured->rest.value >
                measured->least_level_kpa &&
            application->command_hold.known &&
            application->command_rest.known &&
            application->command_hold.quantity == BL_QUANTITY_PRESSURE &&
            application->command_hold.value - application->command_rest.value >
                150) {
            value[n++] = (measured->peak.value - measured->rest.value) /
                         (application->command_hold.value -
                          application->command_rest.value);
        }
    }
    return n >= 2 ? bl_causes_middle(value, n, &scatter) : NAN;
}

/* Held output over command near a ratio of two units of pressure. */
static void wrong_unit(struct bl_causing *c, size_t run, size_t unit)
{
    static const double ratios[] = {BL_PSI_KPA, 100 / BL_PSI_KPA, 100, 1000};
    const double ratio = held(c, run, unit);
    if (isnan(ratio) || ratio <= 0) {
        bl_findings_missing(c->into, BL_FINDING_WRONG_PRESSURE_UNIT, (long)unit,
                            (long)run, NULL);
        return;
    }
    bl_findings_looked(c->into, BL_FINDING_WRONG_PRESSURE_UNIT, (long)unit,
                       (long)run);
    for (size_t i = 0; i < sizeof(ratios) / sizeof(ratios[0]); i++) {
        const double apart = ratio > 1 ? ratio / ratios[i] : ratio * ratios[i];
        if (apart < 0.85 || apart > 1.1) {
            continue;
        }
        char text[128];
        struct bl_finding *f =
            bl_findings_add(c->into, BL_FINDING_WRONG_PRESSURE_UNIT,
                            BL_SHOWN_FOUND, (long)unit, (long)run);
        bl_finding_say(f, "the output of %s is about %s%g of the command",
                       bl_causes_unit(c, unit, text, sizeof(text)),
                       ratio > 1 ? "" : "1/", ratios[i]);
        bl_finding_evidence(f, "settled output over command", ratio, NAN, "");
        return;
    }
}

/* The unit that the log writes makes brake pressures of what the trial file's
   does not: every pressure of the run is off by that factor. */
static void contradicted(struct bl_causing *c, size_t run)
{
    const struct bl_run_data *data = c->run[run].data;
    size_t columns = 0;
    double stated = 0;
    double written = 0;
    for (size_t i = 0; i < data->channels; i++) {
        const struct bl_channel_series *series = &data->channel[i];
        if (bl_channel_unit_unlikely(series)) {
            const double most = bl_channel_seen(series).largest;
            columns++;
            stated = fmax(stated, most);
            written = fmax(written, most * series->written_ratio);
        }
    }
    if (columns == 0) {
        return;
    }
    struct bl_finding *f = bl_findings_add(
        c->into, BL_FINDING_WRONG_PRESSURE_UNIT, BL_SHOWN_FOUND, -1, (long)run);
    if (f != NULL) {
        f->headline = true;
    }
    bl_finding_say(f,
                   "The trial file and the log of run %s state different units "
                   "of pressure for %zu column%s: at most %.0f kPa by the "
                   "trial file, which no full braking is, and %.0f kPa by the "
                   "log. Correct `measured_in` before anything else is read.",
                   c->trial->run[run].name, columns, columns == 1 ? "" : "s",
                   stated, written);
    bl_finding_evidence(f, "highest, by the trial file", stated, NAN, "kPa");
    bl_finding_evidence(f, "highest, by the log", written, NAN, "kPa");
}

void bl_causes_channels(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_run_data *data = c->run[r].data;
        const struct bl_run_lag *lag = c->run[r].lag;
        if (data == NULL || lag == NULL || lag->applications == 0) {
            continue;
        }
        contradicted(c, r);
        for (size_t i = 0; i < data->channels; i++) {
            look(c, r, &data->channel[i]);
        }
        for (size_t u = 0; u < c->trial->units; u++) {
            if (c->trial->unit[u].outputs > 0) {
                wrong_unit(c, r, u);
            }
        }
    }
}
