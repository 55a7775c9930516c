/* SPDX-License-Identifier: MIT */
/* Columns of switches to 0 and 1. Midway is between what the channel holds for
   four rows and more, so that one wild value does not move it. */
#include "load/build.h"

#include <math.h>

enum { HELD = sizeof(((struct bl_held *)0)->before) / sizeof(float) };

void bl_held_start(struct bl_held *h)
{
    *h = (struct bl_held){.low = INFINITY, .high = -INFINITY};
}

void bl_held_feed(struct bl_held *h, const float *value, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (isnan(value[i])) {
            continue;
        }
        float least = value[i];
        float most = value[i];
        for (size_t k = 0; k < HELD; k++) {
            least = fminf(least, h->before[k]);
            most = fmaxf(most, h->before[k]);
        }
        h->before[h->count++ % HELD] = value[i];
        if (h->count > HELD) {
            h->high = fmax(h->high, (double)least);
            h->low = fmin(h->low, (double)most);
        }
    }
}

void bl_held_take(const struct bl_held *h, struct bl_conversion *c)
{
    if (h->high > h->low) {
        c->low = h->low;
        c->high = h->high;
    }
}

/* Switch columns become 0 and 1: parted at on_level, else midway. */
struct parting {
    double level;
    bool on_when_low;
};

static struct parting parting_of(const struct bl_trial_channel *channel,
                                 const struct bl_conversion *t)
{
    struct parting p = {channel->on_level, channel->on_when_low};
    if (isnan(p.level)) {
        /* A contact that never moved reads as it is written: 0 or not. */
        p.level = t->high > t->low ? t->low + (t->high - t->low) / 2 : 0.5;
    }
    return p;
}

static void make_switch(const struct parting *p, float *value, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (!isnan(value[i])) {
            value[i] = (value[i] > p->level) != p->on_when_low ? 1.0f : 0.0f;
        }
    }
}

void bl_switch_series(struct bl_channel_series *series,
                      const struct bl_trial_channel *channel,
                      const struct bl_conversion *t, struct bl_log_samples *s,
                      size_t c)
{
    const struct parting p = parting_of(channel, t);
    float ends[2] = {(float)t->low, (float)t->high};
    make_switch(&p, s->value[c], s->count);
    make_switch(&p, ends, 2);
    for (size_t i = 0; i < s->quiet.count; i++) {
        struct bl_quiet_value *q = &s->quiet.value[c][i];
        float value[3] = {q->smallest, q->largest, q->mean};
        make_switch(&p, value, 3);
        *q = (struct bl_quiet_value){fminf(value[0], value[1]),
                                     fmaxf(value[0], value[1]), value[2]};
    }
    series->seen.smallest = (double)fminf(ends[0], ends[1]);
    series->seen.largest = (double)fmaxf(ends[0], ends[1]);
}
