/* SPDX-License-Identifier: MIT */
/*
 * The key `clock` of runs and recordings:
 *   auto | shared | own | same as NAME | sync CHANNEL SIGNAL
 *   offset 1.25 s [drift 37 ppm] +- 2 ms | start 1.25 s [+- 50 ms]
 */
#include "base/alloc.h"
#include "trial/reading.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define FORMS                                                                  \
    "auto, shared, own, same as NAME, offset 1.25 s +- 2 ms, start 1.25 s or " \
    "sync CHANNEL SIGNAL"

void bl_trial_clock_init(struct bl_trial_clock *clock)
{
    *clock = (struct bl_trial_clock){.offset_s = NAN,
                                     .drift_ppm = NAN,
                                     .half_width_s = NAN,
                                     .channel_index = -1};
}

/* The text after `word` and a blank, or NULL. */
static char *after_word(char *text, const char *word)
{
    const size_t length = strlen(word);
    if (strncmp(text, word, length) != 0 ||
        (text[length] != ' ' && text[length] != '\t')) {
        return NULL;
    }
    return bl_trial_trim(text + length);
}

/* Cut `text` before `mark` and give what follows it, or NULL. */
static char *cut(char *text, const char *mark)
{
    char *at = strstr(text, mark);
    if (at == NULL) {
        return NULL;
    }
    *at = '\0';
    return bl_trial_trim(at + strlen(mark));
}

static void take_offset(struct reading *r, struct bl_trial_clock *clock,
                        const struct trial_entry *entry, char *text)
{
    char *width = cut(text, "+-");
    if (width == NULL) {
        width = cut(text, "\xC2\xB1");
    }
    char *drift = cut(text, " drift ");
    const char *number = bl_trial_trim(text);
    if (!bl_trial_quantity(r, entry->line, number, BL_QUANTITY_TIME, "1.25 s",
                           &clock->offset_s)) {
        return;
    }
    if (width != NULL &&
        bl_trial_quantity(r, entry->line, width, BL_QUANTITY_TIME, "2 ms",
                          &clock->half_width_s) &&
        clock->half_width_s < 0) {
        bl_trial_wrong(r, entry->line, "0 or more after '+-'", width, NULL);
    }
    if (drift != NULL && clock->kind == BL_CLOCK_START) {
        bl_trial_wrong(r, entry->line, "drift only beside 'offset'", drift,
                       NULL);
    } else if (drift != NULL &&
               bl_trial_quantity(r, entry->line, drift, BL_QUANTITY_DRIFT,
                                 "37 ppm", &clock->drift_ppm) &&
               fabs(clock->drift_ppm) > 10000) {
        bl_trial_wrong(r, entry->line, "a drift within 10000 ppm", drift, NULL);
    }
    if (width == NULL && clock->kind == BL_CLOCK_OFFSET) {
        bl_trial_wrong(r, entry->line,
                       "how well the offset is known, such as 'offset 1.25 s "
                       "+- 2 ms'",
                       entry->value, NULL);
    }
}

static void take_sync(struct reading *r, struct bl_trial_clock *clock,
                      const struct trial_entry *entry, char *text)
{
    const size_t length = strcspn(text, " \t");
    if (text[length] == '\0') {
        bl_trial_wrong(r, entry->line, "'sync', a channel and a signal",
                       entry->value, NULL);
        return;
    }
    char *signal = bl_trial_trim(text + length);
    text[length] = '\0';
    bl_trial_keep(r, &clock->channel, text);
    bl_trial_keep(r, &clock->signal, signal);
    clock->channel_index = bl_trial_channel_index(r->trial, text);
    if (clock->channel_index < 0) {
        struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, text)};
        char hint[HINT_MAX];
        char quote[QUOTE_MAX];
        for (size_t i = 0; i < r->trial->channels; i++) {
            bl_nearest_offer(&nearest, r->trial->channel[i].name);
        }
        bl_trial_mistake(r, "unknown-name", entry->line,
                         "expected a channel of this file after 'sync', found "
                         "'%s'%s",
                         bl_trial_quote(text, quote),
                         bl_trial_nearest_hint(&nearest, hint));
    }
    (void)bl_trial_signal(r, entry, signal, &clock->signal_ref);
}

static void take_clock(struct reading *r, struct bl_trial_clock *clock,
                       const struct trial_entry *entry, bool of_run)
{
    char text[256];
    char *rest;
    (void)snprintf(text, sizeof(text), "%s", entry->value);
    clock->line = entry->line;
    if (strcmp(text, "auto") == 0) {
        clock->kind = BL_CLOCK_AUTO;
    } else if (strcmp(text, "shared") == 0) {
        clock->kind = BL_CLOCK_SHARED;
    } else if (strcmp(text, "own") == 0) {
        clock->kind = BL_CLOCK_OWN;
    } else if (!of_run && (rest = after_word(text, "same as")) != NULL) {
        clock->kind = BL_CLOCK_SAME_AS;
        bl_trial_keep(r, &clock->same_as, rest);
    } else if ((rest = after_word(text, "offset")) != NULL) {
        clock->kind = BL_CLOCK_OFFSET;
        take_offset(r, clock, entry, rest);
    } else if ((rest = after_word(text, "start")) != NULL) {
        clock->kind = BL_CLOCK_START;
        take_offset(r, clock, entry, rest);
    } else if ((rest = after_word(text, "sync")) != NULL) {
        clock->kind = BL_CLOCK_SYNC;
        take_sync(r, clock, entry, rest);
    } else if (of_run && after_word(text, "same as") != NULL) {
        bl_trial_wrong(r, entry->line,
                       "'same as' in a [recording] only, since a run has "
                       "several recordings",
                       entry->value, NULL);
    } else {
        bl_trial_wrong(r, entry->line, FORMS, entry->value, NULL);
    }
}

SETTER(run_clock)
{
    struct bl_trial_run *run = object;
    (void)key;
    take_clock(r, &run->clock, entry, true);
}

SETTER(recording_clock)
{
    struct bl_trial_recording *recording = object;
    (void)key;
    take_clock(r, &recording->clock, entry, false);
}
