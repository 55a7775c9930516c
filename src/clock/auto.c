/* SPDX-License-Identifier: MIT */
/*
 * Ties found from the recordings: events of a series on each side, paired by
 * pattern (pair.c). Which kinds of series are tried, in which order, and what
 * the result may claim is the table below; docs/methods/clocks.md explains it.
 */
#include "clock/auto.h"

#include "base/alloc.h"
#include "clock/events.h"
#include "clock/pair.h"
#include "clock/signed.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Pairs of sources, from sure to unsure: all of a trial with four of each are
   tried (own choice: a bound on time). */
enum { MOST_ATTEMPTS = 24 };
/* What the stamps of two recorders scatter by beside what is stated of each,
   and air from stroke to stroke: own choice, above what the tests' recorders
   and usual USB buffers show. */
static const double STAMPS_S = 0.001, AIR_S = 0.005;
/* Room in the corridor beside a whole sending interval: as for air. */
static const double CORRIDOR_S = 0.005;

/* From sure to unsure. A frame stands for its event a part of a sending
   interval late; air stands for the pedal by an unknown time late. */
static const struct rule {
    enum source_kind from, to; /* of the recording, of the reference */
    const char *method;
    enum bl_clock_claim claim;
} rules[] = {
    {SOURCE_BUS_SWITCH, SOURCE_SWITCH, "pulse", BL_CLAIM_BOUNDED},
    {SOURCE_BUS_PEDAL, SOURCE_TRAVEL, "pedal", BL_CLAIM_BOUNDED},
    {SOURCE_BUS_PEDAL, SOURCE_SWITCH, "pedal", BL_CLAIM_BOUNDED},
    {SOURCE_BUS_SWITCH, SOURCE_TRAVEL, "pedal", BL_CLAIM_BOUNDED},
    {SOURCE_BUS_SWITCH, SOURCE_BUS_SWITCH, "pedal", BL_CLAIM_BOUNDED},
    {SOURCE_BUS_PEDAL, SOURCE_BUS_PEDAL, "pedal", BL_CLAIM_BOUNDED},
    {SOURCE_SWITCH, SOURCE_SWITCH, "pedal", BL_CLAIM_DIFFERENCES_ONLY},
    {SOURCE_TRAVEL, SOURCE_TRAVEL, "pedal", BL_CLAIM_DIFFERENCES_ONLY},
    {SOURCE_BUS_PEDAL, SOURCE_PRESSURE, "pedal", BL_CLAIM_DIFFERENCES_ONLY},
    {SOURCE_BUS_SWITCH, SOURCE_PRESSURE, "pedal", BL_CLAIM_DIFFERENCES_ONLY},
    {SOURCE_BUS_DEMAND, SOURCE_SWITCH, "demand", BL_CLAIM_DIFFERENCES_ONLY},
    {SOURCE_BUS_DEMAND, SOURCE_TRAVEL, "demand", BL_CLAIM_DIFFERENCES_ONLY},
    {SOURCE_BUS_DEMAND, SOURCE_BUS_DEMAND, "demand", BL_CLAIM_DIFFERENCES_ONLY},
    {SOURCE_BUS_DEMAND, SOURCE_PRESSURE, "demand-pressure",
     BL_CLAIM_DIFFERENCES_ONLY},
    {SOURCE_PRESSURE, SOURCE_PRESSURE, "demand-pressure",
     BL_CLAIM_DIFFERENCES_ONLY},
};
enum { RULES = sizeof(rules) / sizeof(rules[0]) };

/* What one attempt gave. */
struct attempt {
    const struct rule *rule;
    const struct source *from, *to;
    size_t events_of, events_to;
    size_t uncertain; /* events left out, on both sides */
    struct bl_pair_result result;
    double u_bias_s;
    bool made;
};

const char *bl_tying_name(const struct tying *t, size_t recording)
{
    return t->trial->recording[t->data->recording[recording].recording].name;
}

static bool is_bus(const struct source *source)
{
    return source->steps != NULL;
}

static enum bl_status events_of(struct bl_event_list *list,
                                const struct source *source)
{
    if (is_bus(source)) {
        return bl_events_steps(list, source->steps, source->level);
    }
    return source->kind == SOURCE_SWITCH
               ? bl_events_switch(list, source->samples)
               : bl_events_rising(list, source->samples, source->level);
}

static double *seconds_of(const int64_t *time_ns, size_t count, int64_t from_ns)
{
    double *s = bl_alloc(count, sizeof(*s));
    for (size_t i = 0; s != NULL && i < count; i++) {
        s[i] = (double)(time_ns[i] - from_ns) * 1e-9;
    }
    return s;
}

/* A held value may be anywhere in its interval. The line of the first pairs may
   lie at one end of that, so the corridor is the whole interval either way: at
   half of it good pairs are lost, and few pairs look alike. Air scatters some
   milliseconds from stroke to stroke. */
static struct bl_pair_options options_for(const struct bl_event_list *a,
                                          const struct bl_event_list *b,
                                          bool air)
{
    struct bl_pair_options o = bl_pair_defaults();
    const double interval_s = sqrt(12.0) * fmax(a->u_s, b->u_s);
    o.tolerance_s = fmax(o.tolerance_s, interval_s + CORRIDOR_S);
    o.u_event_s =
        fmax(sqrt(a->u_s * a->u_s + b->u_s * b->u_s), air ? AIR_S : STAMPS_S);
    return o;
}

/* Systematic: what the sending interval leaves open on each bus side, and
   where in the pedal's travel the other side's event lies: anywhere from rest
   to twice the level. */
static double bias_of(const struct source *source,
                      const struct bl_event_list *list)
{
    const bool travel =
        source->kind == SOURCE_TRAVEL || source->kind == SOURCE_BUS_PEDAL;
    const double interval = is_bus(source) ? list->u_s : 0;
    return hypot(interval, travel ? list->rise_s / sqrt(3.0) : 0);
}

static double bias(const struct attempt *attempt, const struct bl_event_list *a,
                   const struct bl_event_list *b)
{
    if (attempt->rule->claim == BL_CLAIM_DIFFERENCES_ONLY) {
        return 0;
    }
    return hypot(bias_of(attempt->from, a), bias_of(attempt->to, b));
}

/* Events of one side, in seconds since its recording began. */
struct seconds {
    double *on, *off;
    struct bl_signed_events events;
};

static bool in_seconds(struct seconds *s, const struct bl_event_list *list,
                       const struct bl_loaded_recording *recording)
{
    s->on = seconds_of(list->time_ns, list->count, recording->first_ns);
    s->off = seconds_of(list->off_ns, list->offs, recording->first_ns);
    s->events = (struct bl_signed_events){
        .on = s->on,
        .off = s->off,
        .ons = list->count,
        .offs = list->offs,
        .to_s = (double)(recording->last_ns - recording->first_ns) * 1e-9};
    return s->on != NULL && s->off != NULL;
}

/* By presses alone; where those are too few to be sure, with their releases.
   Pauses that are even stay refused. */
static enum bl_status pair_lists(struct attempt *attempt,
                                 const struct seconds side[2],
                                 const struct bl_pair_options *options,
                                 struct bl_error *error)
{
    const struct bl_signed_events *a = &side[0].events;
    const struct bl_signed_events *b = &side[1].events;
    enum bl_status status = bl_clock_pair(&(struct bl_moments){a->on, a->ons},
                                          &(struct bl_moments){b->on, b->ons},
                                          options, &attempt->result, error);
    const struct bl_pair_result *alone = &attempt->result;
    if (status != BL_OK || alone->outcome == BL_PAIR_TIED ||
        alone->outcome == BL_PAIR_TOO_MANY || alone->period_s > 0) {
        return status;
    }
    struct bl_pair_result signs;
    status = bl_clock_pair_signed(a, b, options, &signs, error);
    if (status == BL_OK && signs.outcome != BL_PAIR_TOO_FEW) {
        attempt->result = signs;
    }
    return status;
}

static enum bl_status pair_up(const struct tying *t, struct attempt *attempt)
{
    struct bl_event_list a = {0};
    struct bl_event_list b = {0};
    struct seconds side[2] = {{0}, {0}};
    enum bl_status status = events_of(&a, attempt->from);
    if (status == BL_OK) {
        status = events_of(&b, attempt->to);
    }
    if (status == BL_OK &&
        (!in_seconds(&side[0], &a,
                     &t->data->recording[attempt->from->recording]) ||
         !in_seconds(&side[1], &b, &t->data->recording[t->reference]))) {
        status = BL_NOMEM;
    }
    if (status != BL_OK) {
        status = bl_fail_memory(t->error);
        goto out;
    }
    const bool air = attempt->from->kind == SOURCE_PRESSURE ||
                     attempt->to->kind == SOURCE_PRESSURE;
    const struct bl_pair_options options = options_for(&a, &b, air);
    status = pair_lists(attempt, side, &options, t->error);
    if (a.cut || b.cut) {
        attempt->result.outcome = BL_PAIR_TOO_MANY;
    }
    attempt->events_of = a.count;
    attempt->uncertain = a.uncertain + b.uncertain;
    attempt->events_to = b.count;
    attempt->u_bias_s = bias(attempt, &a, &b);
    attempt->made = true;
out:
    for (size_t i = 0; i < 2; i++) {
        bl_free(side[i].on);
        bl_free(side[i].off);
    }
    bl_events_finish(&a);
    bl_events_finish(&b);
    return status;
}

/* --- what an attempt says --- */

static void fill_tie(const struct tying *t, const struct attempt *attempt)
{
    const size_t index = attempt->from->recording;
    const struct bl_loaded_recording *r = &t->data->recording[index];
    const struct bl_pair_result *p = &attempt->result;
    const int64_t to_ns = t->data->recording[t->reference].first_ns;
    struct bl_clock_tie *tie = &t->clocks->tie[index];
    tie->method = attempt->rule->method;
    tie->claim = attempt->rule->claim;
    tie->t_first_ns = r->first_ns;
    tie->offset_s = (double)(to_ns - r->first_ns) * 1e-9 + p->offset_s -
                    p->drift * p->centre_s;
    tie->u_offset_s = hypot(p->u_offset_s, p->u_drift * p->centre_s);
    tie->drift_ppm = p->drift * 1e6;
    tie->u_drift_ppm = p->u_drift * 1e6;
    if (tie->u_offset_s > 0) {
        tie->correlation = -p->centre_s * p->u_drift / tie->u_offset_s;
    }
    tie->u_bias_s = attempt->u_bias_s;
    tie->pairs = p->pairs;
    tie->releases = p->releases;
    tie->outliers = p->outliers;
    tie->residual_s = p->residual_s;
    memcpy(tie->residual, p->residual, sizeof(tie->residual));
    tie->residuals = p->residuals;
    tie->t_first_pair_ns = r->first_ns + (int64_t)llround(p->first_s * 1e9);
    tie->t_last_pair_ns = r->first_ns + (int64_t)llround(p->last_s * 1e9);
    tie->extrapolation_s =
        fmax((double)(tie->t_first_pair_ns - r->first_ns) * 1e-9,
             (double)(r->last_ns - tie->t_last_pair_ns) * 1e-9);
}

/* How far a refusal got: the farthest is the one worth telling. */
static int merit(const struct attempt *attempt)
{
    if (!attempt->made) {
        return -1;
    }
    switch (attempt->result.outcome) {
    case BL_PAIR_TIED:
        return 4;
    case BL_PAIR_AMBIGUOUS:
        return 3;
    case BL_PAIR_CHANCE:
        return 2;
    case BL_PAIR_TOO_MANY:
        return 1;
    case BL_PAIR_TOO_FEW:
        return 0;
    }
    return 0;
}

static bool further(const struct attempt *a, const struct attempt *b)
{
    if (merit(a) != merit(b)) {
        return merit(a) > merit(b);
    }
    return a->result.pairs > b->result.pairs;
}

static enum bl_status note_ambiguous(struct tying *t,
                                     const struct attempt *attempt)
{
    const struct bl_pair_result *p = &attempt->result;
    const size_t index = attempt->from->recording;
    const double between = (double)(t->data->recording[t->reference].first_ns -
                                    t->data->recording[index].first_ns) *
                           1e-9;
    t->clocks->tie[index].claim = BL_CLAIM_AMBIGUOUS;
    t->clocks->tie[index].pairs = p->pairs;
    if (p->period_s > 0) {
        return bl_note_each(
            &t->clocks->notes, "clock-ambiguous", -1,
            "%.40s: %zu pairs fit %.40s at %.3f s and at every %.3f s more or "
            "less: the pauses are even (%.30s, %.30s)",
            bl_tying_name(t, index), p->pairs, bl_tying_name(t, t->reference),
            between + p->offset_s, p->period_s, attempt->from->name,
            attempt->to->name);
    }
    return bl_note_each(
        &t->clocks->notes, "clock-ambiguous", -1,
        "%.40s: two shifts fit %.40s: %.3f s with %zu pairs, %.3f s with %zu "
        "(%.30s, %.30s)",
        bl_tying_name(t, index), bl_tying_name(t, t->reference),
        between + p->offset_s, p->pairs, between + p->other_offset_s,
        p->other_pairs, attempt->from->name, attempt->to->name);
}

static enum bl_status note_refusal(struct tying *t,
                                   const struct attempt *attempt)
{
    const size_t index = attempt->from->recording;
    const char *what = "fit together: 4 are needed, or 3 and their releases";
    const char *code = "clock-too-few-events";
    switch (attempt->result.outcome) {
    case BL_PAIR_TIED:
    case BL_PAIR_TOO_FEW:
        break;
    case BL_PAIR_AMBIGUOUS:
        return note_ambiguous(t, attempt);
    case BL_PAIR_CHANCE:
        code = "clock-by-chance";
        what = attempt->result.alike > bl_pair_defaults().alike
                   ? "fit together, which pauses so alike may do by chance"
                   : "fit together, which so many may do by chance";
        break;
    case BL_PAIR_TOO_MANY:
        code = "clock-too-many-events";
        what = "were paired, there are too many";
        break;
    }
    return bl_note_each(&t->clocks->notes, code, -1,
                        "%.40s: of %zu events of %.30s and %zu of %.30s in "
                        "%.40s %zu %s",
                        bl_tying_name(t, index), attempt->events_of,
                        attempt->from->name, attempt->events_to,
                        attempt->to->name, bl_tying_name(t, t->reference),
                        attempt->result.pairs, what);
}

static enum bl_status note_uncertain(struct tying *t,
                                     const struct attempt *attempt)
{
    if (attempt->uncertain == 0) {
        return BL_OK;
    }
    return bl_note_each(&t->clocks->notes, "clock-events-left-out", -1,
                        "%.40s: %zu events of %.30s and %.30s fell into gaps "
                        "and were not paired",
                        bl_tying_name(t, attempt->from->recording),
                        attempt->uncertain, attempt->from->name,
                        attempt->to->name);
}

/* Recordings of two runs made to one plan fit in part: that cannot be seen from
   the pauses, but that much was left over can. Two thirds: own choice. */
static enum bl_status note_left_over(struct tying *t,
                                     const struct attempt *attempt)
{
    const size_t fewer = attempt->events_of < attempt->events_to
                             ? attempt->events_of
                             : attempt->events_to;
    if (attempt->result.outcome != BL_PAIR_TIED ||
        3 * attempt->result.pairs >= 2 * fewer) {
        return BL_OK;
    }
    return bl_note_each(&t->clocks->notes, "clock-few-pairs", -1,
                        "%.40s: only %zu events fit %.40s, of %zu of %.30s and "
                        "%zu of %.30s: do both belong to this run?",
                        bl_tying_name(t, attempt->from->recording),
                        attempt->result.pairs, bl_tying_name(t, t->reference),
                        attempt->events_of, attempt->from->name,
                        attempt->events_to, attempt->to->name);
}

static enum bl_status settle(struct tying *t, size_t recording,
                             const struct attempt *best)
{
    enum bl_status status = BL_OK;
    if (!best->made) {
        status = bl_note_each(
            &t->clocks->notes, "clock-nothing-in-common", -1,
            "%.40s: expected a pedal, switch or demand that %.40s also shows, "
            "found none",
            bl_tying_name(t, recording), bl_tying_name(t, t->reference));
    } else if (best->result.outcome == BL_PAIR_TIED) {
        fill_tie(t, best);
    } else {
        status = note_refusal(t, best);
    }
    if (status == BL_OK && best->made) {
        status = note_uncertain(t, best);
    }
    if (status == BL_OK && best->made) {
        status = note_left_over(t, best);
    }
    return status == BL_OK ? BL_OK : bl_fail_memory(t->error);
}

/* --- attempts --- */

/* What a unit passes on to the next link comes later there, never sooner: of
   two that tie, that whose events are earlier on the bus is the nearer to the
   foot. Both are on one clock and tied to the same events, so that the smallest
   difference counts; where it is chance, it is within the u of either. */
static bool nearer_to_the_foot(const struct attempt *a, const struct attempt *b)
{
    const struct bl_pair_result *one = &a->result;
    const struct bl_pair_result *other = &b->result;
    return one->outcome == BL_PAIR_TIED && 3 * one->pairs >= 2 * other->pairs &&
           one->offset_s > other->offset_s;
}

/* Where the best is tied: the same kind of event as other links show it. */
static enum bl_status try_other_links(struct tying *t, size_t after, int *left,
                                      struct attempt *best)
{
    const struct sources *s = &t->sources;
    for (size_t i = after + 1; i<s->count && * left> 0; i++) {
        if (s->item[i].recording != best->from->recording ||
            s->item[i].kind != best->from->kind || !is_bus(&s->item[i])) {
            continue;
        }
        struct attempt attempt = {
            .rule = best->rule, .from = &s->item[i], .to = best->to};
        const enum bl_status status = pair_up(t, &attempt);
        if (status != BL_OK) {
            return status;
        }
        (*left)--;
        if (nearer_to_the_foot(&attempt, best)) {
            *best = attempt;
        }
    }
    return BL_OK;
}

static enum bl_status try_rule(struct tying *t, size_t recording,
                               const struct rule *rule, int *left,
                               struct attempt *best)
{
    const struct sources *s = &t->sources;
    for (size_t i = 0; i < s->count; i++) {
        const struct source *from_source = &s->item[i];
        if (from_source->recording != recording ||
            from_source->kind != rule->from) {
            continue;
        }
        for (size_t k = 0; k<s->count && * left> 0; k++) {
            const struct source *to = &s->item[k];
            if (to->recording != t->reference || to->kind != rule->to) {
                continue;
            }
            struct attempt attempt = {
                .rule = rule, .from = from_source, .to = to};
            const enum bl_status status = pair_up(t, &attempt);
            if (status != BL_OK) {
                return status;
            }
            (*left)--;
            if (!best->made || further(&attempt, best)) {
                *best = attempt;
            }
            if (best->result.outcome == BL_PAIR_TIED) {
                return try_other_links(t, i, left, best);
            }
        }
    }
    return BL_OK;
}

enum bl_status bl_tie_auto(struct tying *t, size_t recording)
{
    struct attempt best = {.made = false};
    for (size_t i = 0; i < RULES; i++) {
        int left = MOST_ATTEMPTS;
        const enum bl_status status =
            try_rule(t, recording, &rules[i], &left, &best);
        if (status != BL_OK) {
            return status;
        }
        if (best.made && best.result.outcome == BL_PAIR_TIED) {
            break;
        }
    }
    return settle(t, recording, &best);
}

static bool fits_ref(const struct bl_bus_series *series, size_t recording,
                     const struct bl_signal_ref *ref)
{
    return series->recording == recording && series->signal == ref->signal &&
           (ref->address < 0 || series->source == ref->address) &&
           (ref->bus[0] == '\0' || strcmp(series->bus, ref->bus) == 0);
}

/* The trial says that these two are one event, so a switch wired to both ties
   absolutely; the sending interval stays in u_bias_s. */
static struct rule sync_rule(const struct source *from_source,
                             const struct source *to)
{
    struct rule rule = {from_source->kind, to->kind, "pedal", BL_CLAIM_BOUNDED};
    for (size_t i = 0; i < RULES; i++) {
        if (rules[i].from == from_source->kind && rules[i].to == to->kind) {
            rule = rules[i];
        }
    }
    if (from_source->kind == SOURCE_BUS_SWITCH && to->kind == SOURCE_SWITCH) {
        rule.claim = BL_CLAIM_ABSOLUTE;
    }
    return rule;
}

/* What the trial names is not there. */
static enum bl_status note_sync(struct tying *t, size_t recording,
                                const struct bl_trial_clock *clock,
                                const char *what, size_t where)
{
    const enum bl_status status =
        bl_note_each(&t->clocks->notes, "clock-sync-missing", clock->line,
                     "%.40s: expected %.60s in %.40s to tie it, found none",
                     bl_tying_name(t, recording),
                     what == NULL ? "a signal" : what, bl_tying_name(t, where));
    return status == BL_OK ? BL_OK : bl_fail_memory(t->error);
}

static const struct bl_channel_series *
series_of_channel(const struct bl_run_data *data, size_t recording,
                  long channel)
{
    for (size_t i = 0; i < data->channels; i++) {
        if ((long)data->channel[i].channel == channel &&
            data->channel[i].recording == recording) {
            return &data->channel[i];
        }
    }
    return NULL;
}

enum bl_status bl_tie_sync(struct tying *t, size_t recording,
                           const struct bl_trial_clock *clock)
{
    const struct bl_channel_series *channel =
        series_of_channel(t->data, t->reference, clock->channel_index);
    if (channel == NULL) {
        return note_sync(t, recording, clock, clock->channel, t->reference);
    }
    const struct source to = bl_source_channel(t->trial, channel);
    struct attempt best = {.made = false};
    struct source source[2];
    struct rule rule[2];
    size_t slot = 0;
    for (size_t i = 0; i < t->data->series_count; i++) {
        if (!fits_ref(&t->data->series[i], recording, &clock->signal_ref)) {
            continue;
        }
        source[slot] = bl_source_series(t->trial, &t->data->series[i]);
        rule[slot] = sync_rule(&source[slot], &to);
        struct attempt attempt = {
            .rule = &rule[slot], .from = &source[slot], .to = &to};
        const enum bl_status status = pair_up(t, &attempt);
        if (status != BL_OK) {
            return status;
        }
        if (!best.made || further(&attempt, &best)) {
            best = attempt;
            slot = 1 - slot; /* the best one keeps its slot */
        }
    }
    return best.made ? settle(t, recording, &best)
                     : note_sync(t, recording, clock, clock->signal, recording);
}
