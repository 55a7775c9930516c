/* SPDX-License-Identifier: MIT */
/* Edges of a switch channel, with contact chatter. */
#include "signal/internal.h"

#include <math.h>

/* The next sample at or after `index` that is not missing; count if none. */
static size_t present(const struct bl_samples *samples, size_t index)
{
    while (index < samples->count && isnan(samples->value[index])) {
        index++;
    }
    return index;
}

static struct bl_edge edge_between(const struct bl_samples *samples, size_t a,
                                   size_t b)
{
    struct bl_edge edge = {.found = true};
    const int64_t width = samples->time_ns[b] - samples->time_ns[a];
    edge.time_ns = samples->time_ns[a] + width / 2;
    edge.u_sampling_s = (double)width * 1e-9 / sqrt(12);
    if (bl_signal_gap(samples, a, b)) {
        edge.flags |= BL_FLAG_IN_GAP;
    }
    return edge;
}

struct bl_edge bl_switch_edge(const struct bl_samples *samples, int64_t from_ns,
                              int64_t to_ns, bool to_on, int64_t steady_ns)
{
    const struct bl_edge none = {0};
    struct bl_edge edge = {0};
    size_t before = present(samples, bl_samples_at(samples, from_ns));
    bool open = false;     /* a first flip has been seen */
    size_t since = before; /* first sample of the present state */
    size_t end_window = bl_samples_at(samples, to_ns);
    for (size_t i = before; i < samples->count;
         before = i, i = present(samples, i + 1)) {
        const bool wanted = (samples->value[i] >= 0.5F) == to_on;
        const bool was = (samples->value[before] >= 0.5F) == to_on;
        if (bl_signal_part(samples, before) != bl_signal_part(samples, i)) {
            open = false;
            since = i;
            continue;
        }
        if (wanted != was) {
            since = i;
            if (open) {
                edge.chatter++;
            } else if (wanted && i < end_window) {
                open = true;
                edge = edge_between(samples, before, i);
            }
        }
        if (!open && i >= end_window) {
            break;
        }
        if (open &&
            samples->time_ns[i] - samples->time_ns[since] >= steady_ns) {
            if (wanted) {
                edge.flags |= edge.chatter > 0 ? BL_FLAG_CHATTER : 0U;
                edge.seen_ns = samples->time_ns[i];
                return edge;
            }
            open = false; /* it went back for good: a glitch, no edge */
        }
    }
    return none;
}
