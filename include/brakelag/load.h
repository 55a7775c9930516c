/* SPDX-License-Identifier: MIT */
/*
 * A run's recordings turned into series. Every series keeps the raw stamps of
 * its recording's own clock; how clocks are tied is found afterwards
 * (clock.h). Each recording is read once, hashed on the way, and what was
 * noticed is kept.
 */
#ifndef BRAKELAG_LOAD_H
#define BRAKELAG_LOAD_H

#include "brakelag/bus.h"
#include "brakelag/log.h"
#include "brakelag/series.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* One series taken from a bus: a signal as sent by one address on one bus of
   one recording. */
struct bl_bus_series {
    const struct bl_signal *signal;
    size_t recording; /* index in bl_run_data.recording */
    char bus[64];
    uint8_t source, destination;
    struct bl_steps steps; /* raw stamps */
};

/*
 * A long log is kept sample by sample only around activity: from 12 s before
 * a command, control, output or switch leaves rest until 2 s after it is back,
 * and at both ends of every part. Of what lies between, blocks of rows are
 * kept: few enough for any length (docs/benchmarks.md, "Memory").
 */
struct bl_quiet_rows {
    int64_t first_ns, last_ns; /* raw stamps */
    uint32_t rows;
    uint32_t stretch; /* rows of one number were consecutive */
};
/* One channel in such a block; NaN where all its values are missing. */
struct bl_quiet_value {
    float smallest, largest, mean;
};

/* What a channel showed over the whole log, kept or not. */
struct bl_seen {
    uint64_t count; /* values, missing ones left out */
    double smallest, largest;
    uint64_t changes;        /* values that differ from the one before */
    uint64_t longest_at_top; /* rows in a row with the largest value */
    double step;             /* smallest difference of neighbours that is not
                                rounding; INFINITY: none */
};

/* One channel of the trial as found in one log. */
struct bl_channel_series {
    size_t channel; /* index in the trial */
    size_t recording;
    struct bl_samples samples; /* raw stamps, canonical unit */
    uint64_t missing, overflows;
    uint64_t at_range_end; /* values that sit at an end of the stated range or
                              beyond, three and more in a row; an end at which
                              the quantity itself ends (0 kPa) clips nothing;
                              else twenty and more in a row at the largest
                              value of a channel with noise elsewhere */
    uint64_t spikes; /* values left out: faster than a valve could follow */
    uint64_t frozen; /* values left out: repeated where this channel never
                        stands still; from frozen_ns on */
    int64_t frozen_ns;
    /* Where the log writes another unit of pressure than the trial file states:
       how much more a value is by the log than by the trial file; else 0. */
    double written_ratio;
    struct bl_seen seen; /* count 0: ask bl_channel_seen */
    /* `quiets` blocks in time order; the same times for all channels of one
       log. None: all samples were kept. */
    const struct bl_quiet_rows *quiet_rows;
    const struct bl_quiet_value *quiet;
    size_t quiets;
};

struct bl_loaded_file {
    const char *path;
    struct bl_stored stored;
};

struct bl_loaded_recording {
    size_t recording; /* index in the trial */
    enum bl_recording_kind kind;
    struct bl_loaded_file *file;
    size_t files;
    uint64_t frames, rows;
    char (*bus)[64];
    size_t buses;
    int64_t first_ns, last_ns; /* raw stamps */
    int64_t resolution_ns;
    bool absolute_time; /* stamps count from 1970 */
    bool untimed; /* no stamps: see bl_bus_info; nothing is measured from it */
    struct bl_notes notes;
    /* Where something could not be read; in time order, none touching the
       next. Raw stamps as in the series. */
    struct bl_damage *damage;
    size_t damages;
    uint64_t spikes;             /* of all channels; noted as "spike" */
    struct bl_time_places times; /* where its stamps are not to be relied on;
                                    raw stamps as in the series */
    enum bl_status status; /* first failure while reading; what came before it
                              is used */
    char failure[BL_MESSAGE_MAX]; /* its one line */
};

/* What each bus of each capture carried, besides the series. Lists are bounded;
   what did not fit is counted in a note of the recording ("links-left-out").
   `recording` is the index in bl_run_data.recording, `bus` that in its buses.
 */
/* The same identifier with the same data again so soon is stored twice, as by
   two taps on one bus: a frame of 8 bytes with its identifier takes 1.05 ms at
   125 kbit/s, and no message repeats itself at once. Own choice above that. */
#define BL_TWICE_NS INT64_C(1000000)
struct bl_link_gap {
    int64_t from_ns, until_ns; /* the frames before and after; raw stamps */
};
/* One identifier on one bus. Intervals are seconds; NaN with fewer than two
   frames of one part. */
struct bl_link_id {
    size_t recording, bus;
    uint32_t id;
    bool extended;
    const struct bl_message *message; /* NULL: no table has it */
    uint64_t frames;
    uint64_t twice; /* frames that the recording holds a second time, at most
                       BL_TWICE_NS behind; they count nowhere else */
    int64_t first_ns, last_ns;
    double least_s, median_s, most_s;
    double nominal_s; /* usual interval where no frame is lost: the median of
                         those up to 1.5 times the lower quartile */
    struct bl_link_gap *gap; /* over 3 intervals, in time order */
    size_t gaps;
    uint64_t gap_count; /* all, also those that were not kept */
};
/* An active trouble code as one address told it. */
struct bl_link_trouble {
    size_t recording, bus;
    uint8_t source;
    bool multi_packet;
    struct bl_trouble code;
    uint64_t reports;
    int64_t first_ns, last_ns;
};
/* An address claim. */
struct bl_link_name {
    size_t recording, bus;
    uint8_t source;
    struct bl_name name;
    uint64_t claims;
    int64_t first_ns;
};
/* Multi-packet messages of one group from one address. */
struct bl_link_transport {
    size_t recording, bus;
    uint8_t source;
    uint32_t pgn;
    uint64_t messages;
    size_t longest; /* bytes */
};
/* Error frames are counted by the class bits of linux/can/error.h, lowest bit
   first; one frame may be of several classes. */
enum { BL_ERROR_CLASSES = 10 };
struct bl_link_bus {
    size_t recording, bus;
    uint64_t frames, remote, errors, error_class[BL_ERROR_CLASSES];
    int64_t first_ns, last_ns;
    uint64_t bits;         /* of data frames, without stuffing, with the gap
                              between frames */
    uint64_t busiest_bits; /* most in one second */
};
struct bl_links {
    struct bl_link_id *id;
    struct bl_link_trouble *trouble;
    struct bl_link_name *name;
    struct bl_link_transport *transport;
    struct bl_link_bus *bus;
    struct bl_link_gap *silence; /* over 50 ms without any frame at all */
    size_t *silence_recording;
    size_t ids, troubles, names, transports, buses, silences;
};
BL_API const char *bl_error_class_name(unsigned bit);

struct bl_run_data {
    size_t run;
    struct bl_loaded_recording *recording;
    size_t recordings;
    struct bl_channel_series *channel;
    size_t channels;
    struct bl_bus_series *series;
    size_t series_count;
    struct bl_links links;
    struct bl_notes notes;
};

/* Read run `run`. Damage inside a recording is kept with it (status, failure);
   only what stops all answers is an error: IO (no recording could be opened),
   TRIAL (a column is named that several columns fit, or that has no unit, with
   the trial's line), NOMEM. A column that the trial names and the log lacks is
   the note "column-missing" of the recording, or of the run where it has
   several logs: the trial file is wrong for this log, the rest is read. Paths,
   signals and messages in it are borrowed from the trial, which must outlive
   it. */
BL_API BL_MUST_CHECK enum bl_status bl_load_run(struct bl_run_data **out,
                                                const struct bl_trial *trial,
                                                size_t run,
                                                struct bl_error *error);
BL_API void bl_run_data_destroy(struct bl_run_data *data);
/* Free the series and keep what is said of the recordings and links; what was
   borrowed from a series is gone. Takes NULL. */
BL_API void bl_run_data_drop_series(struct bl_run_data *data);

/* What the channel showed over the whole log. */
BL_API struct bl_seen bl_channel_seen(const struct bl_channel_series *series);
/* The log's unit of pressure makes of its largest value what a braking reaches
   (150 to 1200 kPa, own choice around the usual 2 to 10 bar), and the trial
   file's unit does not. */
BL_API bool bl_channel_unit_unlikely(const struct bl_channel_series *series);

/* The one series of a channel, or NULL. Belongs to the data, until
   bl_run_data_drop_series. */
BL_API const struct bl_channel_series *
bl_run_channel(const struct bl_run_data *data, long channel);

#endif
