/* SPDX-License-Identifier: MIT */
/* The trial file that fits the recordings, as a person would write it. */
#include "simulate/files.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/alloc.h"
#include "base/number.h"
#include "simulate/result.h"

static void key(struct bl_output *o, const char *name, const char *value)
{
    if (value != NULL && value[0] != '\0') {
        bl_output_format(o, "%s = %s\n", name, value);
    }
}

static void quantity(struct bl_output *o, const char *name, double value,
                     const char *unit)
{
    char text[32];
    bl_output_format(o, "%s = %s %s\n", name,
                     bl_number_format(value, 6, text, sizeof(text)), unit);
}

static void channel_key(struct bl_output *o, const struct bl_scenario *s,
                        const char *name, enum sim_channel_kind kind,
                        size_t unit)
{
    char channel[32];
    if (bl_sim_channel(s, kind, unit, channel)) {
        key(o, name, channel);
    }
}

/* What the trial says of all units; a unit that differs says so itself. */
static bool relayed(const struct bl_scenario *s)
{
    for (size_t u = 1; u < s->units; u++) {
        if (s->unit[u].relays) {
            return true;
        }
    }
    return false;
}

static void write_head(struct bl_output *o, const struct bl_scenario *s,
                       const char *tables)
{
    bl_output_format(o, "; Written with scenario seed %llu.\n[trial]\n",
                     (unsigned long long)s->seed);
    key(o, "name", s->name);
    quantity(o, "response_at", s->response_at_kpa, "kPa");
    quantity(o, "brakes_at", s->brakes_at_kpa, "kPa");
    key(o, "levels", s->levels_text);
    key(o, "speeds", s->speeds_text);
    key(o, "tables", tables);
    key(o, "control_line", relayed(s) ? "relayed" : "through");
}

static void write_command(struct bl_output *o, const struct bl_scenario *s)
{
    const struct sim_message *m = &s->demand;
    switch (s->command) {
    case COMMAND_TREADLE:
        key(o, "command", "treadle");
        key(o, "command_kind", "treadle-pressure");
        quantity(o, "command_at", s->command_at_kpa, "kPa");
        break;
    case COMMAND_DEMAND:
        for (size_t i = 0; i < m->message->signals; i++) {
            if (m->message->signal[i].role == BL_ROLE_SERVICE_DEMAND) {
                bl_output_format(o, "command = %s.%s@%ld/%s\n", m->message_name,
                                 m->message->signal[i].name, s->unit[0].address,
                                 s->unit[1].bus);
                break;
            }
        }
        key(o, "command_kind", "electronic-demand");
        quantity(o, "command_at", s->command_at_kpa, "kPa");
        break;
    case COMMAND_PEDAL_SWITCH:
        key(o, "command", "pedal_switch");
        key(o, "command_kind", "control-movement");
        key(o, "command_at", "edge");
        break;
    default:
        break;
    }
}

static void write_unit(struct bl_output *o, const struct bl_scenario *s,
                       size_t u)
{
    const struct sim_unit *unit = &s->unit[u];
    bl_output_format(o, "\n[unit %zu]\n", u);
    key(o, "name", unit->name);
    key(o, "id", unit->words.id);
    key(o, "kind", unit->words.kind);
    if (unit->address >= 0) {
        bl_output_format(o, "address = %ld\n", unit->address);
    }
    if (u == 0) {
        write_command(o, s);
    } else {
        key(o, "bus", unit->bus);
        channel_key(o, s, "control", CHANNEL_CONTROL, u);
        if (u + 1 < s->units && (unit->relays != 0) != relayed(s)) {
            key(o, "control_line", unit->relays ? "relayed" : "through");
        }
        quantity(o, "line", unit->pipe_m, "m");
        quantity(o, "bore", unit->bore_mm, "mm");
        quantity(o, "volume", unit->end_cm3, "cm3");
        quantity(o, "crack", unit->relay.crack_kpa, "kPa");
        if (unit->relays) {
            quantity(o, "keeps", unit->rear.differential_kpa, "kPa");
        }
        quantity(o, "chambers",
                 unit->chamber.dead_cm3 + unit->chamber.stroke_cm3, "cm3");
        quantity(o, "reservoir_volume", unit->reservoir_cm3, "cm3");
    }
    char output[sizeof("output.") + BL_SIM_LABEL_MAX];
    (void)snprintf(output, sizeof(output), "output%s%s",
                   unit->words.measured_at[0] == '\0' ? "" : ".",
                   unit->words.measured_at);
    channel_key(o, s, output, CHANNEL_OUTPUT, u);
    channel_key(o, s, "reservoir", CHANNEL_RESERVOIR, u);
    channel_key(o, s, "voltage", CHANNEL_VOLTAGE, u);
    key(o, "load", unit->words.load);
    key(o, "mass", unit->words.mass);
    key(o, "force", unit->words.force);
    key(o, "threshold", unit->words.threshold);
}

static void write_sensor(struct bl_output *o, const struct bl_scenario *s)
{
    if (!s->stated) {
        return;
    }
    quantity(o, "u_zero", s->zero_kpa, "kPa");
    quantity(o, "u_gain", s->gain_part * 100, "%");
    quantity(o, "delay", s->delay_s * 1e3, "ms");
    quantity(o, "u_delay", s->delay_spread_s * 1e3, "ms");
}

static void write_channel(struct bl_output *o, const struct bl_scenario *s,
                          enum sim_channel_kind kind, size_t u)
{
    char name[32];
    if (!bl_sim_channel(s, kind, u, name)) {
        return;
    }
    bl_output_format(o, "\n[channel %s]\ncolumn = %s\n", name, name);
    if (kind == CHANNEL_PEDAL ||
        (kind == CHANNEL_OUTPUT && s->unit[u].output_switch)) {
        key(o, "quantity", "switch");
        if (kind == CHANNEL_OUTPUT) {
            quantity(o, "trips_at", s->unit[u].trips_at_kpa, "kPa");
        }
    } else if (kind == CHANNEL_VOLTAGE) {
        key(o, "quantity", "voltage");
        key(o, "measured_in", "V");
    } else {
        key(o, "quantity", "pressure");
        key(o, "measured_in", s->log_unit);
        char range[32];
        bl_output_format(
            o, "range = 0 .. %s kPa\n",
            bl_number_format(s->range_kpa, 6, range, sizeof(range)));
        write_sensor(o, s);
    }
}

/* What somebody found out about the two clocks: near the truth, not it. */
static void write_clock(struct bl_output *o, const struct bl_scenario *s,
                        const struct sim_run *run,
                        const struct bl_simulated_run *shown)
{
    char offset[32];
    char drift[32];
    char half[32];
    if (shown->frames == 0) {
        return;
    }
    if (strcmp(run->clock, "offset") != 0) {
        key(o, "clock", run->clock);
        return;
    }
    const double stated =
        floor((shown->offset_s + s->tie_error_s) * 1e4 + 0.5) / 1e4;
    const double ppm = floor(shown->drift_ppm + 0.5);
    bl_output_format(
        o, "clock = offset %s s drift %s ppm +- %s ms\n",
        bl_number_format(stated, 12, offset, sizeof(offset)),
        bl_number_format(ppm, 6, drift, sizeof(drift)),
        bl_number_format(s->tie_half_width_s * 1e3, 6, half, sizeof(half)));
}

static void write_run(struct bl_output *o, const struct bl_scenario *s,
                      size_t i, const struct bl_simulated_run *shown)
{
    const struct sim_run *run = &s->run[i];
    bl_output_format(o, "\n[run %s]\n", run->name);
    key(o, "condition", run->condition);
    key(o, "power", run->power ? "on" : "off");
    key(o, "data", run->data ? "on" : "off");
    key(o, "control_air", run->blocked ? "blocked" : "open");
    if (shown->frames > 0) {
        bl_output_format(o, "captures = %s.%s%s\n", run->name,
                         bl_sim_capture_ending(s), s->compress ? ".gz" : "");
    }
    bl_output_format(o, "logs = %s.csv%s\n", run->name,
                     s->compress ? ".gz" : "");
    write_clock(o, s, run, shown);
    key(o, "block", run->block);
}

enum bl_status bl_simulation_trial(const struct bl_simulation *simulation,
                                   struct bl_output *o, struct bl_error *error)
{
    const struct bl_scenario *s = simulation->scenario;
    char *tables = bl_sim_table_words(s);
    if (tables == NULL) {
        return bl_fail_memory(error);
    }
    /* An output remembers its own failure until commit. */
    write_head(o, s, tables);
    bl_free(tables);
    for (size_t u = 0; u < s->units; u++) {
        write_unit(o, s, u);
    }
    for (int kind = 0; kind < CHANNEL_KINDS; kind++) {
        for (size_t u = 0; u < s->units; u++) {
            write_channel(o, s, (enum sim_channel_kind)kind, u);
        }
    }
    bl_output_text(o, "\n[record]\n");
    key(o, "date", s->date);
    key(o, "place", s->place);
    quantity(o, "supply", s->supply_kpa, "kPa");
    /* The air of a scenario is always that warm. */
    bl_output_text(o, "temperature = 20 degC\n");
    for (size_t i = 0; i < simulation->runs; i++) {
        write_run(o, s, i, &simulation->run[i].shown);
    }
    return BL_OK;
}
