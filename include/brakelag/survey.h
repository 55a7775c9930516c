/* SPDX-License-Identifier: MIT */
/*
 * What is in recordings, without a trial file: buses, identifiers, senders,
 * transport, trouble codes; columns of logs with what looks odd about them;
 * and a draft of a trial file from all that. Nothing here is a finding: it is
 * what a person needs to write the trial file, or to see that a recorder was
 * set up wrongly.
 */
#ifndef BRAKELAG_SURVEY_H
#define BRAKELAG_SURVEY_H

#include "brakelag/bus.h"
#include "brakelag/decoder.h"
#include "brakelag/j1939.h"
#include "brakelag/log.h"
#include "brakelag/names.h"
#include "brakelag/status.h"

struct bl_survey_bus {
    char name[BL_BUS_NAME_MAX];
    uint64_t frames[BL_FRAME_KINDS];
    int64_t first_ns, last_ns;
    int64_t longest_gap_ns, longest_gap_at_ns; /* silence of the whole bus */
    /* Bits per second on the wire, without stuff bits (up to a fifth more):
       mean over the time span, and the fullest second. */
    double mean_bit_s, peak_bit_s;
};

/* A signal with a role, as one identifier carried it. */
struct bl_survey_signal {
    const struct bl_signal *signal; /* of the caller's tables */
    uint64_t frames, valid, changes;
    double smallest, largest;                /* of valid values; NaN: none */
    int64_t first_change_ns, last_change_ns; /* with changes > 0 */
};

enum { BL_SURVEY_MESSAGES = 4 };

struct bl_survey_id {
    uint16_t bus; /* index in the file's buses */
    bool extended;
    uint32_t id;
    uint64_t frames, remote;   /* remote frames are not in `frames` */
    uint8_t shortest, longest; /* payload bytes */
    int64_t first_ns, last_ns;
    /* Intervals between its frames up to an hour: a longer one is a pause or a
       jump. The median is of all of them, to 0.013 % where they lie within a
       factor of two. 0 for fewer than two frames. */
    int64_t interval_min_ns, interval_median_ns, interval_max_ns;
    int64_t longest_gap_at_ns; /* where interval_max_ns began */
    const struct bl_message *message[BL_SURVEY_MESSAGES]; /* may be twins */
    size_t messages;
    struct bl_survey_signal *signal;
    size_t signals;
};

struct bl_survey_address {
    uint16_t bus;
    uint8_t address;
    uint64_t frames;
    /* What claims it, in the file's list of names, the lowest NAME first; two
       or more are a conflict, but at the null address (bl_claim_failed). */
    size_t name, names;
};
struct bl_survey_name {
    uint16_t bus;
    uint8_t address;
    struct bl_name name;
    uint64_t claims;
    int64_t first_ns, last_ns;
};

struct bl_survey_transport {
    uint16_t bus;
    uint8_t source, destination;
    uint32_t pgn;
    uint64_t messages;
    size_t largest;                   /* bytes */
    const struct bl_message *message; /* NULL: not in the tables */
};

struct bl_survey_trouble {
    uint16_t bus;
    uint8_t source;
    struct bl_trouble code; /* as seen last */
    uint64_t seen;
    int64_t first_ns, last_ns;
};

/* A rise of a column through a tenth of its own span, with a return before
   it. The stamp is that of the row behind the crossing. */
struct bl_survey_rise {
    int64_t time_ns;
};
enum { BL_SURVEY_RISES = 64 };

/* What looks odd about a column; bits. X(ENUM, bit, "code", "meaning") */
#define BL_ODDITY_LIST(X)                                                      \
    X(CONSTANT, 0x1, "channel-dead", "never changes")                          \
    X(CLIPPED, 0x2, "channel-clipped",                                         \
      "stays at its largest value although it is noisy elsewhere")             \
    X(STAIR_STEPS, 0x4, "stair-steps",                                         \
      "repeats its values: the true rate is lower than that of the rows")      \
    X(WRONG_UNIT, 0x8, "wrong-pressure-unit",                                  \
      "is written in a unit that does not fit its values")                     \
    X(ABSOLUTE, 0x10, "gauge-absolute",                                        \
      "rests at about the pressure of the air: absolute, not gauge")           \
    X(ZERO_OFFSET, 0x20, "zero-offset", "rests below zero")                    \
    X(IDENTICAL, 0x40, "channels-identical",                                   \
      "is the same as another column, bit by bit")                             \
    X(OVERFLOW, 0x80, "overflow", "the recorder wrote overflow")               \
    X(MISSING, 0x100, "missing-values", "has cells without a number")

enum bl_oddity {
#define X(id, bit, code, meaning) BL_ODDITY_##id = bit,
    BL_ODDITY_LIST(X)
#undef X
};
/* All oddities by index; 0 past the last. */
BL_API unsigned bl_oddity_at(size_t index);
BL_API const char *bl_oddity_code(unsigned oddity);
BL_API const char *bl_oddity_meaning(unsigned oddity);

struct bl_survey_column {
    char *name, *unit; /* unit NULL: the file has no unit */
    size_t index;      /* from 0 over all columns of the file */
    bool states;       /* every number stands for a text */
    uint64_t values, missing, not_numbers, overflows, repeats;
    double smallest, largest; /* NaN without values */
    double step;              /* resolution as written; 0: unknown */
    double low, high;         /* 5 and 99 % of the values (up to 4096 of them,
                                 evenly thinned) */
    double noise;             /* from differences of neighbours */
    unsigned distinct;        /* different values: 1, 2, or 3 for more */
    uint64_t longest_at_top;  /* rows in a row at the largest value */
    int64_t stair_ns;         /* true interval with STAIR_STEPS */
    long identical_to;        /* place of the other column; -1 */
    struct bl_survey_rise *rise; /* the first BL_SURVEY_RISES, in order */
    size_t rises;
    unsigned oddities;         /* enum bl_oddity */
    enum bl_quantity quantity; /* NONE: cannot tell */
    const char *quantity_unit; /* unit to read it in; NULL: cannot tell */
    bool guessed;              /* by the values, not by what is written */
    const char *why;           /* for the quantity and unit, in words */
};

enum bl_survey_kind { BL_SURVEY_BUS, BL_SURVEY_LOG };
enum { BL_SURVEY_KINDS = 2 };

struct bl_survey_file {
    char *path;
    enum bl_survey_kind kind;
    struct bl_stored stored;
    enum bl_status status; /* first failure; what came before it counts */
    char failure[BL_MESSAGE_MAX];
    char *decided; /* logs: what was decided by looking */
    const char *format;
    int64_t first_ns, last_ns, interval_ns, resolution_ns;
    bool absolute_time;
    bool untimed; /* no stamps: all times are places in the file, and intervals
                     and rates are not known */
    uint64_t frames, rows, late, strays, other_packets, splits;
    struct bl_time_places times; /* where stamps are not to be relied on */
    uint64_t damages;      /* places where something was damaged and left out */
    uint64_t ids_left_out; /* frames of identifiers beyond the limit */
    struct bl_survey_bus *bus;
    size_t buses;
    struct bl_survey_id *id; /* by bus, then identifier */
    size_t ids;
    struct bl_survey_address *address;
    size_t addresses;
    struct bl_survey_name *name; /* by bus, address, NAME */
    size_t names;
    struct bl_survey_transport *transport;
    size_t transports;
    uint64_t transport_lost[BL_TRANSPORT_LOSSES];
    struct bl_survey_trouble *trouble;
    size_t troubles;
    struct bl_survey_column *column;
    size_t columns;
    struct bl_notes notes;
};

struct bl_survey {
    const struct bl_tables *tables; /* borrowed; may be NULL */
    const char *pressure_unit; /* of columns without a unit; borrowed static
                                  text; NULL: by their values */
    struct bl_survey_file *file;
    size_t files;
};

/* `tables` is borrowed and must outlive the survey; NULL: names and roles
   stay unknown. */
BL_API BL_MUST_CHECK enum bl_status
bl_survey_create(struct bl_survey **out, const struct bl_tables *tables,
                 struct bl_error *error);
/*
 * Read one recording to its end; bus or log is decided by looking. A
 * measurement file that holds both is listed as both, bus first. Damage
 * inside is kept with the file (status, failure) and is no error here.
 * `path` is what the source was opened as. Options may be NULL.
 * Errors: NOMEM; FORMAT, IO and so on when nothing could be read at all (the
 * file is then listed with its failure too).
 */
BL_API BL_MUST_CHECK enum bl_status
bl_survey_add(struct bl_survey *survey, struct bl_bytes *source,
              const char *path, const struct bl_bus_options *bus,
              const struct bl_log_options *log, struct bl_error *error);
/* Logs that are added from now on have pressures in this unit ("kPa", "bar",
   "psi" ..) where a column states none and has more than two values. Errors:
   ARG (no unit of pressure). */
BL_API BL_MUST_CHECK enum bl_status
bl_survey_pressure_unit(struct bl_survey *survey, const char *unit,
                        struct bl_error *error);
BL_API void bl_survey_destroy(struct bl_survey *survey);

/*
 * What a person stated because a recording does not tell it; the draft repeats
 * it. Text is borrowed; NULL: nothing was stated.
 */
struct bl_draft_options {
    const char *id_order;   /* "big", "little" */
    const char *time;       /* time column of logs, or "none" */
    const char *rate;       /* rows per second with its unit: "200 Hz" */
    const char *folder;     /* goes before relative names of recordings, with
                               its '/', where the draft lies elsewhere */
    const char *earlier;    /* text of a trial file to which runs are added */
    size_t earlier_length;  /* bytes */
    const char *const *run; /* names of runs that it has */
    size_t runs;
};
BL_API struct bl_draft_options bl_draft_options_default(void);

/*
 * A draft of a trial file. What was guessed, and what a person must fill in,
 * is said in comments beside it. With `earlier` that text stands first, and
 * the recordings are further runs of it. `options` may be NULL. Errors: ARG for
 * a recording whose name cannot be in a trial file; NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_survey_draft(const struct bl_survey *survey,
                const struct bl_draft_options *options,
                struct bl_output *output, struct bl_error *error);

#endif
