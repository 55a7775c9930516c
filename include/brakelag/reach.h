/* SPDX-License-Identifier: MIT */
/*
 * Did the electronic demand arrive at every unit, unchanged and in time? One
 * hop per coupling: the link behind unit k - 1, on which it asks unit k for
 * braking. docs/methods/reach.md says how each answer is reached.
 */
#ifndef BRAKELAG_REACH_H
#define BRAKELAG_REACH_H

#include "brakelag/characteristic.h"
#include "brakelag/clock.h"
#include "brakelag/findings.h"
#include "brakelag/lag.h"
#include "brakelag/load.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* X(ENUM, "name in results", "words") */
#define BL_REACH_LIST(X)                                                       \
    X(CANNOT_TELL, "cannot-tell", "cannot tell")                               \
    X(REACHED, "reached", "reached")                                           \
    X(DEFECTS, "reached-with-defects", "reached with defects")                 \
    X(NOT_REACHED, "not-reached", "not reached")
enum bl_reach_verdict {
#define X(id, name, words) BL_REACH_##id,
    BL_REACH_LIST(X)
#undef X
        BL_REACH_VERDICTS
};
BL_API const char *bl_reach_verdict_name(enum bl_reach_verdict verdict);
BL_API const char *bl_reach_verdict_words(enum bl_reach_verdict verdict);

/* What is claimed of the demand to a unit, each for itself. Reached: the first
   three are yes and no other is no (docs/methods/reach.md).
   X(ENUM, "name in results", "words") */
#define BL_REACH_CLAIM_LIST(X)                                                 \
    X(ARRIVES, "arrives", "arrives")                                           \
    X(UNCHANGED, "unchanged", "unchanged")                                     \
    X(AT_RATE, "at_its_rate", "at its rate")                                   \
    X(IN_TIME, "in_time", "in time")                                           \
    X(ACTED_ON, "acted_on", "acted on")
enum bl_reach_claim {
#define X(id, name, words) BL_REACH_##id,
    BL_REACH_CLAIM_LIST(X)
#undef X
        BL_REACH_CLAIMS
};
BL_API const char *bl_reach_claim_name(enum bl_reach_claim claim);
BL_API const char *bl_reach_claim_words(enum bl_reach_claim claim);
/* "yes", "no", "cannot-tell" */
BL_API const char *bl_reach_answer_name(enum bl_answer answer);

/* What stopped when demand frames stopped. */
enum bl_gap_kind {
    BL_GAP_THIS_ID,  /* other frames of the sender went on */
    BL_GAP_SENDER,   /* the sender stopped, others went on */
    BL_GAP_RECORDER, /* nothing at all was recorded */
    BL_GAP_UNKNOWN   /* nothing else is there to tell by */
};
BL_API const char *bl_gap_kind_name(enum bl_gap_kind kind);
struct bl_reach_gap {
    double from_s, length_s; /* s after the run's t0 */
    int application;         /* 0: outside all */
    enum bl_gap_kind kind;
    bool to_end; /* no further frame until the recording's end */
};

/* The demand in one application: its frames and how many more there should be,
   and whether it rose and fell with the command. */
struct bl_reach_count {
    int application;
    uint64_t frames, lost, without_value;
    bool asked;            /* the command plainly asks for braking in it, and
                              the recording holds it on a tied clock */
    enum bl_answer moved;  /* UNKNOWN where nothing was asked */
    double stands_kpa;     /* its one value where it has values and did not
                              move; NaN */
    double rise_s, fall_s; /* s after the run's t0; NaN */
    double delay_s;        /* behind the first link; NaN */
    bool late;             /* by more than is allowed and 4 u */
};

/* A status signal of the unit: how often it was on (raw 1) at all. */
struct bl_reach_status {
    const struct bl_signal *signal;
    uint64_t frames, on, not_valid;
    bool on_in_application; /* on in any application */
};

struct bl_reach_follow {
    int application;
    struct bl_follow follow;
};

enum { BL_REACH_TEXT = 200, BL_REACH_WHY = 8 };

struct bl_reach_said {
    enum bl_answer answer;
    char why[BL_REACH_TEXT]; /* what it rests on, or what would decide it */
};

struct bl_reach_unit {
    size_t unit; /* index in the trial */
    enum bl_reach_verdict verdict;
    struct bl_reach_said claim[BL_REACH_CLAIMS];
    char why[BL_REACH_WHY][BL_REACH_TEXT]; /* what speaks against "reached" */
    size_t whys;

    /* The hop. `found` false: no frame of the demand role for this unit. */
    bool tapped; /* a capture has its link */
    bool found;
    bool ambiguous;     /* equally good ones on two buses: neither is taken */
    bool split;         /* meant for a unit further in front: that one bus runs
                           through both is an assumption */
    bool other_address; /* sender or receiver is not the one of the trial */
    bool astray;        /* it goes to an address from which nobody speaks */
    int address;        /* the unit's: of the trial, else taken from its link;
                           -1 */
    bool address_taken; /* the latter */
    uint64_t twice;     /* frames that are stored a second time */
    double period_s;    /* of the table; NaN */
    const struct bl_signal *signal;
    size_t recording; /* index in bl_run_data.recording */
    char bus[64];
    uint32_t id;   /* of its frames */
    bool extended; /* 29 bits: source and destination are said */
    uint8_t source, destination;
    uint64_t frames;
    double least_s, median_s, most_s, nominal_s;
    size_t asked, moved; /* applications, see bl_reach_count */
    double lost_share; /* frames that the span should hold and does not, gaps of
                          sender and recorder taken off */
    uint64_t lost;
    struct bl_reach_gap *gap;
    size_t gaps;
    struct bl_reach_count *count;
    size_t counts;
    uint64_t not_available, error,
        other_invalid;                   /* after the first valid one */
    uint64_t invalid_braking;            /* of these, in applications */
    int invalid_application;             /* first such; 0 */
    double first_frame_s, first_valid_s; /* after the recording's first frame;
                                            NaN */
    /* Against the first hop, where both are settled. NaN: nothing compared. */
    bool doubted; /* whether its value is meant so cannot be told: those equal
                     to it share that */
    size_t compared, differing;
    size_t compared_braking; /* of them: either asks for 20 kPa or more */
    double difference_counts, difference_kpa; /* the largest */
    double share;              /* median of value over that of the hop before */
    size_t shares, shares_off; /* compared with the hop before; not equal */
    /* Where they differ most: what it got (on the first link, where that lies
       off: the command's) and what it passed on; and where it lets no more
       pass, while less is passed on unchanged. NaN: not so. */
    double got_kpa, passed_kpa, capped_kpa;
    struct bl_figure delay; /* behind the first hop, median of edges */
    struct bl_figure added; /* behind the hop before: this coupling */
    double worst_delay_s;
    size_t edges;

    struct bl_reach_status *status;
    size_t statuses;
    uint64_t status_frames; /* of all that it sends on its own link */
    bool quiet;   /* sends nothing there, where others do, or stops before it */
    bool by_word; /* acted on: by what it reports alone, no output shows it */
    bool has_name;
    struct bl_name name;

    struct bl_reach_follow *follow;
    size_t follows_count;
    enum bl_follows follows;

    /* Least of the middle values of a tenth of a second each while an
       application is on, its standard uncertainty and time; NaN. */
    double volts_least, u_volts, volts_least_s;
    const char *called;      /* name of the characteristic; NULL: none fits */
    bool called_known;       /* false: cannot tell */
    const char *towing_kind; /* static text: what the unit in front looked like
                                in that time */
};

/* Everybody who sends a demand on a recorded link. */
struct bl_reach_sender {
    const struct bl_signal *signal;
    size_t recording;
    char bus[64];
    uint32_t id;
    bool extended;
    uint8_t source, destination;
    uint64_t frames, without_value;
    double least_kpa, most_kpa; /* NaN: no value at all */
    long unit;                  /* for whom it counts, index in the trial; -1 */
    bool second;                /* not the first that counts for this unit */
};

struct bl_reach {
    size_t run;
    bool declared_off;       /* power or data off: no demand is expected */
    bool applications_known; /* a command was found in the run */
    struct bl_reach_unit *unit;
    size_t units;
    struct bl_reach_sender *sender;
    size_t senders;
    struct bl_findings findings;
};

/* Look at one loaded run. `lag` NULL: no command was found; then applications
   are not known. `reach` keeps nothing of `data`, but names of the trial's
   tables. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_reach_run(struct bl_reach **out, const struct bl_trial *trial,
             const struct bl_run_data *data, const struct bl_run_clocks *clocks,
             const struct bl_run_lag *lag, struct bl_error *error);
BL_API void bl_reach_destroy(struct bl_reach *reach);

/*
 * After all runs of the trial: a powered run whose figures equal those of a run
 * by air alone, at a unit where the air is late, did not use the demand; its
 * claim, verdict and findings are changed, captures or none. Both arrays have
 * bl_trial.runs entries, NULL for runs that were not taken. Errors: NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_reach_across(const struct bl_trial *trial, struct bl_reach *const *reach,
                const struct bl_run_lag *const *lag, struct bl_error *error);

/* A unit that the causes of the trial found to brake by its air although its
   demand came: where its own recordings leave open whether it acted on the
   demand, the answer is theirs.
   NULL: no reach of that run. */
BL_API void bl_reach_ignores(struct bl_reach *reach, size_t unit);

/* What "reached" rests on in this run, and what was not shown, as one sentence;
   "" where no unit is reached. */
BL_API void bl_reach_shown(const struct bl_trial *trial,
                           const struct bl_reach *reach,
                           char text[2 * BL_REACH_TEXT]);

/* What a unit's link called for, beside the curve that it followed. */
struct bl_called {
    const char *name;        /* NULL: none of the trial's fits */
    const char *saw;         /* what the unit in front looked like */
    enum bl_answer followed; /* UNKNOWN: cannot tell */
};
/* For curve `index` of the run's; false: it is not known. */
BL_API bool bl_called_for(struct bl_called *out, const struct bl_trial *trial,
                          const struct bl_characteristics *curves, size_t index,
                          const struct bl_reach *reach);

/* Does the run keep what [expect] asks for? `why` gets the first thing that it
   does not, or that could not be shown. True without such a section. */
BL_API bool bl_reach_expected(const struct bl_trial *trial,
                              const struct bl_reach *reach,
                              char why[BL_REACH_TEXT]);

/* The name that tables give a suspect parameter number: the signal whose
   source cites it. NULL: not known. */
BL_API const struct bl_signal *bl_spn_signal(const struct bl_tables *tables,
                                             uint32_t spn);

/* One identifier that should be seen on the link in front of a unit. */
struct bl_reach_id {
    size_t unit;
    uint32_t id;
    bool extended, from_front; /* from_front: sent by the unit in front */
    const struct bl_message *message;
};
/* All of them for the trial's train, link by link; *out is freed with
   bl_reach_ids_destroy. Messages of tables that name a direction on the
   coupling only. Errors: NODATA (a unit has no address; the message says
   which), NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status bl_reach_ids(struct bl_reach_id **out,
                                                 size_t *count,
                                                 const struct bl_trial *trial,
                                                 struct bl_error *error);
BL_API void bl_reach_ids_destroy(struct bl_reach_id *ids);

#endif
