/* SPDX-License-Identifier: MIT */
/*
 * Ties of one run: as the trial says, or found. The run's time is the clock of
 * its first log that holds anything, else of its first capture.
 */
#include "clock/auto.h"

#include "base/alloc.h"
#include "base/sure.h"

#include <math.h>
#include <string.h>

/* What two crystals may differ by when nobody states it: common practice. */
static const double DRIFT_UNSTATED_PPM = 100;

static const struct bl_trial_recording *trial_recording(const struct tying *t,
                                                        size_t recording)
{
    return &t->trial->recording[t->data->recording[recording].recording];
}

/* Without stamps there is no clock to tie. */
static bool holds_anything(const struct bl_loaded_recording *r)
{
    return (r->frames > 0 || r->rows > 0) && !r->untimed;
}

static size_t find_reference(const struct bl_run_data *data)
{
    static const enum bl_recording_kind kinds[] = {BL_RECORDING_LOG,
                                                   BL_RECORDING_CAPTURE};
    for (size_t k = 0; k < 2; k++) {
        for (size_t i = 0; i < data->recordings; i++) {
            if (data->recording[i].kind == kinds[k] &&
                holds_anything(&data->recording[i])) {
                return i;
            }
        }
    }
    return 0;
}

static bool is_pairwise(enum bl_clock_kind kind)
{
    return kind == BL_CLOCK_OFFSET || kind == BL_CLOCK_START ||
           kind == BL_CLOCK_SYNC;
}

/* A recording's own word, else the run's, else that of the reference. An
   offset, start or sync of the run speaks of captures. */
static const struct bl_trial_clock *clock_of(const struct tying *t,
                                             size_t recording)
{
    static const struct bl_trial_clock automatic = {.kind = BL_CLOCK_AUTO};
    const struct bl_trial_clock *own = &trial_recording(t, recording)->clock;
    const struct bl_trial_clock *others[] = {
        &t->trial->run[t->data->run].clock,
        &trial_recording(t, t->reference)->clock};
    if (own->kind != BL_CLOCK_UNSET) {
        return own;
    }
    for (size_t i = 0; i < 2; i++) {
        const enum bl_clock_kind kind = others[i]->kind;
        const bool capture =
            t->data->recording[recording].kind == BL_RECORDING_CAPTURE;
        if (kind == BL_CLOCK_SHARED || (is_pairwise(kind) && capture) ||
            (i == 0 && kind == BL_CLOCK_OWN)) {
            return others[i];
        }
    }
    return &automatic;
}

static enum bl_status note(struct tying *t, const char *code, int line,
                           const char *format, const char *name)
{
    return bl_note_each(&t->clocks->notes, code, line, format, name) == BL_OK
               ? BL_OK
               : bl_fail_memory(t->error);
}

/* How far a stated clock may lie from what events say: a pedal's frame has a
   sender with a delay of its own; behind a demand or a pressure hides a
   latency, and a demand may be late. Own choice. */
static const double SENDER_MOST_S = 0.1, LATENCY_MOST_S = 0.6;

/* offset and start: a number of the trial with its half-width. */
static enum bl_status tie_stated(struct tying *t, size_t recording,
                                 const struct bl_trial_clock *clock)
{
    const struct bl_loaded_recording *r = &t->data->recording[recording];
    struct bl_clock_tie *tie = &t->clocks->tie[recording];
    tie->claim = BL_CLAIM_ABSOLUTE;
    tie->t_first_ns = r->first_ns;
    tie->offset_s = clock->offset_s;
    tie->method = "offset";
    if (clock->kind == BL_CLOCK_START) {
        tie->method = "start";
        const int64_t to = t->data->recording[t->reference].first_ns;
        const double between = (double)(to - r->first_ns) * 1e-9;
        /* A log's first row lies so long after the capture's first frame. */
        tie->offset_s = r->kind == BL_RECORDING_CAPTURE
                            ? between - clock->offset_s
                            : between + clock->offset_s;
    }
    enum bl_status status = BL_OK;
    if (isnan(clock->half_width_s)) {
        status = note(t, "clock-u-not-stated", clock->line,
                      "%.80s: no half-width of the offset is stated; it is "
                      "not included",
                      bl_tying_name(t, recording));
    } else {
        tie->u_offset_s = clock->half_width_s / sqrt(3.0);
    }
    if (!isnan(clock->drift_ppm)) {
        tie->drift_ppm = clock->drift_ppm;
    } else {
        tie->u_drift_ppm = DRIFT_UNSTATED_PPM / sqrt(3.0);
    }
    tie->extrapolation_s = (double)(r->last_ns - r->first_ns) * 1e-9;
    return status;
}

static bool usable(const struct bl_clock_tie *tie)
{
    return tie->claim != BL_CLAIM_NONE && tie->claim != BL_CLAIM_AMBIGUOUS;
}

/* What the events on both say, without its notes; `stated` stays the tie. */
static enum bl_status second_opinion(struct tying *t, size_t recording,
                                     struct bl_clock_tie *found)
{
    struct bl_clock_tie *tie = &t->clocks->tie[recording];
    const struct bl_clock_tie stated = *tie;
    const struct bl_notes notes = t->clocks->notes;
    t->clocks->notes = (struct bl_notes){0};
    *tie = (struct bl_clock_tie){.method = "none",
                                 .t_first_ns = stated.t_first_ns};
    const enum bl_status status = bl_tie_auto(t, recording);
    *found = *tie;
    *tie = stated;
    bl_notes_finish(&t->clocks->notes);
    t->clocks->notes = notes;
    return status;
}

/* An offset mistyped, of the wrong sign, or with the capture of another run. */
static enum bl_status hold_against_events(struct tying *t, size_t recording,
                                          int line)
{
    struct bl_clock_tie *tie = &t->clocks->tie[recording];
    struct bl_clock_tie found;
    const enum bl_status status = second_opinion(t, recording, &found);
    if (status != BL_OK || !usable(&found) || found.pairs == 0) {
        return status;
    }
    const int64_t middle = found.t_first_pair_ns / 2 + found.t_last_pair_ns / 2;
    const double off =
        (double)(bl_clock_map(tie, middle) - bl_clock_map(&found, middle)) *
        1e-9;
    const double u = hypot(bl_clock_u(tie, middle), bl_clock_u(&found, middle));
    const double may_be = found.claim == BL_CLAIM_DIFFERENCES_ONLY
                              ? LATENCY_MOST_S
                              : SENDER_MOST_S;
    if (fabs(off) <= may_be + BL_SURE_U * u) {
        return BL_OK;
    }
    tie->contradicted = true;
    tie->against_s = off;
    return bl_note_each(&t->clocks->notes, "clock-contradicted", line,
                        "%.80s: the stated clock lies %.3f s off what %zu "
                        "events on both recorders say",
                        bl_tying_name(t, recording), off, found.pairs) == BL_OK
               ? BL_OK
               : bl_fail_memory(t->error);
}

/* Made of one and the same file, which has one clock. What was moved behind a
   jump back may have been moved differently. */
static bool same_file(const struct tying *t, size_t a, size_t b)
{
    const struct bl_loaded_recording *first = &t->data->recording[a];
    const struct bl_loaded_recording *second = &t->data->recording[b];
    if (a == b || first->kind == second->kind || first->files == 0 ||
        first->files != second->files ||
        bl_notes_find(&first->notes, "part-moved") != NULL ||
        bl_notes_find(&second->notes, "part-moved") != NULL) {
        return false;
    }
    for (size_t i = 0; i < first->files; i++) {
        /* A file may be named in two ways; its bytes are the same. */
        const struct bl_stored *one = &first->file[i].stored;
        const struct bl_stored *other = &second->file[i].stored;
        if (strcmp(first->file[i].path, second->file[i].path) != 0 &&
            (one->sha256[0] == '\0' ||
             strcmp(one->sha256, other->sha256) != 0)) {
            return false;
        }
    }
    return true;
}

/* A log whose capture is the same file, neither being the reference: it has the
   tie of the capture. SIZE_MAX: none. */
static size_t leader(const struct tying *t, size_t recording)
{
    if (recording == t->reference ||
        t->data->recording[recording].kind != BL_RECORDING_LOG ||
        trial_recording(t, recording)->clock.kind != BL_CLOCK_UNSET) {
        return SIZE_MAX;
    }
    for (size_t i = 0; i < t->data->recordings; i++) {
        if (i != t->reference && same_file(t, recording, i)) {
            return i;
        }
    }
    return SIZE_MAX;
}

/* The reference is the same file: nothing is to be aligned. */
static enum bl_status tie_same_file(struct tying *t, size_t recording)
{
    struct bl_clock_tie *tie = &t->clocks->tie[recording];
    const struct bl_trial_clock *stated[] = {
        &t->trial->run[t->data->run].clock,
        &trial_recording(t, t->reference)->clock};
    tie->method = "same-file";
    tie->claim = BL_CLAIM_ABSOLUTE;
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < 2 && status == BL_OK; i++) {
        if (is_pairwise(stated[i]->kind)) {
            status = note(t, "clock-same-file", stated[i]->line,
                          "%.80s: its frames and channels are of one file with "
                          "one clock; the clock stated here is not used for it",
                          bl_tying_name(t, recording));
        }
    }
    return status;
}

static size_t recording_named(const struct tying *t, const char *name)
{
    for (size_t i = 0; i < t->data->recordings; i++) {
        if (name != NULL && strcmp(bl_tying_name(t, i), name) == 0) {
            return i;
        }
    }
    return t->data->recordings;
}

/* Follow "same as" to a recording that is not; n when it leads nowhere. */
static size_t follow(const struct tying *t, size_t recording)
{
    const size_t n = t->data->recordings;
    for (size_t step = 0; step <= n && recording < n; step++) {
        const struct bl_trial_clock *clock = clock_of(t, recording);
        if (recording == t->reference || clock->kind != BL_CLOCK_SAME_AS) {
            return recording;
        }
        recording = recording_named(t, clock->same_as);
    }
    return n;
}

/* The reference says "same as" of this one: then this one is like it. */
static bool like_reference(const struct tying *t, size_t recording)
{
    size_t at = t->reference;
    for (size_t step = 0; step < t->data->recordings; step++) {
        const struct bl_trial_clock *own = &trial_recording(t, at)->clock;
        if (own->kind != BL_CLOCK_SAME_AS) {
            return false;
        }
        at = recording_named(t, own->same_as);
        if (at == recording) {
            return trial_recording(t, recording)->clock.kind == BL_CLOCK_UNSET;
        }
        if (at == t->data->recordings) {
            return false;
        }
    }
    return false;
}

static enum bl_status tie_one(struct tying *t, size_t recording)
{
    struct bl_clock_tie *tie = &t->clocks->tie[recording];
    if (recording == t->reference && !t->data->recording[recording].untimed) {
        *tie = bl_clock_own();
        tie->t_first_ns = t->data->recording[recording].first_ns;
        return BL_OK;
    }
    tie->t_first_ns = t->data->recording[recording].first_ns;
    if (!holds_anything(&t->data->recording[recording])) {
        return BL_OK;
    }
    const struct bl_trial_clock *clock = clock_of(t, recording);
    if (trial_recording(t, recording)->clock.kind == BL_CLOCK_UNSET &&
        same_file(t, recording, t->reference)) {
        return tie_same_file(t, recording);
    }
    if (like_reference(t, recording)) {
        tie->method = "same-as";
        tie->claim = BL_CLAIM_ABSOLUTE;
        return BL_OK;
    }
    if (leader(t, recording) != SIZE_MAX) {
        return BL_OK; /* when the others are known */
    }
    switch (clock->kind) {
    case BL_CLOCK_SHARED:
        tie->method = "shared";
        tie->claim = BL_CLAIM_ABSOLUTE;
        return BL_OK;
    case BL_CLOCK_OWN:
        tie->method = "own";
        return BL_OK;
    case BL_CLOCK_SAME_AS:
        return BL_OK; /* when the others are known */
    case BL_CLOCK_OFFSET:
    case BL_CLOCK_START:
        return tie_stated(t, recording, clock) == BL_OK
                   ? hold_against_events(t, recording, clock->line)
                   : bl_fail_memory(t->error);
    case BL_CLOCK_SYNC:
        return bl_tie_sync(t, recording, clock);
    case BL_CLOCK_UNSET:
    case BL_CLOCK_AUTO:
        break;
    }
    return bl_tie_auto(t, recording);
}

static enum bl_status tie_same(struct tying *t, size_t recording)
{
    const struct bl_trial_clock *clock = clock_of(t, recording);
    const size_t led = leader(t, recording);
    if (led != SIZE_MAX && holds_anything(&t->data->recording[recording])) {
        t->clocks->tie[recording] = t->clocks->tie[led];
        t->clocks->tie[recording].method = "same-file";
        return BL_OK;
    }
    if (recording == t->reference || clock->kind != BL_CLOCK_SAME_AS ||
        !holds_anything(&t->data->recording[recording])) {
        return BL_OK;
    }
    const size_t target = follow(t, recording);
    if (target == t->data->recordings) {
        return note(t, "clock-same-as-nothing", clock->line,
                    "%.80s: expected a recording of this run that has a clock "
                    "of its own after 'same as'",
                    bl_tying_name(t, recording));
    }
    const struct bl_loaded_recording *r = &t->data->recording[recording];
    struct bl_clock_tie *tie = &t->clocks->tie[recording];
    *tie = t->clocks->tie[target];
    tie->method = "same-as";
    if (tie->pairs > 0) {
        tie->extrapolation_s =
            fmax(0, fmax((double)(tie->t_first_pair_ns - r->first_ns) * 1e-9,
                         (double)(r->last_ns - tie->t_last_pair_ns) * 1e-9));
    }
    return BL_OK;
}

/* The run's first stamp; recordings that lie outside the reference, which
   mostly means a wrong offset or stamps of different kind, are noted. */
static enum bl_status close_up(struct tying *t)
{
    const struct bl_loaded_recording *ref = &t->data->recording[t->reference];
    t->clocks->t0_ns = ref->first_ns;
    t->clocks->t0_recording = t->reference;
    for (size_t i = 0; i < t->data->recordings; i++) {
        const struct bl_loaded_recording *r = &t->data->recording[i];
        const struct bl_clock_tie *tie = &t->clocks->tie[i];
        if (!usable(tie) || !holds_anything(r)) {
            continue;
        }
        const int64_t first = bl_clock_map(tie, r->first_ns);
        const int64_t last = bl_clock_map(tie, r->last_ns);
        if (first > ref->last_ns || last < ref->first_ns) {
            const enum bl_status status =
                note(t, "clock-no-overlap", -1,
                     "%.80s lies wholly outside the run's time",
                     bl_tying_name(t, i));
            if (status != BL_OK) {
                return status;
            }
            continue;
        }
        if (first < t->clocks->t0_ns) {
            t->clocks->t0_ns = first;
            t->clocks->t0_recording = i;
            t->clocks->t0_u_s = bl_clock_u(tie, r->first_ns);
        }
    }
    return BL_OK;
}

static enum bl_status tie_all(struct tying *t)
{
    for (size_t i = 0; i < t->data->recordings; i++) {
        t->clocks->tie[i] = (struct bl_clock_tie){.method = "none"};
    }
    if (bl_sources_find(&t->sources, t->trial, t->data) != BL_OK) {
        return bl_fail_memory(t->error);
    }
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < t->data->recordings && status == BL_OK; i++) {
        status = tie_one(t, i);
    }
    for (size_t i = 0; i < t->data->recordings && status == BL_OK; i++) {
        status = tie_same(t, i);
    }
    return status == BL_OK ? close_up(t) : status;
}

enum bl_status bl_clock_tie_run(struct bl_run_clocks **out,
                                const struct bl_trial *trial,
                                const struct bl_run_data *data,
                                struct bl_error *error)
{
    *out = NULL;
    const uint64_t refused = bl_alloc_refused();
    enum bl_status status = BL_OK;
    struct bl_run_clocks *clocks = bl_alloc(1, sizeof(*clocks));
    if (clocks == NULL) {
        return bl_fail_memory(error);
    }
    struct tying t = {.trial = trial,
                      .data = data,
                      .clocks = clocks,
                      .reference = find_reference(data),
                      .error = error};
    clocks->tie = bl_alloc(data->recordings, sizeof(*clocks->tie));
    if (clocks->tie == NULL) {
        status = bl_fail_memory(error);
        goto out;
    }
    clocks->ties = data->recordings;
    if (data->recordings > 0) {
        status = tie_all(&t);
    }
    if (status == BL_OK && bl_alloc_refused() != refused) {
        status = bl_fail_memory(error);
    }
out:
    bl_sources_finish(&t.sources);
    if (status != BL_OK) {
        bl_run_clocks_destroy(clocks);
        return status;
    }
    *out = clocks;
    return BL_OK;
}

void bl_run_clocks_destroy(struct bl_run_clocks *clocks)
{
    if (clocks == NULL) {
        return;
    }
    bl_free(clocks->tie);
    bl_notes_finish(&clocks->notes);
    bl_free(clocks);
}
