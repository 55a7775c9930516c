/* SPDX-License-Identifier: MIT */
/* What one application of one unit says about a published limit. */
#ifndef BRAKELAG_SRC_STUDY_LIMITS_EVIDENCE_H
#define BRAKELAG_SRC_STUDY_LIMITS_EVIDENCE_H

#include "brakelag/limits.h"

/* The rule's value lies from low to high; either may be NaN: not bounded. */
struct bl_evidence {
    double low, u_low, high, u_high;
    double most_kpa;
    bool is_bound; /* the output had not settled: later than low */
};

/* Is the application of the kind that the rule asks for? */
bool bl_evidence_asked(const struct bl_published_limit *limit,
                       const struct bl_application *application, size_t unit);
void bl_evidence_of(struct bl_evidence *out,
                    const struct bl_published_limit *limit,
                    const struct bl_trial *trial,
                    const struct bl_application *application, size_t unit);

#endif
