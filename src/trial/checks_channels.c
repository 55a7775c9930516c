/* SPDX-License-Identifier: MIT */
/*
 * Channels against what uses them: never used, one output for two units, two
 * channels on one column, a log that no run has.
 */
#include "trial/reading.h"

#include <string.h>

static bool feeds(const struct bl_trial_input *input, long channel)
{
    return input->kind == BL_INPUT_CHANNEL && input->channel == channel;
}

static bool used(const struct bl_trial *t, long channel)
{
    for (size_t i = 0; i < t->units; i++) {
        const struct bl_trial_unit *u = &t->unit[i];
        if (feeds(&u->command, channel) || feeds(&u->control, channel) ||
            feeds(&u->control_b, channel) || feeds(&u->control_out, channel) ||
            feeds(&u->reservoir, channel) || feeds(&u->voltage, channel)) {
            return true;
        }
        for (size_t k = 0; k < u->outputs; k++) {
            if (feeds(&u->output[k], channel)) {
                return true;
            }
        }
    }
    for (size_t i = 0; i < t->runs; i++) {
        if (t->run[i].clock.channel_index == channel) {
            return true;
        }
    }
    for (size_t i = 0; i < t->recordings; i++) {
        if (t->recording[i].clock.channel_index == channel) {
            return true;
        }
    }
    return false;
}

/* One transducer cannot be the output of two units, nor twice of one. */
static void check_output_once(struct reading *r, long channel)
{
    const struct bl_trial *t = r->trial;
    int first = 0;
    for (size_t i = 0; i < t->units; i++) {
        for (size_t k = 0; k < t->unit[i].outputs; k++) {
            const struct bl_trial_input *output = &t->unit[i].output[k];
            if (!feeds(output, channel)) {
                continue;
            }
            if (first != 0) {
                bl_trial_mistake(r, "output-twice", output->line,
                                 "expected a channel of its own for every "
                                 "output, found '%s' of line %d again",
                                 output->text, first);
            }
            first = first == 0 ? output->line : first;
        }
    }
}

static bool same_text(const char *a, const char *b)
{
    return a == NULL || b == NULL ? a == b : strcmp(a, b) == 0;
}

static void check_column(struct reading *r, size_t index)
{
    const struct bl_trial_channel *channel = &r->trial->channel[index];
    const char *column = channel->column ? channel->column : channel->name;
    for (size_t i = 0; i < index; i++) {
        const struct bl_trial_channel *other = &r->trial->channel[i];
        const char *its = other->column ? other->column : other->name;
        if (strcmp(column, its) == 0 && same_text(channel->log, other->log)) {
            bl_trial_remark(r, "column-twice", channel->line,
                            "channels '%s' and '%s' are of one column",
                            other->name, channel->name);
            return;
        }
    }
}

static void check_log(struct reading *r, const struct bl_trial_channel *channel)
{
    const struct bl_trial *t = r->trial;
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, channel->log)};
    if (channel->log == NULL || t->recordings == 0) {
        return;
    }
    for (size_t i = 0; i < t->recordings; i++) {
        if (t->recording[i].kind != BL_RECORDING_LOG) {
            continue;
        }
        if (bl_trial_recording_is(&t->recording[i], channel->log)) {
            return;
        }
        bl_nearest_offer(&nearest, t->recording[i].name);
    }
    char quote[QUOTE_MAX];
    char hint[HINT_MAX];
    const struct trial_section *section =
        bl_trial_section_at(r, SECTION_CHANNEL, channel->line);
    bl_trial_mistake(r, "unknown-name", bl_trial_entry(section, "log")->line,
                     "expected a log of a run, found '%s'%s",
                     bl_trial_quote(channel->log, quote),
                     bl_trial_nearest_hint(&nearest, hint));
}

void bl_trial_check_channels(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    for (size_t i = 0; i < t->channels; i++) {
        const struct bl_trial_channel *channel = &t->channel[i];
        /* A switch may be there to tie clocks. */
        if (!used(t, (long)i) && channel->quantity != BL_QUANTITY_SWITCH) {
            bl_trial_remark(r, "channel-unused", channel->line,
                            "channel '%s' is described but no unit uses it",
                            channel->name);
        }
        check_output_once(r, (long)i);
        check_column(r, i);
        check_log(r, channel);
    }
}
