/* SPDX-License-Identifier: MIT */
/* The units of a draft: what commands, who is where, what hangs on whom. */
#include "survey/draft.h"

#include <stdio.h>

#define ID_HINT "; id = the unit's own number, to find it in other trials\n"

struct signal_found {
    size_t file;
    const struct bl_survey_id *id;
    const struct bl_survey_signal *signal;
};

/* The signal of that role that moved most often; a demand that units hand on
   counts only as the unit in front sent it. */
static bool find_signal(const struct bl_drafting *draft, enum bl_role role,
                        struct signal_found *out)
{
    const struct bl_survey *survey = draft->survey;
    const bool front = role == BL_ROLE_SERVICE_DEMAND && draft->chain.has_front;
    uint64_t most = 0;
    for (size_t f = 0; f < survey->files; f++) {
        const struct bl_survey_file *file = &survey->file[f];
        for (size_t i = 0; i < file->ids; i++) {
            const struct bl_survey_id *id = &file->id[i];
            if (front && bl_id_split(id->id).source != draft->chain.front) {
                continue;
            }
            for (size_t s = 0; s < id->signals; s++) {
                const struct bl_survey_signal *signal = &id->signal[s];
                if (signal->signal->role == role && signal->valid > 0 &&
                    signal->changes > most) {
                    most = signal->changes;
                    *out = (struct signal_found){f, id, signal};
                }
            }
        }
    }
    return most > 0;
}

static const struct {
    enum bl_role role;
    const char *kind, *at;
} bus_commands[] = {
    {BL_ROLE_SERVICE_DEMAND, "electronic-demand", "20 kPa"},
    {BL_ROLE_PEDAL_POSITION, "control-movement", "5 %"},
    {BL_ROLE_BRAKE_SWITCH, "control-movement", "edge"},
};

/* The first command is written, the others are named in comments. */
static void begin_command(struct bl_drafting *draft, size_t *count)
{
    if (*count == 1) {
        bl_output_text(draft->output, "; other commands that were seen:\n");
    }
    bl_output_text(draft->output, *count == 0 ? "" : ";   ");
    (*count)++;
}

static void write_kind(struct bl_drafting *draft, size_t count,
                       const char *kind, const char *at, const char *why)
{
    if (count > 1) {
        bl_output_format(draft->output,
                         ", command_kind = %s, command_at = %s\n", kind, at);
    } else {
        bl_output_format(draft->output,
                         "  ; %s\ncommand_kind = %s\ncommand_at = %s\n", why,
                         kind, at);
    }
}

static void write_bus_command(struct bl_drafting *draft, size_t which,
                              size_t *count)
{
    struct signal_found found;
    if (!find_signal(draft, bus_commands[which].role, &found)) {
        return;
    }
    struct bl_output *output = draft->output;
    const struct bl_signal *signal = found.signal->signal;
    const char *bus =
        bl_draft_bus(draft->survey, &draft->runs, found.file, found.id->bus);
    begin_command(draft, count);
    bl_output_format(output, "command = %s.%s", signal->message->name,
                     signal->name);
    if (found.id->extended) {
        bl_output_format(output, "@0x%02X",
                         (unsigned)bl_id_split(found.id->id).source);
    }
    bl_output_format(output, "%s%s", bus[0] == '\0' ? "" : "/", bus);
    char why[BL_DRAFT_WHY];
    (void)snprintf(why, sizeof(why), "guess: it changed %llu times",
                   (unsigned long long)found.signal->changes);
    write_kind(draft, *count, bus_commands[which].kind, bus_commands[which].at,
               why);
}

static void write_channel_command(struct bl_drafting *draft,
                                  const struct bl_draft_channel *channel,
                                  size_t *count)
{
    const enum bl_quantity quantity = channel->column->quantity;
    char why[BL_DRAFT_WHY + 16];
    begin_command(draft, count);
    bl_output_format(draft->output, "command = %s", channel->name);
    (void)snprintf(why, sizeof(why), "guess: %s", channel->why);
    if (quantity == BL_QUANTITY_SWITCH) {
        write_kind(draft, *count, "control-movement", "edge", why);
    } else if (quantity == BL_QUANTITY_RATIO) {
        write_kind(draft, *count, "control-movement", "5 %", why);
    } else {
        write_kind(draft, *count, "treadle-pressure", "20 kPa", why);
    }
}

/* Pressure before the demand on the bus, movement and switches last. */
static void write_command(struct bl_drafting *draft)
{
    const struct bl_wiring *wiring = &draft->wiring;
    size_t count = 0;
    if (wiring->command >= 0 && wiring->channel[wiring->command].described) {
        write_channel_command(draft, &wiring->channel[wiring->command], &count);
    }
    for (size_t i = 0; i < sizeof(bus_commands) / sizeof(bus_commands[0]);
         i++) {
        write_bus_command(draft, i, &count);
    }
    for (size_t i = 0; i < wiring->channels; i++) {
        const struct bl_draft_channel *channel = &wiring->channel[i];
        if (channel->wired == BL_WIRED_COMMAND && channel->described &&
            channel->column->rises > 0 && (long)i != wiring->command) {
            write_channel_command(draft, channel, &count);
        }
    }
    if (count == 0) {
        bl_output_text(draft->output,
                       "; write the channel of the treadle or pedal, with "
                       "command_kind and command_at:\n"
                       "command = none survey saw no command\n");
    }
    if (wiring->command >= 0 && !wiring->channel[wiring->command].described) {
        bl_output_format(draft->output,
                         "; likely: command = %s, once its scale is written "
                         "below (%s)\n",
                         wiring->channel[wiring->command].name,
                         wiring->channel[wiring->command].why);
    }
}

static const struct {
    enum bl_wired wired;
    const char *key, *meaning;
} wired_keys[] = {
    {BL_WIRED_CONTROL, "control", "the channel at its front coupling"},
    {BL_WIRED_OUTPUT, "output", "the channel of its brake chamber"},
    {BL_WIRED_RESERVOIR, "reservoir", NULL},
    {BL_WIRED_VOLTAGE, "voltage", NULL},
};

static size_t count_wired(const struct bl_drafting *draft, enum bl_wired wired,
                          size_t unit)
{
    size_t count = 0;
    for (size_t i = 0; i < draft->wiring.channels; i++) {
        const struct bl_draft_channel *channel = &draft->wiring.channel[i];
        count += channel->wired == wired && channel->unit == (int)unit;
    }
    return count;
}

/* What hangs on a unit: by its name as a line, else as a proposal. Several
   outputs are told apart by the names of their channels. */
static void write_wired(struct bl_drafting *draft, size_t unit)
{
    struct bl_output *output = draft->output;
    for (size_t k = 0; k < sizeof(wired_keys) / sizeof(wired_keys[0]); k++) {
        const enum bl_wired wired = wired_keys[k].wired;
        const bool labels =
            wired == BL_WIRED_OUTPUT && count_wired(draft, wired, unit) > 1;
        size_t written = 0;
        for (size_t i = 0; i < draft->wiring.channels; i++) {
            const struct bl_draft_channel *channel = &draft->wiring.channel[i];
            if (channel->wired != wired || channel->unit != (int)unit) {
                continue;
            }
            const bool line = channel->certain && channel->described &&
                              (written == 0 || labels);
            bl_output_format(output, "%s%s%s%s = %s  ; likely: %s\n",
                             line ? "" : "; ", wired_keys[k].key,
                             labels ? "." : "", labels ? channel->name : "",
                             channel->name, channel->why);
            /* A name that the draft made up would make visits look alike that
               were measured at two places. */
            if (wired == BL_WIRED_OUTPUT && !labels && line) {
                bl_output_text(output,
                               "; write output.rear, or where it was measured: "
                               "visits are compared only then\n");
            }
            written++;
        }
        if (written == 0 && wired_keys[k].meaning != NULL &&
            (unit > 0 || wired == BL_WIRED_OUTPUT)) {
            bl_output_format(output, "; %s = %s\n", wired_keys[k].key,
                             wired_keys[k].meaning);
        }
    }
    if (unit > 0) {
        bl_output_text(
            output, "; line = length from valve to valve, with coils: a 14 m "
                    "vehicle has 20 to 25 m of line\n");
    }
}

static void write_chain_unit(struct bl_drafting *draft, size_t number,
                             const struct bl_chain_unit *unit)
{
    struct bl_output *output = draft->output;
    bl_output_format(output,
                     "\n[unit %zu]\nname = unit %zu  ; write which\n" ID_HINT,
                     number, number);
    if (unit != NULL) {
        /* Two units cannot state one address; each link tells its own. */
        bl_output_format(output, "%saddress = 0x%02X  ; guess: %s\n",
                         unit->repeated ? "; " : "", (unsigned)unit->address,
                         unit->why);
        if (unit->bus[0] != '\0') {
            bl_output_format(output,
                             "bus = %s  ; guess: the link at its front\n",
                             unit->bus);
        }
    }
    write_wired(draft, number);
}

/* Without a bus and without names that tell: as many sections as the order of
   response proposes, all in comments. */
static void write_proposed_units(struct bl_drafting *draft)
{
    struct bl_output *output = draft->output;
    const struct bl_wiring *wiring = &draft->wiring;
    int most = 1;
    for (size_t i = 0; i < wiring->channels; i++) {
        most = wiring->channel[i].unit > most ? wiring->channel[i].unit : most;
    }
    bl_output_text(output, "\n; No towed unit was seen on a bus. Write one "
                           "section for each:\n");
    for (int unit = 1; unit <= most; unit++) {
        bool proposed = false;
        bl_output_format(
            output,
            "; [unit %d]\n; name = unit %d  ; write which\n" ID_HINT
            "; control = the channel at its front coupling\n",
            unit, unit);
        for (size_t i = 0; i < wiring->channels; i++) {
            if (wiring->channel[i].unit == unit) {
                bl_output_format(output, "; output = %s  ; likely: %s\n",
                                 wiring->channel[i].name,
                                 wiring->channel[i].why);
                proposed = true;
            }
        }
        bl_output_text(output, proposed ? ""
                                        : "; output = the channel of its brake "
                                          "chamber\n");
    }
}

void bl_draft_units(struct bl_drafting *draft)
{
    struct bl_output *output = draft->output;
    const struct bl_chain *chain = &draft->chain;
    bl_output_text(
        output, "\n[unit 0]\nname = towing vehicle  ; write which\n" ID_HINT);
    if (chain->has_front) {
        bl_output_format(output,
                         "address = 0x%02X  ; guess: the front of the chain\n",
                         (unsigned)chain->front);
    }
    for (size_t i = 0; i < chain->strangers; i++) {
        bl_output_format(output,
                         "; look: 0x%02X sends a demand too, to a unit that "
                         "another one commands\n",
                         (unsigned)chain->stranger[i]);
    }
    write_command(draft);
    write_wired(draft, 0);
    size_t units = chain->units;
    if (draft->wiring.units > (int)units) {
        units = (size_t)draft->wiring.units;
    }
    for (size_t i = 0; i < units; i++) {
        write_chain_unit(draft, i + 1,
                         i < chain->units ? &chain->unit[i] : NULL);
    }
    if (chain->left_out > 0) {
        bl_output_format(output, "\n; %zu more units were seen and left out\n",
                         chain->left_out);
    }
    if (units == 0) {
        write_proposed_units(draft);
    }
}
