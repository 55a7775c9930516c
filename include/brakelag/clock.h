/* SPDX-License-Identifier: MIT */
/*
 * Two recorders, two clocks. A tie maps the raw stamps of one recording onto
 * another's time: t_to = t + offset + drift (t - t_first).
 */
#ifndef BRAKELAG_CLOCK_H
#define BRAKELAG_CLOCK_H

#include "brakelag/load.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* What figures across the tie may claim. */
enum bl_clock_claim {
    BL_CLAIM_NONE,             /* untied: no figure may cross */
    BL_CLAIM_ABSOLUTE,         /* lags are lags */
    BL_CLAIM_BOUNDED,          /* lags carry a systematic part, in u_s */
    BL_CLAIM_DIFFERENCES_ONLY, /* a common lag hides in the offset */
    BL_CLAIM_AMBIGUOUS         /* fits in several ways; refused */
};
BL_API const char *bl_clock_claim_name(enum bl_clock_claim claim);

/* How far one pair of events lies from the line between the clocks. */
struct bl_clock_residual {
    double at_s;  /* after t_first_ns, by the recording's own clock */
    double off_s; /* event on the other clock less where the line puts it */
    bool used;    /* false: an outlier, left out of the line */
};
/* As many of them are kept for drawing, evenly chosen where there are more. */
enum { BL_CLOCK_RESIDUALS = 128 };

struct bl_clock_tie {
    const char *method; /* "own", "shared", "offset", "start", "pulse",
                           "pedal", "demand-pressure", "demand", "same-as",
                           "same-file", "none"; static text */
    enum bl_clock_claim claim;
    int64_t t_first_ns;          /* where offset_s is stated; raw stamp */
    double offset_s, u_offset_s; /* u without the systematic part */
    double drift_ppm, u_drift_ppm;
    double correlation; /* of the errors of offset and drift */
    double u_bias_s;    /* systematic part: sending interval of a frame that
                           stands for the event */
    bool contradicted;  /* stated, and the events on both say otherwise */
    double against_s;   /* then: stated less what they say */
    size_t pairs, outliers;
    size_t releases;        /* that told which event is which, of few; else 0 */
    double residual_s;      /* robust scatter of the inliers */
    double extrapolation_s; /* longest reach beyond the outermost pairs */
    int64_t t_last_pair_ns, t_first_pair_ns;
    struct bl_clock_residual residual[BL_CLOCK_RESIDUALS];
    size_t residuals;
};

/* Is it tied to nothing, as the run's own clock is? */
BL_API bool bl_clock_is_own(const struct bl_clock_tie *tie);
/* Map a raw stamp. Rounds to the nearest nanosecond; saturates. */
BL_API int64_t bl_clock_map(const struct bl_clock_tie *tie, int64_t time_ns);
/* The other way round: the raw stamp that maps to `time_ns`. */
BL_API int64_t bl_clock_unmap(const struct bl_clock_tie *tie, int64_t time_ns);
/* Standard uncertainty of the mapping at a raw stamp, seconds: offset and
   drift with their correlation, and the systematic part. */
BL_API double bl_clock_u(const struct bl_clock_tie *tie, int64_t time_ns);

/* One tie per recording of a run (index as in bl_run_data.recording): how its
   raw stamps become the run's time. The run's time is the clock of its first
   log, or of its first capture where it has no log. */
struct bl_run_clocks {
    struct bl_clock_tie *tie;
    size_t ties;
    int64_t t0_ns;         /* earliest stamp of the run, on the run's time */
    size_t t0_recording;   /* whose first stamp that is */
    double t0_u_s;         /* how well it is known on the run's time */
    struct bl_notes notes; /* refusals, with the candidates named */
};

/* Tie the recordings of a loaded run as the trial says. What cannot be tied
   has claim NONE or AMBIGUOUS and a note; that is not an error. Nothing is
   borrowed. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_clock_tie_run(struct bl_run_clocks **out, const struct bl_trial *trial,
                 const struct bl_run_data *data, struct bl_error *error);
BL_API void bl_run_clocks_destroy(struct bl_run_clocks *clocks);

#endif
