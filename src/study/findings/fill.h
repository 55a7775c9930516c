/* SPDX-License-Identifier: MIT */
/*
 * Filling a list of findings, and what is done with a full one. Studies alone
 * do; a program reads what it was given (brakelag/findings.h).
 */
#ifndef BRAKELAG_SRC_STUDY_FINDINGS_FILL_H
#define BRAKELAG_SRC_STUDY_FINDINGS_FILL_H

#include "brakelag/findings.h"
#include "brakelag/traits.h"

/*
 * Filling. After the first failure nothing more is added; the one who owns the
 * list asks `failed` at the end. bl_findings_add counts as having looked, and
 * gives the new finding (severity and next check from the table; both may be
 * changed) or NULL. bl_findings_looked says "looked for, not there".
 */
struct bl_finding *bl_findings_add(struct bl_findings *list,
                                   enum bl_finding_code code,
                                   enum bl_shown shown, long unit, long run);
void bl_findings_looked(struct bl_findings *list, enum bl_finding_code code,
                        long unit, long run);
/* It was looked for, and what was seen counts for nothing; all units. */
void bl_findings_forget(struct bl_findings *list, enum bl_finding_code code,
                        long run);
/* `needs` NULL: what the table says. The same code, unit and run once only. */
void bl_findings_missing(struct bl_findings *list, enum bl_finding_code code,
                         long unit, long run, const char *needs);
/* Takes out of `missing` what was looked for: the same code, unit and run, or
   the unit in any run. Errors: `failed`. */
void bl_findings_part(struct bl_findings *list);
/* Both take a NULL finding. */
void bl_finding_say(struct bl_finding *finding, const char *format, ...)
    BL_PRINTF(2, 3);
/* Sentences that stand by themselves: their first letters. */
void bl_findings_capital(struct bl_findings *list);
/* Make it a note, with a next check of its own that is harmless. */
void bl_finding_note(struct bl_finding *finding, const char *next_check);
void bl_finding_evidence(struct bl_finding *finding, const char *label,
                         double value, double u, const char *unit);
/*
 * The rule: found when the excess over the tolerance passes 4 u in at least
 * three applications, or in all; else cannot tell when any passes 4 u or the
 * middle excess is positive; else not there. `ratio` (may be NULL) gets the
 * middle of excess / u, `fired` (may be NULL) how many passed. n = 0: not
 * there. Values that are not finite are left out.
 */
enum bl_shown bl_finding_judge(const double *excess, const double *u, size_t n,
                               double *ratio, size_t *fired);

/*
 * Join what several runs show alike: the same code, unit, channel, severity
 * and answer. The finding that stands out most lends its sentence and next
 * check; evidence keeps its run, applications are added up. What does not fit
 * one finding stays one of its own.
 */
void bl_findings_merge(struct bl_findings *list);

/* Takes NULL. */
void bl_traits_destroy(struct bl_traits *all);

/* Light applications show what hard ones hide, and the other way round. */
enum bl_trait_effort { BL_EFFORT_LIGHT, BL_EFFORT_HARD, BL_EFFORTS };
/* Is what was asked in this group little, so that opening pressures weigh? */
enum bl_trait_effort bl_trait_effort(const struct bl_traits *all, size_t run,
                                     size_t unit, size_t group);

/* Graver first, then found before undecided, then what stands out more. */
void bl_findings_rank(struct bl_findings *list);

/* What a trait means, as the label of an evidence: whole, and without the row
   above it in the table of traits. Static. */
const char *bl_trait_label(enum bl_trait trait);

#endif
