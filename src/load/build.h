/* SPDX-License-Identifier: MIT */
/*
 * What the loader holds while it reads, and what owns a run's memory
 * afterwards. Inside the room only.
 */
#ifndef BRAKELAG_SRC_LOAD_BUILD_H
#define BRAKELAG_SRC_LOAD_BUILD_H

#include "brakelag/load.h"

#include "base/intervals.h"
#include "bus/beats.h"
#include "signal/activity.h"

enum { BL_INTERVALS_KEPT = 1024, BL_LINK_FIRST_INTERVALS = 64 };

/* A bus series while it grows. */
struct bl_series_build {
    struct bl_bus_series series;
    struct bl_segment *segment;
    size_t segments, capacity;
    int64_t last_ns;    /* of its latest frame; INT64_MIN: none yet */
    double *interval_s; /* the first BL_INTERVALS_KEPT of them */
    size_t intervals;
};

/* Statistics of one identifier while it is read. What each frame touches stands
   first; it goes into `seen` at the end. */
struct bl_link_build {
    int64_t last_ns, least_ns, most_ns;
    struct bl_beat_band band; /* of those that talk nothing is usual */
    int64_t limit_ns;         /* gaps are over this; INT64_MAX: not known yet */
    uint64_t frames;
    uint32_t firsts; /* how many of first_s */
    uint16_t part;
    bool talks; /* one of these: asked alone, as compilers would load all three
                   and the part with them, which was just written */
    bool trouble, claim, transport;
    struct bl_intervals intervals; /* all, ns */
    /* What is usual is read off these, before a gap is looked for. */
    float first_s[BL_LINK_FIRST_INTERVALS];
    struct bl_link_id seen;
    size_t gap_capacity;
};

/* Everything about a recording's traffic that is no series. Captures are read
   on threads: `links` is of this one alone. */
struct bl_links_build {
    struct bl_links links;
    struct bl_loaded_recording *into;
    const struct bl_tables *tables;
    size_t recording;
    struct bl_link_build *item;
    size_t count, capacity;
    struct bl_transport *transport;
    uint64_t second_bits[256];
    int64_t second[256];
    size_t bus_of[256];    /* index in links.bus + 1 */
    struct bl_beats beats; /* an identifier has the same number in it */
    int64_t last_ns;
    uint16_t part;
    bool any;
};

/* All series of one recording, found by what sends them. */
struct bl_capture_build {
    const struct bl_trial *trial;
    size_t recording; /* index in bl_run_data.recording */
    struct bl_series_build *item;
    size_t count, capacity;
    struct bl_route *route; /* hash table: identifier on a bus to series */
    size_t routes, route_slots;
    const struct bl_signal **wanted;
    size_t wanteds;
    uint8_t *address; /* of all units, front to rear */
    size_t addresses;
    struct bl_loaded_recording *into;
    struct bl_links_build links;
};

enum bl_status bl_links_start(struct bl_links_build *b,
                              struct bl_run_data *data, size_t recording,
                              const struct bl_tables *tables,
                              struct bl_error *error);
/* A new identifier; *out is its index. SIZE_MAX: over the limit. */
enum bl_status bl_links_id(struct bl_links_build *b, size_t *out,
                           const struct bl_frame *frame, size_t bus,
                           const struct bl_message *message);
/* Every frame, once: `count` of one bus and one part, in time order. */
enum bl_status bl_links_bus(struct bl_links_build *b,
                            const struct bl_frame *frame, size_t count,
                            size_t bus);
/* After that, each whose identifier has an index from bl_links_id. */
enum bl_status bl_links_frame(struct bl_links_build *b,
                              const struct bl_frame *frame, size_t id);
/* One that is the same as the one before it: counted apart. */
enum bl_status bl_links_twice(struct bl_links_build *b,
                              const struct bl_frame *frame, size_t id,
                              bool at_once);
/* Does it come so soon behind the one before it that it may be the same? */
static inline bool bl_links_soon(const struct bl_links_build *b,
                                 const struct bl_frame *frame, size_t id)
{
    const struct bl_link_build *l = &b->item[id];
    return l->frames > 0 && l->part == frame->part &&
           frame->time_ns - l->last_ns <= BL_TWICE_NS;
}
/* The same for a frame that is as nearly all are: in the part of the one before
   it, not at once behind it, at its usual interval, which is known after the
   first ones and is no gap, and saying nothing of its own. False: another one;
   nothing was done. */
static inline bool bl_links_usual(struct bl_links_build *b,
                                  const struct bl_frame *frame, size_t id)
{
    struct bl_link_build *l = &b->item[id];
    const int64_t ns = frame->time_ns - l->last_ns;
    if (!bl_beat_usual(&l->band, ns) || l->part != frame->part ||
        ns <= BL_TWICE_NS || !bl_intervals_add(&l->intervals, ns)) {
        return false;
    }
    l->least_ns = ns < l->least_ns ? ns : l->least_ns;
    l->most_ns = ns > l->most_ns ? ns : l->most_ns;
    l->frames++;
    l->last_ns = frame->time_ns;
    return true;
}
/* The last frame was given: identifiers go into b->links; frees all else. */
enum bl_status bl_links_finish(struct bl_links_build *b);
/* Move all of `from` to the end of `to`. */
enum bl_status bl_links_append(struct bl_links *to, struct bl_links *from);
void bl_links_destroy(struct bl_links *links);

/* link_talk.c: trouble codes, names and transport of one identifier's frame. */
enum bl_status bl_links_talk(struct bl_links_build *b,
                             const struct bl_link_build *item,
                             const struct bl_frame *frame);

/* seen.c: what a channel shows over the whole log. */
struct bl_seen_build {
    struct bl_seen seen;
    double last;
    float top, before;
    uint64_t at_top;
};
void bl_seen_start(struct bl_seen_build *b);
void bl_seen_feed(struct bl_seen_build *b, const float *value, size_t count);

/* convert.c: written numbers of a channel to its canonical unit, and what is
   asked of the numbers as they are before rounding to single precision. */
struct bl_conversion {
    double scale, zero;
    double low, high; /* smallest and largest seen */
    uint64_t missing;
};
void bl_conversion_start(struct bl_conversion *c);
void bl_convert(struct bl_conversion *c, float *into, const double *from,
                size_t rows);

/* quiet.c: rows that are not kept, as blocks. */
struct bl_quiet_build {
    struct bl_quiet_rows *rows;
    struct bl_quiet_value **value; /* one array per channel of the log */
    size_t count, capacity, channels;
    uint32_t rows_each, stretch;
};

/* apart.c: the rows of one group of channels, see there. */
struct bl_log_apart {
    size_t group;
    size_t *row; /* in the log */
    int64_t *time_ns;
    size_t *part_start;
    size_t rows;
};

/* The samples of one log: one time array for all its channels. */
struct bl_log_samples {
    int64_t *time_ns;
    size_t count, time_capacity;
    size_t settled; /* rows before this hold no spikes any more */
    size_t *part_start;
    size_t parts, part_capacity;
    float **value; /* one array per channel taken from this log */
    size_t *value_capacity;
    size_t values;
    struct bl_quiet_build quiet; /* what is not kept */
    size_t *group;               /* of each channel */
    struct bl_log_apart *apart;
    size_t aparts, apart_capacity;
};

/* The log is read, and `samples` are those of its channel `c`: where groups
   have stamps of their own, those of its group. Once for each channel. */
enum bl_status bl_apart_take(struct bl_log_samples *s, size_t c,
                             struct bl_samples *samples);
void bl_apart_finish(struct bl_log_samples *s);

/* spikes.c: values that are no measurements, and whether a channel sits at an
   end of its instrument's range. */
struct bl_spikes {
    bool on, pressure;
    uint64_t count; /* values left out */
    int64_t first_ns;
    float first_value;
};
void bl_spikes_start(struct bl_spikes *k, enum bl_quantity quantity);
/* Up to which row what lies behind is known well enough. */
size_t bl_spikes_until(const struct bl_log_samples *s, bool last);
/* Rows from s->settled up to `to`; `step`: the smallest step seen so far. */
void bl_spikes_remove(struct bl_spikes *k, struct bl_log_samples *s,
                      size_t column, size_t to, double step);
enum bl_status bl_spikes_note(const struct bl_spikes *k,
                              struct bl_loaded_recording *into,
                              const char *channel, const char *unit);
/* frozen.c: values that stand still, see there. Before the series is described;
   `value` are its samples, not of a switch. */
enum bl_status bl_frozen_remove(struct bl_channel_series *series, float *value,
                                struct bl_loaded_recording *into,
                                const char *channel);
struct bl_range {
    double low, high; /* NaN: no limit there */
    uint64_t run;     /* values in a row at an end or beyond */
    uint64_t at_end;  /* those of runs of three and more */
};
void bl_range_start(struct bl_range *r, const struct bl_trial_channel *channel);
void bl_range_feed(struct bl_range *r, const float *value, size_t count);
/* Values at an end of the stated range; else those in a row at the largest
   value, where noise elsewhere shows that nothing else holds them there. */
uint64_t bl_range_met(const struct bl_range *r, const struct bl_seen *seen);

enum bl_status bl_quiet_start(struct bl_quiet_build *q, size_t channels);
enum bl_status bl_quiet_add(struct bl_quiet_build *q,
                            const struct bl_log_samples *s, size_t first,
                            size_t end);
void bl_quiet_finish(struct bl_quiet_build *q);

/* parting.c: the levels of a switch, and its samples made 0 and 1. */
struct bl_held {
    float before[3];
    uint64_t count;
    double low, high; /* that lasted four rows */
};
void bl_held_start(struct bl_held *h);
void bl_held_feed(struct bl_held *h, const float *value, size_t count);
/* In place of the extremes, where the channel held two levels. */
void bl_held_take(const struct bl_held *h, struct bl_conversion *c);
void bl_switch_series(struct bl_channel_series *series,
                      const struct bl_trial_channel *channel,
                      const struct bl_conversion *t, struct bl_log_samples *s,
                      size_t c);

/* keep.c: which rows are kept. */
struct bl_opener {
    size_t column;  /* index in the log's samples */
    size_t channel; /* index in the trial */
};
struct bl_stretch {
    int64_t from_ns, to_ns; /* both ends belong to it */
};
struct bl_log_keep {
    const struct bl_trial *trial;
    struct bl_opener *opener; /* channels that open windows */
    struct bl_activity *activity;
    size_t openers;
    struct bl_stretch *stretch; /* to be kept, in time order */
    size_t stretches, stretch_capacity;
    size_t whole_bytes;
    size_t block_rows, each_rows; /* rows of one look; of one thinning */
    int64_t interval_ns;
    size_t decided;           /* rows before this are kept for good */
    size_t seen;              /* rows before this were looked at */
    size_t parts, part_moved; /* parts whose ends are among the stretches */
    bool on;
};
enum bl_status bl_keep_start(struct bl_log_keep *k,
                             const struct bl_trial *trial, size_t channels,
                             size_t whole_bytes);
/* Samples `column` of the log are those of this channel of the trial. */
void bl_keep_channel(struct bl_log_keep *k, size_t column, size_t channel);
/* Rows were added: thin what can be decided. */
enum bl_status bl_keep_rows(struct bl_log_keep *k, struct bl_log_samples *s);
/* The log has ended. */
enum bl_status bl_keep_last(struct bl_log_keep *k, struct bl_log_samples *s);
void bl_keep_finish(struct bl_log_keep *k);

/* bl_run_data with all that it points into. `data` is the first member, so
   that destroy can get from one to the other. */
struct bl_run_store {
    struct bl_run_data data;
    struct bl_log_samples *log; /* one per recording; empty for captures */
    size_t logs;
    struct bl_segment **segments; /* one array per series */
    size_t series_capacity, channel_capacity;
    size_t whole_bytes; /* of samples that one log may have and not be thinned
                         */
};

/* A recording while it is read. Recordings are read on threads: reading touches
   nothing of the store but the recording and the samples of its own index.
   Keeping, in the order of the recordings, makes series and channels. */
enum bl_status bl_capture_read(struct bl_capture_build **out,
                               struct bl_run_store *store,
                               const struct bl_trial *trial, size_t index,
                               struct bl_error *error);
enum bl_status bl_capture_keep(struct bl_run_store *store,
                               struct bl_capture_build *b,
                               struct bl_error *error);
void bl_capture_build_free(struct bl_capture_build *b);
struct bl_log_build;
enum bl_status bl_log_read(struct bl_log_build **out,
                           struct bl_run_store *store,
                           const struct bl_trial *trial, size_t index,
                           struct bl_error *error);
enum bl_status bl_log_keep(struct bl_run_store *store, struct bl_log_build *b,
                           size_t index, struct bl_error *error);
void bl_log_build_free(struct bl_log_build *b);

/* parallel.c: read all recordings that the store names, on up to `threads`
   threads. The result is the same for any number. */
enum bl_status bl_load_recordings(struct bl_run_store *store,
                                  const struct bl_trial *trial, size_t threads,
                                  struct bl_error *error);
/* As bl_load_run, on so many threads, and logs kept whole up to so many bytes
   of samples. */
enum bl_status bl_load_run_with(struct bl_run_data **out,
                                const struct bl_trial *trial, size_t run,
                                size_t threads, size_t whole_bytes,
                                struct bl_error *error);

/* Which bus signals a trial's analysis looks at. *out is the caller's to
   free. */
enum bl_status bl_wanted_signals(const struct bl_trial *trial,
                                 const struct bl_signal ***out, size_t *count,
                                 struct bl_error *error);

/* failed.c: remember the first failure while a recording was read. */
void bl_loaded_failed(struct bl_loaded_recording *recording,
                      const struct bl_error *error);
/* Of a recording of which nothing could be used: it failed, for the reason that
   its first note gives. Errors: NOMEM. */
enum bl_status bl_loaded_unusable(struct bl_loaded_recording *recording);

/* times.c: places of a recording whose stamps are not to be relied on, as one
   file gave them; `shift_ns`: of each part, `parts` of them, the file's first
   being number `base`. */
enum bl_status bl_times_take(struct bl_loaded_recording *recording,
                             const struct bl_time_places *from,
                             const int64_t *shift_ns, size_t parts,
                             size_t base);
/* One more such place, raw stamps as in the series. Errors: NOMEM. */
enum bl_status bl_times_add(struct bl_loaded_recording *recording,
                            const struct bl_time_place *place);
/* All are known: put in order, noted, and let the series know them. */
enum bl_status bl_times_finish(struct bl_run_data *data);

/* damage.c: one more damaged place. Errors: NOMEM. Of more than
   BL_LIMIT_DAMAGES the last one reaches to the end. */
enum bl_status bl_damage_add(struct bl_loaded_recording *recording,
                             int64_t from_ns, int64_t until_ns);
/* Those of a log up to a part, from number *taken on, with times as they were
   placed; `before_ns`: of the row before the file. */
enum bl_status bl_damage_take(struct bl_loaded_recording *recording,
                              const struct bl_log_info *info, size_t *taken,
                              uint16_t part, int64_t before_ns,
                              int64_t shift_ns);
/* After reading a file of a recording that ended in `status`: bytes that were
   inflated wrongly cannot be told from others, so that all is in doubt. */
enum bl_status bl_damage_packed(struct bl_loaded_recording *recording,
                                const struct bl_bytes *source,
                                enum bl_status status);
/* Put the places in order and let the series know them. */
void bl_damage_finish(struct bl_run_data *data);

/* Fill interval, resolution and stair-steps of finished samples; `step` is
   the smallest one seen. */
enum bl_status bl_samples_describe(struct bl_samples *samples, double step,
                                   struct bl_error *error);

size_t bl_logs_of_run(const struct bl_trial *trial, size_t run);
/* Note a column whose unit the log and the trial file tell differently: the
   trial file counts, but one of them is wrong, and all pressures with it.
   Returns `written_ratio` of struct bl_channel_series. */
double bl_log_note_contradiction(struct bl_notes *notes,
                                 const struct bl_trial_channel *channel,
                                 const struct bl_log_column *column);
/* Note a column that the trial file names and the log lacks: "column-missing".
   The rest is read; the trial file is wrong for this log. */
enum bl_status bl_log_note_missing(struct bl_notes *notes,
                                   const struct bl_trial *trial,
                                   const struct bl_trial_channel *channel,
                                   const char *file,
                                   const struct bl_log_info *info);
/* "a, b, c, ...": the columns of a log, as many as fit. */
enum { COLUMNS_TEXT = 100 };
const char *bl_log_columns_text(const struct bl_log_info *info, char *text,
                                size_t size);

#endif
