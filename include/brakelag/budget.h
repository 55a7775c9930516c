/* SPDX-License-Identifier: MIT */
/*
 * Uncertainties taken apart: which components there are, what is common to all
 * applications and what averages out, and what it comes to over all of them.
 * docs/methods/uncertainty.md.
 */
#ifndef BRAKELAG_BUDGET_H
#define BRAKELAG_BUDGET_H

#include "brakelag/lag.h"
#include "brakelag/names.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* X(member of struct bl_uncertainty, common to all applications, "meaning") */
#define BL_COMPONENT_LIST(X)                                                   \
    X(crossing, false,                                                         \
      "noise, which moves the point where the level is passed")                \
    X(sampling, false, "what lies between two samples or frames is not seen")  \
    X(resolution, false, "smallest step of the value and of the time stamp")   \
    X(gain, true, "channel reads too much or too little in proportion")        \
    X(zero, true, "channel reads too much or too little everywhere")           \
    X(delay, true, "stated delay of transducer and hose is not exact")         \
    X(rest, false, "the released and settled pressures behind the level")      \
    X(command, false, "uncertainty of the command's own moment")               \
    X(clock, true, "tie between the two recorders")

/* By index, in the order of the list; NULL past the last. */
BL_API const char *bl_component_name(size_t index);
BL_API const char *bl_component_meaning(size_t index);
BL_API bool bl_component_is_common(size_t index);
/* NaN: not stated. */
/* Root of the sum of squares of components by their index, NaN not included:
   what applications share, or what differs from one to the next. */
BL_API double bl_component_sum(const double part[BL_COMPONENTS], bool common);
BL_API double bl_component_value(const struct bl_uncertainty *u, size_t index);

/* One figure of one application, and the mean over all of its kind. */
struct bl_budget_entry {
    size_t run, unit; /* indices in the trial */
    int application;
    enum bl_application_kind kind;
    enum bl_figure_name figure;
    struct bl_figure value;
    double k, expanded_s;      /* of this one value */
    double random_s, common_s; /* standard uncertainties */
    /* Over the run's applications of the kind and shape; with n < 2 the scatter
       is not known and the rest is 0. */
    size_t n;
    double mean_s, scatter_s, u_scatter_s, u_mean_s, effective_dof, mean_k,
        mean_expanded_s;
};
struct bl_budget {
    struct bl_budget_entry *item;
    size_t count, capacity;
};

/* Take apart what `asked` names: "FIGURE[@UNIT[@APPLICATION]]"; without an
   application the first of each unit and kind that gave the figure. lag[i]
   belongs to trial run i, NULL where there is none. Nothing given is kept.
   Errors: ARG (not understood), NODATA (no application gave it), NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_budget_create(struct bl_budget **out, const struct bl_trial *trial,
                 struct bl_run_lag *const *lag, const char *asked,
                 struct bl_error *error);
BL_API void bl_budget_destroy(struct bl_budget *budget);

#endif
